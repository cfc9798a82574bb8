"""Legs to points: the grammar by tables of hand-worked examples, and what it says of mistakes."""

from __future__ import annotations

import math
import re
import time

import numpy as np
import pytest

from route3d.geometry.fillet import fillet
from route3d.geometry.leg_grammar import LegsError
from route3d.geometry.legs import LegRoute, legs_of, read_legs
from route3d.model import Conduit, Route
from route3d.model.route import Vertex
from tests.support.jobs import FOOT, INCH

BOTH = frozenset({"reel", "machine"})
DUCT = Conduit.of("PVC-40", "5", friction=0.25, name="duct")
RISER = Conduit.of("RMC", "5", friction=0.25, name="riser")
CONDUITS = {"duct": DUCT, "riser": RISER}


START = "start at 0, 0, 0 heading north in duct"


def read(*legs: str, start: str = START, **more: float) -> LegRoute:
    return read_legs([start, *legs], "US", conduits=CONDUITS, **more)


def feet(route: LegRoute) -> list[list[float]]:
    """Points in ft, to the tenth decimal."""
    return np.round(route.points / FOOT, 10).tolist()


ROOT3 = math.sqrt(3.0)
CROWN = 1 + 3 * (2 / ROOT3 - 1)


@pytest.mark.parametrize(
    ("legs", "last"),
    [  # all after 10 ft north; the last leg is 10 ft where there is one
        (["right 90 at 36 in", "10 ft"], (10, 10, 0)),
        (["left 90", "10 ft"], (-10, 10, 0)),
        (["up 90 at 36 in", "10 ft"], (0, 10, 10)),
        (["down 90 at 36 in", "10 ft"], (0, 10, -10)),
        (["right 30 at 36 in", "10 ft"], (5, 10 + 5 * ROOT3, 0)),
        (["turn right 30 at 36 in", "10 ft"], (5, 10 + 5 * ROOT3, 0)),
        (["up 30 at 36 in", "10 ft"], (0, 10 + 5 * ROOT3, 5)),
        (["left 90 and up 30 at 36 in", "10 ft"], (-5 * ROOT3, 10, 5)),
        (["up 30 and left 90 at 36 in", "10 ft"], (-5 * ROOT3, 10, 5)),
        (["turn to heading east at 36 in", "10 ft"], (10, 10, 0)),
        (["turn to N30E at 36 in", "10 ft"], (5, 10 + 5 * ROOT3, 0)),
        (["turn to heading N 30 E at 36 in", "10 ft"], (5, 10 + 5 * ROOT3, 0)),
        (["turn to heading N29°59'60\"E at 36 in", "10 ft"], None),
        (["turn to heading S60°0'W", "10 ft"], (-5 * ROOT3, 5, 0)),
        (["turn to heading 240 degrees", "10 ft"], (-5 * ROOT3, 5, 0)),
        (["turn to heading NE", "10 ft"], (5 * math.sqrt(2), 10 + 5 * math.sqrt(2), 0)),
        (["turn to heading west rising 30 degrees", "10 ft"], (-5 * ROOT3, 10, 5)),
        (["up 90", "10 ft", "turn to heading south at 36 in", "10 ft"], (0, 0, 10)),
        (["up 90", "10 ft", "turn to east falling 30 degrees", "10 ft"], (5 * ROOT3, 10, 5)),
        (["kick left 30 at 36 in", "10 ft"], (-5, 10 + 5 * ROOT3, 0)),
        # A kick by its rise goes as far as it takes: 12 ft / sin 30 = 24 ft.
        (["kick 12 ft left at 30 degrees"], (-12, 10 + 12 * ROOT3, 0)),
        (["kick 12 ft up at 30 degrees", "10 ft"], (0, 10 + 17 * ROOT3, 17)),
        (["kick 12 ft right at 30 degrees", "left 30", "10 ft"], (12, 20 + 12 * ROOT3, 0)),
        (["offset 12 ft left at 30 degrees", "10 ft"], (-12, 20 + 12 * ROOT3, 0)),
        (["30 degree offset 12 ft left, radius 36 in", "10 ft"], (-12, 20 + 12 * ROOT3, 0)),
        (["offset 1 ft up at 45 degrees at 36 in", "10 ft"], (0, 21, 1)),
        (["offset 3 ft right and 4 ft down at 30 degrees", "10 ft"], (3, 20 + 5 * ROOT3, -4)),
        (["rolled offset 3 ft right and 4 ft down at 30", "10 ft"], (3, 20 + 5 * ROOT3, -4)),
        # In a riser an offset is toward a heading: 1 ft / tan 45 up.
        (["up 90", "9 ft", "offset 1 ft to heading east at 45", "10 ft"], (1, 10, 20)),
        # Of three bends the corner is above the crown by R (1 / cos 30 - 1); R 24 in by default.
        (["saddle 1 ft up at 30 degrees, radius 36 in", "10 ft"], (0, 20 + 2 * ROOT3 * CROWN, 0)),
        (["3-bend saddle 1 ft up at 30 degrees", "10 ft"], (0, 28 - 2 * ROOT3, 0)),
        (["saddle 1 ft left over 4 ft at 30 degrees", "10 ft"], (0, 24 + 2 * ROOT3, 0)),
        (["four-bend saddle 1 ft left at 30, over 4 ft", "10 ft"], (0, 24 + 2 * ROOT3, 0)),
        # Slopes belong to a leg and hold until the next turn.
        (["5 ft, down 3 ft"], (0, 14, -3)),
        (["5 ft down 3 ft", "5 ft"], (0, 18, -6)),
        (["5 ft down 3 ft", "5 ft level"], (0, 19, -3)),
        (["5 ft down 3 ft", "right 90 at 36 in", "5 ft"], (5, 14, -3)),
        (["10 ft horizontal, up 2 ft"], (0, 20, 2)),
        (["100 ft horizontal falling 1 in 100"], (0, 110, -1)),
        (["100 ft horizontal falling 1:100"], (0, 110, -1)),
        (["100 ft horizontal falling 1%"], (0, 110, -1)),
        (["100 ft horizontal falling 12 in per 100 ft"], (0, 110, -1)),
        (["96 ft horizontal rising 1/8 in per ft"], (0, 106, 1)),
        (["10 ft rising 30 degrees"], (0, 10 + 5 * ROOT3, 5)),
        (["bend at 48 in", "10 ft, up 6 ft"], (0, 18, 6)),
        # Trade forms of lengths.
        (["straight 5'-3 1/2\""], (0, 15 + 3.5 / 12, 0)),
        (["5 ft 6 in"], (0, 15.5, 0)),
        (["18\""], (0, 11.5, 0)),
        (["3.048 m"], (0, 20, 0)),
        (["10 ft in riser"], (0, 20, 0)),
        (["10 ft to the corner"], (0, 20, 0)),
        # Along the straight conduit: the set-backs of both 90s of 36 in are added.
        (["right 90 at 36 in", "4 ft along the conduit", "left 90 at 36 in", "10 ft"], (10, 20, 0)),
        (["right 90 at 36 in", "4 ft along"], (7, 10, 0)),
        # Without a radius the standard elbow of the conduit, 24 in, takes part.
        (["right 90", "4 ft along"], (6, 10, 0)),
        # A bend straight after an offset follows it back to back.
        (
            ["offset 12 ft left at 30 degrees, radius 36 in", "right 90 at 36 in", "10 ft"],
            (-2, 10 + 12 * ROOT3 + 3 + 3 * math.tan(math.radians(15)), 0),
        ),
    ],
)  # fmt: skip
def test_where_legs_lead(legs: list[str], last: tuple[float, ...] | None) -> None:
    if last is None:  # seconds of a bearing stay below 60
        with pytest.raises(LegsError, match="less than 60"):
            read("10 ft", *legs)
        return
    assert feet(read("10 ft", *legs))[-1] == pytest.approx(last, abs=1e-9)


