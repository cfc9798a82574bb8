"""Broken model files: each problem at its exact line, with its key path, bad value and fix."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import InputError, Problem
from route3d.modelfile.read import loads
from tests.support.model_text import DUCT_TABLE, PHASE_TABLE, RISER_TABLE, ROPE_TABLE

BASE = (
    """\
title = "Berth"
units = "US"
"""
    + PHASE_TABLE
    + DUCT_TABLE
    + RISER_TABLE
    + ROPE_TABLE
    + """\
[machine.puller]
gears = [{ line_pull = 3500, speed = 35 }]
envelope = [3.5, 2.5, 4.5]
[[run]]
name = "F1"
cables = { phase = 3 }
rope = "line"
machine = "puller"
route = [
  { at = [0, 0, -5], name = "V1", access = ["reel", "machine"], conduit = "duct" },
  { at = [180, 0, -5], name = "B1", bend = 48 },
  { at = [180, 95, -5], name = "B2", bend = 48, conduit = "riser" },
  { at = [180, 95, 42], name = "B3", bend = 48 },
  { at = [195, 95, 42], name = "S1", access = ["reel", "machine"] },
]
[[bank]]
run = "F1"
rows = 2
columns = 3
spacing = [7.5, 7.5]
cover = 3
"""
)


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        loads(text, "x.toml")
    return caught.value.problems


def with_line(number: int, new: str) -> str:
    """The base text with one line replaced; lines are counted from 1."""
    lines = BASE.splitlines()
    lines[number - 1] = new
    return "\n".join(lines)


def test_the_base_text_loads() -> None:
    assert loads(BASE).runs[0].name == "F1"


def test_the_wanted_wording() -> None:
    (problem,) = problems_of(with_line(4, 'diameter = "1.36 lb"'))
    assert str(problem) == (
        "x.toml:4: cable.phase.diameter: '1.36 lb' is a mass, a length is required, for "
        'example "1.36 in"'
    )
    assert problem.column == 12


R = "run[0].route"
F1 = " (run F1)"

# line that is changed, its new text, key path of the problem, words of message and fix, line of
# the problem where it is not the line changed
CASES = [
    # units and top level
    (2, 'units = "us"', "units", "'us' is not one of: US, SI", None),
    (2, "", "units", "units is missing; enter units", 1),
    (1, "titel = 1", "titel", "unknown key 'titel'; did you mean 'title'?", None),
    (1, "title = 5", "title", "5 is not text in quotes", None),
    (1, 'title = "a\\u001b[31m"', "title", "control characters", None),
    # cable: quantities
    (4, 'diameter = "1,36 in"', "cable.phase.diameter", "comma", None),
    (4, 'diameter = "1.36"', "cable.phase.diameter", "has no unit", None),
    (4, "diameter = true", "cable.phase.diameter", "True is not a number", None),
    (4, "diameter = nan", "cable.phase.diameter", "nan is not a finite number", None),
    (4, "diameter = inf", "cable.phase.diameter", "inf is not a finite number", None),
    (4, "diameter = 0", "cable.phase.diameter", "0 must be greater than 0", None),
    (4, "diameter = -1.4", "cable.phase.diameter", "-1.4 must be greater than 0", None),
    (4, 'diameter = "7 ft"', "cable.phase.diameter", "exceeds the maximum of 78.74 in", None),
    (4, f"diameter = 1{'0' * 400}", "cable.phase.diameter", "is too large", None),
    (4, "diameter = [1]", "cable.phase.diameter", "[1] is not a number", None),
    (4, "diametre = 1.4", "cable.phase.diametre", "did you mean 'diameter'?", None),
    (4, "", "cable.phase.diameter", "diameter is missing; get it from the cable maker", 3),
    (5, "weight = 400", "cable.phase.weight", "exceeds the maximum of 342", None),
    (5, "", "cable.phase.weight", "data sheet", 3),
    (7, "", "cable.phase.sidewall_limit", "`route3d stock sidewall`", 3),
    (7, 'sidewall_limit = "5 kN"', "cable.phase.sidewall_limit", "is a force", None),
    (8, "bend_multiple = 0.5", "cable.phase.bend_multiple", "below the minimum of 1", None),
    (8, "bend_multiple = 61", "cable.phase.bend_multiple", "exceeds the maximum of 60", None),
    (8, "bend_multiple = '12 in'", "cable.phase.bend_multiple", "has a unit", None),
    (8, "bend_multiple = 12\nshielded = 1", "cable.phase.shielded", "not true or false", 9),
    (8, "bend_multiple = 12\nmax_tension = 0", "cable.phase.max_tension", "greater than 0", 9),
    (8, "bend_multiple = 12\nmax_tension='11 MN'", "cable.phase.max_tension", "not known", 9),
    (
        8,
        "bend_multiple = 12\nmax_tension='11000 kN'",
        "cable.phase.max_tension",
        "exceeds the maximum",
        9,
    ),
    # conductor
    (6, "conductor = 5", "cable.phase.conductor", "is not a table", None),
    (6, "", "cable.phase.conductor", "conductor is missing", 3),
    (
        6,
        'conductor = { metal = "tin", area = "350 kcmil" }',
        "cable.phase.conductor.metal",
        "'tin' is not one of: copper, aluminum",
        None,
    ),
    (
        6,
        'conductor = { metal = "copper", area = "350" }',
        "cable.phase.conductor.area",
        'did you mean "350 kcmil"',
        None,
    ),
    (
        6,
        'conductor = { metal = "copper", area = "4000 kcmil" }',
        "cable.phase.conductor.area",
        "exceeds the cable's cross-section",
        None,
    ),
    (
        6,
        'conductor = { metal = "copper", area = 350, count = 501 }',
        "cable.phase.conductor.count",
        "501 must be between 1 and 500",
        None,
    ),
    (
        6,
        'conductor = { metal = "copper", area = 350, cuont = 1 }',
        "cable.phase.conductor.cuont",
        "did you mean 'count'?",
        None,
    ),
    # conduit
    (10, 'type = "PVC-41"', "conduit.duct.type", "did you mean 'PVC-40'?", None),
    (10, "", "conduit.duct.trade_size", "trade_size requires type", 11),
    (11, "", "conduit.duct.type", "type requires trade_size", 10),
    (11, 'trade_size = "7"', "conduit.duct.trade_size", 'did you mean "6"?', None),
    (11, "trade_size = 2.5", "conduit.duct.trade_size", '"2-1/2"', None),
    (12, "friction = 2.1", "conduit.duct.friction", "exceeds the maximum of 2", None),
    (12, "friction = -0.1", "conduit.duct.friction", "below the minimum of 0", None),
    (12, "", "conduit.duct.friction", "`route3d stock friction`", 9),
    (14, "inner_diameter = 5.56", "conduit.riser.inner_diameter", "is not less than", None),
    (14, "", "conduit.riser.inner_diameter", "inner_diameter is missing", 13),
    (15, "", "conduit.riser.outer_diameter", "outer_diameter is missing", 13),
    # rope and machine
    (18, "diameter = 5.1", "run[0].rope" + F1, "does not fit in conduit 'duct'", 29),
    (21, "", "rope.line.rated_load", "rope maker's data sheet", 17),
    (21, "rated_load = 9000\nbreaking_strength = 900", "rope.line.breaking_strength", "less", 22),
    (22, "stretch = 1.2", "rope.line.stretch", "exceeds the maximum of 0.5", None),
    (24, "gears = []", "machine.puller.gears", "minimum 1", None),
    (
        24,
        "gears = [{ line_pull = 0, speed = 35 }]",
        "machine.puller.gears[0].line_pull",
        "0 must be greater than 0",
        None,
    ),
    (
        24,
        "gears = [{ line_pull = 9, speed = 0 }]",
        "machine.puller.gears[0].speed",
        "0 must be greater than 0",
        None,
    ),
    (25, "envelope = [3.5, 2.5]", "machine.puller.envelope", "three required", None),
    # run
    (27, "", "run[0].name", "name is missing", 26),
    (28, "cables = {}", "run[0].cables" + F1, "minimum 1", None),
    (28, "cables = { phse = 3 }", "run[0].cables.phse" + F1, "did you mean 'phase'?", None),
    (28, "cables = { phase = 0 }", "run[0].cables.phase" + F1, "must be between 1 and 40", None),
    (28, "cables = { phase = 501 }", "run[0].cables.phase" + F1, "must be between 1 and 40", None),
    (28, "cables = { phase = 2.5 }", "run[0].cables.phase" + F1, "not a whole number", None),
    (28, "cables = { phase = 40 }", "run[0].cables" + F1, "40 x phase in conduit 'duct'", None),
    (29, 'rope = "lime"', "run[0].rope" + F1, "did you mean 'line'?", None),
    (30, 'machine = "pulller"', "run[0].machine" + F1, "did you mean 'puller'?", None),
    (30, 'attach = "eyes"', "run[0].attach" + F1, "'eyes' is not one of: pulling eyes", None),
    (30, 'arrangement = "cradle"', "run[0].arrangement" + F1, "did you mean 'cradled'?", None),
    (30, 'reel_tension = "none"', "run[0].reel_tension" + F1, 'or "auto"', None),
    (30, "reel_tension = -1", "run[0].reel_tension" + F1, "below the minimum of 0", None),
    # route
    (32, "{ at = [0, 0, -5] },", R + "[0]" + F1, "the first point has no conduit", None),
    (
        32,
        '{ at = [0, 0, -5], conduit = "dukt" },',
        R + "[0].conduit" + F1,
        "there is no conduit 'dukt'; did you mean 'duct'?",
        None,
    ),
    (
        32,
        '{ at = [0, 0, -5], bend = 48, conduit = "duct" },',
        R + "[0].bend" + F1,
        "bend at the first point",
        None,
    ),
    (36, "{ at = [195, 95, 42], bend = 48 },", R + "[4].bend" + F1, "at the last point", None),
    (
        36,
        '{ at = [195, 95, 42], conduit = "duct" },',
        R + "[4].conduit" + F1,
        "no straight or bend follows",
        None,
    ),
    (33, "{ at = [180, 0], bend = 48 },", R + "[1].at" + F1, "three required", None),
    (33, "{ at = [180, 0, 1, 2] },", R + "[1].at" + F1, "has 4 entries; maximum 3", None),
    (33, '{ at = [180, 0, "x"] },', R + "[1].at[2]" + F1, "'x' is not a number", None),
    (33, "{ at = [5e5, 0, 0] },", R + "[1].at[0]" + F1, "subtract a fixed origin", None),
    (33, "{ at = [-5e5, 0, 0] },", R + "[1].at[0]" + F1, "below the minimum of -328,084", None),
    (33, "{ at = [180, 0, -5], bend = 0 },", R + "[1].bend" + F1, "greater than 0", None),
    (33, "{ at = [180, 0, -5], bend = 4e6 },", R + "[1].bend" + F1, "maximum of 3,937,007.9", None),
    (33, "{ at = [180, 0, -5], bnd = 48 },", R + "[1].bnd" + F1, "did you mean 'bend'?", None),
    (33, "{ at = [180, 0, -5], access = ['x'] },", R + "[1].access[0]" + F1, "one of: reel", None),
    (33, "{ at = [0, 0, -5] },", R + "[1].at" + F1, "point 2 is the same point as V1", None),
    (
        33,
        "{ at = [180, 0, -5], bend = 48, box = [9, 9, 9] },",
        R + "[1].box" + F1,
        "not a pull",
        None,
    ),
    (
        34,
        "{ at = [180, 95, -5] , name = 'B2', conduit = 'riser' },",
        R + "[2]" + F1,
        "B2 turns 90.0° without a bend radius, and the tables have no standard elbow of riser",
        None,
    ),
    (
        33,
        "{ at = [180, 0, -5], bend = 48 }, { at = [180, 50, -5], bend = 48 },",
        R + "[2].bend" + F1,
        "point 3 has a bend but the route does not turn there",
        None,
    ),
    (
        36,
        "{ at = [180, 95, 9] },",
        R + "[3].at" + F1,
        "turns back on itself at B3 (180.0°)",
        35,
    ),
    (
        36,
        "{ at = [183, 95, 42], name = 'S1' },",
        R + "[3].bend" + F1,
        "the bend at B3 needs 4.00 ft of straight to S1; available 3.00 ft; "
        "maximum radius that fits at B3: 36 in; given: 48 in",
        35,
    ),
    (31, "route = 5\nroute2 = [", "run[0].route" + F1, "5 is not a list", None),
    # bank
    (39, 'run = "F2"', "bank[0].run", "there is no run 'F2'; valid names: F1", None),
    (40, "rows = 21", "bank[0].rows", "must be between 1 and 20", None),
    (41, "columns = 0", "bank[0].columns", "must be between 1 and 20", None),
    (42, "spacing = [7.5, 5.5]", "bank[0].spacing[1]", "less than the outer diameter", None),
    (42, "spacing = [7.5]", "bank[0].spacing", "two required", None),
    (43, "", "bank[0].cover", "cover is missing", 38),
    (43, "cover = -1", "bank[0].cover", "below the minimum of 0", None),
    (
        43,
        "cover = 3\nruns = ['F1', 'nope']",
        "bank[0].runs[1]",
        "no run 'nope'; valid names: F1",
        44,
    ),
    (43, "cover = 3\nducts = ['1-1: ZZ']", "bank[0].ducts[0]", "no run 'ZZ'; valid names: F1", 44),
    # site and practice
    (43, "cover = 3\n[site]\ncontext = ['a.dwg']", "site.context[0]", "not a mesh file", 45),
    (43, "cover = 3\n[site]\ncontext = ['no.glb']", "site.context[0]", "there is no file", 45),
    (43, "cover = 3\n[practice]\nrestart = 0.9", "practice.restart", "below the minimum of 1", 45),
    (43, "cover = 3\n[practice]\nsidewall = 'x'", "practice.sidewall", "one of: per cable", 45),
    (43, "cover = 3\n[practice]\nrestrat = 1", "practice.restrat", "mean 'restart'?", 45),
]


@pytest.mark.parametrize(("line", "new", "where", "words", "at"), CASES)
def test_each_problem_stands_at_its_line(
    line: int, new: str, where: str, words: str, at: int | None
) -> None:
    found = problems_of(with_line(line, new))
    matching = [p for p in found if p.where == where and words in f"{p.message}; {p.fix}"]
    assert matching, "\n".join(map(str, found))
    assert matching[0].line == (at or line)
    assert matching[0].file == "x.toml"
    assert str(matching[0]).startswith(f"x.toml:{at or line}: {where}: ")


def test_one_mistake_is_one_problem() -> None:
    for line, new, *_ in CASES:
        if "route2" not in new and "spacing" not in new:
            assert len(problems_of(with_line(line, new))) <= 2, new


def test_every_problem_is_reported_at_once() -> None:
    """Shapes, references, geometry and fit, in different tables, come together."""
    text = with_line(4, "diametre = 1.387")
    text += """
