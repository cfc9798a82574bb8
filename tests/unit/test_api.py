"""A job built in Python, the answers as tables and rows, and what misuse is told."""

from __future__ import annotations

import builtins
import json
import math
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import route3d
from route3d.api import Result
from route3d.cli.main import main
from route3d.mechanics.tension import Tensions
from tests.support.model_text import PHASE_TABLE

MODELS = Path(route3d.__file__).parents[1] / "models"
FOOT, INCH = 0.3048, 0.0254


def phase(**more: Any) -> route3d.Cable:
    given: dict[str, Any] = {
        "diameter": "1.387 in",
        "weight": "1.795 lb/ft",
        "area": "350 kcmil",
        "sidewall_limit": "500 lbf/ft",
    }
    return route3d.Cable.of("phase", **given | more)


def duct(**more: Any) -> route3d.Conduit:
    return route3d.Conduit.of("PVC-40", "5", **{"friction": 0.25} | more)


def corner(**more: Any) -> route3d.Route:
    points = [(0, 0, -5), (180, 0, -6), (180, 95, -6)]
    given = {"unit": "ft", "conduit": duct(), "bend": "48 in", "names": ("vault V1", "", "V2")}
    return route3d.Route.of(points, **given | more)  # type: ignore[arg-type]


def small_job(**more: Any) -> route3d.Job:
    run = route3d.Run(cables=route3d.CableSet({phase(): 3}), route=corner(), **more)
    return route3d.Job("Berth 2", "US", (run,))


# --- building ------------------------------------------------------------------------------------


def test_a_job_built_in_python_is_the_job_of_the_file(tmp_path: Path) -> None:
    """Ten lines of Python and the same job as a model file give the same records and answers."""
    text = (
        """
title = "Berth 2"
units = "US"
"""
        + PHASE_TABLE
        + """\
[conduit.conduit]
type = "PVC-40"
trade_size = "5"
friction = 0.25
[[run]]
name = "1"
cables = { phase = 3 }
route = [
  { at = [0, 0, -5], name = "vault V1", access = ["reel", "machine"], conduit = "conduit" },
  { at = [180, 0, -6], bend = 48 },
  { at = [180, 95, -6], name = "V2", access = ["reel", "machine"] },
]
"""
    )
    (tmp_path / "berth.toml").write_text(text, encoding="utf-8")
    filed, built = route3d.load(tmp_path / "berth.toml"), small_job()
    assert built.runs[0].cables == filed.runs[0].cables
    assert built.runs[0].route.conduits == filed.runs[0].route.conduits
    for ours, theirs in zip(
        built.runs[0].route.vertices, filed.runs[0].route.vertices, strict=True
    ):
        assert ours == replace(theirs, line=None)
    # The file says nothing of the rules, and its units choose those that Practice defaults to.
    assert built.practice == replace(filed.practice, rules_assumed=False)
    assert route3d.evaluate(built).rows() == route3d.evaluate(filed).rows()


def test_numbers_are_si_and_texts_carry_their_unit() -> None:
    si = route3d.Cable.of(
        "phase",
        diameter=1.387 * INCH,
        weight=1.795 * 0.45359237 * 9.80665 / FOOT,
        area=phase().conductor.area,
        sidewall_limit=500 * 0.45359237 * 9.80665 / FOOT,
    )
    for name in ("diameter", "weight", "sidewall_limit", "bend_multiple"):
        assert getattr(si, name) == pytest.approx(getattr(phase(), name), rel=1e-12)
    assert route3d.Conduit.of(inner_diameter="5 in", outer_diameter=0.14, friction=0.3) == (
        route3d.Conduit("conduit", 5 * INCH, 0.14, 0.3)
    )
    rope = route3d.Rope.of(diameter="3/4 in", weight=2.0, friction=0.15, rated_load="9000 lbf")
    assert (rope.diameter, rope.rated_load) == pytest.approx((0.01905, 9000 * 4.4482216152605))
    machine = route3d.Machine.of(("3500 lbf", "35 ft/min"), (30000.0, 0.07))
    assert machine.gears[0].speed == pytest.approx(35 * FOOT / 60)
    assert machine.gears[1].line_pull == 30000.0


