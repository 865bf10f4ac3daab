"""A back has the format of its front; one that no name joins to any is offered those of its size beside it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from intake.model import Measured, PartKey, Rendered
from intake.services.backs import fronts_for, is_lone_back
from intake.services.dossiers import Dossier, dossiers, dossiers_of
from intake.services.home import Home
from tests.made import FRAME, STAMPS, Written, classified, received

NONE = Measured(401.0, 547.0, "resolution tag", "", "no format known")
PETITE = Measured(400.0, 548.0, "resolution tag", "PETITE", "loosely", ("PETITE",))
UNKNOWN = Measured(None, None, "size unknown", "", "size unknown")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Home]:
    made = Home(tmp_path / "home")
    yield made
    made.database.close()


@pytest.mark.parametrize(("front", "stays"), [(NONE, False), (PETITE, True), (UNKNOWN, True), (None, True)])
def test_a_back_is_offered_what_its_front_is(home: Home, front: Measured | None, stays: bool) -> None:
    written = Written(home)
    face = received("B01/0003.jpg")
    back = received("B01/0003 v.jpg", piece="0003", side="verso")
    files = [face, back] if front else [back]
    written.consignment(*files)
    written.run()
    if front:
        written.looked(face, [Rendered(FRAME, 500, 750, 2.0), classified("artwork"), front])
    written.looked(back, [Rendered(FRAME, 500, 750, 2.0), classified("reverse"), PETITE])
    with home.database.read() as connection:
        alone = dossiers_of(connection, STAMPS, [PartKey(back.digest, 1)])[PartKey(back.digest, 1)]
        (among,) = [d for d in dossiers(connection, STAMPS) if d.scan.digest == back.digest]
    for d in (alone, among):
        assert d.measured is not None and d.measured.width_mm == 400.0, "its size stays"
        assert (d.measured.format, d.measured.candidates) == (("PETITE", ("PETITE",)) if stays else ("", ()))


def sheet(width: float, height: float) -> Measured:
    return Measured(width, height, "resolution tag", "", "no format known", width_off_mm=1.0, height_off_mm=1.0)


ONE, OTHER = sheet(686, 1016), sheet(508, 762)
# a box as a scanner numbered it: name, kind, size
BOX = (
    ("IMG_8", "finished_sheet", ONE),
    ("IMG_9", "reverse", sheet(1017, 685)),  # lay turned
    ("IMG_10", "finished_sheet", ONE),
    ("IMG_11", "film_negative", ONE),
    ("IMG_12", "finished_sheet", OTHER),
    ("IMG_13", "finished_sheet", sheet(400, 548)),
    ("IMG_14", "reverse", OTHER),
    ("IMG_15", "artwork", sheet(690, 1016)),
    ("IMG_16", "reverse", ONE),
    ("IMG_17", "reverse", UNKNOWN),
)


def box(home: Home, *extra: tuple[str, str, str, Measured]) -> dict[str, Dossier]:
    """The box above, looked at; ``extra`` are further (path, piece, side) with a size."""
    written = Written(home)
    given = [(received(f"B01/{name}.jpg", piece=name), kind, size) for name, kind, size in BOX]
    given += [
        (received(path, piece=piece, side=side), "reverse" if side == "verso" else "finished_sheet", size)
        for path, piece, side, size in extra
    ]
    written.consignment(*(file for file, _, _ in given))
    written.run()
    for file, kind, size in given:
        written.looked(file, [Rendered(FRAME, 500, 750, 2.0), classified(kind), size])
    with home.database.read() as connection:
        return {d.scan.path: d for d in dossiers(connection, STAMPS)}


def offered(known: dict[str, Dossier], name: str, joined: tuple[tuple[str, str], ...] = ()) -> dict[str, str]:
    return {f.name[1]: f.words for f in fronts_for(known[f"B01/{name}.jpg"], known.values(), joined)}


def test_a_back_is_offered_the_fronts_of_its_size_scanned_beside_it(home: Home) -> None:
    known = box(home)
    told = offered(known, "IMG_9")
    assert list(told) == ["IMG_8", "IMG_10"], "files are in the order of their numbers"
    assert told["IMG_8"].startswith("it was scanned right before, both are 686 × 1016 mm")
    assert "1 more of this box have that size too" in told["IMG_8"] and "prove nothing" in told["IMG_8"]
    assert offered(known, "IMG_9", (("B01", "IMG_8"),)).keys() == {"IMG_10"}, "the other has a back by a person's word"


def test_beside_nothing_of_its_size_only_one_that_stands_alone_is_offered(home: Home) -> None:
    known = box(home)
    (words,) = offered(known, "IMG_14").values()
    assert words.startswith("none else here has that size, both are 508 × 762 mm")
    assert offered(known, "IMG_16") == {}, "two are of its size and neither was scanned beside it"
    assert offered(known, "IMG_17") == {}, "order alone is no reason"
    assert offered(known, "IMG_8").keys() <= {"IMG_10"} and not is_lone_back([known["B01/IMG_8.jpg"]])


def test_a_front_with_a_back_of_its_name_is_offered_to_no_other(home: Home) -> None:
    known = box(home, ("B01/IMG_8 v.jpg", "IMG_8", "verso", ONE))
    assert "IMG_8" not in offered(known, "IMG_9")
