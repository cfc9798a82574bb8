"""What the rules ask of a stretch between pull points: its length, and what its conduit takes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from route3d.checks.finding import Finding, at_most
from route3d.geometry.path import Path
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards.conduit_factors import TITLE, Factors, right_angles


@dataclass(frozen=True, slots=True)
class RouteSection:
    """A stretch between neighboring pull points: ``length`` m, sum of bends ``turn`` rad."""

    where: str
    length: float
    turn: float
    conduits: tuple[Conduit, ...]


def sections(run: Run, path: Path) -> Iterator[RouteSection]:
    """The stretches between pull points, from the first point of the route on.

    Parameters
    ----------
    run : Run
        The run, in SI.
    path : Path
        The centerline, n segments.

    Returns
    -------
    iterator of Section
        In the order of the route.
    """
    route = run.route
    points = (0, *route.pull_points, len(route.vertices) - 1)
    for first, last in itertools.pairwise(points):
        inside = (path.vertex > first) & (path.vertex < last)
        along = (path.leg >= first) & (path.leg < last)
        yield RouteSection(
            where=f"{route.label(first)} to {route.label(last)}",
            length=float(path.lengths[along].sum()),
            turn=float(path.angles[inside].sum()),
            conduits=tuple(dict.fromkeys(route.conduits[first:last])),
        )


def check_sections(run: Run, practice: Practice, path: Path) -> tuple[Finding, ...]:
    """Length between pull points, and conduit factors, where the rules have them.

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
        Stretch by stretch.
    """
    return tuple(
        finding
        for section in sections(run, path)
        for finding in (*_length(section, practice), *_factors(run, section, practice))
    )


def _length(section: RouteSection, practice: Practice) -> list[Finding]:
    ruling = practice.rule_set.pull_length(section.conduits[0].stock_type)
    if ruling is None:
        return []
    return [
        at_most(
            "length between pull points",
            section.where,
            section.length,
            ruling.fact.value,
            "length",
            say("add a pull point between them"),
            str(ruling.fact.source),
            broken=ruling.broken,
            close=False,  # chosen, not estimated
        )
    ]


def _factors(run: Run, section: RouteSection, practice: Practice) -> Iterator[Finding]:
    """The cable factors of the set against the factor of each conduit of the stretch."""
    for conduit in section.conduits:
        factors = practice.rule_set.conduit_factors(
            run.cables.classes,
            conduit.stock_type,
            conduit.trade_size,
            section.length,
            section.turn,
        )
        if factors is not None:
            yield _judged(f"{section.where}, conduit {conduit.name}", section.length, factors)


def _judged(where: str, length: float, factors: Factors) -> Finding:
    bends = right_angles(factors.bends)
    if factors.allowed is None:
        fix = say(
            f"no conduit factor published for {{}} and {bends}: add a pull point",
            (length, "length"),
        )
        need, nan = factors.needed, math.nan
        return Finding("conduit factor", "note", where, need, nan, "count", fix, TITLE)
    return at_most(
        "conduit factor",
        where,
        factors.needed,
        factors.allowed.value,
        "count",
        say(
            "use a larger conduit, or add a pull point. Basis: {} between pull points, "
            f"{bends}, cables taken as single-core PVC-insulated without sheath",
            (length, "length"),
        ),
        str(factors.allowed.source),
        broken="caution",
        close=False,  # the factors have their margin
    )
