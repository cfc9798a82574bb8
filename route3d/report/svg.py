"""The few elements of SVG that charts are made of, as text."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

import numpy as np

from route3d.directions import isolated
from route3d.geometry.vectors import Floats


def polyline(x: Floats, y: Floats, colour: str, width: float, dash: str = "") -> str:
    """A line through points (n,) in px, interrupted where ``y`` is NaN."""
    parts = []
    for rows in _unbroken(np.isfinite(y)):
        points = " ".join(f"{number(a)},{number(b)}" for a, b in zip(x[rows], y[rows], strict=True))
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
            f'stroke-linejoin="round"{dashes}/>'
        )
    return "\n".join(parts)


def _unbroken(known: Iterable[bool]) -> list[slice]:
    edges = np.diff(np.concatenate(([0], np.asarray(known, dtype=int), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def number(value: float) -> str:
    """A coordinate with two decimals and no minus zero: charts must not differ by rounding."""
    return f"{round(float(value), 2) + 0.0:.2f}"


def line(
    x1: float, y1: float, x2: float, y2: float, colour: str, width: float, dash: str = ""
) -> str:
    """A straight line from one place to another, px."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:g}"{dashes}/>'


def text(
    x: float,
    y: float,
    words: str,
    colour: str,
    *,
    size: float = 13.0,
    anchor: str = "start",
    bold: bool = False,
    back: str = "",
) -> str:
    """Words at a place, empty for none; ``back`` outlines them in the color of the ground."""
    if not words:
        return ""
    look = f'font-size="{size:g}" text-anchor="{anchor}" fill="{colour}"'
    look += ' font-weight="bold"' if bold else ""
    # Keeps letters clear of the lines behind them.
    look += f' stroke="{back}" stroke-width="4" paint-order="stroke"' if back else ""
    return f'<text x="{number(x)}" y="{number(y)}" {look}>{escape(isolated(words))}</text>'
