"""Box B01: paintings, a rough, lettering and a paste-up."""

from sample_batch import story
from sample_batch.campaigns import HARROW, ORBIT
from sample_batch.desk import Desk
from sample_batch.states import STUDIO, salt_states
from sample_batch.story import Strip
from sample_batch.verso import Back, Stamp


def fill(desk: Desk) -> None:
    """Fill the box."""
    add, shoot = desk.add, desk.shoot
    _, repainted, _ = salt_states()
    patch = Strip("strip", 96, 548, 232, 30, (0.90, 0.87, 0.78), "TITLE TO DROP IN HERE", 0.8)
    back = Back(
        (STUDIO,),
        (("Salt Meridian - final", 0.2, 0.62, 11), ("plate 4, hold", 0.5, 0.7, 9)),
        (0.78, 0.74, 0.66),
        0.0,
        11,
    )
    art = add(
        "B01",
        1,
        "artwork",
        story.Painted(440, 602, 30, ("hold for plate", "crop to pencil"), "JOB NO. 4471", (patch,)),
        "salt-a",
        edits=repainted,
        description="Painting on board, submarine film, strip pasted on",
        sides=2,
        back=back,
    )
    shoot(
        "B01/2026-014_B01_0001_front.jpg", art, ppi=110, note="artwork of the main family, repainted, strip pasted over"
    )
    shoot("B01/2026-014_B01_0001_back.jpg", art, side="verso", ppi=60, note="back with stamp and pencil")
    art = add(
        "B01",
        2,
        "artwork",
        story.Painted(430, 590, 26, ("style B",)),
        "salt-b",
        description="Painting on board, style B",
    )
    shoot(
        "B01/2026-014_B01_0002_front.jpg",
        art,
        ppi=105,
        rotation=180,
        note="second design with artwork and sheet, upside down",
    )
    back = Back(
        (Stamp(("JOB NO. 3908", "ART DEPT."), 0.7, 0.2, 4.5, "red", -4, True, ((0, "job", "3908"),)),),
        (),
        (0.80, 0.76, 0.68),
        0.0,
        13,
    )
    art = add(
        "B01",
        3,
        "artwork",
        story.Painted(400, 548, 24, (), "JOB NO. 3908"),
        "calderay",
        description="Painting, flyers",
        sides=2,
        back=back,
    )
    shoot("B01/B01-3r.jpg", art, ppi=100, note="short name of the same house")
    shoot("B01/B01-3v.jpg", art, side="verso", ppi=60, note="back with a job number")
    piece = add(
        "B01", 4, "rough", story.Roughed(420, 310, ORBIT.title), "orbit", description="Felt-pen rough, space film"
    )
    shoot("B01/2026-014_B01_0004_front.jpg", piece, ppi=105, bed="white", note="rough of the quad")
    art = add("B01", 5, "artwork", story.Painted(380, 586, 22), "orbit-tall", description="Painting, tall, space film")
    shoot("B01/2026-014_B01_0005_front.jpg", art, ppi=100)
    art = add(
        "B01",
        6,
        "artwork",
        story.Painted(500, 380, 24, ("not used",)),
        loose=("jungle river", 4, 1.36),
        description="Painting, river boat, film unknown",
    )
    shoot("B01/2026-014_B01_0006_front.jpg", art, ppi=95, note="artwork that belongs to nothing")
    piece = add(
        "B01",
        7,
        "lettering",
        story.Lettered(420, 240, HARROW.title, "JOB NO. 6120"),
        description="Drawn title lettering",
    )
    shoot(
        "B01/2026-014_B01_0007_front.TIF",
        piece,
        ppi=110,
        bed="white",
        form="grey8",
        note="lettering alone; upper-case ending",
    )
    plan = desk.plans["orbit-daybill"]
    piece = add(
        "B01",
        8,
        "paste_up",
        story.PastedUp(plan, 230, "JOB NO. 5527"),
        "orbit-tall",
        description="Paste-up for daybill",
    )
    shoot("B01/2026-014_B01_0008_front.jpg", piece, ppi=110, bed="white")
    add(
        "B01",
        9,
        "artwork",
        None,
        held=True,
        why="oversize: framed under glass, 150 x 210 cm",
        description="Large framed painting",
    )
    art = add(
        "B01",
        10,
        "artwork",
        story.Painted(420, 612, 24, ("for window card",)),
        "valdorme",
        description="Painting, mountain film",
    )
    shoot("B01/2026-014_B01_0010_front.jpg", art, ppi=100, warmth=0.012)
    shoot(
        "B01/2026-014_B01_0010_detail.jpg",
        art,
        side="detail",
        ppi=220,
        window=(0.5, 0.62, 0.98, 0.98),
        note="detail of the lower right corner at a higher resolution",
    )
    art = add(
        "B01",
        11,
        "artwork",
        story.Painted(420, 575, 24, ("Harrowgarth", "type below"), "JOB NO. 6120"),
        "harrow",
        description="Painting, ghost film",
    )
    shoot("B01/2026-014_B01_0011_front.jpg", art, ppi=105)
