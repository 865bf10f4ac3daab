"""Two owners' pieces with real files, small pictures and a person's rulings: for the tests of what is handed over."""

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from intake.imaging.encode import jpeg_bytes
from intake.model import Box, Checked, Finding, Listed, Mark, Parsed, PartKey, Received
from intake.services.correcting import AskedReading, rule_on_readings
from intake.services.dossiers import dossiers
from intake.services.home import Home
from intake.services.relate import regroup
from intake.services.review import decide
from intake.store import families, pairs, runs, scans
from tests.made import AT, SETTINGS, STAMPS, Written, checked, classified, dossier, mark, match

IDA = "Ida Marl"
SECRET = "OSKAR VENN"  # the other owner's words: they may stand in no paper of consignment C
LETTER = "Dear Mr Tarn"
PRINTER = mark(
    "PRINTED BY MARL AND SONS, OSTMERE", "printer", value="MARL AND SONS", box=Box(100, 1400, 300, 40), town="Ostmere"
)
CODE = mark("61/204", "release_code", box=Box(700, 1400, 90, 40), rule="us_dist_slash", country="US", dates="a release",
            year=1961, year_from=1961, year_to=None)  # fmt: skip
AUTO = mark("PART SEEN BY NO PERSON", "copyright", box=Box(10, 10, 50, 20))


@dataclass
class Archive:
    """The home, the folders of the owners, and the parts by a short name."""

    home: Home
    folder: Path
    keys: dict[str, PartKey]

    def family(self) -> str:
        """The code of the family of C's pieces."""
        with self.home.database.read() as connection:
            return families.codes_of(connection, [self.keys["painting"]])[self.keys["painting"]]


def archive(home: Home, folder: Path, texts: tuple[str, ...] = (), other_owner: bool = True) -> Archive:
    """Consignment C (painting, sheet with its back, film, letter, one piece for each of ``texts``) and D (a sheet)."""
    written = Written(home)
    files: dict[str, Received] = {
        name: _file(folder / "c", "C", path, **given)
        for name, path, given in (
            ("painting", "B1/0001.tif", {}),
            ("sheet", "B1/0002.tif", {}),
            ("back", "B1/0002 v.tif", {"piece": "0002", "side": "verso"}),
            ("letter", "B1/0003.tif", {}),
            ("film", "B2/0004.tif", {}),
            *((f"text {n}", f"B3/{n:04}.tif", {}) for n in range(len(texts))),
        )
    }
    if other_owner:
        files["other"] = _file(folder / "d", "D", "B1/0009.tif")
    listed = [
        Listed("B1", "0001", "Painting on board"),
        Listed("B1", "0002", "US one sheet", sides=2),
        Listed("B2", "0004", "Negative"),
        Listed("B2", "0005", "Roll, stuck", held=True, why="sticky roll, not to be opened"),
        Listed("B2", "0006", "Still"),
        *(Listed("B3", f"{n:04}", text) for n, text in enumerate(texts)),
    ]
    with home.database.write() as connection:
        for code, own in (("C", listed), ("D", [Listed("B1", "0009", SECRET)])):
            if code == "C" or other_owner:
                scans.put_consignment(connection, code, str(folder / code.lower()), AT, True)
                scans.replace_list(connection, code, own)
                scans.add_scans(connection, [(r, 1) for r in files.values() if r.consignment == code], AT)
    written.run()
    kinds = {"painting": "artwork", "back": "reverse", "letter": "document", "film": "film_negative"}
    nitrate = Finding("classify", "possible_nitrate", "hazard", SETTINGS.classify.hazard_words, 1)
    for name, scan in files.items():
        found = (nitrate,) if name == "film" else ()
        marks = {"sheet": (PRINTER, CODE, AUTO), "other": (mark(SECRET),), "letter": (mark(LETTER),)}.get(name, ())
        if name.startswith("text "):
            marks = (mark(texts[int(name.split()[1])] or "x"),)
        _look(written, scan, kinds.get(name, "finished_sheet"), marks, found)
    keys = {name: PartKey(scan.digest, 1) for name, scan in files.items()}
    found_pairs = [match(keys["painting"], keys["sheet"]), match(keys["sheet"], keys["film"], probability=0.7)]
    if other_owner:
        found_pairs.append(match(keys["painting"], keys["other"], relation="shared_element", probability=0.95))
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found_pairs])
        runs.end_run(connection, 1, AT, "done", f"{SECRET} stands in the report")
    regroup(home, SETTINGS, STAMPS)
    _picture(home, keys)
    return Archive(home, folder, keys)


def accepted(a: Archive, *names: str) -> Archive:
    """Let Ida accept every reading on these parts but the one that no person saw."""
    with a.home.database.read() as connection:
        known = {d.key: d for d in dossiers(connection, STAMPS)}
    for name in names:
        for r in known[a.keys[name]].readings:
            if r.mark.text != AUTO.text:
                asked = [AskedReading(a.keys[name], r.mark.kind, r.mark.box, r.seen)]
                rule_on_readings(a.home, SETTINGS, IDA, "accept_reading", asked)
    return a


def confirmed(a: Archive) -> Archive:
    """Let Ida confirm the family of C's pieces."""
    with a.home.database.read() as connection:
        (family,) = [f for f in families.all_families(connection) if f.code == a.family()]
    decide(a.home, SETTINGS, IDA, "confirm", [m.key for m in family.members], {"families": [family.code]})
    return a


def _file(folder: Path, code: str, path: str, **given: Any) -> Received:
    data = f"the file {code} {path}".encode() * 50
    (folder / path).parent.mkdir(parents=True, exist_ok=True)
    (folder / path).write_bytes(data)
    box, _, stem = path.rpartition(".")[0].rpartition("/")
    values = {"consignment": code, "box": box, "piece": stem, "side": "recto", "size_bytes": len(data), **given}
    return Received(path=path, digest=hashlib.sha256(data).hexdigest(), **values)


def _look(written: Written, scan: Received, kind: str, marks: tuple[Mark, ...], found: tuple[Finding, ...]) -> None:
    d = dossier(scan)
    seen: Checked = replace(checked(), scanned_at="2026:11:01 10:20:30", scanner="Flatbed 7")
    values = (d.rendered, classified(kind, findings=found), d.reading, d.measured, d.features, Parsed(marks))
    written.looked(scan, values, check=seen)


def _picture(home: Home, keys: dict[str, PartKey]) -> None:
    for n, key in enumerate(keys.values()):
        picture = np.full((60, 40, 3), (20 * n) % 255, np.uint8)
        for name in ("thumb", "working"):
            path = home.picture(key, name, STAMPS.stages["render"])
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(jpeg_bytes(picture))
        features = home.features(key, STAMPS.stages["fingerprint"])
        features.parent.mkdir(parents=True, exist_ok=True)
        features.write_bytes(b"arrays %d" % n)
