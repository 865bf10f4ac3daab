"""The pages of pieces: all of them, and one; its moves; and whose pieces the desk is laid for."""

from typing import Any
from urllib.parse import quote

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.services import views
from intake.services.materials import CERTAINTIES, state_materials
from intake.services.piece import PieceView, StatementRefused, move_piece, piece_view
from intake.services.piece import state as state_relation
from intake.services.places import MoveRefused
from intake.services.review import RulingRefused
from intake.web import asked
from intake.web.desk import Desk
from intake.web.iiif import tile_source
from intake.web.pages import cautions_on, page
from intake.web.rulings import handled, text_of
from intake.web.whose import LAID_FOR, in_words, laid
from intake.web.words import part_name

_PIECES_A_PAGE = 60


def shown(request: Request) -> Response:
    """GET /pieces : everything received that may be shown, by box, kind and trouble."""
    desk: Desk = request.app.state.desk
    values, whose = request.query_params, laid(request)
    every = views.pieces_of(desk.home)
    rows = [d for d in every if whose.may_show(d.scan.consignment)]
    boxes = sorted({(d.scan.consignment, d.scan.box) for d in rows})
    kinds = sorted({d.kind for d in rows})
    box, kind, only = values.get("box", ""), values.get("kind", ""), values.get("only", "")
    withheld = len(every) - len(rows)
    if box:
        rows = [d for d in rows if f"{d.scan.consignment} / {d.scan.box}" == box]
    if kind:
        rows = [d for d in rows if d.kind == kind]
    if only == "trouble":
        rows = [d for d in rows if any(f.severity != "note" for f in d.findings)]
    number = asked.number(values, "page", 1, 100_000, 1)
    start = (number - 1) * _PIECES_A_PAGE
    of_page = views.piece_views(desk.home, rows[start : start + _PIECES_A_PAGE])
    return page(
        request,
        "pieces.html",
        rows=of_page,
        cautions=cautions_on(desk, of_page),
        found=len(rows),
        withheld=withheld,
        start=start,
        boxes=[f"{c} / {b}" for c, b in boxes],
        kinds=kinds,
        chosen={"box": box, "kind": kind, "only": only},
        number=number,
        pages=-(-len(rows) // _PIECES_A_PAGE),
    )


def piece(request: Request) -> Response:
    """GET /pieces/PART : the piece that a part is a picture of; that scan lies on the table."""
    desk: Desk = request.app.state.desk
    key = asked.part(request.path_params["part"])
    with in_words("There is no such piece."):
        view = piece_view(desk.home, desk.config, key, laid(request))
    seen = next((s for s in view.scans if s.member.key == key), view.scans[0])
    return page(
        request,
        "piece.html",
        piece=view,
        seen=seen,
        tiles_of=tile_source(seen.member, desk.config.looking),
        drawn=_drawn(seen),
        cautions=cautions_on(desk, [s.member for s in view.scans]),
        moved_to=_known_places(view),
        certainties=CERTAINTIES,
    )


async def move(request: Request) -> Response:
    """POST /moves : a piece is somewhere else now."""
    return await handled(request, _move)


async def state(request: Request) -> Response:
    """POST /stated : what a piece is of another one."""
    return await handled(request, _state)


async def made_of(request: Request) -> Response:
    """POST /materials : what a piece is made of, and how."""
    return await handled(request, _made_of)


async def lay(request: Request) -> Response:
    """POST /laid : lay the desk for another consignment."""
    form = await request.form(max_fields=5)
    code = text_of(form, "code")
    if code not in laid(request).codes:
        asked.bad("No such consignment.")
    response = RedirectResponse("/families", 303)
    year = 365 * 24 * 3600
    response.set_cookie(LAID_FOR, quote(code), max_age=year, httponly=True, samesite="strict", path="/")
    return response


def _move(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    key = asked.part(text_of(form, "of_piece"))
    with in_words("There is no such piece."):
        try:
            move_piece(desk.home, who, key, laid(request), text_of(form, "seen"), text_of(form, "to"))
        except MoveRefused as error:
            raise RulingRefused(str(error)) from error
    return f"/pieces/{part_name(key)}"


def _state(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    key = asked.part(text_of(form, "of_piece"))
    other = (text_of(form, "other_box").strip(), text_of(form, "other_piece").strip())
    with in_words("There is no such piece."):
        try:
            state_relation(desk.home, who, key, laid(request), text_of(form, "relation"), other)
        except StatementRefused as error:
            raise RulingRefused(str(error)) from error
    return f"/pieces/{part_name(key)}"


def _made_of(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    key = asked.part(text_of(form, "of_piece"))
    with in_words("There is no such piece."):
        state_materials(desk.home, who, key, laid(request), text_of(form, "text"), text_of(form, "as"))
    return f"/pieces/{part_name(key)}"


def _drawn(seen: Any) -> str:
    """What is drawn over the scan: kind and corners (shares of the upright picture), with blanks between."""
    shapes = []
    if seen.outline:
        shapes.append(("outline", seen.outline))
    for line, start, end in seen.member.fold_places:
        shapes.append(("printed" if line.printed else "fold", (start, end)))
    for place, (left, top, wide, high) in seen.member.worn_places:
        right, low = left + wide, top + high
        shapes.append((f"worn-{place.state}", ((left, top), (right, top), (right, low), (left, low))))
    return ";".join(f"{kind} {' '.join(f'{v:.5f}' for corner in at for v in corner)}" for kind, at in shapes)


def _known_places(view: PieceView) -> list[str]:
    """Places that it was at, to choose from."""
    home = f"box {view.name[1]}"
    return sorted({home, *(m.from_place for m in view.moved), *(m.to_place for m in view.moved)} - {view.place})
