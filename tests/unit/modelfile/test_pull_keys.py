"""Keys for main cables, friction ranges, reels, heads, sheaves and single ends: read and refused.

Every expected number is by hand from the exact definitions: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg,
standard gravity 9.80665 m/s2.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from route3d.errors import InputError, Problem, UnitError
from route3d.formats.exchange import routes_of
from route3d.geometry.fillet import sub_route
from route3d.model import Cable, Conduit, EndSetup, Reel, Run, Vehicle
from route3d.modelfile.read import loads
from route3d.modelfile.schema import json_schema
from route3d.modelfile.write import model_text
from route3d.units import parse, show
from tests.support.model_text import DUCT_TABLE, PHASE_TABLE, RISER_TABLE, ROPE_TABLE

FOOT, LBF = 0.3048, 0.45359237 * 9.80665
SCHEMA = Draft202012Validator(json_schema())

MODEL = (
    'units = "US"\n'
    + PHASE_TABLE
    + """\
[cable.ground]
diameter = 0.5
weight = 0.4
conductor = { metal = "copper", area = "2/0 AWG" }
sidewall_limit = 500
bend_multiple = 8
"""
    + DUCT_TABLE
    + RISER_TABLE
    + ROPE_TABLE
    + """\
[machine.puller]
gears = [{ line_pull = 3500, speed = 35 }]
[machine.winch]
gears = [{ line_pull = 7500, speed = 20 }]
[sheave.corner]
radius = 36
rating = 12000
[anchor.truck]
kind = "vehicle"
weight = 9000
friction = 0.5
drawbar_rating = 6500
[anchor.pad]
kind = "floor bolts"
bolts = [[0, 0]]
bolt_tension = 3000
bolt_shear = 2500
[rigging.head]
swivel_rating = 9000
[rigging.other]
swivel_rating = 5000
[reel.berth]
weight = 2800
diameter = 72
[reel.small]
weight = 900
[[run]]
name = "F1"
cables = { phase = 3, ground = 1 }
rope = "line"
machine = "puller"
anchor = "pad"
rigging = "head"
reel = "berth"
lead_off = [{ sheave = "corner", turn = 90 }]
route = [
  { at = [0, 0, 0], name = "V1", access = ["reel", "machine"], conduit = "duct" },
  { at = [100, 0, 0], name = "V2", access = ["machine"] },
  { at = [100, 100, 0], name = "straight", access = ["machine"], conduit = "riser" },
  { at = [100, 200, 0], name = "elbow", bend = 48 },
  { at = [200, 200, 0], name = "V3", access = ["reel", "machine"] },
]
"""
)
GROUND = "bend_multiple = 8\n"
DUCT = "friction = 0.25\n"
RISER = "friction = 0.35\n"
REEL = "weight = 2800\n"
TRUCK = "drawbar_rating = 6500\n"
HEAD = "swivel_rating = 9000\n"
CORNER = "rating = 12000\n"
V1, V2 = 'name = "V1"', 'name = "V2"'


def with_(old: str, new: str) -> str:
    assert MODEL.count(old) == 1, old
    return MODEL.replace(old, new)


def run_of(text: str) -> Run:
    """The run of a text that loads; the published schema has to accept it too."""
    run = loads(text, "x.toml").runs[0]
    assert [e.message for e in SCHEMA.iter_errors(tomllib.loads(text))] == []
    return run


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        loads(text, "x.toml")
    return caught.value.problems


def at(text: str, words: str, line: str) -> Problem:
    """The problem with these words; it has to stand at the line of the file that holds ``line``."""
    problem = next((p for p in problems_of(text) if words in p.message), None)
    assert problem is not None, problems_of(text)
    assert problem.line == text[: text.index(line)].count("\n") + 1
    return problem


def cable(text: str, name: str = "ground") -> Cable:
    return next(c for c, _ in run_of(text).cables.items if c.name == name)


def duct(text: str) -> Conduit:
    return run_of(text).route.conduits[0]


def reel(lines: str) -> Reel:
    found = run_of(with_(REEL, REEL + lines + "\n")).reel
    assert found is not None
    return found


# --- cables --------------------------------------------------------------------------------------


def test_a_cable_says_nothing_unless_it_is_asked_to() -> None:
    plain = cable(MODEL)
    assert plain.main is None and plain.bend_to == "inside"
    assert plain.training_multiple is plain.max_grip_tension is plain.max_eye_tension is None


def test_the_keys_of_a_cable_are_read() -> None:
    more = 'max_grip_tension = 900\nmax_eye_tension = "12 kN"\ntraining_multiple = 7\n'
    full = cable(with_(GROUND, GROUND + more + 'bend_to = "centerline"\nmain = true\n'))
    assert full.max_grip_tension == pytest.approx(900 * LBF)
    assert full.max_eye_tension == pytest.approx(12_000)
    assert (full.training_multiple, full.bend_to, full.main) == (7, "centerline", True)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("main = 1", "1 is not true or false"),
        ('main = "yes"', "'yes' is not true or false"),
        ('bend_to = "centreline"', "'centreline' is not one of: inside, centerline"),
        ("max_grip_tension = 0", "must be greater than 0"),
        ('max_grip_tension = "3 ft"', "is a length, a force is required"),
        ("max_eye_tension = -1", "must be greater than 0"),
        ("training_multiple = 0.9", "below the minimum of 1"),
        ("training_multiple = 60.1", "exceeds the maximum of 60"),
    ],
)
def test_wrong_values_of_a_cable(line: str, words: str) -> None:
    at(with_(GROUND, f"{GROUND}{line}\n"), words, line)


@pytest.mark.parametrize("value", ["1", "60"])
def test_the_training_multiple_at_its_limits(value: str) -> None:
    assert cable(with_(GROUND, f"{GROUND}training_multiple = {value}\n")).training_multiple


def test_a_run_without_a_main_cable_is_refused_at_its_line() -> None:
    text = with_(GROUND, GROUND + "main = false\n")
    assert cable(text).main is False
    both = text.replace("bend_multiple = 12\n", "bend_multiple = 12\nmain = false\n")
    assert "main = true" in at(both, "every cable of the run has main = false", "cables =").fix


# --- friction ------------------------------------------------------------------------------------


@pytest.mark.parametrize("given", ["0.25", '"0.25"', "{ value = 0.25 }"])
def test_a_friction_alone_has_its_range_assumed(given: str) -> None:
    found = duct(with_(DUCT, f"friction = {given}\n"))
    assert (found.friction, found.friction_low, found.friction_high) == (0.25, None, None)


@pytest.mark.parametrize(
    "given",
    [
        'friction = { value = 0.25, low = 0.15, high = 0.4, source = "trial pull" }',
        "friction.value = 0.25\nfriction.low = 0.15\nfriction.high = 0.4\n"
        'friction.source = "trial pull"',
        '[conduit.duct.friction]\nvalue = 0.25\nlow = 0.15\nhigh = 0.4\nsource = "trial pull"',
    ],
)
def test_a_friction_with_its_range_in_every_form_of_table(given: str) -> None:
    found = duct(with_(DUCT, given + "\n"))
    assert (found.friction, found.friction_low, found.friction_high) == (0.25, 0.15, 0.4)
    assert found.friction_source == "trial pull"


def test_a_range_in_a_conduit_of_plain_dimensions() -> None:
    text = with_(RISER, "friction = { value = 0.35, low = 0.2, high = 0.5 }\n")
    riser = run_of(text).route.conduits[-1]
    assert (riser.lowest_friction, riser.friction, riser.highest_friction) == (0.2, 0.35, 0.5)


def test_one_end_of_the_range_leaves_the_other_assumed() -> None:
    found = duct(with_(DUCT, "friction = { value = 0.25, low = 0.2 }\n"))
    assert found.lowest_friction == 0.2 and found.friction_high is None
    assert found.highest_friction == pytest.approx(0.3)  # 1.2 times the value


def test_low_and_high_may_equal_the_value() -> None:
    found = duct(with_(DUCT, "friction = { value = 0.25, low = 0.25, high = 0.25 }\n"))
    assert found.friction_low == found.friction_high == 0.25


@pytest.mark.parametrize(
    ("given", "key", "value", "words"),
    [
        ("{ value = 0.25, low = 0.26 }", "low", "0.26", "low = 0.26 is above the value of 0.25"),
        ("{ value = 0.25, high = 0.24 }", "high", "0.24", "high = 0.24 is below the value of 0.25"),
        ("{ value = 2.5 }", "value", "2.5", "exceeds the maximum of 2"),
        ("{ value = 0.25, low = -0.1 }", "low", "-0.1", "below the minimum of 0"),
        ('{ value = 0.25, high = "0.4 in" }', "high", '"0.4 in"', "has a unit"),
        ("{ value = 0.25, source = 3 }", "source", "3 }", "3 is not text"),
        ("{ value = true }", "value", "true", "not a number"),
    ],
)
@pytest.mark.parametrize("form", ["inline", "dotted", "table"])
def test_each_wrong_value_of_a_range_stands_at_its_place(
    given: str, key: str, value: str, words: str, form: str
) -> None:
    items = given.strip("{} ").split(", ")
    lines = {
        "inline": f"friction = {given}",
        "dotted": "\n".join(f"friction.{item}" for item in items),
        "table": "\n".join(["[conduit.duct.friction]", *items]),
    }[form]
    text = with_(DUCT, lines + "\n")
    problem = next(p for p in problems_of(text) if words in p.message)
    found = text.splitlines()[(problem.line or 0) - 1][(problem.column or 0) - 1 :]
    assert found.startswith(value.removesuffix(" }"))
    assert problem.where == f"conduit.duct.friction.{key}"


@pytest.mark.parametrize(
    ("given", "words", "where"),
    [
        ("2.1", "2.1 exceeds the maximum of 2", "conduit.duct.friction"),
        ("[0.25]", "[0.25] is not a number", "conduit.duct.friction"),
        ('"low"', "is not a number", "conduit.duct.friction"),
        ("{ low = 0.2 }", "value is missing", "conduit.duct.friction.value"),
        ("{ value = 0.25, lo = 0.2 }", "unknown key 'lo'", "conduit.duct.friction.lo"),
    ],
)
def test_a_friction_that_is_none_is_refused(given: str, words: str, where: str) -> None:
    text = with_(DUCT, f"friction = {given}\n")
    assert at(text, words, f"friction = {given}").where == where
    assert not SCHEMA.is_valid(tomllib.loads(text)) or given == "2.1"  # limits are the loader's


def test_a_missing_value_says_where_it_is_found() -> None:
    text = with_(DUCT, "friction = { low = 0.2 }\n")
    assert "route3d stock friction" in at(text, "value is missing", "friction = { low").fix


def test_a_mesh_that_is_no_name_is_placed_at_the_name() -> None:
    """The other table that a value alone may stand for."""
    text = MODEL + '[site]\ncontext = [\n  "a\\u0007.glb",\n]\n'
    assert at(text, "control characters", '  "a').where == "site.context[0]"


# --- reels ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("drag", "force", "length"),
    [
        ("80", 80 * LBF, None),
        ('"80 lbf"', 80 * LBF, None),
        ('"0.4 kN"', 400.0, None),
        ("0", 0.0, None),
        ('"0 ft"', None, 0.0),
        ('"25 ft"', None, 25 * FOOT),
        ('"7.5 m"', None, 7.5),
    ],
)
def test_a_drag_is_a_force_or_a_length(
    drag: str, force: float | None, length: float | None
) -> None:
    found = reel(f"drag = {drag}")
    assert found.drag_force == (None if force is None else pytest.approx(force))
    assert found.drag_length == (None if length is None else pytest.approx(length))


@pytest.mark.parametrize(
    ("rating", "force", "torque"),
    [
        ("300", 300 * LBF, None),
        ('"300 lbf"', 300 * LBF, None),
        ('"400 lbf ft"', None, 400 * LBF * FOOT),
        ('"400 ft lbf"', None, 400 * LBF * FOOT),
        ('"400 ft-lbf"', None, 400 * LBF * FOOT),
        ('"540 N m"', None, 540.0),
        ('"540 Nm"', None, 540.0),
        ('"0.54 kNm"', None, 540.0),
    ],
)
def test_a_brake_rating_is_a_force_or_a_torque(
    rating: str, force: float | None, torque: float | None
) -> None:
    found = reel(f"brake_rating = {rating}")
    assert found.brake_force == (None if force is None else pytest.approx(force))
    assert found.brake_torque == (None if torque is None else pytest.approx(torque))


def test_the_file_in_si_units_reads_bare_numbers_as_newtons() -> None:
    text = """\
