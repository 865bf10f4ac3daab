"""What the reading bench prints: invented names and the grammar of print codes. The two sides share no name."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sample_batch.codes import printer_name, roman

Side = str
# Beginnings of names: no one, no place and no company is meant. The patterns' own examples use others.
ONSETS: Mapping[Side, tuple[str, ...]] = {
    "tune": ("Karn", "Mobb", "Trell", "Usk", "Fess", "Grolt", "Hebb", "Lunt", "Oss", "Prask", "Rund", "Snep", "Jekk"),
    "report": ("Vorl", "Skem", "Tarv", "Ombr", "Quen", "Pilg", "Yarr", "Drosk", "Ibb", "Wund", "Nurl", "Zell", "Brisp"),
}
ENDS = {
    "en": ("wick", "mere", "stow", "brack", "den", "hurst", "latch", "low", "gate", "ington", "combe"),
    "fr": ("ois", "ande", "elin", "ault", "erac", "ière", "igny", "ot"),
    "de": ("bruch", "feld", "heim", "stedt", "hagen", "mühle", "lohe", "ach"),
}
NOUNS: Mapping[Side, tuple[str, ...]] = {
    "tune": ("LANTERN", "HARVEST", "WIDOW", "SIGNAL", "ORCHARD", "KEEPER", "COMET", "BRIDGE"),
    "report": ("FERRY", "THISTLE", "WARDEN", "CINDER", "QUARRY", "PILOT", "MIRROR", "SALTMARSH"),
}
LINKS: Mapping[Side, tuple[str, ...]] = {
    "tune": ("OF THE", "BENEATH", "AND THE", "NEVER SAW THE"),
    "report": ("AGAINST THE", "WITHOUT A", "BEYOND THE", "IN SEARCH OF A"),
}
MONTHS_FR = ("janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre")
PROVINCES = ("B", "M", "V", "Z", "SE", "BI", "BA", "SS", "NA")
AU_CITIES = ("Sydney", "Melbourne", "Brisbane", "Adelaide", "Perth", "Hobart")


@dataclass(frozen=True, slots=True)
class Told:
    """One true line. ``kind`` and ``value`` are those of the mark that it bears, empty where it bears none."""

    field: str
    text: str
    kind: str = ""
    value: str = ""
    country: str = ""

    @property
    def is_roman(self) -> bool:
        """Whether its year is a Roman numeral."""
        return self.kind == "copyright" and self.value not in self.text


@dataclass(frozen=True, slots=True)
class Words:
    """Draws lines of one side from ``rng``."""

    side: Side
    rng: np.random.Generator

    def pick(self, options: tuple[str, ...]) -> str:
        return options[int(self.rng.integers(len(options)))]

    def number(self, low: int, high: int) -> int:
        return int(self.rng.integers(low, high))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def name(self, land: str = "en") -> str:
        return self.pick(ONSETS[self.side]) + self.pick(ENDS[land])

    def cased(self, text: str, share: float = 0.4) -> str:
        return text.upper() if self.chance(share) else text


def release_code(w: Words) -> Told:
    again = "R" if w.chance(0.15) else ""
    if w.chance(0.6):
        text = f"{again}{w.number(40, 78)}/{w.number(1, 1000)}"
    else:
        text = f"{again}{w.number(77, 100)}{w.number(0, 10000):04d}"
    return Told("release code", text, "release_code", text, "US")


def certificate(w: Words, country: str = "") -> Told:
    letter = w.pick(("U", "A", "AA", "X", "PG", "15", "18", "12"))
    rated = w.pick(("G", "M", "GP", "PG", "PG-13", "R", "X", "NC-17"))
    france = w.pick(("12", "13", "16", "18"))
    italy, germany = w.pick(("14", "16", "18")), w.pick(("6", "12", "16", "18"))
    forms = (
        (f'"{letter}" CERTIFICATE', letter, "UK"),
        (f"CERT. {letter}", letter, "UK"),
        (f"RATED {rated}", rated, "US"),
        (w.cased(f"Interdit aux moins de {france} ans"), f"-{france}", "FR"),
        (w.cased(f"Vietato ai minori di {italy} anni"), f"V.M.{italy}", "IT"),
        (f"V.M. {italy}", f"V.M.{italy}", "IT"),
        (w.cased(f"Freigegeben ab {germany} Jahren"), f"ab {germany}", "DE"),
    )
    fitting = tuple(f for f in forms if country in ("", f[2]))
    text, value, country = fitting[w.number(0, len(fitting))]
    return Told("certificate", text, "certificate", value, country)


def roman_year(w: Words) -> Told:
    year = w.number(1920, 2006)
    return Told("roman year", roman(year), "copyright", str(year))


def printer(w: Words, country: str = "") -> Told:
    country = country or w.pick(("UK", "FR", "DE", "AU"))
    if country == "UK":
        one, two = w.name(), w.name()
        forms = (f"{one} & {two} Ltd.", f"{one} Press", f"{one} Bros. Ltd", f"{one} Lithographic Co. Ltd")
        name = w.pick(forms)
        land = w.pick(("England", "England", "Great Britain", "Scotland"))
        text = f"Printed in {land} by {name}, {w.name()}"
    elif country == "FR":
        name = w.name("fr")
        text = f"{w.pick(('Imp.', 'Imprimerie'))} {name}, {w.name('fr')}"
    elif country == "DE":
        name = w.name("de") + w.pick((" GmbH", " & Co.", ""))
        text = f"{w.pick(('Druck', 'Offsetdruck'))}: {name}, {w.name('de')}"
    else:
        name = w.name() + w.pick((" Press", " Offset", " Litho"))
        text = f"{w.pick(('', 'Printed by '))}{name} Pty. Ltd. {w.pick(AU_CITIES)}"
    return Told("printer", w.cased(text), "printer", printer_name(name), country)


def copyright_line(w: Words) -> Told:
    year = w.number(1930, 1996)
    owner = f"{w.name()} {w.pick(('Pictures', 'Productions', 'Films'))} {w.pick(('Inc.', 'Ltd.', 'Corp.'))}"
    shown = roman(year) if w.chance(0.3) else str(year)
    forms = (f"© {shown} {owner}", f"Copyright {shown} by {owner}", f"COPYRIGHT © {shown} {owner} All rights reserved")
    return Told("copyright", w.cased(w.pick(forms)), "copyright", str(year))


def union(w: Words) -> Told:
    trade = w.pick(("LITHOGRAPHERS", "PRESSMEN", "PLATEMAKERS"))
    number = w.number(1, 400)
    return Told("union", f"UNION MADE {trade} LOCAL {number}", "union", f"{trade} LOCAL {number}")


def edge_print(w: Words) -> Told:
    base = w.pick(("SAFETY", "SAFETY", "NITRATE"))
    number = w.number(1, 37)
    forms = (f"{base} FILM {w.number(1000, 9999)}", f"{base} FILM {number}A", f"{number} {base} FILM {number}A", base)
    return Told("edge print", w.pick(forms), "film_base", base)


def date(w: Words) -> Told:
    year = w.number(1944, 1992)
    quarter = w.pick(("1er", "2e", "3e", "4e"))
    forms = (f"{quarter} trimestre {year}", f"{w.pick(MONTHS_FR)} {year}", str(year))
    return Told("date", w.cased(f"Dépôt légal {w.pick(forms)}"), "deposit", str(year), "FR")


def permit(w: Words) -> Told:
    number, two = w.number(10000, 99999), w.number(10, 99)
    spain = f"{w.pick(PROVINCES)}. {w.number(100, 30000)}-{w.number(1959, 1996)}"
    job = f"{w.pick(('', 'AB-', 'Q'))}{w.number(1000, 99999)}"
    forms = (
        (f"Visa de censure N° {two} {number % 1000:03d}", "visa", f"{two}{number % 1000:03d}", "FR"),
        (f"Visto censura n. {number}", "visa", str(number), "IT"),
        (
            f"Visto censura n. {number} del {w.number(1, 29)}-{w.number(1, 13)}-{w.number(1948, 1980)}",
            "visa",
            str(number),
            "IT",
        ),
        (f"Depósito legal {spain}", "deposit", spain, "ES"),
        (f"Job No. {job}", "job", job, ""),
    )
    text, kind, value, country = forms[w.number(0, len(forms))]
    return Told("permit", w.cased(text, 0.3), kind, value, country)


def title(w: Words) -> Told:
    return Told("title", f"{w.pick(NOUNS[w.side])} {w.pick(LINKS[w.side])} {w.pick(NOUNS[w.side])}")


FIELDS: Mapping[str, Callable[[Words], Told]] = {
    "release code": release_code,
    "certificate": certificate,
    "roman year": roman_year,
    "printer": printer,
    "copyright": copyright_line,
    "union": union,
    "edge print": edge_print,
    "date": date,
    "permit": permit,
    "title": title,
}
