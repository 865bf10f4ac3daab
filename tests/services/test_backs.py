"""A back has the format of its front: that of a painting has none, though its size comes near one."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from intake.model import Measured, PartKey, Rendered
from intake.services.dossiers import dossiers, dossiers_of
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
