"""One pull of one run from one end: tension, sidewall pressure, slack and machine load."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple, NoReturn

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.geometry.fillet import route_path
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor, reel_drag
from route3d.mechanics.fit import Fit, fit
from route3d.mechanics.friction_path import FrictionPath, course
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.rope import RopePhase, head_nodes
from route3d.mechanics.sharing import largest_main_share
from route3d.mechanics.worst_line import carry_worst
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.rope import Rope
from route3d.model.run import Run


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


class Peaks(NamedTuple):
    """Largest loads of a pull: cable ``tension`` N, ``sidewall`` N/m, load on the ``machine`` N.

    ``machine`` is None without a rope; ``tension_at_end`` N is that of the cable head there.
    """

    tension: float
    sidewall: float
    machine: float | None
    tension_at_end: float


class BothFrictions(NamedTuple):
    """The largest loads with ``constant`` friction, and with that which falls ``by_pressure``.

    In every conduit whose friction falls above a contact load, whether or not that decides; the
    reels held with the same tension.
    """

    constant: Peaks
    by_pressure: Peaks


@dataclass(frozen=True, eq=False)
class Pull:
    """One direction of one run, solved.

    ``run`` is equipped for this direction (``Run.pulled``). ``feed`` and ``pull`` are vertex
    numbers. ``reel_tension`` N is that of the cables leaving the reels, summed; ``start_tension`` N
    enters the conduit, the friction of the feed guide added.
    ``course`` is what was solved, and ``rope_phase`` what the rope makes of it; None without one.
    """

    run: Run
    practice: Practice
    path: Path
    fits: tuple[Fit, ...]
    feed: int
    pull: int
    profile: Profile
    reel_tension: float
    start_tension: float
    course: FrictionPath
    rope_phase: RopePhase | None

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
    def peak_sidewall_on_centerline(self) -> float:
        """Largest sidewall pressure worked with the centerline radius of the bends, N/m."""
        return self._peak_sidewall_on("centerline")

    @cached_property
    def peak_sidewall_at_inner_wall(self) -> float:
        """Largest sidewall pressure worked with the radius of the inner wall, R - ID/2, N/m."""
        return self._peak_sidewall_on("inside")

    @property
    def peaks(self) -> Peaks:
        """The largest loads of this pull."""
        machine = self.machine_peak
        return Peaks(self.peak_tension, self.peak_sidewall, machine, self.end_tension)

    @cached_property
    def by_both_frictions(self) -> BothFrictions | None:
        """The loads by constant friction and by pressure; None where friction falls in no conduit.

        By the handbook method too, which knows no contact load (docs/theory.md section 19).
        """
        falls = any(c.friction_then is not None for c in self.run.route.conduits)
        if not falls or self.practice.method == "handbook":
            return None
        given = self.run, self.practice, self.path, self.fits, self.reverse
        ways = (course(*given, by_pressure=by_pressure) for by_pressure in (False, True))
        return BothFrictions(*(peaks_with(self, course=way) for way in ways))

    @cached_property
    def pressing(self) -> Floats:
        """Sidewall pressure per newton of tension on each piece of the walked course, 1/m."""
        return sidewall_share(self.run, self.practice, self.fits, self.course.walked)

    def _peak_sidewall_on(self, radius: str) -> float:
        if self.practice.sidewall_radius == radius:
            return self.peak_sidewall
        practice = replace(self.practice, sidewall_radius=radius)
        share = sidewall_share(self.run, practice, self.fits, self.course.walked)
        return float((np.repeat(share, 2) * self.profile.tension).max(initial=0.0))

    @cached_property
    def worst_rows(self) -> NDArray[np.int64]:
        """The profile row of the largest sidewall pressure in each segment of ``path``, (n,)."""
        segment = self.profile.segment
        order = np.lexsort((-self.profile.sidewall, segment))  # stable: the first of equals
        worst: NDArray[np.int64] = order[np.searchsorted(segment[order], np.arange(len(self.path)))]
        return worst

    @property
    def brake(self) -> float:
        """Smallest reel tension that keeps the cable taut, N."""
        return float(self.course.needed[0])

    @property
    def brake_without_friction(self) -> float:
        """The smallest reel tension should friction be nothing, N."""
        return self.course.needed_without_friction

    @cached_property
    def slack(self) -> tuple[tuple[float, float], ...]:
        """Station pairs, in pulling order, along which the cable overruns."""
        tension = np.append(self.profile.tension[::2], self.end_tension)
        return _slack(self.course.stations, tension, self.course.needed)

    @property
    def heads(self) -> Floats | None:
        """Stations (m,) at which the head is looked at, m; None without a rope."""
        return None if self.rope_phase is None else self.rope_phase.heads

    @property
    def machine_loads(self) -> Floats | None:
        """What the machine feels with the head at each of ``heads``, (m,) N; None without a rope.

        Lead-off is included. Worked out when first asked for: the peak is found without it.
        """
        return None if self.rope_phase is None else self.rope_phase.loads

    @property
    def machine_least(self) -> float:
        """A load the machine meets in any case, N: its peak, or without a rope the end tension."""
        peak = self.machine_peak
        return self.end_tension if peak is None else peak

    @property
    def machine_peak(self) -> float | None:
        """Largest load on the machine, N; None without a rope to carry it."""
        return None if self.rope_phase is None else self.rope_phase.peak.load

    @property
    def machine_peak_head(self) -> float | None:
        """Station of the head when the machine feels most, m; None without a rope."""
        return None if self.rope_phase is None else self.rope_phase.peak.head


def run_fits(run: Run) -> tuple[Fit, ...]:
    """How the cables lie in each leg's conduit, one Fit for each leg of the route.

    No cable presses with less than its share of the tension, the larger of its share by conductor
    area and an equal one.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    tuple of Fit
        One for each leg.

    Raises
    ------
    FitError
        Where the cables do not enter a conduit.
    """
    known: dict[float, Fit] = {}
    cables = run.cables
    share = largest_main_share(cables)
    for conduit in run.route.conduits:
        bore = conduit.inner_diameter
        if bore not in known:
            known[bore] = fit(
                cables.main_diameters,
                bore,
                run.arrangement,
                riders=cables.rider_diameters,
                share=share,
            )
    return tuple(known[c.inner_diameter] for c in run.route.conduits)


def solve_pull(
    run: Run,
    practice: Practice,
    *,
    reverse: bool = False,
    path: Path | None = None,
    fits: tuple[Fit, ...] | None = None,
) -> Pull:
    """Solve one direction of a run (docs/theory.md sections 2 to 8).

    ``path`` and ``fits`` may be handed in where they are known already.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    reverse : bool
        Pull against the order of the route.
    path : Path, optional
        Where it is known already.
    fits : tuple of Fit, optional
        Where they are known already.

    Returns
    -------
    Pull
        Profile, reel tension, loads; SI.

    Raises
    ------
    GeometryError
        For a route without a path.
    FitError
        For cables that do not enter.
    InputError
        Where so many bends follow each other that tension leaves the range of floats.

    References
    ----------
    docs/theory.md, equation (1), sections 6 to 8 and 10.
    """
    last = len(run.route.vertices) - 1
    run = run.pulled(last, 0) if reverse else run.pulled(0, last)
    path = route_path(run.route) if path is None else path
    fits = run_fits(run) if fits is None else fits
    return _pull(run, practice, path, fits, course(run, practice, path, fits, reverse))


def with_friction(run: Run, factor: float) -> Run:
    """The run with every conduit's friction multiplied, and the rope's with it.

    The restart after a stop is the same pull at static friction.

    Parameters
    ----------
    run : Run
        The run, in SI.
    factor : float
        On every friction.

    Returns
    -------
    Run
        With the friction changed.
    """
    conduits = {c: _slicker(c, factor) for c in set(run.route.conduits)}
    route = replace(run.route, conduits=tuple(conduits[c] for c in run.route.conduits))
    rope = run.rope and replace(run.rope, friction=run.rope.friction * factor)
    return replace(run, route=route, rope=rope)


def with_friction_in(run: Run, name: str, factor: float) -> Run:
    """The run with the friction of one conduit multiplied; its range goes with it.

    Parameters
    ----------
    run : Run
        The run, in SI.
    name : str
        Of the conduit.
    factor : float
        On its friction.

    Returns
    -------
    Run
        With the friction changed.
    """
    route = run.route
    conduits = tuple(_slicker(c, factor) if c.name == name else c for c in route.conduits)
    return replace(run, route=replace(route, conduits=conduits))


def with_fall(run: Run, decides: bool) -> Run:
    """The run as if the fall of friction decided in every conduit that has one, or in none.

    Parameters
    ----------
    run : Run
        The run, in SI.
    decides : bool
        Whether it decides.

    Returns
    -------
    Run
        Itself where nothing changes.
    """
    conduits = tuple(c.with_fall(decides) for c in run.route.conduits)
    if conduits == run.route.conduits:
        return run
    return replace(run, route=replace(run.route, conduits=conduits))


def at_fall(pull: Pull, decides: bool) -> Pull:
    """The same pull by friction that falls above a contact load, or by constant friction.

    The reels are held as they were. It is the pull itself where nothing changes.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    decides : bool
        Whether the fall decides, in every conduit that has one.

    Returns
    -------
    Pull
        Solved again.

    Raises
    ------
    InputError
        As `solve_pull` does.
    """
    run = with_fall(pull.run, decides)
    if run is pull.run:
        return pull
    run = replace(run, reel_tension=pull.reel_tension)
    way = course(run, pull.practice, pull.path, pull.fits, pull.reverse)
    return _pull(run, pull.practice, pull.path, pull.fits, way)


def _slicker(conduit: Conduit, factor: float) -> Conduit:
    low, high = conduit.friction_low, conduit.friction_high
    return conduit.at_friction(
        conduit.friction * factor,
        None if low is None else low * factor,
        None if high is None else high * factor,
    )


def at_friction(pull: Pull, factor: float) -> Pull:
    """The same pull with every friction multiplied, and the reel held as it was.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    factor : float
        On every friction.

    Returns
    -------
    Pull
        Solved again.

    Raises
    ------
    InputError
        As `solve_pull` does.
    """
    run = replace(with_friction(pull.run, factor), reel_tension=pull.reel_tension)
    return _pull(run, pull.practice, pull.path, pull.fits, pull.course.scaled(factor))


def at_reel_tension(pull: Pull, reel_tension: float) -> Pull:
    """The same pull with the reels held with another tension, N.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    reel_tension : float
        Summed over the reels, N.

    Returns
    -------
    Pull
        Solved again.

    Raises
    ------
    InputError
        As `solve_pull` does.
    """
    run = replace(pull.run, reel_tension=reel_tension)
    return _pull(run, pull.practice, pull.path, pull.fits, pull.course)


def peaks_with(
    pull: Pull,
    *,
    course: FrictionPath | None = None,
    rope_factor: float = 1.0,
    reel_tension: float | None = None,
) -> Peaks:
    """The largest loads of the same pull along another course or with another brake.

    ``rope_factor`` multiplies the friction of the rope. What is left out stays as in ``pull``.
    This is a solution without its profile, for those who ask many times. Tensions beyond the range
    of floats come out infinite.

    Parameters
    ----------
    pull : Pull
        One direction, solved.
    course : Course, optional
        Default: that of the pull.
    rope_factor : float
        On the friction of the rope.
    reel_tension : float, optional
        N. Default: as in the pull.

    Returns
    -------
    Peaks
        N and N/m.
    """
    way = pull.course if course is None else course
    reel = pull.reel_tension if reel_tension is None else reel_tension
    phase = pull.rope_phase
    heads = None if phase is None else Heads(phase.walked, phase.nodes, phase.joints)
    return peaks_along(pull.run, way, pull.pressing, heads, reel, rope_factor)


class Heads(NamedTuple):
    """Where the head is looked at: joints ``nodes`` of ``walked`` are ``joints`` of the course."""

    walked: Path
    nodes: NDArray[np.int64]
    joints: NDArray[np.int64]


def peaks_along(
    run: Run,
    way: FrictionPath,
    pressing: Floats,
    heads: Heads | None,
    reel_tension: float,
    rope_factor: float,
) -> Peaks:
    """The largest loads along a course, the reels held with ``reel_tension`` N.

    ``run`` is equipped for the direction; ``pressing`` is :func:`sidewall_share` of the walked
    course; ``heads`` is None without a rope. Else as :func:`peaks_with`.

    Parameters
    ----------
    run : Run
        The run, in SI.
    way : Course
        What is pulled along.
    pressing : ndarray, shape (n,)
        From `sidewall_share`, 1/m.
    heads : Heads or None
        Where the head is looked at.
    reel_tension : float
        Summed over the reels, N.
    rope_factor : float
        On the friction of the rope.

    Returns
    -------
    Peaks
        N and N/m.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        tension = way.tension(reel_tension * feed_factor(run))
        sidewall = float((pressing * np.maximum(tension[:-1], tension[1:])).max(initial=0.0))
    rope, machine = run.rope, None
    if rope is not None and heads is not None:
        friction = rope.friction * rope_factor
        along = way.rope_friction(friction, heads.walked)
        starts = tension[heads.joints]
        worst = carry_worst(heads.walked, rope.weight, along, starts, heads.nodes)
        machine = worst.tension * lead_off_factor(run.lead_off, friction)
    return Peaks(float(tension.max()), sidewall, machine, float(tension[-1]))


