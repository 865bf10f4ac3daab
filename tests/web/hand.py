"""A small home made by hand for the desk: drawn pictures, ledger rows from model values, families by real grouping.

Everything in it is invented. One design as artwork, mirrored colour negative, proof and sheet in four boxes; another as
two sheets; one artwork that shares an element with the first; a broken scan; a listed piece that is missing.
"""

import asyncio
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import httpx
import numpy as np

from intake.config.load import Config
from intake.kin import Match
from intake.model import (
    Box,
    Checked,
    Condition,
    Evidence,
    FeatureSummary,
    Finding,
    Folded,
    FoldLine,
    Line,
    Listed,
    Mark,
    Measured,
    Parsed,
    PartKey,
    Place,
    ReaderSaid,
    Reading,
    Received,
    Rendered,
)
from intake.services.home import Home, write_whole
from intake.services.relate import regroup
from intake.store import pairs, runs, scans
from intake.web.app import make_app
from tests.made import STAMPS, Written, checked, classified, line, mark, match, received

HOST, PORT = "127.0.0.1", 8471
BASE = f"http://{HOST}:{PORT}"
WIDE, HIGH, SCALE = 600, 900, 4.0
WHOLE = Box(0, 0, int(WIDE * SCALE), int(HIGH * SCALE))
TORN = Box(0, 1200, 160, 40)
HOSTILE = "\"><script>alert(1)</script>\u202egnp.exe' onload=x {{7*7}}"
LONG = "Ω" * 10_240


@dataclass
class Made:
    """The home and the keys of what lies in it."""

    home: Home
    art: PartKey
    negative: PartKey
    proof: PartKey
    sheet: PartKey
    second_a: PartKey
    second_b: PartKey
    alone: PartKey
    scans: dict[str, Received] = field(default_factory=dict)


def painted(seed: int) -> np.ndarray[Any, Any]:
    """A picture that is like no other seed's: a sky, a disc, a figure of lines; blue, green, red."""
    random = np.random.default_rng(seed)
    top, low = random.integers(30, 220, (2, 3))
    fade = np.linspace(0, 1, HIGH)[:, None, None]
    picture = (top * (1 - fade) + low * fade + random.normal(0, 5, (HIGH, WIDE, 3))).clip(0, 255).astype(np.uint8)
    colours = [tuple(int(v) for v in c) for c in random.integers(0, 255, (14, 3))]
    cv2.circle(picture, (int(random.integers(120, 480)), int(random.integers(120, 300))), 90, colours[0], -1)
    for colour in colours[1:]:
        corners = random.integers((60, 260), (WIDE - 60, HIGH - 160), (3, 2)).astype(np.int32)
        cv2.fillPoly(picture, [corners.reshape(-1, 1, 2)], colour)
    cv2.putText(picture, f"DESIGN {seed}", (40, HIGH - 60), cv2.FONT_HERSHEY_DUPLEX, 2.2, (240, 240, 240), 6)
    return picture


