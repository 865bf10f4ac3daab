"""Collecting an invented consignment: pieces into boxes, and the scans made of them."""

from sample_batch import story
from sample_batch.campaigns import sheet_plans
from sample_batch.files import Delivery
from sample_batch.layouts import SIZES
from sample_batch.light import seeded
from sample_batch.scanner import Setting
from sample_batch.story import Piece, Shot
from sample_batch.wear import Wear


class Desk:
    """Collects pieces and shots in the order in which the boxes were unpacked."""

    def __init__(self) -> None:
        self.pieces: list[Piece] = []
        self.shots: list[Shot] = []
        self.plans = sheet_plans()

    def add(
        self, box: str, number: int | str, kind: str, recipe: story.Recipe | None, design: str = "", **more: object
    ) -> Piece:
        """Put a piece into its box."""
        name = f"{number:04d}" if isinstance(number, int) else number
        seed = more.pop("seed", None) or int("".join(c for c in name if c.isdigit()) or 9000) + 100
        piece = Piece(box, name, kind, recipe, design, seed=seed, **more)  # type: ignore[arg-type]
        self.pieces.append(piece)
        return piece

    def sheet(self, box: str, number: int, plan: str, design: str, wear: Wear, **more: object) -> Piece:
        """Put a finished sheet into its box."""
        made: dict[str, object] = {n: more.pop(n) for n in ("gloss", "strips", "lpi") if n in more}
        size = next((s for s, mm in SIZES.items() if mm == (self.plans[plan].width_mm, self.plans[plan].height_mm)), "")
        known = "" if size == "reprint" else size
        recipe = story.Printed(self.plans[plan], wear, **made)  # type: ignore[arg-type]
        return self.add(box, number, "finished_sheet", recipe, design, format=known, **more)

    def shoot(self, path: str, *pieces: Piece, side: str = "recto", ppi: float = 100.0, **more: object) -> None:
        """Scan pieces into a file; what is not said of the bed follows from the kind of the first piece."""
        delivery = {n: more.pop(n) for n in ("form", "quality", "tagged_ppi", "keep", "exif_orientation") if n in more}
        rest = {n: more.pop(n) for n in ("same_as", "findings", "note") if n in more}
        first = pieces[0]
        rng = seeded(len(self.shots), "shot")
        flat = first.kind in ("finished_sheet", "printers_proof")
        film = first.kind in ("film_negative", "film_transparency", "glass_negative", "separation") and side != "verso"
        bed: dict[str, object] = {
            "bed": "lamp" if film else "grey" if flat else "black",
            "margin_mm": 5.0 if film else 12.0,
        }
        bed |= {"angle_deg": round(float(rng.uniform(-0.6, 0.6)), 3), "seed": len(self.shots) + 1}
        bed |= {"exposure": round(float(rng.uniform(0.97, 1.02)), 3), "noise": 0.002}
        day, hour = divmod(len(self.shots), 30)
        taken = f"2026:03:{9 + day:02d} {9 + hour // 4:02d}:{len(self.shots) * 7 % 60:02d}:12"
        setting = Setting(**(bed | more))  # type: ignore[arg-type]
        kept = Delivery(**({"taken_at": taken, "stand": flat, "quality": 69} | delivery))  # type: ignore[arg-type]
        self.shots.append(Shot(path, tuple(p.code for p in pieces), side, ppi, setting, kept, **rest))  # type: ignore[arg-type]
