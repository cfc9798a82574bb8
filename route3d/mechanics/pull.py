"""One pull of one run from one end: tension, sidewall pressure, slack and machine load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.route_path import route_path
from route3d.geometry.vectors import Floats
from route3d.mechanics.fit import Fit, fit
from route3d.mechanics.rope import head_nodes, machine_loads
from route3d.mechanics.tension import brake, integrate
from route3d.model.practice import Practice
from route3d.model.rope import Rope
from route3d.model.run import Run

# Bends are looked at every 7.5 degrees and straights every 10 m or so, to draw them and to find
# the largest tension inside a bend: between two looks it exceeds both by less than 0.002 w R.
_LOOK_ANGLE = np.radians(7.5)
_LOOK_LENGTH = 10.0
_MOST_LOOKS = 4000


@dataclass(frozen=True, eq=False)
class Profile:
    """The pull, place by place in pulling order: both ends of every piece of every segment.

    ``station`` m counts from the first point of the route; ``segment`` numbers the segments of the
    route's own path; ``kind`` is that of the segment. ``tension`` N; ``sidewall`` and ``contact``
    N/m: per-cable sidewall pressure, and the load of the whole set on the wall, weight included.
    """

    station: Floats
    xyz: Floats
    kind: NDArray[np.int8]
    segment: NDArray[np.int64]
    tension: Floats
    sidewall: Floats
    contact: Floats


@dataclass(frozen=True, eq=False)
class Pull:
    """One direction of one run, solved.

    ``feed`` and ``pull`` are vertex numbers. ``brake`` N is the smallest reel tension that keeps
    the cable taut, ``brake_without_friction`` N the same should friction be nothing, and
    ``reel_tension`` N the one worked with. ``slack`` holds station pairs where the
    cable overruns. ``heads`` (m,) stations of the head and ``machine_loads`` (m,) N what the
    machine feels then; None without a rope.
    """

    run: Run
    practice: Practice
    path: Path
    fits: tuple[Fit, ...]
    feed: int
    pull: int
    profile: Profile
    brake: float
    brake_without_friction: float
    reel_tension: float
    slack: tuple[tuple[float, float], ...]
    heads: Floats | None
    machine_loads: Floats | None

    @property
    def reverse(self) -> bool:
        """True where the pull runs against the order of the route."""
        return self.feed > self.pull

    @property
    def feed_name(self) -> str:
        """Name of the feed end."""
        return self.run.route.label(self.feed)

    @property
    def pull_name(self) -> str:
        """Name of the pulling end."""
        return self.run.route.label(self.pull)

    @property
    def end_tension(self) -> float:
        """Tension of the cable head at the pulling end, N."""
        return float(self.profile.tension[-1])

    @cached_property
    def peak_tension(self) -> float:
        """Largest cable tension anywhere, N."""
        return float(self.profile.tension.max())

    @cached_property
    def peak_sidewall(self) -> float:
        """Largest per-cable sidewall pressure, N/m."""
        return float(self.profile.sidewall.max(initial=0.0))

    @cached_property
    def worst_rows(self) -> NDArray[np.int64]:
        """The profile row of the largest sidewall pressure in each segment of ``path``, (n,)."""
        segment = self.profile.segment
        order = np.lexsort((-self.profile.sidewall, segment))  # stable: the first of equals
        worst: NDArray[np.int64] = order[np.searchsorted(segment[order], np.arange(len(self.path)))]
        return worst

    @property
    def machine_least(self) -> float:
        """A load the machine meets in any case, N: its peak, or without a rope the end tension."""
        peak = self.machine_peak
        return self.end_tension if peak is None else peak

    @property
    def machine_peak(self) -> float | None:
        """Largest load on the machine, N; None without a rope to carry it."""
        return None if self.machine_loads is None else float(self.machine_loads.max())


def run_fits(run: Run) -> tuple[Fit, ...]:
    """How the cables lie in each leg's conduit, one Fit for each leg of the route."""
    known: dict[float, Fit] = {}
    for conduit in run.route.conduits:
        bore = conduit.inner_diameter
        if bore not in known:
            known[bore] = fit(run.cables.diameters, bore, run.arrangement)
    return tuple(known[c.inner_diameter] for c in run.route.conduits)


