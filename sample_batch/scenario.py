"""The sample's own story, consignment 2026-014 of an invented agency.

Paintings lie in B01, sheets for Britain and America in B02, film in B03, proofs and stills in B04, foreign sheets and
papers in B05. README.md says what each oddity is for.
"""

from itertools import combinations, product

from sample_batch import box_abroad, box_films, box_paintings, box_proofs, box_sheets
from sample_batch.campaigns import DESIGNS
from sample_batch.desk import Desk
from sample_batch.story import Consignment

CODE = "2026-014"
# Some of everything, for tests with faults: a family across kinds, a cut file, a copy, four parts, a blank.
SMALL = (
    "B01/2026-014_B01_0001_front.jpg",
    "B02/2026-014_B02_0012_back.jpg",
    "B02/2026-014_B02_0020_front.jpg",
    "B01/2026-014_B01_0005_front.jpg",
    "B03/2026-014_B03_0023_front.tif",
    "B03/2026-014_B03_0026_front.jpg",
    "B03/2026-014_B03_0029_front.jpg",
    "B03/2026-014_B03_0032_front.tif",
    "B04/2026-014_B04_0033_front.jpg",
    "B04/2026-014_B04_0047_front.jpg",
    "B05/2026-014_B05_0050_front.jpg",
    "B05/from second disc/2026-014_B05_0050_front.jpg",
)


def sample() -> Consignment:
    """Return the whole sample."""
    desk = Desk()
    box_paintings.fill(desk)
    box_sheets.fill(desk)
    box_films.fill(desk)
    box_proofs.fill(desk)
    box_abroad.fill(desk)
    return Consignment(CODE, DESIGNS, tuple(desk.pieces), tuple(desk.shots), tuple(_kin()))


def _kin() -> list[tuple[str, str]]:
    """Pieces that share a title treatment, a billing block or a border, and no picture."""
    pairs = list(product(("B02-0012", "B02-0058", "B04-0033"), ("B02-0013",)))
    pairs += product(("B02-0018", "B04-0045"), ("B02-0020", "B01-0008"))
    pairs += product(("B01-0007",), ("B02-0019", "B05-0054"))
    pairs += combinations([f"B04-{n:04d}" for n in range(39, 45)], 2)
    return pairs
