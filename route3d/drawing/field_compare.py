"""A log against its plan as a picture: readings over the expected line, its band and limits."""

from __future__ import annotations

from collections import Counter

import numpy as np

from route3d.drawing import svg
from route3d.drawing.axes import kept_rows
from route3d.drawing.charts import PRINT, Between, Chart, Curve, Dots, Panel, chart_marks
from route3d.drawing.marks import Bools, Mark, written
from route3d.drawing.text_width import fitted
from route3d.field.compare import Comparison
from route3d.geometry.vectors import Floats
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.units import convert, unit_label

SIZE = (1000, 620)
_TIMES = 2  # drawn so much larger, then brought to size
# Stop farther up than this many times all else would press the chart flat.
_FAR = 2.5
_MOST_DOTS = 1500
_HEAD, _FOOT = 24.0, 22.0  # px, for the banner, and for what the points mean


def compare_svg(job: Job, found: Comparison, system: str) -> str:
    """The chart as SVG; the same log gives the same text."""
    marks, size = compare_marks(job, found, system)
    return svg.document(marks, size, title=_title(found))


def compare_png(job: Job, found: Comparison, system: str) -> bytes:
    """The same picture as pixels."""
    import io

    from PIL import Image

    from route3d.drawing.pixels import painted

    marks, (wide, high) = compare_marks(job, found, system)
    ground = Image.new("RGB", (wide * _TIMES, high * _TIMES), PRINT["ground"])
    made = io.BytesIO()
    painted(ground, marks, _TIMES).save(made, "PNG")
    return made.getvalue()


def compare_marks(job: Job, found: Comparison, system: str) -> tuple[list[Mark], tuple[int, int]]:
    """The marks of the chart and its size, px."""
    banner, top = example_banner(job.examples), 0.0
    marks: list[Mark] = []
    if banner:
        words = fitted(banner, 11.0, SIZE[0] - 40, bold=True)
        marks.append(written(20, 20, words, 13.0, PRINT["limit"], bold=True))
        top = _HEAD
    marks += chart_marks(_chart(found, system), SIZE, top=top)
    foot = (
        "Filled: reading. Hollow: reading that does not count. Shaded: expected, from the lightest "
        "to the hardest brake allowed."
    )
    marks.append(written(64, top + SIZE[1] + 12, foot, 12.0, PRINT["faint"]))
    return marks, (SIZE[0], int(SIZE[1] + top + _FOOT))


def _title(found: Comparison) -> str:
    pull = found.plan.pull
    return f"Readings against the plan: run {pull.run.name}, feed {pull.feed_name}"


def _chart(found: Comparison, system: str) -> Chart:
    far, load = convert(1.0, "length", system), convert(1.0, "force", system)
    rows = np.flatnonzero(np.isfinite(found.band.expected))
    order = rows[np.argsort(found.log.pulled[rows], kind="stable")]
    x = found.log.pulled[order] * far
    band = found.band
    finite = [y[rows] for y in (found.measured, band.expected, band.caution)]
    largest = float(np.nanmax(np.concatenate(finite)))

    def curve(name: str, values: Floats, color: str, dash: str) -> Curve:
        shown = np.where(values[order] <= _FAR * largest, values[order] * load, np.nan)
        above = not np.isfinite(shown).any()
        return Curve(f"{name}, above this chart" if above else name, x, shown, color, dash)

    dots = order[kept_rows(found.measured[order], _MOST_DOTS)]
    hollow = ~found.compared[dots]
    force = unit_label("force", system)
    loads = Panel(
        f"load at the machine, {force}",
        (
            Curve("expected", x, band.expected[order] * load),
            curve("caution", band.caution, "second", "8 4"),
            curve("stop", band.stop, "limit", "3 3"),
        ),
        share=0.68,
        between=(Between(x, band.low[order] * load, band.high[order] * load),),
        dots=(_dots(found.log.pulled[dots] * far, found.measured[dots] * load, hollow),),
    )
    away = Panel(
        f"measured less expected, {force}",
        (Curve("", x, np.zeros(len(x))),),
        share=0.32,
        from_zero=False,
        dots=(_dots(found.log.pulled[dots] * far, found.residual[dots] * load, hollow),),
    )
    bends = [
        (place.start * far, place.end * far, place.name)
        for place in found.places
        if place.kind == "bend"
    ]
    departures = _named_together([(d.start * far, d.kind) for d in found.departures], x)
    return Chart(
        (loads, away),
        f"cable in, {unit_label('length', system)}",
        _title(found),
        bends,
        departures,
    )


_LETTER = 7.5 / 920.0  # width of a letter, as a share of the chart


def _named_together(departures: list[tuple[float, str]], x: Floats) -> list[tuple[float, str]]:
    """Lines so near each other that their names would meet get one name, at the first of them."""
    letter = _LETTER * float(np.ptp(x))
    groups: list[list[tuple[float, str]]] = []
    for place, kind in sorted(departures):
        if groups:
            end = groups[-1][0][0] + 0.5 * letter * len(_names(groups[-1]))
            if place - 0.5 * letter * len(kind) < end + letter:
                groups[-1].append((place, kind))
                continue
        groups.append([(place, kind)])
    return [
        (place, "" if i else _names(group))
        for group in groups
        for i, (place, _) in enumerate(group)
    ]


def _names(group: list[tuple[float, str]]) -> str:
    counts = Counter(kind for _, kind in group)
    return ", ".join(kind if n == 1 else f"{n} x {kind}" for kind, n in counts.items())


def _dots(x: Floats, y: Floats, hollow: Bools) -> Dots:
    return Dots("reading", x, y, hollow)
