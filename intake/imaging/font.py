"""The font for Japanese and Chinese letters, from the wheel of matplotlib-fontja: IPAexGothic (IPA Font License)."""

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageFont

from intake.errors import SetupError

_NONE = "\U000f0000"  # for private use: no font has it


@cache
def font_folder() -> Path:
    """Where it lies. Its package is never imported: that would draw in what it decorates.

    Raises SetupError where it is not installed.
    """
    found = find_spec("matplotlib_fontja")
    if found is None or not found.submodule_search_locations:
        raise SetupError("matplotlib-fontja, the font of papers, is not installed. Type: kinfold check-setup")
    return Path(found.submodule_search_locations[0]) / "fonts"


@cache
def _font() -> tuple[ImageFont.FreeTypeFont, bytes]:
    font = ImageFont.truetype(str(font_folder() / "ipaexg.ttf"), 16)
    return font, bytes(font.getmask(_NONE))


@cache
def holds(letter: str) -> bool:
    """Does the font have this letter, or would a box stand for it?"""
    font, box = _font()
    return bytes(font.getmask(letter)) != box
