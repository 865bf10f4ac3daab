"""A person's one measurement of a piece: the scale of its scan, and of those scanned as it was in the same box."""

from collections.abc import Sequence

from intake.config.load import Config
from intake.model import Box, Measured, PartKey
from intake.services.dossiers import Dossier, dossiers_of_scans
from intake.services.home import Home, now
from intake.services.review import RulingRefused, follow_near, named, one_at_a_time, regroup_all
from intake.stages.measure import Scale, size_px, sized
from intake.store import decisions, desk, scans
from intake.store.codec import to_text

_LEAST_MM, _MOST_MM = 10.0, 10_000.0


def note_measure(home: Home, config: Config, who: str, key: PartKey, long_mm: float, whole_box: bool) -> int:
    """Note that the longer edge of the piece on this part is ``long_mm``; returns the decision's number.

    With ``whole_box`` the scale holds for all of its box that came from the same scanner with the same word on its
    resolution, where that word was not trusted. The decision keeps what size and format every part got by it; a scan
    that comes later gets none until somebody measures again. Raises RulingRefused when it makes no sense.
    """
    who = named(who)
    if not _LEAST_MM <= long_mm <= _MOST_MM:
        raise RulingRefused(f"Give the length of the longer edge in mm, between {_LEAST_MM:g} and {_MOST_MM:g}.")
    with one_at_a_time:
        with home.database.write() as connection:
            stamps = desk.shown_stamps(connection)
            received = scans.scans_of(connection, [key.digest])
            if stamps is None or not received:
                raise RulingRefused("There is no such piece.")
            box = [s for s in scans.all_scans(connection, received[0].consignment) if s.box == received[0].box]
            inside = dossiers_of_scans(connection, stamps, box)
            own = next((d for d in inside if d.key == key), None)
            if own is None or own.rendered is None or own.checked is None:
                raise RulingRefused("This scan was not looked at yet: measure the piece after the next run.")
            long_px = max(size_px(own.rendered.box, own.rendered.outline))
            scale = Scale(long_mm / long_px, config.measure.person_mm / long_mm, "person")
            chosen = [d for d in inside if d.key == key or (whole_box and _scanned_alike(d, own))]
            sizes = {d.key: _sized(d, scale, config) for d in chosen}
            of = f"{own.title}, and {len(sizes) - 1} scanned alike" if len(sizes) > 1 else own.title
            shown = {
                "of": of,
                "long_mm": long_mm,
                "mm_per_px": scale.mm_per_px,
                "sizes": {f"{k.digest}-{k.part}": to_text(m) for k, m in sizes.items()},
            }
            number = decisions.add_decision(connection, now(), who, "note_measure", tuple(sizes), shown)
            is_followed = follow_near(connection, config, tuple(sizes))
        if not is_followed:
            regroup_all(home, config)
    return number


def _scanned_alike(d: Dossier, own: Dossier) -> bool:
    """Was it scanned as the measured one was, as far as its file says, with a resolution that nobody can trust?"""
    a, b = d.checked, own.checked
    if a is None or b is None or d.rendered is None or a.ppi is not None:
        return False
    return (a.scanner, a.ppi_words, a.file_source) == (b.scanner, b.ppi_words, b.file_source)


def _sized(d: Dossier, scale: Scale, config: Config) -> Measured:
    box, outline = (d.rendered.box, d.rendered.outline) if d.rendered else (Box(0, 0, 1, 1), ())
    turn = d.reading.rotation if d.reading and d.reading.orientation_confidence else None
    return sized(box, outline, scale, d.kind, turn, config.formats, config.measure)


def in_mm(text: str) -> float:
    """The number that a person typed, with comma or point. Raises RulingRefused when it is none."""
    digits: Sequence[str] = text.strip().replace(",", ".").split(".")
    if not (1 <= len(digits) <= 2 and all(p.isascii() and p.isdigit() and len(p) <= 5 for p in digits)):
        raise RulingRefused("Give the length in mm, in figures.")
    return float(".".join(digits))
