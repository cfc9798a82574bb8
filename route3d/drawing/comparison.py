"""Jobs side by side as a picture: tension and sidewall pressure along a run, and utilization."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from route3d.drawing import svg
from route3d.drawing.axes import ticks
from route3d.drawing.charts import PRINT, Chart, Curve, Panel, chart_marks
from route3d.drawing.marks import Box, Line, Mark, written
from route3d.drawing.text_width import fitted
from route3d.geometry.vectors import Floats
from route3d.planning.comparison import LIMITS, ComparedAnswer, ComparedRun, Comparison
from route3d.units import convert, show, unit_label

WIDE = 1000
_CHART, _GAP = 460, 24  # px: the height of the two panels, and what is kept free between runs
_HEAD = 40  # above all
_BAR, _SPACE = 15.0, 12.0  # of a bar, and between the groups of two limits
_LEFT, _RIGHT = 210.0, 90.0  # of the bars
_SMALL, _TEXT = 12.0, 13.0
_TIMES = 3  # drawn so much larger, then brought to size
# Told apart without color too, by the dash.
_LOOKS = (("series", ""), ("second", "8 4"), ("ink", "2 4"), ("faint", "10 3 2 3"))


def drawn_runs(comparison: Comparison) -> list[ComparedRun]:
    """The runs of a picture that several jobs have: those that differ, or all where none does."""
    matched = [run for run in comparison.runs if run.matched]
    return [run for run in matched if run.differs] or matched


def comparison_svg(comparison: Comparison, system: str) -> str:
    """One picture of all runs that differ; the same comparison gives the same text."""
    marks, height = comparison_marks(comparison, system)
    return svg.document(marks, (WIDE, height), title=_title(comparison))


def comparison_png(comparison: Comparison, system: str) -> bytes:
    """The same picture as pixels."""
    import io

    from PIL import Image

    from route3d.drawing.pixels import painted

    marks, height = comparison_marks(comparison, system)
    ground = Image.new("RGB", (WIDE * _TIMES, height * _TIMES), PRINT["ground"])
    made = io.BytesIO()
    painted(ground, marks, _TIMES).save(made, "PNG")
    return made.getvalue()


def comparison_pages(comparison: Comparison, system: str) -> list[tuple[str, tuple[float, float]]]:
    """A page for each run that differs, as SVG with its size in mm."""
    pages = []
    for run in drawn_runs(comparison):
        marks, height = _marks(comparison, [run], system)
        text = svg.document(marks, (WIDE, height))
        wide = 250.0  # mm
        pages.append((text, (wide, wide * height / WIDE)))
    return pages


def comparison_marks(comparison: Comparison, system: str) -> tuple[list[Mark], int]:
    """The marks of all runs that differ, one below the other, and the height they take, px."""
    return _marks(comparison, drawn_runs(comparison), system)


def _title(comparison: Comparison) -> str:
    return f"Comparison: {', '.join(comparison.labels)}"


def _marks(
    comparison: Comparison, runs: Sequence[ComparedRun], system: str
) -> tuple[list[Mark], int]:
    title = fitted(_title(comparison), 16.0, WIDE - 40, bold=True)
    marks: list[Mark] = [written(20, 28, title, 17, PRINT["ink"], bold=True)]
    top = float(_HEAD)
    for banner in comparison.banners:
        words = fitted(banner, 11.0, WIDE - 40, bold=True)
        marks.append(written(20, top + 8, words, _TEXT, PRINT["limit"], bold=True))
        top += 20
    for run in runs:
        chart = _chart(run, comparison.labels, system)
        marks += chart_marks(chart, (WIDE, _CHART), top=top)
        bars, top = _bars(run, comparison.labels, top + _CHART + 10)
        marks += bars
        top += _GAP
    return marks, int(top)


def _held(run: ComparedRun) -> list[tuple[int, ComparedAnswer]]:
    return [(i, answer) for i, answer in enumerate(run.answers) if answer is not None]


def _chart(run: ComparedRun, labels: Sequence[str], system: str) -> Chart:
    """Tension and sidewall pressure by station, a curve for each job."""

    def panel(name: str, quantity: str, share: float, *, named: bool) -> Panel:
        curves = []
        for i, answer in _held(run):
            pull, (color, dash) = answer.candidate.pull, _LOOKS[i % len(_LOOKS)]
            along: Floats = pull.profile.tension if quantity == "force" else pull.profile.sidewall
            station = _shown(pull.profile.station, "length", system)
            words = f"{labels[i]}, feed {pull.feed_name}" if named else ""
            curves.append(Curve(words, station, _shown(along, quantity, system), color, dash))
        return Panel(f"{name}, {unit_label(quantity, system)}", tuple(curves), share=share)

    return Chart(
        (
            panel("cable tension", "force", 0.6, named=True),
            panel("sidewall pressure", "sidewall", 0.4, named=False),
        ),
        f"station, {unit_label('length', system)}",
        f"Run {run.name}",
    )


def _shown(values: Floats, quantity: str, system: str) -> Floats:
    """SI values (n,) in the unit shown; every unit here is a plain factor."""
    return np.asarray(values, dtype=np.float64) * convert(1.0, quantity, system)


def _bars(run: ComparedRun, labels: Sequence[str], top: float) -> tuple[list[Mark], float]:
    """Utilization of every limit, a bar for each job, against a line at 100 %."""
    held = _held(run)
    shares = {
        limit: [(i, dict(a.candidate.utilization.items())[limit]) for i, a in held]
        for limit in LIMITS
    }
    shares = {k: v for k, v in shares.items() if any(share is not None for _, share in v)}
    most = max(share or 0.0 for found in shares.values() for _, share in found)
    scale = (WIDE - _LEFT - _RIGHT) / max(1.1, most * 1.05)
    marks: list[Mark] = [
        written(64, top + 16, "utilization of each limit", _TEXT, PRINT["ink"], bold=True)
    ]
    bars: list[Mark] = []
    y = top + 30
    for limit, found in shares.items():
        name = held[0][1].candidate.name(limit)
        middle = y + len(found) * _BAR / 2 + 4
        bars.append(written(_LEFT - 10, middle, name, _SMALL, PRINT["ink"], "right"))
        for i, share in found:
            color = PRINT[_LOOKS[i % len(_LOOKS)][0]]
            if share is not None:
                end = _LEFT + max(share * scale, 1.0)
                bars.append(Box((_LEFT, y + 1, end, y + _BAR - 1), color))
                words = show(share, "percent", "SI")
                bars.append(
                    written(end + 6, y + _BAR - 3, words, _SMALL, PRINT["ink"], back="#ffffff")
                )
            y += _BAR
        y += _SPACE
    foot = y - _SPACE + 4
    for value, words in ticks((0.0, (WIDE - _LEFT - _RIGHT) / scale * 100), 6):
        x = _LEFT + value / 100 * scale
        limit_line = abs(value - 100) < 1e-6
        marks.append(
            Line(
                ((x, top + 26), (x, foot)),
                PRINT["limit" if limit_line else "line"],
                1.5 if limit_line else 0.8,
                "7 4" if limit_line else "",
            )
        )
        marks.append(written(x, foot + 16, f"{words}%", _SMALL, PRINT["faint"], "middle"))
    key: list[Mark] = []
    x = _LEFT
    for i, _ in held:
        color = PRINT[_LOOKS[i % len(_LOOKS)][0]]
        key.append(Box((x, foot + 28, x + 14, foot + 40), color))
        key.append(written(x + 20, foot + 39, labels[i], _SMALL, PRINT["ink"]))
        x += 44 + 0.62 * _SMALL * len(labels[i])
    return [*marks, *bars, *key], foot + 50
