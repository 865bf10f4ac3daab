"""Put every picture of the pillow source package's own tests through the arrival check, and other decoders beside it.

    python -m tests.bench.arrival --work FOLDER

The source package is fetched with the machine's own pip. Each file is opened and checked as a run does it, in a worker
of the run's pool under the run's limit; what Pillow's full load, libvips at its strictest and OpenCV say of the same
bytes comes from a second pool, since they may break where we must not. Printed: what was refused and why, where the
decoders disagree about damage, where they see another picture, and the worst time and memory. Every disagreement is
named: it wants eyes. Pillow turns a TIFF by its orientation tag and we do not, and it has no profile for CMYK that
comes without one; OpenCV gives no reason when it gives no picture.
"""

import argparse
import contextlib
import io
import os
import re
import resource
import tempfile
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageSequence

from intake.config.check import CheckRules
from intake.config.run import RunRules
from intake.imaging.libvips import pyvips
from intake.imaging.original import Unreadable, open_original
from intake.services.workers import WorkerLost, Workers
from intake.stages.check import check, refused
from intake.store.codec import to_text
from tests.bench.sources import fetch_source
from tests.made import CONFIG, section

# Room for a worker gone wrong, so that it ends and not the machine. Far above the 400 MB that are allowed.
ADDRESSES = 8 * 2**30
MOST_MB = 400
MOST_NAMED = 40
LOOK_PX = 64
# Mean difference in levels between two decoders' small sRGB pictures from which they see two pictures. Rounding,
# chroma upsampling and shrinking differ by 1 to 3.
OTHERWISE = 8.0
DAMAGE = {"truncated", "damaged"}
NOT_LOOKED_AT = {"not_a_picture", "not_supported", "too_large", "empty_file", "unreadable"}


@dataclass(frozen=True, slots=True)
class Seen:
    """What one decoder made of a file: finding codes or an error, and the first page 64 px wide where it opened."""

    opened: bool
    says: tuple[str, ...]
    small: NDArray[np.uint8] | None = None
    seconds: float = 0.0
    peak_mb: int = 0
    size: tuple[int, int] = (0, 0)

    @property
    def damage(self) -> bool:
        return bool(DAMAGE & set(self.says))


def ready() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESSES, ADDRESSES))
    os.environ["OMP_NUM_THREADS"] = "1"


def ours(path: Path, rules: CheckRules, scratch: Path) -> Seen:
    """The arrival check as ``intake.services.look`` runs it, with the peak of this process's memory during it."""
    Path("/proc/self/clear_refs").write_text("5")
    started = time.monotonic()
    small, size = None, (0, 0)
    try:
        with open_original(path, rules, scratch) as original:
            checked = check(path, original, rules)
            small = shrunk(original.overview(original.leaves[0]))
            size = (checked.width_px, checked.height_px)
    except Unreadable as error:
        checked = refused(path, error)
    to_text(checked)
    status = Path("/proc/self/status").read_text()
    peak = int(re.search(r"VmHWM:\s*(\d+) kB", status)[1]) // 1024
    codes = tuple(dict.fromkeys(f.code for f in checked.findings))
    return Seen(bool(checked.parts), codes, small, time.monotonic() - started, peak, size)


def pillow(path: Path, most_px: float) -> Seen:
    """Every page of a TIFF, and the first picture of others, fully decoded by Pillow, up to ``most_px`` pixels."""
    small, size, pixels = None, (0, 0), 0
    try:
        with warnings.catch_warnings(action="ignore"), Image.open(path) as image:
            # only of a TIFF is more than the first picture looked at: the rest of others is animation or previews
            for frame in ImageSequence.Iterator(image) if image.format == "TIFF" else [image]:
                pixels += frame.width * frame.height
                if pixels > most_px:
                    break
                frame.load()
                if small is None:
                    size = frame.size
                    small = shrunk(np.asarray(in_srgb(frame)))
    except Exception as error:
        return Seen(False, ("damaged", f"{type(error).__name__}: {error}"[:120]), small, size=size)
    return Seen(True, (), small, size=size)


