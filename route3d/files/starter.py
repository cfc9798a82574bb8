"""The commented model file that ``route3d new`` starts a job with."""

from __future__ import annotations

from importlib import resources
from string import Template

_US = {
    "cable_about": "350 kcmil copper, 15 kV, shielded",
    "cable_diameter": "1.387",
    "cable_weight": "1.795",
    "cable_area": "350 kcmil",
    "sidewall": "500",
    "max_tension": "2800",
    "riser_inner": "5.07",
    "riser_outer": "5.56",
    "rope_diameter": "0.75",
    "rope_weight": "0.16",
    "rope_load": "9000",
    "rope_breaking": "45000",
    "low_pull": "3500",
    "fast": "35",
    "high_pull": "7500",
    "slow": "14",
    "envelope": "[3.5, 2.5, 4.5]",
    "box": "[120, 72, 84]",
    "box_unit": "in",
    "bend": "48",
    "p1": "[0, 0, -5]",
    "p2": "[180, 0, -6]",
    "p3": "[180, 95, -6]",
    "p4": "[180, 95, 42]",
    "p5": "[195, 95, 42]",
    "spacing": "[7.5, 7.5]",
}
_SI = {
    "cable_about": "185 mm2 copper, 15 kV, shielded",
    "cable_diameter": "35.2",
    "cable_weight": "2.68",
    "cable_area": "185 mm2",
    "sidewall": "7300",
    "max_tension": '"12.5 kN"',
    "riser_inner": "128.8",
    "riser_outer": "141.3",
    "rope_diameter": "19",
    "rope_weight": "0.24",
    "rope_load": '"40 kN"',
    "rope_breaking": '"200 kN"',
    "low_pull": '"15 kN"',
    "fast": "10",
    "high_pull": '"33 kN"',
    "slow": "4",
    "envelope": "[1.1, 0.8, 1.4]",
    "box": "[3000, 1800, 2100]",
    "box_unit": "mm",
    "bend": "1.2",
    "p1": "[0, 0, -1.5]",
    "p2": "[55, 0, -1.8]",
    "p3": "[55, 29, -1.8]",
    "p4": "[55, 29, 13]",
    "p5": "[60, 29, 13]",
    "spacing": "[190, 190]",
}
_VALUES = {"US": _US, "SI": _SI}


def starter(units: str) -> str:
    """The text of a new model file in "US" or "SI" units; it loads as it is."""
    if units not in _VALUES:
        raise ValueError(f"units must be one of {', '.join(_VALUES)}, got {units!r}")
    text = (resources.files(__package__) / "starter.toml").read_text(encoding="utf-8")
    return Template(text).substitute(_VALUES[units], units=units)
