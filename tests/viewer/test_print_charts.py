"""The sheet of charts: well-formed SVG, all on one axis, the same bytes twice."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from route3d.drawing.charts import PRINT
from route3d.drawing.pixels import measure
from route3d.errors import InputError
from route3d.model import Job
from route3d.planning.result import RunResult, evaluate_run
from viewer.gauge import plan_for_crew
from viewer.print_charts import sheet_svg, write_svg
from viewer.theme import DARK

Answered = tuple[RunResult, Job]
NAME = "{http://www.w3.org/2000/svg}"


def panels(svg: str, ink: str = PRINT["ink"]) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of each pair of axes, in drawing order."""
    lines = [
        [float(e.get(name, "")) for name in ("x1", "y1", "x2", "y2")]
        for e in ElementTree.fromstring(svg).iter(f"{NAME}line")
        if e.get("stroke") == ink and e.get("stroke-width") == "1"
    ]
    uprights = [line for line in lines if line[0] == line[2]]
    levels = [line for line in lines if line[1] == line[3]]
    found = []
    for upright, level in zip(uprights, levels, strict=True):
        assert upright[:2] == level[:2]  # they start in one corner
        found.append((level[0], min(upright[1], upright[3]), level[2], level[1]))
    return found


def words(svg: str) -> str:
    return " | ".join(t.text or "" for t in ElementTree.fromstring(svg).iter(f"{NAME}text"))


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [(600, 700), (1200, 1100), (4000, 3000)])
def test_charts_stand_under_each_other(demo: Answered, size: tuple[int, int], theme: str) -> None:
    result, job = demo
    svg = sheet_svg(result, job, size=size, units=job.units, theme=theme)
    found = panels(svg, PRINT["ink"] if theme == "light" else DARK.ink)
    assert len(found) == 4  # elevation, tension, sidewall, machine
    assert {(left, right) for left, _, right, _ in found} == {(64.0, size[0] - 16.0)}
    for (*_, above), (_, below, *_) in pairwise(found):
        assert 30 <= below - above  # room for a name
    assert 60 <= found[0][1] <= 140  # below the headline and the title
    assert 20 <= size[1] - found[-1][3] <= 60  # figures and the name of the axis
    assert all(bottom - top > 0.08 * size[1] for _, top, _, bottom in found)
    for text in ElementTree.fromstring(svg).iter(f"{NAME}text"):
        assert 0 <= float(text.get("x", "")) <= size[0]
        assert 0 <= float(text.get("y", "")) <= size[1]


def test_all_is_named(yard: Answered) -> None:
    said = words(sheet_svg(*yard, units="US"))
    for part in (
        "Elevation, ft",
        "Tension, lbf",
        "Sidewall pressure of the worst cable, lbf/ft",
        "Machine load, lbf",
        "Station of the cable head, ft",
        "limit 8,400 lbf",
        "limit 500 lbf/ft",
        "pull vault V1",
    ):
        assert part in said


def test_what_to_do_stands_over_the_charts(yard: Answered, drop: Answered) -> None:
    def headline(answered: Answered) -> ElementTree.Element:
        found = ElementTree.fromstring(sheet_svg(*answered, size=(600, 700))).find(f"{NAME}text")
        assert found is not None
        wide = measure(found.text or "", float(found.get("font-size", "")), True)[0]
        assert float(found.get("x", "")) + wide <= 600
        return found

    stopped, fine = headline(yard), headline(drop)
    assert (stopped.text or "").startswith("Do not pull")
    assert stopped.get("fill") == PRINT["limit"]
    pull = drop[0].best.pull
    assert fine.text == f"Feed from {pull.feed_name}, pull at {pull.pull_name}"
    assert fine.get("fill") == PRINT["ink"]


