"""European rules of ducts and building conduit: printed figures of the tables that anything reads.

Nexans Deutschland laying instructions (READ); BS 6622 tables of a maker (READ); the guide of an
Italian network operator to ducts (READ); IET On-Site Guide as two pages print it (READ); the rest
from memory, as each test says.
"""

from __future__ import annotations

import math

import pytest

from route3d.standards import eu_ducts
from route3d.standards.conduit_factors import conduit_factors, covers
from route3d.standards.source import Status
from tests.support.cable_classes import KV, kind
from tests.support.published import printed

pytestmark = pytest.mark.source(
    "European duct and conduit rules, each by the source its line names"
)

RIGHT_ANGLE = math.pi / 2


def single(area: float) -> object:
    """Single-core cable as thin as its table has it, mm2."""
    return kind(450.0, area=area * 1e-6, diameter=2e-3)


@pytest.mark.clause("bore over bundle")
def test_bore_over_bundle() -> None:
    german, italian = (eu_ducts.bore_over_bundle(n) for n in ("DIN VDE", "CEI"))
    assert german is not None and german.value == printed(1.5)
    assert german.source.status is Status.READ
    assert italian is not None and italian.value == printed(1.3)
    assert italian.source.status is Status.XCHECK
    assert eu_ducts.bore_over_bundle("BS") is None


@pytest.mark.clause("draw-in points")
def test_bends_and_length_between_draw_in_points_are_recalled() -> None:
    for national, meters, doubtful in (("BS", 10, False), ("DIN VDE", 15, True)):
        turn, length = eu_ducts.turn(national), eu_ducts.draw_in_length(national)  # type: ignore[arg-type]
        assert turn is not None and math.degrees(turn.value) == printed(180)
        assert length is not None and length.value == printed(meters)
        assert turn.source.status is length.source.status is Status.MEMORY
        assert turn.doubtful is length.doubtful is doubtful
    assert eu_ducts.turn("CEI") is eu_ducts.draw_in_length("CEI") is None


@pytest.mark.clause("guide to MT/BT ducts, bends")
def test_radius_of_duct_bends() -> None:
    fact = eu_ducts.bend_radius("CEI")
    assert fact is not None and fact.value == printed(1.5) and fact.source.status is Status.READ
    assert eu_ducts.bend_radius("BS") is eu_ducts.bend_radius("DIN VDE") is None


@pytest.mark.clause("BS 6622 makers' table, one cable per duct")
@pytest.mark.parametrize(
    ("cores", "area", "diameter", "millimeters"),
    [
        (1, 50, 0.027, 100),
        (1, 630, 0.053, 100),
        (3, 185, 0.060, 100),
        (3, 185, 0.0601, 125),
    ],
)
def test_bore_for_one_cable(cores: int, area: float, diameter: float, millimeters: float) -> None:
    cable = kind(11 * KV, shielded=True, conductors=cores, area=area * 1e-6, diameter=diameter)
    fact = eu_ducts.bore_for_one(cable, "BS")
    assert fact is not None and fact.value * 1000 == printed(millimeters)
    assert fact.source.status is Status.READ
    assert eu_ducts.bore_for_one(cable, "DIN VDE") is None


@pytest.mark.clause("IET On-Site Guide, space factor")
def test_space_factor() -> None:
    fact = eu_ducts.space_factor("BS")
    assert fact is not None and fact.value == printed(0.45)
    assert eu_ducts.space_factor("CEI") is None


@pytest.mark.clause("IET On-Site Guide, conduit factors")
@pytest.mark.parametrize(
    ("run", "bends", "size", "factor"),
    [
        (1.0, 1, 16, 188),
        (8.0, 0, 16, 158),
        (8.0, 2, 25, 292),
        (10.0, 1, 25, 358),
        (7.5, 0, 16, 158),
        (2.5, 4, 32, 474),
        (5.0, 3, 20, 141),
        (3.0, 0, 16, 290),
        (3.0, 0, 20, 460),
        (3.0, 0, 25, 800),
        (3.0, 0, 32, 1400),
    ],
)
def test_conduit_factors(run: float, bends: int, size: int, factor: float) -> None:
    # IET On-Site Guide, as printed by two pages (READ); 25 mm, 10 m by the doubling rule (XCHECK)
    found = conduit_factors((single(4.0),), str(size), run, bends * RIGHT_ANGLE)  # type: ignore[arg-type]
    assert found is not None and found.allowed is not None
    assert (found.allowed.value, found.bends) == printed((factor, bends))


@pytest.mark.clause("IET On-Site Guide, cable factors")
@pytest.mark.parametrize(
    ("area", "short", "long"),
    [
        (1.0, 22, 16),
        (1.5, 31, 22),  # stranded
        (2.5, 43, 30),  # stranded
        (4.0, 58, 43),
        (6.0, 88, 58),
        (10.0, 146, 105),
        (16.0, 145, 145),  # none for short straight runs
        (25.0, 217, 217),
    ],
)
def test_cable_factors(area: float, short: float, long: float) -> None:
    for run, factor in ((3.0, short), (3.1, long)):
        found = conduit_factors((single(area),), "25", run, 0.0)  # type: ignore[arg-type]
        assert found is not None and found.needed == printed(factor)


@pytest.mark.clause("IET On-Site Guide, worked example as a maker's chart prints it")
def test_six_cables_of_4_mm2_in_3_m_straight() -> None:
    """Six times 58 is 348: 16 mm (290) is too small, 20 mm (460) takes them (READ)."""
    six = (single(4.0),) * 6
    assert covers(six, "16") and covers(six, "20")  # type: ignore[arg-type]
    small, large = (conduit_factors(six, size, 3.0, 0.0) for size in ("16", "20"))  # type: ignore[arg-type]
    assert small is not None and small.allowed is not None
    assert large is not None and large.allowed is not None
    assert small.needed == printed(348)
    assert small.allowed.value < small.needed < large.allowed.value == printed(460)
