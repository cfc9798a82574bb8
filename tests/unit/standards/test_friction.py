from dataclasses import replace

import pytest

from route3d.standards import NotInTable
from route3d.standards.conduits import TYPES
from route3d.standards.friction import conduit_surface, friction_range, friction_rows, jackets


def test_friction_of_all_sources_lies_between_the_two_printed_extremes():
    """0.06 is printed of the best lubricant, 0.75 in a reference book of 1931."""
    rows = friction_rows()
    assert len(rows) == 42
    least, most = min(rows, key=lambda r: r.low), max(rows, key=lambda r: r.high)
    assert (least.low, least.conduit, least.jackets) == (0.06, "PVC", ("PE", "XLPE"))
    assert (most.high, most.low) == (0.75, 0.40)
    assert all(row.low <= row.high for row in rows)


def test_middle_of_a_range_and_of_one_figure():
    row = friction_rows()[0]
    assert (row.low, row.high, row.middle) == (0.1, 0.2, pytest.approx(0.15))
    assert replace(row, low=0.35, high=0.35).middle == 0.35


@pytest.mark.parametrize("kind", TYPES)
def test_every_stock_type_has_a_surface_with_published_friction(kind):
    found = friction_range("PE", kind, lubricated=False)
    assert found.low <= found.typical <= found.high
    assert found.sources


@pytest.mark.parametrize(("jacket", "conduit"), [("PE", "PVC-40"), ("PVC", "RMC"), ("PVC", "PVC")])
def test_lubricant_helps(jacket, conduit):
    wet, dry = (friction_range(jacket, conduit, lubricated) for lubricated in (True, False))
    assert wet.low < dry.low
    assert wet.typical < dry.typical


def test_a_duct_row_counts_for_every_conduit_and_rollers_for_none():
    assert friction_range("PE", "HDPE-SDR11", lubricated=True).low == 0.15
    assert friction_range("PE", "rollers", lubricated=False).low == 0.1
    assert friction_range("PE", "PVC-40", lubricated=False).low == 0.3


def test_a_jacket_without_rows_of_its_own_takes_those_of_any_cable():
    assert friction_range("CPE", "EMT", lubricated=False) == friction_range(
        "any", "EMT", lubricated=False
    )


@pytest.mark.parametrize("jacket", ["rope", "pipe", "drill string"])
def test_what_is_no_cable_takes_no_cable_friction(jacket):
    with pytest.raises(NotInTable, match="given in"):
        friction_range(jacket, "EMT", lubricated=False)


def test_no_publication_is_said_not_guessed():
    with pytest.raises(NotInTable, match="lubricated friction of neoprene"):
        friction_range("neoprene", "EMT", lubricated=True)


def test_unknown_jacket_and_surface_suggest():
    with pytest.raises(NotInTable, match="PVC"):
        friction_range("pcv", "EMT", lubricated=True)
    with pytest.raises(NotInTable) as caught:
        conduit_surface("metall")
    assert caught.value.suggestion == "metal"


def test_surfaces():
    assert {kind: conduit_surface(kind) for kind in ("EMT", "DB-60", "EN-PVC-LIGHT", "fibre")} == {
        "EMT": "metal", "DB-60": "PVC", "EN-PVC-LIGHT": "PVC", "fibre": "fibre",
    }  # fmt: skip
    assert "PE" in jackets()
