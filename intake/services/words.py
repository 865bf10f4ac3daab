"""Find pieces by what is written on them or said of them: words, codes, printers, places, sizes."""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Measured, PartKey, Stamps
from intake.ocr.text import squeeze
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.orient import orientations
from intake.services.shown import MemberView, member_view
from intake.services.whose import Whose
from intake.store import desk, families, ledger, pairs, scans, texts
from intake.store.codec import from_text
from intake.store.database import Connection

LONGEST = 200
_MOST_WORDS = 12
_AT_ONCE = 200
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4}
_SIZE = re.compile(
    r'(?<![\w/])([0-9]{1,4}(?:[.,][0-9]{1,2})?)\s*(")?\s*[x×]\s*([0-9]{1,4}(?:[.,][0-9]{1,2})?)\s*(mm|cm|inches|inch|in|")?(?!\w)',
    re.IGNORECASE,
)
_PHRASE = re.compile(r'"([^"]+)"|(\S+)')
_RUN = re.compile(r"[0-9A-Za-z]{2,}")


@dataclass(frozen=True, slots=True)
class Asked:
    """What was typed: words and phrases, all of which must stand on a piece or be said of it, and sizes in mm.

    Of sizes, one must fit; the same numbers without a unit are tried as mm, cm and inches.
    """

    words: tuple[str, ...]
    sizes: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class WordHit:
    """One part, and where each of the words stands: (word, where, text)."""

    member: MemberView
    where: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class WordsFound:
    """What was found and may be shown, at most so many as are shown at once; how many others, by consignment."""

    hits: tuple[WordHit, ...]
    more: int
    withheld: dict[str, int]


def asked(text: str) -> Asked:
    """Read what was typed: ``27 x 41 in``, ``"dust over calderay"``, ``64/118 litho``."""
    text = text[:LONGEST]
    sizes: list[tuple[float, float]] = []

    def size(found: re.Match[str]) -> str:
        a, b = (float(found[n].replace(",", ".")) for n in (1, 3))
        unit = (found[4] or found[2] or "").lower()
        sizes.extend((a * mm, b * mm) for mm in ([_MM[unit]] if unit else (1.0, 10.0, 25.4)))
        return " "

    rest = _SIZE.sub(size, text)
    words = [a or b for a, b in _PHRASE.findall(rest)]
    kept = tuple(dict.fromkeys(w for w in words if squeeze(w).strip('"')))
    return Asked(kept[:_MOST_WORDS], tuple(s for s in sizes if min(s) > 0))


def find_words(home: Home, config: Config, wanted: Asked, whose: Whose) -> WordsFound:
    """Every part on which all of it stands, in the order of boxes; a word may stand in a line, a mark, or a place."""
    most = config.looking.find_pieces
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        keys = _likely(connection, stamps, wanted, config.looking.find_size_share) if stamps else None
        if stamps is None or not keys:
            return WordsFound((), 0, {})
        listed = {
            (c.code, x.box, x.piece): x.description
            for c in scans.consignments(connection)
            for x in scans.listed_pieces(connection, c.code)
        }
        shown: list[tuple[Dossier, tuple[tuple[str, str, str], ...]]] = []
        more, withheld = 0, dict[str, int]()
        ordered = sorted(keys)
        for start in range(0, len(ordered), _AT_ONCE):
            have = dossiers_of(connection, stamps, ordered[start : start + _AT_ONCE], whose.laid_for)
            for d in sorted(have.values(), key=lambda d: (d.scan.consignment, d.title, d.key)):
                where = _where(d, wanted.words, listed.get((d.scan.consignment, d.scan.box, d.piece), ""), config)
                if where is None:
                    continue
                if not whose.may_show(d.scan.consignment):
                    withheld[d.scan.consignment] = withheld.get(d.scan.consignment, 0) + 1
                elif len(shown) < most:
                    shown.append((d, where))
                else:
                    more += 1
        near = {d.key: d for d, _ in shown}
        near |= dossiers_of(connection, stamps, families.members_with(connection, near))
        upright = orientations(near, pairs.matches_among(connection, stamps.match, sorted(near)))
        code = families.codes_of(connection, near)
    hits = [WordHit(member_view(d, upright[d.key], 0.0, code.get(d.key, "")), where) for d, where in shown]
    return WordsFound(tuple(hits), more, withheld)


def _likely(connection: Connection, stamps: Stamps, wanted: Asked, share: float) -> set[PartKey]:
    """Parts that may bear all of it: few enough to be read whole."""
    sets: list[set[PartKey]] = []
    if wanted.sizes:
        sets.append(_of_size(connection, stamps, wanted.sizes, share))
    for word in wanted.words:
        run = max(_RUN.findall(word), key=len, default="")
        if run:
            sets.append(texts.parts_with(connection, stamps.stages, ("read", "parse", "barcode", "classify"), run))
    return set.intersection(*sets) if sets else set()


def _of_size(
    connection: Connection, stamps: Stamps, sizes: Iterable[tuple[float, float]], share: float
) -> set[PartKey]:
    digests = sorted({s.digest for s in scans.all_scans(connection)})
    made = set()
    for key, payload in ledger.payloads_of(connection, digests, "measure", stamps.stages.get("measure", "")):
        m = from_text(Measured, payload)
        if m.width_mm and m.height_mm:
            own = sorted((m.width_mm, m.height_mm))
            fits = (all(abs(a - b) <= share * b for a, b in zip(own, sorted(s), strict=True)) for s in sizes)
            if any(fits):
                made.add(key)
    return made


def _where(
    d: Dossier, words: Iterable[str], description: str, config: Config
) -> tuple[tuple[str, str, str], ...] | None:
    """Where each word stands; None where one does not."""
    kind = config.kinds.kinds[d.kind].words if d.kind in config.kinds.kinds else d.kind
    texts_of: list[tuple[str, str]] = [
        *(
            (m.kind.replace("_", " "), t)
            for r in d.readings
            if not r.rejected
            for m in [r.mark]
            for t in (m.value, m.text)
        ),
        *(("a line", x.text) for x in (d.reading.lines if d.reading else ())),
        ("the owner's list", description),
        ("its place", d.title),
        ("its file", d.scan.path),
        ("its kind", kind),
    ]
    squeezed = [(where, text, squeeze(text)) for where, text in texts_of if text]
    found = [_first(word, squeezed) for word in words]
    return None if None in found else tuple(f for f in found if f)


def _first(word: str, texts_of: Iterable[tuple[str, str, str]]) -> tuple[str, str, str] | None:
    bare = squeeze(word)
    holds: Callable[[str], bool] = lambda text: bare in text  # noqa: E731
    return next(((word, where, text) for where, text, squeezed in texts_of if holds(squeezed)), None)
