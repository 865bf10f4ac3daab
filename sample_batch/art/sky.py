"""What lies behind: skies, suns, clouds, rays, stars, rain, smoke and fire. All in canvas units (height 1)."""

import math

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, box, oval, poly, tube


def sky(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, kind: str) -> list[Part]:
    """The whole ground of the picture: `kind` is sweep, banks, burst, starry, flat or storm."""
    deep = Shade(oval(aspect * rng.uniform(0, 1), -0.05, aspect * 0.9, 0.3), mix(p.sky_top, p.dark, 0.4), 0.6, 0.12)
    warm = Shade(oval(aspect * rng.uniform(0.2, 0.8), horizon, aspect * 0.6, 0.2), p.glow, 0.65, 0.1)
    tilt = rng.uniform(-0.5, 0.5)
    base = Part(
        box(-0.05, -0.05, aspect + 0.05, 1.05),
        p.sky_top,
        fade=(aspect / 2, 0.02, aspect / 2 + tilt * 0.2, horizon + 0.05, p.sky_low),
        shades=(deep, warm),
        stroke=0.0085,
        flow=tilt if kind != "storm" else 0.9,
        swirl=0.35,
        vary=1.1,
    )
    parts = [base]
    if kind == "burst":
        parts += rays(rng, p, aspect, (aspect * rng.uniform(0.3, 0.7), horizon))
    if kind == "starry":
        parts += stars(rng, p, aspect, horizon)
    if kind in ("banks", "storm"):
        for _ in range(int(rng.integers(4, 8))):
            x, y = rng.uniform(-0.05, aspect + 0.05), rng.uniform(0.03, horizon * 0.85)
            parts += cloud(rng, p, x, y, rng.uniform(0.12, 0.3) * (0.5 + aspect / 2), kind == "storm")
    if kind == "sweep":
        for _ in range(int(rng.integers(7, 13))):
            parts.append(_streak(rng, p, aspect, horizon))
    return parts


def _streak(rng: np.random.Generator, p: Palette, aspect: float, horizon: float) -> Part:
    x, y = rng.uniform(-0.1, aspect), rng.uniform(0.02, horizon)
    long, rise = rng.uniform(0.2, 0.6), rng.uniform(-0.12, 0.04)
    colour = mix(mix(p.sky_low, p.glow, rng.random()), p.sky_top, rng.uniform(0, 0.55))
    spine = [(x, y), (x + long * 0.5, y + rise * 0.3 + rng.uniform(-0.01, 0.01)), (x + long, y + rise)]
    wide = rng.uniform(0.008, 0.03)
    return Part(
        tube(spine, (0.002, wide, 0.002)),
        colour,
        stroke=0.006,
        flow=math.atan2(rise, long),
        swirl=0.12,
        ragged=0.02,
        opacity=0.75,
        vary=1.4,
    )


def cloud(rng: np.random.Generator, p: Palette, x: float, y: float, size: float, dark: bool = False) -> list[Part]:
    """A heaped cloud, `size` wide, lit at its crown."""
    crown = mix(p.glow, p.light, 0.5) if not dark else mix(p.far, p.glow, 0.35)
    belly = mix(p.sky_low, p.sky_top, 0.55) if not dark else mix(p.sky_top, p.dark, 0.6)
    parts = []
    for tier, tone in ((0, 0.0), (1, 0.35), (2, 0.75)):
        knots = []
        count = int(rng.integers(6, 9))
        for k in range(count):
            t = k / (count - 1)
            bump = math.sin(t * math.pi) * size * (0.34 - tier * 0.09) * rng.uniform(0.55, 1.25)
            knots.append((x + (t - 0.5) * size * (1 - tier * 0.12), y - bump + tier * size * 0.07))
        knots += [(x + size * 0.3, y + size * (0.06 + tier * 0.02)), (x - size * 0.3, y + size * (0.05 + tier * 0.02))]
        parts.append(
            Part(
                blob(knots),
                mix(crown, belly, tone),
                form=size * 0.07,
                stroke=size * 0.028,
                flow=-0.3,
                swirl=0.9,
                ragged=size * 0.035,
                vary=1.0,
                opacity=0.93,
            )
        )
    return parts