def _pull(
    run: Run, practice: Practice, path: Path, fits: tuple[Fit, ...], way: FrictionPath
) -> Pull:
    reel = run.reel_tension
    if reel is None:
        reel = max(float(way.needed[0]), reel_drag(run))
    start = reel * feed_factor(run)
    tension = way.tension(start)
    _refuse_endless(run, path, tension)
    last = len(run.route.vertices) - 1
    profile = _profile(path, way, tension, run, practice, fits)
    phase = None
    if run.rope is not None:
        lead_off = lead_off_factor(run.lead_off, run.rope.friction)
        phase = _rope_phase(run.rope, lead_off, path, way, profile.segment[::2], tension)
        _refuse_endless(run, path, np.array(phase.peak.load))
    return Pull(
        run=run,
        practice=practice,
        path=path,
        fits=fits,
        feed=last if way.reverse else 0,
        pull=0 if way.reverse else last,
        profile=profile,
        reel_tension=reel,
        start_tension=start,
        course=way,
        rope_phase=phase,
    )


def _rope_phase(
    rope: Rope,
    lead_off: float,
    path: Path,
    way: FrictionPath,
    owner: NDArray[np.int64],
    tension: Floats,
) -> RopePhase:
    """The rope ahead of the head, which is looked at at joints of the course.

    ``owner`` is the segment of ``path`` of each piece. A route of very many bends is carried over
    whole bends: the rope's tension at their ends is the same, for half the work.
    """
    ends = np.flatnonzero(np.diff(owner)) + 1
    joints = np.concatenate(([0], ends, [len(owner)]))
    nodes = head_nodes(len(joints))
    if len(nodes) < len(joints):
        at, walked = joints[nodes], path.reversed() if way.reverse else path
    else:
        at, walked = (nodes := head_nodes(len(tension))), way.walked
    friction = way.rope_friction(rope.friction, walked)
    return RopePhase(rope, lead_off, walked, nodes, way.stations[at], tension[at], friction, at)


