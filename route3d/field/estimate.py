"""A figure learned from logs, with how well it is known."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Estimate:
    """``value`` with its 95 % interval ``low`` to ``high``, SI.

    ``kind`` is "friction" (of conduit ``name``), "rope friction", "reel tension" or "tare".
    ``known`` is false where the logs cannot tell it from something else, and ``why`` then says
    which; value and interval are then what was assumed.
    """

    kind: str
    name: str
    value: float
    low: float
    high: float
    known: bool = True
    why: str = ""
