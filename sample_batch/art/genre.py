"""What each kind of story brings along: palettes, skies, grounds, people, machines."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Genre:
    """The store of things that a design of this genre draws from."""

    palettes: tuple[str, ...]
    skies: tuple[str, ...]
    lands: tuple[str, ...]
    machines: tuple[str, ...]
    houses: tuple[str, ...]
    discs: tuple[str, ...]
    costumes: tuple[str, ...]
    gowns: tuple[str, ...]
    hats: tuple[str, ...]
    bonnets: tuple[str, ...]
    props: tuple[str, ...]
    poses: tuple[str, ...]
    extras: tuple[str, ...] = ()
    airborne: bool = False


STORE: dict[str, Genre] = {
    "desert air adventure": Genre(
        ("dusk", "ochre", "turquoise", "lemon"),
        ("sweep", "banks", "burst"),
        ("dunes", "dunes", "plain"),
        ("plane",),
        ("temple",),
        ("sun", "sun", "moon"),
        ("jacket", "shirt", "uniform"),
        ("trench", "dress"),
        ("flyer", "cap", "none"),
        ("scarf", "none", "flyer"),
        ("pistol", "rope", "none"),
        ("run", "reach", "aim", "shield", "haul", "wave"),
        ("explosion",),
        True,
    ),
    "harbour noir": Genre(
        ("harbour", "blood", "cream", "acid"),
        ("storm", "flat", "sweep"),
        ("sea", "city", "city"),
        ("ship", "crane", "car"),
        ("warehouse", "lighthouse"),
        ("moon",),
        ("trench", "suit", "trench"),
        ("gown", "dress", "trench"),
        ("fedora", "fedora", "cap"),
        ("beret", "none", "none"),
        ("pistol", "bag", "lantern"),
        ("stride", "aim", "stand", "run", "shield"),
        ("rain",),
    ),
    "deep space": Genre(
        ("void", "violet", "deep", "scarlet"),
        ("starry",),
        ("crater", "mountains"),
        ("rocket",),
        (),
        ("planet", "planet", "moon"),
        ("spacesuit", "uniform"),
        ("spacesuit", "uniform"),
        ("space", "space", "none"),
        ("space", "none"),
        ("pistol", "flag", "none"),
        ("leap", "reach", "aim", "run", "wave"),
        ("explosion",),
        True,
    ),
    "alpine rescue": Genre(
        ("snow", "mint", "cream", "scarlet"),
        ("banks", "sweep", "flat"),
        ("snow",),
        ("cable_car", "plane"),
        ("hut",),
        ("sun",),
        ("jacket", "shirt"),
        ("trench", "jacket"),
        ("cap", "hood", "band"),
        ("scarf", "band", "hood"),
        ("rope", "rope", "flag"),
        ("haul", "reach", "brace", "shield", "leap"),
        (),
        True,
    ),
    "jungle river": Genre(
        ("jungle", "acid", "ochre", "mint"),
        ("sweep", "banks", "flat"),
        ("palms", "river"),
        ("ship", "plane"),
        ("temple", "temple"),
        ("sun", "moon"),
        ("shirt", "jacket"),
        ("shirt", "dress"),
        ("stetson", "band", "helmet"),
        ("band", "none", "scarf"),
        ("rifle", "torch", "rope"),
        ("run", "brace", "haul", "shield", "aim", "kneel"),
        ("leaves",),
    ),
    "haunted house": Genre(
        ("violet", "acid", "harbour", "blood"),
        ("storm", "flat", "burst"),
        ("bare", "bare"),
        (),
        ("manor",),
        ("moon",),
        ("cape", "suit"),
        ("gown", "gown", "dress"),
        ("topper", "none", "hood"),
        ("none", "none", "hood"),
        ("lantern", "torch", "none"),
        ("shield", "run", "reach", "stand", "hips"),
        ("rain",),
    ),
    "western railway": Genre(
        ("turquoise", "ochre", "dusk", "cream"),
        ("sweep", "banks", "burst"),
        ("rails", "plain", "mesa"),
        ("locomotive",),
        ("station",),
        ("sun",),
        ("jacket", "shirt", "trench"),
        ("dress", "gown"),
        ("stetson", "stetson", "band"),
        ("stetson", "none", "scarf"),
        ("rifle", "pistol", "bag"),
        ("aim", "hips", "run", "brace", "stand", "kneel"),
        ("explosion",),
    ),
    "romance at the fair": Genre(
        ("carnival", "lemon", "mint", "cream"),
        ("burst", "starry", "flat", "sweep"),
        ("plain", "city"),
        (),
        ("tents",),
        ("moon", "sun"),
        ("suit", "jacket"),
        ("gown", "dress"),
        ("none", "topper", "fedora"),
        ("none", "none", "beret"),
        ("none", "flag", "bag"),
        ("wave", "reach", "stride", "hips", "stand"),
        (),
    ),
    "submarine": Genre(
        ("deep", "harbour", "mint", "scarlet"),
        ("storm", "sweep", "banks"),
        ("sea", "seabed"),
        ("submarine", "submarine", "ship"),
        ("lighthouse",),
        ("moon", "sun"),
        ("uniform", "jacket", "trench"),
        ("trench", "uniform"),
        ("cap", "cap", "none"),
        ("none", "cap"),
        ("lantern", "rope", "none"),
        ("brace", "haul", "stand", "reach", "kneel"),
        ("explosion",),
    ),
    "racing cars": Genre(
        ("scarlet", "lemon", "cream", "snow"),
        ("burst", "flat", "sweep"),
        ("plain", "city"),
        ("car",),
        ("station",),
        ("sun",),
        ("jacket", "suit"),
        ("dress", "trench"),
        ("helmet", "flyer", "helmet"),
        ("scarf", "none", "flyer"),
        ("flag", "flag", "none"),
        ("wave", "run", "stride", "hips"),
        ("explosion",),
    ),
}
GENRES: tuple[str, ...] = tuple(STORE)
