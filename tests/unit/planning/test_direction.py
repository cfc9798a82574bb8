from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.mechanics.pull import solve_pull
from route3d.model import Practice, Route, Run
from route3d.planning.direction import Candidate, Decision, barred, candidate, choose
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, vertices

PRACTICE = Practice()


def candidates(run: Run) -> tuple[Candidate, Candidate]:
    first, second = (
        candidate(solve_pull(run, PRACTICE, reverse=reverse)) for reverse in (False, True)
    )
    return first, second


def decide(run: Run) -> Decision:
    return choose(*candidates(run))


def hook(first: str = "reel machine", last: str = "reel machine", names: str = "AB") -> Route:
    """One bend near the second end: better to feed from there."""
    return lay(
        at((0, 0, 0), name=names[0], ends=first),
        at((60, 0, 0), 1.5),
        at((60, 5, 0), name=names[-1], ends=last),
        conduits=conduit(),
    )


def words(run: Run, system: str = "SI") -> str:
    return render(decide(run).why, system)


# --- the better of two --------------------------------------------------------------------------


def test_the_end_near_the_bend_feeds_and_both_numbers_are_said() -> None:
    run = jobs.run(hook())
    decision = decide(run)
    first, second = candidates(run)
    assert decision.choice is not None and decision.choice.pull.feed_name == "B"
    assert second.utilization.peak < first.utilization.peak
    text = render(decision.why, "SI")
    mine, other = (f"{100 * c.utilization.peak:.0f}%" for c in (second, first))
    assert text.startswith(f"Highest utilization: conductor tension, {mine} (other end: sidewall")
    assert f"sidewall pressure, {other})" in text
    factor = second.margin.factor
    assert factor is not None
    assert (
        f"Friction can rise to {factor:.2f} times the planned value ({0.3 * factor:.2f} in duct"
        in text
    )
    assert f"other end: {first.margin.factor:.2f} times" in text


def test_a_direction_that_passes_beats_one_that_breaks() -> None:
    first, second = candidates(jobs.run(hook()))
    between = (first.pull.peak_tension + second.pull.peak_tension) / 2
    decision = decide(jobs.run(hook(), cable(max_tension=between)))
    assert decision.choice is not None and decision.choice.pull.feed_name == "B"
    assert "conductor tension" in render(decision.why, "SI")


# --- access -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "feed"),
    [
        ("reel", "machine", "A"),
        ("machine", "reel", "B"),
        ("reel machine", "machine", "A"),
        ("reel", "reel machine", "A"),
        ("machine", "reel machine", "B"),
    ],
)
def test_an_end_without_access_is_ruled_out_however_good(first: str, last: str, feed: str) -> None:
    decision = decide(jobs.run(hook(first, last)))
    assert decision.choice is not None and decision.choice.pull.feed_name == feed
    assert "The other end is ruled out: " in render(decision.why, "US")


@pytest.mark.parametrize(
    ("first", "last", "reasons"),
    [
        ("reel", "reel", ["B has no machine access", "A has no machine access"]),
        ("machine", "machine", ["A has no reel access", "B has no reel access"]),
        ("", "", ["A has no reel access and B has no machine access"]),
    ],
)
def test_neither_end_has_what_it_takes(first: str, last: str, reasons: list[str]) -> None:
    run = jobs.run(hook(first, last))
    assert decide(run).choice is None
    text = words(run)
    assert text.startswith("Not acceptable from either end: feed from A is ruled out: ")
    assert all(reason in text for reason in reasons)


def test_barred_is_empty_where_both_ends_serve() -> None:
    assert not barred(solve_pull(jobs.run(hook()), PRACTICE))


# --- neither end --------------------------------------------------------------------------------


def test_where_both_break_each_says_what_it_breaks_worst() -> None:
    run = jobs.run(hook(), cable(max_tension=100.0, sidewall_limit=1.0))
    decision = decide(run)
    assert decision.choice is None
    first, second = candidates(run)
    text = render(decision.why, "SI")
    for one in (first, second):
        pressure = f"{one.pull.peak_sidewall:,.0f} N/m; limit 1 N/m"
        assert f"exceeds the sidewall pressure limit ({pressure})" in text


def test_one_barred_and_one_broken_are_both_told() -> None:
    text = words(jobs.run(hook("reel", "machine"), cable(max_tension=100.0)))
    assert "feed from A exceeds the conductor tension limit" in text
    assert "feed from B is ruled out: B has no reel access and A has no machine access" in text


def test_a_brake_too_small_breaks_a_direction_too() -> None:
    drop = lay(
        at((0, 0, 40), name="top", ends="reel"),
        at((0, 0, 0), name="foot", ends="machine"),
        conduits=conduit(),
    )
    run = jobs.run(drop, reel_tension=0.0)
    said = "feed from top is below the slack cable minimum (0.00 kN; minimum 1.00 kN)"
    assert said in words(run)
    assert decide(replace(run, reel_tension=None)).choice is not None


# --- ties ---------------------------------------------------------------------------------------


