"""Rows of cable tables that the search shows and no rule asks: bends, sidewall limits."""

from __future__ import annotations

from route3d.standards.source import Fact
from route3d.standards.tables import load, rule_fact, source_of

_BEND_TABLES = (
    "cable_bend_radius_nec_icea",
    "cable_bend_radius_more",
    "cable_bend_radius_international",
)
_REGIONS = {
    "AU": "Australian manufacturer bending radii sheet",
    "UK": "UK practice",
    "DE": "German practice",
}


def bend_multiple(identity: str, *, installed: bool = False) -> Fact:
    """The one multiple of the cable diameter in a row, or that while pulling or once installed."""
    for table in map(load, _BEND_TABLES):
        for row in table.rows:
            if identity != (row.get("id") or f"{row.get('region')}: {row.get('cable')}"):
                continue
            key = "in_situ" if installed else "during_install"
            title = "NFPA 70" if "cite" in row else "ICEA S-95-658, S-93-639"
            title = "" if "source" in row else title
            title = _REGIONS[row["region"]] if "region" in row else title
            cite = str(row.get("cite") or row.get("cable") or row["id"])
            source = source_of(table, row, title=title, cite=cite)
            return Fact(float(row["factor" if "factor" in row else key]), "ratio", source, identity)
    raise KeyError(identity)


def sidewall_limit(family: str) -> Fact:
    """The sidewall pressure limit of a cable family, N/m."""
    table = load("sidewall_limits")
    (row,) = table.where(family=family)
    return rule_fact(table, row, "sidewall", row["family"])
