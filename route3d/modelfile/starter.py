"""The model files that ``route3d new`` starts a job with: one with every key, and templates."""

from __future__ import annotations

from importlib import resources
from string import Template

from route3d.standards.rules import rule_set, usual

_US = {
    "cable_about": "350 kcmil copper, 15 kV, shielded",
    "cable_diameter": "1.387",
    "cable_weight": "1.795",
    "cable_area": "350 kcmil",
    "sidewall": "500",
    "max_tension": "2800",
    "max_grip": "1000",
    "max_eye": "6000",
    "friction_above": "150",
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
    "slow_free": "18",
    "machine_weight": "650",
    "boom": "11000",
    "line_height": "2.5",
    "clearance": "3",
    "end_slack": "10 ft",
    "rope_tail": "33 ft",
    "gauge_step": "50 lbf",
    "lead_distance": "14 ft",
    "bolts": "[[0, -1], [0, 1], [3, -1], [3, 1]]",
    "bolt_tension": "3000",
    "bolt_shear": "2500",
    "brace": "6500",
    "light": "2000",
    "truck": "9000",
    "truck_length": "18",
    "truck_width": "7",
    "drawbar": "3",
    "head": "3 ft",
    "drum": "36",
    "drag": "25 ft",
    "brake_torque": "400 lbf ft",
    "sheave": "20",
    "sheave_rating": "12000",
    "swivel": "9000",
    "reel": "2800",
    "reel_diameter": "72",
    "reel_width": "46",
    "feed_sheave": "24",
    "outline": "[[190, 80], [215, 80], [215, 110], [190, 110]]",
    "floor": "38",
    "ceiling": "50",
    "obstacle": "[[208, 84], [214, 84], [214, 106], [208, 106]]",
    "interval": "150",
    "laying": '"40 °F"',
    "lowest": '"14 °F"',
    "rope_wear": "500",
    "on_reel": "1500 ft",
}
_SI = {
    "cable_about": "185 mm2 copper, 15 kV, shielded",
    "cable_diameter": "35.2",
    "cable_weight": "2.68",
    "cable_area": "185 mm2",
    "sidewall": "7300",
    "max_tension": '"12.5 kN"',
    "max_grip": '"4.4 kN"',
    "max_eye": '"26 kN"',
    "friction_above": "2200",
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
    "slow_free": "5",
    "machine_weight": "300",
    "boom": '"49 kN"',
    "line_height": "0.75",
    "clearance": "0.9",
    "end_slack": "3 m",
    "rope_tail": "10 m",
    "gauge_step": "200 N",
    "lead_distance": "4 m",
    "bolts": "[[0, -0.3], [0, 0.3], [0.9, -0.3], [0.9, 0.3]]",
    "bolt_tension": '"13 kN"',
    "bolt_shear": '"11 kN"',
    "brace": '"29 kN"',
    "light": '"9 kN"',
    "truck": "4000",
    "truck_length": "5.5",
    "truck_width": "2.1",
    "drawbar": "0.9",
    "head": "0.9 m",
    "drum": "900",
    "drag": "7.5 m",
    "brake_torque": "540 N m",
    "sheave": "0.5",
    "sheave_rating": '"53 kN"',
    "swivel": '"40 kN"',
    "reel": "1270",
    "reel_diameter": "1800",
    "reel_width": "1200",
    "feed_sheave": "0.6",
    "outline": "[[58, 24], [66, 24], [66, 34], [58, 34]]",
    "floor": "11.8",
    "ceiling": "15.5",
    "obstacle": "[[64, 25], [65.8, 25], [65.8, 33], [64, 33]]",
    "interval": "45",
    "laying": '"5 °C"',
    "lowest": '"-5 °C"',
    "rope_wear": "7300",
    "on_reel": "450 m",
}
_VALUES = {"US": _US, "SI": _SI}

TEMPLATES = ("pad-to-switchboard", "vault-to-vault", "riser", "roof-drop", "duct-bank")
"""Short jobs to begin with, by what they are about."""


def starter(units: str, rules: str = "", edition: str = "") -> str:
    """The text of a new model file in "US" or "SI" units; it loads as it is.

    Every table of it is marked as an example.

    ``rules`` and ``edition`` are written into it, the usual ones of the units where empty; raises
    NotInTable where they are unknown.
    """
    if units not in _VALUES:
        raise ValueError(f"units must be one of {', '.join(_VALUES)}, got {units!r}")
    text = (resources.files(__package__) / "starter.toml").read_text(encoding="utf-8")
    chosen = rule_set(rules or usual(units), edition)
    unchosen = "" if rules else "example = true # rules not chosen: confirm them\n"
    line = (
        f'edition = "{chosen.edition}"'
        if chosen.edition
        else '# edition: not used with rules = "none"'
    )
    return Template(text).substitute(
        _VALUES[units], units=units, rules=chosen.name, edition=line, practice_mark=unchosen
    )


def template_text(name: str, units: str) -> str:
    """The text of one of TEMPLATES in "US" or "SI" units; every table is marked as an example."""
    file = resources.files(__package__) / "templates" / f"{name}.{units.lower()}.toml"
    return file.read_text(encoding="utf-8")
