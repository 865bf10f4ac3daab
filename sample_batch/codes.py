"""Small lines of invented sheets in the forms that each country's printers used (see the code patterns)."""

from sample_batch.certificate import Certificate, Shape
from sample_batch.sheet import SmallLine


def printer_name(name: str) -> str:
    """Return the printer's name as marks carry it: upper case, single spaces, no closing full stop."""
    return " ".join(name.upper().split()).rstrip(".")


def uk_imprint(
    name: str, town: str, place: str = "bottom-left", cap_mm: float = 3.0, land: str = "England"
) -> SmallLine:
    """Return ``Printed in England by NAME, TOWN``."""
    text = f"Printed in {land} by {name}, {town}"
    return SmallLine(text, "printer", printer_name(name), place, cap_mm)


def us_code(code: str, place: str = "bottom-right", cap_mm: float = 3.2) -> SmallLine:
    """Return a national distribution number such as ``61/204`` or ``R68/118``."""
    return SmallLine(code, "release_code", code, place, cap_mm)


def origin(text: str, value: str, place: str = "bottom-centre", cap_mm: float = 2.8) -> SmallLine:
    """Return the mark of the country of origin."""
    return SmallLine(text, "origin", value, place, cap_mm)


def notice(
    year: int, owner: str, place: str = "bottom-left", cap_mm: float = 2.8, form: str = "© {year} {owner}"
) -> SmallLine:
    """Return a copyright notice; ``form`` may spell the year otherwise (``{roman}``)."""
    text = form.format(year=year, owner=owner, roman=roman(year))
    return SmallLine(text, "copyright", str(year), place, cap_mm)


def style(letter: str, place: str = "bottom-left", cap_mm: float = 3.0) -> SmallLine:
    """Return the style mark of a campaign with several designs."""
    return SmallLine(f'STYLE "{letter}"', "style", letter, place, cap_mm)


def au_printer(name: str, town: str, place: str = "bottom-centre", cap_mm: float = 2.6) -> SmallLine:
    """Return an Australian printer's line; ``name`` without ``Pty. Ltd.``"""
    return SmallLine(f"{name} Pty. Ltd. {town}", "printer", printer_name(name), place, cap_mm)


def fr_imp(name: str, town: str, place: str = "bottom-left", cap_mm: float = 2.6) -> SmallLine:
    """Return a French printer's line."""
    return SmallLine(f"Imp. {name}, {town}", "printer", printer_name(name), place, cap_mm)


def fr_visa(number: str, place: str = "bottom-right", cap_mm: float = 2.6) -> SmallLine:
    """Return the film's visa; ``number`` with its blank (``24 318``)."""
    return SmallLine(f"Visa de censure N° {number}", "visa", number.replace(" ", ""), place, cap_mm)


def fr_depot(text: str, year: int, place: str = "bottom-centre", cap_mm: float = 2.6) -> SmallLine:
    """Return a legal deposit line, e.g. ``Dépôt légal 3e trimestre 1958``."""
    return SmallLine(text, "deposit", str(year), place, cap_mm)


def it_visto(number: str, place: str = "bottom-right", cap_mm: float = 2.6) -> SmallLine:
    """Return the film permit's line."""
    return SmallLine(f"Visto censura n. {number}", "visa", number, place, cap_mm)


def es_deposit(province: str, number: str, year: int, place: str = "bottom-right", cap_mm: float = 2.6) -> SmallLine:
    """Return a Spanish deposit line; its value is the number as printed."""
    code = f"{province}. {number}-{year}"
    return SmallLine(f"Depósito legal {code}", "deposit", code, place, cap_mm)


def de_druck(name: str, town: str, place: str = "bottom-left", cap_mm: float = 2.6) -> SmallLine:
    """Return a German printer's line."""
    return SmallLine(f"Druck: {name}, {town}", "printer", printer_name(name), place, cap_mm)


def uk_certificate(letter: str, shape: Shape = "circle", cap_mm: float = 4.0) -> Certificate:
    """Return a British certificate as an invented symbol with its word."""
    if shape == "word":
        return Certificate(f'"{letter}" CERTIFICATE', letter, "word", cap_mm=cap_mm)
    return Certificate(f"{letter} CERTIFICATE", letter, shape, letter, "CERTIFICATE", cap_mm)


def us_rating(letter: str, cap_mm: float = 4.0) -> Certificate:
    """Return an American rating as words."""
    return Certificate(f"RATED {letter}", letter, "word", cap_mm=cap_mm)


def fr_age(age: int, cap_mm: float = 3.2) -> Certificate:
    """Return a French age bar."""
    return Certificate(f"INTERDIT AUX MOINS DE {age} ANS", f"-{age}", "word", cap_mm=cap_mm)


def it_vm(age: int, cap_mm: float = 3.6) -> Certificate:
    """Return an Italian age bar."""
    return Certificate(f"V.M. {age}", f"V.M.{age}", "box", f"V.M. {age}", cap_mm=cap_mm)


def de_fsk(age: int, cap_mm: float = 3.2) -> Certificate:
    """Return a German age mark."""
    return Certificate(f"Freigegeben ab {age} Jahren", f"ab {age}", "word", cap_mm=cap_mm)


def roman(year: int) -> str:
    """Return ``year`` in strict subtractive Roman numerals."""
    out = ""
    for value, sign in zip(
        (1000, 900, 500, 400, 100, 90, 50, 40, 10, 9, 5, 4, 1),
        ("M", "CM", "D", "CD", "C", "XC", "L", "XL", "X", "IX", "V", "IV", "I"),
        strict=True,
    ):
        out += sign * (year // value)
        year %= value
    return out
