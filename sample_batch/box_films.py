"""Box B03: film and glass."""

from sample_batch import story
from sample_batch.desk import Desk
from sample_batch.film import Film
from sample_batch.states import salt_states


def fill(desk: Desk) -> None:
    """Fill the box."""
    add, shoot = desk.add, desk.shoot
    first, _, _ = salt_states()
    sheet_film = (100.0, 125.4, (3.2, 4.6))
    board = story.Painted(440, 602, 30)
    film = Film("colour", *sheet_film, "SAFETY FILM KV 7314", "SAFETY", True, 23)
    piece = add(
        "B03",
        23,
        "film_negative",
        story.Copied(film, board),
        "salt-a",
        edits=first,
        description="Colour copy negative 4x5",
    )
    shoot(
        "B03/2026-014_B03_0023_front.tif",
        piece,
        ppi=200,
        mirrored=True,
        form="tiff16_deflate",
        note="mirrored colour copy negative of the first state, 16 bits",
    )
    film = Film("mono", 126, 177, (4, 5), "TARVEL PAN SAFETY 41", "SAFETY", True, 24)
    piece = add(
        "B03",
        24,
        "film_negative",
        story.Copied(film, story.Painted(380, 525, 22), air_mm=(20, 20)),
        "vardane",
        description="B/w negative 5x7",
    )
    shoot(
        "B03/2026-014_B03_0024_front.tif",
        piece,
        ppi=180,
        form="grey16",
        note="b/w negative whose sheet exists in two countries' formats",
    )
    film = Film("plate", 120.6, 165.1, (2.5, 2.5), seed=25)
    piece = add(
        "B03",
        25,
        "glass_negative",
        story.Copied(film, story.Painted(300, 390, 16), (0.6, 0.6, 0.58), (14, 14)),
        "orsola",
        description="Half plate, glass",
    )
    shoot("B03/2026-014_B03_0025_front.tif", piece, ppi=220, form="grey8", mirrored=True, note="glass plate")
    film = Film("mono", 61.5, 92, (2.6, 3.5), "NITRATE 2206", "NITRATE", False, 26)
    piece = add(
        "B03",
        26,
        "film_negative",
        story.Copied(film, story.Painted(300, 390, 16), air_mm=(25, 25)),
        "orsola",
        description="Roll-film negative 6x9",
    )
    shoot(
        "B03/2026-014_B03_0026_front.jpg",
        piece,
        ppi=400,
        findings=("possible_nitrate",),
        note="the word NITRATE on the edge: hazard",
    )
    film = Film("transparency", *sheet_film, "SAFETY 6142", "SAFETY", True, 27, 0.3)
    piece = add(
        "B03",
        27,
        "film_transparency",
        story.Copied(film, story.Painted(400, 548, 24), (0.05, 0.05, 0.05)),
        "calderay",
        description="Colour transparency 4x5",
    )
    shoot(
        "B03/2026-014_B03_0027_front.tif",
        piece,
        ppi=180,
        bed="mask",
        form="tiff16_lzw",
        note="16-bit TIFF; transparency, slightly faded",
    )
    film = Film("mono", *sheet_film, notched=True, seed=28)
    piece = add(
        "B03",
        28,
        "film_negative",
        story.Copied(film, story.Painted(430, 590, 26)),
        "salt-b",
        description="B/w copy negative, base not known",
    )
    shoot(
        "B03/2026-014_B03_0028_front.jpg",
        piece,
        ppi=300,
        rotation=180,
        findings=("possible_nitrate",),
        note="film without edge words: base unconfirmed",
    )
    _four(desk)
    film = Film("mono", 61.5, 62, (2.6, 2.6), "SAFETY 17", "SAFETY", False, 30)
    piece = add(
        "B03",
        30,
        "film_negative",
        story.Copied(film, story.Printed(desk.plans["valdorme-half"]), air_mm=(25, 25)),
        "valdorme",
        description="Roll-film negative 6x6",
    )
    shoot(
        "B03/2026-014_B03_0030_front.jpg",
        piece,
        ppi=420,
        mirrored=True,
        rotation=90,
        note="negative of a printed sheet, mirrored and on its side",
    )
    add(
        "B03",
        31,
        "film_negative",
        None,
        held=True,
        why="held as hazard: sticky roll, possible nitrate, not to be opened",
        description="Roll of film, stuck",
    )
    film = Film("mono", *sheet_film, "TARVEL PAN SAFETY 41", "SAFETY", True, 32)
    piece = add(
        "B03",
        32,
        "film_negative",
        story.Copied(film, story.Painted(420, 575, 24)),
        "harrow",
        description="B/w copy negative 4x5",
    )
    shoot(
        "B03/2026-014_B03_0032_front.tif",
        piece,
        ppi=130,
        form="tiff8_raw",
        keep=0.55,
        findings=("truncated",),
        note="TIFF cut off at 55 %",
    )


def _four(desk: Desk) -> None:
    """Four transparencies of four designs on one scan, listed as one piece in a sleeve."""
    subjects = (("calderay", story.Painted(400, 548, 24)), ("valdorme", story.Painted(420, 612, 24)))
    subjects += (
        ("orbit", story.Printed(desk.plans["orbit-quad"])),
        ("montarello", story.Printed(desk.plans["montarello-2f"])),
    )
    parts = []
    for number, (design, subject) in enumerate(subjects, start=1):
        film = Film("transparency", 61.5, 73.5, (2.8, 2.8), "SAFETY 8", "SAFETY", False, 290 + number, 0.1 * number)
        recipe = story.Copied(film, subject, (0.08, 0.08, 0.08), (22, 22))
        parts.append(
            desk.add(
                "B03",
                f"0029.{number}",
                "film_transparency",
                recipe,
                design,
                listed=number == 1,
                description="Four transparencies 6x7 in a sleeve",
                seed=290 + number,
            )
        )
    desk.shoot(
        "B03/2026-014_B03_0029_front.jpg",
        *parts,
        ppi=300,
        columns=2,
        gap_mm=9.0,
        note="four transparencies on one scan: four parts",
    )
