"""Find at the desk: by a picture, with the overlay, and by what stands on a piece. Uploads are never trusted."""

import re

import cv2
import numpy as np
import pytest

from intake.config.load import Config
from intake.services import find
from intake.services.words import Asked, asked
from tests.web.hand import BASE, Client, Made, painted
from tests.web.test_images import close, read


def jpeg(picture: np.ndarray) -> bytes:
    return cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()


def offer(client: Client, data: bytes, name: str = "phone.jpg", **headers: str):  # type: ignore[no-untyped-def]
    own = {"origin": BASE, "sec-fetch-site": "same-origin", **headers}
    return client.ask("POST", "/find", files={"picture": (name, data, "image/jpeg")}, headers=own)


def test_a_picture_is_searched_with_and_laid_over_what_it_matches(
    client: Client, made: Made, searched: list[find.Offered]
) -> None:
    answer = offer(client, jpeg(painted(1)))
    assert answer.status_code == 303 and re.fullmatch(r"/find/[0-9a-f]{32}", answer.headers["location"])
    assert [(o.width, o.height) for o in searched] == [(600, 900)]
    page = client.get(answer.headers["location"]).text
    assert "1 scan matches" in page and "B01 / 0003" in page and "C / B09" in page and "7 scans searched" in page
    (over,) = re.findall(r'data-src="(/find/[^"]+)"', page)
    assert close(read(client, over.replace("&amp;", "&")), painted(1)) < 6
    assert close(read(client, f"{answer.headers['location']}/picture"), painted(1)) < 8
    held = sorted(p.name for p in (made.home.folder / "offered").iterdir())
    assert held == [f"{answer.headers['location'].split('/')[-1]}.jpg"]  # the file that was sent is gone
    elsewhere = f"{answer.headers['location']}/over?part={made.sheet.digest}-1"
    assert client.get(elsewhere).status_code == 404


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff\xe0lying", b"GIF89a" + b"x" * 99, b"<svg/>"])
def test_what_is_no_picture_is_refused_in_words(client: Client, made: Made, data: bytes) -> None:
    answer = offer(client, data, name="../../x.jpg")
    assert answer.status_code in (400, 422) and "Not done" in answer.text
    assert [p for p in (made.home.folder / "offered").iterdir() if p.suffix == ".offered"] == []


def test_bytes_are_counted_whatever_the_length_header_says(client: Client, config: Config) -> None:
    most = config.looking.find_mb * 2**20
    answer = offer(client, b"\xff\xd8" + b"\0" * most)
    assert answer.status_code == 413 and "more than the 40 MB" in answer.text


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_decoded(own: Made, config: Config) -> None:
    small = config.model_copy(update={"looking": config.looking.model_copy(update={"find_megapixels": 1})})
    answer = offer(Client(own.home, small), jpeg(np.zeros((1100, 1000, 3), np.uint8)))
    assert answer.status_code == 422 and "megapixels" in answer.text and "config/check" not in answer.text


def test_a_foreign_page_cannot_offer(client: Client) -> None:
    assert offer(client, jpeg(painted(1)), origin="http://elsewhere.example").status_code == 403
    assert client.post("/find", {"picture": "x"}).status_code == 415


def test_a_search_is_let_go(own: Made, config: Config, searched: list[find.Offered]) -> None:
    few = config.model_copy(update={"looking": config.looking.model_copy(update={"find_kept": 2})})
    client = Client(own.home, few)
    places = [offer(client, jpeg(painted(1))).headers["location"] for _ in range(3)]
    assert len(searched) == 3 and [client.get(p).status_code for p in places] == [404, 200, 200]
    assert len(list((own.home.folder / "offered").iterdir())) == 2
    Client(own.home, few)  # a desk that is opened anew
    assert list((own.home.folder / "offered").iterdir()) == []


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ("64/118 litho", Asked(("64/118", "litho"), ())),
        ('"two words" one', Asked(("two words", "one"), ())),
        ("686 x 1016 mm", Asked((), ((686.0, 1016.0),))),
        ('27"x41" proof', Asked(("proof",), ((685.8, 1041.4),))),
        ("27,5x39,5 in", Asked((), ((698.5, 1003.3),))),
        ("50×70", Asked((), ((50.0, 70.0), (500.0, 700.0), (1270.0, 1778.0)))),
        ("   ", Asked((), ())),
    ],
)
def test_what_is_typed_is_read(typed: str, wanted: Asked) -> None:
    read_as = asked(typed)
    assert read_as.words == wanted.words
    assert [s for pair in read_as.sizes for s in pair] == pytest.approx([s for pair in wanted.sizes for s in pair])


@pytest.mark.parametrize(
    ("typed", "pieces"),
    [
        ("vella rook", {"B03/0017.tif"}),
        ("4417", {"B04/0022.jpg", "B01/0044.jpg"} - {"B01/0044.jpg"}),
        ("artwork B01", {"B01/0003.jpg", "B01/0044.jpg"}),
        ("vella 27 x 40 in", {"B03/0017.tif", "B04/0022.jpg"}),
        ("vella 10 x 10 in", set()),
        ("severity", set()),
        ("%", set()),
    ],
)
def test_words_are_found_where_they_stand(client: Client, made: Made, typed: str, pieces: set[str]) -> None:
    answer = client.get(f"/find?words={typed.replace(' ', '+').replace('%', '%25')}")
    shown = {s.path for s in made.scans.values() if f"/pieces/{s.digest}-1" in answer.text}
    assert shown == pieces
