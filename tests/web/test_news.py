"""A box received later, in another consignment, that matches a settled family: news in the queue, in its own words."""

import re

import pytest
from sqlalchemy import update

from intake.config.load import Config
from intake.model import PartKey
from intake.services import review, views
from intake.services.relate import regroup
from intake.services.shown import FamilyView
from intake.store import pairs
from intake.store.schema import decision
from tests.made import SETTINGS, STAMPS, Written, classified, match, received
from tests.web.hand import Client, Made, _write, painted


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _said(text: str) -> str:
    """A page's words, without those that explain a word and what marks them up."""
    return re.sub(r"<[^>]+>", "", re.sub(r'<span role="tooltip".*?</span>', "", text))


def _view(made: Made, key: PartKey) -> FamilyView:
    view = views.family_view(made.home, SETTINGS, views.family_holding(made.home, [key]))
    assert view is not None
    return view


def test_a_box_of_next_month_is_news_of_a_family_that_was_settled(made: Made, config: Config) -> None:
    before = _view(made, made.art)
    keys = [m.key for m in before.members]
    review.decide(made.home, config, "Ida", "confirm", keys, {"families": [before.code]})
    with made.home.database.write() as connection:
        connection.execute(update(decision).values(made_at="2026-05-11T10:00:00+00:00"))
    regroup(made.home, config, STAMPS)
    assert _view(made, made.art).status == "confirmed"
    assert before.code not in views.queue_order(made.home)

    written = Written(made.home)
    late = received("31/0007.tif", consignment="2026-077")
    written.consignment(late, code="2026-077")
    film = 255 - painted(1)[:, ::-1]
    _write(written, late, film, "film_negative", {"polarity": "negative"}, (), ())
    key = PartKey(late.digest, 1)
    found = [match(k, key) for k in (made.art, made.proof, made.sheet)]
    with made.home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
    regroup(made.home, config, STAMPS)

    after = _view(made, made.art)
    assert {m.key for m in after.members} == {*keys, key} and after.status == "suggested"
    assert after.code in views.queue_order(made.home)
    (news,) = [r for r in after.reasons if r.name == "news"]
    assert news.words == "news: box 31 holds a copy negative, of a design confirmed in May 2026"
    assert news.weight == config.queue.reasons["news"].weight
    client = Client(made.home, config)
    for path in ("/families", f"/families/{after.code}"):
        assert news.words in _said(client.get(path).text)

    # what was ruled holds: no ruling is lost, and once confirmed with the new piece it is settled again
    review.decide(made.home, config, "Ida", "confirm", [*keys, key], {"families": [after.code]})
    assert _view(made, made.art).status == "confirmed" and after.code not in views.queue_order(made.home)


def test_a_box_that_matches_nothing_settled_is_no_news(made: Made, config: Config) -> None:
    before = _view(made, made.art)
    review.decide(made.home, config, "Ida", "confirm", [m.key for m in before.members], {"families": [before.code]})
    written = Written(made.home)
    late = received("31/0007.tif", consignment="2026-077")
    written.consignment(late, code="2026-077")
    written.looked(late, (classified("film_negative"),))
    regroup(made.home, config, STAMPS)
    assert before.code not in views.queue_order(made.home)