def solve_pull(
    run: Run,
    practice: Practice,
    *,
    reverse: bool = False,
    path: Path | None = None,
    fits: tuple[Fit, ...] | None = None,
) -> Pull:
    """Solve one direction of a run (design section 3).

    ``path`` and ``fits`` may be handed in where they are known already. Raises GeometryError for a
    route without a path, FitError for cables that do not enter, and InputError where so many bends
    follow each other that tension leaves the range of numbers.
    """
    path = route_path(run.route) if path is None else path
    fits = run_fits(run) if fits is None else fits
    fine = path.split(_looks(path))
    mu, omega = _friction(run, practice, fits, fine)
    weight = run.cables.weight
    law = {"reverse": reverse, "method": practice.method, "per_segment": True}
    stations, needed = brake(fine, weight, mu, omega, **law)  # type: ignore[arg-type]
    reel = float(needed[0]) if run.reel_tension is None else run.reel_tension
    _, tension = integrate(fine, weight, mu, omega, reel, **law)  # type: ignore[arg-type]
    _refuse_endless(run, path, tension)
    last = len(run.route.vertices) - 1
    walked = fine.reversed() if reverse else fine
    profile = _profile(path, walked, stations, tension, run, practice, fits)
    heads = loads = None
    if run.rope is not None:
        at, loads = _history(run.rope, path, walked, profile.segment[::2], tension, reverse)
        heads = stations[at]
        _refuse_endless(run, path, loads)
    return Pull(
        run=run,
        practice=practice,
        path=path,
        fits=fits,
        feed=last if reverse else 0,
        pull=0 if reverse else last,
        profile=profile,
        brake=float(needed[0]),
        brake_without_friction=_frictionless_brake(walked, weight),
        reel_tension=reel,
        slack=_slack(stations, tension, needed),
        heads=heads,
        machine_loads=loads,
    )


def _history(
    rope: Rope,
    path: Path,
    walked: Path,
    owner: NDArray[np.int64],
    tension: Floats,
    reverse: bool,
) -> tuple[NDArray[np.int64], Floats]:
    """Joints of ``walked`` where the head is looked at, and the machine load then.

    ``owner`` is the segment of ``path`` of each piece. A route of very many bends is carried over
    whole bends: the rope's tension at their ends is the same, for half the work.
    """
    ends = np.flatnonzero(np.diff(owner)) + 1
    joints = np.concatenate(([0], ends, [len(owner)]))
    nodes = head_nodes(len(joints))
    if len(nodes) < len(joints):
        whole = path.reversed() if reverse else path
        return joints[nodes], machine_loads(whole, tension[joints], nodes, rope)
    nodes = head_nodes(len(tension))
    return nodes, machine_loads(walked, tension, nodes, rope)


def _frictionless_brake(walked: Path, weight: float) -> float:
    """Weight of the deepest fall of the route below its feed, N."""
    heights = np.append(walked.starts[:, 2], walked.ends[-1:, 2])
    return weight * float(heights[0] - heights.min())


def _refuse_endless(run: Run, path: Path, forces: Floats) -> None:
    """Bends multiply: some hundreds of them in one pull pass the largest float."""
    if not np.isfinite(forces).all():
        raise InputError(
            Problem(
                f"{len(path)} straights and bends turn {np.degrees(path.turn):,.0f}° in one pull: "
                "its tension is beyond any number",
                where=f"run {run.name}",
                fix="make it several runs, each from one pull point to another",
            )
        )


