"""`kinfold export papers`: what people outside the desk are given to read, sign and fill in, as PDF.

Papers of a consignment hold that consignment's pieces alone: no other owner's picture, number or name.
"""

import csv
import hashlib
import io
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path

from intake.config.load import Config
from intake.model import Listed, Stamps
from intake.services.boxes import RESCAN
from intake.services.cautions import cautions_of
from intake.services.export import harmless
from intake.services.handover import typeset as t
from intake.services.handover.account import MISSING, Line, balance_rows, schedule
from intake.services.handover.family_papers import family_papers
from intake.services.handover.files import write_text
from intake.services.handover.light import light_view
from intake.services.handover.lists import lists
from intake.services.handover.record import PieceRecord, Wanted
from intake.services.handover.records import records
from intake.services.handover.sound import file_name
from intake.services.home import Home, now
from intake.services.known import Known
from intake.store import moves, runs

_THUMB = (24.0, 24.0)
_BLANK_LINES = 18


def export_papers(home: Home, config: Config, to: Path, wanted: Wanted, paper: str = "a4", made_at: str = "") -> int:
    """Write the papers of one consignment, of all, or of one family, into ``to``; returns how many.

    ``paper`` is a4 or us-letter, ``made_at`` the stated time.
    """
    made_at = made_at or now()
    known = light_view(home, config)
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
    count = 0
    setter = t.Typesetter(home, config, paper, made_at, stamps.stages.get("render", ""))
    if wanted.family:
        for name, made in family_papers(home, config, known, wanted, setter):
            count += setter.write(to, name, made)
        return count
    for code in [wanted.consignment] if wanted.consignment else sorted(known.listed):
        of = _Consignment(home, config, known, setter, code, wanted.with_documents, made_at)
        for name, made in of.papers():
            count += setter.write(to / file_name(code), name, made)
        write_text(to / file_name(code) / "hold-list.csv", of.hold_list())
    return count