def test_numbers_without_a_unit_are_in_those_of_the_file() -> None:
    legs = ["start at 1, 2, 3 heading east, box 900 x 800 x 700", "10", "right 90 at 1.2", "5 ft"]
    route = read_legs(legs, "SI")
    assert route.points == pytest.approx(np.array([[1, 2, 3], [11, 2, 3], [11, 2 - 5 * FOOT, 3]]))
    assert route.radii[1] == pytest.approx(1.2) and route.boxes[0] == pytest.approx((0.9, 0.8, 0.7))
    route = read_legs([*legs[:2], "right 90 at 36", "5"], "US")
    assert route.points[2] / FOOT == pytest.approx((11, -3, 3))
    assert route.radii[1] == pytest.approx(36 * INCH)
    assert route.boxes[0] == pytest.approx((900 * INCH, 800 * INCH, 700 * INCH))


def test_what_is_said_of_points() -> None:
    route = read(
        "120 ft", "right 90 at 36 in sweep, name first sweep, for reel",
        "15 ft",
        'pull point "V 2, old" for reel and machine, box 120 x 72 x 84 in, around sheave pit',
        "left 45", "20 ft in riser", "point tee", "5 ft", "left 90 elbow", "8 ft",
        "end 'roof \"A\"', no access",
        start="start pad at 1, 2 ft, -3 heading east in duct for machine, box 1000x900x800 mm",
    )  # fmt: skip
    assert route.names == ("pad", "first sweep", "V 2, old", "tee", "", 'roof "A"')
    machine, reel, none = frozenset({"machine"}), frozenset({"reel"}), frozenset[str]()
    assert route.access == (machine, reel, BOTH, none, none, none)
    assert route.conduits == ("duct", "", "riser", "", "", "")
    assert route.sheaves == ("", "", "pit", "", "", "")
    boxes = [route.boxes[0], route.boxes[2]]
    assert boxes[0] == pytest.approx((1.0, 0.9, 0.8))
    assert boxes[1] == pytest.approx((120 * INCH, 72 * INCH, 84 * INCH))
    assert route.radii == (None, pytest.approx(36 * INCH), None, None, RISER.elbow_radius, None)
    assert route.sources[4] == RISER.elbow_source != ""
    assert route.leg_of == (0, 2, 5, 7, 9, 11)
    assert route.points[0] / FOOT == pytest.approx((1, 2, -3))


