"""Find the print codes among the lines that were read, and say what each tells."""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from intake.config.certificates import Certificate
from intake.config.parse import ParseRules
from intake.config.patterns import Pattern
from intake.model import FILM_KINDS, Box, Finding, Line, Mark, Parsed, ReaderSaid, Reading
from intake.ocr.frame import FRAME
from intake.ocr.grammar import Hit, hits_in
from intake.ocr.nitrate import says_nitrate
from intake.ocr.said import same_value, settled
from intake.ocr.text import TURNED, engine_of, squeeze, weight_of

VERSION = 4
_MAY_BE_FILM = FILM_KINDS | {"unknown"}
_NITRATE_READ = (
    "NITRATE is read on it, by one reader at least: take it for cellulose nitrate. Stop scanning it; tell the person "
    "in charge of fire safety and a photograph conservator before anyone handles it again."
)
_WORD = re.compile(r"[^\W_]+")


@dataclass(slots=True)
class _Value:
    """One value of one kind of mark on one line, and who read it; ``strict``: who read it without a letter repaired."""

    hits: list[Hit] = field(default_factory=list)
    said: list[ReaderSaid] = field(default_factory=list)
    strict: list[ReaderSaid] = field(default_factory=list)

    @property
    def weight(self) -> float:
        return sum(weight_of(s) for s in self.said)


@dataclass(frozen=True, slots=True)
class _Chosen:
    """The value of one kind of mark on one line with most weight, its share of all, and whether no person need ask."""

    value: _Value
    share: float
    is_sure: bool


def parse(
    reading: Reading,
    box: Box,
    kind: str,
    patterns: Sequence[Pattern],
    certificates: Sequence[Certificate],
    rules: ParseRules,
) -> Parsed:
    """Return the marks of one part, in the order of its lines. ``box`` is the part's, in stored pixels.

    A mark is accepted "auto" only when two different engines read the same value, or one engine does so at two widths,
    sure of every letter; when no letter had to be taken for a digit; when no reader is fairly sure of another value;
    and when the line says none upside down. Otherwise it is "no" and carries the competing readings.

    Marks never say more than what is printed: a later reproduction bears them all.
    """
    findings: list[Finding] = []
    made: list[tuple[Line, str, _Chosen]] = []
    for line in reading.lines:
        fitting = [p for p in patterns if _may_stand(p, line, box, kind, reading.lines, rules)]
        made += [(line, mark, chosen) for mark, chosen in _values(line, fitting, rules).items()]
    if len(made) > rules.most_marks:
        message = f"{len(made)} print marks were read; the first {rules.most_marks} are kept. Look at the scan by eye."
        findings.append(Finding("parse", "too_many_marks", "attention", message))
    if kind in _MAY_BE_FILM and any(says_nitrate(r.text) for line in reading.lines for r in line.readers):
        findings.append(Finding("parse", "nitrate_read", "hazard", _NITRATE_READ))
    countries = Counter(c for _, _, chosen in made for c in _countries(chosen.value, rules))
    country = countries.most_common(1)[0][0] if countries else ""
    marks = [_mark(*one, country, certificates) for one in made[: rules.most_marks]]
    return Parsed(tuple(marks), tuple(findings))


def _may_stand(pattern: Pattern, line: Line, box: Box, kind: str, lines: Sequence[Line], rules: ParseRules) -> bool:
    if pattern.where in ("film", "rebate") and kind not in FILM_KINDS:
        return False
    if pattern.where == "rebate" and _has_frame(line):
        return False
    in_margin = _from_margin(line.box, box) <= rules.margin_share * min(box.width, box.height)
    if pattern.where in ("margin", "rebate") and not in_margin:
        return False
    return pattern.needs != "frame" or _is_framed(line, pattern.frame_words, lines)


def _from_margin(line: Box, box: Box) -> float:
    x, y = line.left + line.width / 2 - box.left, line.top + line.height / 2 - box.top
    return min(x, y, box.width - x, box.height - y)


def _is_framed(line: Line, words: Sequence[str], lines: Sequence[Line]) -> bool:
    """Tell whether a frame is drawn round the line, or one of the words stands on it or right beside it.

    On the line itself it may have lost its space ("RATEDG"), as the whole line must be a print code.
    """
    own = [squeeze(r.text) for r in line.readers if r.reader != FRAME]
    if _has_frame(line) or any(text.startswith(squeeze(w)) or text.endswith(squeeze(w)) for text in own for w in words):
        return True
    here = line.box
    reach = 2 * min(here.width, here.height)
    near = Box(here.left - reach, here.top - reach, here.width + 2 * reach, here.height + 2 * reach)
    said = [w for other in lines if _touch(other.box, near) for w in _words(other)]
    return any(w in words for w in said)


