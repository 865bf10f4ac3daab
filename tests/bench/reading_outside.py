"""Read the text samples of the ocrmypdf source package with the product's own reader: a smoke test from outside.

    python -m tests.bench.reading_outside --work FOLDER

The source package is fetched with the machine's own pip. ``linn.png`` has its text beside it (``linn.txt``); the same
page as a drawing in five codings (``baiona*``) must read the same; ``typewriter.png`` is plain typing. Tesseract on the
whole page stands beside it.
"""

import argparse
import time
from collections import Counter
from pathlib import Path

from intake.config.load import load_config
from intake.imaging.original import open_original
from intake.model import PartFound, PartKey, Reading
from intake.ocr.engines import load_engines
from intake.ocr.wording import words_of
from intake.setup import load_engines as load_model_rows
from intake.stages.read import read
from tests.bench.figures import wilson
from tests.bench.reading_look import whole_page
from tests.bench.sources import fetch_source
from tests.made import CONFIG

TOLD = "linn.png"
SAME = ("baiona.png", "baiona_alpha.png", "baiona_color.jpg", "baiona_cmyk.jpg", "baiona_gray.png")
PLAIN = ("typewriter.png", "crom.png")
WHOLE_PAGE = 3  # tesseract's own default: it finds the layout itself


def main() -> None:
    """Fetch, read, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    told = ask.parse_args()
    folder = fetch_source("ocrmypdf", "tests/resources", told.work / "ocrmypdf-samples")
    config = load_config(CONFIG)
    # All lines of a page are asked for, where a sheet is bounded by its margins.
    rules = config.read.model_copy(update={"most_lines": 400})
    engines = load_engines(rules, {row.file: row for row in load_model_rows(CONFIG)[0]})
    read_so: dict[str, Counter[str]] = {}
    for name in (TOLD, *SAME, *PLAIN):
        started = time.process_time()
        with open_original(folder / name, config.check, told.work) as original:
            page = original.page(PartKey("0" * 64, 1), PartFound(1, 0, original.leaves[0].whole))
            reading = read(page, page.working, "document", "positive", engines, rules, None)
            other, _ = whole_page(page.working, WHOLE_PAGE)
        read_so[name] = _words(" ".join(line.text for line in reading.lines))
        print(f"{name}: {len(reading.lines)} lines, {time.process_time() - started:.1f} CPU seconds;", _way(reading))
        if name == TOLD:
            true = _words((folder / "linn.txt").read_text(encoding="utf-8"))
            print("  words of its text read:", _share(true, read_so[name]))
            print("  by tesseract on the whole page:", _share(true, _words(" ".join(other))))
        if name in PLAIN:
            print("  words that tesseract reads too:", _share(_words(" ".join(other)), read_so[name]))
            print("  first line:", reading.lines[0].text[:70] if reading.lines else "none")
    first = read_so[SAME[0]]
    for name in SAME[1:]:
        print(f"words of {SAME[0]} that {name} gives too:", _share(first, read_so[name]))


def _words(text: str) -> Counter[str]:
    return Counter(words_of(text, 3, 30, 1_000_000))


def _share(true: Counter[str], said: Counter[str]) -> str:
    return wilson(sum(min(n, said[word]) for word, n in true.items()), sum(true.values()))


def _way(reading: Reading) -> str:
    return f"turn {reading.rotation}, mirrored {reading.mirrored} (sure {reading.orientation_confidence:.2f})"


if __name__ == "__main__":
    main()
