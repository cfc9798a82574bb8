"""The profile of a LandXML alignment: level by station, with its vertical curves."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from route3d.errors import InputError
from route3d.formats.exchange import bad_file
from route3d.formats.landxml.plan import local
from route3d.geometry.vectors import Floats
from route3d.modelfile.fields import brief
from route3d.units import FARTHEST

_Wrong = Callable[[str], InputError]

# Points on a vertical curve, so that its bend is found again.
SAMPLES = 24
# A grade break nearer than this (m) to a curve of the plan is in it; smaller breaks are none.
WITHIN, NO_BREAK = 0.05, 1e-4
# The share of a grade line that the rounding at either of its ends may take.
ROOM = 0.4
# More of them than this are no profile of a conduit.
MOST_POINTS = 100_000


@dataclass(frozen=True, eq=False, slots=True)
class AlignmentProfile:
    """Points of vertical intersection: ``stations`` and ``levels`` (n,) in m, and their curves.

    ``before`` and ``after`` (n,) are the lengths (m, in plan) a curve takes off each grade line;
    ``radii`` (n,) m those of circular curves, 0 for parabolas and where there is none.
    """

    stations: Floats
    levels: Floats
    before: Floats
    after: Floats
    radii: Floats

    @property
    def curves(self) -> int:
        """How many of the points have a curve."""
        return int((self.before > 0).sum())

    def samples(self) -> Floats:
        """Stations to sample: the points, and evenly along each curve."""
        curved = np.flatnonzero(self.before > 0)
        share = np.linspace(0.0, 1.0, SAMPLES + 1)
        start = self.stations[curved] - self.before[curved]
        length = self.before[curved] + self.after[curved]
        along = (start[:, None] + share * length[:, None]).ravel()
        return np.unique(np.concatenate((self.stations[self.before == 0], along)))

    def level(self, stations: Floats) -> Floats:
        """Level (m) at stations between the first and the last point.

        A parabola over lengths L1, L2 with grades g1, g2 rises by A x²/(2 L1 (L1 + L2)) L2 over
        the grade line it leaves, A = g2 - g1, from either end (the two halves of the
        unsymmetrical parabola; the common one has L1 = L2); a circle follows its own.
        """
        z: Floats = np.interp(stations, self.stations, self.levels)
        for i in np.flatnonzero(self.before > 0).tolist():
            near = (stations > self.stations[i] - self.before[i]) & (
                stations < self.stations[i] + self.after[i]
            )
            z[near] = self._on_curve(i, stations[near] - self.stations[i])
        return z

    def _on_curve(self, i: int, x: Floats) -> Floats:
        """Level at distances x (m, in plan) from the point of a curve."""
        g1, g2 = self._grades(i)
        one, two = float(self.before[i]), float(self.after[i])
        grade = np.where(x < 0, g1, g2)
        if self.radii[i] > 0:
            return self._on_circle(i, x, g1, g2)
        share = (g2 - g1) * np.where(x < 0, two / one, one / two) / (2 * (one + two))
        reach = np.where(x < 0, x + one, two - x)
        curve: Floats = self.levels[i] + grade * x + share * reach**2
        return curve

    def _on_circle(self, i: int, x: Floats, g1: float, g2: float) -> Floats:
        sign = math.copysign(1.0, g2 - g1)  # +1 in a sag
        radius, start = float(self.radii[i]), -float(self.before[i])
        angle = math.atan(g1)
        center = start - sign * radius * math.sin(angle)
        up = float(self.levels[i]) + g1 * start + sign * radius * math.cos(angle)
        curve: Floats = up - sign * np.sqrt(np.maximum(radius**2 - (x - center) ** 2, 0.0))
        return curve

    def grade(self, station: float, other: float) -> float:
        """The slope at a station; at a break in grade that on the side of another station."""
        at = self.stations
        near = (station >= at - self.before) & (station <= at + self.after) & (self.before > 0)
        if near.any():
            i = int(np.flatnonzero(near)[0])
            return self._slope_on_curve(i, station - float(at[i]))
        i = int(np.searchsorted(at, station, "right" if other > station else "left")) - 1
        i = min(max(i, 0), len(at) - 2)
        return float((self.levels[i + 1] - self.levels[i]) / (at[i + 1] - at[i]))

    def _slope_on_curve(self, i: int, x: float) -> float:
        """The derivative of ``_on_curve``."""
        g1, g2 = self._grades(i)
        one, two = float(self.before[i]), float(self.after[i])
        if self.radii[i] > 0:
            radius, sign = float(self.radii[i]), math.copysign(1.0, g2 - g1)
            ahead = x + one + sign * radius * math.sin(math.atan(g1))
            return sign * ahead / math.sqrt(max(radius**2 - ahead**2, 1e-12))
        if x < 0:
            return g1 + (g2 - g1) * two / one / (one + two) * (x + one)
        return g2 - (g2 - g1) * one / two / (one + two) * (two - x)

    def _grades(self, i: int) -> tuple[float, float]:
        slopes = np.diff(self.levels[i - 1 : i + 2]) / np.diff(self.stations[i - 1 : i + 2])
        return float(slopes[0]), float(slopes[1])


@dataclass(frozen=True, slots=True)
class Rounded:
    """A break of ``change`` in grade at ``station`` m made a parabola ``length`` m long, which is
    ``off`` m from it at most.
    """

    station: float
    change: float
    length: float
    off: float


def rounded(
    profile: AlignmentProfile, curves: tuple[Floats, Floats], within: float
) -> tuple[AlignmentProfile, tuple[Rounded, ...]]:
    """The profile with the grade breaks that fall in ``curves`` of the plan made parabolas.

    ``curves`` are the stations (k,) m at which those start and end. Curve and break together would
    bend the route and kink it in one place, which no chain of arcs can follow. A parabola of
    length L between grades A apart stays within AL/8 of them: so L is such that this is
    ``within`` m, and less where neighbors leave no room.
    """
    before, after = profile.before.copy(), profile.after.copy()
    made = []
    grades = np.diff(profile.levels) / np.diff(profile.stations)
    for i in range(1, len(profile.stations) - 1):
        change, at = float(grades[i] - grades[i - 1]), float(profile.stations[i])
        inside = (at >= curves[0] - WITHIN) & (at <= curves[1] + WITHIN)
        if before[i] > 0 or abs(change) < NO_BREAK or not inside.any():
            continue
        left = at - profile.stations[i - 1] - profile.after[i - 1]
        right = profile.stations[i + 1] - profile.before[i + 1] - at
        half = min(4 * within / abs(change), left * ROOM, right * ROOM)
        before[i] = after[i] = half
        made.append(Rounded(at, change, 2 * half, abs(change) * half / 4))
    return replace(profile, before=before, after=after), tuple(made)


def level_profile(stations: Floats) -> AlignmentProfile:
    """A profile at level 0 m from the first of the stations (n,) m to the last."""
    ends = stations[[0, -1]]
    return AlignmentProfile(ends, np.zeros(2), np.zeros(2), np.zeros(2), np.zeros(2))


def profile_of(
    alignment: Element, meters: float, path: Path, name: str
) -> tuple[AlignmentProfile | None, list[str]]:
    """The first design profile of an alignment, None where it has none; and what is ignored."""
    lines = [e for e in alignment.iter() if local(e) == "ProfAlign"]
    ground = sum(1 for e in alignment.iter() if local(e) == "ProfSurf")
    ignored = [f"{ground} surface profiles"] if ground else []
    ignored += [f"additional profile {e.get('name', '')!r}" for e in lines[1:]]
    if not lines:
        return None, ignored
    return _profile(lines[0], meters, path, name), ignored


def _profile(line: Element, meters: float, path: Path, name: str) -> AlignmentProfile:
    def wrong(message: str) -> InputError:
        return bad_file(path, f"has the profile of {name!r}, {message}", "export it again")

    rows = [_row(e, meters, wrong) for e in line if local(e) != "Feature"]
    if len(rows) < 2 or len(rows) > MOST_POINTS:
        raise wrong(f"which has {len(rows):,} points")
    table = np.array([r[:2] for r in rows])
    if (np.diff(table[:, 0]) <= 0).any():
        at = table[int(np.flatnonzero(np.diff(table[:, 0]) <= 0)[0]), 0]
        raise wrong(f"whose stations do not increase after {at:g} m")
    before, after, radii = (np.zeros(len(rows)) for _ in range(3))
    for i, (_, _, kind, one, two) in enumerate(rows):
        if kind == "PVI":
            continue
        if i in (0, len(rows) - 1):
            raise wrong("which has a vertical curve at its end")
        if kind == "CircCurve":
            radii[i], before[i], after[i] = one, *_circle_lengths(table, i, one)
        else:
            before[i], after[i] = one, two
    _refuse_overlap(table[:, 0], before, after, wrong)
    return AlignmentProfile(table[:, 0], table[:, 1], before, after, radii)


def _row(element: Element, meters: float, wrong: _Wrong) -> tuple[float, float, str, float, float]:
    """Station, level, kind and two lengths of an element of a profile, in m."""
    kind = local(element)

    def number(text: str | None, what: str) -> float:
        try:
            value = float(text if text is not None else "")
        except ValueError:
            value = math.nan
        if not abs(value) * meters <= FARTHEST:  # also where it is no number
            raise wrong(f"where {what} is {brief(text)}")
        return value * meters

    words = (element.text or "").split()
    if kind not in ("PVI", "ParaCurve", "UnsymParaCurve", "CircCurve"):
        raise wrong(f"which has a {kind}")
    if len(words) != 2:
        raise wrong(f"where a {kind} is {brief(' '.join(words))}, not station and elevation")
    station, level = (number(w, kind) for w in words)
    if kind == "PVI":
        return station, level, kind, 0.0, 0.0
    if kind == "UnsymParaCurve":
        one, two = (number(element.get(k), k) for k in ("lengthIn", "lengthOut"))
    elif kind == "ParaCurve":
        one = two = number(element.get("length"), "the length of a ParaCurve") / 2
    else:
        one = two = number(element.get("radius"), "the radius of a CircCurve")
    if min(one, two) <= 0:
        return station, level, "PVI", 0.0, 0.0  # a curve of no length
    return station, level, kind, one, two


def _circle_lengths(table: Floats, i: int, radius: float) -> tuple[float, float]:
    """What a circle takes off both grade lines, in plan: R tan(φ/2) along each."""
    g1, g2 = np.diff(table[i - 1 : i + 2, 1]) / np.diff(table[i - 1 : i + 2, 0])
    a, b = math.atan(g1), math.atan(g2)
    setback = radius * math.tan(abs(b - a) / 2)
    return setback * math.cos(a), setback * math.cos(b)


def _refuse_overlap(stations: Floats, before: Floats, after: Floats, wrong: _Wrong) -> None:
    short = np.flatnonzero(after[:-1] + before[1:] > np.diff(stations) * (1 + 1e-9) + 1e-6)
    if short.size:
        raise wrong(f"whose vertical curves overlap after station {stations[int(short[0])]:g} m")
