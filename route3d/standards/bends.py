"""Bends of the route: the turn between pull points, and duct-bank conventions."""

from __future__ import annotations

import re
from math import radians
from typing import Literal, TypeAlias

from route3d.standards.source import Fact, Status
from route3d.standards.tables import load, si, source_of

Neighbors: TypeAlias = Literal["power", "power to communications"]
Burial: TypeAlias = Literal["encased", "direct buried"]


# The same rule stands in the article of each conduit (all but EMT from memory).
_DEGREES_ARTICLE = {
    "EMT": "358.26",
    "IMC": "342.26",
    "RMC": "344.26",
    "PVC": "352.26",
    "HDPE": "353.26",
}


def max_degrees_between_pull_points(stock_type: str = "EMT") -> Fact:
    """Greatest sum of bends between pull points: 360 degrees, in rad.

    Read for EMT (358.26); the same rule in the article of another conduit is recalled, and a
    conduit whose article is not known is held to that of EMT, which its citation says.
    """
    table = load("nec_rules_bends_boxes")
    row = table.rule("bends_360")
    named = _DEGREES_ARTICLE.get(stock_type.split("-")[0])
    article = named or "the article of the conduit, as 358.26 for EMT"
    status = None if article == "358.26" else Status.MEMORY
    source = source_of(table, row, title="NFPA 70", cite=article, status=status, note=row["cite"])
    return Fact(radians(row["value"]), "angle", source, "bends between pull points")


def duct_bank_spacing(neighbors: Neighbors = "power") -> Fact:
    """Least clear distance between ducts of a concrete-encased bank."""
    rule = {"power": "between_power", "power to communications": "between_power_comm"}[neighbors]
    return _duct_bank(rule, f"between ducts, {neighbors}")


def cover(burial: Burial = "encased") -> Fact:
    """Least earth cover over a duct bank or direct-buried duct."""
    rule = {"encased": "cover_encased", "direct buried": "direct_buried_cover"}[burial]
    return _duct_bank(rule, f"cover, {burial}")


def concrete_around() -> Fact:
    """Least concrete around the outer ducts of a bank."""
    return _duct_bank("concrete_around", "concrete around the ducts")


_SHEETS = {
    "UFGSA": "UFGS-16526A, duct lines",
    "UFGSB": "UFGS-16526A, concrete encasement and direct burial",
}


def _duct_bank(rule: str, label: str) -> Fact:
    table = load("ductbank")
    row = table.rule(rule)
    sheet = re.search(r"UFGS[AB]", row["status"])
    title = _SHEETS[sheet.group()] if sheet else ""
    source = source_of(table, row, title=title, cite=rule.replace("_", " "))
    return Fact(si(float(row["value"]), str(row["unit"]).split()[0]), "length", source, label)
