"""How values are said on a page. Names of files and text read from pictures may hold anything: they are made plain here
and escaped by the templates.
"""

import unicodedata
from datetime import datetime

from intake.kin import Decision
from intake.model import Box, PartKey

_LONGEST = 400
_RELATIONS = {"same_design": "same design", "shared_element": "shared element", "same_piece": "the same piece"}
_READERS = {"ppocr": "reader 1", "tesseract": "reader 2"}
_LOOKS = {"x1": "", "soft": "softened"}
_ACCEPTED = {"auto": "readers agree", "person": "accepted", "no": "open"}


def plain(text: object, longest: int = _LONGEST) -> str:
    """Text of unknown origin: control and direction characters shown as a dot, and cut when it is very long."""
    raw = str(text)
    shown = "".join(
        "·" if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp") else c for c in raw[:longest]
    )
    return shown if len(raw) <= longest else f"{shown} … ({len(raw):,} characters)"


def moment(text: str | None) -> str:
    """A time of the ledger: 25 Nov 2026, 09:41 UTC."""
    if not text:
        return ""
    at = datetime.fromisoformat(text)
    return f"{at.day} {at:%b %Y, %H:%M} UTC"


def day(text: str) -> str:
    """A day of the ledger: 25 Nov 2026."""
    at = datetime.fromisoformat(text)
    return f"{at.day} {at:%b %Y}"


def signed(weight: float) -> str:
    """A weight in a sum, with its sign."""
    return f"{weight:+.1f}".replace("-", "−") if abs(weight) >= 0.05 else "0.0"


def share(probability: float) -> str:
    """A probability; one that is not certain never reads as 1."""
    for digits in (2, 3, 4):
        text = f"{probability:.{digits}f}"
        if float(text) < 1:
            return text
    return "over 0.9999"


def relation(name: str) -> str:
    """What joins two scans."""
    return _RELATIONS.get(name, name)


def reader(name: str) -> str:
    """Which of the readers of text said something, and how it looked: "ppocr x1.3 soft" is "reader 1, letters drawn
    1.3 times as wide, softened"."""
    engine, *looks = plain(name, 60).split() or ["a reader"]
    said = [_LOOKS.get(x, f"letters drawn {x[1:]} times as wide" if x.startswith("x") else x) for x in looks]
    return ", ".join([_READERS.get(engine, engine), *(x for x in said if x)])


def accepted(name: str) -> str:
    """Whether a reading may be relied on."""
    return _ACCEPTED.get(name, name)


def spaced(name: str) -> str:
    """A snake_case name as words."""
    return name.replace("_", " ")


def years(first: int | None, last: int | None) -> str:
    """Not before, usual until."""
    if first and last:
        return str(first) if first == last else f"{first}–{last}"
    return f"not before {first}" if first else f"usual until {last}" if last else ""


def part_name(key: PartKey) -> str:
    """A part in an address."""
    return f"{key.digest}-{key.part}"


def reading_name(key: PartKey, kind: str, box: Box, seen: str) -> str:
    """A reading in a form: part, kind, place, and the digest of what was shown."""
    return ".".join((part_name(key), kind, *map(str, box), seen))


def several(n: int, one: str, more: str) -> str:
    """1 piece, 2 pieces."""
    return f"{n:,} {one if n == 1 else more}"


def evidence_of(decision: Decision) -> list[tuple[str, list[tuple[float, str]]]]:
    """What lay before the person, as the ledger kept it: of each match, or of the piece, what it is and its sum."""
    shown = decision.shown
    places = {str(m[0]): str(m[1]) for m in shown.get("members", ())}
    made = []
    for match in shown.get("matches", ()):
        sides = " with ".join(places.get(str(match[side]), "a piece") for side in ("a", "b"))
        title = f"{sides}: {relation(str(match['relation']))}, {share(float(match['probability']))}"
        made.append((title, [(float(weight), str(words)) for _, words, weight in match["evidence"]]))
    if shown.get("evidence"):
        made.append(("the piece by itself", [(float(weight), str(words)) for _, words, weight in shown["evidence"]]))
    return made
