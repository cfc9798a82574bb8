"""Readings and the load that the fit expects, as a picture: one panel for each log."""

from __future__ import annotations

import numpy as np

from route3d.drawing import svg
from route3d.drawing.charts import PRINT, Chart, Curve, Panel, chart_marks
from route3d.drawing.marks import Mark, written
from route3d.drawing.text_width import fitted
from route3d.field.expected import expected_load
from route3d.field.fit import Fit
from route3d.model.examples import example_banner
from route3d.units import convert, unit_label

WIDE, HIGH = 1000, 380
"""Width of the chart and height of each panel, px."""
PLACES = 200
_HEAD = 24


def fit_svg(fit: Fit, system: str) -> str:
    """The chart as SVG; the same logs give the same text."""
    marks: list[Mark] = []
    top = 0
    if banner := example_banner(fit.job.examples):
        words = fitted(banner, 11.0, WIDE - 40, bold=True)
        marks.append(written(20, 20, words, 13.0, PRINT["limit"], bold=True))
        top = _HEAD
    panels = [_load_panel(fit, i, system) for i in range(len(fit.logs))]
    size = (WIDE, HIGH * len(panels) + 160)
    chart = Chart(
        (*panels, _residual_panel(fit, system)),
        f"cable in, {unit_label('length', system)}",
        "Readings and fit",
    )
    marks += chart_marks(chart, size, top=float(top))
    return svg.document(marks, (size[0], size[1] + top), title="Readings and fit")


def _load_panel(fit: Fit, number: int, system: str) -> Panel:
    far, load = convert(1.0, "length", system), convert(1.0, "force", system)
    rows = fit.log == number
    at, pull = fit.pulled[rows], fit.pulls[number]
    places = np.linspace(0.0, pull.path.length, PLACES)
    planned = expected_load(pull, places).loads()[:, 0]
    read = (fit.expected + fit.residual)[rows]
    return Panel(
        f"load at the machine, {unit_label('force', system)}: {fit.logs[number].name}",
        (
            Curve("planned", places * far, planned * load, "faint", "6 4"),
            Curve("fit", at * far, fit.expected[rows] * load, "ink"),
            Curve("reading", at * far, read * load, "series", "2 2"),
        ),
    )


def _residual_panel(fit: Fit, system: str) -> Panel:
    """Readings less fit, each log a line of its own."""
    far, load = convert(1.0, "length", system), convert(1.0, "force", system)
    curves = tuple(
        Curve("", fit.pulled[rows] * far, fit.residual[rows] * load, color)
        for i, color in zip(
            range(len(fit.logs)), ("series", "second") * len(fit.logs), strict=False
        )
        for rows in [fit.log == i]
    )
    label = f"reading less fit, {unit_label('force', system)}"
    return Panel(label, curves, None, 0.4, from_zero=False)
