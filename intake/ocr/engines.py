"""Make the engines that config/read.toml asks for. One set a worker process."""

from collections.abc import Mapping

from intake.config.read import ReadRules
from intake.ocr.ppocr_detect import PpocrDetector
from intake.ocr.ppocr_read import PpocrReader, open_recogniser
from intake.ocr.protocol import Engines
from intake.ocr.tesseract import TesseractReader
from intake.setup import ModelFile


def load_engines(rules: ReadRules, models: Mapping[str, ModelFile]) -> Engines:
    """Return PP-OCR with tesseract as second opinion. Takes about 0.5 CPU seconds and 250 MB.

    ``models`` are the rows of config/engines.toml by file name. Raises SetupError when one is missing or another.
    """
    recogniser = open_recogniser(models)
    return Engines(
        PpocrDetector(models, rules.least_detector_score),
        PpocrReader(recogniser, 1.0),
        (
            TesseractReader(rules.reader_limit_s),
            PpocrReader(recogniser, rules.wide_stretch),
            PpocrReader(recogniser, rules.wide_stretch, rules.soften_share),
        ),
    )
