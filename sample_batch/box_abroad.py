"""Box B05: foreign sheets and papers, and what lay loose."""

from sample_batch import story
from sample_batch.art.design import Edits
from sample_batch.campaigns import HARROW
from sample_batch.desk import Desk
from sample_batch.states import pick
from sample_batch.verso import Back, Stamp
from sample_batch.wear import Wear


def fill(desk: Desk) -> None:
    """Fill the box."""
    add, shoot, sheet = desk.add, desk.shoot, desk.sheet
    back = Back((Stamp(("ARCHIV", "HAMBURG"), 0.7, 0.7, 5, "blue", -8),), (), seed=49)
    piece = sheet(
        "B05",
        49,
        "vardane-de",
        "vardane",
        Wear((2, 4), 0.4, toning=0.5, seed=49),
        description="German A1",
        sides=2,
        back=back,
    )
    shoot("B05/2026-014_B05_0049_front.jpg", piece, ppi=100, note="the other country's sheet of the b/w negative")
    shoot("B05/2026-014_B05_0049_back.jpg", piece, side="verso", ppi=60)
    piece = sheet(
        "B05", 50, "calderay-it", "calderay", Wear((1, 2), 0.5, toning=0.4, seed=50), description="Italian locandina"
    )
    shoot("B05/2026-014_B05_0050_front.jpg", piece, ppi=110)
    shoot(
        "B05/from second disc/2026-014_B05_0050_front.jpg",
        piece,
        ppi=110,
        same_as="B05/2026-014_B05_0050_front.jpg",
        findings=("duplicate_file",),
        note="exact copy of a file in a deeper folder",
    )
    back = Back((), (("Fenêtres - 2 ex.", 0.2, 0.4, 9),), seed=51)
    piece = sheet(
        "B05",
        51,
        "harrow-fr",
        "harrow",
        Wear((2, 2), 0.5, toning=0.3, seed=51),
        description="French moyenne",
        sides=2,
        back=back,
    )
    shoot("B05/2026-014_B05_0051_front.jpg", piece, ppi=100)
    shoot("B05/2026-014_B05_0051_back.jpg", piece, side="verso", ppi=60)
    piece = sheet(
        "B05",
        52,
        "harrow-es",
        "harrow-es",
        Wear((2, 2), 0.4, toning=0.5, stains=0.3, seed=52),
        description="Spanish sheet",
    )
    shoot("B05/2026-014_B05_0052_front.jpg", piece, ppi=90)
    piece = sheet(
        "B05",
        53,
        "montarello-2f",
        "montarello",
        Wear((2, 4), 0.5, toning=0.3, seed=53),
        description="Italian due fogli",
    )
    shoot(
        "B05/2026-014_B05_0053_front_p01.jpg",
        piece,
        ppi=80,
        window=(0.0, 0.0, 1.0, 0.56),
        note="upper half of a sheet photographed in two overlapping halves",
    )
    shoot(
        "B05/2026-014_B05_0053_front_p02.jpg",
        piece,
        ppi=80,
        window=(0.0, 0.44, 1.0, 1.0),
        exposure=0.96,
        note="lower half",
    )
    house = pick("harrow", "building")
    piece = sheet(
        "B05",
        54,
        "harrow-reprint",
        "harrow",
        Wear((2, 4), 0.55, printed_folds=True, toning=0.0, seed=54),
        gloss=1.0,
        edits=Edits(redraw=(house,)),
        description="One sheet, rolled, bright",
    )
    shoot(
        "B05/2026-014_B05_0054_front.jpg",
        piece,
        ppi=96,
        note="later reproduction: perfect marks, printed-in folds, 24x36 in, one changed detail",
    )
    letter = (
        "ASTERLY & KNOWE, ADVERTISING",
        "",
        "job|REF. 6120",
        "",
        "Dear Mr. Crane,",
        "",
        "The Harrowgarth painting went to the printer on",
        "Tuesday. He asks for the windows to be brighter",
        "and for the lettering on a separate board.",
        "",
        "Please let me have the second rough by Friday.",
        "",
        "Yours sincerely,",
        "",
        "p.p. Studio",
    )
    back = Back((), (("file under H", 0.5, 0.5, 7),), (0.93, 0.92, 0.86), 0.10, 55)
    piece = add(
        "B05",
        55,
        "document",
        story.TypedPage(203, 254, "Asterly & Knowe", letter),
        description="Letter to studio",
        sides=2,
        back=back,
    )
    shoot("B05/2026-014_B05_0055_front.jpg", piece, ppi=120, bed="black")
    shoot("B05/2026-014_B05_0055_back.jpg", piece, side="verso", ppi=90)
    columns = tuple(
        (
            "Exhibitors will find that this picture sells itself",
            "on the strength of its mountain scenes alone.",
            "Use the rope in your foyer. Ask your ironmonger",
            "for a window. Run a contest for the best knot.",
            "Post early, post high, and post again.",
            "",
        )[n % 6]
        for n in range(60)
    )
    piece = add(
        "B05",
        56,
        "printed_matter",
        story.TypedPage(254, 355, "SELLING THE PICTURE", columns, 2, True),
        loose=("alpine rescue", 21, 1.9),
        description="Page of a campaign book",
    )
    shoot("B05/2026-014_B05_0056_front.jpg", piece, ppi=110, bed="black")
    piece = add(
        "B05",
        57,
        "photographic_proof",
        story.PhotoProof(203, 254, story.Painted(420, 580, 24)),
        "harrow-es",
        description="Photograph of painting, Spanish design",
    )
    shoot("B05/2026-014_B05_0057_front.jpg", piece, ppi=150, bed="white")
    title = HARROW.title
    piece = add(
        "B05",
        "Entwurf für Grünwald – vorn",
        "rough",
        story.Roughed(210, 297, title),
        loose=("haunted house", 6, 0.7),
        listed=False,
        description="Rough, not on the list",
    )
    shoot(
        "B05/Entwurf für Grünwald – vorn.JPG",
        piece,
        ppi=120,
        bed="white",
        note="spaces, umlauts, dash and upper-case ending; not on the list",
    )
    piece = add("unboxed", "Target 9 March", "target", story.TargetCard(), listed=False)
    shoot("Target 9 March.jpg", piece, ppi=120, bed="black", note="loose file at the top: the house's colour target")
