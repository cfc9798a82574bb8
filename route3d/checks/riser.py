"""What hangs in a riser, and the support it needs."""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding
from route3d.geometry.path import Path
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards import cables as cable_tables

# Steeper than 45 degrees counts as riser: there the weight along the conduit passes the weight on
# its wall (common practice, no source).
_STEEP = math.sin(math.radians(45))
# Rises lower than a storey hang from their own top bend (common practice, no source).
_LEAST_RISE = 3.0


def check_risers(run: Run, path: Path) -> tuple[Finding, ...]:
    """Hanging weight of each riser, and the supports its height calls for."""
    return tuple(finding for low, high in risers(path) for finding in _riser(run, path, low, high))


def risers(path: Path) -> tuple[tuple[float, float], ...]:
    """Station pairs of the steep stretches at least a storey high, lower station first."""
    middle = (path.stations[:-1] + path.stations[1:]) / 2
    steep = np.abs(path.tangent(middle)[:, 2]) > _STEEP if len(path) else np.zeros(0)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], steep.astype(int), [0]))))
    spans = [(float(path.stations[a]), float(path.stations[b])) for a, b in edges.reshape(-1, 2)]
    return tuple(s for s in spans if abs(np.ptp(path.point(np.array(s))[:, 2])) >= _LEAST_RISE)


def _riser(run: Run, path: Path, low: float, high: float) -> list[Finding]:
    rise = float(np.ptp(path.point(np.array((low, high)))[:, 2]))
    hanging = run.cables.weight * rise
    conductor = run.cables.largest.conductor
    spacing = cable_tables.riser_support_spacing(conductor.metal, conductor.area)
    where = f"{run.name}, riser from station {{}}"
    weight = Finding(
        "hanging weight",
        "note",
        where,
        hanging,
        hanging,
        "force",
        say("hold {} at the top until the supports carry it", (hanging, "force")),
        f"weight of {run.cables.describe()} times the rise",
        low,
    )
    if rise <= spacing.value:
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
            f"support the cables at or near the top and at least every {{}}: {count} supports",
            (spacing.value, "length"),
        ),
        str(spacing.source),
        low,
        rise / spacing.value,
    )
    return [weight, supports]
