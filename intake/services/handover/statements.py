"""What the ledger says of one piece, statement by statement, each with its source."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from intake.config.formats import Format
from intake.kin import Decision
from intake.model import Box, Mark, Parsed, PartKey
from intake.services.condition import examined_of
from intake.services.dossiers import Dossier
from intake.services.folds import NONE_SEEN, pattern
from intake.services.handover.record import PROGRAM, MarkRecord, Measurement, Source, Stated, share
from intake.services.lettering import TITLED_KINDS, display_lines
from intake.services.orient import Orientation
from intake.stages.dating import Bound


def ppi_of(d: Dossier) -> float | None:
    """The resolution of a picture, where its size was taken from it."""
    trusted = d.measured is not None and d.measured.size_source in ("resolution tag", "ruler in the frame")
    return d.checked.ppi if d.checked and trusted else None


def first_of(of: Sequence[Dossier]) -> Dossier:
    """The picture that says what a piece is: its front."""
    return min(of, key=_front_first)


def _front_first(d: Dossier) -> tuple[bool, str, int]:
    return (d.scan.side != "recto", d.scan.path, d.key.part)


def accepted_alone(d: Dossier) -> Dossier:
    """The part with the marks that a person accepted, and no other."""
    stand = tuple(m for m in d.parsed.marks if m.accepted == "person") if d.parsed else ()
    return replace(d, parsed=Parsed(stand))


def marks_of(of: Sequence[Dossier]) -> Iterable[MarkRecord]:
    """The marks that a person accepted, each with the place where it stands."""
    for d in of:
        for ruled in d.readings:
            mark, by = ruled.mark, ruled.by
            if by and not ruled.rejected and mark.accepted == "person":
                source = Source(by.who, by.made_at, place_words(d.scan.path, d.key, mark))
                yield MarkRecord(
                    mark.kind, mark.text, mark.value, mark.country, d.scan.path, d.key, mark.box, by.id, source
                )


def place_words(path: str, key: PartKey, mark: Mark) -> str:
    """Where a mark stands: file, part, and its rectangle in stored pixels."""
    return f"{path}, picture {key.part}, at {' '.join(map(str, mark.box))} px"


def rests_of(bound: Bound, paths: Mapping[PartKey, str]) -> str:
    """The mark that a bound of a date rests on, and why."""
    mark = bound.at.mark
    kind, where = mark.kind.replace("_", " "), place_words(paths[bound.at.key], bound.at.key, mark)
    return f"{kind} {mark.value} ({where}): {bound.why}"


def by(ruling: Decision) -> Source:
    """Whoever made a ruling, when, and its number."""
    return Source(ruling.who, ruling.made_at, f"ruling {ruling.id}")


def kind_of(d: Dossier, called: str) -> Stated:
    """What it is: as a person ruled, else as told from the scan. ``called`` is what the kind is called."""
    if d.ruled.role:
        return Stated(called, "stated", by(d.ruled.role))
    told = d.classified
    if d.kind == "unknown":
        return Stated(called, "open", Source(PROGRAM, on="looked at" if told else "not looked at"))
    on = f"told with {share(told.kind_confidence)}" if told else "not looked at"
    return Stated(called, "suggested", Source(PROGRAM, on=on))


def remarks_of(of: Sequence[Dossier]) -> Iterable[Stated]:
    """What a person ruled of the piece beside all that: that it is a reproduction, and why."""
    for d in of:
        if ruling := d.ruled.reproduction:
            yield Stated(f"a reproduction: {ruling.shown.get('text', '')}", "stated", by(ruling))


def materials_of(said: Decision | None) -> Stated | None:
    """What a person said that the piece is made of, with how sure they were."""
    if said is None:
        return None
    return Stated(str(said.shown.get("text", "")), str(said.shown.get("as", "")), by(said))


def measured_of(d: Dossier, taken: Decision | None) -> Iterable[Measurement]:
    """Width and height of the piece, as far as its size is known; ``taken`` is a person's measurement of it, if any."""
    m = d.measured
    if m is None:
        return
    what = "of the piece's picture, turned upright"
    for name, value in (("width", m.width_mm), ("height", m.height_mm)):
        if value is not None:
            source = by(taken) if taken and m.size_source == "person" else Source(PROGRAM, on=d.scan.path)
            yield Measurement(f"{name} {what}", round(value, 1), m.size_source, source)