def _has_frame(line: Line) -> bool:
    return any(r.reader == FRAME for r in line.readers)


def _words(line: Line) -> list[str]:
    return [w.upper() for r in line.readers if r.reader != FRAME for w in _WORD.findall(r.text)]


def _touch(a: Box, b: Box) -> bool:
    return (
        a.left < b.left + b.width
        and b.left < a.left + a.width
        and a.top < b.top + b.height
        and b.top < a.top + a.height
    )


def _values(line: Line, patterns: Sequence[Pattern], rules: ParseRules) -> Mapping[str, _Chosen]:
    """Return for each kind of mark on the line the value with most weight."""
    read: dict[str, dict[str, _Value]] = defaultdict(lambda: defaultdict(_Value))
    readings = [r for r in line.readers if r.reader != FRAME and r.text]
    for said in readings:
        for hit in hits_in(said.text, patterns, rules):
            value = read[hit.pattern.mark][same_value(hit.pattern.mark, hit.value, rules)]
            value.hits.append(hit)
            if said not in value.said:
                value.said.append(said)
            if not hit.repaired and said not in value.strict:
                value.strict.append(said)
    whole = sum(weight_of(r) for r in readings) or 1.0
    chosen = {}
    for mark, values in read.items():
        # Readers drop one of several narrow strokes and never add one: the longest of several Roman years is likeliest.
        best = max(values.values(), key=lambda v: (v.hits[0].strokes, v.weight, v.hits[0].value))
        share = min(1.0, best.weight / whole)
        is_sure = _is_sure(best, [v for v in values.values() if v is not best], rules)
        if share >= rules.least_share and (is_sure or not best.hits[0].pattern.only_agreed):
            chosen[mark] = _Chosen(best, share, is_sure)
    gives_way = [k for k, c in chosen.items() if any(other in chosen for other in c.value.hits[0].pattern.unless)]
    return {kind: value for kind, value in chosen.items() if kind not in gives_way}


def _is_sure(value: _Value, others: Sequence[_Value], rules: ParseRules) -> bool:
    """Tell whether enough readers speak for the value and none is fairly sure of another."""
    if any(r.reader == TURNED or r.confidence >= rules.rival_confidence for other in others for r in other.strict):
        return False
    heard: dict[str, list[float]] = defaultdict(list)
    for said in value.strict:
        if said.reader != TURNED:
            heard[engine_of(said)].append(said.least)
    return len(heard) > 1 or any(len(least) > 1 and min(least) >= rules.sure_letter for least in heard.values())


def _words_of(hit: Hit) -> int:
    """PP-OCR loses spaces of Latin text: of equal values the one in more words is spelled as printed."""
    return len(hit.value.split(" "))


def _countries(value: _Value, rules: ParseRules) -> set[str]:
    """Return the country that a mark tells when it can be of one country alone."""
    hit = value.hits[0]
    if hit.pattern.mark == "origin":
        found = rules.countries.get("".join(c for c in hit.value.upper() if c.isalpha()))
        return {found} if found else set()
    named = {h.pattern.country for h in value.hits} - {""}
    return named if len(named) == 1 else set()


def _mark(
    line: Line,
    kind: str,
    chosen: _Chosen,
    country: str,
    certificates: Sequence[Certificate],
) -> Mark:
    value = chosen.value
    fitting = [h for h in value.hits if h.pattern.country == country] or value.hits
    hit = fitting[0]
    spelled = next((h.value for h in value.hits if _words_of(h) > _words_of(hit)), hit.value)
    said = settled(fitting, certificates)
    return Mark(
        kind=kind,
        text=line.text,
        value=spelled,
        year_from=said.year_from,
        year_to=said.year_to,
        accepted="auto" if chosen.is_sure else "no",
        confidence=round(chosen.share, 4),
        box=line.box,
        readers=tuple(r for r in line.readers if r.reader != FRAME),
        rule=said.rule,
        country=said.country,
        dates=said.dates,
        year=said.year,
        periods=said.periods,
        doubtful=said.doubtful,
        town=max((h.town for h in value.hits), key=lambda t: (t.count(" "), len(t))),
    )
