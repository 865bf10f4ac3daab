"""Words of the trade are explained once a page, to pointer and keyboard, and the table has those that screens use."""

import re
from html import unescape
from pathlib import Path

from intake.config.load import Config
from intake.services import views
from intake.services.correcting import KINDS
from intake.web import app
from intake.web.terms import Explained
from tests.web.hand import Client, Made

TEMPLATES = Path(app.__file__).parent / "templates"


def test_every_word_that_is_explained_stands_on_a_screen(config: Config) -> None:
    named = {
        w.casefold() for f in TEMPLATES.glob("*.html") for w in re.findall(r'explained\("([^"]+)"\)', f.read_text())
    }
    kinds = {row.words for row in config.kinds.kinds.values()} | {k.replace("_", " ") for k in KINDS}
    assert set(config.terms.words) <= named | kinds | {"verso"}  # the side of a picture, named by its value
    assert named <= {*config.terms.words, *config.terms.within}, "a template explains a word that has no row"


def test_a_page_explains_a_word_once_and_names_it_to_a_screen_reader(
    client: Client, made: Made, config: Config
) -> None:
    text = client.get(f"/families/{views.family_holding(made.home, [made.art])}").text
    words = re.findall(r'<button type="button" class="term" aria-describedby="([^"]+)">([^<]+)</button>', text)
    assert len({word for _, word in words}) == len(words) > 3 and "copy negative" in {word for _, word in words}
    for name, word in words:
        (said,) = re.findall(rf'<span role="tooltip" class="meaning" id="{name}">([^<]+)</span>', text)
        assert unescape(said) == {**config.terms.within, **config.terms.words}[word.casefold()]


def test_a_word_from_outside_stays_text() -> None:
    hostile = "<b onmouseover=x>"
    said = Explained({hostile: "nothing at all <i>"})
    assert "<b " not in said(hostile) and "<i>" not in said(hostile) and "<b " not in Explained({})(hostile)


def test_words_are_explained_in_the_middle_of_a_sentence_once_and_whole() -> None:
    said = Explained({}, {"re-issue": "brought out again", "safety film": "does not burn so"})
    text = said.within("A re-issue <b>bears</b> its own; Re-Issues, a re-issue and SAFETY FILM")
    assert text.count('class="meaning"') == 2 and "brought out again" in text and ">SAFETY FILM</button>" in text
    assert "&lt;b&gt;bears&lt;/b&gt;" in text and "; Re-Issues, a re-issue and" in text
    assert Explained({}).within("<i>plain</i>") == "&lt;i&gt;plain&lt;/i&gt;"
