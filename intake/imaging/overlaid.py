"""Strips and patches that lie over the one picture and not over the other."""

from intake.config.differ import DifferRules
from intake.imaging.lettering import Line, texts_in
from intake.imaging.patches import even_within, evenness, patches, strips
from intake.imaging.regions import Found, cells_in, components, tight
from intake.imaging.untold import Floats, FrameBox, Ground, Mask

_MOST_OF = 0.4


def patched(
    ground: Ground, flagged: Mask, score: Floats, lines_a: list[Line], lines_b: list[Line],
    rules: DifferRules,
) -> tuple[list[Found], Mask]:  # fmt: skip
    """Patches of one ground that lie over the one picture and not over the other, and the cells left."""
    found: list[Found] = []
    left = flagged.copy()
    for cells in components(left, score, rules):
        box = tight(cells, rules)
        for picture, other, on, lines in (
            (ground.over.b, ground.over.a, "the second", lines_b),
            (ground.over.a, ground.over.b, "the first", lines_a),
        ):
            for patch in patches(picture, cells, box, even_within(picture, rules), rules):
                even = evenness(other, patch.box, even_within(other, rules))
                under = cells_in(patch.box, cells.shape, rules.window_px // 2) & left
                if patch.even < even + 0.1 or under.sum() < rules.least_cells:
                    continue
                read = texts_in(lines, patch.box)
                if patch.long >= rules.strip_long:
                    words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
                    found.append(Found("pasted", under, patch.box, patch.box, words))
                elif patch.even >= rules.even:
                    where = patch.box
                    if under.sum() >= _MOST_OF * cells.sum():  # the rest of the place is its rim
                        under, where = cells & left, _around(patch.box, box)
                    found.append(Found("covered", under, where, where, rules.words["covered"].format(on=on)))
                else:
                    continue
                left &= ~under
    return found, left


def stripped(
    ground: Ground, flagged: Mask, lines_a: list[Line], lines_b: list[Line],
    rules: DifferRules,
) -> tuple[list[Found], Mask]:  # fmt: skip
    """Even bands between straight cuts that lie over the one picture and not over the other, and the cells left."""
    found: list[Found] = []
    left = flagged.copy()
    for picture, other, on, lines in (
        (ground.sharp.b, ground.sharp.a, "the second", lines_b),
        (ground.sharp.a, ground.sharp.b, "the first", lines_a),
    ):
        levels, others = even_within(picture, rules), even_within(other, rules)
        for box in strips(picture, levels, rules):
            core = cells_in(box, flagged.shape, 0) & ground.inside
            under = cells_in(box, flagged.shape, rules.window_px // 2) & left
            if under.sum() < rules.least_cells or not core.any():
                continue
            # a cut band need not differ all over where it alone is even, nor be the evener one where all of it differs
            differs = float((core & left).sum() / core.sum())
            evener = evenness(picture, box, levels) - evenness(other, box, others)
            if differs < rules.strip_seen or differs + evener < rules.strip_told:
                continue
            read = texts_in(lines, box)
            words = rules.words["pasted"].format(on=on, reads=f", reads “{read}”" if read else "")
            found.append(Found("pasted", under, box, box, words))
            left &= ~under
    return found, left


def _around(one: FrameBox, other: FrameBox) -> FrameBox:
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])
