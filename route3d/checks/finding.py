"""The one record every check returns."""

from __future__ import annotations

import math
from dataclasses import dataclass

from route3d.phrase import Phrase, literal, say

SEVERITIES = ("stop", "caution", "note", "ok")
# Within a tenth of a limit a check says so: friction is seldom known better than that
# (common practice, no source).
CLOSE = 0.9
BEYOND = 1000
"""Above this multiple of a limit the figure means nothing: it is put in words."""
# Rules whose demand and limit are the two ends of a setting: broken, no setting is left.
_SETTINGS = ("brake window", "brake limited by stop reading")


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says of one place: ``demand`` against ``limit`` (SI, of ``quantity``).

    ``where`` names the place and may hold one ``station {}``, which :attr:`place` fills in.
    ``ratio`` is above 1 where the limit is broken, whichever way the limit works; NaN where the
    rule has no number. ``severity`` is "stop", "caution", "note" or "ok"; ``station`` m where the
    place has one; ``fix`` what to do, and ``source`` who says so. ``rounding`` of demand and limit
    where they are printed: "+" up, "-" down, "" to the nearest.
    """

    rule: str
    severity: str
    where: str
    demand: float
    limit: float
    quantity: str
    fix: Phrase
    source: str
    station: float | None = None
    ratio: float = math.nan
    rounding: tuple[str, str] = ("", "")

    @property
    def figures(self) -> tuple[tuple[float, str], tuple[float, str]]:
        """Demand and limit as a Phrase takes them, each rounded to its safe side."""
        up, down = self.rounding
        return (self.demand, self.quantity + up), (self.limit, self.quantity + down)

    @property
    def place(self) -> Phrase:
        """``where`` with the station filled in; names in it may hold braces of their own."""
        before, mark, after = self.where.partition("station {}")
        if not mark or self.station is None:
            return say(literal(self.where))
        template = f"{literal(before)}station {{}}{literal(after)}"
        return say(template, (self.station, "length"))

    @property
    def no_setting(self) -> bool:
        """True where the reels must be held with more than they may be: no setting holds."""
        return self.rule in _SETTINGS and self.severity == "stop"

    @property
    def compared(self) -> Phrase:
        """What was found and what it was held against; empty where there are no two figures."""
        if not (math.isfinite(self.demand) and math.isfinite(self.limit)):
            return say("")
        found, limit = self.figures
        if self.no_setting:
            if self.limit <= 0:
                return say("no brake setting works")
            return say("no brake setting works (minimum {}, maximum {})", found, limit)
        if self.beyond:
            over = say(f"over {BEYOND:,} times the limit")
            return over if self.quantity == "percent" else over + say(" of {}", limit)
        return say("{}; limit {}", found, limit)

    @property
    def beyond(self) -> bool:
        """True where the demand is so far above the limit that its figure tells nothing."""
        return self.limit > 0 and self.demand > BEYOND * self.limit


def at_most(
    rule: str,
    where: str,
    demand: float,
    limit: float,
    quantity: str,
    fix: Phrase,
    source: str,
    *,
    station: float | None = None,
    broken: str = "stop",
    close: bool = True,
) -> Finding:
    """A demand that must not exceed its limit; within a tenth of it is a caution.

    ``close=False`` leaves the caution out, for what is chosen and not estimated.

    Parameters
    ----------
    rule, where : str
        What is checked, and the place.
    demand, limit : float
        SI, of `quantity`.
    quantity : str
        A key of QUANTITIES.
    fix : Phrase
        What to do.
    source : str
        Whose limit it is.
    station : float, optional
        m
    broken : {"stop", "caution", "note"}
        Severity above the limit.
    close : bool
        Caution within a tenth of the limit.

    Returns
    -------
    Finding
        With its ratio.
    """
    ratio = demand / limit if limit > 0 else math.inf
    return Finding(
        rule,
        _severity(ratio, broken, close),
        where,
        demand,
        limit,
        quantity,
        fix,
        source,
        station,
        ratio,
    )


def at_least(
    rule: str,
    where: str,
    demand: float,
    limit: float,
    quantity: str,
    fix: Phrase,
    source: str,
    *,
    station: float | None = None,
    broken: str = "stop",
) -> Finding:
    """A dimension that must reach its limit; no caution short of it, for dimensions are chosen.

    Parameters
    ----------
    rule, where : str
        What is checked, and the place.
    demand, limit : float
        SI, of `quantity`.
    quantity : str
        A key of QUANTITIES.
    fix : Phrase
        What to do.
    source : str
        Whose limit it is.
    station : float, optional
        m
    broken : {"stop", "caution", "note"}
        Severity below the limit.

    Returns
    -------
    Finding
        With its ratio.
    """
    share = limit / demand if demand > 0 else math.inf
    ratio = share if limit > 0 else 0.0  # nothing is asked for
    severity = broken if ratio > 1 + 1e-9 else "ok"
    return Finding(rule, severity, where, demand, limit, quantity, fix, source, station, ratio)


def _severity(ratio: float, broken: str, close: bool) -> str:
    if ratio > 1 + 1e-9:  # rounding of converted units is no breach
        return broken
    return "caution" if close and ratio > CLOSE else "ok"


def in_words(rule: str, severity: str, where: str, fix: Phrase, source: str) -> Finding:
    """A finding of a rule that has no number.

    Parameters
    ----------
    rule, severity, where : str
        What is checked, how grave it is, and the place.
    fix : Phrase
        What to do.
    source : str
        Who says so.

    Returns
    -------
    Finding
        Its figures are NaN.
    """
    return Finding(rule, severity, where, math.nan, math.nan, "ratio", fix, source)


def worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Stops before cautions before notes; by ratio within each.

    Last come those that no figure tells apart: without one, or against a limit of nothing, as where
    no brake setting is left because something else breaks its limit.

    Parameters
    ----------
    findings : tuple of Finding
        In any order.

    Returns
    -------
    tuple of Finding
        Sorted.
    """

    def key(f: Finding) -> tuple[int, float]:
        told = math.isfinite(f.ratio) and math.isfinite(f.demand)
        return SEVERITIES.index(f.severity), -f.ratio if told else 0.0

    return tuple(sorted(findings, key=key))
