"""What holds, leads and feeds, from the model file: read whole, and refused with its place."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from route3d.errors import InputError
from route3d.model import ConduitBrace, FloorBolts, Vehicle, WorkPlatform
from route3d.modelfile.build_tackle import _is_simple
from route3d.modelfile.read import loads
from tests.support.model_text import DUCT_TABLE, PHASE_TABLE, ROPE_TABLE

MODEL = (
    'units = "US"\n'
    + PHASE_TABLE
    + DUCT_TABLE
    + ROPE_TABLE
    + """\
[machine.puller]
gears = [
  { name = "high", line_pull = 3500, speed = 35, gauge = false },
  { name = "low", line_pull = 7500, speeds = [[0, 18], [7500, 12]] },
]
weight = 650
efficiency = 0.9
boom_rating = 11000
line_height = "30 in"
clearance = 3
[sheave.corner]
radius = 12
rating = 12000
efficiency = 0.95
[anchor.pad]
kind = "floor bolts"
bolts = [[0, 0], [0, 2], [3, 0], [3, 2]]
bolt_tension = 3000
bolt_shear = 2500
[anchor.brace]
kind = "conduit brace"
rating = 6500
adapters = [{ trade_sizes = ["2-1/2", "6"], light_rating = 2000, locked_rating = 6500 }]
[anchor.truck]
kind = "vehicle"
weight = 9000
friction = 0.5
drawbar_rating = 6500
[anchor.lift]
kind = "work platform"
brace = "brace"
[rigging.head]
swivel_rating = 9000
[reel.berth]
weight = 2800
sheave_radius = 24
[[run]]
name = "F1"
cables = { phase = 3 }
rope = "line"
machine = "puller"
anchor = "pad"
rigging = "head"
reel = "berth"
lead_off = [{ sheave = "corner", turn = 90 }, { turn = "45 deg" }]
can_splice = ["V2"]
route = [
  { at = [0, 0, 0], name = "V1", access = ["reel"], conduit = "duct" },
  { at = [100, 0, 0], name = "V2", access = ["machine"] },
  { at = [200, 0, 0], name = "V3", access = ["machine"] },
]
[[site.room]]
name = "vault"
outline = [[-5, -3], [5, -3], [5, 3], [-5, 3]]
floor = -4
ceiling = 5
obstacles = [[[3, 2], [4, 2], [4, 3]]]
[plan]
setup_time = 90
feed_slack = "4 m"
"""
)
FOOT, POUND = 0.3048, 0.45359237


def test_everything_is_read() -> None:
    job = loads(MODEL)
    run = job.runs[0]
    assert run.machine is not None and run.rigging is not None and run.reel is not None
    high, low = run.machine.gears
    assert (high.name, high.gauge, low.gauge) == ("high", False, True)
    assert low.speed == pytest.approx(12 * FOOT / 60)  # at its rated pull
    assert low.speed_at(3750 * POUND * 9.80665) == pytest.approx(15 * FOOT / 60)
    assert run.machine.mass == pytest.approx(650 * POUND)
    assert run.machine.line_height == pytest.approx(0.762)
    assert run.machine.available_pull == pytest.approx(0.9 * 7500 * POUND * 9.80665)
    assert isinstance(run.anchor, FloorBolts) and run.anchor.bolts[3] == pytest.approx(
        (0.9144, 0.6096)
    )
    assert [t.sheave and t.sheave.name for t in run.lead_off] == ["corner", None]
    assert run.lead_off[1].turn == pytest.approx(math.pi / 4)
    assert run.splices == {1}
    assert run.reel.sheave_radius == pytest.approx(0.6096)
    assert job.allowances.setup_time == 5400 and job.allowances.feed_slack == 4.0
    assert job.allowances.gear_margin == 0.1
    assert job.site.rooms[0].ceiling == pytest.approx(1.524)


@given(
    st.lists(st.tuples(st.integers(-4, 4), st.integers(-4, 4)), min_size=3, max_size=7, unique=True)
)
def test_polygons_are_judged_as_shapely_judges_them(corners: list[tuple[int, int]]) -> None:
    polygon = Polygon(corners)
    assert _is_simple(np.array(corners, dtype=float)) == (polygon.is_valid and polygon.area > 0)


@pytest.mark.parametrize(
    ("anchor", "kind"), [("brace", ConduitBrace), ("truck", Vehicle), ("lift", WorkPlatform)]
)
def test_every_kind_of_anchor(anchor: str, kind: type) -> None:
    run = loads(MODEL.replace('anchor = "pad"', f'anchor = "{anchor}"')).runs[0]
    assert isinstance(run.anchor, kind)
    if isinstance(run.anchor, WorkPlatform):
        assert run.anchor.brace is not None and run.anchor.brace.rating > 0


@pytest.mark.parametrize(
    ("old", "new", "at", "words", "fix"),
    [
        (", speed = 35, gauge", ", gauge", "3500", "has no speed", "enter speed"),
        ("speeds = [[0, 18]", "speed = 3, speeds = [[0, 18]", '"low"', "both speed", "enter"),
        ("[[0, 18], [7500, 12]]", "[[0, 12], [7500, 18]]", '"low"', "the speed increases", "slows"),
        ("[[0, 18], [7500, 12]]", "[[0, 18], [0, 12]]", '"low"', "must increase", "order"),
        ('name = "low"', 'name = "high"', "7500", "two gears are named 'high'", "rename"),
        ("bolt_shear = 2500\n", "", "[anchor.pad]", "bolt_shear is missing", "allowable shear"),
        ("friction = 0.5", "rating = 3", "rating = 3", "rating does not apply", "drawbar"),
        ('brace = "brace"', 'brace = "pad"', "brace =", "is not a conduit brace", "only be braced"),
        ('brace = "brace"', 'brace = "bracce"', "bracce", "no anchor 'bracce'", "'brace'"),
        ('["2-1/2", "6"]', '["6", "2-1/2"]', '"2-1/2"', "smallest trade size", "swap"),
        ('["2-1/2", "6"]', '["2-1/2", "six"]', '"2-1/2"', "not a trade size", ""),
        (", light_rating = 2000, locked_rating = 6500 }", "}", '"2-1/2"', "no rating", "enter"),
        (
            "light_rating = 2000",
            "light_rating = 8000",
            '"2-1/2"',
            "exceeds that of the locked",
            "check",
        ),
        ("[3, 0], [3, 2]]", "[3, 0], [3, 0]]", "bolts = ", "two bolts at the same", "remove"),
        ('kind = "vehicle"', 'kind = "lorry"', "lorry", "'lorry' is not one of", ""),
        ("turn = 90", "turn = 270", "turn = 270", "exceeds the maximum of 180.0", ""),
        ('sheave = "corner", turn', 'sheave = "cornr", turn', "cornr", "no sheave", "corner"),
        ('can_splice = ["V2"]', 'can_splice = ["V3"]', "can_splice", "no pull point 'V3'", "V2"),
        ("weight = 650", "weight = 650\nmin_load = 7000", "min_load", "not below the", "smaller"),
        ("weight = 650", 'weight = "650 lbf"', "650 lbf", "is a force, a mass is required", ""),
        ("efficiency = 0.9\n", "efficiency = 1.2\n", "1.2", "exceeds the maximum of 1", ""),
        ("[5, -3], [5, 3],", "[5, 3], [5, -3],", "outline", "crosses itself", "order"),
        ("ceiling = 5", "ceiling = -6", "ceiling", "not above the floor", "z is up"),
    ],
)
def test_what_is_wrong_is_said_at_its_line(
    old: str, new: str, at: str, words: str, fix: str
) -> None:
    assert old in MODEL
    text = MODEL.replace(old, new)
    line = text[: text.index(at)].count("\n") + 1
    with pytest.raises(InputError) as caught:
        loads(text, "x.toml")
    problem = next(p for p in caught.value.problems if words in p.message)
    assert problem.line == line, problem
    assert fix in problem.fix
