"""A ruling lays the next family in the place of the one before, in one document. Address, history, focus and refusals
stay as they are where pages are loaded one by one.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from intake.services import views
from tests.made import in_ledger
from tests.web.browsing import IN_A_BROWSER, Desk, opened
from tests.web.test_rulings import form

pytestmark = IN_A_BROWSER


@pytest.fixture
def page(desk: Desk, tmp_path: Path) -> Iterator[Any]:
    with opened(tmp_path / "profile") as there:
        there.goto(f"{desk.address}/families")
        there.context.add_cookies([{"name": "kinfold_who", "value": "Ida%20Marl", "url": desk.address}])
        yield there


def codes(desk: Desk) -> list[str]:
    return views.queue_order(desk.made.home)


def go(page: Any, by: int) -> None:
    """The browser's own buttons, without waiting: a leaf's entry of the history first comes as it was, then loads."""
    page.evaluate(f"() => setTimeout(() => history.go({by}))")


def is_same_document(page: Any) -> bool:
    return bool(page.evaluate("() => Boolean(window.marked)"))


def test_the_next_family_is_laid_in_and_the_way_back_leads_to_pages_as_they_are_now(page: Any, desk: Desk) -> None:
    first, second = codes(desk)[:2]
    page.goto(f"{desk.address}/families/{first}")
    page.locator("#table[data-ready]").wait_for()
    page.evaluate("() => { window.marked = true; }")
    page.keyboard.press("t")
    page.locator(".done").wait_for()
    assert is_same_document(page) and f"/families/{second}?done=1" in page.url
    assert "said that these belong together" in page.locator("#spoken").inner_text()
    focused = page.evaluate("() => [document.activeElement.localName, document.activeElement.textContent]")
    assert focused == ["h1", page.locator("h1").inner_text()] and page.title().startswith(focused[1])
    assert page.evaluate("() => scrollY") == 0 and page.locator("#page").count() == 1
    page.locator("#table[data-ready]").wait_for()
    assert page.locator(".openseadragon-canvas").count() == 2  # those of the leaf before are gone
    page.keyboard.press("l")
    page.wait_for_function("() => document.getElementById('table').dataset.shown === '0.5'")
    # Back: the page is asked for anew, and says what stands now.
    go(page, -1)
    page.get_by_text("Settled: a person has said").wait_for()
    assert page.url.endswith(f"/families/{first}") and not is_same_document(page)
    go(page, 1)
    page.locator(".done").wait_for()
    page.wait_for_load_state()
    assert page.url.endswith(f"/families/{second}?done=1")
    go(page, -1)
    page.get_by_text("Settled: a person has said").wait_for()
    page.wait_for_load_state()
    go(page, -1)
    page.wait_for_url("**/families")


def test_another_pair_is_laid_on_the_table_where_the_person_is(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/families/{views.family_holding(desk.made.home, [desk.made.art])}")
    page.locator("#table[data-ready]").wait_for()
    page.evaluate("() => { window.marked = true; scrollTo(0, 200); }")
    page.keyboard.press("4")
    page.locator("li.on-right .role", has_text="finished sheet").wait_for()
    assert is_same_document(page) and page.evaluate("() => [document.activeElement.id, scrollY]") == ["table", 200]
    assert "?a=" in page.url and page.locator("#spoken").inner_text() == ""


def test_a_refusal_is_laid_in_and_keeps_the_address(page: Any, desk: Desk) -> None:
    code = views.family_holding(desk.made.home, [desk.made.art])
    page.goto(f"{desk.address}/families/{code}")
    page.locator("#table[data-ready]").wait_for()
    with httpx.Client(base_url=desk.address, headers={"Origin": desk.address}) as ore:
        ore.post("/who", data={"who": "Ore Vann"})
        ore.post("/rulings", data=form(ore, code, verb="name_design", title="THE SALT ROAD"))
    page.keyboard.press("t")
    page.get_by_role("heading", name="Changed meanwhile").wait_for()
    assert page.url.endswith(f"/families/{code}") and len(in_ledger(desk.made.home)) == 1
    assert page.evaluate("() => document.activeElement.textContent") == "Changed meanwhile"
    page.reload()
    page.locator("#rulings").wait_for()


def test_two_presses_rule_once(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/families/{codes(desk)[0]}")
    page.locator("#table[data-ready]").wait_for()
    page.evaluate("() => { for (let n = 0; n < 2; n++) document.querySelector('button[value=confirm]').click(); }")
    page.locator(".done").wait_for()
    assert len(in_ledger(desk.made.home)) == 1


def test_a_desk_that_was_ended_says_so_and_loses_nothing(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/families/{codes(desk)[0]}")
    page.locator("#table[data-ready]").wait_for()
    page.route("**/rulings", lambda route: route.abort())
    page.keyboard.press("m")
    page.locator("#title").fill("THE SALT ROAD")
    page.keyboard.press("Enter")
    page.get_by_role("alert").filter(has_text="does not answer").wait_for()
    assert page.locator("#title").input_value() == "THE SALT ROAD" and in_ledger(desk.made.home) == []


def test_text_in_a_closed_section_stands_in_the_page_for_its_search(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/families/{views.family_holding(desk.made.home, [desk.made.art])}")
    fold = page.locator("details[data-fold=marks]")
    fold.locator("td.reading").first.wait_for(state="attached")  # put in once nothing else is to do
    page.wait_for_function("() => !document.querySelector('details > template')")
    assert not fold.locator("td.reading").first.is_visible()
    # What HTML's "ancestor details revealing" works on: hidden by the element itself, so a search in the page opens it.
    hidden = fold.evaluate("(e) => [e.open, getComputedStyle(e, '::details-content').contentVisibility]")
    assert hidden == [False, "hidden"]
    page.goto(f"{page.url}#h-marks")
    page.locator("details[data-fold=marks][open]").wait_for()


def test_nothing_is_fetched_ahead_while_a_ruling_is_under_way(page: Any, desk: Desk) -> None:
    """A ruling may leave no such family as would come next; pictures that are slow come when it was sent already."""
    page.goto(f"{desk.address}/families/{codes(desk)[0]}")
    page.locator("#table[data-ready]").wait_for()
    page.evaluate(
        """async () => {
            const modules = new URL('.', document.querySelector('script[src$="/family.js"]').src);
            const { onLeaf } = await import(modules + 'leaf.js');
            window.ahead = await import(modules + 'ahead.js');
            onLeaf((_, signal) => { window.until ??= signal; });
        }"""
    )
    sent: list[Any] = []
    page.route("**/rulings", lambda route: sent.append(route))
    page.keyboard.press("t")
    while not sent:
        page.wait_for_timeout(20)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    ended = page.evaluate("() => ahead.fetchAhead(new DOMRect(0, 0, 400, 400), until).catch((error) => error.name)")
    page.wait_for_timeout(300)
    assert ended == "AbortError" and not [url for url in asked if "/families/" in url]
    sent[0].continue_()
    page.locator(".done").wait_for()
    assert f"/families/{codes(desk)[0]}" in page.url
