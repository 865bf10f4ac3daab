"""The papers of one family: its dossier, and a condition report of each piece with places marked."""

from collections import Counter
from collections.abc import Iterable, Iterator

from intake.config.load import Config
from intake.kin import Differences
from intake.services.cautions import cautions_of
from intake.services.handover import typeset as t
from intake.services.handover.flat import identifier, said
from intake.services.handover.lists import place
from intake.services.handover.provenance import provenance
from intake.services.handover.record import FamilyRecord, ImageRecord, PieceRecord, Stated, Wanted, share
from intake.services.handover.records import records
from intake.services.handover.sound import file_name
from intake.services.home import Home
from intake.services.known import Known
from intake.services.upright import Upright

_ACROSS, _DOWN = 120.0, 130.0
_CARD = (52.0, 52.0)
_CROP = (33.0, 26.0)
_REGIONS = 24
_BLANK_LINES = 14


def family_papers(
    home: Home, config: Config, known: Known, wanted: Wanted, setter: t.Typesetter
) -> Iterator[tuple[str, t.Paper]]:
    """(file name, paper): the dossier first, then a report a piece."""
    found = records(home, config, wanted, known)
    for family in found.families:
        names = set(family.pieces)
        boxes = [b for b in known.hazards if {p.name for p in b.pieces} & names or b.name in {n[:2] for n in names}]
        cautions: list[t.Block] = [
            t.caution(
                c.title, c.message, "Where: " + "; ".join(f"box {p.box}: {', '.join(p.pieces)}" for p in c.places)
            )
            for c in cautions_of(boxes, config)
        ]
        yield (
            f"dossier-{file_name(family.code)}",
            _dossier(family, found.pieces, config, setter, cautions, known.differences),
        )
    for p in found.pieces:
        yield f"condition-{file_name(p.identifier)}", _condition(p, config, setter)


def _dossier(
    f: FamilyRecord,
    pieces: tuple[PieceRecord, ...],
    config: Config,
    setter: t.Typesetter,
    cautions: list[t.Block],
    differences: Iterable[Differences],
) -> t.Paper:
    status = f"confirmed by {said(f.confirmed)}" if f.confirmed else "suggested: no person has ruled on it"
    title = f.title.said if f.title else "not stated"
    cards = [{"picture": setter.picture(_front(p), _CARD), "words": f"{place(p)}: {p.kind.said}"} for p in pieces]
    shown = [c for c in cards if isinstance(c["picture"], dict)]
    seen: set[tuple[str, ...]] = set()
    related = []
    for p in pieces:
        for r in p.relations:
            pair = (*sorted((p.identifier, identifier(r.other))), r.certainty)
            if r.other in f.pieces and pair not in seen:
                seen.add(pair)
                related.append([place(p), r.word, f"{r.other[1]} / {r.other[2]}", r.certainty, said(r.source)])
    dated = sorted((p for p in pieces if p.date), key=lambda p: p.date.edtf if p.date else "")
    marks = [[place(p), m.kind.replace("_", " "), m.value, said(m.source)] for p in pieces for m in p.marks]
    others = [t.text(f"Pieces of the family that are not handed out: {f.others}.")] if f.others else []
    return t.Paper(
        f"Family {f.code}", title,
        (
            *cautions,
            t.facts(("Title", title), ("Status", status), ("Pieces", str(len(f.pieces))),
                    ("Campaign", f.campaign or "none told"),
                    *((config.records.other_design, f"{d.code}, {d.certainty}: {said(d.source)}") for d in f.designs)),
            t.text(config.papers.dossier), *others,
            {"kind": "gallery", "columns": 3, "pictures": shown},
            t.heading("What they are to each other"),
            t.rows([("piece", 1.1), ("is", 1.7), ("piece", 1.1), ("certainty", 0.9), ("on what", 2.6)], related),
            t.heading("What differs, as told from the scans (suggested)"),
            *_differences(f, pieces, differences, setter),
            t.heading("Time line, by accepted marks"),
            t.rows([("piece", 1.1), ("EDTF", 1.1), ("in words, and on what", 4.5)],
                   [[place(p), p.date.edtf, f"{p.date.words} On what it rests: {'; '.join(p.date.rests_on)}."]
                    for p in dated if p.date]),
            t.heading("Marks that a person accepted"),
            t.rows([("piece", 1.1), ("mark", 1.2), ("value", 2.0), ("by whom, where", 3.0)], marks),
        ),
    )  # fmt: skip