def format_of(d: Dossier, known: Mapping[str, Format]) -> Stated | None:
    """The trade's format that its size fits, or several; as a person ruled, else as suggested."""
    m = d.measured
    names = (m.candidates or ((m.format,) if m.format else ())) if m else ()
    if m is None or not names:
        return None
    rows = [known[name] for name in names if name in known]
    words = " or ".join(f"{x.country} {x.name}" for x in rows) or " or ".join(names)
    if d.ruled.format:
        return Stated(words, "stated", by(d.ruled.format))
    sure = " or ".join(dict.fromkeys(f"{x.source}, {x.confidence}" for x in rows))
    on = f"{m.format_fit}; size by {m.size_source}; the format's own size by {sure or 'nothing'}: {d.scan.path}"
    return Stated(words, "suggested", Source(PROGRAM, on=on))


def inscribed_of(of: Sequence[Dossier]) -> Stated | None:
    """The title as it stands on a printed piece: its largest lettering, as read, a stroke where a line ends."""
    for d in sorted(of, key=_front_first):
        if d.kind in TITLED_KINDS and (lines := display_lines(d)):
            left, top = min(x.box.left for x in lines), min(x.box.top for x in lines)
            right = max(x.box.left + x.box.width for x in lines)
            box = Box(left, top, right - left, max(x.box.top + x.box.height for x in lines) - top)
            words = " / ".join(" ".join(x.text.split()) for x in lines)
            where = f"{d.scan.path}, picture {d.key.part}, at {' '.join(map(str, box))} px"
            how = f"the largest lettering, read with {share(min(x.confidence for x in lines))}"
            return Stated(words, "suggested", Source(PROGRAM, on=f"{how}; {where}"), (d.key, box))
    return None


def condition_of(of: Sequence[Dossier], turn: Orientation, called: Mapping[str, str]) -> Iterable[Stated]:
    """Folds seen; worn places as people ruled on them, else as suggested; grades, each with the name of its scale."""
    first = first_of(of)
    if first.folded and (words := pattern(first.folded, turn.rotation)):
        said = words if words.startswith(NONE_SEEN) else f"folds seen: {words}"
        yield Stated(said, "suggested", Source(PROGRAM, on=first.scan.path))
    for d in of:
        for p in d.worn.standing:
            words = called.get(p.sort, p.sort) + (f": {p.words}" if p.words else "")
            at = (d.key, p.box)
            where = f"{d.scan.path}, picture {d.key.part}, at {' '.join(map(str, p.box))} px"
            if p.by:
                yield Stated(
                    words, "confirmed", Source(p.by.who, p.by.made_at, f"{examined_of(p.by).says}; {where}"), at
                )
            else:
                yield Stated(words, "suggested", Source(PROGRAM, on=where), at)
        for g in d.worn.grades:
            grade = f"grade {g.shown.get('grade', '')} ({g.shown.get('scale', '')} scale)"
            yield Stated(grade, "stated", Source(g.who, g.made_at, examined_of(g).says))


def hazards_of(of: Sequence[Dossier]) -> Iterable[Stated]:
    """What may hurt, once each: as told, noted, or ruled."""
    seen: set[str] = set()
    for d in of:
        for f in d.findings:
            if f.severity == "hazard" and f.message not in seen:
                seen.add(f.message)
                by_person = f.code == "noted_hazard"
                yield Stated(
                    f.message, "stated" if by_person else "suggested", Source("a person" if by_person else PROGRAM)
                )
        if d.hazard.by and d.hazard.base not in seen:
            seen.add(d.hazard.base)
            yield Stated(f"base: {d.hazard.base}", "stated", Source(d.hazard.by))
