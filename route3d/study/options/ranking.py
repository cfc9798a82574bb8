"""Which option is better: by one figure the user asks for, and by all of them at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from route3d.study.options.outcome import Option

RANKED_BY = ("utilization", "time", "cost", "setups")
"""What options may be ranked by."""
# Figures that differ by rounding alone are the same: a millionth of a limit, a millisecond, a
# hundredth of the currency.
_SHARE, _SECONDS, _MONEY = 6, 3, 2


def figures(option: Option) -> dict[str, float]:
    """What an option is judged by, less is better; infinite where it is not known."""

    def rounded(value: float | None, decimals: int) -> float:
        return math.inf if value is None or math.isnan(value) else round(value, decimals)

    return {
        "utilization": rounded(option.utilization, _SHARE),
        "time": rounded(option.crew_time, _SECONDS),
        "cost": rounded(option.cost, _MONEY),
        "setups": float(option.setups),
    }


def ranked(options: Sequence[Option], by: str) -> tuple[Option, ...]:
    """Those that pass first, each lot by one figure and then by the others; errors last.

    Equal ones keep their order. Those on the efficient front are marked.
    """
    order = (by, *(name for name in RANKED_BY if name != by))

    def key(option: Option) -> tuple[bool, bool, tuple[float, ...]]:
        found = figures(option)
        return bool(option.error), not option.passes, tuple(found[name] for name in order)

    return tuple(sorted(marked(options), key=key))


def marked(options: Sequence[Option]) -> tuple[Option, ...]:
    """The options with those marked that no other dominates, of those that pass.

    One that has the same figures as one with fewer changes is not marked.
    """
    points = [tuple(figures(o).values()) if o.passes and not o.same_as else None for o in options]
    front = efficient([p for p in points if p is not None])
    flags = iter(front)
    return tuple(
        replace(o, efficient=p is not None and next(flags))
        for o, p in zip(options, points, strict=True)
    )


def efficient(points: Sequence[tuple[float, ...]]) -> list[bool]:
    """For each point, whether no other is at most as large in everything and less in something.

    What dominates a point comes before it in the order of their figures, and if it is itself
    dominated, so is the point by what dominates that: only those found efficient are asked.
    """
    front: list[tuple[float, ...]] = []
    for point in sorted(set(points)):
        if not any(all(a <= b for a, b in zip(other, point, strict=True)) for other in front):
            front.append(point)
    kept = set(front)
    return [point in kept for point in points]