def test_pull_points_and_ends_have_both_accesses_unless_said() -> None:
    route = read("10 ft", "pull point V2", "10 ft", "end")
    assert route.access == (BOTH, BOTH, BOTH)


def test_headings_are_from_grid_north_or_with_the_declination() -> None:
    legs = ("10 ft", "turn to heading east", "10 ft", "right 90", "10 ft")
    assert feet(read(*legs))[1:] == [[0, 10, 0], [10, 10, 0], [10, 0, 0]]
    east = read(*legs, declination=90.0)
    assert feet(east)[1:] == [[10, 0, 0], [10, -10, 0], [0, -10, 0]]


def test_the_echo_says_heading_slope_bend_and_the_total_since_the_last_pull_point() -> None:
    rows = read("10 ft", "right 90 at 36 in", "20 ft", "pull point", "5 ft", "up 90", "6 ft").echo
    assert [row.bearing for row in rows] == [0, 90, 90, None]
    assert [row.pitch for row in rows] == pytest.approx([0, 0, 0, 90])
    assert [row.length / FOOT for row in rows] == pytest.approx([10, 20, 5, 6])
    assert [row.turn for row in rows] == pytest.approx([0, 90, 0, 90])
    assert [row.total for row in rows] == pytest.approx([0, 90, 0, 90])
    assert [row.radius for row in rows] == [None, pytest.approx(36 * INCH), None, None]


# --- the known end --------------------------------------------------------------------------------


