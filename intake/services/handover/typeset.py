"""Papers as PDF: blocks of plain values, set with the house's template. No text of theirs is ever run."""

import json
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from typing import Any

from intake.config.load import Config
from intake.errors import ConfigError
from intake.imaging.font import font_folder, holds
from intake.model import Box
from intake.services.handover.files import whole_file
from intake.services.handover.record import ImageRecord
from intake.services.handover.setting import CannotSet, set_pdf
from intake.services.handover.sound import sound
from intake.services.home import Home, picture_path
from intake.services.upright import Upright

Block = dict[str, Any]
Cell = str | dict[str, Any]
_LONGEST, _RUN = 600, 24
_ROWS = 200
# What Typst's own fonts have letters of, and signs below this; Japanese, Chinese and Korean ones are asked of theirs.
_SCRIPTS, _CJK = frozenset(("LATIN", "GREEK", "CYRILLIC", "HEBREW", "ARABIC", "COMBINING")), "\u2e80"
_ROUND, _LEAST = 0.2, 0.01  # round a crop: a share of it, and of the picture


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper: its title, what it is about (in the head of every page), and its blocks in order."""

    title: str
    subject: str
    blocks: tuple[Block, ...]


def volumes(paper: Paper, most: int = _ROWS) -> list[Paper]:
    """The paper in parts of at most ``most`` rows of its tables: setting all of a large one would take gigabytes.

    The cautions that it begins with stand in every part.
    """
    parts: list[list[Block]] = [[]]
    opening = list(takewhile(lambda b: b["kind"] == "caution", paper.blocks))
    left = most
    for block in paper.blocks:
        if block["kind"] != "table":
            parts[-1].append(block)
            continue
        waiting = block["rows"]
        while waiting:
            if not left:
                parts.append([*opening])
                left = most
            parts[-1].append({**block, "rows": waiting[:left]})
            waiting, left = waiting[left:], max(0, left - len(waiting))
    if len(parts) == 1:
        return [paper]
    titles = (f"{paper.title} (part {n} of {len(parts)})" for n in range(1, len(parts) + 1))
    return [Paper(title, paper.subject, tuple(blocks)) for title, blocks in zip(titles, parts, strict=True)]


class Typesetter:
    """Sets papers of one size. ``made_at`` is the stated time in the foot of every page."""

    def __init__(self, home: Home, config: Config, paper: str, made_at: str, render_stamp: str) -> None:
        self._root, self._config, self._paper, self._made_at = home.folder, config, paper, made_at
        self._stamp = render_stamp

    def write(self, folder: Path, name: str, paper: Paper) -> int:
        """Write a paper as ``name.pdf``, or ``name-1.pdf`` and so on where it is a large one; returns how many.

        Raises ConfigError when the template cannot be set, HomeError when it cannot be written.
        """
        parts = volumes(paper)
        for number, part in enumerate(parts, start=1):
            self._write(folder / (f"{name}-{number}.pdf" if len(parts) > 1 else f"{name}.pdf"), part)
        return len(parts)

    def _write(self, to: Path, paper: Paper) -> None:
        data: dict[str, Any] = {
            "title": paper.title, "subject": paper.subject, "house": self._config.papers.house, "paper": self._paper,
            "made_at": self._made_at[:16].replace("T", " ") + " UTC", "blocks": paper.blocks,
        }  # fmt: skip
        printed = _printable(data)
        printed["boxes"] = len(unset(_texts(printed)))
        text = json.dumps(printed, ensure_ascii=False)
        try:
            folder = font_folder()
            pdf = set_pdf(self._config.paper_template, self._root / "derivatives", text, folder, self._made_at)
        except CannotSet as error:
            raise ConfigError(f"config/papers.typ: cannot be set ({error}).") from error
        with whole_file(to) as file:
            file.write(pdf)

    def picture(self, image: ImageRecord, mm: tuple[float, float], name: str = "thumb") -> Cell:
        """One picture set upright in a frame of so many millimetres; words where it is not there."""
        path = picture_path(self._root, image.key, name, self._stamp)
        if not path.is_file():
            return "no picture"
        source = "/" + path.relative_to(self._root / "derivatives").as_posix()
        return {"src": source, "turn": image.turn.rotation, "mirrored": image.turn.mirrored, "mm": list(mm)}

    def crop(self, image: ImageRecord, box: Box, frame: tuple[float, float]) -> Cell:
        """A place of a picture (stored pixels) with a little round it, upright, in a frame of so many millimetres."""
        if not image.box.width or not image.box.height:
            return "no picture"
        upright = Upright(image.box, image.turn.rotation, image.turn.mirrored)
        left, top, wide, high = upright.place(box)
        x0, y0 = max(0.0, left - _ROUND * wide - _LEAST), max(0.0, top - _ROUND * high - _LEAST)
        x1, y1 = min(1.0, left + (1 + _ROUND) * wide + _LEAST), min(1.0, top + (1 + _ROUND) * high + _LEAST)
        width, height = upright.size
        if x1 <= x0 or y1 <= y0:
            return "no picture"
        scale = min(frame[0] / ((x1 - x0) * width), frame[1] / ((y1 - y0) * height))
        whole = self.picture(image, (round(width * scale, 2), round(height * scale, 2)), "working")
        return {**whole, "crop": [x0, y0, x1 - x0, y1 - y0]} if isinstance(whole, dict) else whole


def text(*lines: str) -> Block:
    """Paragraphs."""
    return {"kind": "text", "lines": list(lines)}


def heading(words: str) -> Block:
    """The heading of what follows."""
    return {"kind": "heading", "text": words}


def caution(title: str, *lines: str) -> Block:
    """What may hurt, in a frame."""
    return {"kind": "caution", "title": title, "lines": list(lines)}


def facts(*rows: tuple[str, str]) -> Block:
    """Names and values, one a line."""
    return {"kind": "facts", "rows": [list(r) for r in rows]}


def rows(columns: Sequence[tuple[str, float]], lines: Iterable[Sequence[Cell]]) -> Block:
    """A table whose head stands on every page; each column with its share of the width."""
    made = [list(line) for line in lines] or [["none", *[""] * (len(columns) - 1)]]
    return {"kind": "table", "columns": [c for c, _ in columns], "widths": [w for _, w in columns], "rows": made}


def signatures(*roles: str) -> Block:
    """Lines to sign on."""
    return {"kind": "sign", "roles": list(roles)}


def label(code_svg: str, big: str, small: str) -> Block:
    """A label to cut out: a code, and the same in letters."""
    return {"kind": "label", "code": code_svg, "big": big, "small": small}


def new_page() -> Block:
    """What follows begins on a page of its own."""
    return {"kind": "newpage"}


def unset(texts: Iterable[str]) -> set[str]:
    """The letters for which no font of the papers has a form: boxes stand in their place."""
    return {c for c in set().union(*texts) if not _can_be_set(c)}


def _can_be_set(c: str) -> bool:
    sort = unicodedata.category(c)
    if c.isascii() or sort[0] in "ZC" or (sort[0] in "PS" and c < _CJK):
        return True
    return unicodedata.name(c, "").partition(" ")[0] in _SCRIPTS or holds(c)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for v in value.values():
            yield from _texts(v)
    elif isinstance(value, list):
        for v in value:
            yield from _texts(v)


def _printable(value: Any, longest: int = _LONGEST) -> Any:
    """Every text sound, bounded, and with places where a long run of letters may be broken."""
    if isinstance(value, str):
        whole = sound(value)
        cut = whole if len(whole) <= longest else whole[:longest] + " …"
        return " ".join("\u200b".join(w[i : i + _RUN] for i in range(0, len(w), _RUN)) for w in cut.split(" "))
    if isinstance(value, dict):
        plain = {k: v for k, v in value.items() if k in ("code", "src")}  # made by us, and no text
        return {k: _printable(v) for k, v in value.items() if k not in plain} | plain
    return [_printable(v) for v in value] if isinstance(value, list | tuple) else value
