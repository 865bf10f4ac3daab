"""The faces that the reading bench sets: the sample batch's own and those of Debian's font packages, split by side."""

import subprocess
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from sample_batch.art import lettering

# The sample batch sets its small lines in "grotesque", and readers' rules were chosen beside it: it is for tuning.
OWN: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "tune": (("grotesque", "grotesque-bold", "narrow", "serif-bold"), ("tall", "condensed", "narrow-bold")),
    "report": (("gothic", "serif", "typewriter"), ("poster", "roman-caps", "gothic-bold")),
}
# Package -> the files of it that are set, their names without the ending.
PACKAGES: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "tune": {
        "fonts-freefont-ttf": ("FreeSans", "FreeSansBold", "FreeSerif"),
        "fonts-open-sans": ("OpenSans-Regular", "OpenSans-CondBold"),
        "fonts-crosextra-caladea": ("Caladea-Regular",),
        "fonts-cantarell": ("Cantarell-Regular",),
        "fonts-inconsolata": ("Inconsolata",),
        "fonts-dosis": ("Dosis-Medium",),
    },
    "report": {
        "fonts-liberation": (
            "LiberationSans-Regular",
            "LiberationSans-Bold",
            "LiberationSansNarrow-Regular",
            "LiberationSansNarrow-Bold",
            "LiberationSerif-Regular",
        ),
        "fonts-ebgaramond": ("EBGaramond12-Regular",),
        "fonts-cabin": ("Cabin-Medium",),
        "fonts-oldstandard": ("OldStandard-Regular",),
        "fonts-gnutypewriter": ("GNUTypewriter",),
    },
}


@dataclass(frozen=True, slots=True)
class Faces:
    """Names that the sample batch's typesetting takes: for small print, and for titles."""

    small: tuple[str, ...]
    display: tuple[str, ...]

    def small_for(self, text: str) -> tuple[str, ...]:
        """The faces for small print that have every letter of ``text``: some lack © or °."""
        return tuple(face for face in self.small if all(has(face, c) for c in set(text) - {" "}))


@lru_cache(maxsize=4096)
def has(face: str, letter: str) -> bool:
    """Whether the face draws ``letter`` otherwise than a character that no font has."""
    drawn = lettering.font(face, 40.0)
    return bytes(drawn.getmask(letter)) != bytes(drawn.getmask("\U000ffffe"))


def own_faces(side: str) -> Faces:
    """What the project ships, without any package."""
    return Faces(*OWN[side])


def faces(folder: Path, side: str) -> Faces:
    """All faces of ``side``; its packages are downloaded into ``folder`` with the machine's own apt-get."""
    folder.mkdir(parents=True, exist_ok=True)
    named = []
    for package, files in PACKAGES[side].items():
        if not list(folder.glob(f"{package}_*.deb")):
            subprocess.run(["apt-get", "download", "-q", package], cwd=folder, check=True)
        deb = next(folder.glob(f"{package}_*.deb"))
        if not (folder / f"x-{package}").exists():
            subprocess.run(["dpkg-deb", "-x", deb.name, f"x-{package}"], cwd=folder, check=True)
        for file in files:
            found = sorted(p for p in folder.glob(f"x-{package}/**/{file}.*") if p.suffix in (".otf", ".ttf"))
            lettering.FACES[file] = str(found[0].resolve())
            named.append(file)
    own = own_faces(side)
    return Faces((*own.small, *named), own.display)