def test_the_least_change_closes_a_route() -> None:
    """Two legs north share what is missing; east is its own; the offset keeps its rise."""
    legs = ["120 ft", "offset 12 ft left at 30 degrees", "80 ft", "right 90", "100 ft"]
    end = f"end at 90, {200 + 12 * ROOT3 + 1!r}, 0"
    closing = read(*legs, end).closing
    assert closing is not None and closing.distance / FOOT == pytest.approx(math.hypot(2, 1))
    changes = {number: change / FOOT for number, _, change in closing.changes}
    assert changes == pytest.approx({1: 0.5, 3: 0.5, 5: 2.0})
    assert closing.left == pytest.approx(0, abs=1e-9)
    closed = read("120.5 ft", legs[1], "80.5 ft", "right 90", "102 ft", end).closing
    assert closed is not None and closed.distance == pytest.approx(0, abs=1e-9)


def test_changes_are_of_the_lengths_as_said() -> None:
    """A level length of a leg that falls, one along the conduit and one with a rise."""
    legs = [
        "100 ft horizontal, down 10 ft", "right 90 at 36 in", "50 ft along", "up 90 at 36 in",
        "20 ft", "turn to heading north at 36 in", "26 ft, down 10 ft", "end at 58, 128, 0",
    ]  # fmt: skip
    route = read(*legs)
    closing = route.closing
    assert closing is not None and closing.distance > 1
    changed = list(legs)
    for number, length, change in closing.changes:
        text = legs[number - 1]
        assert length / FOOT == pytest.approx(float(text.split()[0]))
        changed[number - 1] = text.replace(text.split()[0], f"{(length + change) / FOOT!r}", 1)
    again = read(*changed).closing
    assert again is not None and again.distance < 0.02 * closing.distance


def test_what_no_length_can_close_is_said() -> None:
    closing = read("10 ft", "right 90", "10 ft", "end at 10, 10, 4").closing
    assert closing is not None and closing.left / FOOT == pytest.approx(4)
    assert [change for _, _, change in closing.changes] == pytest.approx([0, 0], abs=1e-9)


# --- fittings by name -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turn", "radius"),
    [
        ("right 90 elbow", 24),
        ("right 90 standard elbow", 24),
        ("right 90 at standard elbow", 24),
        ("right 90 at 24 in elbow", 24),
        ("right 45 at 36 in sweep", 36),
        ("up 90 at standard 48 in sweep", 48),
        ("up 90 sweep, radius 48 in", 48),
        ("turn to heading N45E at 60 in sweep", 60),
        ("offset 12 ft left at 30 degrees, at 36 in sweep", 36),
    ],
)
def test_fittings_of_the_tables(turn: str, radius: float) -> None:
    assert read("30 ft", turn, "30 ft").radii[1] == pytest.approx(radius * INCH)


@pytest.mark.parametrize(
    ("turn", "words"),
    [
        ("right 90 at 40 in sweep", "nearest: 36 in, 48 in"),
        ("right 90 sweep", "made: 24 in, 30 in, 36 in, 48 in, 60 in"),
        ("right 50 elbow", "no factory elbow is made for a bend of 50°; nearest: 45° and 60°"),
        ("right 90 at 36 in elbow", "the standard elbow of PVC-40 5 has a radius of 24 in"),
        ("right 90 elbow in hose", "there is no conduit 'hose'"),
    ],
)
def test_unknown_fittings_name_the_nearest(turn: str, words: str) -> None:
    with pytest.raises(LegsError, match=re.escape(words)) as caught:
        read("30 ft", turn, "30 ft")
    assert [fault.leg for fault in caught.value.faults] == [2]


# --- mistakes -------------------------------------------------------------------------------------

