"""A home with one piece of film of every kind, and what people do there about hazards: for the tests of these."""

from typing import Any

from intake.model import Box, Finding, Mark, Measured, Parsed, PartKey, Received, Stamps
from intake.services import held, noting
from intake.services.dossiers import Dossier, dossiers
from intake.services.hazards import box_hazards
from intake.services.home import Home
from intake.services.relate import regroup
from intake.services.tables import table
from intake.store import desk, pairs, runs, scans
from tests.made import AT, SETTINGS, STAMPS, Written, checked, classified, dossier, line, mark, match, reading, received

IDA, ORE = "Ida Marl", "Ore Vann"
REPORT = "report 17 of the Ostmere laboratory, 3 Nov 2026"
NITRATE = Finding("classify", "possible_nitrate", "hazard", SETTINGS.classify.hazard_words, 1)
GLASS = Finding("classify", "glass", "hazard", SETTINGS.classify.glass_words, 1)
READ = Finding("parse", "nitrate_read", "hazard", "NITRATE is read on it.", 1)
EDGE = Box(300, 5, 200, 12)
OTHER = Stamps({s: f"other-{s}" for s in STAMPS.stages}, "other-whole", STAMPS.match)
FILES = {
    "colour": received("F1/0001.tif"),
    "mono": received("F1/0002.tif"),
    "slide": received("F1/0003.tif"),
    "separation": received("F1/0004.tif"),
    "glass": received("F1/0005.tif"),
    "sheet": received("F1/0006.tif"),
    "other box": received("F2/0001.tif"),
}
FILM = ("colour", "mono", "slide", "separation", "other box")
KINDS = {
    "colour": "film_negative", "mono": "film_negative", "slide": "film_transparency", "separation": "separation",
    "glass": "glass_negative", "sheet": "finished_sheet", "other box": "film_negative",
}  # fmt: skip
SAFETY = mark("SAFETY FILM 5063", "film_base", value="SAFETY", box=EDGE)
# What a certificate in the picture says is of the film that was shown, years later than this film may be.
LATER = mark("CERTIFICATE 61204", "certificate", box=Box(700, 1400, 90, 40), year=1962, periods=((1959, 1966),))
MARKS: dict[str, tuple[Mark, ...]] = dict.fromkeys(KINDS, (SAFETY, LATER))


def write(
    written: Written, scan: Received, kind: str, marks: tuple[Mark, ...], *read: Finding, mm: float = 100.0
) -> None:
    found = {"glass_negative": (GLASS,), "finished_sheet": ()}.get(kind, (NITRATE,))
    d = dossier(scan)
    size = Measured(mm, mm * 1.254, "resolution tag", "", "no format known")
    lines = (line("SAFETY FILM 5063", EDGE),)
    values = (d.rendered, classified(kind, findings=found), reading(lines=lines), size, d.features, Parsed(marks, read))
    written.looked(scan, values, check=checked())


def filled(home: Home) -> Home:
    """One piece of film of every kind, each with SAFETY on its edge; glass; a sheet that matches one of the films."""
    written = Written(home)
    written.consignment(*FILES.values())
    written.run()
    for name, scan in FILES.items():
        write(written, scan, KINDS[name], MARKS[name], mm=60.0 if name == "slide" else 100.0)
    found = match(PartKey(FILES["colour"].digest, 1), PartKey(FILES["sheet"].digest, 1))
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((found.a, found.b), 1, found, 0.01)])
        runs.end_run(connection, 1, AT, "done", "")
    regroup(home, SETTINGS, STAMPS)
    return home


def holds(home: Home) -> set[str]:
    with home.database.read() as connection:
        found = box_hazards(connection, desk.shown_stamps(connection))
    return {f"{p.name[1]} / {p.name[2]}" for b in found for p in b.held}


ALL_FILM = {f"{FILES[n].box} / {FILES[n].piece}" for n in FILM}


def known(home: Home) -> dict[str, Dossier]:
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        assert stamps is not None
        return {d.title: d for d in dossiers(connection, stamps)}


def box(home: Home, name: str = "F1") -> held.BoxView:
    with home.database.read() as connection:
        view = held.box_of(connection, SETTINGS, held.token("C", name))
    assert view is not None
    return view


def propose(home: Home, which: str, who: str = IDA, name: str = "F1", **given: str) -> int:
    view = box(home, name)
    chosen = {"box": view.token, **{piece: t for t, piece in view.named.items()}}.get(which, which)
    basis, words = given.get("basis", "laboratory"), given.get("words", REPORT)
    return noting.propose_clearing(home, SETTINGS, who, view.token, chosen, basis, words, view.seen)


def waiting(home: Home, number: int) -> held.ProposalView:
    with home.database.read() as connection:
        views = held.boxes_with_proposals(connection, SETTINGS)
    return next(p for v in views for p in v.proposals if p.proposal.decision.id == number)


def confirm(home: Home, number: int, who: str = ORE) -> int:
    return noting.confirm_clearing(home, SETTINGS, who, number, waiting(home, number).seen)


def clear(home: Home, which: str, name: str = "F1") -> tuple[int, int]:
    first = propose(home, which, name=name)
    return first, confirm(home, first)


def note(home: Home, piece: str, code: str, words: str = "", who: str = IDA, name: str = "F1") -> int:
    view = box(home, name)
    on = next((t for t, p in view.named.items() if p == piece), "") if piece else ""
    return noting.note_hazard(home, SETTINGS, who, view.token, on, code, words)


def rerun(
    home: Home,
    read: dict[str, tuple[Finding, ...]] | None = None,
    stamps: Stamps = OTHER,
    kinds: dict[str, str] | None = None,
) -> None:
    """Look at everything again under other settings, which read this, and take some for other kinds."""
    with home.database.write() as connection:
        number = runs.start_run(connection, AT, {}, stamps)
    for name, scan in FILES.items():
        kind = (kinds or {}).get(name, KINDS[name])
        write(Written(home, stamps), scan, kind, MARKS[name], *(read or {}).get(name, ()))
    regroup(home, SETTINGS, stamps)
    with home.database.write() as connection:
        runs.end_run(connection, number, AT, "done", "")


def add(home: Home, scan: Received, kind: str = "film_negative", *read: Finding) -> None:
    with home.database.write() as connection:
        scans.add_scans(connection, [(scan, 1)], AT)
    write(Written(home), scan, kind, (), *read)


def row(home: Home, path: str) -> dict[str, Any]:
    columns, rows = table(home, SETTINGS, "scans")
    return next(dict(zip(columns, r, strict=True)) for r in rows if r[4] == path)
