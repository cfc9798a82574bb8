from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.checks import check_pull
from route3d.checks.limits import utilisation
from route3d.mechanics.pull import solve_pull
from route3d.model import Practice, Route, Run
from route3d.planning.direction import Candidate, Decision, barred, choose
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, lay

PRACTICE = Practice()


def candidates(run: Run) -> tuple[Candidate, Candidate]:
    pulls = [solve_pull(run, PRACTICE, reverse=reverse) for reverse in (False, True)]
    first, second = (Candidate(p, utilisation(p), check_pull(p), barred(p)) for p in pulls)
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
    assert second.utilisation.peak < first.utilisation.peak
    text = render(decision.why, "SI")
    assert text.startswith("feeding from B takes ")
    assert f"{100 * second.utilisation.peak:.0f}% of its limit" in text
    assert f"against {100 * first.utilisation.peak:.0f}%" in text
    assert f"peak tension {second.pull.peak_tension / 1000:.2f} kN" in text


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
    assert "the other way is ruled out: " in render(decision.why, "US")


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
    assert text.startswith("neither end: feeding from A is ruled out: ")
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
    for candidate in (first, second):
        pressure = f"{candidate.pull.peak_sidewall:,.0f} N/m against 1 N/m"
        assert f"breaks sidewall pressure ({pressure})" in text


def test_one_barred_and_one_broken_are_both_told() -> None:
    text = words(jobs.run(hook("reel", "machine"), cable(max_tension=100.0)))
    assert "feeding from A breaks conductor tension" in text
    assert "feeding from B is ruled out: B has no reel access and A has no machine access" in text


def test_a_brake_too_small_breaks_a_direction_too() -> None:
    drop = lay(
        at((0, 0, 40), name="top", ends="reel"),
        at((0, 0, 0), name="foot", ends="machine"),
        conduits=conduit(),
    )
    run = jobs.run(drop, reel_tension=0.0)
    assert "feeding from top breaks reel brake (0.00 kN against 1.00 kN)" in words(run)
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
    assert first.utilisation.peak == pytest.approx(second.utilisation.peak, rel=1e-9)
    decision = decide(jobs.run(symmetric()))
    assert decision.choice is not None
    lower = first if first.pull.peak_tension <= second.pull.peak_tension else second
    assert decision.choice.pull.feed_name == lower.pull.feed_name


def test_utilisations_within_half_a_percent_go_by_peak_tension() -> None:
    # By sidewall A is better by 0.3 %; by peak tension B is. Tensions of real pulls are kept.
    first, second = candidates(jobs.run(symmetric()))
    base = first.utilisation

    def but(candidate: Candidate, sidewall: float, tension: float) -> Candidate:
        share = replace(base, sidewall=sidewall, conductor=0.1, grip=0.1)
        profile = replace(candidate.pull.profile, tension=candidate.pull.profile.tension * tension)
        return replace(candidate, utilisation=share, pull=replace(candidate.pull, profile=profile))

    close = choose(but(first, 0.5000, 1.2), but(second, 0.5020, 1.0))
    assert close.choice is not None and close.choice.pull.feed_name == "B"
    apart = choose(but(first, 0.5000, 1.2), but(second, 0.5030, 1.0))
    assert apart.choice is not None and apart.choice.pull.feed_name == "A"


# --- names --------------------------------------------------------------------------------------


@pytest.mark.parametrize("names", ["{}", "[]", ("V{1}", "V[bold]"), ("{a", "b}")])
@pytest.mark.parametrize("limit", [1.0, 1e9])
@pytest.mark.parametrize("ends", ["reel machine", "reel", ""])
def test_no_name_breaks_a_sentence(names: tuple[str, str], limit: float, ends: str) -> None:
    run = jobs.run(hook(ends, "reel machine", names), cable(max_tension=limit))  # type: ignore[arg-type]
    text = words(run)
    assert names[0] in text or names[1] in text