WRONG = [  # text, column, message, fix
    ("right 90 att 36 in", 10, '"att" is not understood here; understood so far: "right 90"',
     'did you mean "at"? next can be: and up or down ANGLE; at RADIUS; elbow or sweep;'),
    ("rigth 90", 1, '"rigth" is not understood', 'did you mean "right"? next can be: a length'),
    ("right", 6, "more is required", "an angle: right 90"),
    ("right 190", 7, "greater than 0 and at most 180", ""),
    ("right 90 at", 12, "more is required", "a radius such as 36 in; standard elbow"),
    ("right 90 at 36 kg", 16, '"kg" is not understood', ""),
    ("right 90 at 36 in at 48 in", 19, '"at" is given twice', ""),
    ("right 90 swep", 10, '"swep" is not understood', 'did you mean "sweep"?'),
    ("right 90 at -4 in", 13, "must be greater than 0", ""),
    ("right 90 at 9000 ft", 13, "exceeds the maximum of", ""),
    ("left 45 and right 30", 13, '"right" is not understood', "up or down and an angle"),
    ("60 in riser", 7, 'write "60 ft in riser"', ""),
    ("1,200 ft", 3, "without commas", ""),
    ("1,5 ft", 3, "with a decimal point", ""),
    ("60 ft,", 7, "nothing follows the comma", "down 1 ft or falling 1 in 100"),
    ("5'-14\"", 1, "12 inches make a foot; write 6'-2", ""),
    ("1/0 ft", 1, "divides by zero", ""),
    ("1e999 ft", 1, "not a finite number", ""),
    ("0 ft", 1, "must be greater than 0", ""),
    ("-5 ft", 1, "must be greater than 0", ""),
    ("60 ft falling 1 in 0", 15, "two numbers greater than 0", ""),
    ("60 ft upp 1 ft", 7, '"upp" is not understood', 'did you mean "up"?'),
    ("offset 12 ft left", 18, "more is required",
     "at 30 degrees (usual: 10, 15, 22.5, 30, 45, 60)"),
    ("offset 12 ft at 30", 14, "left, right, up or down is missing", "next can be: left, right"),
    ("saddle 12 in", 13, "left, right, up or down is missing", "in a riser a heading"),
    ("kick 10 in up at 36 in", 18, "the kick by rise needs an angle; 36 in is a radius",
     "at ANGLE, such as at 30 degrees, radius 36 in"),
    ("offset 1 ft up at 1.2 m, at 30", 19, "the offset needs an angle; 1.2 m is a radius", ""),
    ("210 fet", 5, '"fet" is not understood', 'did you mean "feet"?'),
    ("right 90 degres", 10, '"degres" is not understood', 'did you mean "degrees"?'),
    ("offset 3 ft left and 4 ft right at 30", 22, "left or right, and up or down", ""),
    ("rolled offset 3 ft left at 30", 25, '"at" is not understood', "and the other rise"),
    ("offset 12 ft left at 95", 22, "less than 90", ""),
    ("4-bend saddle 6 in up at 30", 28, "more is required", "over LENGTH"),
    ("turn to heading norht", 17, '"norht" is not understood', 'did you mean "north"?'),
    ("turn to heading N95E", 17, "at most 90 degrees", ""),
    ("turn to heading 400", 17, "from 0 to 360", ""),
    ("pull pont V2", 6, '"pont" is not understood', 'did you mean "point"?'),
    ("pull point V2 for real", 19, '"real" is not understood', 'did you mean "reel"?'),
    ("pull point V2, box 120 x 72", 28, "more is required", "the next number of the box"),
    ("", 1, "the text is empty", "a length such as 120 ft"),
    ("x" * 600, 1, "more than 500 characters", ""),
]  # fmt: skip


@pytest.mark.parametrize(("text", "column", "message", "fix"), WRONG)
def test_a_mistake_is_told_with_its_place(text: str, column: int, message: str, fix: str) -> None:
    with pytest.raises(LegsError) as caught:
        read("10 ft", text, "10 ft")
    (fault,) = caught.value.faults
    assert (fault.leg, fault.column) == (2, column)
    assert message in fault.message and fix in fault.fix
    assert fault.message.startswith('leg 3 ("') and f"column {column}: " in fault.message


