"""Letters in drawn frames."""

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw

from intake.ocr.frame import SQUARE_PX, find_frames, letters_inside
from tests.ocr.pictures import Picture, font


def framed(
    shape: str, letters: str, ink: int, ground: int, at: tuple[int, int] = (300, 420), side: int = 44
) -> Picture:
    picture = Image.new("RGB", (900, 1300), (ground,) * 3)
    draw = ImageDraw.Draw(picture)
    x, y = at
    corners = (x - side // 2, y - side // 2, x + side // 2, y + side // 2)
    if shape == "circle":
        draw.ellipse(corners, outline=(ink,) * 3, width=4)
    elif shape == "box":
        draw.rectangle(corners, outline=(ink,) * 3, width=4)
    else:
        draw.polygon([(x, corners[1]), (corners[2], corners[3]), (corners[0], corners[3])], outline=(ink,) * 3, width=4)
    drop = side // 6 if shape == "triangle" else 0
    draw.text((x, y + drop), letters, font=font(20 if shape == "triangle" else 24), fill=(ink,) * 3, anchor="mm")
    return np.asarray(picture)


@pytest.mark.parametrize("shape", ["circle", "box", "triangle"])
@pytest.mark.parametrize(("ink", "ground"), [(20, 230), (240, 60)])
def test_a_drawn_frame_is_found_with_its_shape(shape: str, ink: int, ground: int) -> None:
    frames = find_frames(framed(shape, "A", ink, ground), 1.5)
    best = frames[0]
    assert (best.shape, best.dark) == (shape, ink < ground)
    assert len(frames) == 1
    assert np.abs(best.quad.mean(axis=0) - (300, 420)).max() < 6


@pytest.mark.parametrize("picture", [np.full((400, 400, 3), 90, np.uint8), np.zeros((1, 1, 3), np.uint8)])
def test_blank_pictures_have_no_frames(picture: Picture) -> None:
    assert find_frames(picture) == []


def test_a_full_disc_and_a_letter_alone_are_no_frames() -> None:
    picture = framed("circle", "", 230, 230)
    cv2.circle(picture := picture.copy(), (300, 420), 22, (20, 20, 20), -1)
    cv2.putText(picture, "X", (600, 800), cv2.FONT_HERSHEY_SIMPLEX, 1.2, (20, 20, 20), 3)
    assert find_frames(picture, 1.5) == []


@pytest.mark.parametrize("shape", ["circle", "box", "triangle"])
def test_the_frame_is_painted_over_and_the_letter_stays(shape: str) -> None:
    picture = framed(shape, "A", 20, 230)
    square = cv2.resize(picture[398:442, 278:322], (SQUARE_PX, SQUARE_PX))
    inside = letters_inside(square, shape, True)
    assert inside is not None
    grey = cv2.cvtColor(inside, cv2.COLOR_RGB2GRAY)
    border = np.concatenate([grey[0], grey[-1], grey[:, 0], grey[:, -1]])
    assert border.min() > 150  # nothing dark at the rim: the frame is gone
    assert (grey < 100).sum() > 60  # the letter is there


@pytest.mark.parametrize("shape", ["circle", "box", "triangle"])
def test_an_empty_frame_has_nothing_inside(shape: str) -> None:
    picture = framed(shape, "", 20, 230)
    square = cv2.resize(picture[398:442, 278:322], (SQUARE_PX, SQUARE_PX))
    assert find_frames(picture, 1.5) == []
    assert letters_inside(square, shape, True) is None


def test_thousands_of_shapes_are_bounded() -> None:
    picture = np.full((1500, 1500, 3), 235, np.uint8)
    for y in range(30, 1470, 40):
        for x in range(30, 1470, 40):
            cv2.circle(picture, (x, y), 14, (20, 20, 20), 2)
    assert len(find_frames(picture, 1.5)) <= 16
