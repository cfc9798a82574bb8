"""Pictures of the studies: values where the axes say, words apart, the same again."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from route3d.drawing.charts import PRINT
from route3d.drawing.marks import Box, Line, Ring, Shape, Text, moved, overlap
from route3d.drawing.picture import Picture, picture_file
from route3d.drawing.study_charts.limits import SHADES, limits_chart
from route3d.drawing.study_charts.options import pareto_chart
from route3d.drawing.study_charts.sheet import NARROW, WIDE, stacked
from route3d.drawing.study_charts.spread import chance, spread_charts
from route3d.geometry.fillet import route_path
from route3d.model import Practice
from tests.support.jobs import FOOT, LBF
from tests.support.study_records import bent_run, limits_of, options_of, spread_of

PRACTICE = Practice()


def texts(picture: Picture) -> dict[str, Text]:
    return {mark.text: mark for mark in picture.marks if isinstance(mark, Text)}


def every_picture() -> list[Picture]:
    found: list[Picture] = []
    for bends, inputs, system in ((3, 2, "US"), (40, 14, "SI")):
        spread = spread_of(bent_run(bends), inputs, correlated=inputs > 2)
        found += spread_charts(spread, PRACTICE, system).each
        found += spread_charts(spread, PRACTICE, system, NARROW).each
        found += [limits_chart(limits_of(spread.run), system, wide) for wide in (WIDE, NARROW)]
    found += [pareto_chart(options_of(n, costs=n > 2)) for n in (2, 15)]
    return found


def test_no_words_lie_over_others_or_leave_their_picture() -> None:
    for picture in every_picture():
        boxes = [(m.text, m.box) for m in picture.marks if isinstance(m, Text) and m.text]
        for (a, one), (b, two) in combinations(boxes, 2):
            assert not overlap(one, two), (picture.title, a, b)
        for text, (left, top, right, foot) in boxes:
            inside = left >= 0 and top >= 0 and right <= picture.size[0] and foot <= picture.size[1]
            assert inside, (picture.title, text)


def test_the_same_again_and_stacked_as_they_are() -> None:
    once, again = ([picture_file(p, ".svg") for p in every_picture()] for _ in range(2))
    assert once == again
    pictures = every_picture()[:2]
    whole = stacked(pictures, "both", "EXAMPLE VALUES")
    first, second = pictures
    assert len(whole.marks) == 1 + len(first.marks) + len(second.marks)
    shift = whole.size[1] - second.size[1]
    last = second.marks[-1]
    assert isinstance(last, Text)
    assert whole.marks[-1] == moved(last, (0.0, float(shift)))


@pytest.mark.parametrize(("system", "force"), [("US", LBF), ("SI", 1000.0)])
def test_a_percentile_passes_through_the_pixel_of_its_value(system: str, force: float) -> None:
    """The median at half the cable in, of the gauge; ticks of the axes are the ruler."""
    run = bent_run(3)
    picture = spread_charts(spread_of(run, 2), PRACTICE, system).gauge
    assert picture is not None
    far = FOOT if system == "US" else 1.0
    lines = [m for m in picture.marks if isinstance(m, Line)]
    median = np.asarray(
        next(m for m in lines if m.color == PRINT["series"] and len(m.points) > 9).points
    )
    half = route_path(run.route).length / 2
    words = texts(picture)
    ups = [m for m in picture.marks if isinstance(m, Text) and m.align == "right"]
    zero = next(m for m in ups if float(m.text.replace(",", "")) == 0)
    other = ups[ups.index(zero) + 1]
    scale = (zero.at[1] - other.at[1]) / float(other.text.replace(",", ""))
    along = [m for m in picture.marks if isinstance(m, Text) and m.align == "middle"]
    ticks = [m for m in along if m.at[1] == next(t for t in along if t.text == "0").at[1]]
    across = (ticks[1].at[0] - ticks[0].at[0]) / float(ticks[1].text.replace(",", ""))
    x = ticks[0].at[0] + across * half / far
    at_half = 1.1 * 0.5 * (500.0 + 9000.0) / force
    y = zero.at[1] - 4 - scale * at_half
    assert np.interp(x, median[:, 0], median[:, 1]) == pytest.approx(y, abs=0.05)
    assert "cable in, " + ("ft" if system == "US" else "m") in words


def test_a_band_lies_between_its_percentiles() -> None:
    picture = spread_charts(spread_of(bent_run(3), 2), PRACTICE, "SI").gauge
    assert picture is not None
    outer, inner = (
        next(m for m in picture.marks if isinstance(m, Shape) and m.fill == PRINT[name])
        for name in ("between", "inner")
    )
    wide, narrow = (np.ptp(np.asarray(m.points)[[40, 41], 1]) for m in (outer, inner))
    assert wide == pytest.approx(2 * narrow, abs=1e-6)  # 0.6 to 1.4 against 0.8 to 1.2


def test_each_bend_has_its_box_of_sidewall_pressure() -> None:
    """Half of the pulls lie in 0.8 to 1.2 of the median, nine of ten in 0.6 to 1.4."""
    picture = spread_charts(spread_of(bent_run(3), 2), PRACTICE, "SI").sidewall
    assert picture is not None
    outer, inner = (
        [m for m in picture.marks if isinstance(m, Shape) and m.fill == PRINT[name]]
        for name in ("between", "inner")
    )
    assert len(outer) == len(inner) == 6  # three bends, two ends
    for wide, narrow in zip(outer, inner, strict=True):
        high, half = (np.ptp(np.asarray(m.points)[:, 1]) for m in (wide, narrow))
        assert high == pytest.approx(2 * half)
    assert spread_charts(spread_of(bent_run(0), 2), PRACTICE, "SI").sidewall is None


def test_a_stopped_run_and_an_end_that_is_ruled_out_are_told_in_the_pictures() -> None:
    run = bent_run(3)
    spread, limits = spread_of(run, 2), limits_of(run)
    barred = replace(spread.ends[1], barred="roof switchroom has no reel access")
    charts = spread_charts(
        replace(spread, stops=True, ends=(spread.ends[0], barred)), PRACTICE, "US"
    )
    for picture in (charts.tension, limits_chart(replace(limits, stops=True), "US")):
        assert (
            next(iter(texts(picture))) == "Run F1 must not be pulled as planned: see route3d check."
        )
        assert any(t.startswith("feed vault V1 (planned)") for t in texts(picture))
    for each in charts.each:
        assert any("ruled out: roof switchroom has no reel" in t for t in texts(each))
    curves = [m for m in charts.reached.marks if isinstance(m, Line) and len(m.points) > 9]
    assert len(curves) == 1


def test_the_bars_of_the_tornado_end_at_their_values_the_longest_first() -> None:
    spread = spread_of(bent_run(3), 3)
    picture = spread_charts(spread, PRACTICE, "US").importance
    figures = [m for m in picture.marks if isinstance(m, Text) and m.align == "middle"]
    left, right = (next(m.at[0] for m in figures if m.text == w) for w in ("60%", "100%"))
    bars = [m for m in picture.marks if isinstance(m, Box) and m.fill == PRINT["inner"]]
    expected = sorted((min(i.low, i.high), max(i.low, i.high)) for i in spread.ends[0].importance)
    per = (right - left) / 0.4
    shown = [((b.rect[0] - left) / per + 0.6, (b.rect[2] - left) / per + 0.6) for b in bars[:3]]
    assert len(bars) == 6
    widths = [b - a for a, b in shown]
    assert widths == sorted(widths, reverse=True)
    assert sorted(shown) == [pytest.approx(pair, abs=1e-6) for pair in expected]
    hollow = [m for m in picture.marks if isinstance(m, Ring) and m.fill == PRINT["ground"]]
    third = spread.ends[0].importance[2]  # its low value is the worse one
    assert third.low > third.high
    assert any(
        ring.at[0] == pytest.approx(left + per * (third.low - 0.6), abs=1e-6) for ring in hollow
    )


def test_a_limit_no_bar_comes_near_is_not_drawn() -> None:
    spread = spread_of(bent_run(3), 2)
    small = [
        replace(
            end,
            importance=tuple(replace(i, low=i.low / 9, high=i.high / 9) for i in end.importance),
        )
        for end in spread.ends
    ]
    picture = spread_charts(replace(spread, ends=(small[0], small[1])), PRACTICE, "US").importance
    assert "limit" not in texts(picture)
    assert "limit" in texts(spread_charts(spread, PRACTICE, "US").importance)


def test_the_probability_of_both_ends_is_told_by_its_dash() -> None:
    picture = spread_charts(spread_of(bent_run(3), 2), PRACTICE, "US").reached
    curves = [m for m in picture.marks if isinstance(m, Line) and len(m.points) > 9]
    assert [m.dash for m in curves] == ["", "8 4"]
    heights = [np.ptp(np.asarray(m.points)[:, 1]) for m in curves]
    assert heights[1] / heights[0] == pytest.approx(0.7 / 0.3)
    assert "feed vault V1, in all 30%" in texts(picture)


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (0.0, "0%"),
        (0.0004, "less than 0.1%"),
        (0.034, "3.4%"),
        (0.42, "42%"),
        (0.9996, "more than 99.9%"),
        (1.0, "100%"),
    ],
)
def test_a_chance_is_never_rounded_to_certainty(probability: float, words: str) -> None:
    assert chance(probability) == words


def test_the_limit_map_changes_its_shade_where_the_share_does() -> None:
    """Shares rise evenly from 0 to 110 %: each step begins at its share of the way."""
    run = bent_run(3)
    picture = limits_chart(limits_of(run), "SI")
    rows = [m.rect for m in picture.marks if isinstance(m, Box) and m.fill == SHADES[0]]
    row = next(r for r in rows if r[2] - r[0] > 500)
    parts = {
        m.fill: m.rect
        for m in picture.marks
        if isinstance(m, Box) and m.fill in SHADES[1:] and m.rect[1] == row[1]
    }
    wide = row[2] - row[0]
    starts = [(parts[shade][0] - row[0]) / wide for shade in SHADES[1:]]
    assert starts == pytest.approx([s / 1.1 for s in (0.1, 0.25, 0.5, 0.75, 0.9, 1.0)], abs=1e-6)
    assert all(rect[2] == pytest.approx(row[2]) for rect in parts.values())
    words = texts(picture)
    assert {"conductor tension", "sidewall pressure", "no radius here helps", "1", "2", "3"} <= set(
        words
    )


def test_the_limit_map_against_the_route_is_its_mirror() -> None:
    picture = limits_chart(limits_of(bent_run(3)), "SI")
    broken = [m.rect for m in picture.marks if isinstance(m, Box) and m.fill == SHADES[-1]]
    _, first, *_, last = broken  # the key comes first
    assert first[2] - first[0] == pytest.approx(last[2] - last[0])
    assert first[2] == pytest.approx(934.0)
    assert last[0] == pytest.approx(178.0)


def test_failing_options_are_crossed_and_the_rest_is_joined_by_a_step_line() -> None:
    picture = pareto_chart(options_of(15))
    points = [m for m in picture.marks if isinstance(m, Ring)]
    failing = [m for m in points if m.edge == PRINT["limit"]]
    assert len(failing) == 1 + 3 * 3  # in the key, and in each of three panels
    limit = next(m for m in picture.marks if isinstance(m, Line) and m.dash == "7 4")
    assert all(m.at[1] < limit.points[0][1] for m in failing[1:])  # above 100 %
    steps = [np.asarray(m.points) for m in picture.marks if isinstance(m, Line)]
    fronts = [m for m in steps if len(m) > 2]
    assert fronts
    for front in fronts:
        moves = np.diff(front, axis=0)
        assert (np.abs(moves).min(axis=1) < 1e-9).all()  # level or upright
        assert (moves >= -1e-9).all()  # to the right, and down to less utilization


def test_of_many_options_the_list_has_the_first_and_no_label_hides_a_point() -> None:
    options = options_of(80)
    combined = [replace(o, same_as="larger conduit", efficient=False) for o in options.options[:9]]
    picture = pareto_chart(replace(options, options=(*options.options, *combined)))
    words = [m for m in picture.marks if isinstance(m, Text)]
    boxes = [(m.text, m.box) for m in words]
    for (a, one), (b, two) in combinations(boxes, 2):
        assert not overlap(one, two), (a, b)
    points = [m.at for m in picture.marks if isinstance(m, Ring)]
    assert len(points) == 3 + 3 * 80
    for text, (left, top, right, foot) in boxes:
        inside = [p for p in points if left < p[0] < right and top < p[1] < foot]
        assert not inside, text
    assert "Not listed: 60 more options." in texts(picture)
    assert picture.size[1] < 1000


def test_without_costs_there_is_no_panel_of_costs() -> None:
    assert "cost, USD" in texts(pareto_chart(options_of(6)))
    assert not [w for w in texts(pareto_chart(options_of(6, costs=False))) if "cost" in w]


def test_an_option_that_was_not_solved_is_listed_only() -> None:
    options = options_of(3)
    bad = replace(options.options[0], utilization=float("nan"), error="the cables do not enter")
    picture = pareto_chart(replace(options, options=(*options.options[1:], bad)))
    assert "not solved: the cables do not enter" in texts(picture)
    assert sum(isinstance(m, Ring) for m in picture.marks) == 3 + 2 * 3
