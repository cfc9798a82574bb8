"""The spread of a run: quadrature, closed forms, other libraries, jobs whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import mpmath
import numpy as np
import pytest
from scipy import optimize, stats

import route3d
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import reel_drag
from route3d.mechanics.pull import solve_pull
from route3d.model import CableSet, Practice, Run
from route3d.model.spread import (
    InputCorrelation,
    SpreadAmount,
    SpreadInputs,
    UncertainInput,
)
from route3d.planning.result import RunResult, evaluate_run
from route3d.study.spread import analysis
from route3d.study.spread.analysis import error_of, spread_of
from route3d.study.spread.importance import delta_indices, sobol_indices
from route3d.study.spread.inputs import run_inputs
from route3d.study.spread.loads import End, end_of, scenarios_of, solve, solve_each
from route3d.study.spread.marginal import marginal_of
from tests.support.jobs import BOTH, at, cable, conduit, lay, machine, rope, run

MODELS = Path(route3d.__file__).parents[1] / "models"
BANK = route3d.load(MODELS / "riser_duct_bank.toml")


def lognormal(of: str, low: float, high: float, kind: str = "friction") -> UncertainInput:
    return UncertainInput(kind, of, low=SpreadAmount(low), high=SpreadAmount(high))


def share(of: str, kind: str, low: float, high: float, shape: str = "normal") -> UncertainInput:
    low_, high_ = SpreadAmount(low, relative=True), SpreadAmount(high, relative=True)
    return UncertainInput(kind, of, shape, low_, high_)


def of_bank() -> RunResult:
    return evaluate_run(BANK.runs[0], BANK.practice)


def ends_of(result: RunResult) -> tuple[End, End]:
    first, second = result.candidates
    return end_of(first), end_of(second)


def with_friction_in(job_run: Run, friction: float, reel: float) -> Run:
    """Another friction in every conduit, and the reels held as given."""
    conduits = tuple(replace(c, friction=friction) for c in job_run.route.conduits)
    return replace(job_run, route=replace(job_run.route, conduits=conduits), reel_tension=reel)


# --- against quadrature and closed forms ---------------------------------------------------------


def test_one_input_is_that_of_exact_quadrature() -> None:
    """Loads grow with friction: each percentile is the pull at that of the friction."""
    route = lay(
        at((0, 0, 0), name="A", ends=BOTH), at((40, 0, 0), 1.5), at((40, 30, 0), 1.5),
        at((40, 30, 12), 1.5), at((60, 30, 12), name="B", ends=BOTH),
        conduits=conduit(friction=0.3),
    )  # fmt: skip
    job_run = run(route, [(cable(sidewall_limit=3000.0), 3)], rope=rope(), machine=machine(9000.0))
    result = evaluate_run(replace(job_run, reel_tension=500.0), Practice())
    given = SpreadInputs((lognormal("duct", 0.2, 0.5),))
    found = spread_of(result, given, wanted=1e-5, most=65536)
    friction = stats.lognorm(np.log(0.5 / 0.2) / 2 / stats.norm.ppf(0.95), scale=np.sqrt(0.1))
    for end in found.ends:

        def pulled(mu: float, reverse: bool = end.reverse) -> object:
            return solve_pull(with_friction_in(job_run, mu, 500.0), Practice(), reverse=reverse)

        def over(mu: float) -> float:
            from route3d.checks.limits import utilization

            return utilization(pulled(mu)).peak - 1.0

        exact = friction.cdf(optimize.brentq(over, 0.02, 1.5))
        assert 0.02 < exact < 0.999
        assert end.passes == pytest.approx(exact, abs=1e-3)
        for p, row, gauge in zip(found.percentiles, end.tension, end.gauge, strict=True):
            known = pulled(float(friction.ppf(p / 100)))
            assert row[-1] == pytest.approx(known.end_tension, rel=1e-3)
            assert row.max() == pytest.approx(known.peak_tension, rel=2e-3)
            assert gauge.max() == pytest.approx(known.machine_peak, rel=2e-3)


def test_bends_alone_are_the_capstan_with_lognormal_friction() -> None:
    """Weightless and level by the handbook: T = T0 e^{ωμφ}, worked in 30 digits."""
    light = cable(weight=1e-7, sidewall_limit=1e9)
    route = lay(
        at((0, 0, 0), name="A", ends=BOTH), at((3, 0, 0), 1.0), at((3, 3, 0), 1.0),
        at((0, 3, 0), name="B", ends=BOTH), conduits=conduit(friction=0.3),
    )  # fmt: skip
    job_run = run(route, light, machine=machine(2500.0), reel_tension=1000.0)
    practice = Practice(bend_form="capstan")
    result = evaluate_run(job_run, practice)
    found = spread_of(
        result, SpreadInputs((lognormal("duct", 0.2, 0.45),)), wanted=1e-5, most=65536
    )
    with mpmath.workdps(30):
        z = mpmath.sqrt(2) * mpmath.erfinv(2 * mpmath.mpf("0.95") - 1)
        s = mpmath.log(mpmath.mpf("0.45") / mpmath.mpf("0.2")) / (2 * z)
        median = mpmath.sqrt(mpmath.mpf("0.2") * mpmath.mpf("0.45"))
        at_limit = mpmath.log(mpmath.mpf("2.5")) / mpmath.pi  # T0 e^{μπ} = 2.5 T0
        exact = float(mpmath.ncdf(mpmath.log(at_limit / median) / s))
        ends = [
            float(1000 * mpmath.exp(median * mpmath.exp(s * x) * mpmath.pi)) for x in (-z, 0, z)
        ]
    assert found.ends[0].passes == pytest.approx(exact, abs=1e-3)
    assert found.ends[0].tension[[0, 2, 4], -1] == pytest.approx(ends, rel=1e-3)
    (chance,) = (c for c in found.ends[0].chances if c.limit == "machine")
    assert chance.probability == pytest.approx(1 - exact, abs=1e-3)
    assert found.ends[0].reached_by[-1] == pytest.approx(1 - exact, abs=1e-3)


def ishigami(cube: Floats) -> Floats:
    x = np.pi * (2 * cube - 1)
    return (np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0]))[None]


def test_sobol_indices_are_those_of_the_ishigami_function() -> None:
    """Closed form of T. Ishigami and T. Homma, 1990, with a = 7 and b = 0.1."""
    a, b, pi = 7.0, 0.1, np.pi
    whole = a**2 / 8 + b * pi**4 / 5 + b**2 * pi**8 / 18 + 0.5
    v1, v2, v13 = 0.5 * (1 + b * pi**4 / 5) ** 2, a**2 / 8, b**2 * pi**8 * (1 / 18 - 1 / 50)
    found = sobol_indices(ishigami, 3, 1024, seed=1)
    first = np.array([v1, v2, 0.0]) / whole
    total = np.array([v1 + v13, v2, v13]) / whole
    assert found.first[0] == pytest.approx(first, abs=0.01)
    assert found.total[0] == pytest.approx(total, abs=0.01)
    assert np.all(np.abs(found.first[0] - first) < 2 * found.first_error[0] + 0.002)


def test_delta_ranks_inputs_and_is_small_for_one_that_does_nothing() -> None:
    """E. Borgonovo 2007: of x + 0 y, x has a large delta and y none but noise."""
    values = np.random.default_rng(2).standard_normal((3, 1024))
    first, error = delta_indices(values, values[0] + 0.4 * values[1], seed=3)
    assert first[0] > 0.4 > 0.2 > first[1] > first[2] and first[2] < 0.1
    assert np.all(error < 0.1)


# --- jobs whose truth is known -------------------------------------------------------------------


def test_percentiles_cover_what_200_true_pulls_show(monkeypatch: pytest.MonkeyPatch) -> None:
    """Friction that goes together, weight and drag, drawn and solved apart from the study."""
    result = of_bank()
    none = np.zeros(4), np.zeros(4)  # what matters most is another question, and takes its time
    monkeypatch.setattr(analysis, "delta_indices", lambda *_: none)
    given = SpreadInputs(
        (
            lognormal("duct", 0.18, 0.34), lognormal("riser", 0.25, 0.47),
            share("phase", "cable weight", 0.96, 1.04), share("", "reel drag", 0.7, 1.5),
        ),
        (InputCorrelation("friction of duct", "friction of riser", 0.6),),
    )  # fmt: skip
    found = spread_of(result, given, most=8192)
    assert found.correlated and all(e.importance[0].total is None for e in found.ends)
    rng, z = np.random.default_rng(20), stats.norm.ppf(0.95)
    go_together = np.eye(4)
    go_together[0, 1] = go_together[1, 0] = 0.6
    inside = np.zeros((2, 3), dtype=int)
    for duct, riser, weight, drag in rng.multivariate_normal(np.zeros(4), go_together, 200):
        mu = {
            "duct": np.sqrt(0.18 * 0.34) * np.exp(duct * np.log(0.34 / 0.18) / 2 / z),
            "riser": np.sqrt(0.25 * 0.47) * np.exp(riser * np.log(0.47 / 0.25) / 2 / z),
        }
        heavy = 1.0 + weight * 0.04 / z
        turned = 1.1 + drag * 0.4 / z
        for i, candidate in enumerate(result.candidates):
            pull = candidate.pull
            true_run = pull.run
            conduits = tuple(replace(c, friction=mu[c.name]) for c in true_run.route.conduits)
            cables = {replace(c, weight=c.weight * heavy): n for c, n in true_run.cables.items}
            held = pull.reel_tension - reel_drag(true_run) + reel_drag(true_run) * heavy * turned
            true = solve_pull(
                replace(
                    true_run, cables=CableSet(cables), reel_tension=held,
                    route=replace(true_run.route, conduits=conduits),
                ),
                pull.practice, reverse=pull.reverse,
            )  # fmt: skip
            end = found.ends[i]
            assert end.gauge is not None and true.machine_loads is not None
            middle = np.interp(
                end.pulled[len(end.pulled) // 2],
                np.abs(true.heads - true.heads[0]), true.machine_loads,
            )  # fmt: skip
            shown = (
                (true.end_tension, end.tension[:, -1]),
                (middle, end.gauge[:, len(end.pulled) // 2]),
                (float(np.log(max(true.machine_peak, 1.0))), np.log(end.gauge[:, -1])),
            )
            inside[i] += [low <= x <= high for x, (low, *_, high) in shown]
    # 90 % of 200, with a chance of one in a thousand to be beyond either bound
    few, many = stats.binom.ppf([0.0005, 0.9995], 200, 0.9)
    assert np.all(inside[:, :2] >= few) and np.all(inside[:, :2] <= many), inside


def flipping() -> RunResult:
    """Bends at the lower end of a long slope: down is easier on slippery conduit, up on rough."""
    route = lay(
        at((0, 0, 0), name="low", ends=BOTH), at((4, 0, 0), 1.2), at((4, 4, 0), 1.2),
        at((8, 4, 0), 1.2), at((8, 80, 14), name="high", ends=BOTH),
        conduits=conduit(friction=0.3),
    )  # fmt: skip
    strong = cable(sidewall_limit=1e6)
    job_run = run(route, strong, rope=rope(friction=0.0, weight=0.1), reel_tension=300.0)
    return evaluate_run(replace(job_run, machine=machine(20e3)), Practice())


def test_the_decision_turns_where_solving_both_sides_again_says() -> None:
    from route3d.checks.limits import utilization

    result = flipping()
    found = spread_of(result, SpreadInputs((lognormal("duct", 0.2, 0.45),)), most=4096, wanted=0.1)
    assert found.turns_at is not None
    median = np.sqrt(0.2 * 0.45)

    def lower(multiplier: float) -> bool:
        job_run = with_friction_in(result.run, median * multiplier, 300.0)
        first, second = (
            utilization(solve_pull(job_run, Practice(), reverse=reverse)).peak
            for reverse in (False, True)
        )
        return first < second

    assert lower(found.turns_at * 0.999) is not lower(found.turns_at * 1.001)
    low_share = stats.lognorm(np.log(0.45 / 0.2) / 2 / stats.norm.ppf(0.95)).cdf(found.turns_at)
    first_better = low_share if lower(found.turns_at * 0.999) else 1 - low_share
    other = first_better if found.planned == 1 else 1 - first_better
    assert found.other_better == pytest.approx(other, abs=2e-3)


def test_no_turn_is_none() -> None:
    assert spread_of(of_bank(), most=1024, wanted=0.1).turns_at is None


# --- how it is worked ----------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_figures_and_another_agrees() -> None:
    result = of_bank()
    first, again, other = (spread_of(result, seed=seed, wanted=0.01) for seed in (4, 4, 5))
    assert np.array_equal(first.ends[0].tension, again.ends[0].tension)
    assert first.ends[0].importance == again.ends[0].importance
    assert not np.array_equal(first.ends[0].utilization, other.ends[0].utilization)
    apart = abs(first.ends[0].passes - other.ends[0].passes)
    assert apart < 4 * np.hypot(first.ends[0].passes_error, other.ends[0].passes_error)
    assert first.settled and first.count < 131_072 and first.steps[-1, 0] == first.count


def test_the_points_stop_at_the_error_asked_for_or_at_most() -> None:
    result = of_bank()
    rough, fine = (spread_of(result, wanted=w, most=8192) for w in (0.01, 0.0002))
    assert rough.count < fine.count == 8192 and not fine.settled
    assert np.all(fine.steps[:, 0] == 4096 * 2 ** np.arange(len(fine.steps)))
    assert fine.errors[-1] < fine.errors[0] or fine.ends[fine.better].passes == 1.0


def test_the_error_is_never_below_one_scenario() -> None:
    assert error_of(np.ones((1, 8)), 4096) == pytest.approx([1 / 4096])


def test_medians_as_planned_are_the_plan() -> None:
    """Without [spread] each friction has its planned value as its median."""
    result = of_bank()
    inputs = run_inputs(result.run, None)
    for end in ends_of(result):
        loads = solve(end, scenarios_of(end, inputs, inputs.values(np.zeros((2, 3)))))
        planned = np.array(
            [np.nan if x is None else x for _, x in end.candidate.utilization.items()]
        )
        assert loads.shares[:, 1] == pytest.approx(planned, rel=1e-9)


GEOMETRY = SpreadInputs(
    (
        lognormal("duct", 0.2, 0.4),
        share("", "bend radius", 0.9, 1.1),
        UncertainInput(
            "bend angle", "", "normal", SpreadAmount(-0.05), SpreadAmount(0.05)
        ),
        share("phase", "cable diameter", 0.95, 1.05),
        UncertainInput("ovality", "duct", "uniform", SpreadAmount(0.005), SpreadAmount(0.06)),
        share("phase", "cable weight", 0.9, 1.1),
        share("", "reel drag", 0.5, 2.0),
    )
)  # fmt: skip


def test_a_geometry_scenario_is_the_pull_of_the_run_as_built() -> None:
    """One of them rebuilt by hand: radii, bore, cable, reel tension; angles as drawn."""
    from route3d.checks.limits import utilization

    result, ends = of_bank(), ends_of(of_bank())
    inputs = run_inputs(result.run, GEOMETRY)
    scores = np.array([[0.4], [1.0], [0.0], [-0.7], [0.5], [0.6], [1.2]])
    values = dict(zip(inputs.labels, inputs.values(scores)[:, 0].tolist(), strict=True))
    for end, loads in zip(ends, solve_each(ends, inputs, inputs.values(scores)), strict=True):
        built = end.pull.run
        cables = {
            replace(
                c,
                diameter=c.diameter * values["cable diameter of phase"],
                weight=c.weight * values["cable weight of phase"],
            ): n
            for c, n in built.cables.items
        }
        bore = 1 - values["ovality of duct"] / 2
        conduits = tuple(
            replace(c, inner_diameter=c.inner_diameter * bore, friction=values["friction of duct"])
            if c.name == "duct"
            else c
            for c in built.route.conduits
        )
        vertices = tuple(
            replace(v, bend=v.bend * values["bend radius"]) for v in built.route.vertices
        )
        heavy = values["cable weight of phase"]
        drag = reel_drag(built)
        held = end.pull.reel_tension - drag + drag * heavy * values["reel drag"]
        true = solve_pull(
            replace(
                built, cables=CableSet(cables), reel_tension=held,
                route=replace(built.route, vertices=vertices, conduits=conduits),
            ),
            end.pull.practice, reverse=end.pull.reverse,
        )  # fmt: skip
        shares = [x for _, x in utilization(true).items()]
        assert loads.shares[:, 0] == pytest.approx(shares, rel=1e-9)
        assert loads.tension[-1, 0] == pytest.approx(true.end_tension, rel=1e-6)
        assert loads.machine is not None
        assert loads.machine[-1, 0] == pytest.approx(true.machine_loads[-1], rel=1e-6)


# --- friction that falls above a contact load ----------------------------------------------------


def of_falling_bank(report: str) -> RunResult:
    """The bank with friction that falls to 0.6 of it above 700 N/m in both conduits."""
    given = BANK.runs[0]
    conduits = tuple(
        replace(c, friction_above=700.0, friction_then=0.6 * c.friction, friction_report=report)
        for c in given.route.conduits
    )
    changed = replace(given, route=replace(given.route, conduits=conduits))
    return evaluate_run(changed, BANK.practice)


def test_scenarios_are_the_pulls_solved_alone_where_friction_falls() -> None:
    """Shares and the tension at every mark; and the same with the path of each built anew."""
    from route3d.checks.limits import utilization

    result = of_falling_bank("T-1")
    inputs, ends = run_inputs(result.run, None), ends_of(result)
    scores = np.random.default_rng(3).normal(size=(2, 40))
    values = inputs.values(scores)
    built = solve_each(ends, inputs, values[:, :4])
    for end, other in zip(ends, built, strict=True):
        loads = solve(end, scenarios_of(end, inputs, values))
        assert other.shares == pytest.approx(loads.shares[:, :4], rel=1e-9)
        for j in range(40):
            mu = dict(zip(("duct", "riser"), values[:, j].tolist(), strict=True))
            conduits = tuple(c.at_friction(mu[c.name]) for c in end.pull.run.route.conduits)
            assert conduits[0].friction_then == pytest.approx(0.6 * mu[conduits[0].name])
            run_ = replace(
                end.pull.run, reel_tension=end.pull.reel_tension,
                route=replace(end.pull.run.route, conduits=conduits),
            )  # fmt: skip
            true = solve_pull(run_, end.pull.practice, reverse=end.pull.reverse)
            shares = [x for _, x in utilization(true).items()]
            assert loads.shares[:, j] == pytest.approx(shares, rel=1e-9)
            pressure, at_ = true.profile.sidewall, true.profile.station
            assert loads.sidewall is not None and other.sidewall is not None
            for row, (_, middle) in zip(loads.sidewall, end.bend_places, strict=True):
                near = abs(at_ - middle) < 1.5  # the bend, and nothing of the next
                assert row[j] == pytest.approx(pressure[near].max(), rel=1e-3)
            tension = true.course.tension(true.start_tension)
            order = np.argsort(true.course.stations)
            joints = true.course.stations[order]
            for mark, station in zip(loads.tension[:, j], end.pulled, strict=True):
                at_ = true.path.length - station if end.pull.reverse else station
                near = int(np.argmin(abs(joints - at_)))
                if abs(joints[near] - at_) < 1e-9:
                    assert mark == pytest.approx(tension[order][near], rel=1e-6)  # float32


def test_both_frictions_are_told_and_each_is_the_spread_it_would_decide(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(analysis, "_INDEX_POINTS", 16)
    shown, tested, plain = (
        spread_of(result, most=1024)
        for result in (of_falling_bank(""), of_falling_bank("T-1"), of_bank())
    )
    assert [e.by_both for e in plain.ends] == [None, None]
    for end, other, constant in zip(shown.ends, tested.ends, plain.ends, strict=True):
        assert end.by_both is not None and other.by_both is not None
        assert end.by_both.constant == end.passes == constant.passes
        assert other.by_both.by_pressure == other.passes
        assert end.by_both.decides == "constant friction (no test report)"
    up = shown.ends[0].by_both
    assert up is not None and up.by_pressure > up.constant + 0.1
    # The low end of the range is that of the friction itself, not what it falls to.
    assert [x.low for x in shown.varying] == [x.low for x in plain.varying]


def test_a_wider_bend_angle_loads_more() -> None:
    ends = ends_of(of_bank())
    inputs = run_inputs(ends[0].pull.run, GEOMETRY)
    scores = np.zeros((7, 3))
    scores[2] = [-1.0, 0.0, 1.0]
    for loads in solve_each(ends, inputs, inputs.values(scores)):
        assert np.all(np.diff(loads.peak) > 0)


@pytest.mark.many
def test_a_spread_of_everything_reports_each_input() -> None:
    found = spread_of(of_bank(), GEOMETRY, most=1024, wanted=0.1)
    assert found.inputs == run_inputs(BANK.runs[0], GEOMETRY).labels
    assert found.count == 1024
    for end in found.ends:
        assert np.all(np.diff(end.tension, axis=0) >= 0) and np.all(np.diff(end.gauge, axis=0) >= 0)
        assert np.all(np.diff(end.reached_by) >= 0)
        assert end.reached_by[-1] == pytest.approx(1 - end.passes)


# --- distributions -------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["normal", "lognormal", "uniform", "triangular"])
def test_low_and_high_are_the_5th_and_95th_percentile(shape: str) -> None:
    given = UncertainInput("friction", "duct", shape, SpreadAmount(0.3), SpreadAmount(0.5))
    made = marginal_of(given, 0.4, least=0.0)
    assert [made.percentile(p) for p in (5, 95)] == pytest.approx([0.3, 0.5])


@pytest.mark.parametrize(
    ("shape", "scipy"),
    [
        ("normal", stats.norm(0.3, 0.03)),
        ("lognormal", stats.lognorm(np.sqrt(np.log1p(0.01)), scale=0.3 / np.sqrt(1.01))),
        ("uniform", stats.uniform(0.3 - np.sqrt(3) * 0.03, 2 * np.sqrt(3) * 0.03)),
        ("triangular", stats.triang(0.5, 0.3 - np.sqrt(6) * 0.03, 2 * np.sqrt(6) * 0.03)),
    ],
)
def test_mean_and_deviation_are_those_of_scipys_distribution(shape: str, scipy: object) -> None:
    given = UncertainInput("friction", "duct", shape, deviation=SpreadAmount(0.03))
    made = marginal_of(given, 0.3, least=0.0)
    points = [1.0, 20.0, 50.0, 70.0, 99.0]
    assert [made.percentile(p) for p in points] == pytest.approx(
        [scipy.ppf(p / 100) for p in points]  # type: ignore[attr-defined]
    )


def test_middle_and_peak_are_kept() -> None:
    amounts = {"low": SpreadAmount(0.2), "high": SpreadAmount(0.5)}
    for shape in ("normal", "lognormal"):
        given = UncertainInput("friction", "d", shape, **amounts, middle=SpreadAmount(0.25))
        made = marginal_of(given, 0.3)
        assert [made.percentile(p) for p in (5, 50, 95)] == pytest.approx([0.2, 0.25, 0.5])
    given = UncertainInput("friction", "d", "triangular", **amounts, peak=SpreadAmount(0.25))
    made = marginal_of(given, 0.3)
    assert [made.percentile(p) for p in (5, 95)] == pytest.approx([0.2, 0.5])
    draws = made.at(stats.norm.ppf((np.arange(20000) + 0.5) / 20000))
    density, edges = np.histogram(draws, bins=40)
    assert abs(edges[int(density.argmax())] + edges[1] / 2 - edges[0] / 2 - 0.25) < 0.02


def test_what_lies_below_zero_is_left_out_and_told() -> None:
    given = UncertainInput("friction", "d", "normal", deviation=SpreadAmount(0.15))
    made = marginal_of(given, 0.3, least=0.0)
    whole = stats.norm(0.3, 0.15)
    cut = stats.truncnorm(-2, np.inf, 0.3, 0.15)
    assert made.cut == pytest.approx(whole.cdf(0.0), rel=1e-6)
    assert [made.percentile(p) for p in (1, 50, 99)] == pytest.approx(cut.ppf([0.01, 0.5, 0.99]))


def test_history_is_the_mixture_of_normals_that_was_learned() -> None:
    learned = ((0.3, np.log(0.2), 0.1), (0.7, np.log(0.3), 0.3))
    made = marginal_of(UncertainInput("friction", "d", "history"), 0.3, learned=learned)

    def below(x: float) -> float:
        return sum(p * stats.norm.cdf((np.log(x) - m) / s) for p, m, s in learned)

    for p in (1, 5, 50, 95, 99):
        assert below(made.percentile(p)) == pytest.approx(p / 100, abs=2e-5)


def test_correlations_are_those_of_the_normal_scores() -> None:
    given = SpreadInputs(
        (lognormal("duct", 0.2, 0.3), lognormal("riser", 0.2, 0.3)), friction_correlation=0.7
    )
    inputs = run_inputs(BANK.runs[0], given)
    cube = stats.qmc.Sobol(2, rng=1).random(4096).T + 2.0**-31
    assert np.corrcoef(np.log(inputs.values(inputs.scores(cube))))[0, 1] == pytest.approx(
        0.7, abs=0.005
    )


# --- reels, very long runs, routes without room --------------------------------------------------


@pytest.mark.parametrize(
    ("reel", "held"),
    [
        (None, "brake and drag"),  # the riser needs a brake from the roof: what is above the drag
        (2000.0, "brake and drag"),
        (100.0, "by hand"),
    ],
)
def test_the_brake_stays_as_set_and_the_drag_comes_on_top(reel: float | None, held: str) -> None:
    job_run = replace(BANK.runs[0], reel_tension=reel)
    result = evaluate_run(job_run, BANK.practice)
    inputs = run_inputs(job_run, SpreadInputs((share("", "reel drag", 0.5, 2.0),)))
    factors = np.array([[0.5, 1.0, 2.0]])
    for end in ends_of(result):
        planned, drag = end.pull.reel_tension, reel_drag(end.pull.run)
        found = np.broadcast_to(scenarios_of(end, inputs, factors).reel_tension, 3)
        assert end.by_hand is (held == "by hand")
        expected = planned + (0.0 if end.by_hand else 1.0) * drag * (factors[0] - 1.0)
        assert found == pytest.approx(expected)


def test_few_marks_find_the_same_chances(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a run of thousands of bends: the march passes all of them, the tables show some."""
    result = of_bank()
    inputs = run_inputs(result.run, None)
    values = inputs.values(np.random.default_rng(3).standard_normal((2, 500)))
    many = [solve(end, scenarios_of(end, inputs, values)) for end in ends_of(result)]
    monkeypatch.setattr("route3d.study.spread.loads._MOST_MARKS", 5)
    for end, all_marks in zip(ends_of(result), many, strict=True):
        few = solve(end, scenarios_of(end, inputs, values))
        assert len(end.pulled) == 5 and few.tension.shape == (5, 500)
        assert few.shares == pytest.approx(all_marks.shares, nan_ok=True)
        reached = all_marks.first < all_marks.tension.shape[0]
        assert np.array_equal(few.first < 5, reached)
        assert few.tension[-1] == pytest.approx(all_marks.tension[-1])


