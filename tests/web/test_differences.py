"""What differs on the family page: every region with its crops, its certainty and one jump; hostile text stays text."""

from intake.config.load import Config
from intake.kin import Difference, Differences
from intake.model import Box
from intake.services import views
from intake.services.judging import Judged, by_making
from intake.stages.order import Before
from intake.store import differences, families
from tests.web.hand import HOSTILE, Client, Made


def test_regions_are_listed_with_crops_certainty_and_one_jump(own: Made, config: Config) -> None:
    a, b = sorted((own.second_a, own.second_b))
    region = Difference("covered", Box(200, 300, 180, 90), Box(210, 310, 180, 90), 0.93, f"covered {HOSTILE}")
    report = Differences(a, b, (region,))
    with own.home.database.write() as connection:
        differences.record_differences(connection, [differences.Told(report, "stamp", 0.1)])
        code = families.codes_of(connection, [a])[a]
    text = Client(own.home, config).get(f"/families/{code}?a={a.digest}-1&b={b.digest}-1").text
    assert "What differs" in text and "1 region differs" in text and "0.93" in text
    assert HOSTILE not in text
    assert text.count("data-jump=") == 1
    assert "left=200&amp;top=300" in text and "left=210&amp;top=310" in text


def test_an_order_is_shown_with_its_reasons_and_nothing_is_supported(own: Made, config: Config) -> None:
    a, b = sorted((own.art, own.negative))
    on = "the second" if b == own.negative else "the first"
    region = Difference("covered", Box(200, 300, 180, 90), Box(210, 310, 180, 90), 0.93, f"covered on {on}")
    with own.home.database.write() as connection:
        differences.record_differences(connection, [differences.Told(Differences(a, b, (region,)), "stamp", 0.1)])
        code = families.codes_of(connection, [a])[a]
    text = Client(own.home, config).get(f"/families/{code}").text
    assert "Which came first" in text and "still shows on" in text
    assert "cannot say" in text and "supported" not in text


def test_pieces_stand_in_the_order_of_making_where_signs_tell_it(own: Made, config: Config) -> None:
    view = views.family_view(own.home, config, views.family_holding(own.home, [own.art]))
    assert view is not None
    before = [m.key for m in view.members]
    last, first = before[-1], before[0]
    by_key = {m.key: m for m in view.members}
    sure, unsure = (Before(last, first, is_sure, ()) for is_sure in (True, False))
    told, untold = (Judged(((by_key[last], by_key[first], b),), (), ()) for b in (sure, unsure))
    assert [m.key for m in by_making(view.members, told)] == [*before[1:], first]
    assert [m.key for m in by_making(view.members, untold)] == before
    text = Client(own.home, config).get(f"/families/{view.code}").text
    assert "By kind; nothing tells for sure which of them was made first." in text
