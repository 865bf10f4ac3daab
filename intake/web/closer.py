"""A closer look at a family: its comparison points, cut out of every piece at equal scale; and that page's forms."""

from urllib.parse import urlencode

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from intake.model import Box, PartKey
from intake.services import elements, lots, points, sources, views
from intake.services.brushwork import fine_places
from intake.services.looks import may_see
from intake.services.pointing import family_points, place_cut, point_place
from intake.services.references import choose_reference
from intake.services.review import RulingRefused
from intake.services.set_beside import beside_reference, family_reports
from intake.services.shown import FamilyView, MemberView
from intake.services.signed import family_signed
from intake.services.upright import at, inverse
from intake.store import scans
from intake.web import asked
from intake.web.condition import clicked_size
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.rulings import MANY_FIELDS, handled, text_of
from intake.web.whose import in_words, laid, withheld_words
from intake.web.words import part_name

_KEPT = {"Cache-Control": "private, max-age=3600"}


def shown(request: Request) -> Response:
    """GET /closer/CODE?on=&signed= : the closer look at one family; ``on`` is the piece to be marked on; with
    ``signed`` its art and film are looked through for signatures."""
    desk: Desk = request.app.state.desk
    view = _family(request, desk)
    there = [m for m in view.members if m.upright and not m.withheld and m.side != "verso"]
    wanted = request.query_params.get("on")
    on = next((m for m in there if wanted and m.key == asked.part(wanted)), None)
    return page(
        request,
        "closer.html",
        family=view,
        cautions=cautions_on(desk, view.members),
        there=there,
        on=on,
        points=family_points(desk.home, desk.config, view.members),
        rules=desk.config.points,
        objects=fine_places(desk.home, desk.config, view.members),
        beside=beside_reference(desk.home, view.members, family_reports(desk.home, view.members)),
        searches=sources.searches_of(desk.home, [m.key for m in view.members]),
        signed=family_signed(desk.home, desk.config, view.members) if "signed" in request.query_params else None,
        has_sheet=any(m.kind == "finished_sheet" for m in view.members),
        lots=lots.family_lots(desk.home, desk.config, view),
    )


def _family(request: Request, desk: Desk) -> FamilyView:
    code = asked.code(request.path_params["code"])
    view = views.family_view(desk.home, desk.config, code, laid(request).laid_for)
    if view is None:
        raise HTTPException(404, "This family is no longer there: a ruling or a run has changed what belongs together.")
    if all(m.withheld for m in view.members):
        raise HTTPException(403, withheld_words(view.members[0].consignment))
    return view


async def say(request: Request) -> Response:
    """POST /closer : a point, an element, the reference, a source searched, an offer."""
    return await handled(request, _say, MANY_FIELDS)