def _differences(
    f: FamilyRecord, pieces: Iterable[PieceRecord], told: Iterable[Differences], setter: t.Typesetter
) -> Iterator[t.Block]:
    """The surest regions of the pairs of this family, each with what lies there on both; and what could not be told."""
    images = {i.key: (p, i) for p in pieces if p.name in f.pieces for i in p.images}
    reports = [d for d in told if d.a in images and d.b in images]
    rows: dict[tuple[str, str], tuple[float, list[t.Cell]]] = {}  # of a piece scanned twice each region comes twice
    for report in reports:
        (a, on_a), (b, on_b) = images[report.a], images[report.b]
        for d in report.regions:
            crops = [setter.crop(i, box, _CROP) if box else "not there" for i, box in ((on_a, d.a), (on_b, d.b))]
            pair = f"{place(a)} and {place(b)}"
            rows.setdefault((pair, d.words), (d.certainty, [pair, *crops, d.words, share(d.certainty)]))
    surest = sorted(rows.values(), key=lambda r: -r[0])
    yield t.rows(
        [("pieces", 1.2), ("on the first", 1.5), ("on the second", 1.5), ("what", 2.4), ("certainty", 0.8)],
        [row for _, row in surest[:_REGIONS]],
    )
    if len(surest) > _REGIONS:
        yield t.text(f"{len(surest) - _REGIONS} less certain regions are left out: kinfold export differences.")
    for report in reports:
        if report.why_not:
            one, other = (place(images[k][0]) for k in (report.a, report.b))
            yield t.text(f"{one} and {other} could not be compared: {report.why_not}.")


def _condition(p: PieceRecord, config: Config, setter: t.Typesetter) -> t.Paper:
    front = _front(p)
    width, height = _frame(front)
    picture = setter.picture(front, (width, height), "working")
    on_front = [(m.box, f"{m.kind.replace('_', ' ')}: {m.value}", m.source.who) for m in p.marks if m.key == front.key]
    on_front += [(c.at[1], c.said, c.source.who) for c in p.condition if c.at and c.at[0] == front.key]
    upright = Upright(front.box, front.turn.rotation, front.turn.mirrored) if front.box.width else None
    places = [list(upright.place(box)) for box, _, _ in on_front] if upright else []
    marked: list[t.Block] = (
        [{"kind": "marked", "picture": picture, "places": places}]
        if isinstance(picture, dict)
        else [t.text("no picture")]
    )
    hazards = [t.caution("Caution", *(h.words for h in p.hazards))] if p.hazards else []
    return t.Paper(
        f"Condition report, {place(p)}", f"consignment {p.name[0]}",
        (
            *hazards,
            t.facts(("Piece", p.identifier), ("What it is", p.kind.said),
                    ("The list says", p.description.words if p.description else ""),
                    *(("Ruled", f"{r.words}, {said(r.source)}") for r in p.remarks),
                    ("Made of", f"{p.materials.said}, {said(p.materials.source)}"
                     if p.materials else "nobody has said"),
                    ("Size mm", " × ".join(f"{m.value_mm:g}" for m in p.measurements)),
                    ("Seen on the scan", _counted(p.condition))),
            t.text(config.papers.condition),
            *marked,
            t.rows([("no.", 0.5), ("accepted mark, or place", 3.0), ("by", 2.0)],
                   [[str(n), words, who] for n, (_, words, who) in enumerate(on_front, start=1)]),
            t.heading("Where it came from, as far as is on record"),
            t.text(*provenance(p, config.papers.house, config.papers.provenance)),
            t.new_page(),  # the back of the sheet is to be written on
            t.heading("By the person who looks"),
            t.rows([("what (term)", 2.0), ("where on the piece", 2.0), ("how much", 1.2), ("cause known?", 1.2)],
                   [[" "] * 4 for _ in range(_BLANK_LINES)]),
            *(t.facts((f"Scale “{s.name}”, circle one", "   ".join(s.grades))) for s in config.papers.scales),
            t.signatures("looked at by"),
        ),
    )  # fmt: skip


def _counted(condition: Iterable[Stated]) -> str:
    """What is seen, each sort once, with how often: the table beside the picture tells one place from another."""
    sorts = Counter((c.words.partition(":")[0] if c.at else c.words, c.certainty) for c in condition)
    said_so = (f"{words}{f', {n} times' if n > 1 else ''} ({sure})" for (words, sure), n in sorts.items())
    return "; ".join(said_so) or "nothing"


def _front(p: PieceRecord) -> ImageRecord:
    return min(p.images, key=lambda i: (i.side != "recto", i.path, i.key))


def _frame(image: ImageRecord) -> tuple[float, float]:
    """Millimetres on the page in which the upright picture lies, with its own proportions."""
    width, height = (image.box.width or 1, image.box.height or 1)
    if image.turn.rotation in (90, 270):
        width, height = height, width
    scale = min(_ACROSS / width, _DOWN / height)
    return round(width * scale, 2), round(height * scale, 2)
