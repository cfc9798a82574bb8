"""A duct bank against the published figures: spacing, concrete, earth cover, and how it lies.

They are those of a guide specification, binding where the contract names it: cautions, not stops.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from route3d.checks.finding import Finding, at_least
from route3d.geometry.bank_slices import ground_over, slices_along, stretches_below
from route3d.geometry.encasement import part_of, section, stretches_outside
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.rmf_frames import STEEP, frames, frames_at, rolls
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards import bends as tables

# A row this far off level is set out as level (common practice, no source).
_LEVEL = math.radians(1.0)
# Stretches outside the surface of the grade that a finding names.
_MOST_SPANS = 3
# Nothing steeper than this is measured upright: the height over that does not count.
_UPRIGHT = 0.5


def widest_duct(run: Run) -> float:
    """Outer diameter of the widest conduit of a run, m.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    float
        m
    """
    return max(c.outer_diameter for c in run.route.conduits)


def check_bank(
    bank: Bank, run: Run, practice: Practice, path: Path, starts: Floats, grade: Grade
) -> tuple[Finding, ...]:
    """What holds for the bank as a whole; ``starts`` is its frame, from ``frames``.

    The guide specification is that of US government work: it holds where the rules go with it.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.
    run : Run
        The run, in SI.
    practice : Practice
        Conventions and rules it is worked by.
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.
    grade : Grade
        The ground, m.

    Returns
    -------
    tuple of Finding
        In the order of the rules.
    """
    published = practice.rule_set.duct_banks
    return (
        *(_spacing(bank, run) if published else ()),
        *(_concrete(bank, run) if published else ()),
        *(_earth(bank, run, path, starts, grade) if published else ()),
        *(_tilt(run, path, starts) if bank.rows * bank.columns > 1 else ()),
    )


def _spacing(bank: Bank, run: Run) -> list[Finding]:
    """Clear distance between neighbors, the widest conduit taken for all."""
    if bank.cover == 0:
        return []
    fact, outer = tables.duct_bank_spacing(), widest_duct(run)
    ways = (("across a row", bank.columns, 0), ("between rows", bank.rows, 1))
    return [
        at_least(
            f"duct spacing {way}",
            f"bank of {run.name}",
            bank.spacing[axis] - outer,
            fact.value,
            "diameter",
            say(
                "increase the duct spacing to {} center to center",
                (fact.value + outer, "diameter+"),
            ),
            str(fact.source),
            broken="caution",
        )
        for way, count, axis in ways
        if count > 1
    ]


def _concrete(bank: Bank, run: Run) -> list[Finding]:
    if bank.cover == 0:
        return []
    fact = tables.concrete_around()
    fix = say("increase the concrete cover outside the ducts to {}", (fact.value, "diameter+"))
    where, source = f"bank of {run.name}", str(fact.source)
    rule = "concrete cover"
    limit = fact.value
    return [at_least(rule, where, bank.cover, limit, "diameter", fix, source, broken="caution")]


def _earth(bank: Bank, run: Run, path: Path, starts: Floats, grade: Grade) -> list[Finding]:
    """The least earth over the bank; nothing where it does not lie below grade.

    Where a part lies outside the surface of the grade the bank as a whole is not judged.
    """
    least = least_earth(bank, run, path, starts, grade)
    outside = stretches_outside(path, grade)
    fact = tables.cover("encased" if bank.cover > 0 else "direct buried")
    found = []
    if outside:
        found.append(_not_judged(run, outside, fact.value, str(fact.source)))
    if least is not None and (not outside or least[0] < fact.value * (1 - 1e-9)):
        depth, station = least
        short = max(fact.value - depth, 0.0)
        found.append(
            at_least(
                "earth cover",
                f"bank of {run.name}, station {{}}",
                depth,
                fact.value,
                "length",
                say("lay the bank {} deeper here", (short, "length+")),
                str(fact.source),
                station=station,
                broken="caution",
            )
        )
    return found


def _not_judged(
    run: Run, outside: tuple[tuple[float, float], ...], limit: float, source: str
) -> Finding:
    """Earth cover that a rule requires and nobody can judge: there is no ground."""
    named = outside[:_MOST_SPANS]
    spans = ", ".join("{} to {}" for _ in named)
    more = f" and {len(outside) - len(named)} more" if len(outside) > len(named) else ""
    fix = say(
        f"not judged at station {spans}{more}, outside the grade surface: extend the surface",
        *((station, "length") for span in named for station in span),
    )
    where = f"bank of {run.name}, station {{}}"
    start = outside[0][0]
    return Finding("earth cover", "caution", where, math.nan, limit, "length", fix, source, start)


def least_earth(
    bank: Bank, run: Run, path: Path, starts: Floats, grade: Grade
) -> tuple[float, float] | None:
    """Least cover over the bank (m) below grade, and its station; None where none lies so.

    Measured upright over the whole width of the bank, on straights and bends that are no steeper
    than 45 degrees. What lies outside the surface of the grade is not measured. Less than nothing
    where the bank rises out of the ground.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.
    run : Run
        The run, in SI.
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.
    grade : Grade
        The ground, m.

    Returns
    -------
    tuple of (float, float) or None
        m
    """
    shape = section(bank, widest_duct(run))
    found: list[tuple[float, float]] = []
    for start, end in stretches_below(path, grade, shape, starts):
        part = part_of(path, start, end)
        frame = frames_at(path, np.array([start]), starts)[0]
        cut = slices_along(part, frames(part, frame), shape)
        level = np.maximum(cut.upright[:, 2], _UPRIGHT)
        top = cut.points + np.outer(cut.half_height / level, (0.0, 0.0, 1.0))
        over = ground_over(top, cut.across, cut.half_width, grade)
        middle = (cut.stations[:-1] + cut.stations[1:]) / 2
        segment = part.locate(middle)[0]
        counts = _lies(part)[segment][over.piece] & np.isfinite(over.height)
        at = start + over.along(cut.stations)
        found += zip(over.height[counts].tolist(), at[counts].tolist(), strict=True)
    return min(found, default=None)


def _lies(path: Path) -> NDArray[np.bool_]:
    """The segments (n,) that are no steeper than 45 degrees, from end to end."""
    ends = (path.tangents[:, 2], path.end_tangents[:, 2])
    steepest: NDArray[np.bool_] = np.maximum(*np.abs(ends)) <= STEEP
    return steepest


def _tilt(run: Run, path: Path, starts: Floats) -> list[Finding]:
    """Bends in several planes leave the rows of a bank that does not twist off level."""
    tilt = np.abs(rolls(path, starts))
    if not np.isfinite(tilt).any() or np.nanmax(tilt) <= _LEVEL:
        return []
    at = int(np.nanargmax(tilt))
    fix = say(
        "keep the duct numbers of the cross section along the whole route: a row tilts by this "
        "angle here"
    )
    return [
        Finding(
            "rows not level",
            "note",
            f"bank of {run.name}, station {{}}",
            float(tilt[at]),
            math.nan,
            "angle",
            fix,
            "geometry: bank without twist",
            station=float(path.stations[at]),
        )
    ]
