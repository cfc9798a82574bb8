"""A duct bank against the published figures: spacing, concrete, earth cover, and how it lies.

They are those of a guide specification, binding where the contract names it: cautions, not stops.
"""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding, at_least
from route3d.geometry.encasement import ground_stations, part_of, section, stretches_below
from route3d.geometry.grade import Grade
from route3d.geometry.path import STRAIGHT, Path
from route3d.geometry.rmf_frames import STEEP, rolls
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.standards import bends as tables

# A row this far off level is set out as level (common practice, no source).
_LEVEL = math.radians(1.0)


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
        *(_earth(bank, run, path, grade) if published else ()),
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


def _earth(bank: Bank, run: Run, path: Path, grade: Grade) -> list[Finding]:
    """The least earth over the bank; nothing where it does not lie below grade."""
    least = least_earth(bank, run, path, grade)
    if least is None:
        return []
    depth, station = least
    fact = tables.cover("encased" if bank.cover > 0 else "direct buried")
    short = max(fact.value - depth, 0.0)
    return [
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
    ]


def least_earth(bank: Bank, run: Run, path: Path, grade: Grade) -> tuple[float, float] | None:
    """Least cover over the bank (m) below grade, and its station; None where none lies so.

    Measured upright over the middle of the bank, on straights that are no steeper than 45 degrees.
    What lies outside the surface of the grade is not measured.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.
    run : Run
        The run, in SI.
    path : Path
        The centerline, n segments.
    grade : Grade
        The ground, m.

    Returns
    -------
    tuple of (float, float) or None
        m
    """
    half = section(bank, widest_duct(run)).height / 2
    found: list[tuple[float, float]] = []
    for start, end in stretches_below(path, grade):
        part = part_of(path, start, end)
        lies = (part.kind == STRAIGHT) & (np.abs(part.tangents[:, 2]) <= STEEP)
        above = half / np.sqrt(1.0 - np.where(lies, part.tangents[:, 2], 0.0) ** 2)
        stations = ground_stations(part, grade)
        # each station with the segment before it, and with that behind it
        for segment in (
            np.searchsorted(part.stations, stations, "left") - 1,
            np.searchsorted(part.stations, stations, "right") - 1,
        ):
            segment = np.clip(segment, 0, len(part) - 1)
            points = part.point(stations)
            depths = grade.at(points) - points[:, 2] - above[segment]
            counts = lies[segment] & np.isfinite(depths)
            found += zip(depths[counts].tolist(), (start + stations[counts]).tolist(), strict=True)
    return min(found, default=None)


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
