"""Copies of one printing, and what people put into one offer; warned of where an offer splits what belongs together.

An offer is a decision on parts: the newest that names a piece holds for it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.kin import Decision, NumberedSet
from intake.model import PartKey, Stamps
from intake.services.dates import PieceName
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.grouping import piece_name
from intake.services.home import Home, now
from intake.services.review import LONGEST_TITLE, RulingRefused, named, one_at_a_time, tidy
from intake.services.rulings import standing
from intake.services.shown import FamilyView
from intake.stages.copies import Copy, Printing, printings
from intake.store import decisions, desk, families, pairs, relations, several
from intake.store.database import Connection

PRINTED = ("finished_sheet", "printers_proof", "printed_matter", "still", "photographic_proof")


@dataclass(frozen=True, slots=True)
class OfferView:
    """A standing offer that names pieces of the family: its decision, its pieces' places, and what it splits."""

    decision: Decision
    places: tuple[str, ...]
    splits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LotsView:
    """What of a family may be sold how: its printings, standing offers, and what belongs into one offer, in words."""

    printings: tuple[Printing, ...]
    offers: tuple[OfferView, ...]
    together: tuple[PartKey, ...]
    spare: tuple[PartKey, ...]


def family_lots(home: Home, config: Config, view: FamilyView) -> LotsView:
    """Of the members that may be shown."""
    shown = [m.key for m in view.members if not m.withheld]
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            return LotsView((), (), (), ())
        have = dossiers_of(connection, stamps, shown)
        told = printings(_copies(have, config), _one_sheet(connection, stamps, have), PRINTED)
        offers = [_view(connection, stamps, d) for d in offers_on(connection, shown)]
    spare = {p for printing in told for p in _spares(printing)}
    pieces = {key: piece_name(d) for key, d in have.items()}
    together = tuple(k for k in shown if k in pieces and pieces[k] not in spare)
    return LotsView(tuple(told), tuple(offers), together, tuple(k for k in shown if pieces.get(k) in spare))


def _spares(printing: Printing) -> set[PieceName]:
    """The copies of a printing that one offer does not need; none where nothing tells which is the best."""
    return {c.piece for c in printing.copies if c.piece != printing.best} if printing.best else set()


def _copies(have: Mapping[PartKey, Dossier], config: Config) -> list[Copy]:
    by_piece: dict[PieceName, list[Dossier]] = {}
    ours = (d for d in have.values() if not d.scan.is_reference)  # a reference is a picture, not property
    for d in sorted(ours, key=lambda d: (d.scan.side != "recto", d.scan.path, d.key)):
        by_piece.setdefault(piece_name(d), []).append(d)
    return [_copy(piece, scans, config) for piece, scans in by_piece.items()]


def _copy(piece: PieceName, scans: Sequence[Dossier], config: Config) -> Copy:
    front = scans[0]
    marks: dict[str, set[str]] = {}
    for d in scans:
        for mark in d.parsed.marks if d.parsed else ():
            if mark.accepted != "no" and not (d.sniped and d.sniped.bears(mark.box)):
                marks.setdefault(mark.kind, set()).add(mark.value.casefold())
    graded = [g for d in scans for g in d.worn.grades]
    newest = max(graded, key=lambda g: g.id, default=None)
    m = front.measured
    return Copy(
        piece,
        front.kind,
        m.format if m and m.format_fit in ("fits", "as ruled") else "",
        {k: frozenset(v) for k, v in marks.items()},
        _grade(newest, config) if newest else None,
        sum(p.state in ("confirmed", "put") for d in scans for p in d.worn.places),
        sum(p.certainty or 0 for d in scans for p in d.worn.places if p.state == "suggested"),
        bool(front.worn.looked),
    )


def _grade(decision: Decision, config: Config) -> tuple[str, int, str] | None:
    scale, grade = str(decision.shown.get("scale", "")), str(decision.shown.get("grade", ""))
    grades = config.grades.scales.get(scale, ())
    return (scale, grades.index(grade), grade) if grade in grades else None


def _one_sheet(connection: Connection, stamps: Stamps, have: Mapping[PartKey, Dossier]) -> set[frozenset[PieceName]]:
    """Pairs of pieces that may be one sheet scanned twice: by their match, or stated so. Statement over match."""
    names = {key: piece_name(d) for key, d in have.items()}
    found = {
        frozenset((names[m.a], names[m.b]))
        for m in pairs.matches_among(connection, stamps.match, sorted(have))
        if m.relation == "same_piece" and names[m.a] != names[m.b]
    }
    here = set(names.values())
    for s in relations.standing(connection):
        pair = frozenset(((s.consignment, *s.piece), (s.consignment, *s.other)))
        if pair <= here and s.relation == "re_scan":
            found.add(pair)
        elif pair <= here and s.relation == "duplicate":
            found.discard(pair)
    return found


