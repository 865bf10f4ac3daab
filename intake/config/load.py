"""Load config/ whole, or refuse it whole with every problem listed."""

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from intake.config.barcode import BarcodeRules
from intake.config.campaign import CampaignRules
from intake.config.certificates import Certificate, load_certificates
from intake.config.check import CheckRules
from intake.config.clash import ClashRules
from intake.config.classify import ClassifyRules
from intake.config.condition import ConditionRules
from intake.config.dating import DatingRules
from intake.config.differ import DifferRules
from intake.config.elements import ElementRules
from intake.config.fading import FadingRules
from intake.config.findings import FindingTable
from intake.config.fingerprint import FingerprintRules
from intake.config.fold import FoldRules
from intake.config.formats import Format, load_formats
from intake.config.grades import GradeRules
from intake.config.group import GroupRules
from intake.config.hazards import HazardRules
from intake.config.kinds import KindTable
from intake.config.lanes import LaneTable
from intake.config.learn import LearnRules
from intake.config.looking import LookingRules
from intake.config.match import MatchRules
from intake.config.measure import MeasureRules
from intake.config.order import OrderRules
from intake.config.papers import PaperRules, load_entry, load_template
from intake.config.parse import ParseRules
from intake.config.patterns import Pattern, load_patterns
from intake.config.points import PointRules
from intake.config.queue import QueueRules
from intake.config.read import ReadRules
from intake.config.receive import ReceiveRules
from intake.config.records import RecordRules
from intake.config.render import RenderRules
from intake.config.rescan import RescanRules
from intake.config.run import RunRules
from intake.config.sampling import SamplingRules
from intake.config.screen import ScreenRules
from intake.config.section import Section
from intake.config.sets import SetRules
from intake.config.signature import SignatureRules
from intake.config.snipe import SnipeRules
from intake.config.terms import TermTable
from intake.config.very_object import VeryObjectRules
from intake.errors import ConfigError

SectionT = TypeVar("SectionT", bound=Section)


class Config(Section):
    """Everything that config/ says, read once and never changed."""

    receive: ReceiveRules
    run: RunRules
    check: CheckRules
    render: RenderRules
    classify: ClassifyRules
    fold: FoldRules
    condition: ConditionRules
    rescan: RescanRules
    measure: MeasureRules
    fingerprint: FingerprintRules
    read: ReadRules
    barcode: BarcodeRules
    screen: ScreenRules
    parse: ParseRules
    dating: DatingRules
    match: MatchRules
    differ: DifferRules
    order: OrderRules
    clash: ClashRules
    snipe: SnipeRules
    group: GroupRules
    grades: GradeRules
    sets: SetRules
    campaign: CampaignRules
    queue: QueueRules
    lanes: LaneTable
    points: PointRules
    learn: LearnRules
    elements: ElementRules
    signature: SignatureRules
    very_object: VeryObjectRules
    hazards: HazardRules
    fading: FadingRules
    kinds: KindTable
    looking: LookingRules
    terms: TermTable
    findings: FindingTable
    records: RecordRules
    sampling: SamplingRules
    papers: PaperRules
    formats: tuple[Format, ...]
    patterns: tuple[Pattern, ...]
    certificates: tuple[Certificate, ...]
    paper_template: str
    entry: tuple[str, ...]


SECTIONS: dict[str, type[Section]] = {
    name: field.annotation
    for name, field in Config.model_fields.items()
    if isinstance(field.annotation, type) and issubclass(field.annotation, Section)
}


def load_config(folder: Path) -> Config:
    """Read every file of ``folder``.

    Raises ConfigError with one line for each problem in any of the files.
    """
    problems: list[str] = []
    made: dict[str, Any] = {}
    for name, section in SECTIONS.items():
        path = folder / f"{name}.toml"
        try:
            made[name] = section.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
        except ValidationError as error:
            problems += [f"{path}: {'.'.join(map(str, e['loc'])) or 'file'}: {e['msg']}" for e in error.errors()]
        except (OSError, ValueError) as error:  # not there, no UTF-8, no TOML
            problems.append(f"{path}: {error}")
    for name, load in {
        "formats": load_formats,
        "patterns": load_patterns,
        "certificates": load_certificates,
        "paper_template": load_template,
        "entry": load_entry,
    }.items():
        try:
            made[name] = load(folder)
        except ConfigError as error:
            problems.append(str(error))
    if problems:
        raise ConfigError("config/ does not load:\n" + "\n".join(f"  {p}" for p in problems))
    return Config(**made)