def _say(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    code, verb = asked.code(text_of(form, "family")), text_of(form, "verb") or points.VERB
    if verb == "name_element":
        key = asked.part(text_of(form, "part"))
        box = _placed(desk, form, code, key, _sides(form))
        number = elements.name_element(desk.home, desk.config, who, key, box, text_of(form, "name"))
        return f"/elements/{code}?done={number}"
    if verb == "choose_reference":
        number = choose_reference(desk.home, who, asked.part(text_of(form, "part")))
        return f"/closer/{code}?done={number}#h-beside"
    if verb == "log_search":
        return f"/closer/{code}?done={_searched(desk, form, who, code)}#h-sources"
    if verb == "offer":
        return f"/closer/{code}?done={_offer(desk, form, who)}#h-lots"
    if verb != points.VERB:
        asked.bad("No such ruling.")
    key = asked.part(text_of(form, "part"))
    words = [text_of(form, name) for name in ("what", "original", "copies")]
    shares = desk.config.points.side_shares
    share = shares[asked.number(form, "size", 0, len(shares) - 1)]
    box = _placed(desk, form, code, key, (share, 0.0))
    number = points.mark_point(desk.home, desk.config, who, key, box, *words)
    return f"/closer/{code}?done={number}"


def _searched(desk: Desk, form: FormData, who: str, code: str) -> int:
    view = views.family_view(desk.home, desk.config, code)
    keys = [m.key for m in view.members] if view else []
    words = [text_of(form, name) for name in ("where", "found", "words")]
    return sources.log_search(desk.home, desk.config, who, keys, code, *words)


def _offer(desk: Desk, form: FormData, who: str) -> int:
    parts = [asked.part(t) for t in form.getlist("in") if isinstance(t, str)]
    all_the_same = text_of(form, "all_the_same") == "1"
    return lots.offer(desk.home, desk.config, who, parts, text_of(form, "name"), all_the_same=all_the_same)


def _sides(form: FormData) -> tuple[float, float]:
    wide, high = (asked.number(form, name, 1, 100) for name in ("wide", "high"))
    return wide / 100, high / 100


def _placed(desk: Desk, form: FormData, code: str, key: PartKey, shares: tuple[float, float]) -> Box:
    """The place round the point of the shown picture that was clicked on, in stored pixels: so much of the upright
    picture's width and height; a square of so much of its longer edge where no height is given."""
    view = views.family_view(desk.home, desk.config, code)
    member = view.member(key) if view else None
    if member is None or member.upright is None:
        raise RulingRefused("There is no such picture in this family (any more). Look again.")
    wide, high = clicked_size(member)
    x, y = asked.number(form, "at.x", 0, wide), asked.number(form, "at.y", 0, high)
    if not x and not y:
        raise RulingRefused("Click on the place in the picture.")
    stored = at(inverse(member.upright.shares()), x / wide, y / high)
    box, size = member.upright.box, member.upright.size
    sides = (shares[0] * size[0], shares[1] * size[1]) if shares[1] else (shares[0] * max(size),) * 2
    if member.upright.turn in (90, 270):
        sides = sides[::-1]
    width, height = max(1, min(round(sides[0]), box.width)), max(1, min(round(sides[1]), box.height))
    left = min(max(box.left, round(stored[0]) - width // 2), box.left + box.width - width)
    top = min(max(box.top, round(stored[1]) - height // 2), box.top + box.height - height)
    return Box(left, top, width, height)


def listed(request: Request) -> Response:
    """GET /elements/CODE?on= : the check-list of the campaign that a family is of."""
    desk: Desk = request.app.state.desk
    view = _family(request, desk)
    there = [m for m in view.members if m.upright and not m.withheld and m.side != "verso"]
    wanted = request.query_params.get("on")
    on = next((m for m in there if wanted and m.key == asked.part(wanted)), None)
    made = elements.check_list(desk.home, desk.config, view.code, laid(request))
    shown_here = [*view.members, *(m for _, m in made.elements)] if made else view.members
    found = [c.on for row in made.designs for c in row.carried if c.on] if made else []
    return page(
        request,
        "elements.html",
        family=view,
        cautions=cautions_on(desk, [*shown_here, *found]),
        there=there,
        on=on,
        made=made,
    )


def cut_address(number: int, member: MemberView, proven: MemberView) -> str:
    """Where the cut of a point on one member is, set upright as the proven piece is."""
    asked_for: dict[str, object] = {"point": number, "part": part_name(member.key)}
    if proven.upright:
        asked_for |= {"turn": proven.upright.turn, "mirror": int(proven.upright.mirrored)}
    return f"/point-cut?{urlencode(asked_for)}"


def cut(request: Request) -> Response:
    """GET /point-cut?point=&part=&turn=&mirror= : one piece at a comparison point; or at any place of another piece:
    of=&left=&top=&width=&height= in the place of ``point``."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    key, upright = asked.part(values.get("part")), asked.turned(values)
    given = None if "point" in values else (asked.part(values.get("of")), asked.box(values))
    number = asked.number(values, "point", 1, 999_999_999) if given is None else 0
    with in_words(), desk.home.database.read() as connection:
        place = given or point_place(connection, number)
        may_see(connection, laid(request), [key.digest, place[0].digest])
        folders = {c.code: c.folder for c in scans.consignments(connection)}
        made = place_cut(connection, desk.home, desk.config, desk.crops, place, key, upright, folders)
    return Response(made, media_type="image/jpeg", headers=_KEPT)


def place_address(member: MemberView, box: Box, on: MemberView) -> str:
    """Where the cut of one member at a place of another is, set upright as that one is."""
    asked_for = {"of": part_name(on.key), **box._asdict(), "part": part_name(member.key)}
    if on.upright:
        asked_for |= {"turn": on.upright.turn, "mirror": int(on.upright.mirrored)}
    return f"/point-cut?{urlencode(asked_for)}"
