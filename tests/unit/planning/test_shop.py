"""The shop sheet: what is counted between pull points, and where bends are marked."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.geometry.bend_schedule import bend_schedule
from route3d.geometry.fillet import route_path
from route3d.model import Practice, Route, Vertex
from route3d.planning.result import evaluate_run
from route3d.planning.shop import Shop, all_findings, least_straight, shop_findings, shop_sheet
from tests.support.jobs import BOTH, FOOT, INCH, along, at, conduit, lay, run
from tests.support.routes import Go, Turn, vertices

EMT = conduit(stock_type="EMT", trade_size="2", elbow_radius=9.5 * INCH, min_bend_radius=12 * INCH)
PVC = conduit(name="pvc", stock_type="PVC-40", trade_size="4", elbow_radius=16 * INCH)
DUCT = conduit(name="plain")


def sheet(route: Route, stick: float | None = None) -> Shop:
    return shop_sheet(route, route_path(route), Practice(), stick)


def test_a_factory_elbow_parts_the_sticks() -> None:
    """21 ft and 14 ft of straight on both sides: 3 + 2 sticks of 10 ft, an elbow, 5 joints."""
    shape = vertices([Go(21 * FOOT), Turn(90, 9.5 * INCH), Go(14 * FOOT)])
    shop = sheet(along(shape, EMT))
    (section,) = shop.sections
    assert (section.sticks, section.elbows, section.joints) == (5, 1, 5)
    (bend,) = shop.bends
    assert (bend.elbow, bend.stick, bend.marks) == ("standard", None, None)


def test_a_field_bend_is_marked_on_its_stick() -> None:
    shape = vertices([Go(12 * FOOT), Turn(90, 12 * INCH), Go(5 * FOOT)])
    (bend,) = sheet(along(shape, EMT)).bends
    assert bend.elbow == "field" and bend.stick == 2 and bend.marks is not None
    assert bend.marks.start == pytest.approx(2 * FOOT, rel=1e-12)
    assert bend.marks.end == pytest.approx(2 * FOOT + math.pi / 2 * 12 * INCH, rel=1e-12)


def test_longer_sticks_can_be_asked_for() -> None:
    shape = vertices([Go(12 * FOOT), Turn(90, 12 * INCH), Go(5 * FOOT)])
    shop = sheet(along(shape, EMT), 20 * FOOT)
    assert shop.sections[0].sticks == 1 and shop.bends[0].stick == 1
    assert not any(s.startswith("sticks") for s in shop.sources)


def test_sticks_count_on_from_one_pull_point_to_the_next() -> None:
    route = lay(
        at((0, 0, 0), ends=BOTH),
        at((15 * FOOT, 0, 0), ends=BOTH),
        at((30 * FOOT, 0, 0), 12 * INCH),
        at((30 * FOOT, 9, 0), ends=BOTH),
        conduits=EMT,
    )
    shop = sheet(route)
    assert [s.sticks for s in shop.sections] == [2, 5]
    assert [s.bends for s in shop.sections] == [(), (1,)]
    assert shop.bends[0].stick == 2 + 2
    assert [s.turn for s in shop.sections] == pytest.approx([0, math.pi / 2])


def test_a_change_of_conduit_starts_a_new_stick() -> None:
    route = lay(at((0, 0, 0)), at((15 * FOOT, 0, 0)), at((20 * FOOT, 0, 0)), conduits=[EMT, PVC])
    (section,) = sheet(route).sections
    assert (section.sticks, section.joints) == (3, 2)


def test_what_no_table_covers_is_not_counted() -> None:
    shape = vertices([Go(9), Turn(90, 1.0), Go(9)])
    shop = sheet(along(shape, DUCT))
    (section,) = shop.sections
    assert (section.sticks, section.joints, section.supports) == (None, None, None)
    assert shop.no_stick == ("plain",) and shop.sources == ()
    assert sheet(along(shape, DUCT), 3.0).sections[0].sticks == 7  # 9 + π/2 + 9 m in 3 m


def test_supports_by_the_table() -> None:
    """EMT: 10 ft and 3 ft from a box. 40 ft: at 3, 13, 23, 33 and 37 ft."""
    straight = Route((Vertex((0, 0, 0)), Vertex((40 * FOOT, 0, 0))), (EMT,))
    assert sheet(straight).sections[0].supports == 5


def twisted(degrees: float) -> tuple[Route, Shop]:
    """Two field bends a foot apart, the second out of the plane of the first."""
    a = math.radians(degrees)
    heading = (math.cos(math.radians(30)), -math.sin(math.radians(30)), 0.0)
    back = Turn(30, 12.5 * INCH, (0.0, -math.cos(a), math.sin(a)))
    shape = vertices([Go(2), Turn(30, 12.5 * INCH), Go(0.3), back, Go(2)], heading)
    route = along(shape, EMT)
    return route, sheet(route)


@pytest.mark.parametrize(("degrees", "severity"), [(0.5, "ok"), (3.0, "caution")])
def test_a_dog_leg_is_a_caution(degrees: float, severity: str) -> None:
    route, shop = twisted(degrees)
    bend = bend_schedule(route_path(route))[1]
    finding, held = shop_findings(route, bend, shop.bends[1], 0.3)
    assert (held.rule, held.severity) == ("straight for the bender", "ok")
    assert (finding.rule, finding.severity) == ("dog-leg", severity)
    assert math.degrees(finding.demand) == pytest.approx(degrees, abs=1e-9)


def test_bends_far_apart_are_no_dog_leg() -> None:
    a = math.radians(3)
    back = Turn(30, 12.5 * INCH, (0.0, -math.cos(a), math.sin(a)))
    shape = vertices([Go(2), Turn(30, 12.5 * INCH), Go(11 * FOOT), back, Go(2)])
    assert math.isnan(sheet(along(shape, EMT)).bends[1].dog_leg)


@pytest.mark.parametrize(("straight", "severity"), [(0.2, "ok"), (0.1, "caution")])
def test_elbows_need_a_straight_to_be_coupled(straight: float, severity: str) -> None:
    """The conduit of these tests is 0.14 m across."""
    turn = Turn(90, 9.5 * INCH)
    route = along(vertices([Go(2), turn, Go(straight), turn, Go(2)]), EMT)
    bend, shop = bend_schedule(route_path(route))[0], sheet(route)
    (finding,) = shop_findings(route, bend, shop.bends[0], straight)
    assert (finding.rule, finding.severity) == ("straight for the coupling", severity)


@pytest.mark.parametrize(("lead", "severity"), [(0.0, "caution"), (0.20, "caution"), (0.22, "ok")])
def test_a_bend_at_the_end_of_its_stick_cannot_be_made(lead: float, severity: str) -> None:
    """The first stick starts ``lead`` m before the arc; the bender and a coupling take 0.21 m.

    The conduit is 0.14 m across, and half a coupling half of that.
    """
    pieces = [*([Go(lead)] if lead else []), Turn(40, 13 * INCH), Go(1)]
    route = along(vertices(pieces), EMT)
    (bend,), shop = bend_schedule(route_path(route)), sheet(route)
    assert shop.bends[0].marks is not None
    assert shop.bends[0].marks.start == pytest.approx(lead)
    (finding,) = shop_findings(route, bend, shop.bends[0], 0.0)
    assert (finding.rule, finding.severity) == ("straight for the bender", severity)
    assert finding.demand == pytest.approx(lead)


@pytest.mark.parametrize(("inches", "least"), [(1.163, 2.163), (4.5, 6.75)])
def test_the_straight_to_the_end_of_a_bent_piece(inches: float, least: float) -> None:
    """1 in EMT: 1.163 in and half a coupling of 2 in. 4 in: 4.5 in and half of that."""
    held = least_straight(replace(EMT, outer_diameter=inches * INCH))
    assert held / INCH == pytest.approx(least)


def test_a_bend_longer_than_its_stick_is_said() -> None:
    """A quarter of 4 m radius is 6.28 m of conduit: more than a stick of 10 ft."""
    route = along(vertices([Go(5), Turn(90, 4.0), Go(5)]), EMT)
    (bend,), shop = bend_schedule(route_path(route)), sheet(route)
    (finding,) = shop_findings(route, bend, shop.bends[0], 5.0)
    assert (finding.rule, finding.severity) == ("field bend across a coupling", "caution")


def test_check_lists_what_the_shop_asks_of_every_bend() -> None:
    turn = Turn(90, 9.5 * INCH)
    route = along(vertices([Go(2), turn, Go(0.1), turn, Go(2)]), EMT)
    result = evaluate_run(run(route), Practice())
    asked = [f for f in all_findings(result) if f.rule == "straight for the coupling"]
    assert [(f.where, f.severity) for f in asked] == [
        ("bend 1", "caution"),
        ("bend 2", "caution"),
    ]
    assert set(result.findings) <= set(all_findings(result))


# --- pieces and their labels ---------------------------------------------------------------------


def labels(shop: Shop) -> list[tuple[str, str]]:
    return [(p.label, p.kind) for p in shop.pieces]


def test_every_piece_has_a_label_and_they_fill_the_run() -> None:
    """21 ft of sticks, a factory elbow, 12 ft with a field bend of 12 in over it, 5 ft."""
    turns = Turn(90, 9.5 * INCH), Turn(90, 12 * INCH)
    route = along(vertices([Go(21 * FOOT), turns[0], Go(12 * FOOT), turns[1], Go(5 * FOOT)]), EMT)
    path = route_path(route)
    shop = shop_sheet(route, path, Practice(), run="F1")
    assert labels(shop) == [
        *(("F1-S01", "straight"), ("F1-S02", "straight"), ("F1-S03", "straight")),
        *(("F1-B01", "elbow"), ("F1-S04", "straight"), ("F1-B02", "bent")),
    ]
    ends = [0.0, *(p.end for p in shop.pieces)]
    assert [p.start for p in shop.pieces] == pytest.approx(ends[:-1], abs=1e-12)
    assert ends[-1] == pytest.approx(path.length)
    assert [p.stick for p in shop.pieces] == [1, 2, 3, None, 4, 5]
    assert [p.cut for p in shop.pieces] == [False, False, True, False, False, True]
    assert [(b.label, b.piece) for b in shop.bends] == [("F1-B01",) * 2, ("F1-B02",) * 2]


def test_a_piece_with_several_bends_and_a_bend_over_several_pieces() -> None:
    up, down = Turn(30, 12.5 * INCH, "up"), Turn(30, 12.5 * INCH, "down")
    shape = vertices([Go(0.5), up, Go(0.3), down, Go(1)])
    offset = shop_sheet(along(shape, EMT), route_path(along(shape, EMT)), Practice(), run="A")
    assert labels(offset)[0] == ("A-B01-B02", "bent")
    assert {b.piece for b in offset.bends} == {"A-B01-B02"}
    wide = along(vertices([Go(5), Turn(90, 4.0), Go(5)]), EMT)
    long = sheet(wide)
    assert [p.label for p in long.pieces if p.bends] == ["B01", "B01.2", "B01.3"]
    assert long.bends[0].piece == "B01"


def test_an_offset_is_bent_in_one_stick() -> None:
    """It begins 9 ft from the end: the first stick is cut 1.5 outside diameters before it."""
    up, down = Turn(30, 12.5 * INCH, "up"), Turn(30, 12.5 * INCH, "down")
    shop = sheet(along(vertices([Go(9 * FOOT), up, Go(0.5), down, Go(3)]), EMT))
    held = 1.5 * EMT.outer_diameter
    assert shop.pieces[0].length == pytest.approx(9 * FOOT - held)
    assert {b.piece for b in shop.bends} == {"B01-B02"}
    assert shop.bends[0].marks is not None
    assert shop.bends[0].marks.start == pytest.approx(held)


def test_pieces_where_sticks_are_not_known() -> None:
    shop = sheet(along(vertices([Go(9), Turn(90, 1.0), Go(9)]), DUCT))
    assert labels(shop) == [("S01", "straight"), ("B01", "bent"), ("S02", "straight")]
    assert [p.length for p in shop.pieces] == pytest.approx([9, math.pi / 2, 9])


def test_labels_of_a_hundred_bends_have_three_digits() -> None:
    turns = [piece for k in range(100) for piece in (Turn(5, 1, ("up", "down")[k % 2]), Go(0.2))]
    shop = sheet(along(vertices([Go(1), *turns]), DUCT))
    assert (shop.bends[0].label, shop.bends[99].label) == ("B001", "B100")
