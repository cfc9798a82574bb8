"""Every check that fails has a flag, at the place it speaks of, with its figures."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.checks.finding import Finding
from route3d.drawing.marks import Line, Ring
from route3d.drawing.pixels import measure
from route3d.mechanics.pull import Pull
from route3d.phrase import say
from route3d.planning.result import evaluate_run
from tests.viewer.conftest import Answered
from tests.viewer.odd_jobs import odd_job
from viewer.scene.build import build_scene
from viewer.scene.faults import fault_labels, fault_line, place_of
from viewer.scene.scale import share_words
from viewer.still.cards import must_be_told
from viewer.still.layout import arrange
from viewer.still.picture import write_png
from viewer.theme import LIGHT

NAN = math.nan


def finding(rule: str, where: str, station: float | None = None, **more: float) -> Finding:
    numbers = {"demand": 20e3, "limit": 10e3, "ratio": 2.0, **more}
    at = {"station": station, "ratio": numbers.pop("ratio")}
    return Finding(rule, "stop", where, quantity="force", fix=say(""), source="", **numbers, **at)  # type: ignore[arg-type]


def ends(pull: Pull) -> tuple[float, float]:
    """Stations of the feed and of the pulling end, m."""
    return (pull.path.length, 0.0) if pull.reverse else (0.0, pull.path.length)


# --- places ------------------------------------------------------------------------------------


def test_a_flag_stands_where_its_finding_says(riser: Answered) -> None:
    """F1 has a duct up to bend 2 and a riser from there; either end feeds."""
    for candidate in riser[0].candidates:
        pull = candidate.pull
        feed, out = ends(pull)
        assert place_of(pull, finding("x", "F1, station {}", 12.5)) == (12.5, True)
        assert (
            place_of(pull, finding("machine line pull", "F1, head at station {}", 12.5))[0] == out
        )
        assert place_of(pull, finding("machine least load", f"F1, {pull.pull_name}"))[0] == out
        assert place_of(pull, finding("reel brake", pull.feed_name))[0] == feed
        span = f"{pull.run.route.label(0)} to {pull.run.route.label(1)}"
        assert 0 < place_of(pull, finding("degrees between pull points", span))[0] < 56
        names = [c.name for c in pull.run.route.conduits]
        for name in set(names):
            at, exact = place_of(pull, finding("fill", f"F1, conduit {name}"))
            leg = int(pull.path.leg[int(np.searchsorted(pull.path.stations, at)) - 1])
            assert names[leg] == name and not exact
        assert place_of(pull, finding("x", "F1"))[0] == pytest.approx(pull.path.length / 2)


def test_a_line_gives_the_figure_and_the_limit() -> None:
    assert fault_line(finding("rope load", "A"), "SI") == "Rope load: 20.00 kN, limit 10.00 kN"
    short = finding("clearance", "A", demand=5e3)
    assert fault_line(short, "SI") == "Clearance: 5.00 kN, minimum 10.00 kN"
    bare = finding("access", "A", demand=NAN, limit=NAN, ratio=NAN)
    assert fault_line(bare, "SI") == "Access: stop"
    far = finding("rope load", "A", demand=2e12, ratio=2e8)
    assert fault_line(far, "SI") == "Rope load: over 1,000 times the limit of 10.00 kN"


def test_a_share_is_a_percentage_only_while_it_says_something() -> None:
    told = [share_words(r, "SI") for r in (0.07, 1.24, 9.99, 25.0, 1000.0, 1e9, 1e300)]
    assert told[:4] == ["7% of", "124% of", "999% of", "25 times"]
    assert told[4:] == ["1,000 times", "over 1,000 times", "over 1,000 times"]


# --- scenes ------------------------------------------------------------------------------------


def test_an_end_without_room_is_flagged(riser: Answered) -> None:
    result, job = riser
    run = result.run
    vertices = list(run.route.vertices)
    vertices[0] = replace(vertices[0], access=frozenset({"reel"}))
    vertices[-1] = replace(vertices[-1], access=frozenset({"reel"}))
    run = replace(run, route=replace(run.route, vertices=tuple(vertices)))
    found = evaluate_run(run, job.practice)
    scene = build_scene(found, job)
    flags = [x for x in scene.labels if x.kind == "fault"]
    assert [x.lines for x in flags] == [("No machine access",)]
    assert all(x.alarm and must_be_told(x) for x in flags)


def test_every_stop_of_a_scene_is_flagged_once(tmp_path: Path) -> None:
    result, job = odd_job("fifty bends", tmp_path)
    scene = build_scene(result, job, units="SI")
    rules = {f.rule for f in result.findings_of(result.best) if f.severity == "stop"}
    assert rules >= {"machine line pull", "rope load", "degrees between pull points"}
    lines = [line for x in scene.labels if x.kind == "fault" for line in x.lines]
    assert len(lines) == len(set(lines))
    assert sum(line.startswith("Degrees between pull points") for line in lines) == 1
    over = [x for x in scene.labels if x.kind in ("bend", "worst") and x.alarm]
    broken = [f for f in result.best.findings if f.rule == "sidewall pressure" and f.ratio > 1]
    assert len(over) == len(broken) > 3


def test_flags_are_rings_and_leaders_in_alarm_and_all_other_leaders_grey(yard: Answered) -> None:
    layout = arrange(build_scene(*yard), "isometric", (1600, 1000), LIGHT, measure)
    rings = [i for i in layout.overlay if isinstance(i, Ring)]
    assert sum(r.edge == LIGHT.alarm for r in rings) == 1
    ends = {(p.anchor, p.elbow) for p in layout.placement.placed}
    leaders = [i for i in layout.overlay if isinstance(i, Line) and len(i.points) == 2]
    leaders = [i for i in leaders if i.points[1] in {e for _, e in ends}]
    assert {i.color for i in leaders} == {LIGHT.faint, LIGHT.alarm}
    assert all(1.0 <= i.width <= 1.5 for i in leaders)


def test_the_way_of_the_cable_is_shown_where_every_straight_is_short(tmp_path: Path) -> None:
    scene = build_scene(*odd_job("fifty bends", tmp_path))
    assert 1 <= len(scene.arrows) <= 2


def test_a_still_flags_what_the_plan_finds(
    riser: Answered, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A boom of 300 lbf under a rope of 516 lbf: no check of the cable, but the plan sees it."""
    shown = []
    monkeypatch.setattr("viewer.still.picture.picture", lambda scene, **_: shown.append(scene))
    monkeypatch.setattr("viewer.still.picture.png_bytes", lambda _: b"")
    job = riser[1]
    machine = riser[0].run.machine
    assert machine is not None
    run = replace(riser[0].run, machine=replace(machine, boom_rating=1334.0))
    result = evaluate_run(run, job.practice)
    assert not result.stops
    write_png(result, replace(job, runs=(run,)), tmp_path / "a.png")
    (scene,) = shown
    assert scene.alarm and scene.headline.startswith("Do not pull yet")
    (flag,) = [x for x in scene.labels if x.kind == "fault"]
    assert flag.lines[0].startswith("Load path: boom") and flag.lines[0].endswith("limit 300 lbf")
    pull = result.best.pull
    np.testing.assert_allclose(flag.xyz, pull.path.point(ends(pull)[1]) - scene.origin, atol=1e-5)


@pytest.mark.parametrize("part", [0.4e-6, 0.6e-6, 0.9e-6])
def test_a_flag_at_the_far_end_stays_on_a_path_whose_length_rounds_up(
    riser: Answered, part: float
) -> None:
    """Rounded to a micrometer for its label, the station would lie beyond the end of the path."""
    result, job = riser
    run = result.candidates[0].pull.run
    *inner, far = run.route.vertices
    length = result.candidates[0].pull.path.length
    more = math.ceil(length * 1e6) * 1e-6 - length + part  # the last leg goes along x
    moved = replace(far, point=far.point + np.array([more, 0.0, 0.0]))
    route = replace(run.route, vertices=(*inner, moved))
    fresh = evaluate_run(replace(run, route=route), job.practice)
    path = fresh.candidates[0].pull.path
    assert path.length % 1e-6 == pytest.approx(part, abs=2e-8)
    end = finding("x", "F1, station {}", path.length)
    labels = fault_labels(fresh.candidates[0], (end,), np.zeros(3), "US", (1.0, 0.0))
    places = [label.xyz for label in labels]
    assert any(np.allclose(place, path.point(path.length)) for place in places)
