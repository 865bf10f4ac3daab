"""Every page, full, half-way and empty; and what hostile names and texts become on them."""

import html
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from intake.config.load import Config
from intake.kin import Campaign, Section, Tie
from intake.model import Box, Evidence, Parsed, Rendered
from intake.services import views
from intake.services.home import Home
from intake.store import campaigns, families, scans, several
from intake.web.report import write_report
from intake.web.words import plain, share, signed, years
from tests.made import AT, FRAME, Written, classified, mark, received
from tests.web.hand import HOSTILE, Client, Made


class Tags(HTMLParser):
    """All tags and their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def family_address(made: Made) -> str:
    return f"/families/{views.family_holding(made.home, [made.art])}"


def pages_of(made: Made) -> list[str]:
    other = f"/families/{views.family_holding(made.home, [made.second_b])}"
    return [
        "/",
        "/families",
        "/families?show=settled",
        "/families?lane=film&person=%3Cb%3E",
        "/singles",
        "/singles?show=done&box=%3Cscript%3E",
        family_address(made),
        other,
        family_address(made).replace("families", "closer"),
        other.replace("families", "closer") + f"?on={made.second_b.digest}-1",
        other.replace("families", "elements"),
        "/pieces",
        "/pieces?only=trouble",
        "/readings",
        "/readings?of=C&kind=printer&value=x",
        f"/lines/{made.second_b.digest}-1",
        "/ledger",
        "/keys",
    ]


def test_nothing_hostile_comes_alive(client: Client, made: Made) -> None:
    client.post("/who", {"who": "<b>Ida</b>"})
    for path in pages_of(made):
        answer = client.get(path)
        assert answer.status_code == 200, path
        tags = Tags(answer.text)
        scripts = [a for t, a in tags.found if t == "script"]
        assert all((a.get("src") or "").startswith("/static/") for a in scripts), path
        assert not [t for t, _ in tags.found if t == "style"]
        named = {name for _, a in tags.found for name in a}
        assert not [n for n in named if n.startswith("on") or n == "style"], path
        assert "\u202e" not in answer.text and "<b>Ida" not in answer.text
        assert "49" not in re.findall(r"onload=x (\S+)", html.unescape(answer.text))


def test_a_long_text_is_cut_and_says_so(client: Client, made: Made) -> None:
    text = client.get(f"/families/{views.family_holding(made.home, [made.second_b])}").text
    assert "Ω" * 500 not in text and re.search(r"10,\d\d\d characters", text)
    assert html.escape(HOSTILE[:20], quote=False).replace('"', "&#34;") in text


def test_the_caution_comes_before_any_picture(client: Client, made: Made) -> None:
    for path in ("/", family_address(made)):
        text = client.get(path).text
        assert text.index("Possible cellulose nitrate") < text.index("<img")
        assert text.index("licensed people decide") < text.index("<img")
        assert "cannot tell nitrate from safety film" in re.sub(r"\s+", " ", text)


def test_the_night_says_what_does_not_add_up(client: Client) -> None:
    text = re.sub(r"\s+", " ", client.get("/").text)
    assert "does not add up" in text and "Listed, no scan and no reason: <bdi>0004</bdi>" in text
    assert "The file stops before its end" in text


def test_without_a_list_it_says_no_list(home: Home, config: Config) -> None:
    written = Written(home)
    written.consignment(received("B01/0001.tif"))
    text = Client(home, config).get("/").text
    assert "no list" in text and "missing" not in text and "adds up" not in text


def test_empty_desks_say_what_to_type(home: Home, config: Config) -> None:
    client = Client(home, config)
    for path in ("/", "/families", "/pieces"):
        answer = client.get(path)
        assert answer.status_code == 200 and "kinfold receive" in answer.text, path
    written = Written(home)
    written.consignment(received("B01/0001.tif"))
    for path in ("/", "/families"):
        assert "kinfold run" in client.get(path).text, path
    written.run()
    (home.folder / "run.lock").write_text("999999999")
    assert "cut off" in client.get("/").text and "kinfold run" in client.get("/families").text


def test_a_run_at_work_is_seen_and_measured(home: Home, config: Config) -> None:
    import os

    written = Written(home)
    written.consignment(received("B01/0001.tif"))
    written.run()
    (home.folder / "run.lock").write_text(str(os.getpid()))
    text = Client(home, config).get("/").text
    assert "A run is at work: 1 scans left; measuring" in text and "/live.js" in text


def test_any_two_are_laid_on_the_table(client: Client, made: Made) -> None:
    path = family_address(made)
    first = client.get(path).text
    assert "original artwork" in first and "data-shares" in first
    chosen = client.get(f"{path}?a={made.sheet.digest}-1&b={made.negative.digest}-1").text
    assert "They stand together by way of" in chosen and "~on~" in chosen
    assert client.get(f"{path}?a=nonsense").status_code == 400


def test_a_family_names_its_campaign_and_what_is_no_double(own: Made, config: Config) -> None:
    """Titles and words are read from pictures: whatever they hold, they stay text."""
    with own.home.database.write() as connection:
        here, there = families.all_families(connection)
        queue, titled = families.queue(connection), replace(there, title=HOSTILE)
        families.replace_families(connection, [here, titled], queue, "by hand")
        reasons = (Evidence("prior", "before looking", -2.0), Evidence("title", f"all of it {HOSTILE}", 4.0))
        link = (here.members[0].key, there.members[0].key)
        ties = (Tie(*sorted((here.code, there.code)), reasons, ("lantern", HOSTILE), link),)
        campaigns.put_campaigns(connection, [Campaign("C-TEST", (here.code, there.code), ties)])
        a, b = sorted(m.key for m in here.members[:2])
        several.replace_several(connection, [], [Section(a, b, 0.2, 0.25)])
    client = Client(own.home, config)
    text = client.get(f"/families/{here.code}").text
    campaign = text[text.index("Of one campaign") : text.index("Several, not doubled")]
    assert f'href="/families/{there.code}"' in campaign and "C-TEST" in campaign and there.code in campaign
    assert "Same words on both" in campaign and "LANTERN" in campaign and "May share an element" in campaign
    assert "probability 0.88" in campaign and "before looking" in campaign
    assert "<script>alert" not in text.lower() and "\u202e" not in text
    assert "shares a strip of 25% at one edge" in text[text.index("Several, not doubled") :]
    assert here.code in client.get(f"/families/{there.code}").text


def test_folds_and_skew_are_shown_with_their_places(client: Client, made: Made) -> None:
    shown = client.get(family_address(made)).text
    assert "0 + 1 in halves" in shown and "ink is broken (0.97)" in shown and "askew by 0.31° clockwise" in shown
    assert 'aria-label="Fold lines drawn over the picture"' in shown and "not looked at for folds" in shown


def test_a_family_without_company_says_nothing_of_it(client: Client, made: Made) -> None:
    text = client.get(family_address(made)).text
    assert "Of one campaign" not in text and "Several, not doubled" not in text


def test_all_pictures_that_pages_name_are_there(client: Client, made: Made) -> None:
    addresses = set()
    for path in pages_of(made):
        for tag, given in Tags(client.get(path).text).found:
            for name in ("src", "href", "data-tiles", "data-film", "data-over", "data-over-film"):
                value = given.get(name) or ""
                if tag in ("img", "image", "link", "script", "div") and value.startswith("/"):
                    addresses.add(f"{value}/info.json" if value.startswith("/iiif") else value)
    assert len([a for a in addresses if a.startswith("/picture")]) >= 7
    assert any(a.startswith("/crop") for a in addresses) and any("~on~" in a for a in addresses)
    assert {client.get(a).status_code for a in addresses} == {200}


def test_pieces_can_be_sieved(client: Client) -> None:
    everything = client.get("/pieces").text
    assert "8 pictures" in everything
    assert "2 pictures" in client.get("/pieces?box=C+/+B01").text
    assert "3 pictures" in client.get("/pieces?kind=finished_sheet").text
    assert "No piece is like that" in client.get("/pieces?kind=no_such_kind").text


def test_words() -> None:
    assert plain("a\u202eb\x00c\nd") == "a·b·c·d"
    assert plain("x" * 500).endswith("(500 characters)")
    assert (signed(-1.25), signed(0.5)) == ("−1.2", "+0.5")
    assert (share(0.95), share(0.9999), share(0.999999)) == ("0.95", "0.9999", "over 0.9999")
    assert (years(1951, 1958), years(1951, None), years(None, 1958), years(None, None)) == (
        "1951–1958", "not before 1951", "usual until 1958", "",
    )  # fmt: skip


def _colours(theme: str) -> dict[str, str]:
    css = (Path(views.__file__).parents[1] / "web/static/desk.css").read_text()
    plain = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", css.split(":root {", 1)[1].split("}", 1)[0]))
    both = re.findall(r"--([a-z-]+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)", css)
    assert len(both) > 15
    return plain | {name: dark if theme == "dark" else light for name, light, dark in both}


def _luminance(colour: str) -> float:
    """Relative luminance after WCAG 2.2 (W3C), section "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_can_be_read(theme: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    colours = _colours(theme)
    pairs = [
        (ink, ground)
        for ink in ("ink", "soft", "ink-blue", "red", "amber", "green")
        for ground in ("paper", "sheet", "wash")
    ]
    pairs += [
        ("red", "red-wash"),
        ("ink", "red-wash"),
        ("ink", "glass"),
        ("soft", "glass"),
        ("rail-ink", "rail"),
        ("sheet", "ink-blue"),
        ("sheet", "ink"),
    ]
    for ink, ground in pairs:
        one, two = sorted((_luminance(colours[ink]), _luminance(colours[ground])), reverse=True)
        assert (one + 0.05) / (two + 0.05) >= 4.5, (ink, ground)