class _Consignment:
    def __init__(
        self, home: Home, config: Config, known: Known, setter: t.Typesetter, code: str, documents: bool, at: str
    ) -> None:
        self.config, self.known, self.setter, self.code, self.at = config, known, setter, code, at
        every = records(home, config, Wanted(code, "", True), known).pieces
        self.pieces = [p for p in every if p.name[0] == code]
        self.pictured = {p.name for p in self.pieces if documents or not p.is_private}
        self.loose = config.receive.loose_box
        self.listed = known.listed.get(code, [])
        self.hazards = [b for b in known.hazards if b.name[0] == code]
        held = {(p.name[1], p.name[2]) for b in self.hazards for p in b.held}
        self.lines = schedule(self.listed, self.pieces, held)
        with home.database.read() as connection:
            self.places = {(m.box, m.piece): m.to_place for m in moves.all_moves(connection, code)}
        self.boxes = [b for b in known.boxes if b.consignment == code]
        self.subject = f"consignment {code}"

    def papers(self) -> Iterator[tuple[str, t.Paper]]:
        """(file name, paper) of each, one at a time."""
        yield "receipt", self._receipt()
        for box, of in groupby(self.lines, key=lambda x: x.box):
            yield f"schedule-{file_name(box)}", self._schedule(box, list(of))
        yield "box-labels", self._labels()
        yield "hold-list", self._triage()
        yield "hazards", self._hazard_sheet()
        yield "rescan-order", self._rescans()
        yield "pick-list", self._by_place("Pick list and contact sheet, by place", ("taken",), True)
        yield "return-list", self._by_place("Return list, by place", ("returned", "checked by"), False)
        yield "spot-check", self._spot_check()
        yield "sampling", self._sampling()
        shown = [p for p in self.pieces if p.name in self.pictured]
        yield "lists", t.Paper("Lists for others", self.subject, lists(shown, self.known, self.hazards, self.code))

    def _picture(self, p: PieceRecord | None) -> t.Cell:
        if p is None:
            return ""
        if p.name not in self.pictured:
            return self.config.papers.private
        front = min(p.images, key=lambda i: (i.side != "recto", i.path, i.key))
        return self.setter.picture(front, _THUMB)

    def _receipt(self) -> t.Paper:
        columns = [("box", 1.4), ("listed", 1.0), ("received", 1.0), ("not scanned", 1.0), ("missing", 1.0),
                   ("not on the list", 1.0), ("kept back by the list", 1.0), ("on hold as film", 1.0)]  # fmt: skip
        odd = [x for x in self.lines if x.state != "received" or x.why]
        received = min((p.received for p in self.pieces), default="")
        return t.Paper(
            "Receipt", self.subject,
            (
                t.facts(("Consignment", self.code), ("Received", received[:10]),
                        *(("", line) for line in self.config.papers.lines)),
                t.text(self.config.papers.receipt),
                t.rows(columns, balance_rows(self.boxes)),
                t.heading("Pieces that need a word"),
                t.rows([("piece", 1.2), ("the list says", 2.4), ("state", 1.2), ("why", 2.6)],
                       [[f"{x.box} / {x.piece}", x.description, x.state, x.why] for x in odd]),
                t.heading("Files that need a word"),
                t.rows([("file", 2.6), ("what", 4.0)],
                       [[path, f.message] for path, f in self.known.receipt.get(self.code, ())]),
                t.signatures("for the house", "the consignor"),
            ),
        )  # fmt: skip

    def _schedule(self, box: str, lines: Sequence[Line]) -> t.Paper:
        columns = [("picture", 1.5), ("piece", 1.1), ("the list says", 2.6), ("what it is", 1.6),
                   ("scans", 0.7), ("state", 2.2)]  # fmt: skip
        made = [
            [self._picture(x.record), x.piece, x.description, x.record.kind.said if x.record else "", str(x.scans),
             f"{x.state}{'; ' + x.why if x.why else ''}"]
            for x in lines
        ]  # fmt: skip
        return t.Paper(
            f"Consignor's schedule, {self._of_box(box)}", self.subject,
            (*self._cautions({box}), t.text(self.config.papers.receipt), t.rows(columns, made),
             t.signatures("for the house", "the consignor")),
        )  # fmt: skip

    def _cautions(self, boxes: set[str] | None = None) -> list[t.Block]:
        found = cautions_of([b for b in self.hazards if boxes is None or b.name[1] in boxes], self.config)
        made = []
        for c in found:
            where = "; ".join(f"box {p.box}: {', '.join(p.pieces) or 'the box as a whole'}" for p in c.places)
            made.append(t.caution(c.title, c.message, f"Where: {where}."))
        return made

    def _labels(self) -> t.Paper:
        import zxingcpp

        made: list[t.Block] = []
        for b in self.boxes:
            words = f"{self.code}/{b.box}"
            code = zxingcpp.create_barcode(words[:400], zxingcpp.BarcodeFormat.QRCode, ec_level="M")
            count = f"{b.received} received" if b.listed is None else f"{b.listed} listed, {b.received} received"
            made.append(
                t.label(
                    zxingcpp.write_barcode_to_svg(code),
                    self._of_box(b.box).capitalize() if b.box == self.loose else f"Box {b.box}",
                    f"{self.subject}: {count}",
                )
            )
            made += self._cautions({b.box})
        return t.Paper("Box sheets", self.subject, tuple(made))

    def _triage(self) -> t.Paper:
        columns = [("piece", 1.1), ("the list says", 2.6), ("film?", 0.8), ("smell, sticky, channels", 1.2),
                   ("mould", 0.8), ("glass, blade", 0.9), ("hold, why", 1.8), ("who", 0.8)]  # fmt: skip
        made: list[t.Block] = [t.caution("Before scanning", self.config.papers.hold, self.config.hazards.ask)]
        boxes = {x.box: [y for y in self.listed if y.box == x.box] for x in self.listed}
        for box, of in boxes.items():
            made += [t.heading(f"Box {box}"), t.rows(columns, [[x.piece, x.description, *[""] * 6] for x in of])]
        if not boxes:
            made.append(t.rows(columns, [[" "] * 8 for _ in range(_BLANK_LINES)]))
        return t.Paper("Hazard triage sheet and hold list", self.subject, (*made, t.signatures("first", "second")))

    def hold_list(self) -> Iterator[str]:
        """The hold list as the CSV that ``receive --box-list`` takes in, with what is listed and held so far."""
        for row in (("box", "piece", "description", "sides", "held", "why"), *map(_list_row, self.listed)):
            out = io.StringIO(newline="")
            csv.writer(out, lineterminator="\n").writerow([harmless(v) for v in row])
            yield out.getvalue()

    def _hazard_sheet(self) -> t.Paper:
        told = [("who was told", 2.0), ("of what", 2.0), ("when", 1.0), ("by whom", 1.4)]
        nothing = t.text("Nothing is flagged. That does not mean that anything is safe: where nothing is flagged, "
                         "nothing was confirmed.")  # fmt: skip
        return t.Paper(
            "Hazard sheet", self.subject,
            (*(self._cautions() or [nothing]), t.heading("Who decides"), t.text(self.config.hazards.ask),
             t.heading("Who was told"), t.rows(told, [[" "] * 4 for _ in range(6)])),
        )  # fmt: skip

    def _rescans(self) -> t.Paper:
        made = [
            [f"{d.scan.box} / {d.piece}", d.scan.path, str(d.key.part), f.message]
            for d in self.known.parts
            if d.scan.consignment == self.code
            for f in d.findings
            if f.code in RESCAN
        ]
        return t.Paper(
            "Rescan order", self.subject,
            (t.text("Please scan again, with the same file name and the word rescan added."),
             t.rows([("piece", 1.2), ("file", 2.6), ("picture", 0.7), ("why", 3.0)], made)),
        )  # fmt: skip

    def _by_place(self, title: str, extra: Sequence[str], pictured: bool) -> t.Paper:
        made: list[t.Block] = []
        there = [(self._place(x), x) for x in self.lines if x.state != MISSING]  # also what was never scanned
        for place, of in groupby(sorted(there, key=lambda p: (p[0], p[1].box, p[1].piece)), key=lambda p: p[0]):
            columns = [*([("picture", 1.4)] if pictured else []), ("piece", 1.2), ("the list says", 2.6),
                       ("size mm", 1.2), ("mind", 1.6), *((e, 1.1) for e in extra)]  # fmt: skip
            lines = [
                [*([self._picture(x.record)] if pictured else []), f"{x.box} / {x.piece}", x.description,
                 size_words(x.record) if x.record else "", x.why, *[""] * len(extra)]
                for _, x in of
            ]  # fmt: skip
            made += [t.heading(place), t.rows(columns, lines)]
        return t.Paper(title, self.subject, (*self._cautions(), *made, t.signatures("handed over by", "received by")))

    def _place(self, x: Line) -> str:
        return self.places.get((x.box, x.piece)) or self._of_box(x.box)

    def _of_box(self, box: str) -> str:
        return "in no box" if box == self.loose else f"box {box}"

    def _spot_check(self) -> t.Paper:
        n = self.config.papers.spot_check
        drawn = sorted(self.pieces, key=lambda p: _lot(f"{self.at[:10]} {p.identifier}"))[:n]
        found = [("found on the shelf", 2.4), ("on the list?", 1.2), ("who", 1.0)]
        return t.Paper(
            "Spot check", self.subject,
            (
                t.text(f"{len(drawn)} pieces, drawn by the digest of the day {self.at[:10]} and their number."),
                t.heading("From the list to the shelf"),
                t.rows([("piece", 1.4), ("should be at", 2.4), ("there?", 1.0), ("who", 1.0)],
                       [[f"{p.name[1]} / {p.name[2]}", p.location, "", ""] for p in drawn]),
                t.heading("From the shelf to the list"), t.rows(found, [[" "] * 3 for _ in range(n)]),
            ),
        )  # fmt: skip

    def _sampling(self) -> t.Paper:
        batch = {d.key.digest: d.scan for d in reversed(self.known.parts) if d.scan.consignment == self.code}
        plan = self.config.sampling.plan(len(batch))
        drawn = sorted(sorted(batch, key=lambda d: _lot(self.code + d))[: plan.n], key=lambda d: batch[d].path)
        return t.Paper(
            "Acceptance sampling sheet", self.subject,
            (
                t.facts(("Lot", f"{plan.lot} scans"), ("Plan", plan.why), ("Code letter", plan.letter or "none"),
                        ("Look at", f"{plan.n} scans"), ("Accept (Ac)", f"at most {plan.accept} bad"),
                        ("Reject (Re)", f"{plan.reject} bad or more: every scan is looked at")),
                t.text(self.config.papers.sampling,
                       "The scans below were drawn by the digest of the consignment and the file: nobody chose them."),
                t.rows([("scan", 3.2), ("sharp", 0.8), ("whole", 0.8), ("colour", 0.8),
                        ("right piece", 1.0), ("bad?", 0.7)],
                       [[batch[d].path, "", "", "", "", ""] for d in drawn]),
                t.facts(("Bad scans found", "______"), ("Result", "accepted  /  rejected")),
                t.signatures("looked at by"),
            ),
        )  # fmt: skip


def size_words(p: PieceRecord) -> str:
    """Width and height, and how they are known where that is not by the scan's resolution."""
    return " × ".join(f"{m.value_mm:g}" for m in p.measurements)


def _list_row(x: Listed) -> tuple[str, ...]:
    return (x.box, x.piece, x.description, str(x.sides), "yes" if x.held else "", x.why)


def _lot(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()
