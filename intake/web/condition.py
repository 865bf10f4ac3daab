"""The forms of condition: a worn place is so or is not, another one is there too, and a grade."""

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from intake.model import Box, PartKey
from intake.services import examining, views
from intake.services.condition import PLACE_VERBS, Examined
from intake.services.review import RulingRefused
from intake.services.shown import MemberView
from intake.services.upright import at, inverse
from intake.web import asked
from intake.web.desk import Desk
from intake.web.rulings import handled, text_of
from intake.web.words import part_name

# The picture that is clicked on is so high; a place put by a click is this share of its long edge wide and high.
CLICKED_PX = 480
_PUT_SHARE = 0.06


async def say(request: Request) -> Response:
    """POST /condition : confirm, reject or put a worn place; grade a piece."""
    return await handled(request, _say)


def _say(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    verb, key = text_of(form, "verb"), asked.part(text_of(form, "part"))
    words = text_of(form, "words")
    looked = Examined(text_of(form, "unframed") == "1", text_of(form, "both_sides") == "1", text_of(form, "light"))
    if verb == "grade":
        scale, _, grade = text_of(form, "grade").partition(":")
        number = examining.grade(desk.home, desk.config, who, key, scale, grade, looked, words)
    else:
        named = next((v for v in PLACE_VERBS if v == (verb or "add_place")), None)
        if named is None:
            asked.bad("No such ruling.")
        sort = text_of(form, "sort")
        box = _clicked(desk, form, key) if named == "add_place" else asked.box(form)
        number = examining.rule_on_place(desk.home, desk.config, who, named, key, sort, box, looked, words)
    if piece := text_of(form, "of_piece"):
        return f"/pieces/{part_name(asked.part(piece))}?done={number}#h-worn"
    return f"/families/{asked.code(text_of(form, 'family'))}?done={number}#h-worn"


def _clicked(desk: Desk, form: FormData, key: PartKey) -> Box:
    """The place round the point of the shown picture that was clicked on, in stored pixels."""
    view = views.family_view(desk.home, desk.config, asked.code(text_of(form, "family")))
    member = view.member(key) if view else None
    if member is None or member.upright is None:
        raise RulingRefused("There is no such picture in this family (any more). Look again.")
    wide, high = clicked_size(member)
    x, y = asked.number(form, "at.x", 0, wide), asked.number(form, "at.y", 0, high)
    if not x and not y:
        raise RulingRefused("Click on the place in the picture.")
    stored = at(inverse(member.upright.shares()), x / wide, y / high)
    box = member.upright.box
    side = round(_PUT_SHARE * max(box.width, box.height))
    left = min(max(box.left, round(stored[0]) - side // 2), box.left + max(0, box.width - side))
    top = min(max(box.top, round(stored[1]) - side // 2), box.top + max(0, box.height - side))
    return Box(left, top, max(1, min(side, box.width)), max(1, min(side, box.height)))


def clicked_size(member: MemberView) -> tuple[int, int]:
    """Width and height at which the picture to click on is shown."""
    if member.upright is None:
        return CLICKED_PX, CLICKED_PX
    wide, high = member.upright.size
    return max(1, round(CLICKED_PX * wide / high)), CLICKED_PX