units = "SI"
[cable.a]
diameter = 35
weight = 2.7
conductor = { metal = "copper", area = "185 mm2" }
sidewall_limit = 7300
bend_multiple = 12
[conduit.c]
inner_diameter = 128
outer_diameter = 141
friction = 0.3
[reel.r]
drag = 350
brake_rating = 1300
[[run]]
name = "F1"
cables = { a = 1 }
reel = "r"
route = [{ at = [0, 0, 0], conduit = "c" }, { at = [9, 0, 0] }]
"""
    found = run_of(text).reel
    assert found is not None and (found.drag_force, found.brake_force) == (350.0, 1300.0)


def test_the_feed_of_a_reel_is_read() -> None:
    sheave = reel("reels = 2\ndrum_diameter = 36\nfeed_turn = 90\nfeed_efficiency = 0.95")
    assert (sheave.count, sheave.drum_diameter) == (2, pytest.approx(36 * FOOT / 12))
    assert sheave.feed_turn == pytest.approx(math.pi / 2)
    assert sheave.feed_factor == pytest.approx(1 / 0.95)
    guide = reel('feed_turn = "90 deg"\nfeed_friction = 0.2')
    assert guide.feed_factor == pytest.approx(math.exp(0.2 * math.pi / 2))  # capstan law
    assert reel("").feed_factor == 1.0 and reel("").count is None


@pytest.mark.parametrize(
    ("line", "words", "fix"),
    [
        ('drag = "25 lb"', "is a mass, a force is required", ""),
        ("drag = -1", "below the minimum of 0", ""),
        ('drag = "-1 ft"', "below the minimum of 0", ""),
        ('drag = "1001 m"', "exceeds the maximum", ""),
        ('drag = "auto"', 'or a length such as "12.5 ft"', ""),
        ("drag = true", "not a number", ""),
        ("brake_rating = 0", "must be greater than 0", ""),
        ('brake_rating = "0 Nm"', "must be greater than 0", ""),
        ('brake_rating = "540 J"', "is an energy", ""),
        ('brake_rating = "400 lb ft"', 'or a torque such as "400 lbf ft"', ""),
        ('brake_rating = "4 ft"', "is a length, a force is required", ""),
        ("reels = 0", "0", ""),
        ("reels = 41", "41", ""),
        ("reels = 1.5", "1.5", ""),
        (
            "drum_diameter = 72",
            "is not less than the flange diameter",
            "drum diameter under the last",
        ),
        ("drum_diameter = 0", "must be greater than 0", ""),
        ("feed_turn = 0\nfeed_friction = 0.2", "must be greater than 0", ""),
        ("feed_turn = 181\nfeed_friction = 0.2", "exceeds the maximum of 180", ""),
        ("feed_turn = 90", "neither efficiency nor friction", "feed_efficiency for a sheave"),
        ("feed_efficiency = 0.9", "has no effect without feed_turn", "feed_turn"),
        ("feed_friction = 0.2", "has no effect without feed_turn", "feed_turn"),
        ("feed_efficiency = 1.1\nfeed_turn = 9", "exceeds the maximum of 1", ""),
        ("feed_friction = 0.2\nfeed_turn = 9\nfeed_efficiency = 0.9", "both", "feed_friction for"),
    ],
)
def test_wrong_values_of_a_reel(line: str, words: str, fix: str) -> None:
    text = with_(REEL, f"{REEL}{line}\n")
    assert fix in at(text, words, line).fix


def test_a_drum_just_smaller_than_the_flanges_will_do() -> None:
    assert reel("drum_diameter = 71.9").drum_diameter == pytest.approx(71.9 * FOOT / 12)


def test_a_feed_turn_of_half_a_circle_is_the_most() -> None:
    assert reel("feed_turn = 180\nfeed_efficiency = 1").feed_turn == pytest.approx(math.pi)


@pytest.mark.parametrize("text", ["400 lbf·ft", "400 lbf*ft", "400 lbf-ft", "400 N·m", "5 lbf in"])
def test_a_torque_as_the_trade_writes_it(text: str) -> None:
    amount, force, arm = text.split()[0], LBF if "lbf" in text else 1.0, 1.0
    if "lbf" in text:
        arm = FOOT / 12 if "in" in text else FOOT
    assert parse(text, "torque", "SI") == pytest.approx(float(amount) * force * arm)
    reel(f'brake_rating = "{text}"')  # the schema takes it too


@pytest.mark.parametrize(
    "text", ["540 J", "0.5 kJ", "540 m N", "400 lbfft", "400 lb ft", "5 N", "5"]
)
def test_what_is_no_torque_is_refused(text: str) -> None:
    with pytest.raises(UnitError, match="400 lbf ft"):
        parse(text, "torque", "US")


def test_a_torque_is_no_force() -> None:
    with pytest.raises(UnitError, match="is an energy or a torque, a force is required"):
        parse("400 lbf ft", "force", "US")


@pytest.mark.parametrize("system", ["US", "SI"])
def test_a_torque_printed_can_be_read(system: str) -> None:
    assert parse(show(542.0, "torque", system, decimals=9), "torque", system) == pytest.approx(542)


# --- heads, sheaves and vehicles -----------------------------------------------------------------


def test_the_head_the_sheave_and_the_vehicle_are_read() -> None:
    text = with_(HEAD, HEAD + "head_length = 3\n").replace(CORNER, CORNER + 'held_by = "wall"\n')
    text = text.replace(TRUCK, TRUCK + 'length = 18\nwidth = "7 ft"\ndrawbar = 3\n')
    run = run_of(text.replace('anchor = "pad"', 'anchor = "truck"'))
    assert run.rigging is not None and run.rigging.head_length == pytest.approx(3 * FOOT)
    assert run.lead_off[0].sheave is not None and run.lead_off[0].sheave.held_by == "wall"
    truck = run.anchor
    assert isinstance(truck, Vehicle)
    assert (truck.length, truck.width, truck.drawbar) == pytest.approx(
        (18 * FOOT, 7 * FOOT, 3 * FOOT)
    )


def test_what_is_not_given_of_them_is_none() -> None:
    run = run_of(MODEL.replace('anchor = "pad"', 'anchor = "truck"'))
    assert run.rigging is not None and run.rigging.head_length is None
    assert run.lead_off[0].sheave is not None and run.lead_off[0].sheave.held_by == ""
    assert isinstance(run.anchor, Vehicle) and run.anchor.length is run.anchor.width is None
    assert run.anchor.drawbar == 0.0


@pytest.mark.parametrize(
    ("place", "line", "words"),
    [
        (HEAD, "head_length = 0", "must be greater than 0"),
        (HEAD, 'head_length = "101 m"', "exceeds the maximum"),
        (HEAD, 'head_length = "3 lbf"', "is a force, a length is required"),
        (CORNER, "held_by = 3", "3 is not text"),
        (TRUCK, "length = 0", "must be greater than 0"),
        (TRUCK, "width = -7", "must be greater than 0"),
        (TRUCK, "drawbar = -0.1", "below the minimum of 0"),
        ("bolt_shear = 2500\n", "length = 18", "length does not apply to kind = 'floor bolts'"),
        ("bolt_shear = 2500\n", "drawbar = 1", "drawbar does not apply to kind = 'floor bolts'"),
    ],
)
def test_wrong_values_of_them(place: str, line: str, words: str) -> None:
    at(with_(place, f"{place}{line}\n"), words, line)


# --- a sheave at a pull point --------------------------------------------------------------------


def test_a_sheave_stands_at_a_pull_point_that_turns_and_stays_there() -> None:
    run = run_of(with_(V2, V2 + ', sheave = "corner"'))
    sheave = run.route.vertices[1].sheave
    assert sheave is not None and sheave.name == "corner"
    assert [v.sheave for i, v in enumerate(run.route.vertices) if i != 1] == [None] * 4
    assert sub_route(run.route, 0, 2).vertices[1].sheave is sheave


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("V1", "V1 has a sheave but is not a pull point between the ends"),
        ("V3", "V3 has a sheave but is not a pull point between the ends"),
        ("elbow", "elbow has a sheave but is not a pull point between the ends"),
        ("straight", "straight has a sheave but does not turn"),
    ],
)
def test_a_sheave_elsewhere_is_refused(name: str, words: str) -> None:
    text = with_(f'name = "{name}"', f'name = "{name}", sheave = "corner"')
    assert "pull point that turns" in at(text, words, f'name = "{name}"').fix


def test_a_sheave_at_a_turn_of_a_plain_point_is_refused() -> None:
    text = with_('name = "elbow", bend = 48', 'name = "elbow", sheave = "corner"')
    text = text.replace(', conduit = "riser"', "")  # so that the turn has a standard elbow
    at(text, "elbow has a sheave but is not a pull point", 'name = "elbow"')


def test_a_sheave_nobody_knows_is_refused() -> None:
    text = with_(V2, V2 + ', sheave = "cornr"')
    assert at(text, "there is no sheave 'cornr'", V2).fix == "did you mean 'corner'?"


# --- single ends ---------------------------------------------------------------------------------

ENDS = """
[run.ends."V1"]
anchor = "truck"
reel = "small"
[run.ends.V2]
machine = "winch"
rigging = "other"
lead_off = []
"""


@pytest.mark.parametrize(
    "more",
    [
        ENDS,
        'ends.V1 = { anchor = "truck", reel = "small" }\n'
        'ends.V2 = { machine = "winch", rigging = "other", lead_off = [] }\n',
    ],
)
def test_what_differs_at_single_ends_is_read(more: str) -> None:
    run = run_of(MODEL + more)
    v1, v2 = run.ends
    assert (v1.name, v1.anchor and v1.anchor.name, v1.reel and v1.reel.name) == (
        "V1", "truck", "small",
    )  # fmt: skip
    assert v1.machine is v1.rigging is v1.lead_off is None
    assert (v2.machine and v2.machine.name, v2.rigging and v2.rigging.name) == ("winch", "other")
    assert v2.lead_off == ()  # straight, not what the run gives


def test_each_pull_takes_what_is_given_for_its_ends() -> None:
    run = run_of(MODEL + ENDS)

    def names(feed: int, pull: int) -> list[str | None]:
        equipped = run.pulled(feed, pull)
        parts = (equipped.machine, equipped.anchor, equipped.rigging, equipped.reel)
        return [part and part.name for part in parts]

    assert names(4, 0) == ["puller", "truck", "head", "berth"]
    assert names(0, 4) == ["puller", "pad", "head", "small"]
    assert names(4, 1) == ["winch", "pad", "other", "berth"]
    assert run.pulled(4, 1).lead_off == () and len(run.pulled(4, 0).lead_off) == 1


@pytest.mark.parametrize(
    ("more", "words", "fix", "line"),
    [
        (
            "[run.ends.V4]\n",
            "run 'F1' has no end or pull point named 'V4'",
            "valid names: V1",
            ".V4",
        ),
        ("[run.ends.straigt]\n", "named 'straigt'", "did you mean 'straight'?", ".straigt"),
        ("[run.ends.elbow]\n", "no end or pull point named 'elbow'", "valid names: V1", ".elbow"),
        ('[run.ends.V1]\nmachine = "x"\n', "there is no machine 'x'", "puller", '"x"'),
        ('[run.ends.V1]\nanchor = "pat"\n', "there is no anchor 'pat'", "'pad'", '"pat"'),
        ('[run.ends.V1]\nrigging = "hat"\n', "there is no rigging 'hat'", "head", '"hat"'),
        ('[run.ends.V1]\nreel = "smal"\n', "there is no reel 'smal'", "'small'", '"smal"'),
        (
            '[run.ends.V1]\nlead_off = [{ turn = 9, sheave = "cornr" }]\n',
            "there is no sheave 'cornr'",
            "'corner'",
            '"cornr"',
        ),
        ('[run.ends.V1]\nrope = "line"\n', "unknown key 'rope'", "valid names: machine", "rope ="),
        ('[run.ends.V1]\nancor = "pad"\n', "unknown key 'ancor'", "'anchor'", "ancor"),
    ],
)
def test_wrong_ends(more: str, words: str, fix: str, line: str) -> None:
    text = MODEL + more
    problem = next(p for p in problems_of(text) if words in p.message)
    assert problem.line == text[: text.rindex(line)].count("\n") + 1
    assert fix in problem.fix


def test_an_end_without_a_name_cannot_be_given_anything() -> None:
    """Its number is no name: what is given would be lost."""
    text = with_('name = "V3", ', "") + '[run.ends."point 5"]\nanchor = "truck"\n'
    at(text, "no end or pull point named 'point 5'", "[run.ends.")


# --- converted models ----------------------------------------------------------------------------


def test_a_converted_model_keeps_all_of_it() -> None:
    text = with_(V2, V2 + ', sheave = "corner"').replace(
        DUCT, 'friction = { value = 0.25, low = 0.15, high = 0.4, source = "trial" }\n'
    )
    text = text.replace(GROUND, GROUND + "main = false\nmax_grip_tension = 500\n")
    text = text.replace(REEL, REEL + 'drag = "25 ft"\nbrake_rating = "400 lbf ft"\n')
    was = loads(text + ENDS)
    made = model_text(routes_of(was), text + ENDS)
    now = loads(made.text)
    assert made.ignored == ()
    old, new = was.runs[0], now.runs[0]
    assert new.route.vertices[1].sheave == old.route.vertices[1].sheave is not None
    assert (new.cables, new.reel, new.ends) == (old.cables, old.reel, old.ends)
    assert new.route.conduits == old.route.conduits


def test_a_converted_route_of_another_name_takes_the_ends_it_has() -> None:
    routes = routes_of(loads(MODEL.replace('name = "F1"', 'name = "F2"').replace(V2, 'name = "X"')))
    made = model_text(routes, MODEL + ENDS)
    (run,) = loads(made.text).runs
    assert [end.name for end in run.ends] == ["V1"]
    assert made.ignored == ("F2: the model's entries for 'V2'",)


def test_a_sheave_whose_pull_point_does_not_turn_now_is_told() -> None:
    text = with_(V2, V2 + ', sheave = "corner"')
    moved = with_("at = [100, 0, 0]", "at = [50, 50, 0]")
    made = model_text(routes_of(loads(moved)), text)
    assert "F1: the sheave at V2, no longer a pull point that turns" in made.ignored
    assert loads(made.text).runs[0].route.vertices[1].sheave is None


def test_an_end_with_a_comma_in_its_name_after_another_table() -> None:
    text = MODEL.replace(V1, 'name = "V1, north [a]"')
    text += '[practice]\nrestart = 1.4\n[run.ends."V1, north [a]"]\nanchor = "truck"\n'
    was = loads(text)
    now = loads(model_text(routes_of(was), text).text)
    assert now.runs[0].ends == was.runs[0].ends != ()
    assert now.practice.restart == 1.4


def test_ends_are_plain_records() -> None:
    assert run_of(MODEL).ends == ()
    assert EndSetup("V1") == EndSetup("V1", None, None, None, None, None)


def test_the_models_of_the_repository_fit_the_schema() -> None:
    for path in sorted((Path(__file__).parents[3] / "models").glob("*.toml")):
        assert SCHEMA.is_valid(tomllib.loads(path.read_text(encoding="utf-8"))), path
