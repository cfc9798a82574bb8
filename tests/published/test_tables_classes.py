"""Limits by cable class: printed figures of each table that anything reads.

General Cable, Installation (Jan 2011), maximum sidewall pressure (READ); Southwire sheets 26601 and
46453 (READ); Okonite, minimum bending radii (READ); a maker's installation card of the ICEA study
(READ); General Cable installation rules (READ); Southwire newsroom 2012 on the NFPA 70 notes
(READ); elektro.net on VDE-AR-N 4222 (READ); Nexans Deutschland laying instructions (READ);
Meinhart catalog p.266 and Nexans Belgium (READ); BS 6622 sheet (READ, low authority copy); the rest
from memory, as each test says.
"""

from __future__ import annotations

import pytest

from route3d.standards import classes
from route3d.standards.classes import CableClass
from route3d.standards.practice import plastic_bend_length, rope_design_factor
from route3d.standards.source import Status
from route3d.standards.tables import load
from tests.support.cable_classes import KV, kind
from tests.support.published import printed

pytestmark = pytest.mark.source("Limits by cable class, each by the source its line names")

LBF_PER_FT = 4.4482216152605 / 0.3048  # exact by definition


# --- US sidewall pressure ------------------------------------------------------------------------


@pytest.mark.clause("General Cable, maximum sidewall pressure")
@pytest.mark.parametrize(
    ("cable", "pounds", "status"),
    [
        # General Cable (READ, columns paired in printed order), lb/ft
        (kind(600, conductors=7, area=2.08e-6, shielded=True), (500,), Status.READ),
        (kind(600, conductors=7, area=2.08e-6), (500,), Status.READ),
        (kind(2400), (1000,), Status.READ),
        (kind(5 * KV, shielded=True), (1000,), Status.READ),
        (kind(35 * KV, shielded=True), (1000,), Status.READ),
        (kind(600, armor="corrugated"), (500,), Status.READ),
        # General Cable 300 against Southwire's interlocked sheets 1000 (READ, both kept)
        (kind(15 * KV, shielded=True, armor="interlocked"), (300, 1000), Status.READ),
        # from memory: small singles, tray cable and lead; an estimate: 5 kV without a shield
        (kind(600, area=8.367e-6), (300, 1000), Status.MEMORY),
        (kind(600, conductors=3), (500, 1000), Status.MEMORY),
        (kind(15 * KV, armor="lead sheath"), (400,), Status.MEMORY),
        (kind(5 * KV), (1000,), Status.ESTIMATE),
    ],
)
def test_us_sidewall_by_class(cable: CableClass, pounds: tuple[int, ...], status: Status) -> None:
    facts = classes.us_sidewall(cable)
    assert [f.value / LBF_PER_FT for f in facts] == printed(pounds)
    assert facts[0].source.status is status


@pytest.mark.clause("us_swbp_limits, both units")
def test_the_printed_newtons_are_those_of_the_printed_pounds() -> None:
    rows = load("us_swbp_limits").rows
    assert len(rows) == 34
    for row in rows:  # printed to whole newtons
        assert row["lb_per_ft"] * LBF_PER_FT == printed(row["N_per_m"], abs=0.51)


@pytest.mark.clause("land cable guide, ducts")
def test_european_sidewall_is_recalled_and_only_for_high_voltage() -> None:
    # ABB XLPE land cable systems user's guide rev 5: 7.5 kN/m in ducts (MEMORY)
    assert classes.eu_sidewall(kind(36 * KV)) == ()
    (fact,) = classes.eu_sidewall(kind(110 * KV))
    assert fact.value == printed(7500.0)
    assert fact.source.status is Status.MEMORY and "land cable guide" in str(fact.source)


# --- US bends ------------------------------------------------------------------------------------


