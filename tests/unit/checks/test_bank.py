"""A bank against the figures of UFGS-16526A, which tests/published reads."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.bank import check_bank, least_earth
from route3d.checks.finding import Finding
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade, grade_through
from route3d.geometry.rmf_frames import frames
from route3d.model import Bank, Conduit, Practice
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import INCH, at, lay

OUTER = 5.563 * INCH
DUCT = Conduit("duct", 5.0 * INCH, OUTER, 0.3)
BANK = Bank("F1", 2, 3, (OUTER + 2 * INCH, OUTER + 2 * INCH), 3 * INCH)


def findings(bank: Bank = BANK, depth: float = 2.0, *more: jobs.Vertex) -> dict[str, Finding]:
    vertices = (at((0, 0, -depth), name="A"), *more, at((60, 0, -depth), name="B"))
    run = jobs.run(lay(*vertices, conduits=DUCT))
    path = route_path(run.route)
    return {f.rule: f for f in check_bank(bank, run, Practice(), path, frames(path), Grade())}


def test_a_bank_by_the_book_passes() -> None:
    found = findings()
    assert {f.severity for f in found.values()} == {"ok"}
    assert len(found) == 4  # spacing both ways, concrete, earth


@pytest.mark.parametrize(("axis", "rule"), [(0, "across a row"), (1, "between rows")])
def test_spacing_below_the_table_is_a_finding(axis: int, rule: str) -> None:
    spacing = list(BANK.spacing)
    spacing[axis] = 7.5 * INCH
    found = findings(replace(BANK, spacing=(spacing[0], spacing[1])))
    finding = found[f"duct spacing {rule}"]
    assert finding.severity == "caution"
    assert finding.demand == pytest.approx((7.5 - 5.563) * INCH)
    assert finding.limit == pytest.approx(2 * INCH)  # UFGS-16526A, between power ducts
    assert finding.source.startswith("UFGS-16526A")
    # Rounded up: what is printed passes when it is built.
    assert render(finding.fix, "US") == "increase the duct spacing to 7.57 in center to center"
    assert sum(f.severity == "caution" for f in found.values()) == 1


def test_thin_concrete_is_a_finding() -> None:
    finding = findings(replace(BANK, cover=2 * INCH))["concrete cover"]
    assert (finding.severity, finding.limit) == ("caution", pytest.approx(3 * INCH))


def test_earth_is_measured_over_the_concrete() -> None:
    half = (OUTER + 2 * INCH + OUTER + 6 * INCH) / 2
    finding = findings(depth=half + 18 * INCH)["earth cover"]
    assert (finding.severity, finding.limit) == ("ok", pytest.approx(18 * INCH))
    short = findings(depth=half + 17 * INCH)["earth cover"]
    assert (short.severity, short.demand) == ("caution", pytest.approx(17 * INCH))
    assert render(short.fix, "SI") == "lay the bank 0.03 m deeper here"  # 25.4 mm, rounded up


def test_earth_over_a_slope_is_measured_upright() -> None:
    # Down at 30 degrees from 1 m: the top of the box is h/2 / cos 30 over the middle.
    vertices = (at((0, 0, -1), name="A"), at((17.3205080757, 0, -11), name="B"))
    run = jobs.run(lay(*vertices, conduits=DUCT))
    path = route_path(run.route)
    found = {f.rule: f for f in check_bank(BANK, run, Practice(), path, frames(path), Grade())}
    half = (2 * OUTER + 8 * INCH) / 2
    assert found["earth cover"].demand == pytest.approx(1 - half / 0.8660254, abs=1e-6)


def test_earth_on_a_cross_slope_is_the_least_over_the_width() -> None:
    """Ground z = 0.1 y over a bank along x at z = -1.5: thinnest over its right edge, y = -w/2."""
    corners = [(x, y, 0.1 * y) for x in (-9.0, 70.0) for y in (-20.0, 20.0)]
    run = jobs.run(lay(at((0, 0, -1.5)), at((60, 0, -1.5)), conduits=DUCT))
    path = route_path(run.route)
    grade = grade_through(np.array(corners))
    least = least_earth(BANK, run, path, frames(path), grade)
    wide, high = 3 * OUTER + 10 * INCH, 2 * OUTER + 8 * INCH
    assert least is not None and least[0] == pytest.approx(1.5 - high / 2 - 0.1 * wide / 2)


@pytest.mark.parametrize("depth", [1.5, 0.4])
def test_earth_is_not_judged_where_the_ground_is_not_known(depth: float) -> None:
    """The surface ends at x = 45 m of 60: no "ok"; what is too thin before that is said as well."""
    corners = [(x, y, 0.0) for x in (-9.0, 45.0) for y in (-20.0, 20.0)]
    run = jobs.run(lay(at((0, 0, -depth)), at((60, 0, -depth)), conduits=DUCT))
    path, grade = route_path(run.route), grade_through(np.array(corners))
    checked = check_bank(BANK, run, Practice(), path, frames(path), grade)
    earth = [f for f in checked if f.rule == "earth cover"]
    assert {f.severity for f in earth} == {"caution"}
    assert len(earth) == (1 if depth > 1 else 2)
    assert render(earth[0].fix, "SI").startswith("not judged at station 45.00 m to 60.00 m")
    assert math.isnan(earth[0].demand) and earth[0].limit == pytest.approx(18 * INCH)


def test_a_riser_out_of_the_ground_is_not_short_of_earth() -> None:
    foot, top = at((60, 0, -2), bend=1.2), at((60, 0, 9), bend=1.2)
    run = jobs.run(lay(at((0, 0, -2)), foot, top, at((70, 0, 9)), conduits=DUCT))
    path = route_path(run.route)
    found = {f.rule: f for f in check_bank(BANK, run, Practice(), path, frames(path), Grade())}
    assert found["earth cover"].severity == "ok"


def test_above_grade_there_is_no_earth() -> None:
    assert "earth cover" not in findings(depth=-3.0)


def test_without_concrete_the_rules_of_direct_burial_hold() -> None:
    found = findings(replace(BANK, cover=0.0))
    assert set(found) == {"earth cover"}
    assert found["earth cover"].limit == pytest.approx(24 * INCH)  # UFGS-16526A, direct burial


def test_a_single_duct_has_no_spacing() -> None:
    assert set(findings(replace(BANK, rows=1, columns=1))) == {
        "concrete cover",
        "earth cover",
    }


def test_rows_that_come_to_stand_upright_are_noted() -> None:
    # North, up, and on to the east: what was level across then stands upright.
    up, over = at((0, 20, -2), bend=1.2), at((0, 20, 12), bend=1.2)
    run = jobs.run(lay(at((0, 0, -2)), up, over, at((9, 20, 12)), conduits=DUCT))
    path = route_path(run.route)
    found = {f.rule: f for f in check_bank(BANK, run, Practice(), path, frames(path), Grade())}
    tilt = found["rows not level"]
    assert tilt.severity == "note"
    assert tilt.demand == pytest.approx(3.14159265 / 2)