@pytest.mark.parametrize(
    ("legs", "leg", "message"),
    [
        (["10 ft", "up 90", "5 ft", "left 90", "5 ft"], 4, "goes straight up here: no left"),
        (["10 ft", "up 90", "5 ft", "offset 1 ft left at 30", "5 ft"], 4, "straight up here"),
        (["10 ft", "up 90 and right 45 at 36 in", "5 ft"], 2, "where right 45 has no meaning"),
        (["10 ft", "left 20 and down 90", "5 ft"], 2, "ends vertical, where left 20 has no"),
        (["10 ft", "up 30", "5 ft", "up 60 and left 9", "5 ft"], 4, "where left 9 has no meaning"),
        (["10 ft", "up 90", "5 ft, up 1 ft"], 3, "the route is vertical here"),
        (["10 ft", "up 30", "5 ft", "up 90", "5 ft"], 4, "up 90 goes past vertical"),
        (["10 ft", "right 90", "left 90", "5 ft"], 3, "no length between this turn and leg 3"),
        (["right 90", "5 ft"], 1, "a turn at the start"),
        (["10 ft", "right 90"], 2, "no length after the last turn"),
        (["10 ft", "right 90", "end"], 3, "no length between leg 3 and the end"),
        (["10 ft", "end", "5 ft"], 3, "a leg after the end"),
        (["10 ft", "start at 0, 0, 0 heading east", "5 ft"], 2, "a second start"),
        (["end"], 1, "no length between the start and this point"),
        (["10 ft", "pull point A", "pull point B", "5 ft"], 3, "the same point as leg 3"),
        (["10 ft, up 10 ft"], 1, "rises as much as its length"),
        (["10 ft along, up 1 ft"], 1, "along the conduit with a rise"),
        (["10 ft", "right 90 in riser", "5 ft in duct"], 3, "another conduit for the same point"),
        (["10 ft", "right 180", "5 ft"], 2, "turns back on itself"),
        (["90000 m", "90000 m"], 2, "leaves the grid"),
        (["10 ft", "turn to heading east up 3 ft", "5 ft"], 2, "a rise without a length"),
        (["10 ft", "turn to heading up rising 3%", "5 ft"], 2, "exclude each other"),
        (["10 ft", "offset 1 ft north at 30", "5 ft"], 2, "for an offset in a vertical run"),
        ([], 0, "the route has no length"),
    ],
)
def test_legs_that_make_no_route(legs: list[str], leg: int, message: str) -> None:
    with pytest.raises(LegsError, match=re.escape(message)) as caught:
        read(*legs)
    assert [fault.leg for fault in caught.value.faults] == [leg]
    assert caught.value.problems[0].fix


def test_the_first_leg_is_the_start_with_point_and_heading() -> None:
    for first, message in [
        ("10 ft", "the first leg is not the start"),
        ("start pad heading north", "the start has no point"),
        ("start pad at 0, 0, 0", "the start has no heading"),
        ("start pad at 0, 0", "more is required"),
    ]:
        with pytest.raises(LegsError, match=message):
            read("10 ft", start=first)
    with pytest.raises(LegsError, match="elbow: no conduit is given"):
        read_legs(["start at 0, 0, 0 heading east", "5 ft", "right 90 elbow", "5 ft"], "SI")
    with pytest.raises(LegsError, match="needs the radius at leg 3"):
        read_legs(["start at 0, 0, 0 heading east", "5 ft", "right 90", "5 ft along"], "SI")
    with pytest.raises(LegsError, match="no length"):
        read_legs([], "SI")


def test_an_angle_without_its_unit_may_be_followed_by_a_conduit() -> None:
    for onward in ("in riser", "elbow", ", radius 36 in"):
        assert read("50 ft", f"offset 12 ft left at 30 {onward}", "50 ft").legs[2].angle == 30


def test_every_text_that_is_wrong_is_told() -> None:
    with pytest.raises(LegsError) as caught:
        read("10 ftt", "rigth 90", "5 ft")
    assert [fault.leg for fault in caught.value.faults] == [1, 2]


# --- written anew ---------------------------------------------------------------------------------


