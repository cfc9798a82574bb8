"""Places, limits and sentences as a report words them."""

from __future__ import annotations

import math

import pytest

from route3d.checks.finding import Finding
from route3d.phrase import say
from route3d.report.words import limit_of, measured, place, sentence
from route3d.units import render


def finding(**changes: object) -> Finding:
    given: dict[str, object] = {
        "rule": "fill",
        "severity": "stop",
        "where": "F1, station {}",
        "demand": 2.0,
        "limit": 1.0,
        "quantity": "length",
        "fix": say("take another"),
        "source": "given",
        "station": 30.48,
        "ratio": 2.0,
    }
    return Finding(**(given | changes))  # type: ignore[arg-type]


def test_the_station_is_filled_in_and_braces_of_names_stay() -> None:
    assert render(finding().place, "US") == "F1, station 100.0 ft"
    assert (
        render(finding(where="{F}{} {0}, station {}").place, "SI") == "{F}{} {0}, station 30.48 m"
    )
    assert place("bend 1 at {x}", 3.0, "SI") == "bend 1 at {x}"
    assert place("vault {}", None, "SI") == "vault {}"


def test_what_has_no_number_shows_a_dash() -> None:
    assert measured(finding(demand=math.nan), "US") == "-"
    assert limit_of(finding(severity="note", ratio=math.nan), "US") == "-"
    assert limit_of(finding(), "SI") == "1.00 m"


@pytest.mark.parametrize(("text", "wanted"), [("ab c", "Ab c."), ("Ab.", "Ab."), ("", ".")])
def test_sentence(text: str, wanted: str) -> None:
    assert sentence(text) == wanted
