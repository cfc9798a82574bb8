"""The labels of a scene: text, place and rank; where they land on the picture is decided later."""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import BEYOND, Finding
from route3d.checks.limits import sidewall_limit
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull
from route3d.planning.direction import Candidate
from route3d.planning.margins import BrakeWindow, brake_label
from route3d.planning.pull_plan.holding import holding
from route3d.units import render, show
from viewer.scene.faults import fault_labels
from viewer.scene.records import Label, Solid
from viewer.scene.scale import share_words

_OVER, _FAULT, _FEED, _MACHINE, _WORST, _PULL_POINT, _BEND, _PLACE, _CONDUIT = range(-2, 7)


def labels(
    candidate: Candidate,
    solids: tuple[Solid, ...],
    origin: Floats,
    units: str,
    *,
    pressures: bool = False,
    findings: tuple[Finding, ...] = (),
    peak: float | None = None,
    brake: BrakeWindow | None = None,
    made: bool = True,
) -> tuple[Label, ...]:
    """All labels of a pull, most important first; ``pressures`` adds sidewall to every bend.

    ``findings`` are those of the whole run: each stop is flagged at its place. ``peak`` N is the
    maximum planned machine load and ``brake`` the window of the plan, if known; ``made`` is
    false where the plan stops the pull.
    """
    pull = candidate.planned
    reel = next(s for s in solids if s.kind == "reel")
    machine = next(s for s in solids if s.kind in ("machine", "end"))
    worst = _worst_bend(pull)
    found = [
        Label(
            _feed_lines(candidate, brake or candidate.window, units, made),
            _middle(reel),
            "feed",
            _FEED,
        ),
        Label(_machine_lines(candidate, units, peak, made), _middle(machine), "machine", _MACHINE),
        *fault_labels(candidate, (*candidate.findings, *findings), origin, units, (_FAULT, _PLACE)),
        *_bends(pull, worst, origin, units, pressures),
        *_vertices(pull, origin),
        *_conduits(pull, origin),
    ]
    return tuple(sorted(found, key=lambda label: label.priority))


def _middle(solid: Solid) -> Floats:
    return frozen(solid.base + np.array([0.0, 0.0, solid.size[2] / 2]))


def _feed_lines(
    candidate: Candidate, window: BrakeWindow, units: str, made: bool
) -> tuple[str, ...]:
    pull = candidate.planned
    held = render(brake_label(window), units)
    end = "FEED END" if made and candidate.passes else "IF FED HERE"
    return (f"REEL · {end}", pull.feed_name, held)


def _machine_lines(
    candidate: Candidate, units: str, peak: float | None, made: bool
) -> tuple[str, ...]:
    pull, moving = candidate.planned, candidate.planned.machine_peak
    made = made and candidate.passes
    end = "PULLING END" if made else "IF PULLED HERE"
    if pull.run.machine is None:
        lines = [end, pull.pull_name, "no machine given"]
    else:
        lines = [f"{pull.run.machine.name.upper()} · {end}", pull.pull_name]
    if moving is not None:
        name = "peak load, moving:" if peak is None else "peak load:"
        load = moving if peak is None else peak
        machine, rope = pull.run.machine, pull.run.rope
        limits = [machine.available_pull] if machine else []
        limits += [rope.rated_load] if rope else []
        most = min(limits, default=math.inf)
        figure = show(load, "force", units)
        if load > BEYOND * most:
            figure = f"{share_words(load / most, units)} {show(most, 'force', units)}"
        lines.append(f"{name} {figure}")
        held = _held(pull, load) if made and pull.run.machine else ""
        lines += [held] if held else []
    return tuple(lines)


def _held(pull: Pull, load: float) -> str:
    """The anchorage of the machine, in few words; empty if the run gives none."""
    if pull.run.anchor is None:
        return ""
    conduit = pull.run.route.conduits[0 if pull.reverse else -1]
    return holding(pull.run, conduit, load).kind.rpartition(", ")[2]


def _worst_bend(pull: Pull) -> int:
    """Segment with the largest sidewall pressure, -1 where there is no bend."""
    profile = pull.profile
    if not (pull.path.kind == ARC).any() or pull.peak_sidewall <= 0:
        return -1
    return int(profile.segment[int(np.argmax(profile.sidewall))])


def _bends(pull: Pull, worst: int, origin: Floats, units: str, pressures: bool) -> list[Label]:
    """Each bend with number, radius and angle; the worst, and those over the limit, flagged."""
    path, profile, limit = pull.path, pull.profile, sidewall_limit(pull.run).value
    peaks = np.zeros(len(path))
    np.maximum.at(peaks, profile.segment, profile.sidewall)
    arcs = np.flatnonzero(path.kind == ARC)
    middles = path.point((path.stations[arcs] + path.stations[arcs + 1]) / 2) - origin
    found = []
    for number, (i, middle) in enumerate(zip(arcs, middles, strict=True), start=1):
        peak, over = float(peaks[i]), bool(peaks[i] > limit * (1 + 1e-9))
        radius, angle = float(path.radii[i]), float(path.angles[i])
        head = f"Bend {number}"
        size = f"R {show(radius, 'radius', units)}, {show(angle, 'angle', units)}"
        pressure = f"sidewall {show(peak, 'sidewall', units)}"
        share = f"{share_words(peak / limit, units)} limit"
        figures = f"sidewall {share}" if peak > BEYOND * limit else f"{pressure}, {share}"
        if i == worst:
            worst_of = "worst sidewall, over limit" if over else "worst sidewall"
            text = (f"{head} · {worst_of}", size, figures)
            rank: float = _OVER if over else _WORST
            found.append(Label(text, frozen(middle), "worst", rank, over))
        else:
            lines: tuple[str, ...] = (head, size, pressure) if pressures else (head, size)
            if over:
                lines = (f"{head} · over limit", size, figures)
            # the worse a bend, the sooner it is placed
            rank = (_PULL_POINT if over else _BEND) - min(peak / limit, 10.0) / 20
            found.append(Label(lines, frozen(middle), "bend", rank, over))
    return found


def _vertices(pull: Pull, origin: Floats) -> list[Label]:
    """Pull points, and what else has a name on the way."""
    route, found = pull.run.route, []
    for index in range(1, len(route.vertices) - 1):
        vertex = route.vertices[index]
        at = frozen(np.array(vertex.point) - origin)
        if vertex.is_pull_point:
            lines = ("Pull point", route.label(index))
            found.append(Label(lines, at, "pull point", _PULL_POINT))
        elif vertex.name:
            found.append(Label((vertex.name,), at, "place", _PLACE))
    return found


def _conduits(pull: Pull, origin: Floats) -> list[Label]:
    """The conduit's name once on each stretch of it, on its longest straight."""
    path, route, found = pull.path, pull.run.route, []
    names = [route.conduits[int(leg)].label for leg in path.leg]
    start = 0
    for end in range(1, len(path) + 1):
        if end < len(path) and names[end] == names[start]:
            continue
        longest = start + int(np.argmax(path.lengths[start:end]))
        at = path.point(path.stations[longest] + 0.7 * path.lengths[longest]) - origin
        found.append(Label((names[start],), frozen(at), "conduit", _CONDUIT))
        start = end
    return found