def test_a_turn_without_a_radius_takes_the_standard_elbow_of_its_conduit() -> None:
    bend = corner(bend=None).vertices[1]
    assert bend.bend == duct().elbow_radius
    assert bend.bend_source == duct().elbow_source != "given"


def test_a_pull_point_between_the_ends_has_no_bend() -> None:
    route = corner(pull_points=(1,), bend=None)
    assert route.pull_points == (1,)
    assert route.vertices[1].bend == 0.0


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (lambda: phase(diameter="1.36 lb"), "diameter: '1.36 lb' is a mass"),
        (lambda: phase(weight="1,795 lb/ft"), "weight: '1,795 lb/ft' has a comma"),
        (lambda: phase(diameter=-1.0), "diameter: -1.0 is not above zero"),
        (lambda: phase(diameter=math.nan), "diameter: nan is not a finite number"),
        (lambda: phase(area="351 bananas"), "area: .*351 bananas"),
        (lambda: phase(metal="tin"), "metal: 'tin' is not copper or aluminum"),
        (lambda: route3d.Conduit.of("PVC-40", "77", friction=0.2), "trade_size: .*77"),
        (lambda: duct(friction=-0.1), "friction: -0.1"),
        (
            lambda: route3d.Conduit.of(inner_diameter=0.1, friction=0.2),
            "outer_diameter: is missing",
        ),
        (
            lambda: route3d.Conduit.of(inner_diameter=0.2, outer_diameter=0.1, friction=0.2),
            "inner_diameter: 0.2 m",
        ),
        (lambda: corner(bend="48 lbf"), "bend.1.: '48 lbf' is a force"),
        (
            lambda: corner(
                conduit=route3d.Conduit.of(inner_diameter=0.1, outer_diameter=0.2, friction=0.2),
                bend=None,
            ),
            "no standard elbow is known for conduit",
        ),
    ],
)
def test_a_wrong_value_is_named_with_its_place(build: Callable[[], object], told: str) -> None:
    with pytest.raises(route3d.InputError, match=told):
        build()


def test_an_unknown_trade_size_argument_is_a_type_error() -> None:
    with pytest.raises(TypeError, match="color"):
        phase(color="red")


@pytest.mark.parametrize(
    ("misuse", "told"),
    [
        (lambda: corner(bend=[0.0, 1.2]), "3 radii, not .* 2 radii"),
        (lambda: route3d.Route((), ()), "not 0 vertices and 0 conduits"),
        (lambda: route3d.Run(cables=route3d.CableSet({}), route=corner()), "'1' has no cables"),
        (lambda: route3d.Job(units="metric"), "not 'metric'"),
        (lambda: route3d.fillet([[0, 0], [1, 0]], [0, 0]), r"not \(2, 2\) and \(2,\)"),
        (lambda: LEVEL.point(31.0), "station 31.0 m is outside 0 to 30.0 m"),
        (lambda: LEVEL.point(-2.0), "station -2.0 m is outside 0 to 30.0 m"),
        (lambda: route3d.integrate(LEVEL, [80.0, -3.0], 0.2), "positive, not -3.0"),
        (lambda: route3d.integrate(LEVEL, 80.0, math.nan), "finite, not nan"),
        (lambda: route3d.integrate(LEVEL, 80.0, 0.2, start_tension=-1.0), "negative, not -1.0"),
        (lambda: route3d.integrate(LEVEL, 80.0, 0.2, method="magic"), "'magic'"),
    ],
)
def test_misuse_is_a_value_error_that_carries_the_value(
    misuse: Callable[[], object], told: str
) -> None:
    with pytest.raises(ValueError, match=told):
        misuse()


# --- integrate and sidewall ----------------------------------------------------------------------

LEVEL = route3d.fillet([(0, 0, 0), (30, 0, 0)], [0, 0])
ELL = route3d.fillet([(0, 0, 0), (30, 0, 0), (30, 20, 0)], [0, 1.2, 0])


def test_integrate_returns_named_stations_and_tensions() -> None:
    solved = route3d.integrate(ELL, weight=80.0, friction=0.35)
    assert isinstance(solved, Tensions)
    stations, tensions = solved
    assert stations is solved.stations and tensions is solved.tensions


