"""Runs built straight from the model's records, in SI, by the few figures a test is about."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from route3d.checks.finding import Finding
from route3d.geometry import Path
from route3d.model import (
    Cable,
    CableSet,
    Conductor,
    Conduit,
    Gear,
    Machine,
    Reel,
    Rope,
    Route,
    Run,
    Vertex,
)
from route3d.planning.result import RunResult
from route3d.standards.conduits import conduit_size

INCH, FOOT, LBF = 0.0254, 0.3048, 4.4482216152605  # exact by definition
LBF_PER_FT = LBF / FOOT
BOTH = "reel machine"
FREE_REEL = Reel("free", drag_force=0.0)


def cable(
    name: str = "phase",
    diameter: float = 0.04,
    weight: float = 25.0,
    metal: str = "copper",
    area: float = 240e-6,
    cores: int = 1,
    max_stress: float | None = None,
    sidewall_limit: float = 7000.0,
    bend_multiple: float = 12.0,
    **more: object,
) -> Cable:
    """A cable; lengths m, weight N/m, area m² a core.

    Its bend multiple counts on the centerline.
    """
    more.setdefault("bend_to", "centerline")
    conductor = Conductor(metal, area, cores, max_stress)
    return Cable(name, diameter, weight, conductor, sidewall_limit, bend_multiple, **more)  # type: ignore[arg-type]


def conduit(
    bore: float = 0.13, friction: float = 0.3, name: str = "duct", **more: object
) -> Conduit:
    """A conduit of the given bore, m."""
    return Conduit(name, bore, bore + 0.01, friction, **more)  # type: ignore[arg-type]


def at(
    point: Sequence[float],
    bend: float = 0.0,
    name: str = "",
    ends: str = "",
    box: tuple[float, float, float] | None = None,
) -> Vertex:
    """A vertex; ``ends`` holds "reel", "machine" or both."""
    x, y, z = map(float, point)
    return Vertex((x, y, z), name, bend, access=frozenset(ends.split()), box=box)


def along(
    shape: tuple[Sequence[Sequence[float]], Sequence[float]],
    conduits: Conduit | Sequence[Conduit],
    first: str = "A",
    last: str = "B",
) -> Route:
    """A route through points and bend radii (of ``routes.vertices``), with access at both ends."""
    points, radii = shape
    names = [first, *[""] * (len(points) - 2), last]
    ends = [BOTH, *[""] * (len(points) - 2), BOTH]
    return lay(*map(at, points, radii, names, ends), conduits=conduits)


def lay(*vertices: Vertex, conduits: Conduit | Sequence[Conduit]) -> Route:
    """A route through vertices: one conduit for all legs, or one for each."""
    if isinstance(conduits, Conduit):
        conduits = [conduits] * (len(vertices) - 1)
    return Route(vertices, tuple(conduits))


def riser_between_ducts() -> Route:
    """The route of worked answer O2: down 40 ft between two level ducts, bends of 48 in."""
    bend = 48 * INCH
    return lay(
        at((0, 0, 40 * FOOT)),
        at((20 * FOOT, 0, 40 * FOOT), bend),
        at((20 * FOOT, 0, 0), bend),
        at((80 * FOOT, 0, 0)),
        conduits=conduit(),
    )


def run(
    route: Route, cables: Cable | Sequence[tuple[Cable, int]] | None = None, **more: object
) -> Run:
    """A run of one cable, or of ``(cable, number)`` pairs; its reels turn without drag."""
    if cables is None or isinstance(cables, Cable):
        cables = [(cables or cable(), 1)]
    more.setdefault("reel", FREE_REEL)
    return Run(CableSet(tuple(cables)), route, more.pop("name", "F1"), **more)  # type: ignore[arg-type]


def rope(
    weight: float = 2.0, friction: float = 0.2, rated_load: float = 40e3, name: str = "line"
) -> Rope:
    """A rope; weight N/m, working load N."""
    return Rope(name, 0.02, weight, friction, rated_load, 0.012)


def machine(line_pull: float = 30e3, min_load: float = 0.0, name: str = "puller") -> Machine:
    """A machine of one gear."""
    return Machine(name, (Gear(line_pull, 0.1),), None, min_load)


def part(path: Path, first: int, last: int) -> Path:
    """Segments ``first`` to ``last`` (not included) of a path."""
    names = ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg")
    return Path(**{name: getattr(path, name)[first:last] for name in names})


def by_rule(result: RunResult) -> dict[str, Finding]:
    """The findings of a run, one of each rule: the worst."""
    return {f.rule: f for f in reversed(result.findings)}


def stock(stock_type: str, trade: str) -> Conduit:
    """A conduit of the stock tables."""
    size = conduit_size(stock_type, trade)
    return conduit(
        size.inner_diameter, name=trade, stock_type=stock_type, trade_size=size.trade_size
    )


def straight_run(duct: Conduit, cables: Cable | list[tuple[Cable, int]], **more: object) -> Run:
    """30 m of level conduit, all in one straight."""
    ends = at((0, 0, 0), name="A", ends=BOTH), at((30, 0, 0), name="B", ends=BOTH)
    return run(lay(*ends, conduits=duct), cables, **more)


def hills(rng: np.random.Generator, points: int, rise: float) -> Route:
    """Pull points, two bends before each; some points turn, and conduits differ in friction."""
    place, heading, up = np.zeros(3), 0.0, np.array([0.0, 0.0, 1.0])
    vertices = [at(place.tolist(), name="P0", ends=BOTH)]
    for k in range(1, points):
        for number in range(3):
            along = np.array([np.cos(heading), np.sin(heading), 0.0])
            place = place + rng.uniform(6, 40) * along + rng.normal() * rise * up
            last = number == 2
            vertices.append(
                at(place.tolist(), name=f"P{k}", ends=BOTH)
                if last
                else at(place.tolist(), rng.uniform(0.9, 2.0))
            )
            heading += rng.choice([0.0, 0.9] if last else [-1.2, -0.6, 0.6, 1.2])
    ducts = [conduit(friction=rng.uniform(0.05, 0.4)) for _ in vertices[1:]]
    return lay(*vertices, conduits=ducts)