def test_legs_of_a_route_read_as_a_person_writes_them() -> None:
    legs = (
        "start pad at 0, 0, -3 ft heading north in duct for reel",
        "120 ft",
        "right 90 at 36 in",
        "180 ft, down 1 ft",
        "pull point V2 for reel and machine, box 120 x 72 x 84 in",
        "left 30",
        "20 ft horizontal, up 3 ft",
        "bend",
        "5 ft",
        "up 45 at 36 in, name kick",
        "10 ft",
        "up 45",
        "60 ft in riser",
        "turn to heading 30.5 degrees at 48 in",
        "10 ft",
        'end "at the roof", no access',
    )
    read = read_legs(legs, "US", conduits=CONDUITS)
    conduit, conduits = DUCT, []
    vertices = []
    for i, point in enumerate(read.points.tolist()):
        conduit = CONDUITS[read.conduits[i] or conduit.name]
        conduits.append(conduit)
        elbow = legs[read.leg_of[i]] in ("bend", "up 45")
        bend = read.radii[i] or (24 * INCH if elbow else 0.0)
        source = "standard elbow" if elbow else "given"
        x, y, z = point
        name, access, box = read.names[i], read.access[i], read.boxes[i]
        vertices.append(Vertex((x, y, z), name, bend, source, access, box))
    assert legs_of(Route(tuple(vertices), tuple(conduits[:-1])), "US") == legs


@pytest.mark.parametrize("system", ["US", "SI"])
def test_points_of_a_survey_give_round_turns_and_lengths(system: str) -> None:
    """Points to nine or ten decimals are not quite where round legs lead; the legs are round."""
    unit, decimals = {"US": ("ft", 9), "SI": ("m", 10)}[system]
    legs = (
        f"start at 10, 20, -3 {unit} heading 30 degrees in duct for reel and machine",
        f"100 {unit}", "left 45", f"40 {unit}", "right 90", f"60 {unit}", "left 135",
        f"0.5 {unit}", "right 30", f"300 {unit}", "up 90", f"60 {unit}",
        "turn to heading 210 degrees", f"16 {unit}", "right 90", f"33.25 {unit}",
        "end for reel and machine",
    )  # fmt: skip
    read = read_legs(legs, system, conduits=CONDUITS)
    scale = FOOT if system == "US" else 1.0
    points = (np.round(read.points / scale, decimals) * scale).tolist()
    ends = (BOTH, *[frozenset()] * (len(points) - 2), BOTH)
    vertices = tuple(
        Vertex((x, y, z), access=access) for (x, y, z), access in zip(points, ends, strict=True)
    )
    assert legs_of(Route(vertices, (DUCT,) * (len(points) - 1)), system) == legs


def test_two_thousand_legs_are_read_at_once() -> None:
    legs = ["start pad at 0, 0, 0 heading north in duct"]
    for i in range(1000):
        legs += ["12.5 ft", f"{'right' if i % 2 else 'left'} 10 at 36 in"]
    legs += ["3 ft", "end"]
    started = time.process_time()
    assert len(read_legs(legs, "US").points) == 1002
    assert time.process_time() - started < 2.0  # 0.3 s on two quiet cores


@pytest.mark.parametrize(
    "climb", ["", "up 30 at 36 in", "down 72.5 at 36 in", "right 33 and up 10"]
)
@pytest.mark.parametrize(
    ("shape", "rise", "angles"),
    [
        ("offset 3 ft left at 22.5 degrees", 3, (22.5, 22.5)),
        ("offset 3 ft down at 30 degrees", 3, (30, 30)),
        ("rolled offset 3 ft right and 4 ft up at 10 degrees", 5, (10, 10)),
        ("saddle 2 ft up at 22.5 degrees", 0, (22.5, 45, 22.5)),
        ("saddle 2 ft left over 3 ft at 30 degrees", 0, (30, 30, 30, 30)),
    ],
)
def test_shapes_lie_in_a_plane_with_the_way_ahead_whatever_its_climb(
    climb: str, shape: str, rise: float, angles: tuple[float, ...]
) -> None:
    """The way goes on parallel, beside the old one by the rise; each bend has its angle."""
    lead = [climb, "20 ft"] if climb else []
    route = read("20 ft", *lead, shape, "20 ft")
    ways = np.diff(route.points, axis=0)
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    before = ways[-len(angles) - 1]
    assert ways[-1] == pytest.approx(before, abs=1e-12)
    reach = route.points[-1] - route.points[-len(angles) - 2]
    beside = np.linalg.norm(reach - (reach @ before) * before)
    assert beside / FOOT == pytest.approx(rise, abs=1e-9)
    turns = [row.turn for row in route.echo[-len(angles) :]]
    assert turns == pytest.approx(angles, abs=1e-9)


