from __future__ import annotations

import math

import pytest

from route3d.checks.finding import Finding, at_least, at_most, worst_first
from route3d.phrase import say
from route3d.units import render

NOTHING = say("")


def most(demand: float, limit: float = 100.0, **more: object) -> Finding:
    return at_most("r", "w", demand, limit, "force", NOTHING, "s", **more)  # type: ignore[arg-type]


def least(demand: float, limit: float = 100.0, **more: object) -> Finding:
    return at_least("r", "w", demand, limit, "radius", NOTHING, "s", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("demand", "severity"),
    [
        (0.0, "ok"),
        (90.0, "ok"),
        (90.000_001, "caution"),
        (100.0, "caution"),
        (100.000_000_01, "caution"),  # rounding of a converted unit
        (100.000_001, "stop"),
        (250.0, "stop"),
    ],
)
def test_at_most_is_ok_to_nine_tenths_and_a_caution_to_the_limit(
    demand: float, severity: str
) -> None:
    finding = most(demand)
    assert finding.severity == severity
    assert finding.ratio == demand / 100.0


@pytest.mark.parametrize(
    ("demand", "severity"),
    [(100.0, "ok"), (99.999_999_99, "ok"), (99.999_99, "stop"), (101.0, "ok"), (1e6, "ok")],
)
def test_at_least_knows_no_caution(demand: float, severity: str) -> None:
    finding = least(demand)
    assert finding.severity == severity
    assert finding.ratio == 100.0 / demand


def test_a_rule_may_break_softly() -> None:
    assert most(101.0, broken="caution").severity == "caution"
    assert least(99.0, broken="note").severity == "note"


def test_nothing_in_place_of_something_breaks_without_measure() -> None:
    assert least(0.0).severity == "stop" and least(0.0).ratio == math.inf
    assert most(1.0, limit=0.0).severity == "stop"


def test_a_limit_of_nothing_is_met_by_nothing() -> None:
    # A machine with no least load, on a pull that never loads it.
    assert least(0.0, limit=0.0).severity == "ok"


def test_worst_first_orders_by_severity_then_by_ratio() -> None:
    note = Finding("n", "note", "w", 1, 1, "force", NOTHING, "s")
    findings = (note, most(50.0), most(95.0), most(130.0), most(99.0), least(0.0), least(20.0))
    ordered = worst_first(findings)
    assert [f.severity for f in ordered] == ["stop"] * 3 + ["caution"] * 2 + ["note", "ok"]
    numbered = [f.ratio for f in ordered[:3] if math.isfinite(f.ratio)]
    assert numbered == sorted(numbered, reverse=True)


def test_place_fills_in_the_station() -> None:
    finding = at_most("r", "F1, station {}", 1, 2, "force", NOTHING, "s", station=12.3)
    assert render(finding.place, "SI") == "F1, station 12.30 m"
    assert render(most(1.0).place, "SI") == "w"


@pytest.mark.parametrize("name", ["{}", "{0}", "a{b", "}", "V[1]", "[bold]x[/]", "{station}"])
def test_place_takes_any_name(name: str) -> None:
    plain = at_most("r", f"bend 1 at {name}", 1, 2, "force", NOTHING, "s", station=12.3)
    assert render(plain.place, "SI") == f"bend 1 at {name}"
    riser = at_most("r", f"{name}, riser from station {{}}", 1, 2, "force", NOTHING, "s", station=5)
    assert render(riser.place, "SI") == f"{name}, riser from station 5.00 m"


def test_a_stop_without_a_figure_or_against_a_limit_of_nothing_comes_last() -> None:
    bare = Finding("b", "stop", "w", math.nan, math.nan, "force", NOTHING, "s")
    untold = Finding("u", "stop", "w", math.nan, math.nan, "force", NOTHING, "s", None, 9.0)
    ordered = worst_first((bare, untold, most(1.0, limit=0.0), most(130.0), most(250.0)))
    assert [f.ratio for f in ordered[:2]] == [2.5, 1.3]


@pytest.mark.parametrize(
    ("rule", "demand", "limit", "quantity", "said"),
    [
        ("rope load", 20e3, 10e3, "force", "20.00 kN; limit 10.00 kN"),
        ("rope load", 10e6, 10e3, "force", "10,000 kN; limit 10.00 kN"),  # 1,000 times
        ("rope load", 10.01e6, 10e3, "force", "over 1,000 times the limit of 10.00 kN"),
        ("first move", 1001.0, 1.0, "percent", "over 1,000 times the limit"),
        ("brake window", 900.0, 700.0, "force", "no brake setting works (minimum 0.90 kN, maximum "
         "0.70 kN)"),
        ("brake window", 900.0, 0.0, "force", "no brake setting works"),
        ("stop reading", math.nan, math.nan, "force", ""),
    ],
)  # fmt: skip
def test_what_was_found_is_told_with_units_and_in_words_where_figures_tell_nothing(
    rule: str, demand: float, limit: float, quantity: str, said: str
) -> None:
    finding = Finding(rule, "stop", "w", demand, limit, quantity, NOTHING, "s")
    assert render(finding.compared, "SI") == said


def test_a_brake_window_that_holds_is_compared_like_any_figure() -> None:
    held = Finding(
        "brake limited by stop reading", "caution", "w", 600.0, 700.0, "force", NOTHING, "s"
    )
    assert not held.no_setting and render(held.compared, "SI") == "0.60 kN; limit 0.70 kN"