def _refuse_endless(run: Run, path: Path, forces: Floats) -> None:
    """Bends multiply: some hundreds of them in one pull pass the largest float."""
    if not np.isfinite(forces).all():
        raise InputError(
            Problem(
                f"{len(path)} straights and bends turn {np.degrees(path.turn):,.0f}° in one "
                "pull: the tension is too large to calculate",
                where=f"run {run.name}",
                fix="split it into several runs, from pull point to pull point",
            )
        )


def sidewall_share(run: Run, practice: Practice, fits: tuple[Fit, ...], path: Path) -> Floats:
    """Sidewall pressure per newton of tension at each segment, 1/m: the arrangement's factor / R.

    R is that of the inner wall, R - ID/2, or of the centerline, as the practice says. At a pull
    point with a sheave it is the sheave's. Zero on straights and at corners without a sheave, where
    the published formulas say nothing.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    fits : tuple of Fit, one for each leg
        How the cables lie.
    path : Path
        The centerline, n segments.

    Returns
    -------
    ndarray, shape (n,)
        1/m

    Raises
    ------
    InputError
        For a bend whose radius is within half the bore.

    References
    ----------
    docs/theory.md, equations (13) to (15).
    """
    inside = practice.sidewall_radius == "inside"
    bore = np.array([c.inner_diameter for c in run.route.conduits])[path.leg]
    bent = path.kind == ARC
    radius = np.where(bent, path.radii, 1.0) - (bore / 2 if inside else 0.0)
    if (bent & (radius <= 0)).any():
        _refuse_tight_bend(run, path, int(np.argmax(bent & (radius <= 0))))
    for i in np.flatnonzero(path.kind == CORNER).tolist():
        sheave = run.route.vertices[int(path.vertex[i])].sheave
        if sheave is not None:
            bent[i], radius[i] = True, sheave.radius
    factor = np.ones(len(path))
    if practice.sidewall == "per cable":
        factor = np.array([f.sidewall_factor for f in fits])[path.leg]
    return np.where(bent, factor / np.where(bent, radius, 1.0), 0.0)


def _refuse_tight_bend(run: Run, path: Path, segment: int) -> NoReturn:
    label = run.route.label(int(path.vertex[segment]))
    raise InputError(
        Problem(
            f"the bend at {label} has a radius of {path.radii[segment]:.3f} m: no radius at "
            "the inner wall",
            where=f"run {run.name}",
            fix="enter the centerline radius, greater than half the inner diameter of the conduit",
        )
    )


def _profile(
    path: Path,
    way: FrictionPath,
    tension: Floats,
    run: Run,
    practice: Practice,
    fits: tuple[Fit, ...],
) -> Profile:
    """Both ends of every piece, so that what jumps at a joint keeps both its values."""
    walked, stations = way.walked, way.stations
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
