"""Deciding in a real browser: a wrong member out, two halves joined, a name, a kind, singles, two people on one family.

Each screen of it is checked with axe-core (vendored, see vendor/README.md) against WCAG 2.2 A and AA, in both themes.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from intake.config.load import Config
from intake.services import review, views
from intake.store import families
from tests.made import in_ledger
from tests.web.browsing import IN_A_BROWSER, Desk, opened, shot
from tests.web.test_rulings import form

AXE = Path(__file__).parent / "vendor" / "axe.min.js"

pytestmark = IN_A_BROWSER


@pytest.fixture
def page(desk: Desk, tmp_path: Path) -> Iterator[Any]:
    with opened(tmp_path / "profile") as there:
        there.goto(desk.address)
        sit(there, "Ida Marl")
        yield there


def sit(page: Any, name: str) -> None:
    page.locator(".whois summary").click()
    page.get_by_label("Your name").fill(name)
    page.get_by_role("button", name="Keep").click()
    page.get_by_text(f"At the desk: {name}").wait_for()


def ruled(page: Any, words: str) -> None:
    page.get_by_role("status").filter(has_text=words).wait_for()
    page.wait_for_load_state()  # keys are heard once the page's modules have run


def title_of(desk: Desk) -> str:
    code = views.family_holding(desk.made.home, [desk.made.art])
    with desk.made.home.database.read() as connection:
        return families.families_by_code(connection, [code])[0].title


def together(desk: Desk, *keys: Any) -> bool:
    return len({views.family_holding(desk.made.home, [k]) for k in keys}) == 1


def test_a_morning_of_deciding_by_keys_alone(page: Any, desk: Desk) -> None:
    """Out, back, in, joined, named, ruled a reproduction, set aside; and every one is a line of the ledger."""
    made = desk.made
    page.goto(f"{desk.address}/families")
    page.keyboard.press("g")
    page.wait_for_url("**/families/F-*")
    page.wait_for_load_state()
    page.keyboard.press("4")  # the sheet to the right
    page.locator("li.on-right .role", has_text="finished sheet").wait_for()
    page.wait_for_load_state()
    page.keyboard.press("y")
    assert page.locator("#chosen").inner_text() == "chosen: B04 / 0022"
    page.keyboard.press("o")
    ruled(page, "took a piece out")
    assert not together(desk, made.art, made.sheet)
    page.keyboard.press("u")
    ruled(page, "took a ruling back")
    assert together(desk, made.art, made.sheet)

    for place in ("B03 / 0017", "B04 / 0022"):
        page.locator("li", has_text=place).get_by_label("choose it").press(" ")
    page.keyboard.press("p")
    ruled(page, "parted a selection off")
    assert together(desk, made.proof, made.sheet) and together(desk, made.art, made.negative)
    assert not together(desk, made.art, made.sheet)

    page.goto(f"{desk.address}/families/{views.family_holding(made.home, [made.art])}")
    page.keyboard.press("j")
    page.keyboard.type(views.family_holding(made.home, [made.sheet]))
    page.keyboard.press("Enter")
    ruled(page, "joined families")
    assert together(desk, made.art, made.negative, made.proof, made.sheet)
    page.keyboard.press("m")
    page.locator("#title").fill("THE SALT ROAD")
    page.keyboard.press("Enter")
    ruled(page, "named the design")
    assert title_of(desk) == "THE SALT ROAD"
    shot(page, "named")
    page.keyboard.press("r")
    page.keyboard.type("offset on later paper")
    page.keyboard.press("Enter")
    ruled(page, "ruled a piece a reproduction")
    assert page.get_by_text("reproduction: offset on later paper, by Ida Marl").first.is_visible()
    page.keyboard.press("a")
    page.keyboard.type("wait for box B09")
    page.keyboard.press("Enter")
    ruled(page, "set a family aside")
    page.goto(f"{desk.address}/families?show=aside")
    assert page.get_by_text("wait for box B09").is_visible() and page.locator(".entry").count() == 1
    verbs = [r.decision.verb for r in reversed(in_ledger(made.home))]
    assert verbs == ["part_off", "undo", "divide", "join", "name_design", "reproduction", "set_aside"]
    page.goto(f"{desk.address}/ledger")
    assert page.locator(".book tbody tr, .book > tr").count() >= len(verbs)
    shot(page, "ledger-of-deciding")


def test_two_people_on_one_family(page: Any, desk: Desk) -> None:
    made = desk.made
    code = views.family_holding(made.home, [made.art])
    page.goto(f"{desk.address}/families/{code}")
    page.wait_for_load_state("networkidle")
    with httpx.Client(base_url=desk.address, headers={"Origin": desk.address}) as ore:
        ore.post("/who", data={"who": "Ore Vann"})
        assert "<bdi>Ida Marl</bdi></b> has this before them" in ore.get("/families").text
        answer = ore.post("/rulings", data=form(ore, code, verb="part_off", out=f"{made.sheet.digest}-1"))
        assert answer.status_code == 303
    page.keyboard.press("m")
    page.locator("#title").fill("THE SALT ROAD")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Changed meanwhile").wait_for()
    said = page.locator("main").inner_text()
    assert "Ore Vann took a piece out (a moment ago)" in said and "Nothing of yours was written" in said
    assert "1 picture is no longer here" in said and len(in_ledger(made.home)) == 1
    shot(page, "changed-meanwhile")
    page.wait_for_load_state()
    page.keyboard.press("r")
    ruled(page, "named the design")
    assert title_of(desk) == "THE SALT ROAD" and not together(desk, made.art, made.sheet)


def test_singles_by_keys(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/singles")
    page.wait_for_load_state()
    page.keyboard.press("x")
    assert "ticked" in page.locator("#ticked").inner_text()
    many = page.locator("input[name=picked]").count()
    shot(page, "singles")
    page.keyboard.press("t")
    ruled(page, "had nothing to add")
    assert page.locator("input[name=picked]").count() == 0 and many >= 1
    page.keyboard.press("u")
    ruled(page, "took a ruling back")
    assert page.locator("input[name=picked]").count() == many


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_screens_of_deciding_keep_wcag(page: Any, desk: Desk, config: Config, theme: str) -> None:
    made = desk.made
    asked = {"to": "Ida Marl", "text": "which printer?"}
    review.decide(made.home, config, "Ore Vann", "refer", [made.second_a, made.second_b], asked)
    page.emulate_media(color_scheme=theme)
    code = views.family_holding(made.home, [made.art])
    for path in ("/", "/families", f"/families/{code}", "/singles", "/ledger", "/keys", "/families?show=aside"):
        page.goto(desk.address + path)
        page.wait_for_load_state()
        if "/families/F" in path:
            page.locator("#more-verbs summary").click()
        shot(page, f"{path.strip('/').replace('/', '-').replace('?', '-') or 'morning'}-{theme}")
        # By the protocol, since the page's own policy keeps out every script that is not the desk's.
        handle = page.context.new_cdp_session(page)
        handle.send("Runtime.evaluate", {"expression": AXE.read_text(encoding="utf-8")})
        found = page.evaluate(
            """() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})
            .then((r) => r.violations.map((v) => [v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160))]))"""
        )
        assert found == [], (path, found)
