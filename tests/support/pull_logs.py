"""Simulated pull logs, by a march of their own: nothing here is worked out by route3d.

The generator knows a line through points with arcs, a set of cables of one weight, conduits with a
friction and a weight factor, a rope, sheaves and a brake. Tension follows::

    dT/ds = w z.t + mu omega |T k n - w (z - (z.t) t)|,    T never below 0

for the cable behind the head and the rope ahead of it, in Runge-Kutta steps of 5 cm in bends, all
places of the head at once. Each turn of the lead-off multiplies by e^(mu phi), each sheave by one
over its efficiency. What the gauge then shows is disturbed: noise that is correlated along the
cable, a tare, snags, footage that drifts, gaps, stops, and the marks of the dial.

``TERMINAL`` and ``QUAY`` are two pulls, and ``job_of`` makes the job that route3d is given for
each. Only ``job_of`` and ``Readings.log`` use records of route3d.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FOOT, LBF, INCH = 0.3048, 4.4482216152605, 0.0254
SPACING = 2.0 * FOOT
_STEP = 0.05
Floats = NDArray[np.float64]


# --- the pull as it is --------------------------------------------------------------------------


@dataclass(frozen=True)
class Truth:
    """A pull as it really was, listed in the order of pulling, SI.

    ``points`` (n, 3) m with bend ``radii`` (n,) m, 0 at the ends; ``conduits`` (n - 1,) name that
    of each leg, and a bend belongs to the leg after it, or before it with ``against``: where the
    pull runs against the order of the route. ``friction`` and ``omega`` are by conduit; ``weight``
    N/m of all cables; ``reel`` N is the tension leaving the reels, which the guide multiplies by
    ``guide``; ``turns`` are (rad, efficiency), efficiency None for a turn over the conduit end.
    """

    model: str
    run: str
    feed: str
    points: tuple[tuple[float, float, float], ...]
    radii: tuple[float, ...]
    conduits: tuple[str, ...]
    friction: Mapping[str, float]
    omega: Mapping[str, float]
    weight: float
    rope_weight: float
    rope_friction: float
    reel: float
    guide: float = 1.0
    turns: tuple[tuple[float, float | None], ...] = ()
    against: bool = False

    def having(self, **changes: object) -> Truth:
        """The same pull with other figures; ``friction`` may name some conduits only."""
        if "friction" in changes:
            changes["friction"] = {**self.friction, **changes["friction"]}  # type: ignore[dict-item]
        return replace(self, **changes)  # type: ignore[arg-type]

    @property
    def length(self) -> float:
        """Length of the line, m."""
        return sum(piece.length for piece in _line(self.points, self.radii))


@dataclass(frozen=True)
class _Piece:
    """A straight or an arc: leg or vertex ``number``, tangent and normal at its start."""

    number: int
    is_arc: bool
    length: float
    radius: float
    tangent: Floats
    normal: Floats


@cache
def _line(points: tuple[tuple[float, ...], ...], radii: tuple[float, ...]) -> tuple[_Piece, ...]:
    """Straights between the tangent points, and the arcs there."""
    p = np.array(points)
    along = [(b - a) / math.dist(a, b) for a, b in pairwise(p)]
    turn = [0.0] * len(p)
    for i in range(1, len(p) - 1):
        turn[i] = math.acos(float(np.clip(along[i - 1] @ along[i], -1.0, 1.0)))
    back = [r * math.tan(a / 2) for r, a in zip(radii, turn, strict=True)]
    pieces = []
    for i, t in enumerate(along):
        if i and turn[i] > 0:
            before = along[i - 1]
            toward = t - (t @ before) * before
            toward /= math.sqrt(float(toward @ toward))
            pieces.append(_Piece(i, True, radii[i] * turn[i], radii[i], before, toward))
        straight = math.dist(p[i], p[i + 1]) - back[i] - back[i + 1]
        pieces.append(_Piece(i, False, straight, math.inf, t, np.zeros(3)))
    return tuple(pieces)


def clean_loads(truth: Truth, pulled: Floats, reel: Floats | float | None = None) -> Floats:
    """Load at the machine (m,) N with the head at ``pulled`` (m,) m; ``reel`` N, or one for each.

    Not the gauge's: no noise, no tare, no marks.
    """
    heads = np.asarray(pulled, dtype=np.float64)
    reels = np.broadcast_to(truth.reel if reel is None else reel, heads.shape)
    tension = reels * truth.guide
    at = 0.0
    for piece in _line(truth.points, truth.radii):
        leg = piece.number - 1 if piece.is_arc and truth.against else piece.number
        name = truth.conduits[leg]
        cable = truth.friction[name] * truth.omega[name]
        # along a straight the rate does not change
        count = math.ceil(piece.length / _STEP) if piece.is_arc else 1
        inside = heads[(heads > at) & (heads < at + piece.length)] - at
        nodes = np.unique(np.concatenate((np.linspace(0.0, piece.length, count + 1), inside)))
        for s, end in zip(nodes.tolist(), nodes[1:].tolist(), strict=False):
            behind = heads >= at + end - 1e-9
            weight = np.where(behind, truth.weight, truth.rope_weight)
            mu = np.where(behind, cable, truth.rope_friction)
            tension = _stepped(piece, s, end - s, weight, mu, tension)
        at += piece.length
    for angle, efficiency in truth.turns:
        factor = math.exp(truth.rope_friction * angle) if efficiency is None else 1 / efficiency
        tension = tension * factor
    return tension


def _stepped(piece: _Piece, s: float, h: float, w: Floats, mu: Floats, t: Floats) -> Floats:
    """One step of the classical Runge-Kutta method."""

    def rate(x: float, tension: Floats) -> Floats:
        angle = x / piece.radius
        tz = math.cos(angle) * piece.tangent[2] + math.sin(angle) * piece.normal[2]
        nz = math.cos(angle) * piece.normal[2] - math.sin(angle) * piece.tangent[2]
        # z less its part along t: nz along n, the rest along the binormal
        side = max(0.0, 1.0 - tz**2 - (nz**2 if piece.is_arc else 0.0))
        pressed = np.hypot(tension / piece.radius - w * nz, w * math.sqrt(side))
        change: Floats = w * tz + mu * pressed
        return change

    a = rate(s, t)
    b = rate(s + h / 2, t + h / 2 * a)
    c = rate(s + h / 2, t + h / 2 * b)
    d = rate(s + h, t + h * c)
    return np.maximum(t + h / 6 * (a + 2 * b + 2 * c + d), 0.0)


# --- what the gauge showed ------------------------------------------------------------------------


@dataclass(frozen=True)
class Snag:
    """With ``at`` m in the load jumps by ``share`` of itself, for ``length`` m of cable."""

    at: float
    share: float
    length: float = math.inf


@dataclass(frozen=True)
class Gauge:
    """How a pull was read, SI.

    A reading every ``spacing`` m of cable; noise of ``sigma`` N, correlated by ``rho`` over 2 ft
    of cable; marks every ``step`` N (0: read exactly); ``tare`` N. ``gaps`` m are not read,
    ``drift`` is the share by which footage is written too long, ``brakes`` are (m, N, written):
    from here the reels are held with another tension, written in the log or only that it changed.
    ``stops`` (m, s); ``gears`` (m, name); ``speed`` m/s. What ``lost`` a share of the readings is
    left out at random.
    """

    spacing: float = SPACING
    sigma: float = 25.0 * LBF
    rho: float = 0.85
    step: float = 50.0 * LBF
    tare: float = 0.0
    gaps: tuple[tuple[float, float], ...] = ()
    drift: float = 0.0
    brakes: tuple[tuple[float, float, bool], ...] = ()
    snags: tuple[Snag, ...] = ()
    stops: tuple[tuple[float, float], ...] = ()
    gears: tuple[tuple[float, str], ...] = ()
    speed: float = 0.15
    lost: float = 0.0


@dataclass(frozen=True)
class Readings:
    """A simulated log, m readings: ``true_pulled`` m and ``clean`` N are without the gauge.

    ``pulled`` m and ``load`` N are as written, ``time`` s since the start. ``events`` are
    (kind, m as written, s, words, N).
    """

    truth: Truth
    gauge: Gauge
    true_pulled: Floats
    clean: Floats
    pulled: Floats
    load: Floats
    time: Floats
    gear: tuple[str, ...]
    events: tuple[tuple[str, float, float, str, float], ...] = field(default=())

    def log(self, name: str = "simulated"):  # type: ignore[no-untyped-def]
        """As route3d has it after reading a file."""
        from route3d.field.readings import Event, PullLog

        n = len(self.pulled)
        return PullLog(
            name,
            self.pulled,
            self.load,
            self.time,
            self.gear,
            used=np.ones(n, dtype=bool),
            flags=((),) * n,
            row=np.arange(2, n + 2),
            events=tuple(Event(k, at, s, words, force) for k, at, s, words, force in self.events),  # type: ignore[arg-type]
            run=self.truth.run,
            feed=self.truth.feed,
        )

    def csv(self) -> str:
        """As the crew's page writes it, in ft and lbf."""
        rows = [
            (t, "reading", f"{at / FOOT:.1f}", f"{load / LBF:.0f}", gear, "", "")
            for t, at, load, gear in zip(
                self.time.tolist(), self.pulled.tolist(), self.load.tolist(), self.gear, strict=True
            )
        ]
        for kind, at, t, words, force in self.events:
            brake = "" if math.isnan(force) else f"{force / LBF:.0f}"
            gear, note = (words, "") if kind == "gear" else ("", words)
            rows.append((t, kind, f"{at / FOOT:.1f}", "", gear, brake, note))
        rows.sort(key=lambda row: row[0])
        head = "time,kind,cable in (ft),reading (lbf),gear,brake (lbf),note"
        return "\n".join([head, *(",".join((_clock(t), *more)) for t, *more in rows), ""])


