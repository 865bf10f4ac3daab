"""What one part is, by physical signs: each rule that fires adds its weight, and the sum of weights is the verdict."""

import math

from intake.config.classify import ClassifyRules, Rule
from intake.imaging.page import Page
from intake.imaging.traits import Traits, read_traits
from intake.model import FILM_KINDS, Checked, Classified, Evidence, Finding, Kind, Polarity, Rendered

VERSION = 2


def classify(page: Page, rendered: Rendered, checked: Checked, rules: ClassifyRules) -> Classified:
    """Return kind and polarity with the rules that spoke for or against them, the strongest first."""
    if any(f.code == "blank" and f.part in (0, page.key.part) for f in checked.findings):
        return Classified("unknown", 0.0, "unknown", 0.5, (Evidence("blank", "nothing is on it"),))
    return judge(read_traits(page, rendered, checked, rules), page.key.part, rules)


def judge(traits: Traits, part: int, rules: ClassifyRules) -> Classified:
    """Weigh ``traits``. Confidence is the winner's share when all log-odds are turned into probabilities.

    Below ``least_confidence`` the kind is unknown, below ``least_polarity`` so is the polarity: no guess.
    """
    fired = [rule for rule in rules.rules if fires(rule, traits)]
    sums = {kind: start + sum(rule.weights.get(kind, 0.0) for rule in fired) for kind, start in rules.start.items()}
    kind, confidence = _winner(sums)
    spoke = [rule for rule in fired if rule.weights.get(kind) or rule.negative]
    evidence = [Evidence(r.name, r.words.format(**traits), r.weights.get(kind, 0.0)) for r in spoke]
    evidence.sort(key=lambda e: (-abs(e.weight), e.name))
    negative = rules.start_negative + sum(rule.negative for rule in fired)
    share = 1 / (1 + math.exp(-negative))
    polarity: Polarity = "negative" if share > 0.5 else "positive"
    sure = max(share, 1 - share)
    if sure < rules.least_polarity:
        polarity = "unknown"
    told: Kind = kind if confidence >= rules.least_confidence else "unknown"
    findings = _hazards(kind, sums, part, rules)
    return Classified(told, round(confidence, 4), polarity, round(sure, 4), tuple(evidence), findings)


def fires(rule: Rule, traits: Traits) -> bool:
    """Return whether every trait that the rule asks for is known and within its bounds."""
    return all(name in traits and low <= traits[name] <= high for name, (low, high) in rule.when.items())


def _winner(sums: dict[Kind, float]) -> tuple[Kind, float]:
    top = max(sums.values())
    odds = {kind: math.exp(value - top) for kind, value in sums.items()}
    kind = max(sorted(odds), key=lambda k: odds[k])
    return kind, odds[kind] / sum(odds.values())


def _hazards(kind: Kind, sums: dict[Kind, float], part: int, rules: ClassifyRules) -> tuple[Finding, ...]:
    """Film is flagged when it may well be film, not only when it surely is; no text and no date clears it here."""
    findings = []
    if kind == "glass_negative":
        findings.append(Finding("classify", "glass", "hazard", rules.glass_words, part))
    near = max(sums.values()) - rules.hazard_margin
    if any(sums[k] >= near and sums[k] > rules.start[k] + 1 for k in FILM_KINDS - {"glass_negative"} if k in sums):
        findings.append(Finding("classify", "possible_nitrate", "hazard", rules.hazard_words, part))
    return tuple(findings)
