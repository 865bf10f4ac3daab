"""The real engines: one line each, and crops that no line ever had."""

import os
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from intake.config.read import ReadRules
from intake.errors import SetupError
from intake.ocr.engines import load_engines
from intake.ocr.null import null_engines
from intake.ocr.onnx import open_model
from intake.ocr.ppocr_detect import MODEL
from intake.ocr.protocol import Engines, ReaderTimeout
from intake.ocr.recorded import RecordedEngines
from intake.ocr.tesseract import TesseractReader
from intake.ocr.text import squeeze
from intake.setup import load_engines as load_model_rows
from tests.made import CONFIG, section
from tests.ocr.pictures import line_picture, sheet

MODELS = {row.file: row for row in load_model_rows(CONFIG)[0]}
RULES = section(ReadRules, CONFIG / "read.toml")
TEXT = "Printed in England by Marnock Press Ltd."


@pytest.fixture(scope="module")
def engines() -> Engines:
    return load_engines(RULES, MODELS)


def readers(engines: Engines) -> tuple:
    return (engines.first, *engines.others)


def test_every_reader_reads_a_clean_line_dark_on_light_and_light_on_dark(engines: Engines) -> None:
    crops = [line_picture(TEXT), line_picture(TEXT, ink=240, ground=30), line_picture("61/204")]
    for reader in readers(engines):
        texts = [squeeze(said.text) for said in reader.read(crops)]
        assert texts == [squeeze(TEXT), squeeze(TEXT), "61/204"], reader.name


def test_a_reader_says_how_sure_it_is_of_its_least_sure_letter(engines: Engines) -> None:
    spoilt = line_picture("61/204").copy()
    at = spoilt.shape[1] // 2
    spoilt[:, at : at + 14] = 128
    for reader in readers(engines):
        whole, broken = reader.read([line_picture("61/204"), spoilt])
        assert whole.least <= whole.confidence and broken.least < whole.least, reader.name
    assert engines.first.read([line_picture("61/204")])[0].least > 0.95


def test_a_reading_does_not_depend_on_its_neighbours(engines: Engines) -> None:
    crops = [line_picture(t) for t in (TEXT, "R63/118", "Imp. Verrol, Paris", "MCMLXVIII")]
    for reader in readers(engines):
        assert reader.read(crops) == [reader.read([crop])[0] for crop in crops], reader.name


@pytest.mark.parametrize("shape", [(0, 40), (40, 0), (1, 1), (1, 300), (300, 1), (2, 2), (3, 900)])
def test_crops_too_small_to_hold_text_are_read_as_nothing_or_little(engines: Engines, shape: tuple[int, int]) -> None:
    crop = np.full((*shape, 3), 200, np.uint8)
    for reader in readers(engines):
        said = reader.read([crop, line_picture("61/204")])
        assert len(said) == 2 and said[1].text == "61/204"
        assert said[0].confidence <= 1
    assert engines.detector.find(crop) == []


def test_a_strip_of_20000_pixels_costs_a_bounded_time(engines: Engines) -> None:
    strip = np.tile(line_picture("61/204  "), (1, 120, 1))[:, :20000]
    started = time.process_time()
    for reader in readers(engines):
        assert len(reader.read([strip])) == 1
    assert time.process_time() - started < 15


def test_the_detector_finds_lines_and_refuses_a_picture_beyond_its_bound(engines: Engines) -> None:
    picture = sheet({TEXT: (0.1, 0.9, 26), "THE QUIET LOCK": (0.1, 0.3, 90)})
    quads = engines.detector.find(picture)
    middles = sorted(float(q[:, 1].mean()) / picture.shape[0] for q in quads)
    assert middles == pytest.approx([0.3, 0.9], abs=0.01)
    with pytest.raises(ValueError, match="too many"):
        engines.detector.find(np.zeros((3000, 3000, 3), np.uint8))


def test_a_model_of_another_digest_or_name_is_refused() -> None:
    changed = {MODEL: replace(MODELS[MODEL], sha256="0" * 64)}
    with pytest.raises(SetupError, match="not the one listed"):
        open_model(MODEL, changed)
    with pytest.raises(SetupError, match="no row"):
        open_model("other.onnx", MODELS)
    with pytest.raises(SetupError, match="missing"):
        open_model("gone.onnx", {"gone.onnx": replace(MODELS[MODEL], file="gone.onnx")})


def test_a_hanging_tesseract_is_ended_at_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "tesseract"
    program.write_text(f"#!/bin/sh\necho $$ > {tmp_path}/pid\nexec sleep 60\n", encoding="ascii")
    program.chmod(0o755)
    reader = TesseractReader(0.6)
    monkeypatch.setattr(reader, "_program", str(program))
    started = time.monotonic()
    with pytest.raises(ReaderTimeout):
        reader.read([line_picture("61/204")])
    assert time.monotonic() - started < 10
    pid = int((tmp_path / "pid").read_text())
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_tesseract_that_was_killed_is_asked_once_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who killed it says nothing of the lines. One that dies again is broken."""
    real = TesseractReader(30.0)
    expected = real.read([line_picture("61/204")])
    program = tmp_path / "tesseract"
    again = f'[ -e {tmp_path}/tried ] && exec "{real._program}" "$@"\n'
    program.write_text(f"#!/bin/sh\n{again}touch {tmp_path}/tried\nkill -9 $$\n", encoding="ascii")
    program.chmod(0o755)
    reader = TesseractReader(30.0)
    monkeypatch.setattr(reader, "_program", str(program))
    assert reader.read([line_picture("61/204")]) == expected
    program.write_text("#!/bin/sh\nkill -9 $$\n", encoding="ascii")
    with pytest.raises(RuntimeError):
        reader.read([line_picture("61/204")])


def test_a_second_reader_that_is_not_installed_is_named_with_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("intake.ocr.tesseract.find_tesseract", lambda: None)
    with pytest.raises(SetupError, match="apt-get install tesseract-ocr"):
        TesseractReader(1.0)


def test_what_was_recorded_is_replayed_and_what_was_not_is_refused(engines: Engines, tmp_path: Path) -> None:
    picture, crop = sheet({TEXT: (0.1, 0.5, 30)}, 700, 500), line_picture(TEXT)
    listener = RecordedEngines(tmp_path / "said.json", engines)
    found = listener.engines.detector.find(picture)
    heard = [reader.read([crop]) for reader in readers(listener.engines)]
    listener.save()

    replayed = RecordedEngines(tmp_path / "said.json").engines
    assert [r.name for r in readers(replayed)] == [r.name for r in readers(engines)]
    assert [r.read([crop]) for r in readers(replayed)] == heard
    np.testing.assert_array_equal(replayed.detector.find(picture), found)
    with pytest.raises(KeyError, match="no recording"):
        replayed.first.read([cv2.flip(crop, 1)])
    with pytest.raises(KeyError, match="no recording"):
        replayed.detector.find(cv2.flip(picture, 1))


def test_null_engines_find_and_read_nothing() -> None:
    null = null_engines()
    assert null.detector.find(line_picture(TEXT)) == []
    assert [s.text for s in null.first.read([line_picture(TEXT)])] == [""]