def build(folder: Path, config: Config) -> Made:
    """Write the home; families are grouped from its matches."""
    home = Home(folder)
    written = Written(home)
    files = {
        "art": received("B01/0003.jpg"),
        "negative": received("B02/0009.tif"),
        "proof": received("B03/0017.tif"),
        "sheet": received("B04/0022.jpg"),
        "second_a": received("B03/0030.jpg"),
        "second_b": received(f"B04/{HOSTILE.replace('/', '')}.jpg"),
        "alone": received("B01/0044.jpg"),
        "broken": received("B04/0050.tif"),
    }
    written.consignment(*files.values(), has_list=True)
    with home.database.write() as connection:
        listed = [Listed(r.box, r.piece, "") for r in files.values() if r.piece != "0044"]
        scans.replace_list(
            connection, "C", [*listed, Listed("B01", "0004"), Listed("B02", "0010", "", 1, True, "stuck")]
        )
    written.run()
    keys = {name: PartKey(r.digest, 1) for name, r in files.items()}
    one, two, three = painted(1), painted(2), painted(3)
    nitrate = Finding("classify", "possible_nitrate", "hazard", config.classify.hazard_words, 1)
    hostile = mark(HOSTILE + LONG, "printer", box=Box(400, 3300, 900, 120), accepted="no")
    shown = {
        "art": (one, "artwork", {}, ()),
        "negative": (255 - one[:, ::-1], "film_negative", {"polarity": "negative", "findings": (nitrate,)}, ()),
        "proof": (one, "printers_proof", {}, (_printer("VELLA & ROOK LTD, OSTMERE", 0.97),)),
        "sheet": (
            one[: HIGH - 60],
            "finished_sheet",
            {},
            (_printer("VELLA & R00K LTD, OSTMERE", 0.61, "no"), _certificate()),
        ),
        "second_a": (two, "finished_sheet", {}, ()),
        "second_b": (two, "finished_sheet", {}, (hostile,)),
        "alone": (three, "artwork", {}, ()),
    }
    lines = {
        "sheet": (line("Shop 4417", Box(300, 60, 400, 40)),),
        "second_b": (line(f"{HOSTILE} = a line", Box(900, 60, 400, 40)),),
    }
    for name, (picture, kind, more, marks) in shown.items():
        _write(written, files[name], picture, kind, more, marks, lines.get(name, ()))
    cut = Finding("check", "truncated", "failure", "The file stops before its end. Copy it again, or scan again.")
    broken = Checked(0, 0, 0, 0, "", "TIFF", None, "no resolution", 1, None, "", "", 0.0, (), (cut,))
    written.looked(files["broken"], check=broken)
    mirrored = (-1.0, 0.0, float(WHOLE.width), 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
    found = [
        _match(keys["art"], keys["negative"], transform=mirrored, mirror=True, polarity_flip=True),
        _match(keys["art"], keys["proof"]),
        _match(keys["proof"], keys["sheet"]),
        _match(keys["second_a"], keys["second_b"]),
        _match(keys["art"], keys["alone"], relation="shared_element", probability=0.7),
    ]
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
        runs.end_run(connection, 1, "2026-11-03T05:12:00+00:00", "done", "")
    regroup(home, config, STAMPS)
    return Made(home, **{n: keys[n] for n in shown}, scans=files)


def copied(made: Made, folder: Path) -> Made:
    """The same home again, elsewhere, to be written into."""
    shutil.copytree(made.home.folder, folder)
    return replace(made, home=Home(folder))


def _write(
    written: Written,
    scan: Received,
    picture: np.ndarray[Any, Any],
    kind: str,
    more: dict[str, Any],
    marks: tuple[Mark, ...],
    lines: tuple[Line, ...],
) -> None:
    height, width = picture.shape[:2]
    box = Box(0, 0, int(width * SCALE), int(height * SCALE))
    middle = FoldLine("y", 0.5, (0.0, box.height / 2), (float(box.width), box.height / 2), 0.97, False, "ink is broken")
    is_sheet = kind == "finished_sheet"
    written.looked(
        scan,
        (
            Rendered(box, width, height, SCALE),
            classified(kind, **{"evidence": (Evidence("borders", "a border all round", 1.2),), **more}),
            Folded(0.31, is_sheet, (middle,) if is_sheet else ()),
            Condition(("tear", "stain"), (Place("tear", TORN, 0.9, "what the sheet lies on shows"),))
            if is_sheet
            else Condition(),
            Reading(lines, 0, False, 0.9 if kind != "film_negative" else 0.0),
            Measured(685.8, 1016.0, "resolution tag", "one-sheet", "fits"),
            FeatureSummary(400, 427, 640, SCALE * 900 / 640, box),
            Parsed(marks),
        ),
        check=checked(),
    )
    key = PartKey(scan.digest, 1)
    made = {"working": (picture, "render"), "thumb": (cv2.resize(picture, None, fx=0.4, fy=0.4), "render")}
    if more.get("polarity") == "negative":
        made["positive"] = (255 - picture, "classify")
    for name, (pixels, stage) in made.items():
        data = cv2.imencode(".jpg", pixels)[1].tobytes()
        write_whole(written.home.picture(key, name, STAMPS.stages[stage]), data)


def _match(a: PartKey, b: PartKey, transform: tuple[float, ...] | None = None, **given: Any) -> Match:
    """``transform`` leads from a to b; the pair is put in its order."""
    forward = np.array(transform or np.eye(3).ravel()).reshape(3, 3)
    first, second = pairs.ordered(a, b)
    stored = forward if first == a else np.linalg.inv(forward)
    xs = [(400.0, 500.0), (1200.0, 900.0), (1800.0, 2600.0), (700.0, 3000.0)]
    points = []
    for x, y in xs:
        u, v, w = stored @ (x, y, 1.0)
        points.append((x, y, float(u / w), float(v / w)))
    evidence = (Evidence("points", "4 points agree", 3.4), Evidence("dense", "0.81 of the surface agrees", 2.1))
    return match(first, second, transform=tuple(stored.ravel()), points=tuple(points), evidence=evidence, **given)


def _printer(text: str, confidence: float, accepted: Any = "auto") -> Mark:
    readers = (ReaderSaid("one", text, confidence), ReaderSaid("two", text.replace("0", "O"), 0.7))
    return mark(
        text, "printer", box=Box(300, 3200, 1100, 90), readers=readers, accepted=accepted, confidence=confidence
    )


def _certificate() -> Mark:
    years = {"year_from": 1951, "year_to": 1958, "periods": ((1951, 1958),), "dates": "the film"}
    return mark("CERTIFICATE 4417", "certificate", box=Box(1700, 3100, 300, 160), **years)


@dataclass
class Client:
    """Requests to the desk in this process, as a browser on the same machine would send them. Keeps cookies."""

    home: Home
    config: Config
    cookies: httpx.Cookies = field(default_factory=httpx.Cookies)
    with_api: bool = False

    def __post_init__(self) -> None:
        self.app = make_app(self.home, self.config, HOST, PORT, with_api=self.with_api)

    def ask(self, method: str, address: str, **given: Any) -> httpx.Response:
        """One request."""

        async def once() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=BASE, cookies=self.cookies) as client:
                answer = await client.request(method, address, **given)
                self.cookies.update(client.cookies)
                return answer

        return asyncio.run(once())

    def get(self, address: str, **headers: str) -> httpx.Response:
        """Look at a page."""
        return self.ask("GET", address, headers=headers)

    def post(self, address: str, form: Mapping[str, str], **headers: str) -> httpx.Response:
        """Send a form from one of the desk's own pages."""
        return self.ask(
            "POST", address, data=dict(form), headers={"origin": BASE, "sec-fetch-site": "same-origin", **headers}
        )
