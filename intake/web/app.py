"""The desk as one ASGI application: local, server-rendered, no build step, nothing from the network."""

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from intake.config.load import Config
from intake.services.clearing import is_same_person
from intake.services.correcting import KINDS
from intake.services.folds import issued
from intake.services.home import Home
from intake.services.pictures import Crops
from intake.services.review import PAST
from intake.services.shown import chance
from intake.web import asked, hazards, images, pages, readings, rulings, words
from intake.web.desk import Desk
from intake.web.guard import Guard

_HERE = Path(__file__).parent


def make_app(home: Home, config: Config, host: str, port: int) -> Starlette:
    """The desk over one home. It answers only requests that name ``host`` (or a loopback name) and ``port``."""
    refused: Any = pages.trouble
    app = Starlette(
        routes=[
            Route("/", pages.night),
            Route("/families", pages.queue),
            Route("/families/{code}", pages.family),
            Route("/pieces", pages.pieces),
            Route("/readings", readings.waiting, methods=["GET"]),
            Route("/lines/{part}", readings.lines),
            Route("/hazards", hazards.shown, methods=["GET"]),
            Route("/ledger", pages.ledger),
            Route("/report", pages.report),
            Route("/keys", pages.keys),
            Route("/picture/{part}", images.picture),
            Route("/crop", images.crop),
            Route("/over", images.over),
            Route("/rulings", rulings.rule, methods=["POST"]),
            Route("/readings", rulings.read, methods=["POST"]),
            Route("/hazards", hazards.say, methods=["POST"]),
            Route("/undo", rulings.undo, methods=["POST"]),
            Route("/measures", rulings.measure, methods=["POST"]),
            Route("/who", rulings.name, methods=["POST"]),
            Mount("/static", StaticFiles(directory=_HERE / "static")),
        ],
        middleware=[Middleware(Guard, host=host, port=port)],
        exception_handlers={HTTPException: refused, Exception: refused},
    )
    app.state.desk = Desk(home, config, _templates(config), Crops(home, config))
    return app


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
    made.filters |= {
        "plain": words.plain,
        "moment": words.moment,
        "signed": words.signed,
        "share": words.share,
        "relation": words.relation,
        "accepted": words.accepted,
        "spaced": words.spaced,
        "part": words.part_name,
        "kind": lambda name: kinds.get(name, name),
        "format_name": lambda name: formats.get(name, name),
        "issued": lambda folds, name: issued(folds, rows.get(name)),
    }
    made.globals |= {
        "picture": images.picture_address,
        "crop": images.crop_address,
        "over": images.over_address,
        "years": words.years,
        "readings_address": asked.readings_address,
        "reading_name": words.reading_name,
        "mark_kinds": KINDS,
        "several": words.several,
        "chance": chance,
        "past": PAST,
        "hazard_words": config.hazards,
        "is_same_person": is_same_person,
        "hazards_address": asked.hazards_address,
        "folds_hidden": config.fold.hidden_words,
    }
    return made
