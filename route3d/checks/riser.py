"""What hangs in a riser, and the support it needs."""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards.rules import RuleSet
from route3d.standards.source import Fact

# Steeper than 45 degrees counts as riser: there the weight along the conduit passes the weight on
# its wall (common practice, no source).
_STEEP = math.sin(math.radians(45))
# Rises lower than a storey hang from their own top bend (common practice, no source).
_LEAST_RISE = 3.0


def check_risers(run: Run, practice: Practice, path: Path) -> tuple[Finding, ...]:
    """Hanging weight of each riser, and the supports the rules ask for at its height.

    Parameters
    ----------
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of Finding
        Riser by riser.
    """
    rules = practice.rule_set
    return tuple(f for low, high in risers(path) for f in _riser(run, rules, path, low, high))


def risers(path: Path) -> tuple[tuple[float, float], ...]:
    """Station pairs of the steep stretches at least a storey high, lower station first.

    Parameters
    ----------
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of (float, float)
        m
    """
    path = path.split(_crossings(path))
    middle = (path.stations[:-1] + path.stations[1:]) / 2
    steep = np.abs(path.tangent(middle)[:, 2]) > _STEEP + 1e-9 if len(path) else np.zeros(0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], steep.astype(int), [0]))))
    spans = [(float(path.stations[a]), float(path.stations[b])) for a, b in edges.reshape(-1, 2)]
    return tuple(s for s in spans if abs(np.ptp(path.point(np.array(s))[:, 2])) >= _LEAST_RISE)


def _crossings(path: Path) -> Floats:
    """Stations inside bends where the slope passes 45 degrees, |cos θ t_z + sin θ n_z|."""
    tz, nz = path.tangents[:, 2], path.normals[:, 2]
    swing = np.hypot(tz, nz)
    steepest = np.arctan2(nz, tz)
    away = np.arccos(np.clip(_STEEP / np.where(swing > 0, swing, 1.0), 0.0, 1.0))
    angles = np.mod([steepest + a for a in (away, -away, np.pi + away, np.pi - away)], 2 * np.pi)
    inside = (angles < path.angles) & (path.kind == ARC) & (swing > _STEEP)
    stations = path.stations[:-1] + angles * np.where(path.kind == ARC, path.radii, 0.0)
    return np.asarray(stations[inside])


def _riser(run: Run, rules: RuleSet, path: Path, low: float, high: float) -> list[Finding]:
    rise = float(np.ptp(path.point(np.array((low, high)))[:, 2]))
    hanging = run.cables.weight * hanging_height(path, low, high)
    spacing = _spacing(run, rules)
    where = f"{run.name}, riser from station {{}}"
    weight = Finding(
        "hanging weight",
        "note",
        where,
        hanging,
        hanging,
        "force",
        say("hold {} at the top until the supports carry it", (hanging, "force+")),
        f"weight of {run.cables.describe()} times the height including bends, without friction",
        low,
    )
    if spacing is None or rise <= spacing.value:
        return [weight]
    count = math.ceil(rise / spacing.value)
    supports = Finding(
        "riser support",
        "caution",
        where,
        rise,
        spacing.value,
        "length",
        say(
            f"support the cables at or near the top and every {{}} maximum: {count} supports",
            (spacing.value, "length"),
        ),
        str(spacing.source),
        low,
        rise / spacing.value,
    )
    return [weight, supports]


def hanging_height(path: Path, low: float, high: float) -> float:
    """Height of what hangs in a riser, m: with the whole of the bends at its foot and top.

    Without friction a bend carries nothing of the cable that turns in it.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    low, high : float
        Stations, m.

    Returns
    -------
    float
        m
    """
    first, last = (int(i) for i in path.locate(np.array((low + 1e-9, high - 1e-9)))[0])
    bends = [i for i in (first, last) if path.kind[i] == ARC]
    crowns = [_level_stations(path, i) for i in bends]
    ends = [path.stations[[i, i + 1]] for i in bends]
    at = np.concatenate((np.array((low, high)), *ends, *crowns))
    return float(np.ptp(path.point(at)[:, 2]))


def _level_stations(path: Path, i: int) -> Floats:
    """Stations inside a bend where it runs level: its highest and lowest places."""
    tz, nz = float(path.tangents[i, 2]), float(path.normals[i, 2])
    angles = np.mod(np.arctan2(-tz, nz) + np.array((0.0, np.pi)), 2 * np.pi)
    level: Floats = path.stations[i] + angles[angles < path.angles[i]] * path.radii[i]
    return level


def _spacing(run: Run, rules: RuleSet) -> Fact | None:
    """The shortest spacing any cable of the set asks for; None for wires the rules leave out."""
    wires = (cable.conductor for cable, _ in run.cables.items)
    asked = (rules.riser_spacing(wire.metal, wire.area) for wire in wires)
    return min((f for f in asked if f is not None), key=lambda fact: fact.value, default=None)
