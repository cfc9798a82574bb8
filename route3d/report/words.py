"""Small pieces of text that several reports share: places, measures, sentences."""

from __future__ import annotations

import math

import numpy as np

from route3d.checks.finding import Finding
from route3d.checks.limits import pull_place
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import Pull
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.planning.result import RunResult
from route3d.units import show, show_marked

NOT_HERE = "Gears, load path, anchors, sheaves, machine location: `route3d plan` checks them."
"""Note in a report without a plan."""

# The formulas stand beside ``mechanics.fit.clearance``.
CLEARANCE = (
    "Clearance: free height between the highest cable and the top of the bore, for the "
    "arrangement above. For one cable and for three triangular: the published formula. For "
    "three cradled: the exact height, which is less than the handbook formula gives."
)


def place(where: str, station: float | None, system: str) -> str:
    """The words of a place with the station filled in; names in it may hold braces too."""
    if station is None:
        return where
    return where.replace("station {}", f"station {show(station, 'length', system)}", 1)


def measured(finding: Finding, system: str) -> str:
    """What was measured, with its unit; ``-`` where the rule has no number."""
    least = "at least " if finding.no_setting else ""
    return least + show_marked(*finding.figures[0], system)


def limit_of(finding: Finding, system: str) -> str:
    """The limit it was held against, with its unit; ``-`` for a note, which has none."""
    if math.isnan(finding.limit) or (finding.severity == "note" and math.isnan(finding.ratio)):
        return "-"
    most = "at most " if finding.no_setting else ""
    return most + show_marked(*finding.figures[1], system)


def peak_tension_place(pull: Pull, system: str) -> str:
    """Where the cable tension is largest."""
    row = int(np.argmax(pull.profile.tension))
    return place(pull_place(pull, row), float(pull.profile.station[row]), system)


def peak_sidewall_place(pull: Pull, system: str) -> str:
    """Where the sidewall pressure is largest; empty for a run without bends."""
    row = int(np.argmax(pull.profile.sidewall))
    if pull.profile.sidewall[row] <= 0:
        return ""
    return place(pull_place(pull, row), float(pull.profile.station[row]), system)


def rules_line(practice: Practice) -> str:
    """The rules a report is judged by, as a sentence of its foot."""
    return sentence(f"checked against {practice.rules_words}")


def sentence(text: str) -> str:
    """Text as a sentence: its first letter large, a full stop behind it."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def conduit_fits(result: RunResult) -> tuple[tuple[Conduit, Fit], ...]:
    """Each different conduit of a run with the fit in it, in the order of the route."""
    return tuple(dict(zip(result.run.route.conduits, result.fits, strict=True)).items())
