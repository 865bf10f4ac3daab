"""Places where other words stand, told by what was read: text is compared as text."""

from collections.abc import Callable

from intake.config.differ import DifferRules
from intake.imaging.lettering import Line, under_polygons
from intake.imaging.regions import Found, tight
from intake.imaging.untold import Floats, Mask

_SAME_PLACE = 0.3  # of the smaller of two lines


def worded(
    flagged: Mask, score: Floats, inside: Mask, lines_a: list[Line], lines_b: list[Line],
    read_alike: Callable[[str, str], bool], rules: DifferRules,
) -> tuple[list[Found], Mask]:  # fmt: skip
    """Lines that read otherwise at one place, or stand on one of the two alone, and the cells left.

    Lines that read alike do not differ, whatever their ink looks like. Two readings that differ are believed where the
    pictures are not more alike than is usual, one alone where most of its place differs.
    """
    left = flagged.copy()
    found: list[Found] = []
    places = [[under_polygons([c], flagged.shape) & inside for _, c in lines] for lines in (lines_a, lines_b)]
    alone: list[set[int]] = [set(range(len(lines_a))), set(range(len(lines_b)))]
    differ: list[tuple[str, str, Mask]] = []
    for i, (text, here) in enumerate(lines_a):
        for j, (other, there) in enumerate(lines_b):
            one, two = places[0][i], places[1][j]
            if (here.max(axis=0) < there.min(axis=0)).any() or (there.max(axis=0) < here.min(axis=0)).any():
                continue
            if (one & two).sum() <= _SAME_PLACE * min(one.sum(), two.sum()):
                continue
            alone[0].discard(i)
            alone[1].discard(j)
            if read_alike(text, other):
                left &= ~(one | two)
            else:
                differ.append((text, other, one | two))
    for text, other, where in differ:
        if (where & left).any() and score[where].mean() >= rules.least_worded:
            _tell(found, left, where, f"“{text}” on the first, “{other}” on the second", rules)
    for lines, some, held, on in ((lines_a, alone[0], places[0], "first"), (lines_b, alone[1], places[1], "second")):
        for n in sorted(some):
            if (held[n] & left).sum() > rules.patch_held * held[n].sum():
                _tell(found, left, held[n], f"“{lines[n][0]}” on the {on} alone", rules)
    return found, left


def _tell(found: list[Found], left: Mask, where: Mask, reads: str, rules: DifferRules) -> None:
    cells = where & left
    box = tight(where, rules)
    found.append(Found("lettering", cells, box, box, rules.words["lettering"].format(reads=reads)))
    left &= ~where
