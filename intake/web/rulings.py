"""The forms: a ruling, a reading, a taking back, a name. Each adds a row, then shows a page."""

from typing import Any
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.kin import Verb
from intake.model import PartKey
from intake.services import ledger, review, taking, views
from intake.services.correcting import left_words, rule_on_readings
from intake.services.measuring import in_mm, note_measure
from intake.services.pieces_ruled import VERBS as PIECE_VERBS
from intake.services.piecework import rule_on_pieces
from intake.services.queueing import next_waiting
from intake.services.readings import VERBS
from intake.services.review import RulingRefused
from intake.services.shown import FamilyView
from intake.services.whose import Whose
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.whose import laid
from intake.web.words import part_name, several

_EVIDENCE_KEPT = 40
MANY_FIELDS = 160  # a form with a tick on each of many pieces
SINGLES = ("box", "kind", "format", "country", "year", "show", "page")  # what the address of the singles may say
_TEXTS = {"name_design": "title", "refer": "note", "set_aside": "why"}
_PLACES = {"ledger": "/ledger", "readings": "/readings", "singles": "/singles", "morning": "/"}
_ON_CHOSEN = ("part_off", "divide", *PIECE_VERBS)
_KEPT = ("out", "b", "a", "other", "title", "note", "why", "to", "role", "format", "reason")


async def rule(request: Request) -> Response:
    """POST /rulings : confirm, part off, join."""
    return await handled(request, _rule, MANY_FIELDS)


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


async def handled(request: Request, do: Any, most_fields: int = 40) -> Response:
    """Read the form, do it away from the event loop, keep the name, go on to the page that follows."""
    if request.headers.get("content-type", "").split(";")[0] != "application/x-www-form-urlencoded":
        raise HTTPException(415, "This desk takes plain forms.")
    form = await request.form(max_fields=most_fields)
    has_users = request.scope.get("sits") is not None
    who = asked.who(request) if has_users else " ".join(text_of(form, "who").split()) or asked.who(request)
    try:
        if not who or len(who) > 60 or not who.isprintable():
            raise RulingRefused("Say who you are: a name of 1 to 60 characters. Then rule again.")
        address = await run_in_threadpool(do, request, form, who)
    except RulingRefused as error:
        return page(request, "refused.html", 409, words=str(error), back=_back(form))
    response = address if isinstance(address, Response) else RedirectResponse(address, 303)
    if not has_users and who != asked.who(request):
        response.set_cookie(**asked.cookie(who))
    return response


def _rule(request: Request, form: FormData, who: str) -> str | Response:
    desk: Desk = request.app.state.desk
    verb = text_of(form, "verb")
    if verb not in (*review.ON_FAMILIES, *PIECE_VERBS):
        asked.bad("No such ruling.")
    seen = _as_seen(desk, form)
    if isinstance(seen, str):
        return conflict(request, desk, form, seen)
    view = seen
    keys = [m.key for m in view.members]
    order = views.queue_order(desk.home, laid(request))
    shown = _shown(view, form)
    if verb in PIECE_VERBS:
        chosen = [(key, "") for key in _chosen(form, keys)]
        number = rule_on_pieces(desk.home, desk.config, who, _piece_verb(verb), chosen, _value(form, verb))[0]
        return _address(views.family_holding(desk.home, keys), number)
    if verb in ("part_off", "divide"):
        out = _chosen(form, keys)
        rest = [k for k in keys if k not in out]
        number = review.decide(
            desk.home, desk.config, who, _family_verb(verb), [*out, *rest], shown | {"first": len(out)}
        )
        return _address(views.family_holding(desk.home, rest or out), number)
    if verb in ("join", "same_campaign"):
        other, also = _other(desk, view, text_of(form, "other"), laid(request))
        given = shown | also | ({"first": len(keys)} if verb == "same_campaign" else {})
        number = review.decide(desk.home, desk.config, who, _family_verb(verb), [*keys, *other], given)
        return _address(views.family_holding(desk.home, keys), number)
    given = shown | {"text": text_of(form, _TEXTS.get(verb, "")), "to": text_of(form, "to")}
    number = review.decide(desk.home, desk.config, who, _family_verb(verb), keys, given if verb != "confirm" else shown)
    if verb == "name_design":
        return _address(view.code, number)
    taking.put_back(desk.home, who)
    return _address(next_waiting(desk.home, view.code, order, laid(request)), number)


def _family_verb(text: str) -> Verb:
    return next(v for v in review.ON_FAMILIES if v == text)


def _piece_verb(text: str) -> Verb:
    return next(v for v in PIECE_VERBS if v == text)


def _chosen(form: FormData, keys: list[PartKey]) -> list[PartKey]:
    """The pieces that were ticked; where none is, the one that lies on the right."""
    ticked = [t for t in form.getlist("out") if isinstance(t, str)] or [t for t in (text_of(form, "b"),) if t]
    out = [asked.part(t) for t in ticked]
    if not out or not set(out) <= set(keys):
        asked.bad("That piece is not in this family.")
    return list(dict.fromkeys(out))


