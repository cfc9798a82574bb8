"""Paper sizes and round drawing scales, as a person writes them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from route3d.errors import InputError, Problem
from route3d.units import convert

# Landscape, mm: width and height (ISO 216; ANSI/ASME Y14.1 sizes A and B; from memory).
PAPERS = {
    "letter": (279.4, 215.9),
    "tabloid": (431.8, 279.4),
    "a4": (297.0, 210.0),
    "a3": (420.0, 297.0),
    "a1": (841.0, 594.0),
}
_FEET_TO_THE_INCH = (5, 10, 20, 30, 40, 50, 60, 100, 200)  # engineer's scales (from memory)
# ISO 5455, and between them the other scales of a metric ruler (from memory).
_RATIOS = (50, 100, 200, 250, 300, 400, 500, 1000, 2000)
# No scale smaller than this is chosen unasked: bends of a meter would be dots.
_SMALLEST = {"US": 40 * 12.0, "SI": 500.0}
_RATIO = re.compile(r"\s*1\s*[:/]\s*(\d+(?:\.\d+)?)\s*")
_INCH = re.compile(r"\s*1\s*(?:in|\")\s*=\s*(\d+(?:\.\d+)?)\s*(?:ft|')\s*")
_SCALE_RANGE = 1.0, 100_000.0


@dataclass(frozen=True, slots=True)
class Scale:
    """A drawing scale 1:``ratio``."""

    ratio: float

    @property
    def mm(self) -> float:
        """Paper millimeters in a meter."""
        return 1000.0 / self.ratio

    def words(self, system: str) -> str:
        """The scale as it stands on the drawing."""
        feet = self.ratio / 12
        if system == "US" and abs(feet - round(feet)) < 1e-9:
            return f"1 in = {feet:.0f} ft (1:{self.ratio:g})"
        return f"1:{self.ratio:g}"


def round_scales(system: str) -> tuple[tuple[Scale, ...], tuple[Scale, ...]]:
    """The round scales from large to small: those for a single sheet, those for several.

    The smallest of the first is the largest of the second.
    """
    ratios = [12.0 * n for n in _FEET_TO_THE_INCH] if system == "US" else [*map(float, _RATIOS)]
    limit = _SMALLEST[system]
    single = tuple(Scale(r) for r in ratios if r <= limit)
    return single, tuple(Scale(r) for r in ratios if r >= limit)


def parse_scale(text: str) -> Scale:
    """The scale of ``1:200`` or ``1 in = 20 ft``; InputError otherwise."""
    if match := _RATIO.fullmatch(text):
        ratio = float(match[1])
    elif match := _INCH.fullmatch(text):
        ratio = 12 * float(match[1])
    else:
        said = f"{text!r} is no drawing scale"
        raise InputError(Problem(said, where="--scale", fix="type 1:200, or 1in=20ft"))
    low, high = _SCALE_RANGE
    if not low <= ratio <= high:
        said = f"{text!r} is a scale of 1:{ratio:g}, which no sheet is drawn at"
        raise InputError(Problem(said, where="--scale", fix=f"take 1:{low:g} to 1:{high:.0f}"))
    return Scale(ratio)


def round_step(least: float, system: str) -> float:
    """The least round length (1, 2, 5, ... of the unit shown) of ``least`` m or more, in m."""
    unit = convert(1.0, "length", system)
    wanted = max(least * unit, 1e-6)
    power = 10.0 ** math.floor(math.log10(wanted))
    return min(k * power for k in (1, 2, 5, 10) if k * power >= wanted * (1 - 1e-9)) / unit


def multiples(step: float, low: float, high: float) -> list[float]:
    """The multiples of ``step`` from ``low`` to ``high``, ends included."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [i * step for i in range(first, last + 1)]
