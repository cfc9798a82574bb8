"""Outside what its table prints, a lookup by cable class gives nothing."""

from __future__ import annotations

from route3d.standards import classes
from tests.support.cable_classes import kind


def test_no_sidewall_figure_is_made_up_beyond_the_table() -> None:
    assert classes.us_sidewall(kind(None)) == ()
    assert classes.us_sidewall(kind(35_001, shielded=True)) == ()
    assert classes.us_sidewall(kind(5001)) == ()


def test_no_multiple_without_a_voltage() -> None:
    assert classes.eu_bend(kind(None), "DIN VDE") == classes.BendMultiples()


def test_no_temperature_for_a_jacket_that_no_table_has() -> None:
    assert classes.us_lowest_temperature("lead") is None
    assert classes.eu_lowest_temperature("nylon", "BS") is None