def symmetric(offset: float = 0.0) -> Route:
    return lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        at((30, 0, 0), 1.5),
        at((30, 30 + offset, 0), name="B", ends="reel machine"),
        conduits=conduit(),
    )


def test_of_two_equal_directions_the_one_with_the_route_is_taken() -> None:
    first, second = candidates(jobs.run(symmetric()))
    assert first.utilization.peak == pytest.approx(second.utilization.peak, rel=1e-9)
    decision = decide(jobs.run(symmetric()))
    assert decision.choice is not None
    lower = first if first.pull.peak_tension <= second.pull.peak_tension else second
    assert decision.choice.pull.feed_name == lower.pull.feed_name


def but(one: Candidate, sidewall: float) -> Candidate:
    """The same with another utilization; everything else is kept."""
    share = replace(one.utilization, sidewall=sidewall, conductor=0.1, grip=0.1)
    return replace(one, utilization=share)


def test_a_tie_within_one_percent_goes_by_the_friction_margin() -> None:
    # B has the larger margin: its bend comes first.
    first, second = candidates(jobs.run(hook()))
    assert (second.margin.factor or 0) > 1.02 * (first.margin.factor or 0)
    close = choose(but(first, 0.5000), but(second, 0.5049))
    assert close.choice is not None and close.choice.pull.feed_name == "B"
    assert render(close.why, "SI").startswith("Either end works: the two are within 1%")
    apart = choose(but(first, 0.5000), but(second, 0.5051))
    assert apart.choice is not None and apart.choice.pull.feed_name == "A"
    assert "Either end" not in render(apart.why, "SI")


def test_a_tie_goes_by_the_lighter_brake_before_the_margin() -> None:
    shape = vertices([Go(30), Turn(90, 1.5, "down"), Go(30)])
    first, second = candidates(jobs.run(along(shape, conduit())))
    assert first.window.holds and not second.window.holds
    chosen = choose(but(first, 0.5), but(second, 0.5)).choice
    assert chosen is not None and chosen.pull.feed_name == "B"


def test_two_figures_that_round_alike_get_one_more_digit() -> None:
    first, second = candidates(jobs.run(hook()))
    text = render(choose(but(first, 0.6910), but(second, 0.6902)).why, "US")
    assert "69.0% (other end: 69.1%)" in text
    text = render(choose(but(first, 0.6), but(second, 0.7)).why, "US")
    assert "60% (other end: 70%)" in text


def test_an_end_that_can_be_started_again_goes_before_one_that_cannot() -> None:
    # The bend lies a little nearer to B: a limit between the two restarts.
    route = symmetric(-4.0)
    first, second = candidates(jobs.run(route))
    limit = (first.restarted.peak_tension + second.restarted.peak_tension) / 2
    assert second.restarted.peak_tension < limit > first.pull.peak_tension
    a, b = candidates(jobs.run(route, cable(max_tension=limit)))
    assert a.restart_utilization.peak > 1 >= b.restart_utilization.peak
    decision = choose(but(a, 0.4), but(b, 0.6))
    assert decision.choice is not None and decision.choice.pull.feed_name == "B"
    assert "A restart is possible anywhere" in render(decision.why, "SI")


# --- names --------------------------------------------------------------------------------------


@pytest.mark.parametrize("names", ["{}", "[]", ("V{1}", "V[bold]"), ("{a", "b}")])
@pytest.mark.parametrize("limit", [1.0, 1e9])
@pytest.mark.parametrize("ends", ["reel machine", "reel", ""])
def test_no_name_breaks_a_sentence(names: tuple[str, str], limit: float, ends: str) -> None:
    run = jobs.run(hook(ends, "reel machine", names), cable(max_tension=limit))  # type: ignore[arg-type]
    text = words(run)
    named = "Not acceptable" in text or "ruled out" in text
    assert not named or names[0] in text or names[1] in text


def test_a_stop_without_a_number_is_said_by_its_name() -> None:
    """A pull point that turns without a sheave breaks no figure: it cannot be pulled through."""
    turning = lay(
        at((0, 0, 0), name="A", ends=jobs.BOTH),
        at((20, 0, 0), name="vault{", ends=jobs.BOTH),
        at((20, 20, 0), name="B", ends=jobs.BOTH),
        conduits=conduit(),
    )
    run = jobs.run(turning)
    assert decide(run).choice is None
    stopped = "fails: turn at a pull point at vault{"
    assert f"feed from A {stopped}" in words(run) and f"feed from B {stopped}" in words(run)


def test_without_friction_no_margin_is_said() -> None:
    """No multiple of nothing reaches a limit: there is no factor to print."""
    ends = dict(name="A", ends=jobs.BOTH), dict(name="B", ends=jobs.BOTH)
    slippery = conduit(friction=0.0, friction_low=0.0, friction_high=0.0)
    level = lay(at((0, 0, 0), **ends[0]), at((60, 0, 0), **ends[1]), conduits=slippery)  # type: ignore[arg-type]
    run = jobs.run(level, reel_tension=500.0)
    first, _ = candidates(run)
    assert first.margin.factor is None or first.margin.factor == float("inf")
    assert "Friction can rise to" not in words(run) and "Highest utilization" in words(run)
