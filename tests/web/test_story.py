"""A specialist's morning in a real browser: open, compare, blend, confirm, take one out, take back; then by keys."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from intake.services import views
from intake.store import families
from tests.web.browsing import IN_A_BROWSER, Desk, opened, shot

pytestmark = IN_A_BROWSER


@pytest.fixture
def page(desk: Desk, tmp_path: Path) -> Iterator[Any]:
    with opened(tmp_path / "profile") as there:
        there.goto(desk.address)
        yield there


def family_of(desk: Desk) -> set[str]:
    view_code = views.family_holding(desk.made.home, [desk.made.art])
    with desk.made.home.database.read() as connection:
        family = next(f for f in families.all_families(connection) if f.code == view_code)
    names = {desk.made.art: "art", desk.made.negative: "negative", desk.made.proof: "proof", desk.made.sheet: "sheet"}
    return {names[m.key] for m in family.members}


def opacity(page: Any) -> float:
    return float(page.evaluate("() => document.getElementById('table').dataset.shown"))


def laid_out(page: Any) -> None:
    """Wait until both pictures lie on the table, and the right one over the left one, out of sight."""
    page.locator("#table[data-ready]").wait_for()


def test_a_morning_by_mouse(page: Any, desk: Desk) -> None:
    assert page.get_by_text("Possible cellulose nitrate").first.is_visible()
    shot(page, "night")
    page.get_by_role("link", name="Families", exact=True).click()
    shot(page, "queue")
    page.locator(".entry h2 a").first.click()
    page.get_by_label("Before you rule").fill("Ida Marl")
    page.get_by_role("button", name="Sit down at the desk").click()

    page.get_by_role("link", name="to the right").nth(1).click()
    page.wait_for_url("**/families/F-*?a=*")  # laid in where the page stood
    laid_out(page)
    page.get_by_role("button", name="Laid over").click()
    page.locator("#blend").wait_for()
    page.locator("#amount").fill("80")
    assert opacity(page) == 0.8
    page.get_by_role("button", name="Lift off").click()
    assert opacity(page) == 0
    shot(page, "laid-over")

    code = page.url.split("/families/")[1].split("?")[0]
    page.get_by_role("button", name="These belong together").click()
    page.get_by_role("status").wait_for()
    assert code not in page.url and "said that these belong together" in page.get_by_role("status").inner_text()
    page.goto(f"{desk.address}/families/{code}")
    page.locator("li", has_text="B04 / 0022").get_by_label("choose it").check()
    page.get_by_role("button", name="Take out").click()
    page.get_by_role("status").wait_for()
    assert family_of(desk) == {"art", "negative", "proof"}
    shot(page, "taken-out")
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("took a ruling back").first.wait_for()
    assert family_of(desk) == {"art", "negative", "proof", "sheet"}
    page.get_by_role("link", name="Ledger").click()
    assert page.locator(".book tr").count() == 4  # the head and three rulings
    shot(page, "ledger")


def test_the_same_by_keys_alone(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/families")
    page.keyboard.press("g")
    page.wait_for_url("**/families/F-*")
    page.wait_for_load_state()
    page.get_by_label("Before you rule").focus()
    page.keyboard.type("Ore Vann")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="These belong together").wait_for()
    page.wait_for_load_state()  # keys are heard once the page's modules have run, which is later than its text is seen

    for key, kind in (("4", "finished sheet"), ("2", "copy negative")):
        page.keyboard.press(key)
        page.locator("li.on-right .role", has_text=kind).wait_for()
        page.wait_for_load_state()
    laid_out(page)
    page.keyboard.press("l")
    page.wait_for_function("() => document.getElementById('table').dataset.shown === '0.5'")
    before = opacity(page)
    page.keyboard.press("]")
    assert opacity(page) == pytest.approx(before + 0.1)
    page.keyboard.press("f")
    assert opacity(page) == 0
    said = page.locator("[data-pane=b] [data-says]")
    page.keyboard.press("s")
    assert said.inner_text() == "positive made of the negative"
    page.keyboard.press("n")
    assert said.inner_text() == "the film itself"
    page.keyboard.press("o")
    page.get_by_role("status").wait_for()
    page.wait_for_load_state()
    assert family_of(desk) == {"art", "proof", "sheet"}
    page.keyboard.press("u")
    page.get_by_text("took a ruling back").first.wait_for()
    page.wait_for_load_state()
    assert family_of(desk) == {"art", "negative", "proof", "sheet"}
    page.keyboard.press("t")
    page.get_by_text("said that these belong together").first.wait_for()
    page.wait_for_load_state()
    page.keyboard.press("?")
    page.wait_for_url("**/keys")


def test_nothing_spills_over_at_either_size(page: Any, desk: Desk) -> None:
    code = views.family_holding(desk.made.home, [desk.made.art])
    hostile = views.family_holding(desk.made.home, [desk.made.second_b])
    for width, height in ((1280, 800), (2560, 1440), (640, 400)):  # the last is 1280 x 800 at 200 %
        page.set_viewport_size({"width": width, "height": height})
        lines = f"/lines/{desk.made.second_b.digest}-1"
        family = (f"/families/{code}", f"/families/{hostile}")
        for path in ("/", "/families", *family, "/singles", "/readings", lines, "/pieces", "/ledger", "/keys"):
            page.goto(desk.address + path)
            wide = page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width, (path, width, wide)


def test_readings_by_keys_alone(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/readings")
    page.get_by_label("Before you rule").focus()
    page.keyboard.type("Ore Vann")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Accept as read").first.wait_for()
    page.wait_for_load_state()
    assert page.url.endswith("/readings?")

    def marked() -> int:
        return int(page.evaluate("() => [...document.querySelectorAll('.equal')].findIndex(g => g.matches('.now'))"))

    assert (page.locator(".equal").count(), marked()) == (2, 0)
    page.keyboard.press(".")
    page.keyboard.press(".")
    assert marked() == 1
    page.keyboard.press(",")
    tick = page.locator(".equal.now input[name=reading]").first
    page.keyboard.press("1")
    assert not tick.is_checked()
    page.keyboard.press("x")
    assert tick.is_checked()
    page.keyboard.press("c")
    page.keyboard.type("x a r")  # keys rest in a field
    page.keyboard.press("Escape")
    assert marked() == 0 and tick.is_checked()
    page.keyboard.press("a")
    page.get_by_role("status").wait_for()
    page.wait_for_load_state()
    assert "accepted a reading" in page.get_by_role("status").inner_text() and page.locator(".equal").count() == 1
    page.keyboard.press("u")
    page.get_by_text("took a ruling back").first.wait_for()
    page.wait_for_load_state()
    assert page.locator(".equal").count() == 2 and "/readings" in page.url
    page.keyboard.press(".")
    page.keyboard.press("c")
    page.keyboard.type("VELLA & ROOK LTD, OSTMERE")
    page.keyboard.press("Enter")
    page.get_by_text("corrected a reading").first.wait_for()
    page.wait_for_load_state()
    page.keyboard.press("r")
    page.get_by_text("rejected a reading").first.wait_for()
    page.wait_for_load_state()
    assert page.get_by_text("No reading waits").is_visible()
