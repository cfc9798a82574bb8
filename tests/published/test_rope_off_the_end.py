"""The rope between conduit end and machine, and the energy in it, against texts."""

from __future__ import annotations

import math

import pytest

from route3d.mechanics.lead_off import turn_factor, turn_loads
from route3d.mechanics.pull import solve_pull
from route3d.model import Allowances, LeadOff, Practice, Rope, Sheave
from route3d.planning.pull_plan.supplies import supplies
from tests.support.jobs import along, cable, conduit, run
from tests.support.published import printed

pytestmark = pytest.mark.source("Rigging texts (read)")

LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])


@pytest.mark.source("pickedshares.com exercise 27; engineeringtoolbox.com bollard force (read)")
@pytest.mark.clause("capstan")
def test_a_rope_over_the_conduit_end_is_the_capstan_of_the_texts() -> None:
    """C2 (pickedshares.com exercise 27) and C3
    (engineeringtoolbox.com, bollard force): three quarters of a turn at 0.2, half a turn at 0.4.
    """
    c2 = turn_factor(LeadOff(1.5 * math.pi), 0.2)
    assert 100 * 9.81 / c2 == printed(382.26, abs=0.005)
    assert 500 / turn_factor(LeadOff(math.pi), 0.4) == printed(142, abs=0.5)


@pytest.mark.parametrize(
    ("included", "factor"),
    # block loading tables of rigging handbooks (from memory): included angle between the parts
    [(0, 2.00), (45, 1.84), (60, 1.73), (90, 1.41), (120, 1.00), (135, 0.76), (180, 0.0)],
)
@pytest.mark.source("Block loading tables of rigging handbooks (from memory)")
@pytest.mark.clause("factor by included angle")
def test_the_load_of_a_sheave_by_its_included_angle(included: float, factor: float) -> None:
    """Trap of the reference (section 7.2): tables head the included angle; turn is 180 less it."""
    turn = LeadOff(math.radians(180 - included), Sheave("s", 0.3, 1e5))
    (load,) = turn_loads((turn,), 0.15, 1000.0)
    assert load.resultant / 1000.0 == printed(factor, abs=0.011)  # printed to 0.01, some cut


@pytest.mark.source("yamatosakudou.com, elastic stretch (read)")
@pytest.mark.clause("worked bar")
def test_stretch_of_a_rope_as_a_bar() -> None:
    """READ yamatosakudou.com/RPNOBI1.htm: L 102,603 mm, T 60,000 kgf,
    A 1,499 mm2, E 16,000 kgf/mm2 stretch 256.68 mm; energy T dL / 2 (from memory).

    The bar's strain at its load is given to the rope as its stretch at rated load; the pull is
    made so that all of the length is rope at its worst moment.
    """
    kgf, length = 9.80665, 102.603
    force = 60_000 * kgf
    strain = 60_000 / (1_499 * 16_000)
    bar = Rope("bar", 0.02, 0.1, 0.0, force, strain)
    route = along(([[0, 0, 0], [length, 0, 0]], [0, 0]), conduit(friction=0.0))
    built = run(route, cable(), rope=bar, reel_tension=force)
    found = supplies(solve_pull(built, Practice()), Allowances(rope_tail=0.0)).rope
    assert found is not None
    assert found.pulled == 0.0 and found.load == printed(force)
    assert found.stretch * 1e3 == printed(256.68, abs=0.005)
    assert found.energy == printed(force * 0.256679 / 2, rel=1e-5)


@pytest.mark.source("Technical Talk XVII; Cabling Installation and Maintenance, Sept 1996 (read)")
@pytest.mark.clause("Q = 0.0015 L D")
def test_lubricant_by_the_handbook_rule() -> None:
    """Technical Talk XVII: Q = 0.0015 L D, gal, ft and in of conduit bore; 1,000 ft of 5 in is
    7.5 gal. Cabling Installation and Maintenance, Sept 1996, prints 2 gal for 1,000 ft of 1.25 in,
    where the formula gives 1.875: the table rounds.
    """
    foot, inch, gallon = 0.3048, 0.0254, 231 * 0.0254**3
    for bore, gallons in ((5.0, 7.5), (1.25, 1.875)):
        route = along(([[0, 0, 0], [1000 * foot, 0, 0]], [0, 0]), conduit(bore * inch))
        small = cable(diameter=0.02, area=50e-6)
        found = supplies(solve_pull(run(route, small), Practice()), Allowances())
        assert found.lubricant_total / gallon == printed(gallons, rel=1e-12)
