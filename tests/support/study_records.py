"""Invented answers of the studies, for what draws and prints them: no run was solved for them."""

from __future__ import annotations

import numpy as np

from route3d.geometry.fillet import route_path
from route3d.geometry.path import ARC
from route3d.model import Run
from route3d.model.practice import Practice
from route3d.report.sensitivity import Sensitivity
from route3d.study.limits.outcome import EndLimits, FarthestValue, Limits
from route3d.study.options.outcome import Option, Options
from route3d.study.spread.outcome import (
    PERCENTILES,
    Chance,
    EndSpread,
    Importance,
    InputSpread,
    Spread,
)
from tests.support.jobs import along, conduit, machine, rope, run
from tests.support.routes import Go, Turn, vertices

HOUR = 3600.0


def bent_run(bends: int) -> Run:
    """A run of so many bends, 20 m of straight between them, to and fro."""
    pieces: list[Go | Turn] = [Go(20.0)]
    for number in range(bends):
        pieces += [Turn(30.0, 1.2, "left" if number % 2 else "right"), Go(20.0)]
    route = along(vertices(pieces), conduit(), "vault V1", "roof switchroom")
    return run(route, rope=rope(), machine=machine(10e3))


def spread_of(run: Run, inputs: int, *, correlated: bool = False) -> Spread:
    """Loads that grow along the route, in percentiles 20 % apart."""
    path = route_path(run.route)
    length = path.length
    arcs = np.flatnonzero(path.kind == ARC)
    middles = (path.stations[arcs] + path.stations[arcs + 1]) / 2
    bends = tuple((f"bend {n}", at) for n, at in enumerate(middles.tolist(), 1))
    at = np.linspace(0.0, length, 41)
    rows = (1.0 + 0.2 * np.arange(-2, 3))[:, None] * np.linspace(500.0, 9000.0, 41)
    importance = tuple(
        Importance(
            f"friction of conduit {n}",
            0.5 / n,
            0.02,
            None if correlated else 0.6 / n,
            None if correlated else 0.03,
            *((0.6 + 0.1 / n, 1.1 - 0.1 / n)[:: -1 if n % 3 == 0 else 1]),
        )
        for n in range(1, inputs + 1)
    )
    ends = tuple(
        EndSpread(
            *(("roof switchroom", "vault V1") if reverse else ("vault V1", "roof switchroom")),
            reverse=reverse,
            pulled=at,
            tension=rows,
            heads=at,
            gauge=rows * 1.1,
            reached_by=np.linspace(0.0, 0.3 + 0.4 * reverse, 41),
            chances=(Chance("machine", 0.3 + 0.4 * reverse, 0.01),),
            passes=0.7 - 0.4 * reverse,
            passes_error=0.01,
            utilization=np.linspace(0.6, 1.1, 100),
            importance=importance,
            bends=bends,
            sidewall=(1.0 + 0.2 * np.arange(-2, 3))[:, None] * np.full(len(bends), 9000.0),
        )
        for reverse in (False, True)
    )
    names = tuple(i.name for i in importance)
    steps = np.array([[512.0, 0.69], [1024.0, 0.7]])
    varying = tuple(
        InputSpread(name, "lognormal", "ratio", 0.12, 0.25, 0.3, 0.25, "given") for name in names
    )
    return Spread(
        run=run,
        ends=(ends[0], ends[1]),
        percentiles=PERCENTILES,
        inputs=names,
        correlated=correlated,
        count=1024,
        seed=1,
        steps=steps,
        settled=True,
        planned=0,
        other_better=0.2,
        turns_at=1.3,
        errors=np.array([0.004, 0.002]),
        wanted=0.002,
        varying=varying,
    )


def limits_of(run: Run) -> Limits:
    """Shares that rise to 110 % at the end, and a least radius of half the planned one."""
    path = route_path(run.route)
    stations = np.linspace(0.0, path.length, 101)
    arcs = np.flatnonzero(path.kind == ARC)
    radii = tuple(
        FarthestValue(
            "bend radius",
            run.route.bend_label(number, int(path.vertex[arc])),
            "radius",
            float(path.radii[arc]),
            None if number == 2 else float(path.radii[arc]) / 2,
            "sidewall pressure",
            f"bend {number}",
            at_most=False,
            beyond=float(path.radii[arc]) * 0.499,
        )
        for number, arc in enumerate(arcs, 1)
    )
    shares = np.linspace(0.0, 1.1, 101)
    names = ("conductor tension", "basket grip load", "sidewall pressure", "machine line pull")
    rows = tuple((name, shares) for name in names)
    ends = (
        EndLimits("vault V1", "roof switchroom", False, radii, stations, rows),
        EndLimits("roof switchroom", "vault V1", True, radii, stations[::-1], rows),
    )
    return Limits(run, ends, 0)


def sensitivity_of(run: Run, inputs: int = 2) -> Sensitivity:
    """Both of a run."""
    return Sensitivity(spread_of(run, inputs), limits_of(run), Practice())


def options_of(count: int, *, costs: bool = True) -> Options:
    """So many options; every fourth must not be pulled, the first three are efficient."""
    rng = np.random.default_rng(count)
    options = []
    for number in range(count):
        stops = number % 4 == 3
        utilization = float(rng.uniform(1.05, 1.4) if stops else rng.uniform(0.2, 0.95))
        hours, setups = float(rng.uniform(3, 14)), int(rng.integers(1, 4))
        options.append(
            Option(
                name=("larger conduit", "vault at the sweep", "bends of 6 ft")[number % 3],
                changes=("conduit 6",),
                utilization=utilization,
                friction_margin=1.2,
                setups=setups,
                crew_time=hours * HOUR,
                cost=float(rng.uniform(2e4, 6e4)) if costs else None,
                governing="sidewall pressure",
                feed="vault V1",
                pull="roof switchroom",
                stops=("sidewall pressure, bend 3",) if stops else (),
                efficient=number < 3,
            )
        )
    return Options("Ferry terminal", "F1", tuple(options), "USD" if costs else "")
