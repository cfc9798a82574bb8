"""Runs given by legs in the model file: read, told with their lines, edited, converted."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import route3d
from route3d.cli.main import main
from route3d.errors import InputError, Problem
from route3d.formats.exchange import routes_of
from route3d.geometry.legs import legs_of
from route3d.model import Job
from route3d.modelfile.edits import edited_model
from route3d.modelfile.read import load, loads
from route3d.modelfile.schema import json_schema
from route3d.modelfile.write import model_text
from route3d.planning.evaluate import evaluate
from route3d.planning.remedies.edits import (
    BendRadius,
    Edit,
    NewPullPoint,
    Opened,
    OtherConduit,
    carried_out,
)
from tests.support.jobs import FOOT, INCH

MODEL = Path(route3d.__file__).parents[1] / "models" / "mezzanine.toml"
TEXT = MODEL.read_text(encoding="utf-8")
FIRST = TEXT[: TEXT.index('  "start pad')].count("\n") + 1  # the line of the first leg
BOTH = frozenset({"reel", "machine"})


def with_leg(number: int, text: str, model: str = TEXT) -> str:
    """The model with another leg, by its number from 1."""
    lines = model.splitlines(keepends=True)
    lines[FIRST + number - 2] = f"  {text},\n" if text else ""
    return "".join(lines)


def problem_of(text: str) -> Problem:
    with pytest.raises(InputError) as caught:
        loads(text, "x.toml")
    (problem,) = caught.value.problems
    return problem


# --- read -----------------------------------------------------------------------------------------


def test_the_feeder_to_the_mezzanine_is_where_trigonometry_puts_it() -> None:
    """420 ft underground with an offset of 12 ft at 30 degrees, 60 ft up, and on to the end.

    The offset goes 12 / sin 30 = 24 ft along its slope, 12 / tan 30 ft ahead.
    """
    run = load(MODEL).runs[0]
    ahead = 180 + 12 / math.tan(math.radians(30))
    points = [
        (0, 0, -3), (0, 180, -3), (-12, ahead, -3), (-12, ahead + 96, -3),
        (108, ahead + 96, -3), (108, ahead + 96, 57), (108, ahead + 106, 57),
    ]  # fmt: skip
    found = np.array([v.point for v in run.route.vertices]) / FOOT
    assert found == pytest.approx(np.array(points), abs=1e-9)
    assert 180 + 24 + 96 + 120 == 420
    assert [v.bend / INCH for v in run.route.vertices] == pytest.approx([0, 60, 60, 60, 48, 48, 0])
    assert [c.name for c in run.route.conduits] == ["duct"] * 4 + ["riser"] * 2
    assert [v.name for v in run.route.vertices] == ["pad", *[""] * 5, "mezzanine"]
    assert [v.line for v in run.route.vertices] == [FIRST + i for i in (0, 2, 2, 4, 6, 8, 10)]
    ends = [run.route.vertices[i].access for i in (0, -1)]
    assert ends == [frozenset({"reel"}), frozenset({"machine"})]
    legs = run.route.legs
    assert legs is not None and legs.closing is not None
    assert legs.closing.distance / FOOT == pytest.approx(abs(306.8 - ahead - 106), abs=1e-9)


def test_legs_and_the_points_they_give_are_one_job() -> None:
    """The same run by its points has the same answers."""
    by_legs = load(MODEL)
    route = by_legs.runs[0].route
    rows = []
    for i, v in enumerate(route.vertices):
        at = ", ".join(f'"{c!r} m"' for c in v.point)
        keys = [f"at = [{at}]"]
        keys += [f'bend = "{v.bend!r} m"'] * bool(v.bend) + [f'name = "{v.name}"'] * bool(v.name)
        keys += [f"access = {sorted(v.access)}"] * bool(v.access)
        conduit = {0: "duct", 4: "riser"}.get(i)
        keys += [f'conduit = "{conduit}"'] * bool(conduit)
        rows.append(f"{{ {', '.join(keys)} }},\n")
    start, end = TEXT.index("legs    = ["), TEXT.index("[practice]")
    by_points = loads(f"{TEXT[:start]}route = [\n{''.join(rows)}]\n\n{TEXT[end:]}")
    ours, theirs = (evaluate(job).runs[0] for job in (by_legs, by_points))
    assert ours.best.pull.peak_tension == theirs.best.pull.peak_tension
    assert [f for f in ours.findings if f.rule != "closing error"] == list(theirs.findings)


def test_headings_take_the_declination_of_the_site() -> None:
    job = loads(TEXT + "\n[site]\ndeclination = 90\n")
    assert job.runs[0].route.vertices[1].point == pytest.approx((180 * FOOT, 0, -3 * FOOT))


def test_a_run_has_either_a_route_or_legs() -> None:
    start, end = TEXT.index("legs    = ["), TEXT.index("[practice]")
    neither = problem_of(TEXT[:start] + TEXT[end:])
    assert neither.message == "route is missing, or legs" and "start pad at" in neither.fix
    points = 'route = [{ at = [0, 0, 0], conduit = "duct" }, { at = [9, 0, 0] }]\n'
    both = problem_of(TEXT[:start] + points + TEXT[start:])
    assert both.where == "run[0].legs (run M1)" and both.line == FIRST
    known = problem_of(TEXT[:start] + points + "closes_to = [9, 0, 0]\n" + TEXT[end:])
    assert known.message == "closes_to is for a route given by legs"
    schema = Draft202012Validator(json_schema())
    assert not list(schema.iter_errors(tomllib.loads(TEXT)))
    for text in (TEXT[:start] + TEXT[end:], TEXT[:start] + points + TEXT[start:]):
        assert list(schema.iter_errors(tomllib.loads(text)))


# --- told with their lines ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "text", "column", "message", "fix"),
    [
        (5, '"right 90 att 60 in"', 13, 'column 10: "att" is not understood', 'mean "at"'),
        (5, "'right 90 \"a\" att 60 in'", 13, 'column 10: "\'a\'" is not', "next can be"),
        (4, '"96 ft in duct2"', 4, "there is no conduit 'duct2'", "did you mean 'duct'?"),
        (5, '"right 90 at 40 in sweep"', 4, "no sweep of PVC-40 5", "field bend"),
        (5, '"right 90 at 99 ft"', 3, "the bends at leg 3 and leg 5 need 100.34 ft", "maximum"),
        (8, '"60 ft in riser2"', 4, "another conduit for the same point", "keep one"),
        (10, '"10 ft in roof"', 4, "there is no conduit 'roof'", "known: duct, riser"),
        (5, '"right 90 at 60 in, name pad"', 3, "two points of the route are named 'pad'", ""),
        (5, '"right 90, around sheave pit"', 3, "there is no sheave 'pit'", "add a table"),
        (5, '"bend at 60 in"', 3, "leg 5 has a bend but the route does not turn", ""),
        (5, '"right 178 at 60 in"', 3, "turns back on itself at leg 5", "two bends"),
        (5, '"right 90 at 60 in, box 9 x 9 x 9"', 3, "has a box but is not a pull point", ""),
    ],
)  # fmt: skip
def test_a_problem_is_at_the_line_of_its_leg(
    number: int, text: str, column: int, message: str, fix: str
) -> None:
    problem = problem_of(with_leg(number, text))
    assert (problem.file, problem.line) == ("x.toml", FIRST + number - 1)
    assert problem.where == f"run M1, leg {number}"
    assert message in problem.message and fix in problem.fix
    assert problem.column == column


@pytest.mark.parametrize("leg", ['"right 90 elbow"', '"96 ft along"', '"saddle 1 ft up at 30"'])
def test_a_conduit_whose_table_is_wrong_is_told_once(leg: str) -> None:
    """At its table alone: its name in a leg is right, whatever the leg takes from it."""
    number = 4 if "along" in leg else 5
    text = with_leg(3, '"offset 12 ft left at 30 degrees"', with_leg(number, leg))
    wrong = re.sub(r"(\[conduit\.duct\][^\[]*?friction *= ).*", r"\1{ stock = 'PVC, dri' }", text)
    assert wrong != text
    assert problem_of(wrong).where.startswith("conduit.duct.friction")


@pytest.mark.parametrize(
    "shape",
    [
        "offset 1 ft left at 45 degrees",
        "offset 1 ft up at 60 degrees",
        "saddle 8 in up at 30 degrees",
        "saddle 8 in up over 20 in at 30 degrees",
        "saddle 8 in up over 8 in at 30 degrees",
    ],
)
def test_the_radius_that_fits_all_bends_of_a_leg(shape: str) -> None:
    """The one that is printed fits, and a tenth of an inch more does not."""
    with pytest.raises(InputError, match="the bends of leg 3 need") as caught:
        loads(with_leg(3, f'"{shape}, radius 60 in"'))
    (fix,) = {problem.fix for problem in caught.value.problems}
    largest = float(re.findall(r"fits all bends of the leg: ([\d.]+) in; given: 60 in$", fix)[0])
    loads(with_leg(3, f'"{shape}, radius {largest} in"'))
    with pytest.raises(InputError, match="the bends of leg 3 need"):
        loads(with_leg(3, f'"{shape}, radius {largest + 0.1:.1f} in"'))


def test_the_radius_of_an_offset_of_a_foot_by_hand() -> None:
    """Two bends of 45 degrees 12 / sin 45 in apart: 12 / sin 45 / (2 tan 22.5) = 20.48 in."""
    problem = problem_of(with_leg(3, '"offset 1 ft left at 45 degrees, radius 36 in"'))
    assert problem.fix == "maximum radius that fits all bends of the leg: 20.4 in; given: 36 in"


def test_where_neither_bend_fits_both_radii_are_in_the_units_of_the_file() -> None:
    problem = problem_of(with_leg(6, '"3 ft"'))
    assert problem.message.startswith("the bends at leg 5 and leg 7 need 9.00 ft of straight")
    assert problem.fix.startswith("neither fits alone; 20 in at leg 5 with 16 in at leg 7 fits")


def test_the_start_names_the_first_conduit() -> None:
    start = '"start pad at 0, 0, -3 heading north"'
    problem = problem_of(with_leg(1, start).replace(" sweep", ""))
    assert problem.message == "the first point has no conduit" and problem.line == FIRST
    assert problem.fix == "add its name to the start, such as: heading north in duct"
    problem = problem_of(with_leg(1, start))
    assert "sweep: no conduit is given" in problem.message and "at the start" in problem.fix


def test_a_turn_without_a_radius_in_a_conduit_without_elbows() -> None:
    bare = with_leg(7, '"up 90 in riser"').replace("48 in sweep", "48 in")
    plain = bare.replace('stock    = "RMC 5"', "inner_diameter = 5\nouter_diameter = 5.5")
    problem = problem_of(plain)
    assert "without a bend radius" in problem.message and problem.fix.startswith("give the radius")


def test_two_ends_that_differ_are_refused_and_a_miss_is_a_caution() -> None:
    missed = TEXT.replace("legs    = [", "closes_to = [108, 300, 57]\nlegs    = [")
    assert problem_of(missed).message == "the last leg gives another end than closes_to"
    job = loads(missed.replace("mezzanine at 108, 306.8, 57", "mezzanine"))
    (found,) = [f for f in evaluate(job).runs[0].findings if f.rule == "closing error"]
    assert found.severity == "caution" and found.demand / FOOT == pytest.approx(6.785, abs=1e-3)
    assert "leg 2" in found.fix.template
    assert not [f for f in evaluate(load(MODEL)).runs[0].findings if f.rule == "closing error"]
    up = with_leg(8, '"59 ft"')
    (found,) = [f for f in evaluate(loads(up)).runs[0].findings if f.rule == "closing error"]
    assert "leg 8" in found.fix.template


# --- edited ---------------------------------------------------------------------------------------


def edited(edits: list[Edit], text: str = TEXT) -> tuple[Job, list[str]]:
    """The job with edits written, held against them carried out, and its new legs."""
    job = loads(text)
    made = loads(edited_model(text, job, "M1", edits, "what was done"))
    for ours, theirs in zip(carried_out(job.runs[0], edits), made.runs, strict=True):
        for a, b in zip(ours.route.vertices, theirs.route.vertices, strict=True):
            assert a.point == pytest.approx(b.point, abs=1e-9)
            assert (a.name, a.access, a.bend) == (b.name, b.access, pytest.approx(b.bend))
        names = [[c.label for c in run.route.conduits] for run in (ours, theirs)]
        assert names[0] == names[1]
    new = tomllib.loads(edited_model(text, job, "M1", edits, "what was done"))["run"][0]["legs"]
    return made, [leg for leg in new if leg not in tomllib.loads(text)["run"][0]["legs"]]


def test_a_radius_is_changed_in_the_text_of_its_leg() -> None:
    assert edited([BendRadius(3, 72 * INCH)])[1] == ["right 90 at 72 in"]
    offset = [BendRadius(1, 84 * INCH), BendRadius(2, 84 * INCH)]
    assert edited(offset)[1] == ["offset 12 ft left at 30 degrees, radius 84 in"]
    bare = with_leg(5, '"right 90, name turn at 60"')
    assert edited([BendRadius(3, 72 * INCH)], bare)[1] == ["right 90, name turn at 72"]
    elbow = with_leg(5, '"right 90, name turn"')
    assert edited([BendRadius(3, 72 * INCH)], elbow)[1] == ["right 90, name turn at 72 in"]


def test_other_changes_write_the_legs_anew() -> None:
    new = edited([BendRadius(1, 84 * INCH)])[1]  # of an offset one bend alone
    assert new[1:4] == ["left 30 at 84 in", "24 ft", "right 30 at 60 in"]
    assert new[-1] == "end mezzanine at 108, 306.8, 57 ft for machine"
    middle = (-6 * FOOT, (180 + 6 * math.sqrt(3)) * FOOT, -3 * FOOT)  # on the slope of the offset
    made, new = edited([NewPullPoint(1, middle, "pull vault")])
    assert 'pull point "pull vault" for reel and machine' in new
    assert made.runs[0].route.pull_points == (2,)
    edits = [NewPullPoint(1, middle, "pull vault")]
    assert "legs    = [ # written anew" in edited_model(TEXT, loads(TEXT), "M1", edits)


@pytest.mark.parametrize(
    ("leg", "divided"),
    [
        ('"96 ft"', ["40 ft", "56 ft"]),
        ('"straight 96 ft falling 1% in duct"', ["straight 40 ft falling 1% in duct", "56 ft"]),
        ('"96 ft, down 2 ft"', ["40 ft, down 0.833333333 ft", "56 ft"]),
        ('"96 ft down 24 in in duct"', ["40 ft, down 0.833333333 ft in duct", "56 ft"]),
        ('"96 ft level"', ["40 ft level", "56 ft"]),
        # By the set-backs of 30 and 90 degrees of 60 in: 5 tan 15 ft of the first 40 ft.
        ('"96 ft along"', ["38.660254038 ft along", "57.339745962 ft along"]),
        ("\"29.2608 m in 'duct'\"", ["40 ft in 'duct'", "56 ft"]),
    ],
)
def test_a_new_pull_point_divides_its_leg_alone(leg: str, divided: list[str]) -> None:
    """40 ft along the straight after the offset; the offset and all other legs stay."""
    text = with_leg(4, leg)
    a, b = (np.array(loads(text).runs[0].route.vertices[i].point) for i in (2, 3))
    x, y, z = (a + (b - a) / np.linalg.norm(b - a) * 40 * FOOT).tolist()
    made, new = edited([NewPullPoint(2, (x, y, z), "pull vault")], text)
    point = 'pull point "pull vault" for reel and machine'  # "pull" is a word of the grammar
    assert new == [divided[0], point, divided[1]]
    assert made.runs[0].route.pull_points == (3,)


def test_two_new_pull_points_and_a_radius_keep_the_other_legs() -> None:
    a = np.array(load(MODEL).runs[0].route.vertices[3].point)
    first, second = ((a[0] + d * FOOT, a[1], a[2]) for d in (30.0, 91.0))
    edits = [NewPullPoint(3, second, "V2"), NewPullPoint(3, first, "V1"), BendRadius(3, 72 * INCH)]
    _, new = edited(edits)
    assert new == [
        "right 90 at 72 in",
        "30 ft",
        "pull point V1 for reel and machine",
        "61 ft",
        "pull point V2 for reel and machine",
        "29 ft",
    ]


def test_a_saddle_keeps_its_corners_under_another_radius() -> None:
    """Its crown comes down by 12 in (1 / cos 22.5 - 1), which its text says."""
    text = with_leg(3, '"saddle 24 in up at 22.5 degrees, radius 36 in"')
    _, (new,) = edited([BendRadius(i, 48 * INCH) for i in (1, 2, 3)], text)
    rise = 24 - 12 * (1 / math.cos(math.radians(22.5)) - 1)
    said = re.fullmatch(r"saddle ([\d.]+) in up at 22.5 degrees, radius 48 in", new)
    assert said is not None and float(said[1]) == pytest.approx(rise, abs=1e-8)


def test_a_length_along_the_conduit_beside_another_radius_is_written_anew() -> None:
    """Its set-backs are others, and the corners stay."""
    _, new = edited([BendRadius(3, 72 * INCH)], with_leg(4, '"96 ft along"'))
    assert "right 90 at 72 in" in new and any(text.startswith("102.339745") for text in new)


def test_room_at_an_end_is_written_in_its_leg_alone() -> None:
    _, new = edited([Opened(6, frozenset({"reel"})), Opened(0, BOTH)])
    assert new == [
        "start pad at 0, 0, -3 ft heading north in duct for reel and machine",
        "end mezzanine at 108, 306.8, 57 ft for reel and machine",
    ]


def test_another_conduit_takes_its_elbows_along() -> None:
    text = with_leg(5, '"right 90"')
    larger = route3d.Conduit.of("PVC-40", "6", friction=0.15, name="duct")
    made, new = edited([OtherConduit("duct", larger)], text)
    assert new == [] and made.runs[0].route.vertices[3].bend == pytest.approx(30 * INCH)


def test_every_remedy_of_a_job_by_legs_is_written_and_passes() -> None:
    """The yard run by its canonical legs: what its points would have, and nothing stops it then."""
    text = (MODEL.parent / "yard_run.toml").read_text(encoding="utf-8")
    legs = legs_of(loads(text).runs[0].route, "US")
    start, end = text.index("route = ["), text.index("[[site.room]]")
    text = f"{text[:start]}legs = {list(legs)!r}\n\n{text[end:]}"
    job = loads(text)
    advice = evaluate(job).runs[0].advice
    assert advice is not None and len(advice.remedies) > 3
    for remedy in advice.remedies:
        made = loads(edited_model(text, job, "Y1", remedy.edits))
        assert all(run.route.legs is not None for run in made.runs)
        assert not any(result.stops for result in evaluate(made, with_remedies=False).runs)


# --- converted ------------------------------------------------------------------------------------


def test_convert_keeps_legs_where_the_route_is_unchanged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    same, table, back = (tmp_path / name for name in ("same.toml", "points.csv", "back.toml"))
    assert main(["convert", str(MODEL), str(same)]) == 0
    assert main(["convert", str(MODEL), str(table)]) == 0
    assert main(["convert", str(table), str(back), "--like", str(MODEL)]) == 0
    legs = tomllib.loads(TEXT)["run"][0]["legs"]
    for file in (same, back):
        assert tomllib.loads(file.read_text())["run"][0]["legs"] == legs
    table.write_text(table.read_text().replace("180", "181"))
    capsys.readouterr()
    assert main(["convert", str(table), str(back), "--like", str(MODEL)]) == 2  # never over it
    moved = tmp_path / "moved.toml"
    assert main(["convert", str(table), str(moved), "--like", str(MODEL)]) == 0
    said = capsys.readouterr().out
    assert "M1: the model's legs; the route differs and is given by points" in said
    run = tomllib.loads(moved.read_text())["run"][0]
    assert "legs" not in run and "closes_to" not in run and len(run["route"]) == 7
    assert [row.get("conduit") for row in run["route"]] == [
        "duct",
        *[None] * 3,
        "riser",
        None,
        None,
    ]


def test_a_route_like_that_of_another_run_by_legs_takes_its_equipment() -> None:
    (route,) = routes_of(load(MODEL))
    made = model_text([replace(route, name="M2")], TEXT)
    run = tomllib.loads(made.text)["run"][0]
    assert run["name"] == "M2" and "legs" not in run and run["machine"] == "puller"
