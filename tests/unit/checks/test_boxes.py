from __future__ import annotations

import math

import pytest

from route3d.checks.boxes import check_boxes
from route3d.checks.finding import Finding
from route3d.model import Cable, Conduit, Practice
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import INCH, at, cable, conduit, lay

PVC_3 = conduit(3.042 * INCH, stock_type="PVC-40", trade_size="3")
PVC_2 = conduit(2.047 * INCH, name="two", stock_type="PVC-40", trade_size="2")
LOW, MEDIUM = cable(voltage=600.0), cable(voltage=15_000.0)


def box(
    length: float,
    width: float = 9.0,
    turn: float = 0.0,
    cables: Cable | list[tuple[Cable, int]] = LOW,
    ducts: Conduit | list[Conduit] = PVC_3,
    name: str = "",
) -> Finding:
    """The finding of a box, in inches, at a pull point that turns by so many degrees."""
    a = math.radians(turn)
    here = at((20, 0, 0), name=name, ends="reel", box=(length * INCH, width * INCH, 0.5))
    end = at((20 + 20 * math.cos(a), 20 * math.sin(a), 0))
    run = jobs.run(lay(at((0, 0, 0)), here, end, conduits=ducts), cables)
    (finding,) = check_boxes(run, Practice())
    return finding


# --- up to 1000 V: NFPA 70 314.28(A), 8 and 6 times the trade size (READ) -------------------------


@pytest.mark.parametrize(("length", "severity"), [(24.0, "ok"), (23.9, "stop"), (30.0, "ok")])
def test_straight_pull_by_trade_size(length: float, severity: str) -> None:
    finding = box(length)
    assert (finding.rule, finding.severity) == ("pull box, straight pull", severity)
    assert finding.limit == pytest.approx(24 * INCH)


def test_the_width_of_a_straight_pull_is_free() -> None:
    assert box(24.0, width=5.0).severity == "ok"


@pytest.mark.parametrize(
    ("length", "width", "severity"), [(18, 18, "ok"), (17.9, 30, "stop"), (30, 17.9, "stop")]
)
def test_angle_pull_needs_both_walls(length: float, width: float, severity: str) -> None:
    finding = box(length, width, turn=90)
    assert (finding.rule, finding.severity) == ("pull box, angle pull", severity)
    assert finding.limit == pytest.approx(18 * INCH)


@pytest.mark.parametrize(("turn", "rule"), [(0, "straight"), (29, "straight"), (31, "angle")])
def test_a_turn_of_30_degrees_parts_straight_from_angle(turn: float, rule: str) -> None:
    assert box(30, 30, turn=turn).rule == f"pull box, {rule} pull"


def test_the_larger_of_two_conduits_counts() -> None:
    assert box(24, ducts=[PVC_2, PVC_3]).limit == pytest.approx(24 * INCH)
    assert box(24, ducts=[PVC_3, PVC_2]).limit == pytest.approx(24 * INCH)
    assert box(24, ducts=PVC_2).limit == pytest.approx(16 * INCH)


def test_without_a_trade_size_in_inches_the_bore_counts() -> None:
    assert box(40, ducts=conduit(0.1)).limit == pytest.approx(0.8)
    metric = conduit(0.0575, stock_type="EN-STEEL", trade_size="63")  # 63 mm, not 63 in
    assert box(40, ducts=metric).limit == pytest.approx(8 * 0.0575)


# --- above 1000 V: 314.71, 48/32 and 36/24 times the diameter (from memory) -----------------------


@pytest.mark.parametrize(
    ("shielded", "turn", "times", "others"),
    [(False, 0, 32, 0), (True, 0, 48, 0), (False, 90, 24, 2), (True, 90, 36, 2)],
)
def test_medium_voltage_by_cable_diameter(
    shielded: bool, turn: float, times: float, others: int
) -> None:
    phase = cable(voltage=15_000.0, shielded=shielded)
    needed = (times + others) * 0.04 / INCH
    finding = box(needed, needed, turn, [(phase, 3)])
    assert finding.limit == pytest.approx((times + others) * 0.04)
    assert finding.severity == "ok"
    assert box(0.98 * needed, 0.98 * needed, turn, [(phase, 3)]).severity == "stop"


@pytest.mark.parametrize(
    ("voltage", "limit"), [(None, 24), (1000.0, 24), (1001.0, 32 * 0.04 / INCH)]
)
def test_1000_volts_is_the_border(voltage: float | None, limit: float) -> None:
    assert box(60, cables=cable(voltage=voltage)).limit == pytest.approx(limit * INCH)


# --- the rest -----------------------------------------------------------------------------------


def test_the_box_the_fix_asks_for_is_long_enough() -> None:
    finding = box(12, 12, turn=90)
    ((needed, _),) = finding.fix.values
    inches = needed / INCH
    assert box(inches, inches, turn=90).severity == "ok"


def test_a_box_at_an_end_is_a_straight_pull() -> None:
    end = at((0, 0, 0), name="A[1]", box=(1.0, 0.3, 0.3))
    (finding,) = check_boxes(jobs.run(lay(end, at((9, 0, 0)), conduits=PVC_3), LOW), Practice())
    assert (finding.rule, finding.where) == ("pull box, straight pull", "A[1]")


def test_vertices_without_a_box_say_nothing() -> None:
    run = jobs.run(lay(at((0, 0, 0)), at((9, 0, 0)), conduits=PVC_3))
    assert check_boxes(run, Practice()) == ()


def test_places_take_any_name() -> None:
    assert render(box(24, name="V{}").place, "US") == "V{}"
    assert render(box(24).place, "US") == "point 2"
