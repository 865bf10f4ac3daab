"""Where everything goes: the plan of one design, element by element, before any paint is laid."""

import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sample_batch.art import house as houses
from sample_batch.art import land, sky, town, tree
from sample_batch.art.brush import Part, Rgb, mix
from sample_batch.art.face import Face, meet
from sample_batch.art.figure import Person, figure
from sample_batch.art.genre import STORE
from sample_batch.art.head import bust
from sample_batch.art.lettering import signature_strokes
from sample_batch.art.machine import machine
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, frame, tube

# Palette, random stream for the shapes, and whether this is the redrawn version.
Build = Callable[[Palette, np.random.Generator, bool], list[Part]]
OTHER_HAT = {
    "none": "beret",
    "fedora": "cap",
    "cap": "fedora",
    "stetson": "topper",
    "topper": "fedora",
    "flyer": "cap",
    "hood": "fedora",
}
LAYOUTS = ("heads", "hero", "pair", "engine", "trio", "lone", "duel")


@dataclass(frozen=True, slots=True)
class Planned:
    """One element: its name, how its parts are made, and the frame it stands in."""

    name: str
    build: Build
    place: Floats


@dataclass(slots=True)
class Plan:
    """All elements in painting order, and where the light comes from."""

    elements: list[Planned]
    light_x: float


def stream(seed: int, *words: str | int) -> np.random.Generator:
    """A random stream of its own for each purpose, so that one change never disturbs another."""
    keys = [zlib.crc32(w.encode()) if isinstance(w, str) else w for w in words]
    return np.random.Generator(np.random.PCG64([seed, *keys]))


def plan(seed: int, genre: str, aspect: float) -> Plan:
    """The plan for a picture `aspect` wide and 1 high; KeyError for a genre that is not in GENRES."""
    return _Composer(seed, genre, aspect).compose()