[cable.earth]
diameter = 2.2
weight = 0.7
conductor = { metal = "copper", area = "4/0 AWG" }
sidewall_limit = 500
bend_multiple = 8
[[run]]
name = "F2"
cables = { earth = 8 }
rope = "lin"
route = [{ at = [0, 0, 0], conduit = "duct" }, { at = [9, 0, 0], bend = 200 }, { at = [9, 9, 0] }]
[[run]]
name = "F2"
cables = { earth = 8 }
route = [{ at = [0, 0, 0], conduit = "duct" }, { at = [9, 0, 0] }, { at = [9, 9, 0] }]
"""
    wheres = [p.where for p in problems_of(text)]
    assert wheres == [
        "cable.phase.diametre",
        "run[1].rope (run F2)",
        "run[1].route[1].bend (run F2)",
        "run[2].name (run F2)",
        "run[2].cables (run F2)",
    ]


def test_two_bends_that_do_not_fit_are_both_named() -> None:
    (problem,) = problems_of(BASE.replace("[180, 95,", "[180, 7,").replace("[195, 95,", "[195, 7,"))
    assert (problem.line, problem.where) == (33, "run[0].route[1].bend (run F1)")
    assert problem.message == (
        "the bends at B1 and B2 need 8.00 ft of straight between them; available 7.00 ft"
    )
    assert problem.fix == "maximum radius that fits at B1: 36 in; given: 48 in"


def test_a_stock_type_without_an_outer_diameter() -> None:
    text = BASE.replace('type = "PVC-40"', 'type = "PVC-A"').replace('"5"', '"4"')
    text = text.replace("5.07", "3.9").replace("5.56", "4.2")
    (problem,) = problems_of(text)
    assert (problem.line, problem.where) == (9, "conduit.duct.outer_diameter")
    assert problem.message == "the tables have no outer diameter of PVC-A 4"
    assert "enter outer_diameter" in problem.fix
    loads(text.replace('trade_size = "4"', 'trade_size = "4"\nouter_diameter = 4.5'))


def test_every_place_where_bends_do_not_fit_is_reported() -> None:
    text = with_line(33, "{ at = [180, 0, -5], name = 'B1', bend = '200 ft' },").replace(
        "[195, 95, 42]", "[182, 95, 42]"
    )
    assert [p.where for p in problems_of(text)] == [f"{R}[1].bend{F1}", f"{R}[3].bend{F1}"]


def test_the_largest_radius_that_is_printed_fits() -> None:
    """The leg of 3.21 ft leaves 38.52 in; printed rounded down, and then it loads."""
    text = BASE.replace("[195, 95, 42]", "[183.21, 95, 42]")
    (problem,) = problems_of(text)
    assert "maximum radius that fits at B3: 38.5 in" in problem.fix
    loads(text.replace('name = "B3", bend = 48', 'name = "B3", bend = 38.5'))
    with pytest.raises(InputError):
        loads(text.replace('name = "B3", bend = 48', 'name = "B3", bend = 38.6'))


def test_metric_files_are_answered_in_metric_units() -> None:
    text = with_line(36, "{ at = [181, 95, 42], name = 'S1' },").replace('"US"', '"SI"')
    text = text.replace("bend = 48", "bend = 1.2").replace(
        "spacing = [7.5, 7.5]", "spacing=[150,150]"
    )
    text = text.replace("diameter = 1.387", "diameter = 35.2").replace("350 kcmil", "185 mm2")
    text = text.replace("5.07", "128").replace("5.56", "141")
    (problem,) = problems_of(text)
    assert "the bend at B3 needs 1.20 m of straight to S1; available 1.00 m" in problem.message
    assert "1 m; given: 1.2 m" in problem.fix


def test_without_units_the_numbers_are_not_judged() -> None:
    text = with_line(2, "").replace("trade_size", "trade_syze")
    assert [p.where for p in problems_of(text)] == ["units", "conduit.duct.trade_syze"]


def test_more_vertices_than_the_limit() -> None:
    points = "{ at = [0, 0, 0] }," * 20_001
    (problem,) = problems_of(f'units = "US"\n[[run]]\nroute = [{points}]')
    assert "too large: 20001 route points, the maximum is 20000" in problem.message


def test_two_banks_of_one_run() -> None:
    bank = BASE[BASE.index("[[bank]]") :]
    (problem,) = problems_of(BASE + bank)
    assert (problem.line, problem.where) == (45, "bank[1].run")


def test_a_circular_link_as_mesh(tmp_path: Path) -> None:
    (tmp_path / "a.glb").symlink_to("a.glb")
    with pytest.raises(InputError, match="there is no file"):
        loads(BASE + '[site]\ncontext = ["a.glb"]', folder=tmp_path)
