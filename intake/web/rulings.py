"""The forms: a ruling, a reading, a taking back, a name. Each adds a row, then shows a page."""

from typing import Any
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.model import PartKey
from intake.services import review, views
from intake.services.correcting import left_words, rule_on_readings
from intake.services.measuring import in_mm, note_measure
from intake.services.readings import VERBS
from intake.services.review import RulingRefused
from intake.services.shown import FamilyView
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import page
from intake.web.words import part_name, several

_EVIDENCE_KEPT = 40


async def rule(request: Request) -> Response:
    """POST /rulings : confirm, part off, join."""
    return await handled(request, _rule)


async def read(request: Request) -> Response:
    """POST /readings : accept, correct or reject readings, one or equal ones in one go."""
    return await handled(request, _read)


async def measure(request: Request) -> Response:
    """POST /measures : say how long a piece's longer edge is, for it alone or for its box."""
    return await handled(request, _measure)


async def undo(request: Request) -> Response:
    """POST /undo : take back one of one's own rulings."""
    return await handled(request, _undo)


async def name(request: Request) -> Response:
    """POST /who : say who is at the desk."""
    return await handled(request, lambda request, form, _who: _family_address(form, _came_from(request, form)))


async def handled(request: Request, do: Any) -> Response:
    """Read the form, do it away from the event loop, keep the name, go on to the page that follows."""
    if request.headers.get("content-type", "").split(";")[0] != "application/x-www-form-urlencoded":
        raise HTTPException(415, "This desk takes plain forms.")
    form = await request.form(max_fields=40)
    who = " ".join(text_of(form, "who").split()) or asked.who(request)
    try:
        if not who or len(who) > 60 or not who.isprintable():
            raise RulingRefused("Say who you are: a name of 1 to 60 characters. Then rule again.")
        address = await run_in_threadpool(do, request, form, who)
    except RulingRefused as error:
        return page(request, "refused.html", 409, words=str(error), back=_back(form))
    response = address if isinstance(address, Response) else RedirectResponse(address, 303)
    if who != asked.who(request):
        response.set_cookie(**asked.cookie(who))
    return response