@pytest.mark.parametrize("reverse", [False, True])
def test_sidewall_is_the_tension_leaving_the_bend_over_the_radius(reverse: bool) -> None:
    """Level bend: asinh(T2/wR) = asinh(T1/wR) + K theta, pressure T2 / (R - bore/2)."""
    w, mu, radius, bore = 80.0, np.array([0.2, 0.35]), 1.2, 0.12
    first = 18.8 if reverse else 28.8
    turned = np.sinh(np.arcsinh(mu * first / radius) + mu * np.pi / 2) * w * radius
    solved = route3d.integrate(ELL, w, mu, reverse=reverse)
    pressed = route3d.sidewall(ELL, solved, factor=0.7, bore=bore)
    assert pressed.shape == (3, 2)
    assert pressed[1] == pytest.approx(0.7 * turned / (radius - bore / 2), rel=1e-9)
    assert not pressed[[0, 2]].any()
    each = route3d.sidewall(ELL, solved, factor=[1.0, 0.7, 1.0], bore=[0.1, bore, 0.1])
    assert each == pytest.approx(pressed)


def test_a_bend_inside_half_the_bore_has_no_sidewall_pressure() -> None:
    with pytest.raises(ValueError, match=r"positive, not -0\.05"):
        route3d.sidewall(ELL, route3d.integrate(ELL, 80.0, 0.2), bore=2.5)


def test_sidewall_agrees_with_the_answer_of_a_whole_run() -> None:
    result = route3d.evaluate(small_job()).runs[0]
    pull = result.candidates[0].pull
    fit, conduit = result.fits[0], result.run.route.conduits[0]
    solved = route3d.integrate(
        result.path, result.run.cables.weight, 0.25, fit.weight_factor, pull.start_tension
    )
    pressed = route3d.sidewall(result.path, solved, fit.sidewall_factor, conduit.inner_diameter)
    assert pressed.max() == pytest.approx(pull.peak_sidewall, rel=1e-8)


# --- answers -------------------------------------------------------------------------------------

ASKED: dict[str, Callable[[route3d.Job], Result]] = {
    "tension": route3d.evaluate,
    "check": route3d.check,
    "bends": route3d.bends,
    "clearance": route3d.clearance,
    "plan": route3d.plan,
}


@pytest.fixture(scope="module", params=ASKED)
def answer(request: pytest.FixtureRequest) -> tuple[str, Result]:
    name = request.param
    model = "roof_drop" if name == "clearance" else "riser_duct_bank"
    return name, ASKED[name](route3d.load(MODELS / f"{model}.toml"))


