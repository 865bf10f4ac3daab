"""The font for Japanese, Chinese and Korean letters: Noto Sans CJK JP, in a wheel that holds it alone (OFL 1.1)."""

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from PIL import ImageFont

from intake.errors import SetupError

_NONE = "\U000f0000"  # for private use: no font has it


@cache
def font_folder() -> Path:
    """Where it lies.

    Raises SetupError where it is not installed.
    """
    found = find_spec("noto_cjk_sans_jp_regular")
    if found is None or not found.submodule_search_locations:
        raise SetupError("noto-cjk-sans-jp-regular, the font of papers, is not installed. Type: kinfold check-setup")
    return Path(found.submodule_search_locations[0])


@cache
def _font() -> tuple[ImageFont.FreeTypeFont, bytes]:
    font = ImageFont.truetype(str(font_folder() / "NotoSansCJKjp-Regular.otf"), 16)
    return font, bytes(font.getmask(_NONE))


@cache
def holds(letter: str) -> bool:
    """Does the font have this letter, or would a box stand for it?"""
    font, box = _font()
    return bytes(font.getmask(letter)) != box