def rays(rng: np.random.Generator, p: Palette, aspect: float, centre: tuple[float, float]) -> list[Part]:
    """Beams fanning from a centre."""
    parts, turn = [], rng.uniform(0, 0.3)
    for k in range(22):
        a = turn + k * math.tau / 22
        wide = rng.uniform(0.05, 0.1)
        reach = 1.6 + aspect
        tip = [(centre[0] + math.cos(a + d) * reach, centre[1] + math.sin(a + d) * reach) for d in (-wide, wide)]
        colour = mix(p.glow, p.sky_low, rng.uniform(0, 0.5))
        parts.append(
            Part(
                poly([centre, *tip]),
                colour,
                stroke=0.006,
                flow=a,
                swirl=0.05,
                soft=0.0015,
                opacity=rng.uniform(0.25, 0.6),
            )
        )
    return parts


def stars(rng: np.random.Generator, p: Palette, aspect: float, horizon: float) -> list[Part]:
    """Nebulae and many small stars."""
    parts = []
    for _ in range(6):
        x, y = rng.uniform(0, aspect), rng.uniform(0, horizon)
        colour = (p.second, p.far, p.glow, p.sky_low, p.accent)[int(rng.integers(5))]
        parts.append(
            Part(
                oval(x, y, rng.uniform(0.08, 0.3), rng.uniform(0.03, 0.1), rng.uniform(-1, 1)),
                colour,
                soft=0.03,
                opacity=0.45,
                stroke=0.005,
                swirl=1.0,
            )
        )
    for _ in range(170):
        x, y, r = rng.uniform(0, aspect), rng.uniform(0, horizon), 0.0008 + 0.002 * rng.random() ** 4
        parts.append(Part(oval(x, y, r, r, points=10), mix(p.glow, p.light, rng.random()), opacity=rng.uniform(0.5, 1)))
    for _ in range(6):
        x, y, r = rng.uniform(0, aspect), rng.uniform(0, horizon), rng.uniform(0.008, 0.018)
        for turn in (0.0, math.pi / 2):
            parts.append(Part(oval(x, y, r, r * 0.07, turn, 16), p.light))
    return parts


def disc(rng: np.random.Generator, p: Palette, x: float, y: float, r: float, kind: str) -> list[Part]:
    """A sun, moon or planet of radius r."""
    if kind == "sun":
        parts = [Part(oval(x, y, r * 1.5, r * 1.5), p.glow, soft=r * 0.35, opacity=0.6)]
        return [
            *parts,
            Part(
                oval(x, y, r, r),
                mix(p.accent, p.glow, rng.uniform(0.1, 0.9)),
                stroke=r * 0.04,
                flow=0.1,
                ragged=r * 0.02,
            ),
        ]
    if kind == "moon":
        maria = tuple(
            Shade(
                blob(
                    oval(
                        x + rng.uniform(-0.6, 0.6) * r,
                        y + rng.uniform(-0.6, 0.6) * r,
                        r * rng.uniform(0.1, 0.3),
                        r * rng.uniform(0.08, 0.2),
                        rng.uniform(0, 3),
                    )[::5]
                ),
                mix(p.glow, p.far, 0.6),
                0.6,
                r * 0.04,
            )
            for _ in range(7)
        )
        return [
            Part(oval(x, y, r * 1.35, r * 1.35), p.glow, soft=r * 0.3, opacity=0.35),
            Part(
                oval(x, y, r, r),
                mix(p.glow, p.light, 0.5),
                shades=maria,
                form=r * 0.18,
                stroke=r * 0.045,
                swirl=1.0,
                vary=0.7,
            ),
        ]
    bands = tuple(
        Shade(
            tube(
                [(x - r, y + r * t + rng.uniform(-0.1, 0.1) * r), (x, y + r * t * 1.2), (x + r, y + r * t - r * 0.1)],
                (r * 0.04, r * rng.uniform(0.05, 0.14), r * 0.04),
            ),
            (p.accent, p.second, p.light, p.far)[int(rng.integers(4))],
            0.65,
            r * 0.03,
        )
        for t in np.linspace(-0.8, 0.8, 7)
    )
    night = Shade(oval(x + r * 0.55, y + r * 0.45, r * 1.05, r * 1.05), p.dark, 0.85, r * 0.12)
    parts = [
        Part(oval(x, y, r * 1.12, r * 1.12), p.glow, soft=r * 0.1, opacity=0.4),
        Part(oval(x, y, r, r), p.mid, shades=(*bands, night), stroke=r * 0.028, flow=-0.1, swirl=0.25, vary=1.2),
    ]
    if rng.random() < 0.6:
        ring = np.concatenate([oval(x, y, r * 1.9, r * 0.42, -0.35)[:19], oval(x, y, r * 1.45, r * 0.3, -0.35)[18::-1]])
        parts.append(Part(ring, mix(p.glow, p.accent, 0.3), stroke=r * 0.02, flow=-0.35, swirl=0.1, opacity=0.85))
    return parts


