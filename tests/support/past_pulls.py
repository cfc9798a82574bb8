"""Records of past pulls as plain data, with what a library asks of them."""

from __future__ import annotations

from typing import Any


def past_pull(
    number: int, friction: float = 0.2, *, lines: list[dict[str, Any]] | None = None, **changes: Any
) -> dict[str, Any]:
    """Record ``number``; its one conduit has ``friction``, known to a tenth, or as in ``lines``."""
    line = {
        "kind": "friction",
        "name": "duct",
        "jacket": "PE",
        "conduit": "PVC",
        "value": friction,
        "low": friction * 0.9,
        "high": friction * 1.1,
        "known": True,
        "why": "",
    }
    return {
        "title": "Ferry terminal: berth 2 charging feeder",
        "units": "US",
        "run": f"F{number}",
        "feed": "vault V1",
        "pull": "roof switchroom",
        "stop_passed": False,
        "peak": {"load_N": 9000.0},
        "day": f"2026-03-{number % 28 + 1:02d}",
        "bank": "",
        "lubricant": {"product": "water-based gel"},
        "temperature_K": 288.15,
        "friction": [line] if lines is None else lines,
        "sha256": {"readings": f"{number:064x}"},
    } | changes
