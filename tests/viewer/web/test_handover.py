"""The hand-over page as text: alone, safe, honest; what a browser makes of it is tested apart."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from route3d.checks.limits import sidewall_limit
from route3d.cli.main import app
from route3d.drawing.study_charts.sheet import NARROW
from route3d.errors import InputError
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import CAUTIONS, JobResult
from route3d.report.document import part_data
from route3d.report.sensitivity import sensitivity_parts
from route3d.report.words import limit_of, measured
from route3d.units import SYSTEMS, convert, show, unit_label
from tests.support.study_records import sensitivity_of
from tests.viewer.conftest import DEMOS, MODELS, Answered, findings_on
from viewer.gauge import gauge_of, plan_for_crew
from viewer.scene.scale import tension_limit
from viewer.web import bundle
from viewer.web.film_data import unit_table
from viewer.web.handover import json_for_page, page_text, write_html
from viewer.web.page_data import page_data

MEGABYTE = 1_000_000
NASTY = "</script><script>window.hacked=1</script> {{DATA}} {x} \"'&<b> 码头一号 ✓ \u2028"


class Elements(HTMLParser):
    """Tags with their attributes, and the text of the element that holds the data."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.data = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][1].get("id") == "data" and not self.data:
            self.data = data


def parsed(text: str) -> Elements:
    elements = Elements()
    elements.feed(text)
    return elements


