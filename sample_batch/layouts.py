"""How sheets of each format are laid out: size, borders, title and billing. Sizes and borders: common practice."""

from dataclasses import dataclass, replace

from sample_batch.certificate import Certificate
from sample_batch.sheet import WHITE, SheetPlan, SmallLine, Title

SIZES: dict[str, tuple[float, float]] = {
    "us_1sh_old": (685.8, 1041.4),
    "us_insert": (355.6, 914.4),
    "us_wc": (355.6, 558.8),
    "us_half": (711.2, 558.8),
    "uk_crown": (381.0, 508.0),
    "uk_dcrown": (508.0, 762.0),
    "uk_quad": (1016.0, 762.0),
    "uk_1sh": (685.8, 1016.0),
    "au_daybill": (330.2, 762.0),
    "fr_moyenne": (600.0, 800.0),
    "fr_petite_real": (400.0, 530.0),
    "it_2f": (1000.0, 1400.0),
    "it_loc": (330.0, 700.0),
    "de_a1": (594.0, 841.0),
    "es_70100": (700.0, 1000.0),
    "reprint": (610.0, 914.0),
}
BORDERS: dict[str, tuple[float, float, float, float]] = {
    "us_1sh_old": (20, 20, 20, 36),
    "us_insert": (14, 14, 14, 24),
    "us_wc": (12, 102, 12, 20),
    "us_half": (18, 18, 18, 26),
    "uk_crown": (13, 13, 13, 20),
    "uk_dcrown": (15, 15, 15, 22),
    "uk_quad": (20, 20, 20, 26),
    "uk_1sh": (19, 19, 19, 28),
    "au_daybill": (8, 8, 8, 20),
    "fr_moyenne": (13, 13, 13, 22),
    "fr_petite_real": (11, 11, 11, 18),
    "it_2f": (16, 16, 16, 30),
    "it_loc": (10, 10, 10, 20),
    "de_a1": (15, 15, 15, 24),
    "es_70100": (17, 17, 17, 26),
    "reprint": (17, 17, 17, 26),
}
NARROW = ("us_insert", "au_daybill", "it_loc")


@dataclass(frozen=True, slots=True)
class Campaign:
    """What all sheets of one film's campaign share."""

    name: str
    title: Title
    billing: tuple[str, ...]
    tagline: str


def lay_out(
    size: str,
    campaign: Campaign,
    lines: tuple[SmallLine, ...],
    certificate: Certificate | None = None,
    **changes: object,
) -> SheetPlan:
    """Return the plan of a sheet of ``size`` (a key of ``SIZES``); ``changes`` replace fields of the plan."""
    wide, high = SIZES[size]
    plan = SheetPlan(
        wide,
        high,
        BORDERS[size],
        campaign.title,
        billing=campaign.billing,
        tagline=campaign.tagline,
        title_width=0.9 if size in NARROW else 0.8,
        billing_cap_mm=wide * (0.034 if size in NARROW else 0.016 if size == "uk_quad" else 0.023),
        lines=lines,
        certificate=certificate,
    )
    if size in NARROW:
        plan = replace(plan, band_mm=high * 0.12, band=(0.93, 0.91, 0.84), billing_ink=(0.12, 0.1, 0.12))
        # On a narrow sheet the panel takes the billing, so that the title can be large.
        plan = replace(plan, title_tallest=0.3)
    return replace(plan, **changes)


def panel(plan: SheetPlan, height_mm: float, colour: tuple[float, float, float]) -> SheetPlan:
    """Return ``plan`` with the billing block on a plain panel under the picture."""
    ink = WHITE if sum(colour) < 1.5 else (0.12, 0.1, 0.12)
    return replace(plan, band_mm=height_mm, band=colour, billing_ink=ink)
