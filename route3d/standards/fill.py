"""How full a conduit may be: fill limit, jam bands, least clearance."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal, TypeAlias

from route3d.standards.source import Fact, Source
from route3d.standards.tables import load, rule_fact, source_of

RatioReading: TypeAlias = Literal["D/d", "1.05 D/d"]
Hint: TypeAlias = Literal["", "note", "caution"]
_FILL_KEYS = {1: "fill_1", 2: "fill_2"}
_HINTS_BY_GRAVITY: tuple[Hint, ...] = ("", "note", "caution")


def fill_limit(count: int) -> Fact:
    """Greatest share of the bore the cables may fill, NFPA 70 Chapter 9 Table 1."""
    if count < 1:
        raise ValueError(f"count must be at least 1, got {count}")
    table, cite = load("nec_ch9_t1_fill"), f"{count} cables"
    share = float(table.facts[_FILL_KEYS.get(count, "fill_over_2")])
    return Fact(share, "ratio", source_of(table, {}, cite=cite), f"conduit fill, {cite}")


@dataclass(frozen=True, slots=True)
class JamBand:
    """A band of the jam ratio and the risk a publication gives it.

    ``severity_hint`` is ours: "" nothing to say, "note" or "caution".
    """

    low: float
    high: float
    risk: str
    severity_hint: Hint
    source: Source


@cache
def jam_bands(reading: RatioReading) -> tuple[JamBand, ...]:
    """The published bands of one reading of the jam ratio, for three cables.

    The two readings are different quantities. The bands of D/d come from two publications that
    overlap and disagree between 3.0 and 3.2; :func:`jam_band_at` takes the graver.
    """
    table = load("clearance_jam")
    bands = tuple(
        JamBand(
            float(row["low"]),
            float(row["high"]),
            row["risk"],
            row["severity_hint"],
            source_of(table, row),
        )
        for row in table.where(ratio=reading)
    )
    if not bands:
        raise ValueError(f'reading must be "D/d" or "1.05 D/d", got {reading!r}')
    return bands


def jam_band_at(bore_over_cable: float, reading: RatioReading) -> JamBand:
    """The gravest band that holds a plain D/d; the factor 1.05 is applied here where it belongs."""
    ratio = bore_over_cable * (ovality_factor().value if reading == "1.05 D/d" else 1.0)
    held = [band for band in jam_bands(reading) if band.low <= ratio <= band.high]
    if not held:
        raise ValueError(f"bore over cable diameter must be positive, got {bore_over_cable}")
    return max(held, key=lambda band: _HINTS_BY_GRAVITY.index(band.severity_hint))


def ovality_factor() -> Fact:
    """The 1.05 by which a bend widens the bore in the second reading of the jam ratio."""
    table = load("clearance_jam")
    return rule_fact(table, table.rule("ovality_factor"), "ratio", "bore widened by a bend")


def minimum_clearance() -> tuple[Fact, Fact]:
    """Least clearance above the cables: for small cables and easy pulls, for big and hard ones."""
    table = load("clearance_jam")
    low = rule_fact(table, table.rule("clearance_low"), "length", "least clearance, easy pull")
    high = rule_fact(table, table.rule("clearance_high"), "length", "least clearance, hard pull")
    return low, high
