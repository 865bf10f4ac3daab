"""Box B04: proofs, separations, photographs and stills."""

from sample_batch import story
from sample_batch.desk import Desk
from sample_batch.photoprint import Caption
from sample_batch.states import STUDIO, salt_states
from sample_batch.verso import Back, Stamp

SHEET_NOTES = ("OK with corrs.", "14 Feb.")


def fill(desk: Desk) -> None:
    """Fill the box."""
    add, shoot = desk.add, desk.shoot
    printed = salt_states()[2]
    recipe = story.Proofed(desk.plans["salt-uk"], "Job No. 4471", SHEET_NOTES)
    piece = add("B04", 33, "printers_proof", recipe, "salt-a", edits=printed, description="Printer's proof, untrimmed")
    shoot(
        "B04/2026-014_B04_0033_front.jpg",
        piece,
        ppi=90,
        rotation=270,
        note="proof of the main family: signature painted out, other crop, untrimmed",
    )
    for number, ink in enumerate(("CYAN", "MAGENTA", "YELLOW"), start=34):
        piece = add(
            "B04",
            number,
            "separation",
            story.Separated(desk.plans["vardane-uk"], ink, "Job No. 2216", 190),
            "vardane",
            description=f"Separation, {ink.lower()}",
        )
        shoot(f"B04/2026-014_B04_{number:04d}_front.jpg", piece, ppi=120, quality=70, note="one ink on film")
    back = Back((STUDIO,), (("Orsola 8x10", 0.3, 0.6, 6),), (0.93, 0.92, 0.88), 0.0, 37)
    piece = add(
        "B04",
        37,
        "photographic_proof",
        story.PhotoProof(203, 254, story.Painted(300, 390, 16)),
        "orsola",
        description="Photograph of painting",
        sides=2,
        back=back,
    )
    shoot("B04/2026-014_B04_0037_front.jpg", piece, ppi=150)
    shoot("B04/2026-014_B04_0037_back.jpg", piece, side="verso", ppi=100)
    piece = add(
        "B04",
        38,
        "photographic_proof",
        story.PhotoProof(203, 254, story.Painted(430, 590, 26)),
        "salt-b",
        description="Photograph of painting, style B",
    )
    shoot("B04/2026-014_B04_0038_front.jpg", piece, ppi=150)
    caption = Caption("DUST OVER CALDERAY", "TESSARY INTERNATIONAL INC", "DC", "1961")
    for number in range(39, 45):
        loose = ("desert air adventure", 40 + number, 1.42)
        back = Back(
            (Stamp(("PRESS DEPT.", "NOT FOR SALE"), 0.4, 0.3, 3.4, "violet", 8),), (), (0.94, 0.93, 0.90), 0.0, number
        )
        piece = add(
            "B04",
            number,
            "still",
            story.StillOf(caption, number - 35),
            loose=loose,
            description=f"Still no. {number - 35}",
            format="us_still",
            sides=2 if number == 39 else 1,
            back=back,
        )
        shoot(
            f"B04/stills/2026-014_B04_{number:04d}_front.jpg",
            piece,
            ppi=130,
            note="set of stills with one border; deeper folder",
        )
        if number == 39:
            shoot(f"B04/stills/2026-014_B04_{number:04d}_back.jpg", piece, side="verso", ppi=100)
    recipe = story.Proofed(desk.plans["orbit-quad"], "Job No. 5527", ("A cert. to move?",))
    piece = add("B04", 45, "printers_proof", recipe, "orbit", description="Printer's proof of quad")
    shoot("B04/2026-014_B04_0045_front.jpg", piece, ppi=84)
    piece = add(
        "B04",
        46,
        "photograph",
        story.Snapshot(180, 240),
        loose=("harbour noir", 3, 0.75),
        description="Studio photograph, car at a quay",
    )
    shoot("B04/2026-014_B04_0046_front.jpg", piece, ppi=130, note="reference photograph, belongs to nothing")
    piece = add("B04", 47, "unknown", story.EmptyBed(300, 420), description="Colour guide on tissue")
    shoot(
        "B04/2026-014_B04_0047_front.jpg",
        piece,
        ppi=75,
        margin_mm=0,
        angle_deg=0.0,
        bed="white",
        noise=0.004,
        findings=("blank",),
        note="blank: nothing lay on the bed",
    )
    piece = add(
        "B04",
        48,
        "photographic_proof",
        story.PhotoProof(203, 254, story.Painted(420, 612, 24)),
        "valdorme",
        description="Photograph of painting, mountain film",
    )
    shoot(
        "B04/2026-014_B04_0048_front.jpg", piece, ppi=150, blur_mm=1.1, findings=("out_of_focus",), note="out of focus"
    )
