"""Comparisons with printed figures, kept for the page of ``tests.support.published_page``.

A test in ``tests/published`` says where its figures stand and compares through ``printed``::

    pytestmark = pytest.mark.source("NFPA 70-2011")

    @pytest.mark.clause("Chapter 9 Table 2")
    def test_one_shot_radius() -> None:
        assert minimum_bend_radius("RMC", "4", "one shot").value / INCH == printed(16)

``conftest.py`` in that folder fails a test that names no source or clause, or compares with nothing
printed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest


@dataclass(frozen=True)
class Comparison:
    """One printed figure beside ours; ``digits`` is None for text and where both are equal."""

    test: str
    source: str
    clause: str
    what: str
    printed: object
    ours: object
    digits: float | None
    agrees: bool


@dataclass(frozen=True)
class Place:
    """The test that runs: its id, where its figures are printed, and the name of the case."""

    test: str
    source: str
    clause: str
    what: str


COMPARISONS: list[Comparison] = []
_places: list[Place] = []


def enter(place: Place) -> None:
    """Comparisons from now on belong to this test."""
    _places.append(place)


def leave() -> None:
    """The test is over."""
    _places.pop()


def made_by(test: str) -> int:
    """How many comparisons the test has made."""
    return sum(c.test == test for c in COMPARISONS)


class printed:
    """A figure as printed, or a list or dict of them; equal to ours within the tolerance.

    ``rel`` and ``abs`` are those of ``pytest.approx``. Without either, numbers must agree to 1e-12
    and text must be equal. ``what`` names the figure where the name of the test does not.
    """

    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self, value: Any, rel: float | None = None, abs: float | None = None, what: str = ""
    ) -> None:
        self.value, self.what = value, what
        self.rel = 1e-12 if rel is None and abs is None else rel
        self.abs = abs

    def __repr__(self) -> str:
        return f"printed({self.value!r})"

    def __eq__(self, ours: object) -> bool:
        pairs = list(_pairs(self.value, ours, self.what))
        if not pairs:
            return False
        agreed = [self._one(name, figure, mine) for name, figure, mine in pairs]
        return all(agreed)

    def _one(self, name: str, figure: object, ours: object) -> bool:
        if _is_number(figure) and _is_number(ours):
            agrees = bool(ours == pytest.approx(figure, rel=self.rel, abs=self.abs))
            digits = agreeing_digits(float(figure), float(ours))  # type: ignore[arg-type]
        else:
            agrees, digits = bool(ours == figure), None
        if _places:
            at = _places[-1]
            what = ", ".join(part for part in (at.what, name) if part)
            COMPARISONS.append(
                Comparison(at.test, at.source, at.clause, what, figure, ours, digits, agrees)
            )
        return agrees


def agreeing_digits(figure: float, ours: float) -> float | None:
    """Decimal digits in which the two agree, of the printed figure; None where they are equal."""
    if figure == ours or math.isclose(figure, ours, rel_tol=1e-12):
        return None
    if figure == 0 or not math.isfinite(figure) or not math.isfinite(ours):
        return 0.0
    return max(0.0, -math.log10(abs(ours - figure) / abs(figure)))


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float, np.number)) and not isinstance(value, (bool, np.bool_))


_ABSENT = "nothing"


def _pairs(figure: object, ours: object, name: str) -> Iterator[tuple[str, object, object]]:
    """Every single figure with ours; what is missing on one side stands as "nothing"."""
    if isinstance(figure, Mapping) and isinstance(ours, Mapping):
        for key in dict.fromkeys((*figure, *ours)):
            label = ", ".join(filter(None, (name, _text(key))))
            yield from _pairs(figure.get(key, _ABSENT), ours.get(key, _ABSENT), label)
    elif _is_list(figure) and _is_list(ours):
        a, b = list(figure), list(ours)  # type: ignore[call-overload]
        for i in range(max(len(a), len(b))):
            label = ", ".join(filter(None, (name, f"no. {i + 1}")))
            yield from _pairs(
                a[i] if i < len(a) else _ABSENT, b[i] if i < len(b) else _ABSENT, label
            )
    else:
        yield name, figure, ours


def _is_list(value: object) -> bool:
    return isinstance(value, (Sequence, np.ndarray)) and not isinstance(value, str)


def _text(key: object) -> str:
    return " ".join(map(str, key)) if isinstance(key, tuple) else str(key)
