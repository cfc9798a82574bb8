"""Where the machine can stand: rooms and meshes whose answer can be seen."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull
from route3d.model import LeadOff, Practice, Room
from route3d.planning.placement.checks import LOOK
from route3d.planning.placement.rope_legs import pulling_end
from route3d.planning.placement.site import SiteMesh, mesh_floor, surroundings
from route3d.planning.placement.stands import PlaceRules, StandingMachine, ground_at
from route3d.planning.pull_plan.findings import place_findings
from route3d.units import render
from tests.support.jobs import along, conduit, run
from tests.support.places import (
    AHEAD,
    ALLOWANCES,
    CLEAR,
    CORNER,
    HALL,
    HEIGHT,
    LENGTH,
    LIMIT,
    LINE,
    MACHINE,
    WIDTH,
    block,
    box,
    hall,
    reasons,
    same_place,
    search,
    slab,
    turned,
)

# --- straight ahead ------------------------------------------------------------------------------


def test_an_empty_room_takes_the_machine_in_line_and_clear() -> None:
    found = search(hall())
    best = found.best[0]
    # the front at 0.9 m, 0.9 m clear of the wall behind the conduit: nothing shorter is as clear
    assert best.position == pytest.approx((CLEAR + LENGTH / 2, 0, 0), abs=1e-9)
    assert best.yaw == pytest.approx(math.pi)
    assert best.lead_angle == 0
    assert best.distance == pytest.approx(CLEAR)
    assert best.clear_least == pytest.approx(CLEAR)
    assert best.sides == ("left", "right", "rear")
    assert best.rope[0] == (0, 0, LINE)
    assert best.rope[1] == pytest.approx((CLEAR, 0, LINE))
    assert best.notes == ()
    assert render(found.why, "SI") == (
        f"best of {found.good} acceptable locations of {found.tried:,} tried: "
        "rope angle 0.0° (limit 5.0°), 0.90 m clear, 0.90 m of rope"
    )


@pytest.mark.parametrize("above", [0.15, -0.15])
def test_a_conduit_off_the_machines_line_needs_distance(above: float) -> None:
    end = pulling_end((0, 0, LINE + above), (1, 0, 0))
    least = abs(above) / math.sin(LIMIT)  # length of the sloping rope at the largest lead angle
    found = search(hall(), end, reach=(0, 10))
    assert found.best
    for place in found.best:
        assert place.distance >= least
        assert place.lead_angle == pytest.approx(math.asin(0.15 / place.distance), abs=1e-9)
    assert not search(hall(), end, reach=(0, least - 0.01)).best
    steps = search(hall(), end, reach=(0, least + 0.02), step=0.01)
    assert steps.best[0].distance == pytest.approx(least, abs=0.02)


def test_a_column_in_the_way_stops_the_rope() -> None:
    found = search(hall(box(3, -0.5, 3.5, 0.5)))
    assert max(p.position[0] for p in found.best) <= 3 - LENGTH / 2
    assert reasons(found)["rope", "obstacle 1 in hall"] > 0
    assert reasons(found)["machine", "obstacle 1 in hall"] > 0
    near = [f for f in found.failures if f.reason == "machine" and f.what.startswith("obstacle")]
    # the nearest place in the obstacle: the first row whose rear passes 3 m
    assert near[0].example == pytest.approx((2.5, 0, 0))


def test_a_room_split_by_a_wall() -> None:
    found = search(hall(box(2, -5, 2.2, 5)), reach=(2.0, 10))
    assert not found.best
    rope = next(f for f in found.failures if f.reason == "rope" and "obstacle" in f.what)
    words = f"{rope.count} locations: the rope would touch obstacle 1 in hall"
    assert render(rope.text, "US") == words


@pytest.mark.parametrize("ceiling", [1.98, 1.97])
def test_people_must_stand_upright_beside_it(ceiling: float) -> None:
    found = search(hall(ceiling=ceiling))
    assert bool(found.best) == (ceiling >= 1.98)
    assert (("head room", "the ceiling of hall") in reasons(found)) == (ceiling < 1.98)


@pytest.mark.parametrize("ceiling", [2.65, 2.64])
def test_a_tall_machine_needs_head_room(ceiling: float) -> None:
    tall = replace(MACHINE, envelope=(LENGTH, WIDTH, 2.5))
    found = search(hall(ceiling=ceiling), machine=tall, headroom=0.15)
    assert bool(found.best) == (ceiling >= 2.65)
    if not found.best:
        low = next(f for f in found.failures if f.reason == "head room")
        assert render(low.text, "SI").endswith("too little head room under the ceiling of hall")


def test_a_beam_of_a_mesh_takes_head_room_too() -> None:
    beam = block("beam", (0.5, -5, HEIGHT + 0.1), (8.9, 5, HEIGHT + 0.2))
    free = surroundings((hall(),), [beam])
    low = replace(MACHINE, clearance=None)
    assert not search(free, machine=low).best
    assert reasons(search(free, machine=low))["head room", "beam"] > 0
    assert search(free, machine=low, headroom=0.1 - 1e-6).best


@pytest.mark.parametrize(("width", "fits"), [(WIDTH + CLEAR, True), (WIDTH + CLEAR - 0.02, False)])
def test_one_side_for_the_operator_is_the_least(width: float, fits: bool) -> None:
    corridor = Room("corridor", box(0, -WIDTH / 2, 9, width - WIDTH / 2), 0.0, 3.0)
    found = search(corridor)
    assert bool(found.best) == fits
    if fits:
        assert found.best[0].sides == ("right", "rear")  # from behind, +y is on the right
        assert found.best[0].clear_least == pytest.approx(0, abs=1e-9)
        assert (
            render(found.best[0].notes[0], "SI")
            == "working clearance of 0.90 m only at the right and rear"
        )
    else:
        blocked = next(f for f in found.failures if f.reason == "clearance")
        # 5,525 of the grid, and 9 x 9 of the finer grid round each of three but for its middle
        assert render(found.why, "US").startswith("none of 5,765 locations is acceptable; closest")
        assert render(found.why, "US").endswith(render(blocked.text, "US"))
        assert render(blocked.text, "US").endswith(
            "locations: less than 3.0 ft of working clearance from the wall of corridor on both "
            "sides"
        )


def test_a_wall_right_behind_leaves_the_rear_without_room() -> None:
    short = Room("short", box(0, -5, 0.85 + LENGTH + 0.35, 5), 0.0, 3.0)
    best = search(short, reach=(0.85, 10)).best[0]
    assert best.sides == ("left", "right")
    assert best.clear_least == pytest.approx(0.35, abs=1e-9)  # the shortest rope there may be


@pytest.mark.parametrize(("under", "fits"), [(1.97, False), (1.99, True)])
def test_nobody_works_stooping_under_a_duct(under: float, fits: bool) -> None:
    duct = block("duct", (0.5, -4.9, under), (8.9, 4.9, 2.5))
    found = search(surroundings((hall(),), [duct]), reach=(0.6, 10))
    assert bool(found.best) == fits
    assert (("clearance", "duct") in reasons(found)) != fits


def test_the_best_place_weighs_the_lead_angle_against_the_length_of_rope() -> None:
    """0.15 m off the line in the open: asin(0.15/d)/5° + 0.3 d/10 is least at 7.57 m."""
    yard = Room("yard", box(-30, -30, 30, 30), 0.0)
    best = search(yard, pulling_end((0, 0, LINE + 0.15), (1, 0, 0))).best[0]
    assert best.distance == pytest.approx(math.sqrt(0.15 / LIMIT / 0.03), abs=0.05)  # finer step


def test_a_window_between_two_rows_of_the_grid_is_found() -> None:
    """Rope 3 m + machine 1.2 + drawbar 1 + vehicle 3.75 m: 0.05 m to spare before the wall.

    Rows of 0.25 m put the front at 2.9 and 3.15 m: none of them fits, the finer row at 3 m does.
    """
    rules = {"reach": (3.0, 10.0), "vehicle": (1.0, 3.75, 1.8)}
    found = search(hall(), **rules)
    assert found.best[0].distance == pytest.approx(3.0, abs=1e-9)
    assert found.best[0].position == pytest.approx((3.6, 0, 0), abs=1e-9)
    assert found.tried > 5525 and found.good < 81
    for longer, fits in ((3.8, True), (3.81, False)):
        rules["vehicle"] = (1.0, longer, 1.8)
        assert bool(search(hall(), **rules).best) is fits


def test_the_finer_grid_moves_the_best_place_to_where_it_is_best() -> None:
    """A wall behind: 0.9 m clear of both walls takes a room of 0.9 + 1.2 + 0.9 m; 2.87 m is less.

    The gaps in front and behind share what there is: 0.835 m, which 0.25 m steps miss by 0.08.
    """
    short = Room("short", box(0, -5, 2.87, 5), 0.0, 3.0)
    best = search(short).best[0]
    assert best.clear_least == pytest.approx(0.835, abs=0.025)


# --- room for the head ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("out", "lacks"), [(7.79, 0.0), (7.8, 0.0), (7.81, 0.01), (8.5, 0.7)], ids=str
)
def test_the_longest_rope_ranks_first_where_the_head_lacks_room(out: float, lacks: float) -> None:
    """9 m hold 7.8 m of rope before a machine of 1.2 m: inside, at it and beyond.

    0.82 m beside the rope for half a machine and 0.9 m for the operator leave it no other line.
    """
    found = search(Room("corridor", box(0, -0.41, 9, 1.31), 0.0, 3.0), out=out)
    first, *others = found.best
    assert first.lacks(out) == pytest.approx(lacks, abs=1e-9)
    assert first.distance == pytest.approx(
        7.8, abs=1e-9
    )  # 7.8 m: fine rows, coarse ones end at 7.65
    assert all(p.lacks(out) > first.lacks(out) for p in others)
    words = (
        "longest rope of {} locations where the machine fits"
        if lacks
        else "best of {} acceptable locations"
    )
    assert render(found.why, "SI").startswith(words.format(found.good))


def test_a_place_with_room_for_the_head_ranks_before_a_better_one_without() -> None:
    assert search(hall()).best[0].distance == pytest.approx(CLEAR)  # the best by score
    found = search(hall(), out=3.0)
    # the shortest that leaves room: all there is clear, so the rope's length alone is weighed
    assert found.best[0].distance == pytest.approx(3.0, abs=1e-9)
    assert found.best[0].lacks(3.0) == 0.0
    assert [p.lacks(3.0) for p in found.best] == sorted(p.lacks(3.0) for p in found.best)


def test_a_place_off_the_line_counts_where_only_its_rope_is_long_enough() -> None:
    """Off the line by 0.5 m the rope of 7.8 m is 7.816 m long."""
    assert search(hall(), out=7.81).best[0].lacks(7.81) == 0.0


def test_no_machine_leaves_the_line_for_a_little_more_rope() -> None:
    """Off the line by 0.5 m the rope of 7.8 m is 0.016 m longer: not worth it, it lacks 0.7 m."""
    best = search(hall(), out=8.5).best[0]
    assert best.position[1] == pytest.approx(0, abs=1e-9)
    assert best.lead_angle == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("half", "fits"), [(0.06, True), (0.04, False)])
@pytest.mark.parametrize("as_mesh", [False, True])
def test_a_doorway_lets_the_rope_through(half: float, fits: bool, as_mesh: bool) -> None:
    if as_mesh:
        walls = [
            block("wall", (4, half, 0.1), (4.2, 5, 3)),
            block("wall", (4, -5, 0.1), (4.2, -half, 3)),
        ]
        found = search(surroundings((hall(),), walls), reach=(4.5, 10.0))
    else:
        rooms = (
            Room("one", box(0, -5, 4, 5), 0.0, 3.0),
            Room("door", box(3.9, -half, 4.3, half), 0.0, 3.0),
            Room("two", box(4.2, -5, 9, 5), 0.0, 3.0),
        )
        found = search(surroundings(rooms), reach=(4.5, 10.0))
    assert bool(found.best) == fits
    assert any(f.reason == "rope" for f in found.failures)


def test_a_mesh_and_a_polygon_in_the_same_place_give_the_same() -> None:
    for shape in ((2.6, -1.4, 3.3, -0.2), (4, 0.3, 4.5, 2), (4, -0.2, 8, 0.1)):
        drawn = search(hall(box(*shape)), step=0.2)
        x0, y0, x1, y1 = shape
        solid = block("obstacle 1 in hall", (x0, y0, 0), (x1, y1, 3))
        meshed = search(surroundings((hall(),), [solid]), step=0.2)
        for p, q in zip(meshed.best, drawn.best, strict=True):
            assert same_place(p, replace(q, position=turned(q.position), yaw=q.yaw + math.pi / 2))
        assert reasons(meshed) == reasons(drawn)
        assert meshed.good < search(hall(), step=0.2).good


def test_no_machine_stands_inside_a_solid() -> None:
    """Nothing touches a machine inside a great block: the rope from outside has to."""
    found = search(surroundings((hall(),), [block("tank", (2, -3, 0.01), (8.5, 3, 2.9))]))
    assert found.best[0].position[0] <= 2 - LENGTH / 2
    assert found.good == search(hall(box(2, -3, 8.5, 3))).good
    assert reasons(found)["rope", "tank"] > 0


# --- turns of the rope ---------------------------------------------------------------------------


def test_a_riser_end_needs_a_lead_off_and_takes_one() -> None:
    riser = pulling_end((4, 0, 0), (0, 0, 1))
    without = search(hall(), riser)
    assert not without.best
    assert render(without.why, "SI") == (
        "the rope leaves the conduit 90.0° off level; limit 5.0°: a lead-off sheave must turn it"
    )
    best = search(hall(), riser, lead_off=CORNER).best[0]
    assert best.lead_angle == pytest.approx(0, abs=1e-12)
    assert best.rope[1] == pytest.approx((4, 0, LINE))  # the sheave hangs at the machine's line
    assert best.rope[2][2] == pytest.approx(LINE)
    assert best.distance == pytest.approx(LINE + math.dist((4, 0), best.rope[2][:2]))
    assert math.dist(best.rope[1], best.rope[2]) >= CORNER[0].sheave.radius - 1e-9  # type: ignore[union-attr]


def test_a_riser_under_a_low_ceiling_has_no_room_for_the_sheave() -> None:
    machine = replace(MACHINE, line_height=2.2, envelope=(LENGTH, WIDTH, 1.5))
    riser = pulling_end((4, 0, 0), (0, 0, 1))
    assert not search(hall(ceiling=2.1), riser, machine, CORNER).best
    assert search(hall(ceiling=2.3), riser, machine, CORNER).best


def test_round_a_corner_the_machine_may_stand_anywhere_square_to_the_conduit() -> None:
    found = search(hall(box(4, -5, 9, 5)), lead_off=CORNER)
    assert {round(math.degrees(p.yaw)) for p in found.best} == {-90, 90}  # so there are some
    for p in found.best:
        corner = np.array(p.rope[1])
        assert corner[1:] == pytest.approx((0, LINE))
        np.testing.assert_allclose(p.rope[2][0], corner[0], atol=1e-9)


def test_a_rope_turned_over_the_conduit_end_turns_there() -> None:
    bare = (LeadOff(math.pi / 2),)
    found = search(hall(), pulling_end((4, 0, LINE), (0, 0, 1)), lead_off=bare)
    assert found.best
    for p in found.best:
        assert p.rope[0] == p.rope[1] == (4, 0, LINE)
        assert p.lead_angle == pytest.approx(0, abs=1e-12)


def test_two_turns_bring_the_rope_past_a_column() -> None:
    """Beyond a column as wide as the hall but for one side there is only the way round it."""
    nearly = hall(box(3, -5, 3.4, 1))
    assert not search(nearly, reach=(4.0, 10)).best
    found = search(nearly, lead_off=CORNER * 2, reach=(4.0, 10), keep=40)
    beyond = [p for p in found.best if p.position[0] > 4 and math.cos(p.yaw) < -0.9]
    assert beyond
    for p in beyond:
        assert p.rope[1][0] < 3 < p.rope[3][0]
        assert p.rope[2][1] >= 1.05 - 1e-9  # the rope's room clear of the column
        legs = np.linalg.norm(np.diff(np.array(p.rope), axis=0), axis=1)
        assert (legs >= [0.2 - 1e-9, 0.4 - 1e-9, 0.2 - 1e-9]).all()


# --- floors --------------------------------------------------------------------------------------


def test_the_floor_is_the_highest_surface_below_and_must_carry_all_feet() -> None:
    floors = [slab(-6, -6, 3, 6, -1.0), slab(3, -6, 9, 6), slab(-6, -6, 9, 6, 4.0)]
    end = pulling_end((1, 0, LINE), (1, 0, 0))
    found = search(surroundings((), floors), end)
    assert all(p.position[2] == 0 for p in found.best)
    assert min(p.position[0] for p in found.best) - LENGTH / 2 >= 3 - 1e-9
    assert reasons(found)["floor", ""] > 0


def test_a_hole_in_the_floor_carries_no_machine() -> None:
    floors = [slab(-11, -11, 11, -2), slab(-11, 2, 11, 11), slab(-11, -2, 2, 2), slab(5, -2, 11, 2)]
    found = search(surroundings((), floors))
    assert all(p.position[0] <= 1.4 + 1e-9 or p.position[0] >= 5.6 - 1e-9 for p in found.best)
    assert reasons(found)["floor", ""] > 0


def test_without_floor_grade_is_taken_and_said() -> None:
    found = search(surroundings((), [block("switchboard", (5, -1, -1), (6, 1, 2))]))
    assert found.best[0].position[2] == pytest.approx(0)  # level with the rope
    assert "Floor level not given; assumed at elev. 0.00 m" in [
        render(n, "SI") for n in found.best[0].notes
    ]


def test_a_hole_under_the_finer_grid_stays_one() -> None:
    """Under most of the grid there is a floor: a few places round a hole do not make it grade."""
    site = surroundings((), [slab(-11, -11, 11, -2), slab(-11, 2, 11, 11)])
    stand = StandingMachine.of(AHEAD, MACHINE, (LENGTH, WIDTH, HEIGHT), LIMIT, PlaceRules())
    most = ground_at(site, stand, np.array([(0.0, 5.0), (0.0, -5.0), (0.0, 0.0)]))
    few = np.array([(0.0, 1.0), (0.0, 3.0), (0.0, -1.0)])
    assert np.isnan(ground_at(site, stand, few, most).floor).tolist() == [True, False, True]
    assert ground_at(site, stand, few).floor.tolist() == [0.0, 0.0, 0.0]  # by themselves: grade
    grade = ground_at(site, stand, few)
    assert ground_at(site, stand, few[:1], grade).floor.tolist() == [0.0]


def test_a_sloping_floor_is_read_at_the_place() -> None:
    ramp = SiteMesh(
        "ramp",
        np.array([(0, -5, 0), (10, -5, 1), (10, 5, 1), (0, 5, 0)], dtype=float),
        np.array([(0, 1, 2), (0, 2, 3)]),
    )
    places = np.array([(2.5, 1.0), (7.0, -4.0), (11.0, 0.0)])
    floor = mesh_floor(surroundings((), [ramp]), places, 5.0)
    np.testing.assert_allclose(floor[:2], (0.25, 0.7), atol=1e-12)
    assert math.isnan(floor[2])


def test_a_platform_lifts_the_machine_to_a_high_conduit() -> None:
    high = pulling_end((0, 0, LINE + 1.2), (1, 0, 0))
    assert not search(hall(), high, reach=(0.5, 1.5)).best
    assert not search(hall(), high, lift=1.0, reach=(0.5, 1.5)).best
    best = search(hall(), high, lift=1.3, reach=(0.5, 1.5)).best[0]
    assert best.position[2] == pytest.approx(1.2)
    assert best.lead_angle == pytest.approx(0, abs=1e-9)
    assert 0.5 <= best.distance <= 1.5


# --- what is not given ---------------------------------------------------------------------------


def test_without_a_site_one_place_straight_ahead_unchecked() -> None:
    found = search(surroundings())
    (place,) = found.best
    assert place.position == pytest.approx((ALLOWANCES.pull_slack + LENGTH / 2, 0, 0))
    assert math.isnan(place.clear_least)
    assert (found.tried, found.good, found.failures) == (0, 0, ())
    assert render(found.why, "SI") == "no room in the model: location not checked"
    assert "no room in the model: location not checked" in [render(n, "SI") for n in place.notes]


def test_a_machine_without_sizes() -> None:
    found = search(hall(), machine=replace(MACHINE, envelope=None))
    assert not found.best
    assert render(found.why, "SI") == "machine puller has no envelope: location not searched"
    bare = replace(MACHINE, line_height=None, clearance=None)
    notes = [render(n, "SI") for n in search(hall(), machine=bare).best[0].notes]
    assert notes == [
        "line height of puller not given: half its height (0.55 m) used",
        "working clearance of puller not given: not checked",
    ]


def test_a_lead_off_that_turns_the_rope_upwards_leads_to_no_place() -> None:
    end = pulling_end((0, 0, LINE), (1, 0, 0))
    found = search(hall(), end, lead_off=(LeadOff(math.radians(20)),))
    assert found.best  # to the left or right it stays level
    up = search(hall(), pulling_end((0, 0, LINE), (0, 0, 1)), lead_off=(LeadOff(0.5),))
    assert not up.best
    assert render(up.why, "SI") == (
        "no path through the lead-off brings the rope within 5.0° of level"
    )


@pytest.mark.parametrize("given", [False, True])
def test_a_vehicle_without_a_footprint_is_said_to_be_unchecked(given: bool) -> None:
    notes = [render(n, "SI") for n in search(hall(), vehicle_note=not given).best[0].notes]
    assert notes == ["vehicle footprint not given: not checked"] * (not given)


def test_a_machine_square_to_the_building_where_the_conduit_is_not() -> None:
    skew = math.radians(3)
    end = pulling_end((0, 0, LINE), (math.cos(skew), math.sin(skew), 0))
    corridor = Room("corridor", box(0, -0.7, 9, 1.6), 0.0, 3.0)
    yaws = {round(math.degrees(p.yaw) % 360, 6) for p in search(corridor, end, keep=50).best}
    assert yaws <= {180.0, 183.0}
    # 1.75 m wide: 0.8 m of machine and 0.9 m beside it fit only square to the walls
    narrow = search(Room("narrow", box(0, -0.5, 9, 1.25), 0.0, 3.0), end).best
    assert {round(math.degrees(p.yaw) % 360, 6) for p in narrow} == {180.0}
    for p in search(corridor, end, keep=50).best:
        rope = np.subtract(p.rope[1], p.rope[0])
        off = [
            abs(math.atan2(rope[1], rope[0]) - a) for a in (skew, p.yaw % (2 * math.pi) - math.pi)
        ]
        assert p.lead_angle == pytest.approx(max(off), abs=1e-9)


def test_gaps_are_measured_to_two_meters() -> None:
    wide = Room("yard", box(-20, -20, 20, 20), 0.0)
    place = search(wide).best[0]
    assert place.clear_least == math.inf
    assert f"no obstacle within {LOOK:.2f} m" in render(place.reasons, "SI")


def test_rooms_above_each_other_are_told_by_the_conduit() -> None:
    vault = Room("vault", HALL, -4.0, -1.0)
    street = Room("street", HALL, 0.0)
    both = surroundings((vault, street))
    deep = pulling_end((0, 0, LINE - 4), (1, 0, 0))
    assert search(both).best[0].position[2] == 0
    assert search(both, deep).best[0].position[2] == -4
    # out of the vault by its hatch: up over one sheave, level over the next, into the street
    out = search(both, pulling_end((4, 0, -2), (1, 0, 0)), lead_off=CORNER * 2, level=0.0)
    assert out.best[0].position[2] == 0
    assert out.best[0].rope[1][2] == pytest.approx(-2)
    assert out.best[0].rope[2][2] == pytest.approx(LINE)


@pytest.mark.parametrize(("drawbar", "fits"), [(1.0, True), (1.79, True), (1.81, False)])
def test_a_vehicle_fits_up_to_the_wall_behind_it(drawbar: float, fits: bool) -> None:
    """Hall 9 m deep: rope 3 + machine 1.2 + drawbar + vehicle 3 m: 1.8 m of drawbar is left."""
    rules = {"reach": (3.0, 3.0), "step": 0.36, "vehicle": (drawbar, 3.0, 1.8)}
    found = search(hall(), **rules)
    ahead = [p for p in found.best if abs(p.position[1]) < 1e-9]
    assert bool(ahead) is fits
    if not fits:
        assert "vehicle" in {f.reason for f in found.failures}


def test_a_post_behind_the_machine_leaves_no_room_for_the_vehicle() -> None:
    post = box(6.0, -5.0, 6.1, 5.0)
    rules = {"reach": (3.0, 3.0), "step": 0.36}
    assert search(hall(post), **rules).best
    found = search(hall(post), **rules, vehicle=(0.5, 3.0, 1.8))
    assert not found.best and "vehicle behind it does not" in str(found.why)


@pytest.mark.parametrize(
    ("slack", "short"), [(2.99, False), (3.0, False), (3.01, True), (4.5, True)]
)
def test_a_head_drawn_out_as_far_as_there_is_rope_has_room(slack: float, short: bool) -> None:
    """The machine is 3 m of rope from the conduit end; what is drawn out must fit in between."""
    found = search(hall(), reach=(3.0, 3.0), step=0.36)
    assert found.best[0].distance == pytest.approx(3.0)
    straight = run(along(([[0, 0, 0], [30, 0, 0]], [0, 0]), conduit()))
    cautions = list(place_findings(found, solve_pull(straight, Practice()), slack))
    assert [(f.rule, f.severity) for f in cautions] == [
        ("room to pull out the head", "caution")
    ] * short
    for finding in cautions:
        assert (finding.demand, finding.limit) == pytest.approx((3.0, slack))
        ((lacks, _),) = finding.fix.values
        assert lacks == pytest.approx(slack - 3.0)


def test_no_way_through_a_lead_off_that_leaves_the_rope_upright() -> None:
    """A quarter turn out of a riser leaves the rope level; half of it leaves 45 degrees."""
    half = (LeadOff(math.pi / 4, CORNER[0].sheave),)
    found = search(hall(), pulling_end((4, 0, 0), (0, 0, 1)), lead_off=half)
    assert not found.best and found.tried == 0
    assert render(found.why, "SI") == (
        "no path through the lead-off brings the rope within 5.0° of level"
    )