def _rule(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    view = _as_seen(desk, form)
    keys = [m.key for m in view.members]
    verb = text_of(form, "verb")
    shown = _shown(view, form)
    after = views.queue_order(desk.home)
    if verb == "confirm":
        number = review.decide(desk.home, desk.config, who, "confirm", keys, shown)
        later = after[after.index(view.code) + 1 :] if view.code in after else []
        return _address(later[0] if later else "", number)
    if verb == "part_off":
        out = asked.part(text_of(form, "out"))
        if out not in keys:
            asked.bad("That piece is not in this family.")
        rest = [k for k in keys if k != out]
        number = review.decide(desk.home, desk.config, who, "part_off", [out, *rest], shown)
        return _address(views.family_holding(desk.home, rest), number)
    if verb != "join":
        asked.bad("No such ruling.")
    other, also = _other(desk, view, text_of(form, "other"))
    number = review.decide(desk.home, desk.config, who, "join", [*keys, *other], shown | also)
    return _address(views.family_holding(desk.home, keys), number)


def _read(request: Request, form: FormData, who: str) -> str | Response:
    desk: Desk = request.app.state.desk
    verb = next((v for v in VERBS if v == text_of(form, "verb")), None)
    if verb is None:
        asked.bad("No such ruling.")
    readings = [asked.reading(t) for t in form.getlist("reading") if isinstance(t, str)]
    ruled = rule_on_readings(desk.home, desk.config, who, verb, readings, text_of(form, "text"), text_of(form, "as"))
    back = _back(form)
    after = f"{back}{'&' if '?' in back else '?'}done={ruled.numbers[0]}"
    if not ruled.changed:
        return after
    many = several(len(ruled.numbers), "reading was", "readings were")
    words = f"{many} ruled on; the others were left. {left_words(desk.home, ruled.changed)}"
    return page(request, "refused.html", 409, words=words, back=after, heading="Not all of it")


def _measure(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    key, long_mm = asked.part(text_of(form, "part")), in_mm(text_of(form, "long_mm"))
    number = note_measure(desk.home, desk.config, who, key, long_mm, text_of(form, "box") == "1")
    return _address(views.family_holding(desk.home, [key]), number)


def _undo(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    decision = asked.number({"decision": text_of(form, "decision")}, "decision", 1, 999_999_999)
    number = review.undo(desk.home, desk.config, who, decision, text_of(form, "all") == "1")
    if text_of(form, "then") == "ledger":
        return f"/ledger?done={number}"
    if text_of(form, "then") == "readings":
        return f"/readings?done={number}"
    if text_of(form, "then") == "hazards":
        return f"{asked.hazards_address(text_of(form, 'of'))}&done={number}"
    row = next(r for r in review.decisions_view(desk.home) if r.decision.id == number)
    return _address(views.family_holding(desk.home, row.decision.parts), number)


def _as_seen(desk: Desk, form: FormData) -> FamilyView:
    """The family exactly as the page showed it. Raises RulingRefused when anything that it showed has changed."""
    code = asked.code(text_of(form, "family"))
    view = views.family_view(desk.home, desk.config, code)
    if view is None or view.seen != text_of(form, "seen"):
        parts = [asked.part(p) for p in text_of(form, "parts").split() if p][:1000]
        raise RulingRefused(review.changed_message(desk.home, parts))
    return view


def _other(desk: Desk, view: FamilyView, text: str) -> tuple[list[PartKey], dict[str, Any]]:
    """The parts of the family, or the one piece, that is to be joined: by its code, its name, or the part."""
    outside = {part_name(e.outside.key): e.outside.key for e in view.elsewhere if not e.family}
    if text in outside:
        return [outside[text]], {"other": text}
    names = views.family_names(desk.home)
    found = [text] if text in names else [c for c, n in names.items() if n.casefold() == text.strip().casefold()]
    found = [c for c in found if c != view.code]
    other = views.family_view(desk.home, desk.config, found[0]) if len(found) == 1 else None
    if other is None:
        many = "More than one family is" if len(found) > 1 else "No other family is"
        raise RulingRefused(f"{many} called {text[:80]!r}. Choose one from the list, or give its code.")
    return [m.key for m in other.members], {
        "other": other.code,
        "families": [view.code, other.code],
        "other_name": other.name,
    }


def _shown(view: FamilyView, form: FormData) -> dict[str, Any]:
    """What lay before the person when they ruled."""
    pair = [t for t in (text_of(form, "a"), text_of(form, "b")) if t]
    return {
        "families": [view.code],
        "name": view.name[:200],
        "seen": view.seen,
        "side_by_side": pair[:2] and [part_name(asked.part(p)) for p in pair],
        "members": [[part_name(m.key), m.place[:200], m.kind, m.probability] for m in view.members],
        "matches": [
            {
                "a": part_name(m.match.a),
                "b": part_name(m.match.b),
                "relation": m.match.relation,
                "probability": m.match.probability,
                "evidence": [[e.name, e.words[:300], e.weight] for e in m.match.evidence],
            }
            for m in view.matches[:_EVIDENCE_KEPT]
        ],
    }


def _address(code: str, number: int) -> str:
    return f"/families/{code}?done={number}" if code else f"/families?done={number}"


def _back(form: FormData) -> str:
    """The page that a form was on."""
    if code := text_of(form, "hazards_of"):
        return asked.hazards_address(code, text_of(form, "hazards_box"))
    if part := text_of(form, "line"):
        return f"/lines/{part_name(asked.part(part))}"
    if of := text_of(form, "of"):
        return asked.readings_address(of, text_of(form, "of_kind"), text_of(form, "of_value"), text_of(form, "put"))
    return _family_address(form)


def _family_address(form: FormData, otherwise: str = "/families") -> str:
    text = text_of(form, "family")
    return f"/families/{asked.code(text)}" if text else otherwise


def _came_from(request: Request, form: FormData) -> str:
    """The page of this desk that the form was on, where it asks to come back to it."""
    came = urlsplit(request.headers.get("referer", ""))
    known = came.path in ("/readings", "/hazards") or came.path.startswith("/lines/")
    return f"{came.path}?{came.query}" if text_of(form, "then") == "here" and known else "/"


def text_of(form: FormData, name: str) -> str:
    """A field of a form; empty where there is none."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""
