"""Charts of a pull for print: ``write_svg``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from route3d.checks.limits import sidewall_limit
from route3d.disk import write_text_atomic
from route3d.drawing import svg
from route3d.drawing.axes import with_grade
from route3d.drawing.charts import (
    PRINT,
    Band,
    Chart,
    ChartTheme,
    Curve,
    Limit,
    Panel,
    Place,
    chart_marks,
    elevation_panels,
)
from route3d.drawing.marks import Mark, written
from route3d.drawing.pixels import measure
from route3d.drawing.route_places import named_points, numbered_bends
from route3d.drawing.text_width import fitting
from route3d.geometry.encasement import ground_line
from route3d.geometry.grade import Grade
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.model.job import Job
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.progress import Progress, progress
from route3d.planning.result import RunResult
from route3d.units import convert, show, unit_label
from viewer.gauge import limit_curves, must_not_be_pulled, rows_of
from viewer.playback import ending_words
from viewer.scene.build import headline
from viewer.scene.scale import tension_limit
from viewer.theme import DARK
from viewer.verdict import Planned, planned

# Parts of the height: elevation and tension, sidewall, machine load.
_SHARES = (0.5, 0.24, 0.26)
_SMALLEST = (600, 700)
"""Pixels that four charts need to be read; the page and the command line say so too."""
_HEAD, _MARGIN = 34, 24  # of the headline
_BANNER = 20  # over the headline, where values are examples
_THEMES: dict[str, ChartTheme] = {
    "light": PRINT,
    "dark": {
        **PRINT,
        "ground": DARK.ground,
        "ink": DARK.ink,
        "faint": DARK.faint,
        "line": DARK.grid,
        "band": DARK.card,
        "series": "#6db3f2",
        "second": "#c79be6",
        "limit": DARK.alarm,
    },
}


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """What all charts of a sheet share."""

    units: str
    bends: tuple[Band, ...]
    places: tuple[Place, ...]
    theme: ChartTheme

    def axis(self, words: str, quantity: str) -> str:
        return f"{words}, {unit_label(quantity, self.units)}"

    def values(self, values: Floats, quantity: str) -> Floats:
        """SI values (n,) in display units; every unit here is a plain factor."""
        return np.asarray(values, dtype=np.float64) * convert(1.0, quantity, self.units)

    def limit(self, value: float, quantity: str) -> Limit:
        words = f"limit {show(value, quantity, self.units)}"
        return convert(value, quantity, self.units), words


def write_svg(
    result: RunResult,
    job: Job,
    path: str | Path,
    *,
    size: tuple[int, int] = (1200, 1100),
    units: str = "US",
    theme: str = "light",
    feed: int | str | None = None,
    ready: Planned | None = None,
) -> None:
    """Write the charts of one run as SVG; the same input gives the same bytes.

    Raises InputError where the file cannot be written, ValueError for an unknown option or a size
    below 600 x 700.
    """
    text = sheet_svg(result, job, size=size, units=units, theme=theme, feed=feed, ready=ready)
    write_text_atomic(path, text)


def sheet_svg(
    result: RunResult,
    job: Job,
    *,
    size: tuple[int, int] = (1200, 1100),
    units: str = "US",
    theme: str = "light",
    feed: int | str | None = None,
    ready: Planned | None = None,
) -> str:
    """Elevation, tension, sidewall pressure and machine load, one under the other, as SVG text.

    ``ready`` is the direction fed from ``feed`` with its plan, if that is made already.
    """
    if theme not in _THEMES:
        raise ValueError(f"theme {theme!r} is not one of {sorted(_THEMES)}")
    if size[0] < _SMALLEST[0] or size[1] < _SMALLEST[1]:
        raise ValueError(
            f"size {size[0]} x {size[1]} is below the minimum of "
            f"{_SMALLEST[0]} x {_SMALLEST[1]} pixels"
        )
    ready = ready or planned(result, job, feed)
    candidate, plan = ready.candidate, ready.plan
    pull = candidate.planned
    places = named_points(pull.run.route, pull.path, units, feed=pull.feed, pull=pull.pull)
    sheet = _Sheet(units, numbered_bends(pull.path, units), places, _THEMES[theme])
    charts = [_elevation(pull, ready.grade, sheet, _title(job, result)), _sidewall(pull, sheet)]
    if pull.heads is not None:
        made = not must_not_be_pulled(result, candidate, plan)
        moving = progress(pull, job.allowances) if made else None
        charts.append(_machine(pull, moving, rows_of(plan), sheet, size[0]))
    loud = result.stops or not candidate.passes
    words, color = headline(result, candidate), sheet.theme["limit" if loud else "ink"]
    width = size[0] - 2 * _MARGIN
    banner = example_banner(job.examples, MOST_NAMED)
    head = _HEAD + (_BANNER if banner else 0)
    marks: list[Mark] = [
        written(_MARGIN, y, text, fitting(text, width, most, True, measure), ink, bold=True)
        for y, text, most, ink in (
            (_BANNER, banner, 15.0, sheet.theme["limit"]),
            (head - 8, words, 22.0, color),
        )
        if text
    ]
    y, shares = float(head), _SHARES[: len(charts)]
    for chart, share in zip(charts, shares, strict=True):
        height = int((size[1] - head) * share / sum(shares))
        marks += chart_marks(chart, (size[0], height), sheet.theme, top=y)
        y += height
    return svg.document(marks, size, title=_title(job, result), ground=sheet.theme["ground"])


def _title(job: Job, result: RunResult) -> str:
    """Job and run."""
    return f"{job.title}, run {result.run.name}"


def _along(pull: Pull, values: Floats, quantity: str, sheet: _Sheet) -> Curve:
    """Values in the order of the route."""
    order = slice(None, None, -1) if pull.reverse else slice(None)
    station = sheet.values(pull.profile.station[order], "length")
    return Curve("", station, sheet.values(values[order], quantity))


def _elevation(pull: Pull, grade: Grade, sheet: _Sheet, title: str) -> Chart:
    path = pull.path
    at = path.sample(0.002 * max(float(np.ptp(path.starts[:, 2])), 0.1))
    z = path.point(at)[:, 2]
    low, high = float(z.min()), float(z.max())
    stations, heights = ground_line(path, grade)
    known = heights[np.isfinite(heights)]
    shown = len(known) and with_grade(low, high, heights) == (
        min(low, float(known.min())),
        max(high, float(known.max())),
    )
    tension = _along(pull, pull.profile.tension, "force", sheet)
    panels = elevation_panels(
        sheet.values(at, "length"),
        sheet.values(z, "length"),
        sheet.axis("Elevation", "length"),
        (sheet.values(stations, "length"), sheet.values(heights, "length")) if shown else None,
        Panel(
            sheet.axis("Tension", "force"), (tension,), sheet.limit(tension_limit(pull), "force")
        ),
    )
    return Chart(panels, "", title, sheet.bends, sheet.places)


def _sidewall(pull: Pull, sheet: _Sheet) -> Chart:
    panel = Panel(
        sheet.axis("Sidewall pressure of the worst cable", "sidewall"),
        (_along(pull, pull.profile.sidewall, "sidewall", sheet),),
        sheet.limit(sidewall_limit(pull.run).value, "sidewall"),
    )
    x_label = sheet.axis("Station along the route", "length") + _way(pull)
    return Chart((panel,), x_label, bends=sheet.bends)


def _machine(
    pull: Pull, moving: Progress | None, rows: Sequence[GaugeRow], sheet: _Sheet, width: int
) -> Chart:
    """Machine load against the station of the cable head, with its limits."""
    assert pull.heads is not None and pull.machine_loads is not None
    more: Sequence[Curve] = ()
    label = sheet.axis("Machine load", "force")
    if moving is not None:
        if moving.plan.overload is not None:
            told = f"{label} · {ending_words(moving.plan.overload, sheet.units)}"
            fits = measure(told, 13.0, True)[0] <= width - 5 * _MARGIN
            label = told if fits else f"{label} · the plan ends early"
        more = limit_curves(moving, sheet.units, rows)
    heads, loads = sheet.values(pull.heads, "length"), sheet.values(pull.machine_loads, "force")
    panel = Panel(label, (Curve("machine load" if more else "", heads, loads), *more))
    x_label = sheet.axis("Station of the cable head", "length") + _way(pull)
    return Chart((panel,), x_label, bends=sheet.bends)


def _way(pull: Pull) -> str:
    """The pull direction on an axis that follows the route."""
    return " (pull direction: left)" if pull.reverse else " (pull direction: right)"