def _clock(seconds: float) -> str:
    at = 8 * 3600 + seconds
    return f"2026-05-04T{int(at // 3600):02}:{int(at % 3600 // 60):02}:{at % 60:04.1f}-07:00"


def simulated(truth: Truth, gauge: Gauge, seed: int | np.random.Generator) -> Readings:
    """The log of one pull; the same seed gives the same log."""
    random = np.random.default_rng(seed)
    at = np.arange(0.0, truth.length, gauge.spacing)
    at = at[[not any(a < x < b for a, b in gauge.gaps) for x in at.tolist()]]
    at = at[random.random(len(at)) >= gauge.lost]
    reel = np.full(len(at), truth.reel)
    for place, force, _ in gauge.brakes:
        reel[at >= place] = force
    clean = clean_loads(truth, at, reel)
    load = clean.copy()
    for snag in gauge.snags:
        load[(at >= snag.at) & (at < snag.at + snag.length)] *= 1.0 + snag.share
    load = load + gauge.tare + noise_along(gauge, at, random)
    if gauge.step:
        load = np.round(load / gauge.step) * gauge.step
    time = at / gauge.speed
    for place, pause in gauge.stops:
        time = time + np.where(at >= place, pause, 0.0)
    gear = tuple(
        next((name for place, name in reversed(gauge.gears) if x >= place), "") for x in at.tolist()
    )
    written = at * (1.0 + gauge.drift)
    readings = Readings(truth, gauge, at, clean, written, np.maximum(load, 0.0), time, gear)
    return replace(readings, events=tuple(_events(gauge)))


