"""Lists for people who do not sit at the desk: title checks, shippers of film, research, rights."""

from collections.abc import Sequence

from intake.services.handover import typeset as t
from intake.services.handover.record import PieceRecord
from intake.services.hazards import BoxHazards
from intake.services.known import Known

_SHIPPER = (
    "Film under hold: it may be cellulose nitrate until two named people have ruled on its base. Nothing is sent "
    "before a trained shipper of dangerous goods and the person in charge of fire safety have decided. Film that is "
    "not on this list was not thereby confirmed as safe."
)


def lists(pieces: Sequence[PieceRecord], known: Known, hazards: Sequence[BoxHazards], code: str) -> tuple[t.Block, ...]:
    """The four lists of one consignment, each on a page of its own."""
    kept = [x for x in known.listed.get(code, ()) if x.held and (code, x.box, x.piece) not in {p.name for p in pieces}]
    held = [p.name for b in hazards for p in b.held]
    clash = [(one.piece, c.words) for one in known.dates() if one.piece[0] == code for c in one.dated.contradictions]
    waiting = [
        (d.scan.box, d.piece, r.mark)
        for d in known.parts
        if d.scan.consignment == code and (d.scan.consignment, d.scan.box, d.piece) in {p.name for p in pieces}
        for r in d.readings
        if r.waits
    ]
    rights = [(p, m) for p in pieces for m in p.marks if m.kind == "copyright"]
    return (
        t.heading("For title and lost-art checks"),
        t.text("What each piece is listed as. Nothing here says whose it is: found in a box is not ownership."),
        t.rows([("piece", 1.2), ("the list says", 3.0), ("title", 2.0), ("size mm", 1.2)],
               [[place(p), p.description.words if p.description else "", p.title.said if p.title else "",
                 " × ".join(f"{m.value_mm:g}" for m in p.measurements)] for p in pieces]),
        t.new_page(),
        t.heading("For the shipper of dangerous goods"),
        t.text(_SHIPPER),
        t.rows([("piece", 1.4), ("base", 2.0), ("decided by, when", 2.6)],
               [*([f"{box} / {piece}", "unconfirmed", ""] for _, box, piece in sorted(held)),
                *([f"{x.box} / {x.piece}", f"kept back unseen: {x.why or 'no reason given'}", ""] for x in kept)]),
        t.new_page(),
        t.heading("Research questions open"),
        t.rows([("piece", 1.2), ("question", 5.0)],
               [*([f"{n[1]} / {n[2]}", f"Marks speak against each other: {words}"] for n, words in clash),
                *([f"{box} / {piece}", f"Reading not ruled on: {m.kind.replace('_', ' ')} “{m.value}”"]
                  for box, piece, m in waiting)]),
        t.new_page(),
        t.heading("For the rights desk: copyright lines that a person accepted"),
        t.text("What stands on the piece, no more: not who holds a right, nor whether one is in force."),
        t.rows([("piece", 1.2), ("line", 4.0), ("accepted", 2.0)],
               [[place(p), m.text, f"{m.source.who}, {m.source.at[:10]}"] for p, m in rights]),
    )  # fmt: skip


def place(p: PieceRecord) -> str:
    """Box and piece, as people call it."""
    return f"{p.name[1]} / {p.name[2]}"
