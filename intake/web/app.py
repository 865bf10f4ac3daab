"""The desk as one ASGI application: local, server-rendered, no build step, nothing from the network."""

import hashlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from intake.config.condition import Sort
from intake.config.load import Config
from intake.services.clearing import is_same_person
from intake.services.condition import said_by
from intake.services.correcting import KINDS
from intake.services.folds import issued
from intake.services.home import Home
from intake.services.looks import Looks
from intake.services.offered import Searches
from intake.services.pages_of_tables import TablePages
from intake.services.pictures import Crops
from intake.services.said import DOING, PAST, ago
from intake.services.shown import chance
from intake.services.tiles import Tiles
from intake.web import (
    api,
    asked,
    book,
    closer,
    condition,
    finding,
    hazards,
    iiif,
    images,
    morning,
    pages,
    pieces,
    queue,
    readings,
    rulings,
    seat,
    singles,
    words,
)
from intake.web.desk import Desk
from intake.web.guard import KEPT, Guard
from intake.web.seat import Seats

_HERE = Path(__file__).parent
_STATIC = _HERE / "static"


def make_app(
    home: Home, config: Config, host: str, port: int, names: Sequence[str] = (), with_api: bool = False
) -> Starlette:
    """The desk over one home. It answers only requests to ``host``, one of ``names`` or loopback, at ``port``.

    ``with_api``: to other programs too, which may read its tables.
    """
    refused: Any = api.refused
    app = Starlette(
        routes=[
            Route("/", morning.shown),
            Route("/families", queue.shown),
            Route("/families/{code}", pages.family),
            Route("/pieces", pieces.shown),
            Route("/pieces/{part}", pieces.piece),
            Route("/closer/{code}", closer.shown),
            Route("/elements/{code}", closer.listed),
            Route("/point-cut", closer.cut),
            Route("/find", finding.shown, methods=["GET"]),
            Route("/find/{token}", finding.result),
            Route("/find/{token}/picture", finding.picture),
            Route("/find/{token}/over", finding.over),
            Route("/readings", readings.waiting, methods=["GET"]),
            Route("/lines/{part}", readings.lines),
            Route("/hazards", hazards.shown, methods=["GET"]),
            Route("/singles", singles.shown, methods=["GET"]),
            Route("/ledger", book.shown),
            Route("/ledger.csv", book.csv),
            Route("/report", pages.report),
            Route("/keys", pages.keys),
            Route("/names", pages.names),
            Route("/picture/{part}", images.picture),
            Route("/crop", images.crop),
            Route("/iiif/{name}", iiif.redirect),
            Route("/iiif/{name}/info.json", iiif.info),
            Route("/iiif/{name}/{region}/{size}/{rotation}/{file}", iiif.tile),
            Route("/sharp/{name}", iiif.sharp),
            Route("/rulings", rulings.rule, methods=["POST"]),
            Route("/readings", rulings.read, methods=["POST"]),
            Route("/hazards", hazards.say, methods=["POST"]),
            Route("/condition", condition.say, methods=["POST"]),
            Route("/closer", closer.say, methods=["POST"]),
            Route("/undo", rulings.undo, methods=["POST"]),
            Route("/find", finding.ask, methods=["POST"]),
            Route("/moves", pieces.move, methods=["POST"]),
            Route("/stated", pieces.state, methods=["POST"]),
            Route("/materials", pieces.made_of, methods=["POST"]),
            Route("/laid", pieces.lay, methods=["POST"]),
            Route("/singles", singles.rule, methods=["POST"]),
            Route("/taken", queue.take, methods=["POST"]),
            Route("/catalogue", morning.catalogue, methods=["POST"]),
            Route("/measures", rulings.measure, methods=["POST"]),
            Route("/who", rulings.name, methods=["POST"]),
            Route("/sit", seat.door, methods=["GET"]),
            Route("/sit", seat.sit, methods=["POST"]),
            Route("/rise", seat.rise, methods=["POST"]),
            *(api.routes() if with_api else ()),
            Mount(_static_address(), StaticFiles(directory=_STATIC)),
            Mount("/static", StaticFiles(directory=_STATIC)),  # for reports of runs, which outlive a version
        ],
        middleware=[
            Middleware(Guard, hosts=(host, *names), port=port, uploads={"/find": config.looking.find_mb * 2**20}),
            Middleware(Seats, home=home),
        ],
        exception_handlers={HTTPException: refused, Exception: refused},
    )
    app.state.tables = TablePages(home, config)
    app.state.desk = Desk(
        home, config, _templates(config), Crops(home, config), Looks(home), Tiles(home, config), Searches(home, config)
    )
    return app


@cache
def _static_address() -> str:
    """Where our own files are: another address once any of them is another, so that a browser may keep them unasked."""
    made = hashlib.sha256()
    for path in sorted(p for p in _STATIC.rglob("*") if p.is_file()):
        made.update(path.relative_to(_STATIC).as_posix().encode())
        made.update(path.read_bytes())
    return f"{KEPT}{made.hexdigest()[:12]}"


def _templates(config: Config) -> Environment:
    made = Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    kinds = {name: row.words for name, row in config.kinds.kinds.items()}
    formats = {row.id: f"{row.name}, {row.country}" for row in config.formats}
    rows = {row.id: row for row in config.formats}
    sorts: dict[str, Sort] = {str(name): row for name, row in config.condition.sorts.items()}
    made.filters |= {
        "plain": words.plain,
        "reader": words.reader,
        "moment": words.moment,
        "signed": words.signed,
        "day": words.day,
        "ago": ago,
        "share": words.share,
        "relation": words.relation,
        "accepted": words.accepted,
        "spaced": words.spaced,
        "part": words.part_name,
        "kind": lambda name: kinds.get(name, name),
        "format_name": lambda name: formats.get(name, name),
        "worn_called": lambda sort: sorts[sort].called if sort in sorts else sort,
        "said_by": said_by,
        "issued": lambda folds, name: issued(folds, rows.get(name)),
    }
    made.globals |= {
        "static": _static_address(),
        "picture": images.picture_address,
        "crop": images.crop_address,
        "tiles": iiif.base_address,
        "tile_px": config.looking.tile_px,
        "years": words.years,
        "readings_address": asked.readings_address,
        "reading_name": words.reading_name,
        "mark_kinds": KINDS,
        "several": words.several,
        "chance": chance,
        "past": PAST,
        "doing": DOING,
        "reasons": config.queue.reasons,
        "all_kinds": config.kinds.kinds,
        "all_formats": config.formats,
        "evidence_of": words.evidence_of,
        "hazard_words": config.hazards,
        "is_same_person": is_same_person,
        "hazards_address": asked.hazards_address,
        "folds_hidden": config.fold.hidden_words,
        "clicked_size": condition.clicked_size,
        "cut": closer.cut_address,
        "place_cut": closer.place_address,
        "worn_words": config.condition.not_looked_words,
        "worn_sorts": sorts,
        "scales": config.grades.scales,
        "lights": config.grades.lights,
    }
    return made