def noise_along(gauge: Gauge, at: Floats, random: np.random.Generator) -> Floats:
    """A first-order process along the cable."""
    each = random.normal(size=len(at))
    if not gauge.sigma:
        return np.zeros(len(at))
    noise = np.zeros(len(at))
    for i, fresh in enumerate(each.tolist()):
        rho = gauge.rho ** ((at[i] - at[i - 1]) / SPACING) if i else 0.0
        noise[i] = rho * noise[i - 1] + math.sqrt(1.0 - rho**2) * gauge.sigma * fresh
    return noise


def _events(gauge: Gauge) -> list[tuple[str, float, float, str, float]]:
    def clock(place: float) -> float:
        return place / gauge.speed + sum(pause for at, pause in gauge.stops if at < place)

    def written(place: float) -> float:
        return place * (1.0 + gauge.drift)

    nothing = math.nan
    events = [("start", 0.0, 0.0, "", nothing)]
    for place, force, said in gauge.brakes:
        events.append(("brake", written(place), clock(place), "", force if said else nothing))
    for place, pause in gauge.stops:
        events.append(("stop", written(place), clock(place), "", nothing))
        events.append(("start", written(place), clock(place) + pause, "", nothing))
    events += [("gear", written(at), clock(at), name, nothing) for at, name in gauge.gears]
    return sorted(events, key=lambda event: event[2])


