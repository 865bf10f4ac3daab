"""Read all text of one part, and tell from it how the part lies."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from intake.config.read import ReadRules
from intake.imaging.lines import (
    Quad,
    carried,
    continues,
    cut_out,
    is_detail_of,
    lengthwise,
    lies_in,
    middle_of,
    orders_upright,
    runs_into,
    size_of,
    stitched,
    turn_of,
    widened,
    without_repeats,
)
from intake.imaging.page import Page
from intake.imaging.strips import margin_strips
from intake.model import FILM_KINDS, Box, Finding, Line, ReaderSaid, Reading
from intake.ocr.asking import Asking
from intake.ocr.frame import FRAME, SQUARE_PX, find_frames, letters_inside
from intake.ocr.protocol import Engines, Picture
from intake.ocr.roman import has_roman_year
from intake.ocr.text import TURNED, agree, engine_of, is_settled, plausibility, spaced_like, squeeze, weight_of

VERSION = 3
_MM_PER_INCH = 25.4
FRAME_ENLARGED = 1.5  # frames are looked for on the working image, made this much larger
_LONGEST_LABEL = 6
_HALF_SURE = 0.5
_LOOK_ALONG, _LOOK_ACROSS, _LOOK_PX = 8.0, 0.8, 80  # heights beside the line; 80 px keep letters of 30
_NEARLY = 0.5


@dataclass(frozen=True, slots=True)
class _Found:
    """A line with its crop and its first reading; ``aside``: what is drawn round it, or what it says turned round."""

    order: Quad
    crop: Picture
    said: ReaderSaid
    aside: ReaderSaid | None = None


def read(
    page: Page,
    picture: Picture,
    kind: str,
    polarity: str,
    engines: Engines,
    rules: ReadRules,
    ppi: float | None,
) -> Reading:
    """Find the lines of a part, find out which way they read, and read them.

    ``picture`` is the working image to look at, (h, w, 3) uint8: the positive of a negative, in the geometry of
    ``page.working``. ``polarity`` "negative" has crops of the original turned into positives. Lines have their corners
    in stored pixels, in the order in which they read. A reader named "frame" says what is drawn round a short line;
    one named "turned" what a line on end says the other way round, where that reads nearly as well.

    An engine that fails or hangs is a finding (reader_failed, reader_timeout) and costs its own readings alone. So is
    film whose text reads mirrored (emulsion_side).
    """
    asking = Asking(page.key.part, engines)
    if kind in rules.unread_kinds:
        return Reading((), 0, False, 0.0)
    crop = _positive_crop(page) if polarity == "negative" else page.crop
    quads = _find(page, picture, kind, crop, asking, rules, ppi)
    if len(quads) > rules.most_lines:
        asking.findings.append(_too_many(page.key.part, len(quads), rules.most_lines))
        quads = sorted(quads, key=lambda q: _from_margin(q, page.box))[: rules.most_lines]

    def take(order: Quad) -> Picture:
        return cut_out(order, crop, page.whole, rules.crop_height_px)

    rotation, mirrored, sure = _orient(quads, take, kind, page.box, asking, rules)
    if mirrored and kind in FILM_KINDS and sure >= _HALF_SURE:
        asking.findings.append(_emulsion_side(page.key.part))
    framed = _framed(page, picture, rotation, mirrored, crop, asking)
    quads = [q for q in quads if not any(lies_in(q, f.order) for f in framed)]
    found = _first_readings(quads, rotation, mirrored, take, asking)
    lettering = [f.order for f in found if f.said.confidence >= rules.lettering_confidence]
    found += [f for f in framed if not any(is_detail_of(f.order, line) for line in lettering)]
    lines = _second_readings(found, page.box, kind, asking, rules)
    kept = tuple(line for line in lines if line.confidence >= rules.least_confidence or line.agreed)
    return Reading(kept, rotation, mirrored, sure, tuple(asking.findings))


def _positive_crop(page: Page) -> Callable[[Box, int | None], Picture]:
    def crop(box: Box, longest_px: int | None = None) -> Picture:
        # The tone of a negative matters to no reader; only its mask's colour must not hide the letters.
        grey = 255 - cv2.cvtColor(page.crop(box, longest_px), cv2.COLOR_RGB2GRAY)
        low, high = np.percentile(grey, (1, 99))
        flat = np.clip((grey.astype(np.float32) - low) * (255 / max(1.0, high - low)), 0, 255).astype(np.uint8)
        return cv2.cvtColor(flat, cv2.COLOR_GRAY2RGB)

    return crop


def _find(
    page: Page,
    picture: Picture,
    kind: str,
    crop: Callable[[Box, int | None], Picture],
    asking: Asking,
    rules: ReadRules,
    ppi: float | None,
) -> list[Quad]:
    """Return the quads of all lines in stored pixels: the margins' first, then the whole's, each line once."""
    slight = kind in rules.slight_kinds
    longest = rules.slight_long_edge_px if slight else rules.long_edge_px
    shrink = min(1.0, longest / max(picture.shape[:2]))
    small = cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else picture
    to_stored = page.stored_per_working / shrink
    corner = np.array([page.box.left, page.box.top], np.float32)
    whole = [q * np.float32(to_stored) + corner for q in asking.find(small)]
    whole.sort(key=lambda q: -size_of(q)[0])
    if slight:
        return without_repeats(whole)

    depth = rules.strip_depth_by_kind.get(kind, rules.strip_depth_share)
    entire: list[Quad] = []
    cut: list[Quad] = []
    for strip in margin_strips(
        page.box,
        crop,
        max(1, round(min(page.box.width, page.box.height) * depth)),
        _strip_scale(page.box, kind, rules, ppi),
        rules.strip_megapixels * 1e6,
        rules.strips_megapixels * 1e6,
    ):
        for quad in asking.find(strip.picture):
            (cut if strip.is_cut(quad) else entire).append(strip.to_stored(quad))
    entire.sort(key=lambda q: -size_of(q)[0])
    found = without_repeats([*entire, *sorted([*whole, *stitched(cut, whole)], key=lambda q: -size_of(q)[0])])
    near = [q for q in found if _is_small_print(q, page.box, rules)][: rules.most_second_looks]
    longer = [_looked_at_again(q, found, crop, page.whole, asking) for q in near]
    longer.sort(key=lambda q: -size_of(q)[0])
    return without_repeats([*longer, *(q for q in found if not any(q is n for n in near))])


def _looked_at_again(
    quad: Quad, known: Sequence[Quad], crop: Callable[[Box, int | None], Picture], page: Box, asking: Asking
) -> Quad:
    """Return the line as it is seen when nothing but its own row is in view: beside large letters it breaks.

    Another line of those ``known`` on the same row stays a line by itself.
    """
    line = lengthwise(quad)[0]
    row = widened(line, _LOOK_ALONG, _LOOK_ACROSS)
    picture = cut_out(row, crop, page, _LOOK_PX)
    found = [carried(q, (picture.shape[1], picture.shape[0]), row) for q in asking.find(picture)]
    fitting = [q for q in found if continues(line, q) and not any(runs_into(line, q, other) for other in known)]
    return max([line, *fitting], key=lambda q: size_of(q)[0])


def _strip_scale(box: Box, kind: str, rules: ReadRules, ppi: float | None) -> float:
    native = max(box.width, box.height)
    wanted = (rules.film_strip_long_px if kind in FILM_KINDS else rules.strip_long_px) / native
    if ppi and kind not in FILM_KINDS:
        wanted = rules.strip_px_per_mm / (ppi / _MM_PER_INCH)
    return min(wanted, rules.strip_enlarge_most)


def _orient(
    quads: Sequence[Quad],
    take: Callable[[Quad], Picture],
    kind: str,
    box: Box,
    asking: Asking,
    rules: ReadRules,
) -> tuple[int, bool, float]:
    """Return (rotation, mirrored, confidence) by reading the best lines each of the four ways along their length.

    Confidence is 1 when the winner leads by the ratio of the rules, 0 when it does not lead, less for little text.
    """
    if kind in FILM_KINDS:
        edge = [q for q in quads if _from_margin(q, box) < rules.film_edge_share * min(box.width, box.height)]
        return _orient_film(quads, edge, take, asking, rules)
    return _vote(quads, take, asking, rules, kind not in rules.unmirrored_kinds)


def _orient_film(
    quads: Sequence[Quad],
    edge: Sequence[Quad],
    take: Callable[[Quad], Picture],
    asking: Asking,
    rules: ReadRules,
) -> tuple[int, bool, float]:
    """The maker's print along the edge tells whether film is mirrored, but not which way up its picture is."""
    inner = [q for q in quads if not any(q is e for e in edge)]
    rotation, mirrored, sure = _vote(inner, take, asking, rules)
    if sure > _HALF_SURE:
        return rotation, mirrored, sure
    _, edge_mirrored, edge_sure = _vote(edge, take, asking, rules)
    if edge_sure <= sure:
        return rotation, mirrored, sure
    return (rotation if sure and mirrored == edge_mirrored else 0), edge_mirrored, min(edge_sure, _HALF_SURE)