@pytest.mark.parametrize("slope", ["falling 1%", "rising 1 in 4", ", down 10 ft"])
@pytest.mark.parametrize(
    ("shape", "beside"),
    [  # to the right, and up across the slope
        ("offset 12 ft left at 30 degrees", (-12, 0)),
        ("offset 2 ft down at 45 degrees", (0, -2)),
        ("rolled offset 3 ft right and 4 ft up at 30 degrees", (3, 4)),
        ("saddle 2 ft right over 3 ft at 30 degrees", (0, 0)),
        ("saddle 2 ft up at 22.5 degrees, radius 36 in", (0, 0)),
    ],
)
def test_an_offset_or_saddle_on_a_slope_keeps_it(
    slope: str, shape: str, beside: tuple[float, float]
) -> None:
    """Trigonometry: the way goes on with its grade, beside the old one in the slope's own axes."""
    grade = {"falling 1%": -0.01, "rising 1 in 4": 0.25, ", down 10 ft": -0.1 / math.sqrt(0.99)}
    angle = math.atan(grade[slope])
    ahead = np.array([0, math.cos(angle), math.sin(angle)])
    route = read(f"100 ft {slope}", shape, "50 ft")
    points = route.points / FOOT
    assert points[1] == pytest.approx(100 * ahead, abs=1e-9)
    assert points[-1] - points[-2] == pytest.approx(50 * ahead, abs=1e-9)
    up = np.array([0, -math.sin(angle), math.cos(angle)])
    crossed = points[-2] - points[1]
    assert (crossed[0], crossed @ up) == pytest.approx(beside, abs=1e-9)
    said = float(re.findall(r"at ([\d.]+) degrees", shape)[0])
    assert route.echo[1].turn == pytest.approx(said) == pytest.approx(route.echo[-1].turn)


def test_a_bend_straight_after_an_offset_on_a_slope_is_on_the_slope_too() -> None:
    legs = ("offset 12 ft left at 30 degrees, radius 36 in", "right 90 at 36 in", "10 ft")
    points = read("100 ft falling 10%", *legs).points
    ahead = points[-2] - points[-3]
    assert ahead[2] / ahead[1] == pytest.approx(-0.1)


@pytest.mark.parametrize(
    ("beside", "radius"), [("radius 36 in", 36), ("at 48 in sweep", 48), ("", 24), ("elbow", 24)]
)
def test_a_saddle_of_three_bends_clears_its_rise(beside: str, radius: float) -> None:
    """The crown of the center arc is 12 in up, R (1 / cos 22.5 - 1) below the corner."""
    route = read("100 ft", f"saddle 12 in up at 22.5 degrees {beside}", "100 ft")
    corner = route.points[2][2] / INCH
    assert corner == pytest.approx(12 + radius * (1 / math.cos(math.radians(22.5)) - 1))
    path = fillet(route.points, [0, *[radius * INCH] * 3, 0])
    crown = path.point(np.linspace(0, path.length, 20_001))[:, 2].max() / INCH
    assert crown == pytest.approx(12, abs=1e-4)


def test_the_rise_of_a_saddle_of_three_bends_needs_its_radius() -> None:
    legs = ["start at 0, 0, 0 heading east", "5 ft", "saddle 1 ft up at 30", "5 ft"]
    with pytest.raises(LegsError, match=r"leg 3 .*: the rise needs the radius") as caught:
        read_legs(legs, "US")
    assert caught.value.problems[0].fix == "give it: radius 36 in"