# ---- offers ---------------------------------------------------------------------------------------------------------


def offers_on(connection: Connection, keys: Iterable[PartKey]) -> list[Decision]:
    """The offers that hold for any of these parts: of each part the newest that stands, the oldest first."""
    wanted, held = set(keys), {}
    for d in standing(decisions.decisions_of(connection, ("offer",))):
        held.update(dict.fromkeys(d.parts, d))
    return sorted({d.id: d for k, d in held.items() if k in wanted}.values(), key=lambda d: d.id)


def offer(
    home: Home, config: Config, who: str, parts: Sequence[PartKey], name: str, *, all_the_same: bool = False
) -> int:
    """Put these parts' pieces into one offer; returns the decision's number. Raises RulingRefused when it makes no
    sense, or would split a family or a set and ``all_the_same`` was not said: the words name what is left out."""
    who, name = named(who), tidy(name, LONGEST_TITLE)
    if not parts or not name:
        raise RulingRefused("Tick the pieces of the offer, and say what it is called.")
    with one_at_a_time, home.database.write() as connection:
        stamps = desk.shown_stamps(connection)
        have = dossiers_of(connection, stamps, parts) if stamps else {}
        if stamps is None or set(parts) - set(have):
            raise RulingRefused("A piece of it is no longer there. Look again.")
        owners = {d.scan.consignment for d in have.values()}
        if len(owners) > 1 or any(d.scan.is_reference for d in have.values()):
            raise RulingRefused(
                "An offer is of one consignment's property: pieces of another, or references, are not in it."
            )
        splits = _splits(connection, stamps, have, config)
        if splits and not all_the_same:
            raise RulingRefused(
                f"Nothing was written. This offer would split what belongs together: {'; '.join(splits)}. Tick those "
                "too, or say that it is to be offered so all the same."
            )
        shown = {"text": name, "splits": splits, "families": sorted(set(families.codes_of(connection, parts).values()))}
        return decisions.add_decision(connection, now(), who, "offer", tuple(dict.fromkeys(parts)), shown)


def _view(connection: Connection, stamps: Stamps, decision: Decision) -> OfferView:
    have = dossiers_of(connection, stamps, decision.parts)
    return OfferView(decision, tuple(sorted({d.title for d in have.values()})), tuple(decision.shown.get("splits", ())))


def _splits(connection: Connection, stamps: Stamps, have: Mapping[PartKey, Dossier], config: Config) -> list[str]:
    """What an offer leaves out of each family and numbered set that it touches, in words. Spare copies of a printing
    may be offered by themselves, and one's own offer need not hold them."""
    offered = {piece_name(d) for d in have.values()}
    owners = {piece[0] for piece in offered}
    said = []
    codes = set(families.codes_of(connection, have).values())
    for family in families.families_by_code(connection, codes):
        of_all = dossiers_of(connection, stamps, [m.key for m in family.members])
        all_of_it = {k: d for k, d in of_all.items() if d.scan.consignment in owners and not d.scan.is_reference}
        told = printings(_copies(all_of_it, config), _one_sheet(connection, stamps, all_of_it), PRINTED)
        spare = {p for printing in told for p in _spares(printing)}
        if offered & {piece_name(d) for d in all_of_it.values()} <= spare:
            continue  # a duplicate by itself
        left = {piece_name(d): d for d in all_of_it.values() if piece_name(d) not in offered | spare}
        if left:
            said.append(f"of {family.title or 'this design'} {_named(left.values(), config)} would stay behind")
    for numbered in several.all_sets(connection):
        said += _split_set(connection, stamps, numbered, offered)
    return said


def _split_set(connection: Connection, stamps: Stamps, numbered: NumberedSet, offered: set[PieceName]) -> list[str]:
    cards = dossiers_of(connection, stamps, [key for key, _ in numbered.numbers])
    names = {key: piece_name(d) for key, d in cards.items()}
    inside, left = set(names.values()) & offered, [k for k, p in names.items() if p not in offered]
    if not inside or not left:
        return []
    numbers = ", ".join(str(n) for k, n in numbered.numbers if k in left)
    return [f"number {numbers} of a numbered set would stay behind"]


def _named(left: Iterable[Dossier], config: Config) -> str:
    kinds = config.kinds.kinds
    words = [f"{d.title} ({kinds[d.kind].words})" for d in left]
    return ", ".join(words[:6]) + (f" and {len(words) - 6} more" if len(words) > 6 else "")
