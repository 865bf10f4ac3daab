"""Box B02: sheets for Britain, America and Australia."""

import numpy as np

from sample_batch import codes
from sample_batch.art.design import Edits, Painting
from sample_batch.certificate import draw_certificate
from sample_batch.desk import Desk
from sample_batch.page import MM_PER_INCH
from sample_batch.sheet import SheetPlan, print_sheet
from sample_batch.states import salt_states
from sample_batch.story import Strip
from sample_batch.verso import Back, Stamp
from sample_batch.wear import Wear


def fill(desk: Desk) -> None:
    """Fill the box."""
    add, shoot, sheet = desk.add, desk.shoot, desk.sheet
    printed = salt_states()[2]
    eight = (2, 4)
    code_stamp = Stamp(
        ("64/118", "SALT MERIDIAN"), 0.78, 0.12, 6.5, "blue", 1.5, False, ((0, "release_code", "64/118"),)
    )
    piece = sheet(
        "B02",
        12,
        "salt-us-a",
        "salt-a",
        Wear(eight, 0.6, stains=0.4, fade=0.12, toning=0.5, seed=12),
        edits=printed,
        description="US one sheet, style A, folded",
        sides=2,
        back=Back((code_stamp,), (("1-sht A", 0.08, 0.08, 12),), seed=21),
    )
    shoot("B02/2026-014_B02_0012_front.jpg", piece, ppi=92, note="sheet of the main family, folded in eight")
    shoot("B02/2026-014_B02_0012_back.jpg", piece, side="verso", ppi=60, note="stamped distribution number on the back")
    back = Back((), (("style B - 3 copies", 0.3, 0.4, 12),), seed=22)
    piece = sheet(
        "B02",
        13,
        "salt-us-b",
        "salt-b",
        Wear((1, 3), 0.5, toning=0.3, seed=13),
        description="US one sheet, style B, folded in three",
        sides=2,
        back=back,
    )
    shoot(
        "B02/2026-014_B02_0013_front.jpg",
        piece,
        ppi=90,
        note="style B: shares title treatment and billing block only; folded in three",
    )
    shoot("B02/0013 back (2).jpg", piece, side="verso", ppi=60, note="name without box; back")
    back = Back(
        (Stamp(("RECEIVED", "22 SEP 1958"), 0.6, 0.2, 5, "violet", -6),), (("Vardane d/c", 0.15, 0.5, 9),), seed=23
    )
    piece = sheet(
        "B02",
        14,
        "vardane-uk",
        "vardane",
        Wear((2, 2), 0.5, pinholes=True, toning=0.5, seed=14),
        description="UK double crown",
        sides=2,
        back=back,
    )
    shoot(
        "B02/2026-014_B02_0014_front.jpg",
        piece,
        ppi=105,
        note="one of two countries' sheets of a b/w negative; pinholes",
    )
    shoot("B02/2026-014_B02_0014_back.jpg", piece, side="verso", ppi=75)
    shoot(
        "B02/2026-014_B02_0014_front (2).jpg",
        piece,
        ppi=95,
        exposure=0.93,
        warmth=0.02,
        angle_deg=0.9,
        findings=("re_scan",),
        note="re-scan of the same piece",
    )
    back = Back((Stamp(("61/204",), 0.8, 0.1, 6, "blue", 0, False, ((0, "release_code", "61/204"),)),), (), seed=24)
    piece = sheet(
        "B02",
        15,
        "calderay-us",
        "calderay",
        Wear(eight, 0.4, toning=0.3, seed=15),
        description="US one sheet",
        sides=2,
        back=back,
    )
    shoot("B02/B02-15r.jpg", piece, ppi=92)
    shoot("B02/B02-15v.jpg", piece, side="verso", ppi=60)
    piece = sheet(
        "B02",
        16,
        "calderay-us",
        "calderay",
        Wear(eight, 0.95, stains=0.9, fade=0.55, toning=0.8, pinholes=True, seed=16),
        description="US one sheet, second copy, poor",
    )
    shoot(
        "B02/2026-014_B02_0016_front.jpg",
        piece,
        ppi=92,
        rotation=90,
        note="second copy, faded and stained, on its side",
    )
    piece = sheet(
        "B02",
        17,
        "calderay-re",
        "calderay",
        Wear(eight, 0.3, toning=0.2, seed=17),
        description="US one sheet, re-issue",
        edits=Edits(brush=0),
    )
    shoot("B02/2026-014_B02_0017_front.jpg", piece, ppi=92, note="re-issue: R number, rating, panel, other tint")
    plan = desk.plans["orbit-quad"]
    pasted = _over_certificate(plan, "AA")
    back = Back((), (("re-cert. AA 1971", 0.6, 0.3, 12),), seed=25)
    piece = sheet(
        "B02",
        18,
        "orbit-quad",
        "orbit",
        Wear((4, 2), 0.5, toning=0.4, seed=18),
        description="UK quad, slip pasted on",
        sides=2,
        back=back,
        strips=(pasted,),
    )
    shoot("B02/2026-014_B02_0018_front.jpg", piece, ppi=86, note="later certificate pasted over an earlier one")
    shoot("B02/2026-014_B02_0018_back.jpg", piece, side="verso", ppi=60)
    piece = sheet(
        "B02", 19, "harrow-uk", "harrow", Wear(linen=True, toning=0.2, seed=19), description="UK one sheet, on linen"
    )
    shoot(
        "B02/2026-014_B02_0019_front.jpg", piece, ppi=92, note="linen-backed: the measure is the paper, not the linen"
    )
    piece = sheet(
        "B02",
        20,
        "orbit-daybill",
        "orbit-tall",
        Wear((1, 3), 0.5, toning=0.6, seed=20),
        description="Australian daybill",
    )
    shoot("B02/2026-014_B02_0020_front.jpg", piece, ppi=100)
    back = Back((Stamp(("HARBINEL FILMS", "GLASGOW OFFICE"), 0.5, 0.25, 3.6, "red", 5),), (), seed=26)
    piece = sheet(
        "B02",
        21,
        "orsola-uk",
        "orsola",
        Wear((1, 2), 0.6, toning=0.9, stains=0.3, seed=21),
        description="UK crown",
        sides=2,
        back=back,
        lpi=65.0,
    )
    shoot("B02/2026-014_B02_0021_front.jpg", piece, ppi=110)
    shoot("B02/2026-014_B02_0021_back.jpg", piece, side="verso", ppi=75)
    name = "B02/2026-014_B02_0021_detail.jpg"
    shoot(name, piece, side="detail", ppi=240, window=(0.28, 0.2, 0.62, 0.44), note="detail: a coarse screen")
    add("B02", 22, "finished_sheet", None, description="UK quad, railway film, folded")
    piece = sheet(
        "B02",
        58,
        "salt-insert",
        "salt-a",
        Wear((1, 3), 0.3, toning=0.3, seed=58),
        edits=printed,
        description="US insert",
    )
    shoot(
        "B02/2026-014_B02_0058_front.jpg", piece, ppi=100, form="cmyk_jpeg", quality=50, note="CMYK JPEG; another crop"
    )
    piece = sheet(
        "B02", 60, "valdorme-wc", "valdorme", Wear(toning=0.5, pinholes=True, seed=60), description="US window card"
    )
    shoot(
        "B02/2026-014_B02_0060_front.jpg",
        piece,
        ppi=110,
        tagged_ppi=False,
        findings=("no_resolution",),
        note="no ppi in the file: size unknown",
    )
    piece = sheet(
        "B02", 62, "valdorme-half", "valdorme", Wear((2, 2), 0.4, toning=0.3, seed=62), description="US half sheet"
    )
    shoot(
        "B02/2026-014_B02_0062_front.jpg",
        piece,
        ppi=90,
        rotation=90,
        exif_orientation=6,
        note="lies on its side, EXIF orientation says so",
    )


def _over_certificate(plan: SheetPlan, letter: str) -> Strip:
    """Return a slip with a later certificate that covers the plan's own."""
    page = print_sheet(plan, Painting(np.zeros((27, 36, 3), np.uint8), {}), MM_PER_INCH)
    left, top, right, bottom = next(m.box for m in page.marks if m.kind == "certificate")
    later = codes.uk_certificate(letter, "triangle", 3.8)
    high, wide = (side / 4 for side in draw_certificate(later, 4)[0].shape)
    high, wide = max(high, bottom - top) + 8, max(wide, right - left) + 8
    return Strip("strip", left - 4, (top + bottom - high) / 2, wide, high, certificate=later, angle_deg=-1.2)
