"""One part of a plan as words and a table, for whatever sets it out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from route3d.report.remedies import RemedyList
from route3d.units import show


@dataclass(frozen=True, slots=True)
class Block:
    """One part of the plan: ``words`` before its table, ``notes`` behind it.

    ``numbers`` are the columns set to the right; ``heavy`` the rows that break a limit. With
    ``remedies`` the part is that list and nothing else.
    """

    title: str
    words: tuple[str, ...] = ()
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    numbers: frozenset[int] = frozenset()
    notes: tuple[str, ...] = ()
    heavy: frozenset[int] = frozenset()
    remedies: RemedyList | None = None


def share(ratio: float) -> str:
    """A load over its rating in words."""
    if math.isnan(ratio):
        return "-"
    return "cannot hold" if math.isinf(ratio) else show(ratio, "percent", "SI")


def minutes(seconds: float) -> str:
    """A time in words: seconds, minutes, or hours and minutes."""
    whole = round(seconds / 60)
    if whole < 1:
        return f"{seconds:.0f} s"
    return f"{whole} min" if whole < 120 else f"{whole // 60} h {whole % 60:02d} min"
