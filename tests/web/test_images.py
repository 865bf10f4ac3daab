"""Pictures come upright, and cut, whatever way the scan lay."""

import cv2
import numpy as np
import pytest

from intake.services import views
from tests.web.hand import SCALE, Client, Made, painted


def read(client: Client, address: str) -> np.ndarray:
    answer = client.get(address)
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/jpeg"
    return cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_COLOR)


def close(a: np.ndarray, b: np.ndarray) -> float:
    """Mean absolute difference in grey levels, at the size of the smaller."""
    assert a.shape[0] / a.shape[1] == pytest.approx(b.shape[0] / b.shape[1], rel=0.01)
    small, large = sorted((a, b), key=lambda picture: picture.size)
    a, b = small, cv2.resize(large, small.shape[1::-1], interpolation=cv2.INTER_AREA)
    return float(np.abs(a.astype(float) - b.astype(float)).mean())


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("mirror", [0, 1])
def test_a_picture_is_mirrored_then_turned_clockwise(client: Client, made: Made, turn: int, mirror: int) -> None:
    shown = read(client, f"/picture/{made.art.digest}-1?turn={turn}&mirror={mirror}")
    expected = painted(1)[:, ::-1] if mirror else painted(1)
    assert close(shown, np.rot90(expected, -turn // 90)) < 6


def test_a_negative_is_shown_as_a_positive_and_the_film_as_it_is(client: Client, made: Made) -> None:
    name = f"/picture/{made.negative.digest}-1?mirror=1"
    assert close(read(client, f"{name}&positive=1"), painted(1)) < 6
    assert close(read(client, name), 255 - painted(1)) < 6
    assert max(read(client, f"{name}&positive=1&size=thumb").shape) == 360


def test_a_crop_is_the_marks_place_with_a_margin(client: Client, made: Made) -> None:
    view = views.family_view(made.home, client.config, views.family_holding(made.home, [made.sheet]))
    member = view.member(made.sheet) if view else None
    assert member is not None
    box = member.marks[0].mark.box
    place = "&".join(f"{n}={v}" for n, v in box._asdict().items())
    shown = read(client, f"/crop?part={made.sheet.digest}-1&{place}")
    assert shown.shape[1] / shown.shape[0] == pytest.approx((box.width + 62) / (box.height + 62), rel=0.1)
    assert shown.shape[1] == pytest.approx((box.width + 62) / SCALE, abs=3)
    x0, y0 = round((box.left - 31) / SCALE), round((box.top - 31) / SCALE)
    expected = painted(1)[y0 : y0 + shown.shape[0], x0 : x0 + shown.shape[1]]
    assert close(shown[: expected.shape[0]], expected[: shown.shape[0]]) < 25
    outside = "left=900000&top=900000&width=10&height=10"
    assert client.get(f"/crop?part={made.sheet.digest}-1&{outside}").status_code == 404
