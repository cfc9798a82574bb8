"""Boxes, risers, bends and attachments of a whole job against printed rules.

- NFPA 70 Tables 300.19(A), Articles 314.28(A) and 330.24 as printed in trade copies (READ).
- Caps of attachments: the source stands beside the check.
"""

from __future__ import annotations

import pytest

from route3d.checks.finding import Finding
from route3d.model import Practice
from route3d.planning.result import evaluate_run
from route3d.standards.boxes import minimum_box_angle
from route3d.standards.conductors import conductor_area
from tests.support import jobs
from tests.support.jobs import (
    FOOT,
    INCH,
    LBF,
    along,
    at,
    by_rule,
    cable,
    conduit,
    lay,
    stock,
    straight_run,
)
from tests.support.published import printed
from tests.support.routes import Go, Turn, vertices

pytestmark = pytest.mark.source("NFPA 70 (read in trade copies)")

# --- NFPA 70 ------------------------------------------------------------------------------------


def boxed(length: float, width: float, turned: bool) -> Finding:
    """A box in inches between 3 in conduits."""
    vault = at((20, 0, 0), name="PB", ends=jobs.BOTH, box=(length * INCH, width * INCH, 0.5))
    end = at((20, 20, 0) if turned else (40, 0, 0), name="B", ends=jobs.BOTH)
    start = at((0, 0, 0), name="A", ends=jobs.BOTH)
    run = jobs.run(lay(start, vault, end, conduits=stock("RMC", "3")), cable(voltage=480.0))
    result = evaluate_run(run, Practice())
    return next(f for f in result.findings if f.rule.startswith("pull box"))


@pytest.mark.clause("314.28(A)(1)")
def test_314_28_a_1_straight_pull_of_3_in() -> None:
    # Printed: 3 in conduit, straight pull -> 24 in.
    assert boxed(24, 12, turned=False).severity == "ok"
    short = boxed(23.9, 12, turned=False)
    assert short.severity == "stop"
    assert short.limit / INCH == printed(24)


@pytest.mark.clause("314.28(A)(2)")
def test_314_28_a_2_angle_pull_of_3_and_2_in() -> None:
    # Printed: 3 in and 2 in in one row -> 6 x 3 + 2 = 20 in. A run knows its own conduit only, so
    # it asks for 6 x 3 = 18 in "for one run alone"; the row is the 20 in of the table.
    finding = boxed(18, 18, turned=True)
    assert (finding.severity, finding.limit) == ("ok", printed(18 * INCH))
    assert "for one run alone" in finding.fix.template
    assert minimum_box_angle(3, [2]).value / INCH == printed(20)


# Table 300.19(A): feet for copper, feet for aluminium.
RISERS = [("1/0 AWG", 100, 200), ("4/0 AWG", 80, 180), ("350 kcmil", 60, 135),
          ("500 kcmil", 50, 120), ("750 kcmil", 40, 95), ("1000 kcmil", 35, 85)]  # fmt: skip


@pytest.mark.parametrize(("size", "copper", "aluminium"), RISERS)
@pytest.mark.clause("Table 300.19(A)")
def test_300_19_a_a_riser_of_a_foot_more_than_the_table(
    size: str, copper: float, aluminium: float
) -> None:
    for metal, feet in (("copper", copper), ("aluminium", aluminium)):
        core = cable(metal=metal, area=conductor_area(size).value)
        for rise, found in ((feet, False), (feet + 1, True)):
            foot = at((0, 0, 0), name="foot", ends=jobs.BOTH)
            top = at((0, 0, rise * FOOT), name="top", ends=jobs.BOTH)
            result = evaluate_run(jobs.run(lay(foot, top, conduits=conduit()), core), Practice())
            support = by_rule(result).get("riser support")
            assert (support is not None) is found, (metal, rise)
            if support is not None:
                assert support.limit / FOOT == printed(feet, what=metal)


@pytest.mark.parametrize(("inches", "severity"), [(18.72, "ok"), (18.71, "stop")])
@pytest.mark.clause("330.24, worked example")
def test_330_24_worked_example(inches: float, severity: str) -> None:
    # Printed: MC cable of 2.674 in x 7 = 18.72 in; the product is 18.718.
    armoured = cable("MC", 2.674 * INCH, bend_multiple=7.0)
    route = along(vertices([Go(9), Turn(90, inches * INCH), Go(9)]), conduit(5 * INCH))
    finding = by_rule(evaluate_run(jobs.run(route, armoured), Practice()))["cable bend radius"]
    assert finding.severity == severity
    assert finding.limit / INCH == printed(18.72, abs=0.005)


# --- attachments --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("attach", "pounds", "severity"),
    [
        ("basket grip", 1000.0, "caution"),  # 1,000 lb per grip (iewc page; scribd 351496366)
        ("basket grip", 1001.0, "stop"),
        ("pulling eyes", 10_000.0, "caution"),  # any device 10,000 lb (Southwire)
        ("pulling eyes", 10_001.0, "stop"),
    ],
)
@pytest.mark.source("ICEA-based pulling guide; Southwire pulling tensions (read)")
@pytest.mark.clause("caps of grips and devices")
def test_caps_of_the_attachment(attach: str, pounds: float, severity: str) -> None:
    strong = cable(diameter=0.03, max_tension=1e6)
    run = straight_run(conduit(friction=0.0), strong, attach=attach, reel_tension=pounds * LBF)
    finding = by_rule(evaluate_run(run, Practice()))[f"{attach} load"]
    assert finding.severity == severity
    assert finding.limit / LBF == printed(1000 if attach == "basket grip" else 10_000)