@pytest.mark.clause("minimum bending radii, training")
@pytest.mark.parametrize(
    ("cable", "training", "status"),
    [
        # Okonite (READ): 4, 5, 6 to 1.000, 2.000 in and above, insulation to 0.156 in
        (kind(diameter=0.0254), 4, Status.READ),
        (kind(diameter=0.02541), 5, Status.READ),
        (kind(diameter=0.0508), 5, Status.READ),
        (kind(diameter=0.0509), 6, Status.READ),
        (kind(5 * KV), 8, Status.READ),  # installation card (READ)
        (kind(15 * KV, shielded=True), 12, Status.READ),
        (kind(15 * KV, shielded=True, conductors=3), 7, Status.READ),  # 12 x core or 7 x overall
        (kind(armor="interlocked"), 7, Status.READ),
        (kind(armor="corrugated"), 7, Status.READ),
        (kind(armor="wire"), 12, Status.MEMORY),
        (kind(armor="lead sheath"), 12, Status.READ),
        (kind(armor="aluminum sheath"), 15, Status.MEMORY),
    ],
)
def test_us_training_multiples(cable: CableClass, training: float, status: Status) -> None:
    fact = classes.us_bend(cable).training
    assert fact is not None
    assert fact.value == printed(training)
    assert fact.source.status is status


@pytest.mark.clause("minimum bending radii, pulling")
def test_pulling_is_at_least_the_makers_rule_and_the_law_above_1000_v() -> None:
    # General Cable (READ): never bend, install or rack under 12 x; NFPA 70 300.34: 8 and 12 (READ)
    low = classes.us_bend(kind()).pulling
    assert low is not None and low.value == printed(12) and low.label == classes.GENERAL
    shielded = classes.us_bend(kind(15 * KV, shielded=True)).pulling
    assert (
        shielded is not None and shielded.value == printed(12) and "300.34" in str(shielded.source)
    )
    table = load("us_bend_radius")
    assert table.rule("nec_nonshielded_over_1000v")["factor"] == printed(8)


# --- European bends ------------------------------------------------------------------------------


@pytest.mark.clause("minimum bending radii, laying")
@pytest.mark.parametrize(
    ("national", "cable", "multiple", "status"),
    [
        ("BS", kind(11 * KV), 15, Status.READ),
        ("BS", kind(11 * KV, conductors=3), 12, Status.READ),
        ("DIN VDE", kind(1 * KV), 15, Status.MEMORY),
        ("DIN VDE", kind(1 * KV, conductors=4), 12, Status.MEMORY),
        ("DIN VDE", kind(20 * KV), 15, Status.MEMORY),
        ("DIN VDE", kind(20 * KV, conductors=3), 12, Status.MEMORY),
        ("DIN VDE", kind(110 * KV), 25, Status.MEMORY),
        ("DIN VDE", kind(armor="lead sheath"), 25, Status.MEMORY),
        ("DIN VDE", kind(armor="lead sheath", conductors=3), 15, Status.MEMORY),
        ("CEI", kind(armor="aluminum sheath"), 30, Status.MEMORY),
        ("CEI", kind(armor="lead sheath"), 16, Status.MEMORY),
        ("CEI", kind(shielded=True), 14, Status.MEMORY),
        ("CEI", kind(), 12, Status.MEMORY),
    ],
)
def test_european_multiples_while_laying(
    national: str, cable: CableClass, multiple: float, status: Status
) -> None:
    fact = classes.eu_bend(cable, national).pulling  # type: ignore[arg-type]
    assert fact is not None
    assert fact.value == printed(multiple)
    assert fact.source.status is status


@pytest.mark.clause("BS 5467, in place")
@pytest.mark.parametrize(("area", "multiple"), [(16e-6, 6), (25e-6, 8)])
def test_steel_wire_armored_cable_has_a_figure_for_training_alone(
    area: float, multiple: float
) -> None:
    # BS 5467 seller's sheet (READ, low authority): 6 D to 16 mm2, 8 D from 25 mm2, in place
    found = classes.eu_bend(kind(1000, conductors=4, area=area, armor="wire"), "BS")
    assert found.pulling is None
    assert found.training is not None and found.training.value == printed(multiple)


# --- temperature ---------------------------------------------------------------------------------


