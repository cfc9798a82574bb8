"""The reports as text: what they must say, that nothing is cut, and that names are only names."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console, RenderableType

import route3d
from route3d.drawing.section import section_of, tightest
from route3d.model import Job
from route3d.phrase import say
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from route3d.planning.shop import all_findings
from route3d.report import layout
from route3d.report.bends import bends_csv, bends_report
from route3d.report.bends_json import bends_data
from route3d.report.findings import check_report
from route3d.report.json_result import check_data, dumps, tension_data
from route3d.report.stock import (
    entries_data,
    entries_report,
    known_words,
    tables_data,
    tables_report,
)
from route3d.report.tension import tension_report
from route3d.standards.conductors import conductor_area
from route3d.standards.conduits import conduit_size
from route3d.standards.search import entries, table_names, words_to_type
from route3d.standards.source import Status
from route3d.units import parse, render, show, show_marked

MODELS = Path(route3d.__file__).parents[1] / "models"
NAMES = ("riser_duct_bank", "roof_drop", "yard_run")


@pytest.fixture(scope="module")
def results() -> dict[str, JobResult]:
    return {name: evaluate(route3d.load(MODELS / f"{name}.toml")) for name in NAMES}


def text_of(report: RenderableType, width: int = 10_000) -> str:
    out = io.StringIO()
    Console(file=out, width=width, color_system=None, highlight=False).print(report)
    return out.getvalue()


def with_names(job: Job, name: str) -> Job:
    """The same job with one text everywhere a user may put one."""
    runs = []
    for run in job.runs:
        vertices = tuple(replace(v, name=name) for v in run.route.vertices)
        runs.append(replace(run, name=name, route=replace(run.route, vertices=vertices)))
    return replace(job, title=name, runs=tuple(runs))


# --- tension -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("system", ["US", "SI"])
def test_tension_shows_both_directions_with_every_figure(
    results: dict[str, JobResult], name: str, system: str
) -> None:
    text = text_of(tension_report(results[name], system))
    for run in results[name].runs:
        for candidate in run.candidates:
            pull = candidate.pull
            assert f"feed {pull.feed_name}" in text
            for value, quantity in (
                (pull.reel_tension, "force+"),
                (pull.end_tension, "force"),
                (pull.peak_tension, "force"),
                (pull.peak_sidewall, "sidewall"),
                (pull.machine_peak, "force"),
                (run.path.length, "length"),
            ):
                assert value is not None
                assert show_marked(value, quantity, system) in text
            window = candidate.window
            if window.holds:
                assert render(say("at least {}", (window.at_least, "force+")), system) in text
            if window.at_most > 0:
                assert f"at most {show_marked(window.at_most, 'force-', system)}" in text
            else:
                assert "limit exceeded at high friction" in text
            assert candidate.utilization.governing in text
    assert "licensed" in text and "rope" in text and "Basis:" in text


def test_clearance_is_defined_once_where_it_is_printed(results: dict[str, JobResult]) -> None:
    text = text_of(tension_report(results["riser_duct_bank"], "US"))
    assert text.count("clearance 3.") == 2 and text.count("Clearance: free height") == 1


def test_a_run_that_will_do_says_which_end(results: dict[str, JobResult]) -> None:
    text = text_of(tension_report(results["roof_drop"], "SI"))
    assert "Feed from roof, pull at basement switchroom." in text
    assert "ruled out: basement switchroom has no reel access" in text


def test_a_run_that_will_not_do_says_what_to_change(results: dict[str, JobResult]) -> None:
    result = results["yard_run"]
    text = text_of(tension_report(result, "US"))
    assert "Not acceptable from either end: feed from substation exceeds" in text
    assert "STOP: sidewall pressure" in text
    advice = result.runs[0].advice
    assert advice is not None and len(advice.remedies) >= 3
    numbered = re.findall(r"^ +(\d+)\. ", text, re.MULTILINE)
    assert numbered == [str(n) for n in range(1, len(advice.remedies) + 1)]
    assert "nothing to buy:" in text and "buy or rent:" in text


def test_where_only_access_is_missing_the_answer_says_where_to_make_room() -> None:
    job = route3d.load(MODELS / "roof_drop.toml")
    run = job.runs[0]
    shut = tuple(
        replace(v, access=frozenset({"reel"})) if v.access else v for v in run.route.vertices
    )
    closed = replace(job, runs=(replace(run, route=replace(run.route, vertices=shut)),))
    text = text_of(tension_report(evaluate(closed), "SI"))
    assert "1. Provide access for the machine at basement switchroom, and feed from roof" in text


def test_both_methods_stand_side_by_side(
    results: dict[str, JobResult], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(layout, "WIDEST", 10_000)  # heads in one line
    job = results["riser_duct_bank"].job
    other = evaluate(replace(job, practice=replace(job.practice, bend_form="capstan")))
    text = text_of(tension_report(results["riser_duct_bank"], "US", handbook=other))
    for result in (results["riser_duct_bank"], other):
        assert show(result.runs[0].candidates[0].pull.peak_tension, "force", "US") in text
    assert "vault V1, exact" in text and "vault V1, handbook" in text


def test_the_profile_has_a_line_for_each_piece(results: dict[str, JobResult]) -> None:
    result = results["yard_run"]
    text = text_of(tension_report(result, "US", profile=True))
    assert text.count("straight in PVC-40 5") == 2 * int((result.runs[0].path.kind == 0).sum())
    assert text.count("bend 3, 90.0°") == 2


def test_without_rope_and_machine_they_are_said_to_be_unchecked() -> None:
    job = route3d.load(MODELS / "roof_drop.toml")
    bare = replace(job, runs=(replace(job.runs[0], rope=None, machine=None),))
    text = text_of(tension_report(evaluate(bare), "SI"))
    assert text.count("not checked: none given") == 4
    data = tension_data(evaluate(bare))
    assert data["runs"][0]["pulls"][0]["machine_peak_N"] is None
    assert data["runs"][0]["pulls"][0]["utilization"]["rope"] is None


# --- nothing is cut, nothing is markup -----------------------------------------------------------


@pytest.mark.parametrize("width", [40, 60, 80, 100, 140, 10_000])
@pytest.mark.parametrize("name", NAMES)
def test_no_report_cuts_characters(results: dict[str, JobResult], name: str, width: int) -> None:
    result = results[name]
    for report in (
        tension_report(result, "US", profile=True),
        check_report(result, "SI", passed=True),
        bends_report(result, "US"),
    ):
        text = text_of(report, width)
        assert "…" not in text
        if width <= 140:
            assert max(map(len, text.splitlines())) <= width


def test_a_pipe_gets_one_line_for_each_finding(results: dict[str, JobResult]) -> None:
    lines = text_of(check_report(results["yard_run"], "US")).splitlines()
    assert all(line.strip() in {"", "-"} or len(line) > 3 for line in lines)
    stops = [line for line in lines if line.startswith("stop ")]
    wanted = [f for f in results["yard_run"].runs[0].findings if f.severity == "stop"]
    assert len(stops) == len(wanted) > 0


@pytest.mark.parametrize(
    "name", ["[red]x[/red]", "[/]", "{} {0}", "a{b", "[link=x]y", "船着き場", ":x:"]
)
def test_names_are_shown_as_they_are(name: str) -> None:
    result = evaluate(with_names(route3d.load(MODELS / "yard_run.toml"), name))
    for report in (
        tension_report(result, "US", profile=True),
        check_report(result, "US", passed=True),
        bends_report(result, "US"),
    ):
        assert name in text_of(report)
    for data in (tension_data(result), check_data(result, passed=True), bends_data(result)):
        assert name in json.dumps(data, ensure_ascii=False)
    assert "station 0.0 m" not in bends_csv(result, "US")
    assert "<svg" in section_of(result.runs[0], "US")


# --- check -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_check_lists_findings_with_limit_fix_and_source(
    results: dict[str, JobResult], name: str
) -> None:
    run = results[name].runs[0]
    text = text_of(check_report(results[name], "US"))
    found = all_findings(run)
    assert set(run.findings) < set(found)
    for finding in found:
        if finding.severity != "ok":
            assert finding.rule in text and finding.source in text
    passed = sum(f.severity == "ok" for f in found)
    assert f"{passed} of {len(found)} checks passed (--all lists them)." in text


def test_check_all_lists_what_passed(results: dict[str, JobResult]) -> None:
    text = text_of(check_report(results["roof_drop"], "SI", passed=True))
    passed = sum(f.severity == "ok" for f in all_findings(results["roof_drop"].runs[0]))
    assert sum(line.startswith("ok ") for line in text.splitlines()) == passed > 0


def test_no_access_at_either_end_is_a_stop() -> None:
    job = route3d.load(MODELS / "roof_drop.toml")
    run = job.runs[0]
    shut = tuple(
        replace(v, access=frozenset({"reel"})) if v.access else v for v in run.route.vertices
    )
    closed = replace(job, runs=(replace(run, route=replace(run.route, vertices=shut)),))
    result = evaluate(closed)
    (finding,) = (f for f in check_data(result)["runs"][0]["findings"] if f["severity"] == "stop")
    assert finding["rule"] == "access" and finding["ratio"] is not None
    assert json.loads(dumps(check_data(result)))["runs"][0]["findings"][0]["ratio"] is None
    assert "stop" in text_of(check_report(result, "SI"))


# --- bends and section ---------------------------------------------------------------------------


def test_bends_give_the_verdict_of_the_checks(results: dict[str, JobResult]) -> None:
    data = bends_data(results["yard_run"])["runs"][0]
    verdicts = [bend["verdict"] for bend in data["bends"]]
    assert verdicts == ["stop: sidewall pressure", "ok", "ok"]
    for bend in data["bends"]:
        assert bend["sidewall_share"] * 500 * 4.4482216152605 / 0.3048 == pytest.approx(
            bend["sidewall_N_per_m"],
            rel=1e-9,  # the limit in the file is 500 lbf/ft; conversions round
        )


def test_the_largest_sidewall_of_the_schedule_is_the_peak_of_the_pull(
    results: dict[str, JobResult],
) -> None:
    for result in results.values():
        bends = bends_data(result)["runs"][0]["bends"]
        peak = result.runs[0].best.pull.peak_sidewall
        assert max(bend["sidewall_N_per_m"] for bend in bends) == peak


def test_csv_has_units_in_its_heads_and_plain_numbers(results: dict[str, JobResult]) -> None:
    rows = list(csv.DictReader(io.StringIO(bends_csv(results["yard_run"], "US"))))
    assert len(rows) == 3
    assert float(rows[0]["radius (in)"]) == 48
    assert float(rows[0]["angle (°)"]) == 90
    straight = 12 * (420 - 200 - 4)  # from the vault
    assert float(rows[1]["straight before (in)"]) == pytest.approx(straight)


def test_the_section_is_of_the_tightest_conduit(results: dict[str, JobResult]) -> None:
    run = tightest(results["riser_duct_bank"].runs)
    svg = section_of(run, "US")
    assert "PVC-40 5" in svg  # its bore is the smaller one: 5.016 in against 5.073 in of RMC 5
    assert svg == section_of(run, "US")


def test_the_weight_factor_has_the_same_digits_in_words_and_in_the_drawing(
    results: dict[str, JobResult],
) -> None:
    for result in results.values():
        run = tightest(result.runs)
        digits = f"{run.governing_fit.weight_factor:.3f}"
        assert f"weight factor {digits}," in text_of(tension_report(result, "US"))
        assert f">{digits}</text>" in section_of(run, "US")


# --- JSON --------------------------------------------------------------------------------------

PULL_KEYS = {
    "feed", "pull", "brake_N", "reel_tension_N", "end_tension_N", "peak_tension_N",
    "peak_sidewall_N_per_m", "machine_peak_N", "utilization", "governing", "profile",
}  # fmt: skip
FINDING_KEYS = {"severity", "rule", "where", "measured", "limit", "fix", "source"}


@pytest.mark.parametrize("name", NAMES)
def test_tension_json_has_the_keys_of_the_design(results: dict[str, JobResult], name: str) -> None:
    data = json.loads(dumps(tension_data(results[name])))
    assert set(data) == {"title", "rules", "examples", "runs", "origins", "not_judged"}
    for run in data["runs"]:
        assert {"name", "length_m", "turn_deg", "fit", "pulls", "decision", "findings"} <= set(run)
        fit_keys = {"arrangement", "weight_factor", "fill", "jam_ratio", "clearance_m"}
        assert fit_keys <= set(run["fit"]) and run["fit"] == _tightest(run["fits"])
        assert {"feed", "pull", "why"} == set(run["decision"])
        for pull in run["pulls"]:
            assert set(pull) >= PULL_KEYS
            assert set(pull["utilization"]) == {"conductor", "grip", "sidewall", "rope", "machine"}
        for finding in (*run["findings"], *(f for p in run["pulls"] for f in p["findings"])):
            assert set(finding) >= FINDING_KEYS
            assert finding["severity"] in ("stop", "caution", "note")
            assert "{}" not in finding["where"]


def _tightest(fits: list[dict[str, float]]) -> dict[str, float]:
    fullest = max(fits, key=lambda fit: fit["fill"])
    return {key: value for key, value in fullest.items() if key != "conduit"}


@pytest.mark.parametrize("name", NAMES)
def test_the_profile_runs_from_feed_to_pull_through_every_joint(
    results: dict[str, JobResult], name: str
) -> None:
    for run, data in zip(results[name].runs, tension_data(results[name])["runs"], strict=True):
        forward, backward = (pull["profile"] for pull in data["pulls"])
        for profile, stations in (
            (forward, run.path.stations),
            (backward, run.path.stations[::-1]),
        ):
            assert profile[0]["station_m"] == stations[0]
            assert profile[-1]["station_m"] == stations[-1]
            assert set(stations.tolist()) <= {row["station_m"] for row in profile}
            assert {row["kind"] for row in profile} <= {"straight", "arc", "corner"}
        assert math.dist(forward[0]["xyz_m"], backward[-1]["xyz_m"]) < 1e-9  # rounding of meters
        assert data["pulls"][0]["peak_tension_N"] == max(row["tension_N"] for row in forward)
        assert data["pulls"][0]["end_tension_N"] == forward[-1]["tension_N"]


def test_json_is_valid_for_numbers_that_are_not_finite() -> None:
    assert json.loads(dumps({"a": [math.nan, math.inf, (1.0, -0.0)]})) == {
        "a": [None, None, [1, 0]]
    }
    assert "-0" not in dumps([-0.0])


def test_json_does_not_depend_on_the_display_units() -> None:
    job = route3d.load(MODELS / "yard_run.toml")
    other = replace(job, units="SI")
    first, second = (evaluate(j, with_remedies=False) for j in (job, other))
    assert dumps(tension_data(first)) == dumps(tension_data(second))


# --- stock -------------------------------------------------------------------------------------


def test_stock_lists_every_table() -> None:
    text = text_of(tables_report(), 120)
    assert all(name in text for name in table_names())
    assert [t["table"] for t in tables_data()] == list(table_names())
    assert [t["entries"] for t in tables_data()] == [len(entries(table=n)) for n in table_names()]


def test_stock_entries_carry_value_status_and_source() -> None:
    found = entries("ESTIMATE", "us_swbp_limits")
    text = text_of(entries_report(found, whole=True))
    assert len(found) == 1
    assert found[0].status.startswith("ESTIMATE") and "estimate" in text
    assert found[0].source in text
    assert entries_data(found)[0]["values"]["lb_per_ft"] in text
    assert entries_data(found)[0]["status"] == found[0].status  # as recorded, for machines


def test_stock_keeps_figures_that_stand_in_the_name_and_units_of_ranges(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(layout, "WIDEST", 10_000)  # a cell in one line
    for name in table_names():
        text = text_of(entries_report(entries(table=name)), 4000)
        for entry in entries(table=name):
            row = dict(entry.values)
            for column in ("value", "low", "high", "trade_id_mm", "id_mm", "md"):
                if column in row:
                    # How a figure is known is told in words, never as recorded.
                    shown = known_words(row[column]) if row[column] in set(Status) else row[column]
                    assert shown in text, (name, entry.name, column)
            if "low" in row and row.get("unit"):
                assert f"low {row['low']} {row['unit']}; high {row['high']} {row['unit']}" in text
    gulf = next(e for e in entries("7.16 kgf", "conductor_stress"))
    assert "7.16 kgf/mm2; stress_N_mm2 70.216" in text_of(entries_report([gulf]), 4000)


def test_the_words_to_type_are_understood_by_a_model_file() -> None:
    told = {w for e in entries() if (w := words_to_type(e))}
    read = {
        "friction": "ratio",
        "sidewall_limit": "sidewall",
        "max_stress": "stress",
        "diameter": "diameter",
        "weight": "weight",
        "bend_multiple": "ratio",
    }
    kinds = set()
    for words in told:
        text = words.removeprefix("conductor ").replace('", ', '"\n')
        given = tomllib.loads(text)
        kinds |= set(given)
        if "type" in given:
            assert conduit_size(given["type"], given["trade_size"]).inner_diameter > 0
        elif "area" in given:
            assert conductor_area(given["area"]).value > 0
        else:
            assert all(parse(value, read[key], "US") > 0 for key, value in given.items()), words
    assert kinds == {*read, "type", "trade_size", "area"}
    assert 'type = "RMC", trade_size = "5"' in text_of(
        entries_report(entries("RMC", "nec_ch9_t4_rmc"))
    )


@pytest.mark.parametrize(
    ("recorded", "words"),
    [
        ("READ", "read in the source"),
        ("READ(l)", "read second-hand"),
        ("READ VDOC, BL236", "read in the source"),
        ("XCHECK ATK", "cross-checked"),
        ("OD READ HI; wall MEMORY", "from memory"),
        ("MEMORY(m)", "from memory, medium confidence"),
        ("OD ESTIMATE; copper DERIVED", "estimate"),
        ("", ""),
    ],
)
def test_how_a_figure_is_known_is_said_in_words(recorded: str, words: str) -> None:
    assert known_words(recorded) == words


def test_no_status_code_reaches_the_reader() -> None:
    text = text_of(entries_report(entries()))
    for code in ("READ", "XCHECK", "MEMORY", "DERIVED", "ESTIMATE", "(l)", "(m)"):
        assert code not in text, code
    assert text.count("Confidence") == 1
    for known in ("read in the source", "cross-checked", "calculated", "from memory", "estimate"):
        assert f"{known} = " in text


def test_source_ids_are_spelled_out_and_the_list_of_sources_has_no_empty_notes() -> None:
    text = text_of(entries_report(entries("5", "astm_d1785_pvc")))
    assert "\nHI is ASTM D1785" in text and "\nATK is ASTM F2160" in text
    listed = text_of(entries_report(entries(table="sources")))
    assert "(1)" not in listed and "confidence" not in listed and "Confidence" not in listed


@pytest.mark.parametrize("name", table_names())
def test_every_table_can_be_shown(name: str) -> None:
    assert "…" not in text_of(entries_report(entries(table=name), whole=True), 80)
