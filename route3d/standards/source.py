"""A figure and where it comes from: Status, Source, Fact."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal, TypeAlias

Quantity: TypeAlias = Literal[
    "length",
    "diameter",
    "radius",
    "area",
    "conductor_area",
    "weight",
    "force",
    "sidewall",
    "speed",
    "angle",
    "ratio",
    "stress",
    "count",
    "temperature",
]

Confidence: TypeAlias = Literal["", "h", "m", "l"]


class Status(StrEnum):
    """How a figure is known, best first."""

    READ = "READ"
    XCHECK = "XCHECK"
    DERIVED = "DERIVED"
    MEMORY = "MEMORY"
    ESTIMATE = "ESTIMATE"

    @property
    def rank(self) -> int:
        """0 for the best known status, rising as the footing gets weaker."""
        return list(Status).index(self)


_WORDS = {
    Status.READ: "",
    Status.XCHECK: "recalled, agrees with a stored copy",
    Status.DERIVED: "derived",
    Status.MEMORY: "from memory",
    Status.ESTIMATE: "estimate",
}
_CONFIDENCE_WORDS = {
    "": "",
    "h": "high confidence",
    "m": "medium confidence",
    "l": "low confidence",
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from: ``title`` of the publication, ``cite`` the place in it.

    ``note`` keeps the status as recorded and any misprint or disagreement; ``confidence`` grades a
    recalled or second-hand figure h, m or l. ``str()`` is the citation on one line.
    """

    title: str
    cite: str
    status: Status
    note: str = ""
    confidence: Confidence = ""

    @property
    def doubtful(self) -> bool:
        """True for an estimate or anything of low confidence: never a silent default."""
        return self.status is Status.ESTIMATE or self.confidence == "l"

    @property
    def words(self) -> str:
        """The status in words, empty when the figure was plainly read."""
        words = (_WORDS[self.status], _CONFIDENCE_WORDS[self.confidence])
        return ", ".join(word for word in words if word)

    def __str__(self) -> str:
        citation = ", ".join(part for part in (self.title, self.cite) if part)
        return f"{citation}; {self.words}" if self.words else citation


@dataclass(frozen=True, slots=True)
class Fact:
    """One published figure: ``value`` in SI (N, m, N/m, Pa, rad, m/s, K, m2) and its source."""

    value: float
    quantity: Quantity
    source: Source
    label: str

    @property
    def doubtful(self) -> bool:
        """True when the source is an estimate or of low confidence."""
        return self.source.doubtful