def _vote(
    quads: Sequence[Quad],
    take: Callable[[Quad], Picture],
    asking: Asking,
    rules: ReadRules,
    may_be_mirrored: bool = True,
) -> tuple[int, bool, float]:
    votes: dict[tuple[int, bool], float] = defaultdict(float)
    for quad in sorted(quads, key=_worth, reverse=True)[: rules.orientation_lines]:
        orders = [o for o in lengthwise(quad) if may_be_mirrored or not turn_of(o)[1]]
        orders = [middle_of(o, rules.orientation_length) for o in orders]
        for order, said in zip(orders, asking.read(asking.engines.first, [take(o) for o in orders]), strict=True):
            votes[turn_of(order)] += plausibility(said)
        first, second = _two_best(votes)
        if first >= 1.5 and first >= rules.orientation_ratio * second:
            break
    first, second = _two_best(votes)
    if first == 0:
        return 0, False, 0.0
    rotation, mirrored = max(votes, key=lambda way: (votes[way], not way[1], -way[0]))
    lead = (first / max(second, 1e-6) - 1) / (rules.orientation_ratio - 1)
    sure = round(min(1.0, lead) * min(1.0, first), 4)
    return (rotation, mirrored, sure) if sure >= rules.orientation_least else (0, False, sure)


def _worth(quad: Quad) -> float:
    """Return how well a line can tell the turn: long ones, of letters neither tiny nor of display size."""
    long, short = size_of(quad)
    return min(long / max(short, 1.0), 15.0) * min(short, 60.0)