def test_a_radius_that_does_not_fit_its_legs_is_an_error_that_names_the_bend() -> None:
    given = SpreadInputs((share("", "bend radius", 0.9, 4.0, "uniform"),))
    with pytest.raises(route3d.InputError, match="does not fit the route") as caught:
        spread_of(of_bank(), given, most=1024)
    assert "less spread of the bend radius" in caught.value.problems[0].fix


def test_at_the_command_that_is_said_in_the_units_of_the_job_with_file_and_line(
    tmp_path: Path,
) -> None:
    spread = '\n[[spread.input]]\ninput = "bend radius"\nshape = "uniform"\nlow = "90%"\n'
    file = tmp_path / "bank.toml"
    text = (MODELS / "riser_duct_bank.toml").read_text() + spread
    file.write_text(text + 'high = "900%"\n')
    with pytest.raises(route3d.InputError) as caught:
        route3d.spread(route3d.load(file), most=1024)
    (problem,) = caught.value.problems
    assert problem.file == str(file) and problem.where == "spread.input[0]"
    assert problem.line == text[: text.index("[[spread")].count("\n") + 1
    assert " ft of straight" in problem.message and " m" not in problem.message
    file.write_text(text.replace("90%", "-10%") + 'high = "110%"\n')
    with pytest.raises(route3d.InputError, match="low: -10% is below the minimum of 0"):
        route3d.load(file)
