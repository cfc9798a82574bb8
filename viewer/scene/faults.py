"""Stops of a pull and their places: a red flag for every failed check, except those of bends.

A flag is at the station of its finding, at the end or vertex it names, at the pulling end for
what the rope and the machine take, and amid the conduit or the stretch it speaks of.
"""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding, worst_first
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull
from route3d.planning.direction import Candidate
from route3d.report.words import limit_of, measured
from route3d.units import render
from viewer.scene.records import Label

# Bends over this limit carry their flag themselves, each with its own figures.
_OF_BENDS = ("sidewall pressure",)
_MOST_RULES = 3
_HEAD = ", head at station"
"""In a place where the station is that of the cable head: the load itself is on the machine."""


def fault_labels(
    candidate: Candidate,
    findings: tuple[Finding, ...],
    origin: Floats,
    units: str,
    ranks: tuple[float, float],
) -> list[Label]:
    """One label for each place where something stops the pull, the worst first.

    ``ranks`` are the priority of what has a place, and of what holds along some length of the run.
    """
    pull = candidate.pull
    places: dict[float, list[str]] = {}
    exact_at: dict[float, float] = {}  # findings a micrometer apart share a label
    sure: set[float] = set()
    found = [(at, True, line) for at, line in _no_access(pull)]
    found += [
        (*place_of(pull, finding), fault_line(finding, units))
        for finding in worst_first(findings)
        if finding.severity == "stop" and finding.rule not in _OF_BENDS
    ]
    for at, exact, line in found:
        station = round(at, 6)
        exact_at.setdefault(station, at)  # rounded up, the far end would be off the path
        places.setdefault(station, []).append(line)
        sure |= {station} if exact else set()
    return [
        Label(
            _cut(list(dict.fromkeys(lines))),
            frozen(pull.path.point(exact_at[station]) - origin),
            "fault",
            ranks[0] if station in sure else ranks[1],
            True,
        )
        for station, lines in places.items()
    ]


def _cut(lines: list[str]) -> tuple[str, ...]:
    more = len(lines) - _MOST_RULES
    return (*lines[:_MOST_RULES], *([f"and {more} more"] if more > 0 else ()))


def fault_line(finding: Finding, units: str) -> str:
    """The rule, the measured value and the limit."""
    rule = finding.rule[:1].upper() + finding.rule[1:]
    if not math.isfinite(finding.demand):
        return f"{rule}: stop" if not math.isfinite(finding.ratio) else f"{rule}: exceeded"
    if finding.beyond or finding.no_setting:
        return f"{rule}: {render(finding.compared, units)}"
    found = f"{rule}: {measured(finding, units)}"
    if not math.isfinite(finding.limit):
        return found
    least = finding.demand < finding.limit
    return f"{found}, {'minimum' if least else 'limit'} {limit_of(finding, units)}"


def place_of(pull: Pull, finding: Finding) -> tuple[float, bool]:
    """The station in m where a finding is flagged, and whether it is that place and no other.

    What holds of the whole run is flagged amid it.
    """
    length = pull.path.length
    start, end = (length, 0.0) if pull.reverse else (0.0, length)
    if _HEAD in finding.where:
        return end, True
    if finding.station is not None:
        return min(max(finding.station, 0.0), length), True
    named = (finding.where, finding.where.rpartition(", ")[2])
    if pull.pull_name in named:
        return end, True
    if pull.feed_name in named:
        return start, True
    return _amid(pull, finding.where)


def _amid(pull: Pull, where: str) -> tuple[float, bool]:
    """A vertex; else the middle of a stretch between two of them, of a conduit, or of the run."""
    path, route = pull.path, pull.run.route
    stations = path.vertex_stations(len(route.vertices)).tolist()
    names = [route.label(i) for i in range(len(route.vertices))]
    for i, name in enumerate(names):
        if where == name:
            return stations[i], True
        for j in range(i + 1, len(names)):
            if where == f"{name} to {names[j]}":
                return (stations[i] + stations[j]) / 2, False
    legs = [i for i, c in enumerate(route.conduits) if where.endswith(f"conduit {c.name}")]
    if not legs:
        return path.length / 2, False
    inside = np.flatnonzero(np.isin(path.leg, legs))
    longest = int(inside[np.argmax(path.lengths[inside])])
    return float(path.stations[longest] + path.lengths[longest] / 2), False


def _no_access(pull: Pull) -> list[tuple[float, str]]:
    """Ends without the access required there."""
    vertices, length = pull.run.route.vertices, pull.path.length
    start, end = (length, 0.0) if pull.reverse else (0.0, length)
    ends = ((pull.feed, "reel", start), (pull.pull, "machine", end))
    return [(at, f"No {what} access") for i, what, at in ends if what not in vertices[i].access]