def test_a_gear_changes_in_a_step(fine_yard: Answered) -> None:
    """No slope from one gear to the other; the stop load is the table's and knows no gears."""
    gear, stop = (_points(fine_yard, dash) for dash in ("2 4", "7 4"))
    change = np.diff(gear, axis=0)
    assert (np.abs(change).min(axis=1) < 0.06).all()  # level or upright, to a printed digit
    (step,) = (i for i, (_, dy) in enumerate(change) if abs(dy) > 30)
    (x, high), low = gear[step], gear[step + 1, 1]
    plan = plan_for_crew(fine_yard[0], fine_yard[0].best, fine_yard[1])
    assert plan is not None
    (at,) = (c.pulled for c in plan.pace.gears.changes)
    (there,) = (row.stop / 4.4482216 for row in plan.gauge if abs(row.pulled - at) < 1e-6)
    # 4,000 lbf of the high gear, 10,000 lbf of the low one; y counts down
    assert 4000 < there < 10000
    at_change = stop[np.abs(stop[:, 0] - x) < 0.06, 1]
    assert np.ptp(at_change) < 0.06
    assert high - at_change[0] == pytest.approx((high - low) * (there - 4000) / 6000, abs=0.2)


def _points(answered: Answered, dash: str) -> np.ndarray:
    """The longest line of a dash in the chart of the machine load, (n, 2) pixels."""
    svg = sheet_svg(*answered)
    lines = [
        e.get("points") or ""
        for e in ElementTree.fromstring(svg).iter()
        if e.get("stroke-dasharray") == dash
    ]
    pairs = re.findall(r"(-?[\d.]+)[ ,](-?[\d.]+)", max(lines, key=len))
    found = np.array(pairs, dtype=float)
    assert (found[:, 1] > panels(svg)[2][3]).all()  # below the panel of sidewall pressure
    return found


def test_only_a_pull_that_may_be_made_has_a_stop_load(yard: Answered, drop: Answered) -> None:
    assert "stop load" not in words(sheet_svg(*yard))
    assert "gear limit" not in words(sheet_svg(*yard))
    assert "over the" not in words(sheet_svg(*drop)) and "stop load" in words(sheet_svg(*drop))


def test_a_pull_that_no_gear_can_make_has_no_gears(weak: Answered) -> None:
    said = words(sheet_svg(*weak))
    assert "no gear is" not in said and "Do not pull yet" in said


def test_the_feed_end_can_be_chosen(yard: Answered) -> None:
    result, job = yard
    first = words(sheet_svg(result, job, feed="substation"))
    other = words(sheet_svg(result, job, feed="berth 4 charger"))
    assert "feed: substation" in first and "feed: berth 4 charger" in other


def test_names_are_text_and_never_markup(yard: Answered) -> None:
    result, job = yard
    svg = sheet_svg(result, replace(job, title='<script>&"x"</script>'))
    assert "<script>" not in svg
    assert ElementTree.fromstring(svg).find(f"{NAME}title").text.startswith("<script>&")  # type: ignore[union-attr]


def test_without_a_rope_there_is_no_machine_chart(riser: Answered) -> None:
    result, job = riser
    bare = replace(result.run, rope=None, machine=None)
    assert len(panels(sheet_svg(evaluate_run(bare, job.practice), job))) == 3


def test_same_bytes_twice_and_no_stray_numbers(demo: Answered, tmp_path: Path) -> None:
    result, job = demo
    one, two = tmp_path / "one.svg", tmp_path / "two.svg"
    for path in (one, two):
        write_svg(result, job, path, units=job.units)
    assert one.read_bytes() == two.read_bytes()
    assert not re.search(r"\b(nan|inf)\b", one.read_text(), re.IGNORECASE)


def test_bad_options(riser: Answered, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="theme 'pink'"):
        sheet_svg(*riser, theme="pink")
    with pytest.raises(ValueError, match="below the minimum of 600 x 700"):
        sheet_svg(*riser, size=(599, 700))
    with pytest.raises(InputError):
        write_svg(*riser, tmp_path / "none" / "x.svg")
