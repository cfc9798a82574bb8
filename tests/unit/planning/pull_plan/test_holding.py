"""What holds the machine: bolts in balance, conduit ends, vehicles and platforms."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from route3d.model import (
    Adapter,
    ConduitBrace,
    FloorBolts,
    LeadOff,
    Run,
    Sheave,
    Vehicle,
    WorkPlatform,
)
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.holding import bolt_loads, conduit_end_load, holding, holds_up_to
from route3d.planning.pull_plan.plan import make_plan
from route3d.standards.conduits import TYPES
from tests.support.jobs import along, cable, conduit, machine, rope, run

MODELS = Path(__file__).parents[4] / "models"
G = 9.80665
LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])
FOUR_INCH = conduit(name="duct", stock_type="RMC", trade_size="4")
SHEAVE = Sheave("corner", 0.3, 50e3)


def held(**more: object) -> Run:
    route = along(LINE, FOUR_INCH)
    return run(route, cable(), rope=rope(), machine=machine(), **more)


# --- bolts: equilibrium is the outside truth (statics) -------------------------------------------

place = st.tuples(st.floats(-2, 2), st.floats(-1, 1))


@given(st.lists(place, min_size=2, max_size=8, unique=True), st.floats(100, 1e5))
def test_shear_balances_the_pull_and_its_twist(
    bolts: list[tuple[float, float]], load: float
) -> None:
    """A stiff plate on equal springs, by its three equations of balance alone.

    It shifts by (a, b) and turns by c, so a bolt at (x, y) carries (a - c y, b + c x). All bolts
    together carry the pull along the line y = 0: (load, 0), and no moment about the origin.
    """
    x, y = np.array(bolts).T
    assume(((x - x.mean()) ** 2 + (y - y.mean()) ** 2).sum() > 1e-2)
    ones = np.ones(len(x))
    along, across = np.array([ones, 0 * ones, -y]), np.array([0 * ones, ones, x])
    sums = along, across, x * across - y * along
    balance = np.array([terms.sum(axis=1) for terms in sums])
    shift = np.linalg.solve(balance, [load, 0.0, 0.0])
    expected = np.hypot(shift @ along, shift @ across)
    assert bolt_loads(bolts, load, 0.0).shear == pytest.approx(expected, rel=1e-6, abs=1e-9 * load)


@given(
    st.lists(place, min_size=2, max_size=8, unique=True),
    st.floats(100, 1e5),
    st.floats(0.1, 2),
    st.floats(0, 1e4),
)
def test_tension_balances_the_tipping(
    bolts: list[tuple[float, float]], load: float, height: float, weight: float
) -> None:
    x = np.array(bolts)[:, 0]
    toe = x.max()
    assume(toe - x.min() > 1e-3)
    tension = bolt_loads(bolts, load, height, weight).tension
    assert tension is not None
    tipping = max(load * height - weight * (toe - x.mean()), 0.0)
    assert float(np.array(tension) @ (toe - x)) == pytest.approx(tipping, rel=1e-9, abs=1e-6)
    assert min(tension) >= 0


def test_a_pull_beside_the_pattern_loads_the_near_bolts_more() -> None:
    """Rope line through the first of two bolts 1 m apart: it takes all of the pull (statics)."""
    assert bolt_loads([(0, 0), (0, 1)], 100.0, 0.0).shear == pytest.approx([100.0, 0.0])
    # Half a meter beside the nearer one: 150 N there, and the far one is pushed back with 50 N.
    assert bolt_loads([(0, 0.5), (0, 1.5)], 100.0, 0.0).shear == pytest.approx([150.0, 50.0])


def test_a_rectangle_by_hand() -> None:
    """Two rows 0.9 m apart, 20 kN at 0.75 m: 15 kNm on two bolts 0.9 m away is 8.33 kN each."""
    found = bolt_loads([(0, -0.3), (0, 0.3), (0.9, -0.3), (0.9, 0.3)], 20e3, 0.75)
    assert found.shear == pytest.approx([5e3] * 4)
    assert found.tension == pytest.approx([15e3 / 1.8, 15e3 / 1.8, 0, 0])


def test_one_row_holds_no_tipping_and_says_so() -> None:
    anchor = FloorBolts("pad", ((0.0, -0.3), (0.0, 0.3)), 13e3, 11e3)
    built = held(anchor=anchor)
    found = holding(_with_height(built), FOUR_INCH, 5e3)
    worst = max(found.holds, key=lambda h: h.ratio)
    assert math.isinf(worst.ratio) and "single row" in worst.source


def _with_height(built: Run) -> Run:
    assert built.machine is not None
    return replace(built, machine=replace(built.machine, line_height=0.75))


def test_without_a_line_height_tipping_is_said_not_to_be_checked() -> None:
    anchor = FloorBolts("pad", ((0.0, 0.0), (0.9, 0.0)), 13e3, 11e3)
    found = holding(held(anchor=anchor), FOUR_INCH, 5e3)
    assert [h.name for h in found.holds] == ["worst bolt, shear"]
    assert "tipping not checked" in found.notes[0].template


def test_tension_and_shear_together_are_the_sum_of_their_shares() -> None:
    anchor = FloorBolts("pad", ((0, -0.3), (0, 0.3), (0.9, -0.3), (0.9, 0.3)), 10e3, 10e3)
    found = holding(_with_height(held(anchor=anchor)), FOUR_INCH, 20e3)
    ratios = {h.name: h.ratio for h in found.holds}
    assert ratios["worst bolt, combined"] == pytest.approx(0.5 + 15e3 / 1.8 / 10e3)


# --- conduit end -------------------------------------------------------------------------------


def test_a_straight_lead_off_pushes_along_the_conduit_only() -> None:
    assert conduit_end_load(held(), 8e3) == pytest.approx((8e3, 0.0))


@pytest.mark.parametrize(
    ("degrees", "across"), [(0.0, 0.0), (30.0, 4e3), (90.0, 8e3), (150.0, 4e3), (180.0, 0.0)]
)
def test_a_turn_of_the_rope_puts_its_side_load_on_the_end(degrees: float, across: float) -> None:
    turned = held(lead_off=(LeadOff(math.radians(degrees), SHEAVE),))
    axial, side = conduit_end_load(turned, 8e3)
    assert axial == pytest.approx(8e3)
    assert side == pytest.approx(across, abs=1e-9)


def test_the_side_load_stands_among_what_must_hold() -> None:
    """30 degrees at 8 kN: 4 kN across the conduit end (statics), on a platform as on the ground."""
    gentle = LeadOff(math.radians(30), SHEAVE)
    for anchor in (BRACE, WorkPlatform("lift", BRACE)):
        found = holding(held(anchor=anchor, lead_off=(gentle,)), FOUR_INCH, 8e3)
        side = [h for h in found.holds if "side load" in h.name]
        assert [(h.load, h.rating) for h in side] == [(pytest.approx(4e3), None)]
        assert any("on the conduit end" in note.template for note in found.notes)
        assert found.holds[0].load == pytest.approx(8e3)
        straight = holding(held(anchor=anchor), FOUR_INCH, 8e3)
        assert not [h for h in straight.holds if "side load" in h.name]


def test_a_sheave_takes_its_part_before_the_conduit_end_is_pushed() -> None:
    """Efficiency 0.8: 8 kN at the machine are 6.4 kN in the conduit and 8 kN again behind it."""
    lossy = Sheave("corner", 0.3, 50e3, 0.8)
    turned = held(lead_off=(LeadOff(math.radians(30), lossy),))
    assert conduit_end_load(turned, 8e3) == pytest.approx((6.4e3, 4e3))


BRACE = ConduitBrace(
    "brace", 30e3, (Adapter("2", "3", 4e3, 12e3), Adapter("3-1/2", "6", 9e3, 29e3))
)


@pytest.mark.parametrize(
    ("load", "name", "rating"),
    [(8e3, "light clamp-on adapter", 9e3), (9.1e3, "locked adapter", 29e3)],
)
def test_the_adapter_goes_by_trade_size_and_load(load: float, name: str, rating: float) -> None:
    found = holding(held(anchor=BRACE), FOUR_INCH, load)
    assert [(h.name, h.rating) for h in found.holds] == [("brace", 30e3), (name, rating)]


def test_the_adapter_fitted_for_the_plan_is_the_one_that_gives_out() -> None:
    """Nobody swaps it while the machine pulls: the light one stays fitted above its rating."""
    braced = held(anchor=BRACE)
    adapter = holding(braced, FOUR_INCH, 20e3, fitted_for=8e3).holds[-1]
    assert (adapter.name, adapter.load, adapter.rating) == ("light clamp-on adapter", 20e3, 9e3)
    assert holds_up_to(braced, FOUR_INCH, 60e3, 8e3) == (
        pytest.approx(9e3, rel=1e-4),
        "light clamp-on adapter",
    )
    assert holds_up_to(braced, FOUR_INCH, 60e3, 12e3)[0] == pytest.approx(29e3, rel=1e-4)


def test_a_conduit_no_adapter_takes_has_no_rating() -> None:
    found = holding(held(anchor=BRACE), conduit(name="big", stock_type="RMC", trade_size="8"), 5e3)
    assert found.holds[-1].rating is None and "no adapter" in found.holds[-1].source


METALS = {"EMT", "RMC", "IMC", "EN-STEEL"}


@pytest.mark.parametrize("stock_type", TYPES)
def test_every_plastic_conduit_is_cautioned_and_no_metal_one(stock_type: str) -> None:
    duct = conduit(name="duct", stock_type=stock_type, trade_size="4")
    notes = " ".join(n.template for n in holding(held(anchor=BRACE), duct, 5e3).notes)
    assert ("do not brace against plastic conduit" in notes) == (stock_type not in METALS)
    assert "not known" not in notes


def test_a_conduit_of_unknown_material_is_said_to_be_so() -> None:
    def notes(**more: object) -> str:
        duct = conduit(name="duct", **more)
        return " ".join(n.template for n in holding(held(anchor=BRACE), duct, 5e3).notes)

    assert "material of conduit duct not known" in notes()
    assert "plastic" not in notes(material="steel")
    assert "do not brace against plastic conduit" in notes(material="HDPE")


# --- vehicle, platform, nothing ------------------------------------------------------------------


def test_a_vehicle_holds_by_friction_and_drawbar() -> None:
    """A crate on a floor: holding force mu m g (statics)."""
    found = holding(held(anchor=Vehicle("truck", 4000, 0.5, 25e3)), FOUR_INCH, 15e3)
    assert [h.rating for h in found.holds] == pytest.approx([0.5 * 4000 * 9.80665, 25e3])


def test_a_work_platform_is_allowed_only_braced() -> None:
    bare = holding(held(anchor=WorkPlatform("lift")), FOUR_INCH, 5e3)
    assert math.isinf(bare.holds[0].ratio) and "must be braced" in bare.holds[0].source
    braced = holding(held(anchor=WorkPlatform("lift", BRACE)), FOUR_INCH, 5e3)
    assert all(h.ratio < 1 for h in braced.holds)
    assert "must be braced" in braced.notes[0].template


def test_no_anchor_still_says_what_must_be_held() -> None:
    found = holding(held(), FOUR_INCH, 5e3)
    assert math.isnan(found.holds[0].ratio) and found.holds[0].load == 5e3


def test_bolts_give_out_at_the_load_that_is_told() -> None:
    """Tension of bolts is not proportional: the machine's weight comes off first (statics)."""
    anchor = FloorBolts("pad", ((0, -0.3), (0, 0.3), (0.9, -0.3), (0.9, 0.3)), 10e3, 10e3)
    heavy = _with_height(held(anchor=anchor))
    assert heavy.machine is not None
    heavy = replace(heavy, machine=replace(heavy.machine, mass=800.0))
    most, name = holds_up_to(heavy, FOUR_INCH, 60e3, 5e3)
    assert name == "worst bolt, combined"
    there = {h.name: h.ratio for h in holding(heavy, FOUR_INCH, most).holds}
    assert there["worst bolt, combined"] == pytest.approx(1.0, abs=1e-4)
    half = {h.name: h.ratio for h in holding(heavy, FOUR_INCH, most / 2).holds}
    assert half["worst bolt, combined"] < 0.45  # less than in proportion
    assert math.isinf(holds_up_to(heavy, FOUR_INCH, 0.9 * most, 5e3)[0])
    assert math.isinf(holds_up_to(held(), FOUR_INCH, 60e3, 5e3)[0])  # nothing rated


def test_the_stalled_machine_loads_the_bolts_by_their_own_statics() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (result,) = evaluate(job, with_remedies=False).runs
    plan = make_plan(result, job, step=15.0)
    machine, anchor = plan.machine, job.runs[0].anchor
    assert isinstance(anchor, FloorBolts) and machine.line_height and machine.mass
    full = bolt_loads(anchor.bolts, machine.available_pull, machine.line_height, machine.mass * G)
    (worst,) = [k for k in plan.links if k.name == "worst bolt, tension"]
    assert full.tension is not None
    assert worst.at_machine_pull == pytest.approx(max(full.tension))
    load_there, name = plan.line_limit
    assert name == "worst bolt, combined" and load_there < machine.available_pull
    assert max(row.stop for row in plan.gauge) <= load_there + 1e-6


def test_a_single_bolt_carries_all_the_shear_wherever_it_is() -> None:
    for bolt in ((0.0, 0.0), (0.3, -0.4)):
        found = bolt_loads([bolt], 900.0, 0.0)
        assert (found.shear, found.tension) == ((900.0,), (0.0,))
