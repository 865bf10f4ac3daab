"""Looking in a real browser: both pictures together, ways of laying over, the scan itself, a piece, find by a picture.

Each screen of it is checked with axe-core (vendored, see vendor/README.md) against WCAG 2.2 A and AA, in both themes.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from intake.config.load import Config
from intake.services import views
from intake.services.home import Home
from intake.store import scans
from tests.made import AT
from tests.web.browsing import IN_A_BROWSER, Desk, opened, served, shot
from tests.web.hand import HOSTILE, Made, copied, painted
from tests.web.test_find import jpeg
from tests.web.test_iiif import scanned

AXE = Path(__file__).parent / "vendor" / "axe.min.js"

pytestmark = IN_A_BROWSER


@pytest.fixture(scope="module")
def desk(looked_at: Made, config: Config, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """One desk for all: nothing is ruled here."""
    copy = copied(looked_at, tmp_path_factory.mktemp("looking") / "home")
    with copy.home.database.write() as connection:
        scans.put_consignment(connection, "D", "/elsewhere", AT, False)
    with served(copy, config) as there:
        yield there
    copy.home.database.close()


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Any]:
    with opened(tmp_path / "profile") as there:
        yield there


def laid_out(page: Any) -> None:
    """Wait until all pictures lie on the table."""
    page.locator("#table[data-ready]").wait_for()


def pair(desk: Desk) -> str:
    made = desk.made
    code = views.family_holding(made.home, [made.art])
    return f"{desk.address}/families/{code}?a={made.art.digest}-1&b={made.negative.digest}-1"


def seen(page: Any, pane: str) -> list[float]:
    """The middle of what a pane shows, as shares of its picture, and how many times nearer than the whole."""
    return [float(v) for v in page.locator(f"[data-pane={pane}] .view").get_attribute("data-seen").split()]


def rest(page: Any, **wanted: float) -> None:
    """Wait until both panes show this place (x, y: shares of the picture), or this zoom."""
    page.wait_for_function(
        """(wanted) => [...document.querySelectorAll('.view')].every((view) => {
            const [x, y, zoom] = view.dataset.seen.split(' ').map(Number);
            return Object.entries(wanted).every(([name, value]) => Math.abs({ x, y, zoom }[name] - value) < 0.02);
        })""",
        arg=wanted,
    )


def test_both_pictures_go_together(page: Any, desk: Desk) -> None:
    """The mirrored negative is looked at in the same place as the artwork, however near."""
    page.goto(pair(desk))
    laid_out(page)
    page.locator("#table").focus()
    for key in ("+", "+", "+", "ArrowLeft", "ArrowUp"):
        page.keyboard.press(key)
    rest(page, zoom=3.375)
    left, right = seen(page, "a"), seen(page, "b")
    assert left == pytest.approx(right, abs=0.01) and left[0] < 0.5 and left[1] < 0.5
    page.keyboard.press("0")
    rest(page, zoom=1)


def test_ways_of_laying_over(page: Any, desk: Desk) -> None:
    """Cut along a line, difference, points that agree, and a jump to a place: on the same light table."""
    page.goto(pair(desk))
    laid_out(page)
    page.keyboard.press("v")
    assert page.locator("#drawn circle").count() == 8 and page.locator("#drawn line").count() == 4
    page.keyboard.press("v")
    page.keyboard.press("c")
    page.locator("#cut").wait_for()
    before = page.locator("#cut").bounding_box()["x"]
    page.keyboard.press("]")
    assert page.locator("#cut").bounding_box()["x"] > before + 20
    shot(page, "cut")
    page.keyboard.press("d")
    page.locator("#table.differing").wait_for()
    assert page.locator("#cut").is_hidden() and page.locator("#amount").is_disabled()
    shot(page, "difference")
    page.keyboard.press("s")
    page.evaluate(
        """() => {
            const there = document.createElement('button');
            there.dataset.jump = '0.2,0.25,0.1,0.1';
            document.getElementById('main').append(there);
            there.click();
        }"""
    )
    page.wait_for_function(
        """() => ['a', 'b'].every(pane =>
            document.querySelector(`[data-pane=${pane}] .view`).dataset.seen.startsWith('0.250 0.300 '))"""
    )
    assert page.locator("#drawn rect").count() == 1 == page.locator("#drawn polygon").count()
    shot(page, "jump")


def test_zooming_in_asks_for_the_scan_itself(page: Any, config: Config, tmp_path: Path) -> None:
    """A line of one stored pixel, which the working image does not have, is drawn once the pyramid is made."""
    picture = np.full((1800, 1200, 3), 235, np.uint8)
    picture[:, 600] = 0
    home, key = scanned(tmp_path, picture, 300)
    with served(_of(home), config) as desk:
        page.goto(f"{desk.address}/pieces/{key.digest}-1")
        laid_out(page)
        with page.expect_response(lambda r: "?sharp" in r.url and r.status == 200):
            for _ in range(5):
                page.keyboard.press("+")
        page.wait_for_function(
            """() => {
                const canvas = document.querySelector('.view canvas');
                const row = Object.assign(document.createElement('canvas'), { width: canvas.width, height: 1 });
                const to = row.getContext('2d', { willReadFrequently: true });
                to.drawImage(canvas, 0, -(canvas.height >> 1));
                const { data } = to.getImageData(0, 0, canvas.width, 1);
                return data.some((value, n) => n % 4 === 0 && value < 60);
            }"""
        )
        shot(page, "the-scan-itself")
        page.goto("about:blank")  # before the desk is closed: it may still ask for tiles
    home.database.close()


def _of(home: Home) -> Any:
    return type("Served", (), {"home": home})()


def test_a_piece_with_a_hostile_name_is_inert(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/pieces/{desk.made.second_b.digest}-1")
    laid_out(page)
    assert "<script>alert(1)" in page.locator(".facts-of .path").first.inner_text()
    assert page.locator("#drawn polyline").count() == 1
    page.keyboard.press("v")
    assert page.locator("#drawn polyline").count() == 0
    page.goto(f"{desk.address}/find")
    page.keyboard.press("/")
    page.keyboard.type(HOSTILE[:20])
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="1 picture").wait_for()


@pytest.mark.usefixtures("searched")
def test_a_picture_dropped_on_the_page_is_searched_with(page: Any, desk: Desk) -> None:
    page.goto(f"{desk.address}/find")
    drop = page.evaluate_handle(
        """async (text) => {
            const bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));
            const held = new DataTransfer();
            held.items.add(new File([bytes], 'phone.jpg', { type: 'image/jpeg' }));
            return held;
        }""",
        jpeg(cv2.resize(painted(1), (300, 450))).decode("latin-1"),
    )
    page.dispatch_event("#drop", "dragover", {"dataTransfer": drop})
    page.dispatch_event("#drop", "drop", {"dataTransfer": drop})
    page.wait_for_url("**/find/*")
    top = page.locator(".stack .top").first
    page.wait_for_function("() => document.querySelector('.stack .top').naturalWidth > 0")
    page.get_by_label("How much of the offered picture").first.fill("80")
    assert top.evaluate("(e) => e.style.opacity") == "0.8"
    shot(page, "found")
    check(page)


def check(page: Any) -> None:
    """By the protocol, since the page's own policy keeps out every script that is not the desk's."""
    handle = page.context.new_cdp_session(page)
    handle.send("Runtime.evaluate", {"expression": AXE.read_text(encoding="utf-8")})
    found = page.evaluate(
        """() => axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})
        .then((r) => r.violations.map((v) => [v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160))]))"""
    )
    assert found == [], (page.url, found)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_screens_of_looking_keep_wcag(page: Any, desk: Desk, theme: str) -> None:
    page.emulate_media(color_scheme=theme)
    made = desk.made
    pieces = [f"{desk.address}/pieces/{key.digest}-1" for key in (made.sheet, made.negative)]
    for address in (
        pair(desk),
        *pieces,
        pair(desk).replace("/families/", "/closer/").split("?")[0] + f"?on={made.sheet.digest}-1",
        f"{desk.address}/pieces",
        f"{desk.address}/find",
        f"{desk.address}/find?words=vella",
        f"{desk.address}/readings",
        f"{desk.address}/lines/{made.second_b.digest}-1",
        f"{desk.address}/hazards",
        pair(desk).replace("/families/", "/elements/").split("?")[0],
    ):
        page.goto(address)
        if "pieces/" in address or "families/" in address:
            laid_out(page)
        if "families/" in address:
            page.keyboard.press("v")
            page.keyboard.press("c")
            page.locator("#cut").wait_for()
        shot(page, f"{address.removeprefix(desk.address).strip('/').split('?')[0].replace('/', '-')[:20]}-{theme}")
        check(page)


def test_nothing_of_looking_spills_over(page: Any, desk: Desk) -> None:
    hostile = f"/pieces/{desk.made.second_b.digest}-1"
    for width, height in ((1280, 800), (2560, 1440), (640, 400)):  # the last is 1280 x 800 at 200 %
        page.set_viewport_size({"width": width, "height": height})
        for path in (hostile, "/find", f"/find?words={'x' * 200}", "/find?words=hostile", "/pieces"):
            page.goto(desk.address + path)
            wide = page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width, (path, width, wide)
            shot(page, f"{path.strip('/').split('?')[0][:8].replace('/', '-')}-{width}")
