"""The scene holds true places, true values and honest words; numpy only."""

from __future__ import annotations

import itertools
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import sidewall_limit, utilization
from route3d.geometry.grade import Grade
from route3d.geometry.path import ARC
from route3d.geometry.vectors import norm
from route3d.model import Job
from route3d.model.route import Route
from route3d.model.site import GivenGrade
from route3d.planning.bank import evaluate_banks
from route3d.planning.result import RunResult, evaluate_run
from route3d.units import render, show
from viewer.scene.build import build_scene, grid_spacing, round_up
from viewer.scene.scale import color_scale, tension_limit
from viewer.scene.solids import reel_flange

Answered = tuple[RunResult, Job]


def moved(answered: Answered, shift: tuple[float, float, float]) -> Answered:
    result, job = answered
    vertices = tuple(
        replace(v, point=tuple(np.add(v.point, shift))) for v in result.run.route.vertices
    )
    run = replace(result.run, route=Route(vertices, result.run.route.conduits))
    return evaluate_run(run, job.practice), replace(job, runs=(run,))


def test_scene_needs_neither_vtk_nor_pillow() -> None:
    code = (
        "import sys, viewer.scene.build, viewer.still.layout, route3d.drawing.labels;"
        "raise SystemExit(any(m.split('.')[0] in"
        " ('vtkmodules', 'pyvista', 'PIL', 'matplotlib') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_tube_points_lie_on_the_centerline(demo: Answered) -> None:
    scene = build_scene(*demo)
    for tube in scene.tubes:
        exact = demo[0].path.point(tube.station) - scene.origin
        # both are the same arithmetic in float64; a micrometer is far below and above nothing
        np.testing.assert_allclose(tube.points, exact, atol=1e-6)
        np.testing.assert_allclose(np.linalg.norm(tube.tangents, axis=1), 1.0, atol=1e-12)


def test_chords_stay_within_a_hundredth_of_the_drawn_radius(demo: Answered) -> None:
    scene, path = build_scene(*demo), demo[0].path
    for tube in scene.tubes:
        middle = (tube.station[:-1] + tube.station[1:]) / 2
        chord = (tube.points[:-1] + tube.points[1:]) / 2
        off = np.linalg.norm(path.point(middle) - scene.origin - chord, axis=1)
        assert off.max() <= 0.0101 * tube.radius


def test_tubes_cover_the_route_once(demo: Answered) -> None:
    spans = [(t.station[0], t.station[-1]) for t in build_scene(*demo).tubes]
    assert spans[0][0] == 0
    assert spans[-1][1] == pytest.approx(demo[0].path.length, rel=1e-12)
    for (_, end), (start, _) in itertools.pairwise(spans):
        assert end == start


def test_a_tube_ends_at_pull_points_and_where_the_conduit_changes(
    riser: Answered, yard: Answered
) -> None:
    assert [t.conduit for t in build_scene(*riser).tubes] == ["PVC-40 5", "RMC 5"]
    assert len(build_scene(*yard).tubes) == 1 + len(yard[0].run.route.pull_points)


def test_tube_radius_is_half_the_outer_diameter_times_the_exaggeration(riser: Answered) -> None:
    outer = [c.outer_diameter for c in (riser[0].run.route.conduits[0],)]
    assert build_scene(*riser, exaggeration=1.0).tubes[0].radius == outer[0] / 2
    assert build_scene(*riser, exaggeration=7.0).tubes[0].radius == outer[0] / 2 * 7


def test_values_are_those_of_the_profile(demo: Answered) -> None:
    result = demo[0]
    for feed, candidate in zip((0, None), (result.candidates[0], result.best), strict=True):
        scene, profile = build_scene(*demo, feed=feed), candidate.planned.profile
        tension = np.concatenate([t.tension for t in scene.tubes])
        sidewall = np.concatenate([t.sidewall for t in scene.tubes])
        assert tension.max() == candidate.planned.peak_tension
        assert sidewall.max() == candidate.planned.peak_sidewall
        for tube in scene.tubes:
            for name, known in (("tension", profile.tension), ("sidewall", profile.sidewall)):
                got = getattr(tube, name)
                for station in (tube.station[0], tube.station[-1]):
                    rows = np.isclose(profile.station, station, atol=1e-9)
                    at = got[0] if station == tube.station[0] else got[-1]
                    # the profile keeps both values of a joint: ours is one of them
                    assert np.isclose(known[rows], at, rtol=1e-12, atol=1e-9).any()


def test_sidewall_jumps_to_zero_on_straights(riser: Answered) -> None:
    scene, path = build_scene(*riser), riser[0].path
    for tube in scene.tubes:
        inside = np.diff(tube.station) > 0
        middle = (tube.station[:-1] + tube.station[1:])[inside] / 2
        arc = path.kind[path.locate(middle)[0]] == ARC
        before, after = tube.sidewall[:-1][inside], tube.sidewall[1:][inside]
        assert (before[~arc] == 0).all()
        assert (after[~arc] == 0).all()
        assert (before[arc] > 0).all()


def test_survey_coordinates_lose_nothing(riser: Answered) -> None:
    far = build_scene(*moved(riser, (512345.0, 4567890.0, 0.0)))
    near = build_scene(*riser)
    # a scene in float32 must still be right to 0.1 mm
    points = far.tubes[0].points.astype(np.float32)
    assert np.abs(points).max() < 1000
    # moving both origins by whole meters leaves the same local places, to float64 at 4.5e6 m
    shift = far.origin - near.origin - [512345.0, 4567890.0, 0.0]
    np.testing.assert_allclose(far.tubes[0].points + shift, near.tubes[0].points, atol=1e-8)


def test_arrays_are_read_only(riser: Answered) -> None:
    with pytest.raises(ValueError, match="read-only"):
        build_scene(*riser).tubes[0].points[0, 0] = 1.0


# --- the color scale --------------------------------------------------------------------------


def test_full_scale_is_a_round_share_of_the_limit(demo: Answered) -> None:
    for candidate in demo[0].candidates:
        for name in ("tension", "sidewall", "utilization"):
            scale = color_scale(candidate.pull, name, "US")
            share = scale.full / scale.limit
            digit = share / 10 ** np.floor(np.log10(share) + 1e-9)
            assert min(abs(digit - d) for d in (1, 2, 5)) < 1e-9
            assert share <= 1
            assert scale.peak <= scale.full or scale.full == scale.limit


def test_only_the_yard_run_breaks_limits_and_only_of_sidewall(
    riser: Answered, drop: Answered, yard: Answered
) -> None:
    """Its 500 lbf/ft are passed from both ends, its conductors' limit from neither."""
    names = ("tension", "sidewall", "utilization")
    for answered, broken in ((riser, []), (drop, []), (yard, ["sidewall", "utilization"])):
        for candidate in answered[0].candidates:
            scales = {name: color_scale(candidate.pull, name, "US") for name in names}
            assert [name for name in names if scales[name].broken] == broken


def test_scale_does_not_follow_the_peak(drop: Answered, drop_rough: Answered) -> None:
    one, other = (
        color_scale(a[0].candidates[0].pull, "utilization", "US") for a in (drop, drop_rough)
    )
    assert other.peak != one.peak
    assert other.full == one.full


def test_utilization_of_the_scene_is_the_worst_of_its_limits(yard: Answered) -> None:
    scene, pull = build_scene(*yard, color_by="utilization"), yard[0].best.pull
    wanted = max(
        pull.peak_sidewall / sidewall_limit(pull.run).value,
        pull.peak_tension / tension_limit(pull),
    )
    assert max(t.utilization.max() for t in scene.tubes) == pytest.approx(wanted, rel=1e-12)
    assert wanted > 1 and scene.scale.broken  # sidewall, at 1.24 times its limit


# --- what stands where -------------------------------------------------------------------------


def test_reel_stands_at_the_feed_and_machine_at_the_pull(demo: Answered) -> None:
    result = demo[0]
    for candidate in result.candidates:
        pull = candidate.pull
        scene = build_scene(*demo, feed=pull.feed)
        reel, machine = scene.solids[:2]
        ends = [np.array(pull.run.route.vertices[v].point) for v in (pull.feed, pull.pull)]
        np.testing.assert_allclose(reel.mouth + scene.origin, ends[0], atol=1e-6)
        np.testing.assert_allclose(machine.mouth + scene.origin, ends[1], atol=1e-6)
        # the reel lies behind the mouth and the machine beyond it, as the cable goes
        assert (reel.base - reel.mouth) @ reel.along < 0
        assert (machine.base - machine.mouth) @ machine.along > 0


def test_machine_is_its_envelope_to_scale(riser: Answered) -> None:
    envelope = riser[0].run.machine.envelope
    scene = build_scene(*riser, exaggeration=3.0)
    np.testing.assert_allclose(scene.solids[1].size, np.multiply(envelope, 3.0))


def test_reel_holds_the_cable() -> None:
    flange = reel_flange(500.0, 0.04)
    coil = (flange**2 - 0.8**2) * np.pi / 4 * 0.6 * flange * 0.7
    assert coil == pytest.approx(500 * np.pi / 4 * 0.04**2, rel=1e-9)


def test_arrows_point_where_the_cable_goes(demo: Answered) -> None:
    path = demo[0].path
    for feed, sign in ((0, 1.0), (len(demo[0].run.route.vertices) - 1, -1.0)):
        scene = build_scene(*demo, feed=feed)
        assert scene.arrows
        for arrow in scene.arrows:
            fine = np.linspace(0, path.length, 20001)
            nearest = fine[
                np.linalg.norm(path.point(fine) - scene.origin - arrow.at, axis=1).argmin()
            ]
            assert sign * path.tangent(nearest) @ arrow.along == pytest.approx(1.0, abs=1e-9)


def test_grade_lies_at_zero_on_the_plan_grid(demo: Answered) -> None:
    for units, step in (("US", 0.3048), ("SI", 1.0)):
        scene = build_scene(*demo, units=units)
        assert (scene.grade.z + scene.origin[2] == 0).all()
        assert scene.grade.spacing / step == pytest.approx(round(scene.grade.spacing / step))
        lines = (scene.grade.cells + scene.origin[:2]) / scene.grade.spacing
        np.testing.assert_allclose(lines, np.rint(lines), atol=1e-9)


def test_a_sloping_grade_is_drawn_as_far_as_it_reaches(riser: Answered) -> None:
    """The plane z = 0.05 x - 0.02 y over a part of the plan; the bank ends where it comes up."""
    result, job = riser
    path = result.path
    low, high = path.starts.min(axis=0) + 8, path.ends.max(axis=0) - 3
    corners = [(x, y, 0.05 * x - 0.02 * y) for x in (low[0], high[0]) for y in (low[1], high[1])]
    grade = GivenGrade(points=tuple(corners), given=True)
    sloping = replace(job, site=replace(job.site, grade=grade))
    scene = build_scene(result, sloping)
    at = scene.grade.corners.reshape(-1, 3) + scene.origin
    np.testing.assert_allclose(at[:, 2], 0.05 * at[:, 0] - 0.02 * at[:, 1], atol=1e-9)
    assert (at[:, :2] >= low[:2] - 1e-6).all() and (at[:, :2] <= high[:2] + 1e-6).all()
    assert "at the grade surface through 4 points" in scene.notes[0]
    known = np.isfinite(scene.ground.heights)
    over = path.point(scene.ground.stations)[known]
    wanted = 0.05 * over[:, 0] - 0.02 * over[:, 1]
    np.testing.assert_allclose(scene.ground.heights[known], wanted, atol=1e-9)
    for bank in scene.encasements:
        places = bank.points + scene.origin
        ground = 0.05 * places[:, 0] - 0.02 * places[:, 1]
        # off the surface, 3 m from its edge at most, as if it went on level: 0.02 x 3 m
        assert (places[:, 2] <= ground + 0.08).all()


def test_a_bank_partly_buried_is_drawn_as_it_is_reckoned(riser: Answered) -> None:
    """Ground 0.1 m below the middle of the bank at its start: its bottom edge is still below."""
    result, job = riser
    grade = Grade(float(result.path.point(0.0)[2]) - 0.1, given=True)
    (bank,) = evaluate_banks(job, grade)
    assert bank.partly and bank.encased_length < bank.center.length
    scene = build_scene(result, job, exaggeration=1.0, ground=grade)
    lengths = [norm(np.diff(b.points, axis=0)).sum() for b in scene.encasements]
    assert sum(lengths) == pytest.approx(bank.encased_length, rel=0.005)


def test_grade_far_off_is_left_out_and_said(riser: Answered) -> None:
    scene = build_scene(*moved(riser, (0.0, 0.0, 900.0)))
    assert scene.grade is None
    assert "too far away" in scene.notes[0]


def test_bank_is_drawn_below_grade_to_size(riser: Answered, drop: Answered) -> None:
    scene = build_scene(*riser, exaggeration=1.0)
    (bank,) = scene.encasements
    spec = riser[1].banks[0]
    outer = riser[0].run.route.conduits[0].outer_diameter
    assert bank.width == pytest.approx(2 * spec.spacing[0] + outer + 2 * spec.cover)
    assert bank.height == pytest.approx(spec.spacing[1] + outer + 2 * spec.cover)
    assert (bank.points[:, 2] + scene.origin[2] < 1e-9).all()
    assert build_scene(*drop).encasements == ()


# --- words -------------------------------------------------------------------------------------


def test_labels_say_ends_bends_and_pull_points(demo: Answered) -> None:
    result, job = demo
    scene = build_scene(*demo, units=job.units)
    text = {k: [x for x in scene.labels if x.kind == k] for k in ("feed", "machine")}
    assert text["feed"][0].lines[1] == result.best.pull.feed_name
    assert text["machine"][0].lines[1] == result.best.pull.pull_name
    bends = [x for x in scene.labels if x.kind in ("bend", "worst")]
    numbers = sorted(int(x.lines[0].split()[1]) for x in bends)
    assert numbers == list(range(1, int((result.path.kind == ARC).sum()) + 1))
    assert sum(x.kind == "worst" for x in scene.labels) == 1
    points = [x.lines[1] for x in scene.labels if x.kind == "pull point"]
    assert points == [result.run.route.label(v) for v in result.run.route.pull_points]
    assert [x.priority for x in scene.labels] == sorted(x.priority for x in scene.labels)


def test_the_worst_bend_alarms_where_its_limit_is_passed(
    riser: Answered, drop: Answered, yard: Answered
) -> None:
    for answered, alarm in ((riser, False), (drop, False), (yard, True)):
        (worst,) = (x for x in build_scene(*answered).labels if x.kind == "worst")
        assert worst.alarm is alarm


def test_worst_bend_is_the_one_with_the_largest_pressure(yard: Answered) -> None:
    pull = yard[0].best.pull
    row = int(pull.profile.sidewall.argmax())
    arcs = np.flatnonzero(pull.path.kind == ARC)
    number = 1 + int(np.flatnonzero(arcs == pull.profile.segment[row])[0])
    worst = next(x for x in build_scene(*yard).labels if x.kind == "worst")
    assert worst.lines[0].startswith(f"Bend {number} ")
    assert worst.alarm and pull.peak_sidewall > sidewall_limit(pull.run).value


def test_a_pull_that_breaks_a_limit_never_reads_like_an_order(yard: Answered) -> None:
    assert yard[0].decision.choice is None  # the demo is made so
    scene = build_scene(*yard)
    assert scene.alarm
    assert scene.headline.startswith("Do not pull")
    assert "FEED END" not in scene.labels[0].lines[0]


def test_the_way_not_chosen_says_so(riser: Answered) -> None:
    chosen = riser[0].decision.choice.pull.feed
    other = next(c.pull.feed for c in riser[0].candidates if c.pull.feed != chosen)
    assert build_scene(*riser, feed=other).headline.startswith("Not the chosen direction")
    assert build_scene(*riser, feed=chosen).headline.startswith("Feed from")


def test_decision_sentence_is_whole(demo: Answered) -> None:
    why = render(demo[0].decision.why, "US")
    assert why.endswith(".") and not why.endswith("..")
    assert build_scene(*demo).sentence.replace("\u00a0", " ").lower() == why.lower()


def test_exaggeration_is_said_and_never_hidden(demo: Answered) -> None:
    scene = build_scene(*demo)
    assert (f"x {scene.exaggeration:g}" in scene.notes[0]) == (scene.exaggeration > 1)
    assert "x 1" not in build_scene(*demo, exaggeration=1.0).notes[0]
    assert "Route to scale" in scene.notes[0]


def test_units_of_all_words(riser: Answered) -> None:
    si = build_scene(*riser, units="SI")
    words = " ".join([si.sentence, *si.notes, *(f"{f.value} {f.note}" for f in si.facts)])
    words += " ".join(" ".join(x.lines) for x in si.labels)
    assert "lbf" not in words
    assert "kN" in words


@pytest.mark.parametrize("bad", [0.5, 0.0, -1.0, float("nan"), float("inf")])
def test_bad_exaggeration(riser: Answered, bad: float) -> None:
    with pytest.raises(ValueError, match="exaggeration"):
        build_scene(*riser, exaggeration=bad)


def test_bad_options_are_named(riser: Answered) -> None:
    with pytest.raises(ValueError, match=r"run F1 has no end named.*'vault V1'"):
        build_scene(*riser, feed="vault V9")
    with pytest.raises(ValueError, match="color_by 'heat'"):
        build_scene(*riser, color_by="heat")  # type: ignore[arg-type]


def test_round_numbers() -> None:
    assert [round_up(x) for x in (1, 1.2, 2.1, 9, 10, 11, 85)] == [1, 1.5, 3, 10, 10, 15, 100]
    assert [grid_spacing(x) for x in (12, 13, 130, 0.5)] == [1, 2, 20, 0.05]


def test_a_stop_of_the_run_is_the_headline_whichever_end_feeds() -> None:
    import dataclasses
    from pathlib import Path

    import route3d
    from route3d.planning.evaluate import evaluate
    from viewer.scene.build import build_scene

    job = route3d.load(Path(__file__).parents[2] / "models/riser_duct_bank.toml")
    (result,) = evaluate(job).runs
    assert build_scene(result, job, units="US").headline.startswith("Feed from")
    stop = dataclasses.replace(result.findings[0], rule="fill", severity="stop")
    broken = dataclasses.replace(result, findings=(stop, *result.findings))
    scene = build_scene(broken, job, units="US")
    assert scene.headline == "Do not pull yet: fill" and scene.alarm


def test_what_stops_the_pull_is_told_before_the_reason(feeder: Answered) -> None:
    """The choice of an end holds only once the stop is mended: it must not read like an order."""
    result, job = feeder
    assert result.stops and result.decision.choice is not None
    said = build_scene(result, job, units="SI").sentence
    turn = show(result.path.turn, "angle", "SI")
    assert turn in said and "360.0°" in said
    assert said.index("360.0°") < said.index("Once that is fixed, feed from ")


def test_the_rule_of_a_scale_is_told_in_one_way(riser: Answered) -> None:
    rules = {
        name: color_scale(riser[0].best.pull, name, "US").rule
        for name in ("tension", "sidewall", "utilization")
    }
    # 883 lbf, 12 % of the swivel of the model
    assert rules["tension"] == "full scale = 20% of the limit (7,500 lbf)"
    # sidewall pressure at bend 1, at the inner wall: 17 % of its limit
    assert rules["utilization"] == "full scale = 20% of the limit"


def test_an_arrow_runs_out_to_a_point(demo: Answered) -> None:
    """Its tip lies inside the tube: the seen end must be no wider than a third of its base."""
    scene = build_scene(*demo)
    thickest = max(t.radius for t in scene.tubes)
    for arrow in scene.arrows:
        assert arrow.radius > 3 * thickest
        assert arrow.length * (1 - thickest / arrow.radius) > 4 * thickest  # and long enough


def test_shares_in_the_foot_are_those_of_the_pull_as_planned(demo: Answered) -> None:
    for candidate in demo[0].candidates:
        scene = build_scene(*demo, feed=candidate.pull.feed)
        notes = {fact.name: fact.note for fact in scene.facts}
        share = utilization(candidate.planned)
        assert share.machine is not None
        shares = {"Peak sidewall": share.sidewall, "Peak machine load, moving": share.machine}
        for name, value in shares.items():
            assert notes[name].startswith(show(value, "percent", "US") + " of ")
