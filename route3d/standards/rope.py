"""Rope through bends: the length from which plastic ones are taken out."""

from __future__ import annotations

from route3d.standards.source import Fact
from route3d.standards.tables import FOOT, load, source_of


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