class _Composer:
    def __init__(self, seed: int, genre: str, aspect: float) -> None:
        self.seed, self.aspect, self.store = seed, aspect, STORE[genre]
        self.rng = stream(seed, genre, "plan")
        self.light_x = -1.0 if self.rng.random() < 0.6 else 1.0
        self.made: list[Planned] = []
        self.people = 0
        self.title_high = bool(self.rng.random() < 0.4)

    def compose(self) -> Plan:
        rng, store = self.rng, self.store
        layout = LAYOUTS[int(rng.integers(len(LAYOUTS)))]
        if layout == "engine" and not store.machines:
            layout = "trio"
        horizon = float(rng.uniform(0.55, 0.7)) if layout not in ("lone", "duel") else float(rng.uniform(0.66, 0.78))
        self._backdrop(horizon, layout)
        getattr(self, f"_{layout}")(horizon)
        if "leaves" in store.extras:
            self._add("foreground", lambda p, r, _: tree.leaves(r, p, self.aspect))
        if "rain" in store.extras and rng.random() < 0.6:
            self._add("rain", lambda p, r, _: sky.rain(r, p, self.aspect))
        self._sign()
        return Plan(self.made, self.light_x)

    def _add(self, name: str, build: Build, place: Floats | None = None) -> None:
        self.made.append(Planned(name, build, frame(0, 0, 1) if place is None else place))

    def _pick(self, options: tuple[str, ...]) -> str:
        return options[int(self.rng.integers(len(options)))]

    def _backdrop(self, horizon: float, layout: str) -> None:
        rng, store, a = self.rng, self.store, self.aspect
        kind, ground, disc = self._pick(store.skies), self._pick(store.lands), self._pick(store.discs)
        self._add("sky", lambda p, r, _: sky.sky(r, p, a, horizon, kind))
        if disc != "sun" or kind != "burst":
            big = rng.uniform(0.07, 0.13) if layout not in ("lone", "hero") else rng.uniform(0.13, 0.24)
            x, y = a * rng.uniform(0.15, 0.85), rng.uniform(0.14, horizon - 0.05)
            self._add(disc, lambda p, r, _: sky.disc(r, p, 0, 0, 1, disc), frame(x, y, big * (0.7 + 0.3 * a)))
        self._add("land", lambda p, r, _: _ground(r, p, a, horizon, ground))
        if store.houses and (layout == "lone" or rng.random() < 0.5):
            house = self._pick(store.houses)
            high = rng.uniform(0.34, 0.46) if layout == "lone" else rng.uniform(0.16, 0.26)
            if house in ("warehouse", "station", "hut"):
                high = min(high, 0.3, 0.45 * a)
            x = a * (rng.uniform(0.3, 0.7) if layout == "lone" else rng.choice([0.2, 0.8]))
            self._add("building", lambda p, r, _: houses.house(r, p, 0, 0, 1, house), frame(x, horizon + 0.06, high))

    def _machine(self, x: float, y: float, size: float, turn: float, flip: bool) -> None:
        store = self.store
        if not store.machines:
            return
        kind = self._pick(store.machines)
        if kind in ("locomotive", "ship", "crane", "car", "submarine"):
            turn *= 0.3
        pick = int(self.rng.integers(4))
        self._add("machine", lambda p, r, _: machine(kind, p, _paint(p, pick), r), frame(x, y, size, turn, flip))

    def _burst(self, x: float, y: float, size: float) -> None:
        if "explosion" in self.store.extras and self.rng.random() < 0.65:
            self._add("explosion", lambda p, r, _: sky.explosion(r, p, 0, 0, 1), frame(x, y, size))

    def _head(self, x: float, y: float, size: float, flip: bool, woman: bool, turn: float = 0.0) -> None:
        self.people += 1
        face, name = self._somebody(woman, True), f"head_{self.people}"
        coat, collar = int(self.rng.integers(4)), int(self.rng.integers(2))
        near = (self.light_x < 0) != flip

        def build(p: Palette, _: np.random.Generator, redrawn: bool) -> list[Part]:
            return bust(_rehatted(face(p), redrawn), p, near, _paint(p, coat), collar)

        self._add(name, build, frame(x, y, size, turn, flip))

    def _figure(self, x: float, y: float, size: float, flip: bool, woman: bool, turn: float = 0.0) -> None:
        self.people += 1
        store, name = self.store, f"figure_{self.people}"
        face = self._somebody(woman, False)
        pose, costume = self._pick(store.poses), self._pick(store.gowns if woman else store.costumes)
        prop = self._pick(store.props) if self.rng.random() < 0.75 else "none"
        cloth, near = int(self.rng.integers(4)), (self.light_x < 0) != flip

        def build(p: Palette, r: np.random.Generator, redrawn: bool) -> list[Part]:
            person = Person(
                _rehatted(face(p), redrawn),
                costume,
                _paint(p, cloth),
                mix(_paint(p, cloth + 1), p.dark, 0.55),
                prop,
                redrawn,
            )
            return figure(person, pose, p, near, r)

        self._add(name, build, frame(x, y, size, turn, flip))

    def _somebody(self, woman: bool, big: bool) -> Callable[[Palette], Face]:
        who, hats = int(self.rng.integers(1 << 30)), self.store.bonnets if woman else self.store.hats
        return lambda p: meet(stream(who, "face"), p, woman, hats, big)

    def _sides(self) -> tuple[bool, float]:
        flip = bool(self.rng.random() < 0.5)
        return flip, -1.0 if flip else 1.0

    def _heads(self, horizon: float) -> None:
        """Two big heads above, the scene below."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        big = r.uniform(0.28, 0.34) * min(1.0, 0.55 + a * 0.6)
        top = 0.27 if not self.title_high else 0.37
        self._head(
            a / 2 + s * a * 0.2, top + r.uniform(-0.02, 0.03), big * 0.86, not flip, bool(r.random() < 0.75), s * 0.1
        )
        self._head(a / 2 - s * a * 0.17, top + 0.06, big, flip, False, -s * 0.08)
        self._burst(a / 2 + s * a * 0.3, horizon + 0.04, 0.09)
        self._machine(a / 2 + s * a * 0.1, horizon + 0.1, 0.42 * min(a + 0.2, 1.1), -s * 0.2, flip)
        self._figure(a / 2 - s * a * 0.24, horizon + 0.13, 0.34, flip, False)
        if r.random() < 0.7:
            self._figure(a / 2 - s * a * 0.05, horizon + 0.18, 0.3, flip, True)

    def _hero(self, horizon: float) -> None:
        """One great figure on the diagonal, a machine behind."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        self._machine(a / 2 + s * a * 0.22, horizon - r.uniform(0.12, 0.3), 0.5 * min(a + 0.2, 1.2), -s * 0.35, flip)
        self._burst(a / 2 + s * a * 0.26, horizon, 0.12)
        self._figure(a / 2 + s * a * 0.3, horizon + 0.06, r.uniform(0.26, 0.32), not flip, bool(r.random() < 0.5))
        size = r.uniform(0.78, 0.92)
        self._figure(
            a / 2 - s * a * 0.1,
            0.5 + (0.06 if self.title_high else -0.03),
            size,
            flip,
            bool(r.random() < 0.3),
            -s * 0.1,
        )

    def _pair(self, horizon: float) -> None:
        """A man and a woman before a pale giant head."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        self._head(
            a / 2 + s * a * 0.16,
            0.27 if not self.title_high else 0.36,
            r.uniform(0.36, 0.44) * min(1.0, 0.5 + a * 0.6),
            not flip,
            bool(r.random() < 0.5),
        )
        self._machine(a / 2 - s * a * 0.24, horizon - 0.06, 0.36 * min(a + 0.2, 1.1), -s * 0.25, flip)
        self._burst(a / 2 - s * a * 0.3, horizon - 0.02, 0.09)
        size = r.uniform(0.5, 0.58)
        self._figure(a / 2 + s * a * 0.2, horizon + 0.06, size * 0.93, flip, True)
        self._figure(a / 2 - s * a * 0.1, horizon + 0.08, size, flip, False, -s * 0.06)

    def _engine(self, horizon: float) -> None:
        """The machine fills the sheet; people at its edge."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        self._head(
            a / 2 - s * a * 0.22,
            0.22 if not self.title_high else 0.34,
            r.uniform(0.24, 0.3),
            flip,
            bool(r.random() < 0.5),
        )
        self._burst(a / 2 - s * a * 0.28, horizon + 0.02, 0.12)
        self._machine(
            a / 2 + s * a * 0.05,
            horizon - r.uniform(-0.02, 0.08),
            r.uniform(0.82, 1.0) * min(a + 0.1, 1.15),
            -s * r.uniform(0.3, 0.6),
            flip,
        )
        self._figure(a / 2 - s * a * 0.25, horizon + 0.16, 0.36, flip, False)
        self._figure(a / 2 + s * a * 0.28, horizon + 0.2, 0.3, not flip, bool(r.random() < 0.6))

    def _trio(self, horizon: float) -> None:
        """Three heads stepped across the sheet, a strip of action at the foot."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        lift = 0.1 if self.title_high else 0.0
        scale = min(1.0, 0.5 + a * 0.7)
        self._head(a / 2 + s * a * 0.28, 0.2 + lift, 0.22 * scale, not flip, bool(r.random() < 0.4))
        self._head(a / 2 - s * a * 0.26, 0.28 + lift, 0.25 * scale, flip, False)
        self._head(a / 2 + s * a * 0.1, 0.42 + lift, 0.31 * scale, not flip, True, s * 0.08)
        self._machine(a / 2 - s * a * 0.15, horizon + 0.16, 0.36 * min(a + 0.2, 1.1), -s * 0.15, flip)
        self._figure(a / 2 + s * a * 0.32, horizon + 0.17, 0.3, flip, False)

    def _lone(self, horizon: float) -> None:
        """A wide place, small people."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        self._machine(
            a / 2 + s * a * 0.18,
            r.uniform(0.26, 0.4) if self.store.airborne else horizon + 0.02,
            0.52 * min(a + 0.2, 1.2),
            -s * 0.4,
            flip,
        )
        self._figure(a / 2 - s * a * 0.16, horizon + 0.07, 0.4, flip, bool(r.random() < 0.5))
        self._figure(a / 2 - s * a * 0.33, horizon + 0.1, 0.37, flip, bool(r.random() < 0.6))

    def _duel(self, horizon: float) -> None:
        """Two large figures against each other, a head between."""
        r, a = self.rng, self.aspect
        flip, s = self._sides()
        self._head(a / 2, 0.2 if not self.title_high else 0.33, r.uniform(0.22, 0.27), flip, True)
        self._machine(a / 2 + s * a * 0.06, horizon - 0.02, 0.34 * min(a + 0.2, 1.1), -s * 0.2, flip)
        self._burst(a / 2 + s * a * 0.05, horizon, 0.1)
        size = r.uniform(0.56, 0.64)
        self._figure(a / 2 + s * a * 0.27, horizon - 0.04, size * 0.9, not flip, bool(r.random() < 0.35))
        self._figure(a / 2 - s * a * 0.24, horizon - 0.01, size, flip, False)

    def _sign(self) -> None:
        side = self.rng.random() < 0.7
        x = self.aspect * (0.79 if side else 0.04)
        strokes = signature_strokes(self.seed)
        size = min(0.034, self.aspect * 0.17 / max(float(s[:, 0].max()) for s in strokes))

        def build(p: Palette, _r: np.random.Generator, _redrawn: bool) -> list[Part]:
            return [Part(tube(s[:, :2], [w * 1.5 for w in s[:, 2]], 2), p.light) for s in strokes]

        self._add("signature", build, frame(x, 0.945, size))