def in_srgb(image: Image.Image) -> Image.Image:
    """As Pillow shows it: transparency on white, 16-bit grey by its upper byte, the profile applied where it can be."""
    profile = image.info.get("icc_profile")
    if image.mode == "LAB":
        own = ImageCms.createProfile("sRGB")
        return ImageCms.profileToProfile(image, ImageCms.createProfile("LAB"), own, outputMode="RGB")
    if image.mode == "I" or image.mode.startswith("I;16"):
        image = Image.fromarray((np.asarray(image).astype(np.uint16) >> 8).astype(np.uint8))
    if image.mode in ("RGBA", "RGBa", "LA", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
        image = Image.alpha_composite(Image.new("RGBA", image.size, "white"), image)
    if profile:
        with contextlib.suppress(ImageCms.PyCMSError, OSError, TypeError):
            source, own = ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
            flags = ImageCms.Flags.BLACKPOINTCOMPENSATION
            image = ImageCms.profileToProfile(
                image, source, own, ImageCms.Intent.RELATIVE_COLORIMETRIC, "RGB", flags=flags
            )
    return image.convert("RGB")


def libvips(path: Path) -> Seen:
    """Every page of a TIFF, and the first picture of others, by libvips at the level at which it forgives nothing."""
    try:
        first = pyvips.Image.new_from_file(str(path), access="sequential", fail_on="warning")
        first.avg()
        is_tiff = first.get("vips-loader").startswith("tiff")
        for page in range(1, first.get("n-pages") if is_tiff and "n-pages" in first.get_fields() else 1):
            pyvips.Image.new_from_file(str(path), access="sequential", fail_on="warning", page=page).avg()
    except pyvips.Error as error:
        words = " ".join(str(error).split())
        return Seen(False, ("unknown" if "not a known file format" in words else "damaged", words[:120]))
    return Seen(True, ())


def opencv(path: Path) -> Seen:
    """What OpenCV decodes, or that it does not."""
    try:
        picture = cv2.imread(str(path), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error as error:
        return Seen(False, ("damaged", str(error)[:120]))
    return Seen(picture is not None, () if picture is not None else ("damaged", "no picture"))


def shrunk(picture: NDArray[Any]) -> NDArray[np.uint8]:
    tall = max(1, round(LOOK_PX * picture.shape[0] / picture.shape[1]))
    return np.asarray(cv2.resize(picture[..., :3], (LOOK_PX, min(tall, 4096)), interpolation=cv2.INTER_AREA), np.uint8)


def tried(pool: Workers, function: Callable[..., Seen], *arguments: Any) -> Seen:
    started = time.monotonic()
    try:
        return pool.call(function, *arguments)
    except WorkerLost as error:
        return Seen(False, ("lost", str(error)), seconds=time.monotonic() - started)
    except Exception as error:
        return Seen(False, ("broke off", f"{type(error).__name__}: {error}"[:120]))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--only", default="*", help="a pattern of file names")
    options = parser.parse_args()
    folder = fetch_source("pillow", "Tests/images", options.work / "images")
    rules, run = section(CheckRules, CONFIG / "check.toml"), section(RunRules, CONFIG / "run.toml")
    files = sorted(p for p in folder.rglob(options.only) if p.is_file())
    mine, theirs = Workers(1, run.scan_limit_s, ready), Workers(1, run.scan_limit_s, ready)
    rows = []
    with tempfile.TemporaryDirectory() as scratch:
        for path in files:
            own = tried(mine, ours, path, rules, Path(scratch))
            others = {}
            if not NOT_LOOKED_AT & set(own.says):
                others["Pillow"] = tried(theirs, pillow, path, rules.max_megapixels * 1e6 / 4)
                others["libvips"] = tried(theirs, libvips, path)
                others["OpenCV"] = tried(theirs, opencv, path)
            rows.append((path.relative_to(folder).as_posix(), own, others))
        left = len(list(Path(scratch).iterdir()))
    mine.close()
    theirs.close()
    report(rows, left)


def report(rows: list[tuple[str, Seen, dict[str, Seen]]], left: int) -> None:
    print(f"{len(rows)} files; opened {sum(s.opened for _, s, _ in rows)}; files left in the scratch folder: {left}")
    codes = sorted({code for _, s, _ in rows for code in s.says if not s.opened})
    listed("refused", {c: [n for n, s, _ in rows if not s.opened and c in s.says] for c in codes}, short=True)
    noted = sorted({code for _, s, _ in rows for code in s.says if s.opened})
    listed("opened, with", {c: [n for n, s, _ in rows if s.opened and c in s.says] for c in noted}, short=True)
    listed(
        "not as it must be",
        {
            "worker lost or check broke off": [
                f"{n} ({s.says[1]})" for n, s, _ in rows if s.says[:1] in (("lost",), ("broke off",))
            ],
            f"over {MOST_MB} MB": [n for n, s, _ in rows if s.peak_mb > MOST_MB],
        },
    )
    for name in ("Pillow", "libvips", "OpenCV"):
        both = [(n, s, o[name]) for n, s, o in rows if name in o]
        listed(
            f"{name} beside us, {len(both)} files",
            {
                "damage agreed": [n for n, s, o in both if s.damage and o.damage],
                "MISSED: ours silent": [f"{n} ({o.says[1]})" for n, s, o in both if not s.damage and o.damage],
                "ours alone": [
                    f"{n} [{'opened' if s.opened else 'refused'}]" for n, s, o in both if s.damage and not o.damage
                ],
                "ours to look at, theirs lost": [n for n, s, o in both if o.says[:1] == ("lost",)],
                "another picture": [f"{n} ({d:.0f} levels)" for n, s, o in both if (d := apart(s, o)) > OTHERWISE],
                "another size": [
                    n for n, s, o in both if s.opened and o.opened and o.size != (0, 0) and o.size != s.size
                ],
            },
        )
    for words, by in (("slowest", lambda s: s.seconds), ("largest", lambda s: s.peak_mb)):
        worst = sorted(rows, key=lambda row: -by(row[1]))[:5]
        print(f"{words}: " + ", ".join(f"{n} {s.seconds:.2f} s {s.peak_mb} MB" for n, s, _ in worst))


def apart(one: Seen, other: Seen) -> float:
    """Mean difference of two small pictures in levels; 0 where either is missing or they have two shapes."""
    if one.small is None or other.small is None or one.small.shape != other.small.shape:
        return 0.0
    return float(np.abs(one.small.astype(int) - other.small).mean())


def listed(title: str, groups: dict[str, list[str]], short: bool = False) -> None:
    print(f"\n{title}")
    for words, names in groups.items():
        shown = "" if short and len(names) > MOST_NAMED else ": " + ", ".join(names) if names else ""
        print(f"  {words:32} {len(names):5}{shown}")


if __name__ == "__main__":
    main()