def data_of(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(parsed(text).data)
    return found


def nasty() -> JobResult:
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    vertices = [replace(v, name=f"{NASTY} {i}") for i, v in enumerate(run.route.vertices)]
    conduits = tuple(replace(c, name=NASTY) for c in run.route.conduits)
    route = replace(run.route, vertices=tuple(vertices), conduits=conduits)
    run = replace(run, name=NASTY, route=route)
    return evaluate(replace(job, title=NASTY, runs=(run,), banks=()))


@cache
def page_of(name: str) -> str:
    """The page of a demo, with what would help where it must not be pulled."""
    job = load(MODELS / f"{name}.toml")
    return page_text(evaluate(job), job)


@pytest.fixture(scope="module")
def riser_page(riser: Answered) -> str:
    return page_text(*riser)


@pytest.fixture(scope="module")
def told(demo: Answered) -> dict[str, Any]:
    """The data of a demo's page."""
    result, job = demo
    return page_data((result,), job, "US", "auto")


@pytest.mark.parametrize("name", DEMOS)
def test_one_file_below_three_megabytes_that_asks_for_nothing(name: str) -> None:
    text = page_of(name)
    assert len(text.encode()) < 3 * MEGABYTE
    for tag, attributes in parsed(text).tags:
        assert tag != "base" and "src" not in attributes, tag
        if tag == "link":
            assert attributes["href"] == "data:,"
    outside = re.findall(r"(?:url\(|@import|fetch\(|import\()\s*['\"]?[\w.:/]+", text)
    assert not [u for u in outside if "http" in u]
    assert "default-src 'none'" in text


def test_the_same_job_gives_the_same_bytes(riser: Answered, riser_page: str) -> None:
    assert page_text(*riser) == riser_page


def test_sensitivity_stands_on_the_page_where_it_is_asked_for(
    riser: Answered, riser_page: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In both systems of units; a page without it has nothing of it."""
    made = sensitivity_of(riser[1].runs[0])
    monkeypatch.setattr("route3d.api.sensitivities", lambda job: (made,))
    (run,) = data_of(page_text(*riser, sensitivity=True))["runs"]
    assert "sensitivity" not in data_of(riser_page)["runs"][0]
    for units, parts in run["sensitivity"]["parts"].items():
        found = [part_data(part) for part in sensitivity_parts(made, units, NARROW)]
        assert parts == json.loads(json_for_page(found))
        drawn = [item["svg"] for p in parts if p["kind"] == "figures" for item in p["items"]]
        assert len(drawn) == 6 and not any("href" in svg for svg in drawn)


def test_names_are_data_and_nothing_else() -> None:
    result = nasty()
    text = page_text(result, result.job)
    plain = page_of("riser_duct_bank")
    assert parsed(text).tags == parsed(plain).tags  # not one element more
    assert "window.hacked" not in re.sub(r'(?s)id="data">.*?</script>', "", text)
    assert data_of(text)["title"] == NASTY
    assert data_of(text)["runs"][0]["name"] == NASTY
    assert f"{NASTY} 0" in data_of(text)["runs"][0]["directions"][0]["feed"]


def test_json_for_a_page_holds_no_markup_and_no_infinity() -> None:
    text = json_for_page({"a": "</script>&\u2028\u2029", "b": [float("inf"), float("nan"), 1.5]})
    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == {"a": "</script>&\u2028\u2029", "b": [None, None, 1.5]}


def test_the_answer_is_that_of_the_decision(demo: Answered, told: dict[str, Any]) -> None:
    result, job = demo
    (run,) = told["runs"]
    chosen = result.decision.choice
    assert run["chosen"] == (None if chosen is None else result.candidates.index(chosen))
    assert run["limits"]["tension"] == tension_limit(result.best.pull)
    assert run["limits"]["sidewall"] == sidewall_limit(result.run).value
    for n, candidate in enumerate(result.candidates):
        for units in SYSTEMS:
            words = run["directions"][n]["words"][units]
            figures = {name: value for name, value, *_ in words["facts"]}
            pull = candidate.planned
            assert figures["Peak tension"] == show(pull.peak_tension, "force", units)
            assert figures["Peak sidewall"] == show(pull.peak_sidewall, "sidewall", units)
            plan = plan_for_crew(result, candidate, job)
            assert plan is not None and plan.peak >= (pull.machine_peak or 0)
            assert figures["Peak machine load"] == show(plan.peak, "force", units)
            if chosen is candidate:
                assert words["headline"] == f"Feed from {pull.feed_name}, pull at {pull.pull_name}"
            assert bool(words["ruledOut"]) == bool(candidate.barred)


def test_every_stop_and_caution_of_the_shown_direction_is_told(
    demo: Answered, told: dict[str, Any]
) -> None:
    (run,) = told["runs"]
    for n, candidate in enumerate(demo[0].candidates):
        found = {
            (f["rule"], f["measured"], f["limit"])
            for f in findings_on(run["directions"][n]["words"]["US"])
        }
        for finding in candidate.findings:
            if finding.severity in ("stop", "caution") and finding.ratio == finding.ratio:
                assert (finding.rule, measured(finding, "US"), limit_of(finding, "US")) in found


def test_cautions_are_on_the_page(riser_page: str) -> None:
    assert data_of(riser_page)["cautions"] == list(CAUTIONS)


def test_the_pull_to_be_made_has_its_stop_load_and_readings(
    demo: Answered, told: dict[str, Any]
) -> None:
    result, job = demo
    for n, candidate in enumerate(told["runs"][0]["directions"]):
        go = result.decision.choice is result.candidates[n] and not result.stops
        for units in SYSTEMS:
            gauge = candidate["words"][units]["gauge"]
            assert (gauge is not None) == go  # no reading tempts to make another pull
            if go:
                plan = plan_for_crew(result, result.candidates[n], job)
                wanted = gauge_of(result.candidates[n], plan, units)
                assert gauge["load"] == wanted.load != "-"
                last = wanted.rows[-1]
                assert gauge["rows"][-1] == [
                    *(last.length, last.gear, last.expected, last.caution, last.stop, last.breaks)
                ]
                assert unit_label("force", units) in gauge["heads"][2]
                assert gauge["gears"] == list(wanted.gears)
                assert gauge["machine"] == list(wanted.machine)
    assert "must not be made" in told["noGauge"]


def test_units_the_page_prints_agree_with_ours() -> None:
    for quantity, systems in unit_table().items():
        for system, entry in systems.items():
            assert 2.5 * entry["per"] == pytest.approx(convert(2.5, quantity, system), rel=1e-12)
            assert show(0.0, quantity, system).endswith(entry["unit"])


def test_the_route_is_packed_and_comes_back(riser_page: str) -> None:
    glb = gzip.decompress(base64.b64decode(data_of(riser_page)["runs"][0]["glb"]))
    assert glb[:4] == b"glTF"


def test_all_runs_of_a_job_are_on_the_page(riser: Answered) -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    job = replace(job, runs=(job.runs[0], replace(job.runs[0], name="F2")))
    assert [r["name"] for r in data_of(page_text(evaluate(job), job))["runs"]] == ["F1", "F2"]


@pytest.mark.parametrize("option", [{"units": "imperial"}, {"theme": "blue"}])
def test_an_unknown_option_is_refused(riser: Answered, option: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="is not one of"):
        page_text(*riser, **option)


def test_a_file_that_cannot_be_written_is_told(riser: Answered, tmp_path: Path) -> None:
    with pytest.raises(InputError):
        write_html(*riser, tmp_path / "missing" / "page.html")


def test_the_scripts_are_small_and_their_licenses_go_with_every_page(riser_page: str) -> None:
    vendored = [s for s in bundle.scripts() if s.name != "app.js"]
    assert sum(len(s.text.encode()) for s in vendored) <= 700_000
    licenses, text = bundle.read("vendor/LICENSES.txt"), riser_page
    assert licenses.count("MIT License") >= 2
    assert "three.js authors" in licenses and "three.js authors" in text


class Inline(HTMLParser):
    """The text of every script that runs, and of every style."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str]] = []
        self.inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        data = dict(attrs).get("type") == "application/json"
        self.inside = tag if tag in ("script", "style") and not data else ""
        if self.inside:
            self.found.append((tag, ""))

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside:
            tag, text = self.found[-1]
            self.found[-1] = (tag, text + data)


def test_scripts_and_styles_are_allowed_by_their_hashes_alone(riser_page: str) -> None:
    """Each that is in the page, no other, and nothing by unsafe-inline or unsafe-eval."""
    text = riser_page
    policy = next(
        a["content"] or ""
        for tag, a in parsed(text).tags
        if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    )
    assert "unsafe" not in policy and "http" not in policy
    inline = Inline()
    inline.feed(text)
    assert {tag for tag, _ in inline.found} == {"script", "style"}
    for kind in ("script", "style"):
        allowed = re.search(rf"{kind}-src ([^;]*)", policy)
        assert allowed
        hashes = [
            f"'sha256-{base64.b64encode(hashlib.sha256(t.encode()).digest()).decode()}'"
            for tag, t in inline.found
            if tag == kind
        ]
        assert sorted(allowed[1].split()) == sorted(hashes)


def test_the_command_writes_the_page(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    model = str(MODELS / "roof_drop.toml")
    ran = CliRunner().invoke(app(), ["view", model, "--html", str(out), "--theme", "dark"])
    assert ran.exit_code == 0, ran.output
    data = data_of(out.read_text(encoding="utf-8"))
    assert (data["theme"], data["units"]) == ("dark", "SI")