# --- two pulls, and the jobs that route3d is given for them ---------------------------------------


def _cradled(cable: float, bore: float) -> float:
    """Weight factor of three equal cables side by side at the bottom of the bore."""
    return 1.0 + 4.0 / 3.0 * (cable / (bore - cable)) ** 2


def _feet(points: Sequence[Sequence[float]]) -> tuple[tuple[float, float, float], ...]:
    return tuple((x * FOOT, y * FOOT, z * FOOT) for x, y, z in points)


LBF_PER_FT = LBF / FOOT

TERMINAL = Truth(
    model="models/riser_duct_bank.toml",
    run="F1",
    feed="roof switchroom",
    points=_feet([(195, 95, 42), (180, 95, 42), (180, 95, -6), (180, 0, -6), (0, 0, -5)]),
    radii=(0.0, 48 * INCH, 48 * INCH, 48 * INCH, 0.0),
    conduits=("riser", "riser", "duct", "duct"),
    friction={"duct": 0.25, "riser": 0.35},
    omega={
        "duct": _cradled(1.387, 5.016),
        "riser": _cradled(1.387, 5.073),
    },
    weight=3 * 1.795 * LBF_PER_FT,
    rope_weight=0.16 * LBF_PER_FT,
    rope_friction=0.15,
    reel=170.0 * LBF,
    against=True,
)

QUAY = Truth(
    model="",
    run="Q1",
    feed="quay vault",
    points=(
        (0.0, 0.0, 0.0),
        (70.0, 0.0, -1.0),
        (70.0, 45.0, -1.5),
        (70.0, 52.0, 4.0),
        (70.0, 62.0, 4.0),
        (110.0, 90.0, 4.0),
        (150.0, 90.0, 4.5),
    ),
    radii=(0.0, 1.5, 1.2, 1.2, 2.0, 2.0, 0.0),
    conduits=("buried", "buried", "steel", "steel", "upper", "upper"),
    friction={"buried": 0.3, "steel": 0.4, "upper": 0.2},
    omega={"buried": 1.0, "steel": 1.0, "upper": 1.0},
    weight=60.0,
    rope_weight=2.5,
    rope_friction=0.2,
    reel=1500.0,
    guide=math.exp(0.15 * math.pi / 4),
    turns=((math.pi / 4, None), (math.pi / 2, 0.95)),
)


def job_of(truth: Truth):  # type: ignore[no-untyped-def]
    """The job route3d is given: the figures of ``truth`` are those of its plan."""
    from route3d import load
    from route3d.model import (
        Cable,
        CableSet,
        Conductor,
        Conduit,
        Gear,
        Job,
        LeadOff,
        Machine,
        Reel,
        Rope,
        Route,
        Run,
        Sheave,
        Vertex,
    )

    if truth.model:
        return load(truth.model)
    last = len(truth.points) - 1
    ends = {0: truth.feed, last: "substation"}
    both = frozenset({"reel", "machine"})
    vertices = tuple(
        Vertex(point, ends.get(i, ""), radius, access=both if i in ends else frozenset())
        for i, (point, radius) in enumerate(zip(truth.points, truth.radii, strict=True))
    )
    conduits = {name: Conduit(name, 0.13, 0.14, mu) for name, mu in truth.friction.items()}
    route = Route(vertices, tuple(conduits[name] for name in truth.conduits))
    cable = Cable("feeder", 0.06, truth.weight, Conductor("copper", 500e-6), 15e3, 12.0)
    rope = Rope("line", 0.02, truth.rope_weight, truth.rope_friction, 60e3, 0.012)
    gears = (Gear(20e3, 0.3, "high", gauge=True), Gear(45e3, 0.1, "low"))
    sheave = Sheave("block", 0.3, 50e3, efficiency=0.95)
    turns = tuple(
        LeadOff(angle, None if efficiency is None else sheave) for angle, efficiency in truth.turns
    )
    reel = Reel("reel", feed_turn=math.pi / 4, feed_friction=0.15)
    run = Run(
        CableSet({cable: 1}),
        route,
        truth.run,
        attach="pulling eyes",
        reel_tension=truth.reel,
        rope=rope,
        machine=Machine("puller", gears),
        lead_off=turns,
        reel=reel,
    )
    return Job("Quay feeder", "SI", (run,))
