"""The charts of the page, as SVG in the colors of its style sheet, for wide and narrow screens."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from route3d.checks.limits import sidewall_limit
from route3d.drawing.axes import with_grade
from route3d.drawing.charts import Chart, Curve, Limit, Panel, chart_svg, elevation_panels
from route3d.geometry.bend_schedule import bend_schedule
from route3d.mechanics.pull import Pull
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.progress import Progress
from route3d.report.words import sentence
from route3d.units import convert, show, unit_label
from viewer.gauge import limit_curves
from viewer.page.thinning import kept_rows
from viewer.playback import ending_words
from viewer.scale import tension_limit

Data = dict[str, Any]

# Colors of the page's style sheet, so that one drawing serves light and dark.
CHART_THEME = {
    name: f"var(--r3-{name})"
    for name in ("ground", "ink", "faint", "line", "band", "series", "second", "limit")
}
WIDE, NARROW = (560, 400), (350, 380)
# Of the profile over the picture: with elevation and tension, and with the pressure below.
_UNROLLED = {"wide": ((760, 330), (760, 180)), "narrow": ((380, 380), (380, 190))}


def charts(
    pull: Pull, units: str, moving: Progress | None = None, rows: Sequence[GaugeRow] = ()
) -> Data:
    """Profile and history as SVG, for a wide and for a narrow screen.

    With the pull by its gear plan, ``moving``, the limit is that of the gear in use; the stop load
    is that of the gauge table's ``rows``.
    """
    sizes = {"wide": WIDE, "narrow": NARROW}
    more = () if moving is None else limit_curves(moving, units, rows)
    ending = "" if moving is None else ending_words(moving.plan.overload, units)
    return {
        "profile": {name: _profile(pull, units, size) for name, size in sizes.items()},
        "history": {name: history(pull, units, (s[0], 300), more) for name, s in sizes.items()},
        "ending": sentence(ending) if ending else "",
    }


def _profile(pull: Pull, units: str, size: tuple[int, int]) -> str:
    profile = pull.profile
    keep = kept_rows(profile.sidewall, 4 * size[0])
    tension, sidewall = tension_limit(pull), sidewall_limit(pull.run).value
    station = _in(profile.station[keep], "length", units)
    panels = (
        Panel(
            f"Cable tension, {unit_label('force', units)}",
            (Curve("", station, _in(profile.tension[keep], "force", units)),),
            _limit(tension, "force", units),
            0.55,
        ),
        Panel(
            f"Sidewall pressure, {unit_label('sidewall', units)}",
            (Curve("", station, _in(profile.sidewall[keep], "sidewall", units), "second"),),
            _limit(sidewall, "sidewall", units),
            0.45,
        ),
    )
    x_label = _x_label("station", pull, units)
    chart = Chart(panels, x_label, bends=_bands(pull, units), places=_ends(pull, units))
    return chart_svg(chart, size, CHART_THEME)


def unrolled(pull: Pull, units: str, *, narrow: bool = False) -> str:
    """The route unrolled: elevation, tension and sidewall pressure by station, one under the other.

    The feed may be on either side: stations count as the route does.
    """
    above, below = _UNROLLED["narrow" if narrow else "wide"]
    path, profile = pull.path, pull.profile
    at = path.sample(0.002 * max(float(np.ptp(path.starts[:, 2])), 0.1))
    z = path.point(at)[:, 2]
    rows, kept = kept_rows(z, 4 * above[0]), kept_rows(profile.sidewall, 4 * above[0])
    low, high = float(z.min()), float(z.max())
    station = _in(profile.station[kept], "length", units)
    panels = elevation_panels(
        _in(at[rows], "length", units),
        _in(z[rows], "length", units),
        f"Elevation, {unit_label('length', units)}",
        0.0 if with_grade(low, high) == (min(low, 0.0), max(high, 0.0)) else None,
        Panel(
            f"Cable tension, {unit_label('force', units)}",
            (Curve("", station, _in(profile.tension[kept], "force", units)),),
            _limit(tension_limit(pull), "force", units),
        ),
    )
    sidewall = Panel(
        f"Sidewall pressure, {unit_label('sidewall', units)}",
        (Curve("", station, _in(profile.sidewall[kept], "sidewall", units)),),
        _limit(sidewall_limit(pull.run).value, "sidewall", units),
    )
    x_label, bends = _x_label("station", pull, units), _bands(pull, units)
    first = Chart(panels, x_label, bends=bends, places=_ends(pull, units))
    second = Chart((sidewall,), x_label, bends=bends)
    return chart_svg(first, above, CHART_THEME) + chart_svg(second, below, CHART_THEME)


def history(pull: Pull, units: str, size: tuple[int, int], more: tuple[Curve, ...] = ()) -> str:
    """Machine load against the place of the head; empty without a rope.

    The limit is that of the strongest gear where ``more`` curves do not tell it.
    """
    if pull.heads is None or pull.machine_loads is None:
        return ""
    machine = pull.run.machine
    heads, loads = _in(pull.heads, "length", units), _in(pull.machine_loads, "force", units)
    panel = Panel(
        f"Machine load, {unit_label('force', units)}",
        (Curve("machine load" if more else "", heads, loads), *more),
        None if machine is None or more else _limit(machine.available_pull, "force", units),
    )
    x_label = _x_label("station of the head", pull, units)
    chart = Chart((panel,), x_label, bends=_bands(pull, units), places=_ends(pull, units))
    return chart_svg(chart, size, CHART_THEME)


def _x_label(what: str, pull: Pull, units: str) -> str:
    arrow = "← pull" if pull.reverse else "pull →"
    return f"{what}, {unit_label('length', units)} ({arrow})"


def _limit(value: float, quantity: str, units: str) -> Limit:
    return float(_in(np.array(value), quantity, units)), f"limit {show(value, quantity, units)}"


def _in(values: Any, quantity: str, units: str) -> Any:
    return np.asarray(values) * convert(1.0, quantity, units)


def _bands(pull: Pull, units: str) -> list[tuple[float, float, str]]:
    scale = convert(1.0, "length", units)
    schedule = bend_schedule(pull.path)
    if len(schedule) > 200:  # bands thinner than a pixel
        return []
    return [
        (b.station * scale, (b.station + b.arc_length) * scale, str(b.number)) for b in schedule
    ]


def _ends(pull: Pull, units: str) -> list[tuple[float, str]]:
    route, scale = pull.run.route, convert(1.0, "length", units)
    last = len(route.vertices) - 1
    return [(0.0, route.label(0)), (pull.path.length * scale, route.label(last))]