def _two_best(votes: dict[tuple[int, bool], float]) -> tuple[float, float]:
    best = sorted(votes.values(), reverse=True)
    return (best[0] if best else 0.0), (best[1] if len(best) > 1 else 0.0)


def _first_readings(
    quads: Sequence[Quad],
    rotation: int,
    mirrored: bool,
    take: Callable[[Quad], Picture],
    asking: Asking,
) -> list[_Found]:
    """Read every line once; a line that stands on end is read both ways, and the likelier kept.

    The other is kept beside it where it reads nearly as well: 68/809 turned round is 608/89.
    """
    ways = [(number, order) for number, q in enumerate(quads) for order in orders_upright(q, rotation, mirrored)]
    crops = [take(order) for _, order in ways]
    read: dict[int, list[_Found]] = defaultdict(list)
    for (number, order), crop, said in zip(ways, crops, asking.read(asking.engines.first, crops), strict=True):
        read[number].append(_Found(order, crop, said))
    return [_likelier(found) for found in read.values()]


def _likelier(found: Sequence[_Found]) -> _Found:
    best, *others = sorted(found, key=lambda f: -plausibility(f.said))
    rival = others[0].said if others else None
    if rival is None or plausibility(rival) < _NEARLY * plausibility(best.said):
        return best
    return replace(best, aside=ReaderSaid(TURNED, rival.text, rival.confidence, rival.least))


