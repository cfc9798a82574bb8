"""Charts as SVG: well formed, within their frame, legible in black and white, the same again."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest

from route3d.drawing import svg
from route3d.drawing.axes import thinned, tick_step, ticks
from route3d.drawing.charts import (
    PRINT,
    Chart,
    ChartTheme,
    Curve,
    Panel,
    chart_marks,
    elevation_panels,
)

SVG = "{http://www.w3.org/2000/svg}"
X = np.array([0.0, 100.0, 100.0, 120.0, 300.0])
Y = np.array([0.0, 400.0, 400.0, 900.0, 1000.0])
P = np.array([0.0, 0.0, 300.0, 700.0, 0.0])


def chart_svg(chart: Chart, size: tuple[int, int], theme: ChartTheme = PRINT) -> str:
    """A chart alone."""
    title = chart.title or chart.panels[0].label
    return svg.document(chart_marks(chart, size, theme), size, title=title, ground=theme["ground"])


def profile(**more: Any) -> str:
    """Tension over sidewall pressure."""
    tension = Panel("tension", (Curve("", X, Y),), more.get("tension_limit", (800.0, "limit 800")))
    sidewall = Panel(
        "sidewall pressure",
        (Curve("", X, P, "second"),),
        more.get("sidewall_limit", (500.0, "limit 500")),
    )
    return chart_svg(
        Chart(
            (tension, sidewall),
            more.get("x_label", "station"),
            more.get("title", ""),
            [(100.0, 120.0, "1")],
            more.get("places", [(0.0, "A"), (300.0, "B")]),
        ),
        (720, 440),
        more.get("theme", PRINT),
    )


def history_chart(x: np.ndarray, y: np.ndarray, **more: Any) -> str:
    """Machine load against the place of the head."""
    others = more.get("more", ())
    curves = (Curve("machine load" if others else "", x, y), *others)
    panel = Panel(more.get("load_label", "machine load"), curves, more.get("limit"))
    return chart_svg(Chart((panel,), "station of the cable head"), more.get("size", (720, 300)))


def elevation_chart(
    x: np.ndarray, z: np.ndarray, at: np.ndarray, y: np.ndarray, **more: Any
) -> str:
    """The unrolled route over tension."""
    panels = elevation_panels(
        x,
        z,
        more.get("elevation_label", "elevation"),
        more.get("grade"),
        Panel("tension", (Curve("", at, y),)),
    )
    return chart_svg(Chart(panels, title=more.get("title", "")), (720, 440))


def lines(svg: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(f"{SVG}polyline"))


def points(line: ET.Element) -> np.ndarray:
    return np.array([[float(v) for v in p.split(",")] for p in line.attrib["points"].split()])


ALL = [
    profile(),
    history_chart(X, Y, limit=(2000.0, "limit 2,000")),
    elevation_chart(X, -Y / 100, X, Y, title="Unrolled"),
]


@pytest.mark.parametrize("svg", ALL)
def test_well_formed_and_inside_its_frame(svg: str) -> None:
    root = ET.fromstring(svg)
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    for line in lines(svg):
        at = points(line)
        assert (at >= 0).all() and (at[:, 0] <= width).all() and (at[:, 1] <= height).all()
    assert root.find(f"{SVG}title") is not None
    assert "nan" not in svg.lower()


def test_the_same_again() -> None:
    assert profile() == profile()


def test_values_are_where_the_axes_say() -> None:
    """A straight of tension 0 to 1000 on an axis to 1000: the end is at the top of the panel."""
    svg = profile(tension_limit=None)
    line = points(lines(svg)[0])
    texts = list(ET.fromstring(svg).iter(f"{SVG}text"))
    labels = {t.text: (float(t.attrib["x"]), float(t.attrib["y"])) for t in reversed(texts)}
    top, zero = labels["1,000"][1] - 4, labels["0"][1] - 4  # text sits 4 px below its line
    assert line[-1, 1] == pytest.approx(top, abs=0.02)
    assert line[0, 1] == pytest.approx(zero, abs=0.02)
    assert line[1, 0] == pytest.approx(labels["100"][0], abs=0.02)


def test_what_exceeds_its_limit_is_thick_and_starts_at_the_limit() -> None:
    thick = [e for e in lines(profile()) if float(e.attrib["stroke-width"]) > 3]
    assert len(thick) == 2  # tension and sidewall
    start, end = points(thick[0])[0], points(thick[0])[-1]
    # 800 is crossed 80 % of the way from station 100 to 120
    share = (start[0] - points(lines(profile())[0])[0, 0]) / (
        points(lines(profile())[0])[-1, 0] - points(lines(profile())[0])[0, 0]
    )
    assert share == pytest.approx(116 / 300, abs=1e-3)
    assert end[1] < start[1]


def test_within_its_limits_nothing_is_thick() -> None:
    svg = profile(tension_limit=(1500.0, "a"), sidewall_limit=(900.0, "b"))
    assert [e for e in lines(svg) if float(e.attrib["stroke-width"]) > 3] == []


def test_a_limit_far_off_is_named_not_drawn() -> None:
    svg = history_chart(X, Y, limit=(9000.0, "limit 9,000"))
    assert "limit 9,000, above this chart" in svg
    assert "stroke-dasharray" not in svg


def limit_words(svg: str) -> tuple[float, float, float]:
    """Left, right and foot of the words of the limit, px; letters of 13 px are 8 px wide."""
    (said,) = [e for e in ET.fromstring(svg).iter(f"{SVG}text") if (e.text or "").startswith("lim")]
    wide = 7.8 * len(said.text or "")
    x = float(said.attrib["x"]) - (wide if said.attrib["text-anchor"] == "end" else 0.0)
    return x, x + wide, float(said.attrib["y"])


@pytest.mark.parametrize("peak_at", [2.0, 30.0, 150.0, 298.0])
@pytest.mark.parametrize("limit", [700.0, 9000.0])
def test_words_of_a_limit_cover_no_curve(peak_at: float, limit: float) -> None:
    x = np.array([0.0, peak_at - 2, peak_at, peak_at + 2, 300.0])
    svg = history_chart(
        x, np.array([0.0, 50.0, 1000.0, 50.0, 0.0]), limit=(limit, f"limit {limit}")
    )
    left, right, foot = limit_words(svg)
    at = points(lines(svg)[0])
    steps = np.linspace(left, right, 200)
    height = np.interp(steps, at[:, 0], at[:, 1])
    assert not ((height > foot - 11) & (height < foot + 3)).any()


def test_where_the_curve_fills_the_height_of_its_limit_the_words_stand_above() -> None:
    y = np.array([990.0, 1000.0, 990.0, 1000.0, 990.0])
    svg = history_chart(X, y, limit=(9000.0, "limit 9,000"))
    assert limit_words(svg)[2] < points(lines(svg)[0])[:, 1].min() - 5


def test_grade_is_a_line_and_heights_say_how_much_larger_they_are_drawn() -> None:
    depth = np.array([-4.0, -5.0, -5.0, -5.0, -4.0])
    svg = elevation_chart(X, depth, X, Y, elevation_label="Elevation, ft", grade=(X, 0.0 * X))
    assert "grade" in elevation_chart(X, depth, X, Y, grade=(X, depth + 2))
    root = ET.fromstring(svg)
    words = [e.text for e in root.iter(f"{SVG}text")]
    assert "grade" in words
    dashed = [e for e in root.iter(f"{SVG}line") if e.attrib.get("stroke-dasharray")]
    assert len(dashed) == 1
    at = points(lines(svg)[0])
    per_foot = (at[1, 1] - at[0, 1], (at[-1, 0] - at[0, 0]) / 300)
    grade = float(dashed[0].attrib["y1"])
    assert at[0, 1] - grade == pytest.approx(4 * per_foot[0], abs=0.1)  # to scale below grade
    (said,) = [w for w in words if w and w.startswith("Elevation")]
    times = float(said.split(" x ")[1].rstrip(")"))
    assert times == pytest.approx(per_foot[0] / per_foot[1], rel=0.02)
    assert "grade" not in elevation_chart(X, depth, X, Y)


def test_lines_differ_by_dash_and_not_by_color_alone() -> None:
    svg = history_chart(X, Y, more=[Curve("gear", X, Y * 1.2, "limit", "7 4")])
    dashes = [e.attrib.get("stroke-dasharray") for e in lines(svg)]
    assert len(set(dashes)) == 2
    assert "machine load" in svg and "gear" in svg


@pytest.mark.parametrize("width", [350, 720])
def test_the_key_does_not_run_into_the_name_of_the_panel(width: int) -> None:
    svg = history_chart(
        X,
        Y,
        load_label="Machine load, lbf",
        more=[Curve("at a limit", X, Y, "limit", "7 4")],
        size=(width, 300),
    )
    texts = {t.text: t.attrib for t in ET.fromstring(svg).iter(f"{SVG}text")}
    name, key = texts["Machine load, lbf"], texts["machine load"]
    beside = float(key["x"]) - 30 > float(name["x"]) + 0.6 * 13 * len("Machine load, lbf")
    assert beside or float(key["y"]) - float(name["y"]) >= 16


def test_gaps_part_a_line() -> None:
    y = np.array([1.0, 2.0, np.nan, 3.0, 4.0])
    assert len(lines(history_chart(np.arange(5.0), y))) == 2


@pytest.mark.parametrize("flat", [0.0, 5.0, -3.0])
def test_flat_and_empty_stretches_still_have_axes(flat: float) -> None:
    x, y = np.array([0.0, 10.0]), np.array([flat, flat])
    for made in (history_chart(x, y), elevation_chart(x, y, x, y), history_chart(x[:1], y[:1])):
        ET.fromstring(made)
        assert "nan" not in made


def test_words_of_users_stay_words() -> None:
    svg = profile(title="<b>&", places=[(0.0, '"><script>')], x_label="a & b")
    root = ET.fromstring(svg)
    assert root.find(f".//{SVG}script") is None
    assert "<b>&" in [t.text for t in root.iter(f"{SVG}text")]


def test_the_colors_are_those_of_the_theme() -> None:
    theme = {name: f"var(--x-{name})" for name in PRINT}
    svg = profile(theme=theme)
    assert re.findall(r"#[0-9a-f]{6}", svg) == []


@pytest.mark.parametrize(
    ("span", "most", "step"), [(10, 5, 2), (1000, 5, 200), (0.9, 4, 0.25), (7, 7, 1), (9.6, 4, 2.5)]
)
def test_steps_are_round(span: float, most: int, step: float) -> None:
    assert tick_step(span, most) == pytest.approx(step)


def test_ticks_say_their_value() -> None:
    assert ticks((0.0, 2000.0), 4) == [
        (0.0, "0"),
        (500.0, "500"),
        (1000.0, "1,000"),
        (1500.0, "1,500"),
        (2000.0, "2,000"),
    ]
    millions = [text for _, text in ticks((0.0, 1.5e8), 3)]
    assert millions == ["0", "50M", "100M", "150M"]
    for value, text in ticks((-0.013, 0.02), 5):
        assert float(text) == pytest.approx(value, abs=1e-9)
        assert text not in ("-0", "-0.00", "-0.000")


def test_thinning_keeps_peaks_and_ends() -> None:
    x = np.linspace(0, 1, 100_000)
    y = np.zeros_like(x)
    y[54_321] = 7.0
    few, high = thinned(x, y, 500)
    assert len(few) <= 1002
    assert high.max() == 7.0 and few[0] == 0 and few[-1] == 1
