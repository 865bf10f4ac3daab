"""Tiles: exact whatever way the scan lay, from the scan itself once it can be had, and as the IIIF has them."""

import hashlib
import importlib.resources
import os
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import uvicorn
from iiif_validator.tests import test as outside

from intake.config.load import Config
from intake.imaging.encode import jpeg_bytes
from intake.model import Box, PartFound, PartKey, Rendered
from intake.services.home import Home, write_whole
from intake.store import moves, scans
from intake.web.app import make_app
from tests.made import AT, STAMPS, Written, checked, classified, received
from tests.web.hand import HIGH, HOST, SCALE, Client, Made, painted
from tests.web.test_images import close, read

ALL = "full/600,/0/default.jpg"


def name(key: PartKey, turned: str = "", on: PartKey | None = None, film: bool = False) -> str:
    return f"/iiif/{key.digest}-1{turned}{'~f' if film else ''}{f'~on~{on.digest}-1' if on else ''}"


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("mirrored", ["", "m"])
def test_a_tile_is_mirrored_then_turned_clockwise(client: Client, made: Made, turn: int, mirrored: str) -> None:
    base = name(made.art, f"~{turn}{mirrored}")
    expected = np.rot90(painted(1)[:, ::-1] if mirrored else painted(1), -turn // 90)
    high, wide = expected.shape[:2]
    assert close(read(client, f"{base}/full/{wide},{high}/0/default.jpg"), expected) < 5
    # a quarter of it, at the scan's own size over SCALE: exactly its place
    left, top = int(wide * SCALE / 2), int(high * SCALE / 2)
    tile = read(client, f"{base}/{left},{top},512,512/128,128/0/default.jpg")
    there = expected[high // 2 : high // 2 + 128, wide // 2 : wide // 2 + 128]
    apart = [
        np.abs(tile.astype(float) - np.roll(there, by, (0, 1))).mean() for by in ((0, 0), (0, 2), (2, 0), (-2, -2))
    ]
    assert apart[0] < 8 and apart[0] == min(apart)


def test_a_negative_comes_as_a_positive_and_the_film_as_it_is(client: Client, made: Made) -> None:
    assert close(read(client, f"{name(made.negative, '~0m')}/{ALL}"), painted(1)) < 6
    assert close(read(client, f"{name(made.negative, '~0m', film=True)}/{ALL}"), 255 - painted(1)) < 6


def test_the_mirrored_negative_lies_on_the_artwork(client: Client, made: Made) -> None:
    assert close(read(client, f"{name(made.negative, on=made.art)}/{ALL}"), painted(1)) < 6
    assert close(read(client, f"{name(made.art, '~0m', on=made.negative)}/{ALL}"), painted(1)) < 6


def test_a_chain_of_matches_registers_too(client: Client, made: Made) -> None:
    """The sheet is cut at its foot: of the negative laid on it, exactly that strip is gone."""
    assert close(read(client, f"{name(made.negative, on=made.sheet)}/{ALL}"), painted(1)[: HIGH - 60]) < 6


def test_what_does_not_match_is_not_laid_over(client: Client, made: Made) -> None:
    assert client.get(f"{name(made.second_a, on=made.art)}/info.json").status_code == 404


@pytest.mark.parametrize(
    "asked",
    [
        "0,0,99999,99999/3000,/0/default.jpg", "9999,0,10,10/max/0/default.jpg", "full/601,/90/default.jpg",
        "full/max/0/gray.jpg", "pct:0,0,0,0/max/0/default.jpg", "0,0,10,10/11,/0/default.jpg", "full/,0/0/default.jpg",
        "full/^max/0/default.jpg", "full/1e3,/0/default.jpg", "0,0,1,1,1/max/0/default.jpg",
    ],
)  # fmt: skip
def test_what_is_not_done_is_refused(client: Client, made: Made, asked: str) -> None:
    assert client.get(f"{name(made.art)}/{asked}").status_code == 400


@pytest.mark.parametrize("odd", ["x", "~45", "~90x", "~f~0", "/../x", "~on~x", "%2e%2e"])
def test_odd_names_are_unknown(client: Client, made: Made, odd: str) -> None:
    assert client.get(f"{name(made.art)}{odd}/info.json").status_code == 404


# ---- whose is it ----------------------------------------------------------------------------------------------------


def test_no_path_shows_another_owners_piece_without_both_words(own: Made, config: Config) -> None:
    with own.home.database.write() as connection:
        scans.put_consignment(connection, "D", "/elsewhere", AT, False)
        guest = replace(own.scans["alone"], consignment="D", path="B01/guest.jpg", digest=own.sheet.digest)
        scans.add_scans(connection, [(guest, 1)], AT)
    client = Client(own.home, config)
    client.cookies.set("kinfold_laid_for", "D", domain=HOST)
    ours, theirs = own.sheet, own.art
    place = "left=0&top=0&width=50&height=50"
    withheld = [
        f"/picture/{theirs.digest}-1", f"/crop?part={theirs.digest}-1&{place}", f"{name(theirs)}/info.json",
        f"{name(theirs)}/{ALL}", f"{name(theirs, on=ours)}/{ALL}", f"{name(ours, on=theirs)}/{ALL}",
        f"/sharp/{theirs.digest}-1",
    ]  # fmt: skip
    shown = [f"/picture/{ours.digest}-1", f"{name(ours)}/{ALL}"]
    assert {client.get(a).status_code for a in shown} == {200}
    for address in withheld:
        answer = client.get(address)
        assert answer.status_code == 403 and "a piece of consignment C" in answer.text, address
    for permitted, status in ((("C",), 403), (("C", "D"), 200)):
        with own.home.database.write() as connection:
            for code in permitted:
                moves.permit(connection, code, True)
        assert {client.get(a).status_code for a in withheld} == {status}


# ---- from the scan itself -------------------------------------------------------------------------------------------


def scanned(folder: Path, picture: np.ndarray, working_px: int) -> tuple[Home, PartKey]:
    """A home with one received file that is really there; its working image is smaller than it."""
    (folder / "in").mkdir(parents=True)
    path = folder / "in/scan.tif"
    cv2.imwrite(str(path), picture)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    home = Home(folder / "home")
    written, scan = Written(home), received("B01/0001.tif", digest=digest)
    with home.database.write() as connection:
        scans.put_consignment(connection, "C", str(folder / "in"), AT, False)
        scans.add_scans(connection, [(replace(scan, path="scan.tif"), 1)], AT)
    written.run()
    high, wide = picture.shape[:2]
    factor = working_px / max(high, wide)
    working = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    box = Box(0, 0, wide, high)
    check = replace(checked(), width_px=wide, height_px=high, parts=(PartFound(1, 0, box),))
    written.looked(scan, (Rendered(box, *working.shape[1::-1], 1 / factor), classified("finished_sheet")), check=check)
    key = PartKey(digest, 1)
    data = cv2.imencode(".jpg", working, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    for made in ("working", "thumb"):
        write_whole(home.picture(key, made, STAMPS.stages["render"]), data)
    return home, key


def test_zooming_in_shows_the_scan_itself(tmp_path: Path, config: Config) -> None:
    """A line of one stored pixel is not in the working image; it is in the tiles once the pyramid is made."""
    picture = np.full((1500, 1000, 3), 230, np.uint8)
    picture[700, 200:800], picture[100:900, 333] = 10, 10
    home, key = scanned(tmp_path, picture, 300)
    client = Client(home, config)
    address = f"{name(key)}/128,512,512,512/512,512/0/default.jpg"
    soft = client.get(address)
    assert soft.headers["cache-control"] == "no-store"
    assert client.get(f"/sharp/{key.digest}-1").json() == {"sharp": True, "words": ""}
    sharp = read(client, address).astype(float)
    assert np.abs(sharp - picture[512:1024, 128:640].astype(float)).mean() < 1.5
    assert (
        sharp[700 - 512, 300].mean()
        < 90
        < 150
        < cv2.imdecode(np.frombuffer(soft.content, np.uint8), cv2.IMREAD_COLOR)[700 - 512, 300].mean()
    )
    turned = read(client, f"{name(key, '~90m')}/0,0,512,512/512,512/0/default.jpg").astype(float)
    assert np.abs(turned - np.rot90(picture[:, ::-1], -1)[:512, :512].astype(float)).mean() < 1.5
    home.database.close()


def test_a_scan_that_is_gone_or_another_one_now_is_said(tmp_path: Path, config: Config) -> None:
    home, key = scanned(tmp_path, painted(4), 300)
    (tmp_path / "in/scan.tif").write_bytes(b"another file")
    said = Client(home, config).get(f"/sharp/{key.digest}-1").json()
    assert said["sharp"] is False and "is not where it was" in said["words"]
    assert Client(home, config).get(f"{name(key)}/{ALL}").status_code == 200
    home.database.close()


def test_pyramids_stay_within_their_bound(tmp_path: Path, config: Config) -> None:
    noise = np.random.default_rng(5).integers(0, 255, (1400, 1400, 3)).astype(np.uint8)
    small = config.model_copy(update={"looking": config.looking.model_copy(update={"pyramids_mb": 6})})
    home, first = scanned(tmp_path / "a", noise, 200)
    client = Client(home, small)
    folder = home.folder / "pyramids"
    assert client.get(f"/sharp/{first.digest}-1").json()["sharp"]
    (made,) = folder.glob("*.tif")
    assert 5e6 < made.stat().st_size < 6e6
    older = folder / f"{'0' * 64}-1-0-0-0-1-1-256q90.tif"
    older.write_bytes(b"x" * 2_000_000)
    os.utime(older, (1, 1))
    made.unlink()
    assert client.get(f"/sharp/{first.digest}-1").json()["sharp"]
    assert [p.name for p in folder.iterdir()] == [made.name]
    home.database.close()


# ---- outside check --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, config: Config) -> Iterator[tuple[str, str]]:
    """A desk that holds the test picture of the validator, as a scan with a smaller working image."""
    path = importlib.resources.files("iiif_validator") / "validation_image.png"
    picture = cv2.imdecode(np.frombuffer(path.read_bytes(), np.uint8), cv2.IMREAD_COLOR)
    home, key = scanned(tmp_path_factory.mktemp("iiif"), picture, 500)
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        port = taken.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(home, config, HOST, port), HOST, port, log_level="error"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    outside.make_request(f"http://{HOST}:{port}/sharp/{key.digest}-1")
    yield f"http://{HOST}:{port}/iiif", f"{key.digest}-1"
    server.should_exit = True
    thread.join()
    home.database.close()


@pytest.fixture(scope="module", autouse=True)
def _no_page_asks() -> Iterator[None]:
    """The validator names a foreign page as the one that asks; such are refused here, so it asks as nobody."""
    before = dict(outside.HEADERS)
    outside.HEADERS.clear()
    yield
    outside.HEADERS.update(before)


def test_the_api_is_kept_by_the_validators_word(served: tuple[str, str]) -> None:
    """Every check of iiif-validator-ng 0.1.0 (IIIF Image API 3.0) that applies to what ``info.json`` promises."""
    base, identifier = served
    server = outside.TargetServer(base, identifier, outside.IIIFVersion.V3)
    promised = server.feature_set()
    assert promised.compliance_level is outside.ComplianceLevel.LEVEL_0
    failed, passed, run = [], 0, set()
    for check in outside.get_tests(outside.IIIFVersion.V3):
        level, extra = check.compliance_level, check.extra_name
        level = level[outside.IIIFVersion.V3] if isinstance(level, dict) else level
        names = {extra} if isinstance(extra, str) else set(extra or ())
        if level > promised.compliance_level and not names & set(promised.extra_features):
            continue
        said = check.run(server)
        run.add(check.name)
        for one in said if isinstance(said, list) else [said]:
            passed += one.success
            failed += [] if one.success else [(check.name, one)]
    assert failed == []
    assert passed > 40 and len(run) > 12


def test_for_the_difference_tones_are_those_of_what_lies_below(own: Made, config: Config) -> None:
    """The negative's positive, printed darker and yellower than the artwork: brought to its tones, little is left."""
    at = own.home.picture(own.negative, "positive", STAMPS.stages["classify"])
    shown = cv2.imread(str(at)) / 255
    darker = np.stack((0.6 * shown[..., 0], 0.8 * shown[..., 1] ** 1.3, 0.9 * shown[..., 2] ** 1.4), axis=2)
    write_whole(at, jpeg_bytes(np.round(255 * darker[..., ::-1]).astype(np.uint8), None))
    client = Client(own.home, config)
    below = read(client, f"{name(own.art)}/{ALL}").astype(int)
    over = [read(client, f"{name(own.negative, on=own.art)}{end}/{ALL}").astype(int) for end in ("", "~like")]
    plain, alike = (np.abs(picture - below).mean() for picture in over)
    assert plain > 25 and alike < 5
    assert client.get(f"{name(own.art)}~like/info.json").status_code == 404, "only what lies over something"