@pytest.mark.clause("lowest installation temperature, US")
@pytest.mark.parametrize(
    ("jacket", "celsius", "status"),
    [
        ("PVC", -10, Status.READ),  # NFPA 70 informational note, by Southwire newsroom
        ("nylon", -10, Status.READ),
        ("PE", -20, Status.READ),  # Nexans Deutschland
        ("LLDPE", -40, Status.MEMORY),
        ("XLPE", -40, Status.MEMORY),
        ("CPE", -35, Status.MEMORY),
        ("CSPE", -20, Status.MEMORY),
        ("neoprene", -20, Status.MEMORY),
        ("LSZH", -10, Status.ESTIMATE),
    ],
)
def test_us_lowest_temperature(jacket: str, celsius: float, status: Status) -> None:
    fact = classes.us_lowest_temperature(jacket)
    assert fact is not None
    assert fact.value - 273.15 == printed(celsius, abs=1e-9)
    assert fact.source.status is status


@pytest.mark.clause("lowest laying temperature, Europe")
@pytest.mark.parametrize(
    ("practice", "jacket", "celsius", "status"),
    [
        ("DIN VDE", "PVC", -5, Status.READ),
        ("DIN VDE", "PE", -20, Status.READ),
        ("DIN VDE", "LSZH", -20, Status.READ),
        ("DIN VDE", "lead", 5, Status.READ),
        ("BS", "PVC", 0, Status.MEMORY),
        ("CEI", "PVC", 0, Status.XCHECK),
        ("CEI", "PE", -25, Status.MEMORY),
        ("maker", "PVC", -5, Status.READ),
        ("maker", "LSZH", -20, Status.READ),
    ],
)
def test_european_lowest_temperature(
    practice: str, jacket: str, celsius: float, status: Status
) -> None:
    fact = classes.eu_lowest_temperature(jacket, practice)  # type: ignore[arg-type]
    assert fact is not None
    assert fact.value - 273.15 == printed(celsius, abs=1e-9)
    assert fact.source.status is status


@pytest.mark.clause("lowest installation temperature, both units")
def test_celsius_and_fahrenheit_of_the_us_table_agree() -> None:
    for row in load("us_install_temperature").rows:  # printed to whole degrees
        assert row["temp_c"] * 1.8 + 32 == printed(row["temp_f"], abs=0.51)


# --- pulling force -------------------------------------------------------------------------------


@pytest.mark.clause("DIN VDE 0276, pulling stress")
@pytest.mark.parametrize("national", ["DIN VDE", "BS", "CEI"])
def test_european_stress_is_50_and_30(national: str) -> None:
    # Meinhart p.266 and Nexans Belgium (READ); BS practice from memory
    copper, aluminium = (
        classes.eu_pulling_stress(metal, national)  # type: ignore[arg-type]
        for metal in ("copper", "aluminium")
    )
    assert (copper.value / 1e6, aluminium.value / 1e6) == printed((50, 30))
    recalled = national == "BS"
    assert (copper.source.status is Status.MEMORY) == recalled
    # The worked values of the table: n A s for 1 x 240 Al and 4 x 95 Cu.
    assert aluminium.value * 240e-6 == printed(7200)
    assert copper.value * 4 * 95e-6 == printed(19_000)


@pytest.mark.clause("DIN VDE 0276, stocking")
@pytest.mark.parametrize(
    ("armor", "millimeters", "newtons"),
    [("wire", 30, 8100), ("wire", 60, 32_400), ("lead sheath", 60, 10_800), ("tape", 60, 10_800)],
)
def test_stocking_on_armor(armor: str, millimeters: float, newtons: float) -> None:
    # F = K D2 with K 9 and 3 N/mm2 (READ); worked values of the table (DERIVED)
    fact = classes.eu_stocking_force(armor, millimeters / 1000)  # type: ignore[arg-type]
    assert fact is not None and fact.value == printed(newtons)


@pytest.mark.clause("DIN VDE 0276, loose singles")
def test_three_loose_singles_count_as_two() -> None:
    assert classes.eu_loose_singles().value == printed(2)  # Nexans Deutschland (READ)


# --- rope --------------------------------------------------------------------------------------


@pytest.mark.clause("rope factors and elbows")
def test_rope_figures() -> None:
    # CI 1308: design factor 5 to 12 (READ); one cooperative's 250 ft (READ in a forum)
    assert rope_design_factor().value == printed(5)
    assert plastic_bend_length().value / 0.3048 == printed(250)
    assert "forum" in str(plastic_bend_length().source)
