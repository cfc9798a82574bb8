"""Charts of a pull for print: ``write_svg``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

import numpy as np

from route3d.checks.limits import sidewall_limit
from route3d.directions import isolated
from route3d.disk import write_text_atomic
from route3d.geometry.fillet import pull_stations
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.job import Job
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.progress import Progress, progress
from route3d.planning.result import RunResult
from route3d.report.charts import (
    PRINT,
    Band,
    ChartTheme,
    Curve,
    Limit,
    Place,
    elevation_chart,
    history_chart,
)
from route3d.units import convert, show, unit_label
from viewer.axes import with_grade
from viewer.fonts import measure
from viewer.gauge import limit_curves, must_not_be_pulled, plan_for_crew, rows_of
from viewer.history import fitting
from viewer.playback import ending_words
from viewer.scale import tension_limit
from viewer.scene import candidate_of, headline
from viewer.theme import DARK

# Numbers beside each other in a chart of a usual width; more bends than this go without.
_MOST_BANDS = 60
# Parts of the height: elevation and tension, sidewall, machine load.
_SHARES = (0.5, 0.24, 0.26)
_SMALLEST = (600, 700)
"""Pixels that four charts need to be read; the page and the command line say so too."""
_HEAD, _MARGIN = 34, 24  # of the headline
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
) -> None:
    """Write the charts of one run as SVG; the same input gives the same bytes.

    Raises InputError where the file cannot be written, ValueError for an unknown option or a size
    below 600 x 700.
    """
    text = sheet_svg(result, job, size=size, units=units, theme=theme, feed=feed)
    write_text_atomic(path, text)


def sheet_svg(
    result: RunResult,
    job: Job,
    *,
    size: tuple[int, int] = (1200, 1100),
    units: str = "US",
    theme: str = "light",
    feed: int | str | None = None,
    rows: Sequence[GaugeRow] | None = None,
) -> str:
    """Elevation, tension, sidewall pressure and machine load, one under the other, as SVG text.

    ``rows`` are those of the plan's gauge table, if they are known already.
    """
    if theme not in _THEMES:
        raise ValueError(f"theme {theme!r} is not one of {sorted(_THEMES)}")
    if size[0] < _SMALLEST[0] or size[1] < _SMALLEST[1]:
        raise ValueError(
            f"a sheet of {size[0]} x {size[1]} is below {_SMALLEST[0]} x {_SMALLEST[1]} pixels"
        )
    candidate = candidate_of(result, feed)
    pull = candidate.planned
    sheet = _Sheet(units, _bends(pull, units), _places(pull, units), _THEMES[theme])
    heights = _heights(size[1] - _HEAD, pull.heads is not None)
    charts = [_elevation(pull, sheet, (size[0], heights[0]), _title(job, result))]
    charts.append(_sidewall(pull, sheet, (size[0], heights[1])))
    if pull.heads is not None:
        plan = None
        if rows is None:
            plan = plan_for_crew(result, candidate, job)
            rows = rows_of(plan)
        made = not must_not_be_pulled(result, candidate, plan)
        moving = progress(pull, job.allowances) if made else None
        charts.append(_machine(pull, moving, rows, sheet, (size[0], heights[2])))
    loud = result.stops or not candidate.passes
    words = _headline(headline(result, candidate), size[0], sheet.theme["limit" if loud else "ink"])
    return _stacked(charts, heights, size, sheet.theme, _title(job, result), words)


def _title(job: Job, result: RunResult) -> str:
    """Job and run."""
    return f"{job.title}, run {result.run.name}"


def _headline(words: str, width: int, colour: str) -> str:
    """What to do, over the charts, in letters that fit."""
    letters = fitting(words, width - 2 * _MARGIN, 22.0, True, measure)
    shown = escape(isolated(words))
    return (
        f'<text x="{_MARGIN}" y="{_HEAD - 8}" font-family="DejaVu Sans, Verdana, sans-serif" '
        f'font-size="{letters:.1f}" font-weight="bold" fill="{colour}">{shown}</text>\n'
    )


def _heights(height: int, rope: bool) -> list[int]:
    shares = _SHARES if rope else _SHARES[:2]
    found = [int(height * s / sum(shares)) for s in shares]
    return [*found[:-1], height - sum(found[:-1])]


def _bends(pull: Pull, units: str) -> tuple[Band, ...]:
    path = pull.path
    arcs = np.flatnonzero(path.kind == ARC)
    if len(arcs) > _MOST_BANDS:
        return ()
    ends = np.column_stack((path.stations[arcs], path.stations[arcs + 1]))
    ends = ends * convert(1.0, "length", units)
    return tuple((float(a), float(b), str(n)) for n, (a, b) in enumerate(ends, start=1))


def _places(pull: Pull, units: str) -> tuple[Place, ...]:
    """Feed, pulling end and pull points."""
    path, route = pull.path, pull.run.route
    first, last = (pull.pull, pull.feed) if pull.reverse else (pull.feed, pull.pull)
    words = {pull.feed: f"feed: {pull.feed_name}", pull.pull: f"pull: {pull.pull_name}"}
    stations = {first: 0.0, last: path.length}
    words |= {vertex: route.label(vertex) for vertex in route.pull_points}
    stations |= dict(zip(route.pull_points, pull_stations(route, path), strict=True))
    return tuple(
        (convert(stations[v], "length", units), words[v])
        for v in sorted(stations, key=stations.get)  # type: ignore[arg-type]
    )


def _along(pull: Pull, values: Floats) -> tuple[Floats, Floats]:
    """Stations and values in the order of the route."""
    order = slice(None, None, -1) if pull.reverse else slice(None)
    return pull.profile.station[order], values[order]


def _elevation(pull: Pull, sheet: _Sheet, size: tuple[int, int], title: str) -> str:
    path = pull.path
    at = path.sample(0.002 * max(float(np.ptp(path.starts[:, 2])), 0.1))
    z = path.point(at)[:, 2]
    low, high = float(z.min()), float(z.max())
    station, tension = _along(pull, pull.profile.tension)
    return elevation_chart(
        sheet.values(at, "length"),
        sheet.values(z, "length"),
        sheet.values(station, "length"),
        sheet.values(tension, "force"),
        title=title,
        x_label="",
        elevation_label=sheet.axis("Elevation", "length"),
        value_label=sheet.axis("Tension", "force"),
        limit=sheet.limit(tension_limit(pull), "force"),
        grade=0.0 if with_grade(low, high) == (min(low, 0.0), max(high, 0.0)) else None,
        bends=sheet.bends,
        places=sheet.places,
        size=size,
        theme=sheet.theme,
    )


def _sidewall(pull: Pull, sheet: _Sheet, size: tuple[int, int]) -> str:
    station, sidewall = _along(pull, pull.profile.sidewall)
    return history_chart(
        sheet.values(station, "length"),
        sheet.values(sidewall, "sidewall"),
        x_label=sheet.axis("Station along the route", "length") + _way(pull),
        load_label=sheet.axis("Sidewall pressure of the worst cable", "sidewall"),
        limit=sheet.limit(sidewall_limit(pull.run).value, "sidewall"),
        bends=sheet.bends,
        size=size,
        theme=sheet.theme,
    )


def _machine(
    pull: Pull,
    moving: Progress | None,
    rows: Sequence[GaugeRow],
    sheet: _Sheet,
    size: tuple[int, int],
) -> str:
    """Load on the machine against the place of the cable head, with the load to stay below."""
    assert pull.heads is not None and pull.machine_loads is not None
    more: Sequence[Curve] = ()
    label = sheet.axis("Machine load as the head moves", "force")
    if moving is not None:
        if moving.plan.overload is not None:
            told = f"{label} · {ending_words(moving.plan.overload, sheet.units)}"
            fits = measure(told, 13.0, True)[0] <= size[0] - 5 * _MARGIN
            label = told if fits else f"{label} · the plan ends early"
        more = limit_curves(moving, sheet.units, rows)
    return history_chart(
        sheet.values(pull.heads, "length"),
        sheet.values(pull.machine_loads, "force"),
        x_label=sheet.axis("Station of the cable head", "length") + _way(pull),
        load_label=label,
        more=more,
        bends=sheet.bends,
        size=size,
        theme=sheet.theme,
    )


def _way(pull: Pull) -> str:
    """Which way the cable goes on an axis that follows the route."""
    return " (the pull runs to the left)" if pull.reverse else " (the pull runs to the right)"


def _stacked(
    charts: Sequence[str],
    heights: Sequence[int],
    size: tuple[int, int],
    theme: ChartTheme,
    title: str,
    headline: str,
) -> str:
    """One SVG with the charts below the headline and each other, all on the same axis."""
    parts, y = [headline], _HEAD
    for chart, height in zip(charts, heights, strict=True):
        parts.append(re.sub(r"^<svg ", f'<svg y="{y}" ', chart, count=1))
        y += height
    width, tall = size
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {tall}" '
        f'width="{width}" height="{tall}" role="img">\n<title>{escape(title)}</title>\n'
        f'<rect width="{width}" height="{tall}" fill="{theme["ground"]}"/>\n'
    )
    return head + "".join(parts) + "</svg>\n"
