"""What some tests need beside Python packages: where it is, and the exact command that gets it."""

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Tool:
    """A program or a set of files that a test leans on. ``find`` answers where it is, or None."""

    name: str
    find: Callable[[], Path | None]
    debian_package: str
    macos_command: str

    def how_to_get(self) -> str:
        """The command to type on this machine."""
        if sys.platform == "darwin":
            return self.macos_command
        return f"sudo apt-get install --no-install-recommends {self.debian_package}"

    def why_skipped(self) -> str:
        """The reason that a test gives when it is skipped for want of this tool."""
        return f"{self.name} is not installed; type: {self.how_to_get()}"


def find_chromium() -> Path | None:
    """The browser's program on PATH."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    return Path(found) if found else None


def find_postgres() -> Path | None:
    """The folder of the server's programs (initdb, pg_ctl): on PATH, or the newest where Debian keeps them off it."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    folders = [program.parent for program in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    return max(folders, key=lambda folder: float(folder.parent.name), default=None)


def find_opencv_samples() -> Path | None:
    """The folder of OpenCV's sample pictures: a wall seen twice, with its homography; a box, and it in a scene."""
    folder = Path("/usr/share/doc/opencv-doc/examples/data")
    return folder if all((folder / f"{n}.png").is_file() for n in ("graf1", "box_in_scene")) else None


def find_libreoffice() -> Path | None:
    """The office's program on PATH."""
    found = shutil.which("soffice") or shutil.which("libreoffice")
    return Path(found) if found else None


CHROMIUM = Tool("Chromium", find_chromium, "chromium", "brew install --cask chromium")
POSTGRES = Tool("PostgreSQL's server", find_postgres, "postgresql", "brew install postgresql@17")
OPENCV_SAMPLES = Tool(
    "OpenCV's set of sample pictures", find_opencv_samples, "opencv-doc", "(packaged by Debian alone, as opencv-doc)"
)
# Not among those that are installed by themselves: 40 s and 0.5 GB for two tests, so CI skips them (.ci/allowed-skips).
LIBREOFFICE = Tool("LibreOffice", find_libreoffice, "libreoffice-calc-nogui", "brew install --cask libreoffice")
TOOLS = (CHROMIUM, POSTGRES, OPENCV_SAMPLES)