def _rehatted(face: Face, redrawn: bool) -> Face:
    """The same person, after a redrawing in another hat."""
    return replace(face, hat=OTHER_HAT.get(face.hat, "none")) if redrawn else face


def _paint(p: Palette, pick: int) -> Rgb:
    return (p.accent, p.second, mix(p.mid, p.light, 0.15), mix(p.metal, p.second, 0.2))[pick % 4]


def _ground(r: np.random.Generator, p: Palette, a: float, horizon: float, kind: str) -> list[Part]:
    if kind == "dunes":
        return land.dunes(r, p, a, horizon)
    if kind == "sea":
        return land.sea(r, p, a, horizon, r.uniform(0.5, 1.2))
    if kind == "city":
        return [*town.city(r, p, a, horizon, r.random() < 0.7), *land.plain(r, p, a, horizon + 0.02, p.near)]
    if kind == "crater":
        return [*land.mountains(r, p, a, horizon, False), *land.plain(r, p, a, horizon + 0.04, mix(p.mid, p.far, 0.5))]
    if kind == "mountains":
        return [*land.mountains(r, p, a, horizon, False), *land.dunes(r, p, a, horizon + 0.05)]
    if kind == "snow":
        front = land.plain(r, p, a, horizon + 0.05, mix(p.light, p.far, 0.25))
        return [*land.mountains(r, p, a, horizon, True), *front, *tree.woods(r, p, a, horizon, "fir")]
    if kind in ("palms", "river"):
        base = land.sea(r, p, a, horizon, 0.4) if kind == "river" else land.plain(r, p, a, horizon, p.mid)
        return [*land.mountains(r, p, a, horizon, False)[:1], *base, *tree.woods(r, p, a, horizon, "palm")]
    if kind == "bare":
        return [*land.plain(r, p, a, horizon, p.mid), *tree.woods(r, p, a, horizon, "bare")]
    if kind == "rails":
        return [
            *land.mountains(r, p, a, horizon, False),
            *land.plain(r, p, a, horizon, p.mid),
            *town.rails(r, p, a, horizon),
        ]
    if kind == "mesa":
        return [*land.mountains(r, p, a, horizon, False), *land.dunes(r, p, a, horizon)]
    if kind == "seabed":
        return [*land.sea(r, p, a, horizon - 0.1, 0.8), *land.mountains(r, p, a, horizon + 0.2, False)[1:]]
    return [*land.plain(r, p, a, horizon, p.mid), *tree.woods(r, p, a, horizon - 0.02, "broad")[:24]]
