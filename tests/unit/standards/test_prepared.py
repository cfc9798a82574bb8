"""The files that stand ready say what they are made from says, to the last character."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest

from route3d.quantities import QUANTITIES
from route3d.standards.prepared import prepared_files
from route3d.units import _factor_by_pint, _si_factor, everyday_factors, parse

RENEW = "run: python -m route3d.standards.prepared"


def test_what_stands_ready_is_what_it_is_made_from() -> None:
    files = prepared_files()
    assert {file.name for file in files} == {"everyday_units.json", "tables.json"}
    stale = [f.name for f, text in files.items() if f.read_text(encoding="utf-8") != text]
    assert not stale, f"{stale}: {RENEW}"


def test_every_everyday_factor_is_that_of_pint() -> None:
    for name, factor in everyday_factors().items():
        unit, si = name.split()
        assert _si_factor(unit, si) == (factor, "") == _factor_by_pint(unit, si)


def test_every_unit_shown_is_an_everyday_one() -> None:
    everyday = everyday_factors()
    for kind in QUANTITIES.values():
        for unit in {*kind.units.values(), *kind.shown.values()}:
            assert kind.si in ("", "K") or f"{unit} {kind.si}" in everyday


@pytest.mark.parametrize(
    ("text", "quantity", "value", "loads_pint"),
    [
        ("3500 lbf", "force", 3500 * 4.4482216152605, False),
        ("1 kgf/yd", "weight", 9.80665 / 0.9144, True),  # nobody's everyday unit
        ("2 kip", "force", 2000 * 4.4482216152605, False),
    ],
)
def test_pint_is_loaded_for_other_units_alone(
    text: str, quantity: str, value: float, loads_pint: bool
) -> None:
    code = (
        "import sys; from route3d.units import parse;"
        f"print(parse({text!r}, {quantity!r}, 'SI'), 'pint' in sys.modules)"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    number, loaded = told.stdout.split()
    assert math.isclose(float(number), value, rel_tol=1e-9)
    assert loaded == str(loads_pint)
    assert parse(text, quantity, "SI") == float(number)
