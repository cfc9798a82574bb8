from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from route3d.mechanics.pull import at_friction, solve_pull, with_friction
from route3d.model import Job, Practice, Run
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import evaluate_run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, lay

PRACTICE = Practice()
MODELS = sorted((Path(__file__).parents[3] / "models").glob("*.toml"))


def yard(limit: float = 1e9, bore: float = 0.13, ends: str = "reel machine") -> Run:
    route = lay(
        at((0, 0, 0), name="A", ends=ends),
        at((60, 0, 0), 1.2),
        at((60, 40, 0), name="B", ends=ends),
        conduits=conduit(bore),
    )
    return jobs.run(route, [(cable(sidewall_limit=limit), 3)])


def test_a_run_that_passes_gives_the_findings_of_the_chosen_direction_only() -> None:
    result = evaluate_run(yard(), PRACTICE)
    assert result.decision.choice is result.best
    assert not result.stops and result.advice is None
    assert result.decision.choice is not None
    assert set(result.decision.choice.findings) <= set(result.findings)
    assert len(result.findings) == len(result.run_findings) + len(result.decision.choice.findings)
    assert not any("fed from" in f.where for f in result.findings)


def test_candidates_are_with_the_route_and_against_it() -> None:
    first, second = evaluate_run(yard(), PRACTICE).candidates
    assert (first.pull.feed_name, second.pull.feed_name) == ("A", "B")


def test_where_neither_end_will_do_both_directions_are_listed_and_told_apart() -> None:
    result = evaluate_run(yard(limit=100.0), PRACTICE)
    assert result.decision.choice is None and result.stops
    stops = [f.where for f in result.findings if f.severity == "stop"]
    assert stops == ["bend 1, fed from A", "bend 1, fed from B"]
    assert result.best.utilization.peak == min(c.utilization.peak for c in result.candidates)


def test_a_barred_direction_is_left_out_where_the_other_breaks() -> None:
    run = yard(limit=100.0)
    v = list(run.route.vertices)
    v[2] = at((60, 40, 0), name="B", ends="machine")
    run = jobs.run(lay(*v, conduits=run.route.conduits), run.cables.items)
    places = {f.where for f in evaluate_run(run, PRACTICE).findings if f.severity == "stop"}
    assert places == {"bend 1, fed from A"}


def test_findings_come_worst_first() -> None:
    order = ["stop", "caution", "note", "ok"]
    for run in (yard(), yard(limit=100.0), yard(bore=0.1)):
        ranks = [order.index(f.severity) for f in evaluate_run(run, PRACTICE).findings]
        assert ranks == sorted(ranks)


def test_an_overfull_conduit_stops_a_run_whose_pull_would_pass() -> None:
    result = evaluate_run(yard(bore=0.1), PRACTICE)
    assert result.decision.choice is not None
    assert result.stops
    assert [f.rule for f in result.findings if f.severity == "stop"] == ["fill"]


def test_the_search_for_remedies_can_be_left_out() -> None:
    job = Job("t", "SI", (yard(limit=800.0), yard()))
    stopped, good = evaluate(job).runs
    assert stopped.advice and stopped.advice.remedies
    assert good.advice is None
    assert all(r.advice is None for r in evaluate(job, with_remedies=False).runs)


def test_governing_fit_is_that_of_the_tightest_conduit() -> None:
    route = yard().route
    tight = lay(*route.vertices, conduits=[conduit(0.13), conduit(0.11, name="tight")])
    result = evaluate_run(jobs.run(tight, [(cable(), 3)]), PRACTICE)
    assert result.governing_fit.inner_diameter == 0.11


def test_a_job_stops_where_any_run_does() -> None:
    good, bad = yard(), yard(limit=100.0)
    assert not evaluate(Job("t", "SI", (good, good))).stops
    assert evaluate(Job("t", "SI", (good, bad)), with_remedies=False).stops


def test_the_jobs_practice_is_the_one_used() -> None:
    group = Practice(sidewall="group")
    per_cable, whole = (
        evaluate(Job("t", "SI", (yard(),), practice=p)).runs[0] for p in (PRACTICE, group)
    )
    factor = per_cable.fits[0].sidewall_factor
    a, b = per_cable.candidates[0].pull, whole.candidates[0].pull
    assert a.peak_sidewall == pytest.approx(factor * b.peak_sidewall, rel=1e-12)


@pytest.mark.parametrize("model", MODELS, ids=[m.stem for m in MODELS])
def test_every_demo_answers_in_whole_sentences(model: Path) -> None:
    job = load(model)
    for result in evaluate(job).runs:
        assert result.stops == (result.advice is not None)
        text = render(result.decision.why, job.units)
        whole = "Highest utilization: ", "Not acceptable from either end: feed from "
        assert text.startswith(whole) and text.endswith(".") and "{" not in text
        for finding in result.findings:
            assert "{" not in render(finding.place, job.units) + render(finding.fix, job.units)


def test_evaluation_is_repeatable() -> None:
    job = Job("t", "SI", (yard(limit=800.0),))
    first, second = evaluate(job).runs[0], evaluate(job).runs[0]
    assert repr(first.findings) == repr(second.findings)  # by text: NaN equals nothing
    assert first.advice and second.advice
    assert [r.edits for r in first.advice.remedies] == [r.edits for r in second.advice.remedies]


def test_a_run_that_no_end_can_serve_stops_for_access() -> None:
    result = evaluate_run(yard(ends="reel"), PRACTICE)
    assert result.stops
    access = [f for f in result.findings if f.rule == "access"]
    assert [f.severity for f in access] == ["stop"]
    assert not [f for f in evaluate_run(yard(), PRACTICE).findings if f.rule == "access"]


@pytest.mark.parametrize("reverse", [False, True])
def test_a_direction_solved_before_is_taken_as_it_is(reverse: bool) -> None:
    run = yard()
    known = solve_pull(run, PRACTICE, reverse=reverse)
    result, fresh = evaluate_run(run, PRACTICE, known=known), evaluate_run(run, PRACTICE)
    assert result.candidates[reverse].pull is known
    assert result.candidates[not reverse].pull is not known
    assert repr(result.findings) == repr(fresh.findings)  # some numbers are NaN
    other = evaluate_run(yard(limit=1e8), PRACTICE, known=known)  # of another run: not taken
    assert all(c.pull is not known for c in other.candidates)


def test_more_friction_is_the_same_pull_with_the_reel_held() -> None:
    run = jobs.run(yard().route, rope=jobs.rope())
    pull = solve_pull(run, PRACTICE)
    again = at_friction(pull, 1.5)
    held = replace(with_friction(run, 1.5), reel_tension=pull.reel_tension)
    whole = solve_pull(held, PRACTICE)
    assert again.run == whole.run
    assert again.machine_peak == whole.machine_peak > 1.1 * pull.machine_peak
    assert (again.profile.tension == whole.profile.tension).all()
    assert again.brake == whole.brake
