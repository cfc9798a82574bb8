"""Friction of past pulls, for a terminal and as plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import Group, RenderableType

from route3d.field.history import QUANTILES, FrictionHistory
from route3d.field.pooling import PUBLISHED_PULLS
from route3d.model.conduit import ENOUGH_PULLS
from route3d.report.layout import heading, paragraph, table

NOTES = (
    "Next pull: median and 90% interval, own pulls pooled with the published range, which counts "
    f"as {PUBLISHED_PULLS} pulls. Own weight: share of your own pulls in the median.",
    "Counted: pulls through one conduit of a job on one day, or in one bank, count as one.",
    "Temperature: cold below 41 °F (5 °C), warm above 77 °F (25 °C); of the cable, else the air.",
)


def history_report(name: str, found: Sequence[FrictionHistory]) -> RenderableType:
    """The table of a library."""
    parts: list[RenderableType] = [heading(f"Friction of past pulls, {name}")]
    if not found:
        return Group(*parts, paragraph("No past pull of this kind."))
    heads = (
        "jacket in conduit, lubricant, temperature", "pulls", "counted", "range",
        "10 / 50 / 90%", "spread", "published", "next pull", "own weight",
    )  # fmt: skip
    parts.append(table(heads, [_row(each) for each in found], numbers={1, 2, 8}))
    few = [each for each in found if each.next_pull and len(each.pulls) < ENOUGH_PULLS]
    if few:
        parts.append(
            paragraph(
                f"Caution: fewer than {ENOUGH_PULLS} pulls: the next pull is mostly the "
                "published range.",
                style="yellow",
            )
        )
    parts += [
        paragraph(f"Not pooled, {each.jacket or 'jacket not recorded'}: {each.why}.")
        for each in found
        if each.why
    ]
    return Group(*parts, *(paragraph(note, style="dim") for note in NOTES))


def _row(each: FrictionHistory) -> tuple[str, ...]:
    told = each.next_pull
    return (
        ", ".join(
            (
                f"{each.jacket or 'jacket not recorded'} in {each.conduit or 'unknown material'}",
                each.lubricant or "lubricant not recorded",
                each.temperature or "temperature not recorded",
            )
        ),
        str(len(each.pulls)),
        str(each.groups),
        _span(each.low, each.high),
        " / ".join(f"{value:.2f}" for value in each.quantiles),
        f"± {math.expm1(each.spread):.0%}" if len(each.pulls) > 1 else "-",
        _span(*each.published) if each.published else "-",
        f"{told.value:.2f} ({_span(told.low, told.high)})" if told else "-",
        f"{told.weight:.0%}" if told else "-",
    )


def _span(low: float, high: float) -> str:
    return f"{low:.2f} to {high:.2f}"


def history_data(found: Sequence[FrictionHistory]) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "published_counts_as": PUBLISHED_PULLS,
        "quantiles": list(QUANTILES),
        "friction": [
            {
                **{
                    k: v
                    for k, v in asdict(each).items()
                    if k not in ("pulls", "published", "next_pull")
                },
                "next_pull": _next(each),
                "count": len(each.pulls),
                "published": None if each.published is None else list(each.published),
                "pulls": [asdict(past) for past in each.pulls],
            }
            for each in found
        ],
    }


def _next(each: FrictionHistory) -> dict[str, Any] | None:
    told = each.next_pull
    return None if told is None else {k: v for k, v in asdict(told).items() if k != "mixture"}
