"""Field practice: rope, lubricant, speed, reel tension, restart, laying temperature."""

from __future__ import annotations

from functools import cache
from typing import Literal, TypeAlias

from route3d.standards.source import Fact
from route3d.standards.tables import FOOT, load, rule_fact, source_of

End: TypeAlias = Literal["value", "low", "high"]


@cache
def practice(identity: str, end: End = "value") -> Fact:
    """One rule of ``data/field_practice.toml`` by id; ranges need ``end`` "low" or "high".

    Raises NotInTable for an unknown id and ValueError when the rule has no such end.
    """
    table = load("field_practice")
    row = table.rule(identity)
    if end not in row:
        raise ValueError(f"{identity} prints {'a range' if 'low' in row else 'one value'}")
    return rule_fact(table, row, row["quantity"], str(row["cite"]), key=end)


def rope_safety_factor() -> Fact:
    """Average breaking strength of a pulling rope over the puller's capacity, at least 4."""
    return practice("rope_safety_factor")


def rope_design_factor() -> Fact:
    """Breaking strength over working load that rope makers and CI 1308 ask for, at least 5."""
    table = load("us_rope_rules")
    row = table.rule("safety_factor_cordage_institute")
    source = source_of(table, row, title="Cordage Institute CI 1308", cite="design factor 5 to 12")
    return Fact(float(row["factor_low"]), "ratio", source, "breaking strength over working load")


def plastic_bend_length() -> Fact:
    """Length of pull beyond which one electric cooperative asks for steel elbows, m.

    Read in a forum: no published figure for the wear of elbows was found.
    """
    table = load("us_rope_rules")
    row = table.rule("elbow_coop_rule_250ft")
    source = source_of(
        table,
        row,
        title="common practice of one electric cooperative, read in a forum",
        cite="no published figure found",
    )
    return Fact(float(row["length_ft"]) * FOOT, "length", source, "steel elbows beyond this length")


def reel_back_length() -> Fact:
    """Reel tension of a freely turning reel, as a length of cable weight (m)."""
    return practice("reel_back_tension")


def lubricant_volume(length: float, inner_diameter: float) -> float:
    """Lubricant for a pull in m3: Q = k L D (Technical Talk XVII), conduit length and bore in m."""
    return practice("lubricant").value * length * inner_diameter
