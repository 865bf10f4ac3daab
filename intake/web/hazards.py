"""The page of hazards, and its forms: a note, one person's word on a film base, a second person's."""

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from intake.services import held, noting
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import page
from intake.web.rulings import handled, text_of

_BOXES_A_PAGE = 20


def shown(request: Request) -> Response:
    """GET /hazards?of=&box= : what is held, noted, proposed and ruled in a consignment, box by box."""
    desk: Desk = request.app.state.desk
    holds = held.holds_by_consignment(desk.home)
    code = request.query_params.get("of") or next((c for c, n in holds.items() if n), next(iter(holds), ""))
    wanted = request.query_params.get("box", "")
    number = asked.number(request.query_params, "page", 1, 100_000, 1)
    asked_for = (desk.home, desk.config, code, wanted, (number - 1) * _BOXES_A_PAGE, _BOXES_A_PAGE)
    boxes, many, others = held.hazard_boxes(*asked_for) if code in holds else ([], 0, [])
    return page(
        request,
        "hazards.html",
        holds=holds,
        code=code,
        boxes=boxes,
        others=[(held.token(*name), name[1]) for name in others],
        number=number,
        pages=-(-many // _BOXES_A_PAGE),
        only=wanted if any(b.token == wanted for b in boxes) else "",
    )


async def say(request: Request) -> Response:
    """POST /hazards : note a hazard, propose that a base is safety film, confirm it."""
    return await handled(request, _say)


def _say(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    verb, box, words = text_of(form, "verb"), text_of(form, "box"), text_of(form, "words")
    if verb == "note_hazard":
        piece, code = text_of(form, "piece"), text_of(form, "code")
        number = noting.note_hazard(desk.home, desk.config, who, box, piece, code, words)
    elif verb == "propose_clearing":
        which, basis, seen = (text_of(form, n) for n in ("which", "basis", "seen"))
        number = noting.propose_clearing(desk.home, desk.config, who, box, which, basis, words, seen)
    elif verb == "confirm_clearing":
        proposal = asked.number({"proposal": text_of(form, "proposal")}, "proposal", 1, 999_999_999)
        number = noting.confirm_clearing(desk.home, desk.config, who, proposal, text_of(form, "seen"))
    else:
        asked.bad("No such ruling.")
    address = asked.hazards_address(text_of(form, "hazards_of"), text_of(form, "hazards_box"))
    return f"{address}&done={number}"