class Cells(HTMLParser):
    """The texts of the cells of a table."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.heads: list[str] = []
        self.cells: list[str] = []
        self._into: list[str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self._into = {"th": self.heads, "td": self.cells}.get(tag)
        if self._into is not None:
            self._into.append("")

    def handle_data(self, data: str) -> None:
        if self._into is not None:
            self._into[-1] += data

    def handle_endtag(self, tag: str) -> None:
        self._into = None


def test_an_answer_prints_as_its_command(
    answer: tuple[str, Result], capsys: pytest.CaptureFixture[str]
) -> None:
    name, result = answer
    # The rows of plan and clearance are round lengths on the tape of the job.
    own = name in ("plan", "clearance")
    for units in [result.job.units] if own else ["US", "SI"]:
        main([name, str(result.job.path), "--units", units])
        told = result.text(units)
        assert told.split() == capsys.readouterr().out.split()
        assert max(map(len, told.splitlines())) <= 120
    assert str(result) == result.text(result.job.units)


def test_rows_are_plain_si_and_go_into_json(answer: tuple[str, Result]) -> None:
    name, result = answer
    rows = result.rows()
    assert rows and all(row["run"] == result.job.runs[0].name for row in rows)
    json.dumps(rows, allow_nan=False)
    keys = {"tension": "end_tension_N", "check": "severity", "bends": "radius_m"}
    assert {"clearance": "clearance_m", "plan": "expected_N"} | keys
    assert ({"clearance": "clearance_m", "plan": "expected_N"} | keys)[name] in rows[0]


def test_a_notebook_shows_every_row_in_the_units_of_the_job(answer: tuple[str, Result]) -> None:
    _, result = answer
    table = Cells(result._repr_html_())
    assert len(table.heads) > 5
    assert len(table.cells) == len(table.heads) * len(result.rows())
    shown = result._shown(result.job.units)
    assert all(column.key in shown[0] for column in result._columns)
    assert result.html("SI") != result.html("US")
    with pytest.raises(ValueError, match="not 'metric'"):
        result.html("metric")


@pytest.mark.parametrize("units", ["US", "SI"])
@pytest.mark.parametrize("name", ["tension", "bends", "plan"])
def test_a_figure_of_a_notebook_is_rounded_as_in_the_report(name: str, units: str) -> None:
    result = ASKED[name](route3d.load(MODELS / "riser_duct_bank.toml"))
    table, text = Cells(result.html(units)), result.text(units)
    read_off = ("force", "radius", "tape")
    figures = [
        cell
        for i, cell in enumerate(table.cells)
        if result._columns[i % len(table.heads)].quantity.rstrip("+-") in read_off
    ]
    assert len(figures) > 5
    assert [f for f in figures if f != "-" and f not in text] == []


def test_the_table_of_a_notebook_says_the_figures_of_the_report() -> None:
    result = route3d.evaluate(route3d.load(MODELS / "riser_duct_bank.toml"))
    cells = Cells(result.html()).cells
    assert "3,464 lbf" in cells and "within" not in cells and "passes, chosen" in cells
    assert "Brake the reels" in result.html()


def test_names_are_escaped_in_a_notebook() -> None:
    job = replace(small_job(name="<script>alert(1)</script>"), title="<b>")
    for ask in ASKED.values():
        if ask is not route3d.plan:
            assert "<script>" not in ask(job).html() and "<b>" not in ask(job).html()


def test_an_answer_is_short_in_a_shell(answer: tuple[str, Result]) -> None:
    assert len(repr(answer[1])) < 120


def test_to_frame_has_the_rows() -> None:
    pandas = pytest.importorskip("pandas")
    result = route3d.evaluate(small_job())
    frame = route3d.to_frame(result)
    assert isinstance(frame, pandas.DataFrame)
    assert frame["end_tension_N"].tolist() == [row["end_tension_N"] for row in result.rows()]
    assert len(route3d.to_frame(result.rows()[:1])) == 1


def test_to_frame_says_how_to_install_pandas(monkeypatch: pytest.MonkeyPatch) -> None:
    original = builtins.__import__

    def without(name: str, *args: Any, **more: Any) -> Any:
        if name == "pandas":
            raise ImportError(name)
        return original(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(ImportError, match=r"pip install 'route3d\[frame\]'"):
        route3d.to_frame([])


def test_a_plan_asks_for_rope_and_machine() -> None:
    with pytest.raises(
        route3d.InputError, match=r"run '1' has no machine[^\n]*\n[^\n]*has no rope"
    ):
        route3d.plan(small_job())


def test_a_job_built_in_python_can_be_planned() -> None:
    rope = route3d.Rope.of(
        diameter="0.75 in", weight="0.16 lb/ft", friction=0.15, rated_load="9000 lbf"
    )
    machine = route3d.Machine.of(("3500 lbf", "35 ft/min"), ("7500 lbf", "14 ft/min"))
    plans = route3d.plan(small_job(rope=rope, machine=machine), feed="vault V1")
    assert plans.plans[0].pull.feed_name == "vault V1"
    assert "Gauge readings" in plans.text() or plans.stops


def test_checks_that_passed_are_listed_on_request() -> None:
    job = small_job()
    assert {row["severity"] for row in route3d.check(job, passed=True).rows()} >= {"ok"}
    assert "ok" not in {row["severity"] for row in route3d.check(job).rows()}


@pytest.mark.parametrize("step", ["5 lb", 0.0, -1.0])
def test_a_step_of_clearance_is_a_length(step: float | str) -> None:
    with pytest.raises(route3d.InputError, match="step"):
        route3d.clearance(small_job(), step=step)