def _value(form: FormData, verb: str) -> str:
    return text_of(form, {"set_role": "role", "set_format": "format", "reproduction": "reason"}.get(verb, ""))


def _read(request: Request, form: FormData, who: str) -> str | Response:
    desk: Desk = request.app.state.desk
    verb = next((v for v in VERBS if v == text_of(form, "verb")), None)
    if verb is None:
        asked.bad("No such ruling.")
    readings = [asked.reading(t) for t in form.getlist("reading") if isinstance(t, str)]
    ruled = rule_on_readings(desk.home, desk.config, who, verb, readings, text_of(form, "text"), text_of(form, "as"))
    back = _back(form)
    section = "#h-marks" if back.startswith("/families/") else ""
    after = f"{back}{'&' if '?' in back else '?'}done={ruled.numbers[0]}{section}"
    if not ruled.changed:
        return after
    many = several(len(ruled.numbers), "reading was", "readings were")
    words = f"{many} ruled on; the others were left. {left_words(desk.home, ruled.changed)}"
    return page(request, "refused.html", 409, words=words, back=after, heading="Not all of it")


def _measure(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    key, long_mm = asked.part(text_of(form, "part")), in_mm(text_of(form, "long_mm"))
    number = note_measure(desk.home, desk.config, who, key, long_mm, text_of(form, "box") == "1")
    return f"{_address(views.family_holding(desk.home, [key]), number)}#h-found"


def _undo(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    decision = asked.number({"decision": text_of(form, "decision")}, "decision", 1, 999_999_999)
    number = review.undo(desk.home, desk.config, who, decision, text_of(form, "all") == "1")
    if (then := text_of(form, "then")) in _PLACES:
        return f"{_PLACES[then]}?done={number}"
    if text_of(form, "then") == "hazards":
        return f"{asked.hazards_address(text_of(form, 'of'))}&done={number}"
    found = ledger.ledger_row(desk.home, number)
    parts = found[0].decision.parts if found else ()
    return _address(views.family_holding(desk.home, parts), number)


def _as_seen(desk: Desk, form: FormData) -> FamilyView | str:
    """The family exactly as the page showed it; where anything that it showed has changed, who did so, in words."""
    code = asked.code(text_of(form, "family"))
    view = views.family_view(desk.home, desk.config, code)
    if view is None or view.seen != text_of(form, "seen"):
        return review.changed_message(desk.home, _parts(form))
    return view


def _parts(form: FormData) -> list[PartKey]:
    return [asked.part(p) for p in text_of(form, "parts").split() if p][:1000]


def conflict(request: Request, desk: Desk, form: FormData, words: str) -> Response:
    """Somebody was quicker: nothing is written. Says who, shows what stands now, and offers the same ruling on it."""
    parts = _parts(form)
    holding = views.family_holding(desk.home, parts)
    view = views.family_view(desk.home, desk.config, holding, laid(request).laid_for) if holding else None
    verb, again = text_of(form, "verb"), []
    if view is not None:
        here = {m.key for m in view.members}
        out = [t for t in form.getlist("out") if isinstance(t, str)] or [text_of(form, "b")]
        still = verb not in _ON_CHOSEN or all(asked.part(t) in here for t in out)
        if still and set(parts) & here:
            kept = [(n, v) for n, v in form.multi_items() if n in _KEPT and isinstance(v, str)]
            now = part_names(view)
            again = [*kept, ("family", view.code), ("seen", view.seen), ("parts", " ".join(now)), ("verb", verb)]
    here_now = [m for m in view.members if not m.withheld] if view else []
    return page(
        request,
        "changed.html",
        409,
        words=words,
        view=view,
        again=again,
        verb=verb,
        gained=[m for m in here_now if m.key not in set(parts)],
        lost=[part_name(k) for k in parts if view and view.member(k) is None],
        cautions=cautions_on(desk, here_now),
    )


def part_names(view: FamilyView) -> list[str]:
    """The members as forms name them."""
    return [part_name(m.key) for m in view.members]


def _other(desk: Desk, view: FamilyView, text: str, whose: Whose) -> tuple[list[PartKey], dict[str, Any]]:
    """The parts of the family, or the one piece, that is to be joined: by its code, its name, or the part.

    What may not be shown here is not joined from here either.
    """
    seen = [e.outside for e in view.elsewhere if not e.family and whose.may_show(e.outside.consignment)]
    outside = {part_name(m.key): m.key for m in seen}
    if text in outside:
        return [outside[text]], {"other": text}
    names = views.family_names(desk.home, None, whose)
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
    if form.get("picked"):
        return f"/singles?{asked.sieved(text_of(form, 'again'), SINGLES)}"
    if code := text_of(form, "hazards_of"):
        return asked.hazards_address(code, text_of(form, "hazards_box"))
    if part := text_of(form, "of_piece"):
        return f"/pieces/{part_name(asked.part(part))}"
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
    known = came.path in ("/readings", "/hazards") or came.path.startswith(("/lines/", "/pieces/"))
    return f"{came.path}?{came.query}" if text_of(form, "then") == "here" and known else "/"


def text_of(form: FormData, name: str) -> str:
    """A field of a form; empty where there is none."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""
