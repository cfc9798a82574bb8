"""The short list of unit definitions against the full list that pint carries itself."""

from __future__ import annotations

import pint
import pytest

from route3d.quantities import QUANTITIES
from route3d.units import _SCALES, _UNIT_NAMES, _si_factor, registry

# pint reaches some of these by way of other units: a few roundings of a double.
ROUNDING = 1e-14
# In the cable trade a mil is a thousandth of an inch; pint's "mil" is the angle of that name.
PINT_NAME = {"mil": "thou"}


@pytest.fixture(scope="module")
def full() -> pint.UnitRegistry:
    """Source: the default registry of pint, which follows NIST SP 811 and CODATA."""
    registry = pint.UnitRegistry()
    registry.define("kcmil = 1000 * cmil")
    registry.define("kft = 1000 * foot")
    return registry


@pytest.mark.parametrize("unit", sorted({*_UNIT_NAMES.values()}))
def test_every_unit_a_person_may_write_is_what_pint_takes_it_for(
    unit: str, full: pint.UnitRegistry
) -> None:
    ours = registry().Quantity(1.0, unit).to_base_units()
    theirs = full.Quantity(1.0, PINT_NAME.get(unit, unit)).to_base_units()
    scale = 1000.0 ** ours.dimensionality.get("[mass]", 0)  # base unit of mass: g here, kg there
    assert ours.magnitude == pytest.approx(theirs.magnitude * scale, rel=ROUNDING, abs=0.0)
    assert dict(ours.dimensionality) == dict(theirs.dimensionality)


@pytest.mark.parametrize("quantity", sorted(q.name for q in QUANTITIES.values() if q.si))
@pytest.mark.parametrize("system", ["US", "SI"])
def test_every_display_unit_is_known_and_of_the_right_kind(quantity: str, system: str) -> None:
    kind = QUANTITIES[quantity]
    if quantity == "temperature":  # a scale with a zero of its own, not a factor
        assert set(kind.units.values()) <= set(_SCALES)
        return
    for unit in (kind.units[system], kind.shown[system]):
        factor, other = _si_factor(unit, kind.si)
        assert factor > 0 and not other


def test_reading_the_definitions_is_quick() -> None:
    import time

    start = time.perf_counter()
    registry.__wrapped__()
    # 5 ms on the development machine; pint's own list takes 400 ms there.
    assert time.perf_counter() - start < 0.1


def test_a_least_value_is_rounded_up_so_that_it_passes_as_printed() -> None:
    from route3d.phrase import say
    from route3d.units import render

    assert render(say("{}", (16.32 * 0.0254, "radius")), "US") == "16.3 in"
    assert render(say("{}", (16.32 * 0.0254, "radius+")), "US") == "16.4 in"
    assert render(say("{}", (16.3 * 0.0254, "radius+")), "US") == "16.3 in"
    assert render(say("{}", (0.4141, "radius+")), "SI") == "0.415 m"
