"""Texts of several readers: cleaned, compared without spaces, and their spaces restored."""

import unicodedata
from difflib import SequenceMatcher

from intake.model import ReaderSaid

_LONGEST = 400
_COMPARED = 200
_NARROW = {0xFF01 + i: 0x21 + i for i in range(94)}  # full-width signs (Unicode, FF01 to FF5E) to those of ASCII
_ALIKE = str.maketrans({"º": "°", "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-"})
TURNED = "turned"  # the name under which a reading says what a line on end says the other way round
_RIGHT = {"ppocr": 0.93, "tesseract": 0.78}  # share of hard line crops read exactly, as measured


def clean(text: str) -> str:
    """Return ``text`` in NFC without control, format and private characters, 400 characters at most.

    Spaces are collapsed, and full-width signs (PP-OCR's comma at times) made those of ASCII.

    Direction marks and the like are dropped, so that no text can reorder or hide what stands beside it.
    """
    kept = (" " if c.isspace() else c for c in unicodedata.normalize("NFC", text[: _LONGEST * 4]).translate(_NARROW))
    return " ".join("".join(c for c in kept if unicodedata.category(c)[0] != "C").split())[:_LONGEST].rstrip()


def squeeze(text: str) -> str:
    """Return ``text`` without spaces, case and accents, and with signs that look the same made one.

    Readings are compared so: PP-OCR loses spaces of Latin text, and tesseract's English data has no accents.
    """
    bare = unicodedata.normalize("NFD", "".join(text.split()).casefold().translate(_ALIKE))
    return "".join(c for c in bare if unicodedata.category(c) != "Mn")


def edit_distance(a: str, b: str) -> int:
    """Return the Levenshtein distance (insert, delete, replace cost 1) of the first 200 characters of each."""
    a, b = a[:_COMPARED], b[:_COMPARED]
    row = list(range(len(b) + 1))
    for i, left in enumerate(a, start=1):
        above, row[0] = row[0], i
        for j, right in enumerate(b, start=1):
            above, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, above + (left != right))
    return row[-1]


def spaced_like(text: str, other: str) -> str:
    """Return ``text`` with a space wherever ``other`` has one between the same two characters."""
    bare = "".join(text.split())
    marked = "".join(other.split())
    gaps = {len("".join(other[:i].split())) for i, c in enumerate(other) if c == " "}
    own = {len("".join(text[:i].split())) for i, c in enumerate(text) if c == " "}
    blocks = SequenceMatcher(None, marked.casefold(), bare.casefold(), autojunk=False).get_matching_blocks()
    own |= {b.b + at - b.a for b in blocks for at in gaps if b.a < at < b.a + b.size}
    return "".join(f" {c}" if i in own and i else c for i, c in enumerate(bare))


def engine_of(said: ReaderSaid) -> str:
    """Return the engine behind a reading: its name without how it was set."""
    return said.reader.split(" ")[0]


def weight_of(said: ReaderSaid) -> float:
    """Return how much a reading counts: its confidence, by how often its engine is right on small lines."""
    return said.confidence * _RIGHT.get(engine_of(said), 0.9)


def agree(readings: tuple[ReaderSaid, ...]) -> bool:
    """Tell whether two different engines read the same, spaces and case aside (measured: .988 of these are right)."""
    heard = [(engine_of(r), squeeze(r.text)) for r in readings if r.text]
    return any(a[1] == b[1] and a[0] != b[0] for i, a in enumerate(heard) for b in heard[:i])


def is_settled(readings: tuple[ReaderSaid, ...], sure_letter: float) -> bool:
    """Tell whether no further reader need be asked: two engines agree, or one with itself, sure of every letter."""
    sure = [squeeze(r.text) for r in readings if r.text and r.least >= sure_letter]
    return agree(readings) or len(set(sure)) < len(sure)


def plausibility(said: ReaderSaid) -> float:
    """Return how much a reading looks like text read the right way, 0 to 1: sure, long enough, and of one script.

    Text that is turned or mirrored reads as a short mixture of scripts and signs.
    """
    bare = "".join(said.text.split())
    if not bare:
        return 0.0
    latin = sum((c.isascii() and c.isalnum()) or "À" <= c <= "ɏ" or c in ".,&'-/:;!?\"()" for c in bare)
    wide = sum("⺀" <= c <= "鿿" or "가" <= c <= "힣" for c in bare)
    return said.confidence**4 * max(latin, wide) / len(bare) * min(1.0, len(bare) / 6)