def _framed(
    page: Page,
    picture: Picture,
    rotation: int,
    mirrored: bool,
    crop: Callable[[Box, int | None], Picture],
    asking: Asking,
) -> list[_Found]:
    """Read what stands in drawn frames; a frame with no short label in it is part of the picture."""
    corner = np.array([page.box.left, page.box.top], np.float32)
    frames = find_frames(picture, FRAME_ENLARGED)
    orders = [
        orders_upright(f.quad * np.float32(page.stored_per_working) + corner, rotation, mirrored)[0] for f in frames
    ]
    squares = [cv2.resize(cut_out(o, crop, page.whole, SQUARE_PX), (SQUARE_PX, SQUARE_PX)) for o in orders]
    lettered = [
        (order, inside, ReaderSaid(FRAME, frame.shape, frame.fit))
        for frame, order, square in zip(frames, orders, squares, strict=True)
        if (inside := letters_inside(square, frame.shape, frame.dark)) is not None
    ]
    readings = asking.read(asking.engines.first, [inside for _, inside, _ in lettered])
    return [
        _Found(order, inside, said, drawn)
        for (order, inside, drawn), said in zip(lettered, readings, strict=True)
        if 0 < len(squeeze(said.text)) <= _LONGEST_LABEL
    ]


def _second_readings(
    found: Sequence[_Found],
    box: Box,
    kind: str,
    asking: Asking,
    rules: ReadRules,
) -> list[Line]:
    asked = sorted(
        (i for i, f in enumerate(found) if _may_be_mark(f, box, kind, rules)),
        key=lambda i: _from_margin(found[i].order, box),
    )[: rules.most_second_readings]
    readings: dict[int, tuple[ReaderSaid, ...]] = {i: (found[i].said,) for i in asked}
    for reader in asking.engines.others:
        open_still = [
            i for i in asked if not is_settled(readings[i], rules.sure_letter) or has_roman_year(found[i].said.text)
        ]
        for i, said in zip(open_still, asking.read(reader, [found[i].crop for i in open_still]), strict=True):
            readings[i] = (*readings[i], said)
    return [_line(f, readings.get(i, (f.said,))) for i, f in enumerate(found)]


def _line(found: _Found, readers: tuple[ReaderSaid, ...]) -> Line:
    best = max(readers, key=lambda r: sum(weight_of(s) for s in readers if squeeze(s.text) == squeeze(r.text)))
    other = next((r for r in readers if engine_of(r) != engine_of(best)), None)
    text = spaced_like(best.text, other.text) if other is not None else best.text
    agreed = agree(readers)
    confidence = max(r.confidence for r in readers if squeeze(r.text) == squeeze(best.text))
    if found.aside is not None:
        readers = (*readers, found.aside)
    corners = tuple((round(float(x), 1), round(float(y), 1)) for x, y in found.order)
    return Line(corners, text, round(confidence, 4), agreed, readers)


def _is_small_print(quad: Quad, box: Box, rules: ReadRules) -> bool:
    """Tell whether the line is small and in the outer part of the sheet, where marks stand."""
    small = size_of(quad)[1] < rules.second_height_share * max(box.width, box.height)
    return small and _from_margin(quad, box) < rules.second_margin_share * min(box.width, box.height)


def _may_be_mark(found: _Found, box: Box, kind: str, rules: ReadRules) -> bool:
    bare = squeeze(found.said.text)
    if not bare or found.aside is not None:
        return bool(bare)
    small = size_of(found.order)[1] < rules.second_height_share * max(box.width, box.height)
    where = kind in rules.marked_anywhere_kinds or (
        _from_margin(found.order, box) < rules.second_margin_share * min(box.width, box.height)
    )
    return (small and (where or len(bare) <= 4)) or any(squeeze(word) in bare for word in rules.second_words)


def _from_margin(quad: Quad, box: Box) -> float:
    """Return the distance from the line's middle to the nearest edge of the part, in stored pixels."""
    x, y = quad.mean(axis=0) - np.array([box.left, box.top], np.float32)
    return float(min(x, y, box.width - x, box.height - y))


def _emulsion_side(part: int) -> Finding:
    message = (
        "Its text reads mirrored, as it does when film is scanned from its emulsion side. It is shown the right way "
        "round; if it is scanned again, lay its base towards the lens."
    )
    return Finding("read", "emulsion_side", "note", message, part)


def _too_many(part: int, found: int, most: int) -> Finding:
    message = f"{found} lines of text were found; the {most} nearest to the margins were read. Read the rest by eye."
    return Finding("read", "too_many_lines", "attention", message, part)