def _looks(path: Path) -> Floats:
    """Stations between the joints at which the pull is looked at."""
    most = max(2, _MOST_LOOKS // len(path))
    arcs = path.kind == ARC
    wanted = np.where(arcs, path.angles / _LOOK_ANGLE, path.lengths / _LOOK_LENGTH)
    count = np.clip(np.ceil(wanted), 1, most).astype(int)
    owner = np.repeat(np.arange(len(path)), count)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    looks: Floats = path.stations[owner] + path.lengths[owner] * within / count[owner]
    return looks


def _friction(
    run: Run, practice: Practice, fits: tuple[Fit, ...], path: Path
) -> tuple[Floats, Floats]:
    """Basic friction and weight factor of every segment of a path."""
    mu = np.array([c.friction for c in run.route.conduits])[path.leg]
    omega = np.array([f.weight_factor for f in fits])[path.leg]
    if practice.weight_factor_in == "straights":
        omega = np.where(path.kind == STRAIGHT, omega, 1.0)
    return mu, omega


def sidewall_share(run: Run, practice: Practice, fits: tuple[Fit, ...], path: Path) -> Floats:
    """Sidewall pressure per newton of tension at each segment, 1/m: the arrangement's factor / R.

    Zero on straights and at corners, where the published formulas say nothing.
    """
    arcs = path.kind == ARC
    bore = np.array([c.inner_diameter for c in run.route.conduits])[path.leg]
    radius = np.where(arcs, path.radii, 1.0)
    if practice.sidewall_radius == "inside":
        radius = np.where(arcs, radius - bore / 2, 1.0)
    factor = np.ones(len(path))
    if practice.sidewall == "per cable":
        factor = np.array([f.sidewall_factor for f in fits])[path.leg]
    return np.where(arcs, factor / radius, 0.0)


def _profile(
    path: Path,
    walked: Path,
    stations: Floats,
    tension: Floats,
    run: Run,
    practice: Practice,
    fits: tuple[Fit, ...],
) -> Profile:
    """Both ends of every piece, so that what jumps at a joint keeps both its values."""
    share = sidewall_share(run, practice, fits, walked)
    both = np.column_stack((stations[:-1], stations[1:])).ravel()
    pair = np.column_stack((tension[:-1], tension[1:])).ravel()
    xyz = np.stack((walked.starts, walked.ends), axis=1).reshape(-1, 3)
    middle = (stations[:-1] + stations[1:]) / 2
    owner = path.locate(middle)[0]
    owner = np.where(walked.kind == CORNER, _corner_owner(path, walked), owner)
    return Profile(
        station=both,
        xyz=xyz,
        kind=np.repeat(walked.kind, 2),
        segment=np.repeat(owner, 2),
        tension=pair,
        sidewall=np.repeat(share, 2) * pair,
        contact=_contact(walked, pair, run.cables.weight),
    )


def _corner_owner(path: Path, walked: Path) -> NDArray[np.int64]:
    """Segment of ``path`` of each corner of the walked path, 0 elsewhere."""
    by_vertex = {int(v): i for i, v in enumerate(path.vertex) if path.kind[i] == CORNER}
    return np.array([by_vertex.get(int(v), 0) for v in walked.vertex])


def _contact(walked: Path, pair: Floats, weight: float) -> Floats:
    """|q| = |T κ n - w z⊥| at both ends of every piece, N/m; zero at corners."""
    tangents = np.stack((walked.tangents, walked.end_tangents), axis=1).reshape(-1, 3)
    normals = np.stack((walked.normals, walked.end_normals), axis=1).reshape(-1, 3)
    arcs = np.repeat(walked.kind == ARC, 2)
    curvature = np.where(arcs, 1.0 / np.where(arcs, np.repeat(walked.radii, 2), 1.0), 0.0)
    across = np.array([0.0, 0.0, 1.0]) - tangents[:, 2:] * tangents
    q = (pair * curvature)[:, None] * normals - weight * across
    load = np.sqrt(np.einsum("ij,ij->i", q, q))
    return np.where(np.repeat(walked.kind == CORNER, 2), 0.0, load)


def _slack(stations: Floats, tension: Floats, needed: Floats) -> tuple[tuple[float, float], ...]:
    """Station pairs, in pulling order, along which the cable has less tension than it needs.

    A brake found by integration is met to rounding: a thousandth of a newton is not slack.
    """
    short = (tension < needed - 1e-3) & (tension <= 1e-9)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], short.astype(int), [0]))))
    return tuple((float(stations[a]), float(stations[b - 1])) for a, b in edges.reshape(-1, 2))


def with_friction(run: Run, factor: float) -> Run:
    """The run with every conduit's friction multiplied, and the rope's with it.

    The restart after a stop is the same pull at static friction.
    """
    conduits = {c: replace(c, friction=c.friction * factor) for c in set(run.route.conduits)}
    route = replace(run.route, conduits=tuple(conduits[c] for c in run.route.conduits))
    rope = run.rope and replace(run.rope, friction=run.rope.friction * factor)
    return replace(run, route=route, rope=rope)