def test_dates_stand_with_the_marks_that_they_rest_on(own: Made, config: Config) -> None:
    code = mark("61/204", "release_code", dates="a release", year=1961, box=Box(400, 3300, 200, 60))
    late = mark("www.<b>", "web", dates="a print run", periods=((1995, None),), box=Box(900, 3300, 200, 60))
    back = received("B04/0022 v.jpg", piece="0022", side="verso")
    with own.home.database.write() as connection:
        scans.add_scans(connection, [(back, 1)], AT)
    Written(own.home).looked(back, [Rendered(FRAME, 500, 750, 2.0), classified("reverse"), Parsed((code, late))])
    text = Client(own.home, config).get(family_address(own)).text
    (section,) = re.findall(r'<section aria-labelledby="t-dates">.*?</section>', text, re.DOTALL)
    said = html.unescape(section)
    assert "<b>1995/..</b>" in said and "Marks suggest not before 1995 (by web www.<b>)" in said
    assert "marks that agree never show that a piece is an original" in said
    assert "www.<b>" not in section
    crops = [a["src"] for t, a in Tags(section).found if t == "img"]
    assert len(crops) == 1 + 2 * 3 and {"left=400" in str(c) for c in crops} == {True, False}


def test_the_report_of_a_run_is_one_page_with_nothing_alive_in_it(own: Made, config: Config) -> None:
    """The same file from the disk and from the desk; names and texts from outside stand in it as text."""
    client = Client(own.home, config)
    assert client.get("/report").status_code == 404
    assert "/report" not in client.get("/").text
    left = {f"B/{HOSTILE}.tif": f"cannot be had {HOSTILE}"} | {f"B/{n}.tif": "gone" for n in range(40)}
    path = write_report(own.home, config, 7, left)
    text = path.read_text(encoding="utf-8")
    assert path.stat().st_mode & 0o777 == 0o600
    assert "41 scans could not be had" in text
    assert "and 26 more" in text
    for heading in ("Hazards", "Look at first", "Not done", "To be scanned or copied again", "Boxes", "Cost"):
        assert f"<h2>{heading}</h2>" in text
    allowed = {"html", "head", "meta", "title", "link", "style", "body", "main", "h1", "h2", "p", "b", "bdi", "div",
               "ol", "li", "table", "thead", "tr", "th", "td"}  # fmt: skip
    assert {tag for tag, _ in Tags(text).found} <= allowed
    write_report(own.home, config, 12, {})
    answer = client.get("/report")
    assert answer.status_code == 200
    assert "<h1>Run 12</h1>" in answer.text
    assert 'href="/report"' in client.get("/").text