def rain(rng: np.random.Generator, p: Palette, aspect: float) -> list[Part]:
    """Slanting strokes of rain over everything."""
    parts = []
    for _ in range(150):
        x, y, long = rng.uniform(-0.1, aspect), rng.uniform(-0.05, 1), rng.uniform(0.02, 0.07)
        parts.append(
            Part(
                tube([(x, y), (x + long * 0.3, y + long)], (0.0003, 0.0008), 2), p.light, opacity=rng.uniform(0.15, 0.5)
            )
        )
    return parts


def smoke(rng: np.random.Generator, x: float, y: float, size: float, lean: float, lit: Rgb, dark: Rgb) -> list[Part]:
    """A column of smoke from (x, y), `size` high, growing and leaning as it goes."""
    parts = []
    for k in range(11):
        t = k / 10
        cx, cy = x + lean * size * t**1.4 + rng.uniform(-0.05, 0.05) * size, y - size * t * 0.9
        r = size * (0.045 + 0.15 * t) * rng.uniform(0.8, 1.2)
        shape = blob(
            [
                (cx + math.cos(a) * r * rng.uniform(0.75, 1.2), cy + math.sin(a) * r * rng.uniform(0.7, 1.05))
                for a in np.linspace(0, math.tau, 9)[:-1]
            ]
        )
        parts.append(
            Part(
                shape,
                mix(dark, lit, 0.25 + 0.5 * t),
                form=r * 0.35,
                stroke=r * 0.09,
                swirl=1.2,
                ragged=r * 0.08,
                opacity=0.92 - 0.35 * t,
                vary=1.2,
            )
        )
    return parts


def explosion(rng: np.random.Generator, p: Palette, x: float, y: float, r: float) -> list[Part]:
    """A burst of fire with flying pieces."""
    parts = smoke(rng, x, y, r * 2.2, rng.uniform(-0.4, 0.4), p.far, p.dark)
    red = mix(p.accent, (200, 30, 10), 0.5)
    for share, colour in (
        (1.0, mix(red, p.dark, 0.35)),
        (0.82, red),
        (0.6, (246, 130, 24)),
        (0.4, (255, 206, 70)),
        (0.22, (255, 246, 200)),
    ):
        knots = []
        for k in range(18):
            a = k * math.tau / 18 + rng.uniform(-0.1, 0.1)
            reach = r * share * (1.0 if k % 2 else 0.6) * rng.uniform(0.8, 1.25)
            knots.append((x + math.cos(a) * reach, y + math.sin(a) * reach * 0.9))
        parts.append(Part(blob(knots, 4), colour, stroke=r * 0.028, flow=-1.2, swirl=0.8, ragged=r * 0.05, vary=1.3))
    for _ in range(26):
        a, d, s = rng.uniform(0, math.tau), r * rng.uniform(0.8, 1.7), r * rng.uniform(0.01, 0.045)
        cx, cy = x + math.cos(a) * d, y + math.sin(a) * d
        parts.append(
            Part(
                poly([(cx, cy), (cx + s, cy + s * rng.uniform(-1, 1)), (cx + s * rng.uniform(0, 1), cy + s)]),
                (p.dark, (255, 200, 80))[int(rng.integers(2))],
            )
        )
    return parts
