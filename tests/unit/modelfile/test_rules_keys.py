"""The keys of a model file that say which rules hold, and how cold it is."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from route3d.cli.main import app
from route3d.errors import InputError
from route3d.model import Job
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import starter
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import make_plan
from route3d.report.json_result import check_data, rules_data, tension_data

NATIONAL = {"fill", "degrees between pull points", "riser support", "pull box, straight pull"}


def with_lines(units: str, lines: str) -> str:
    """The starter with these lines of ``[practice]`` in place of its rules."""
    text = re.sub(
        r"^(rules|edition|margin) = .*\n|^# edition: .*\n", "", starter(units), flags=re.M
    )
    return text.replace("[practice]\n", f"[practice]\n{lines}\n", 1)


def rules_of(job: Job) -> set[str]:
    return {f.rule for f in evaluate(job, with_remedies=False).runs[0].run_findings}


@pytest.mark.parametrize(("units", "name"), [("US", "NFPA 70"), ("SI", "none")])
def test_a_file_that_names_no_rules_gets_the_usual_ones_and_a_note(units: str, name: str) -> None:
    job = loads(with_lines(units, ""))
    assert (job.practice.rules, job.practice.rules_assumed) == (name, True)
    assert "rules assumed" in rules_of(job)
    named = loads(starter(units))
    assert (named.practice.rules, named.practice.rules_assumed) == (name, False)
    assert "rules assumed" not in rules_of(named)


def test_national_findings_come_from_the_chosen_rules() -> None:
    us = rules_of(loads(with_lines("SI", 'rules = "NFPA 70"')))
    assert us >= NATIONAL - {"riser support"}
    for other in ("none", "CENELEC"):
        assert not rules_of(loads(with_lines("US", f'rules = "{other}"'))) & NATIONAL
    vde = rules_of(loads(with_lines("SI", 'rules = "CENELEC"')))
    assert "bore to bundle ratio" in vde


def test_no_clause_of_the_code_is_cited_outside_it() -> None:
    for units in ("US", "SI"):
        for other in ("none", "CENELEC"):
            job = loads(with_lines(units, f'rules = "{other}"'))
            run = evaluate(job, with_remedies=False).runs[0]
            cited = [f for f in run.findings if "NFPA" in f.source or "UFGS" in f.source]
            assert cited == []


def test_the_least_radius_of_a_field_bend_is_national() -> None:
    us, none = (
        loads(with_lines("US", f'rules = "{name}"')).runs[0].route.conduits[0]
        for name in ("NFPA 70", "none")
    )
    assert us.min_bend_radius is not None and none.min_bend_radius is None
    assert us.elbow_radius == none.elbow_radius  # what factories make is no rule


@pytest.mark.parametrize(
    ("lines", "field", "said"),
    [
        ('rules = "NESC"', "practice.rules", "utility work (NESC, IEEE C2) is not covered"),
        ('rules = "nesc"', "practice.rules", 'one of "NFPA 70", "CENELEC", "none"'),
        ('rules = "C22.1"', "practice.rules", "Canada (C22.1, Canadian Electrical Code) is not"),
        ('rules = "NFPA"', "practice.rules", "did you mean 'NFPA 70'?"),
        ("rules = 70", "practice.rules", "is not one of"),
        ('edition = "2026"', "practice.edition", "known: 2023, 2020, 2017"),
        ('rules = "none"\nedition = "2023"', "practice.edition", "has no editions"),
        ('rules = "CENELEC"\nedition = "2023"', "practice.edition", "known: DIN VDE, BS, CEI"),
        ('laying_temperature = "20"', "practice.laying_temperature", "has no unit"),
        ('laying_temperature = "20 C"', "practice.laying_temperature", "is not a temperature unit"),
        ('laying_temperature = "200 °F"', "practice.laying_temperature", "exceeds the maximum"),
        ('laying_temperature = "-80 °C"', "practice.laying_temperature", "below the minimum"),
        ("margin = 0.49", "practice.margin", "below the minimum of 0.5"),
        ("margin = 1.01", "practice.margin", "exceeds the maximum of 1"),
        ('margin = "90 %"', "practice.margin", "write a plain number"),
    ],
)
def test_what_is_not_known_says_what_is(lines: str, field: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        loads(with_lines("US", lines))
    (problem,) = caught.value.problems
    assert problem.where == field and problem.line is not None
    assert said in str(problem)


def test_the_code_has_two_names() -> None:
    assert loads(with_lines("US", 'rules = "NEC"')) == loads(with_lines("US", 'rules = "NFPA 70"'))


def test_temperatures_are_read_in_the_units_of_the_file() -> None:
    us = loads(with_lines("US", "laying_temperature = 14"))
    si = loads(with_lines("SI", "laying_temperature = -10"))
    assert us.practice.laying_temperature == pytest.approx(263.15)
    assert si.practice.laying_temperature == pytest.approx(263.15)


@pytest.mark.parametrize(("lines", "margin"), [("", 0.9), ("margin = 0.5", 0.5), ("margin = 1", 1)])
def test_the_margin_of_a_remedy_is_90_percent_unless_given(lines: str, margin: float) -> None:
    assert loads(with_lines("US", lines)).practice.margin == margin


def test_a_stock_conduit_says_its_material_itself() -> None:
    text = starter("US").replace('type = "PVC-40"\n', 'type = "PVC-40"\nmaterial = "PVC"\n', 1)
    with pytest.raises(InputError, match="plain dimensions only"):
        loads(text)
    plain, pipe = loads(starter("US")).runs[0].route.conduits[0::3]
    assert (plain.plastic, pipe.plastic) == (True, False)


def test_every_report_of_the_command_line_names_the_rules(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(starter("US"), encoding="utf-8")
    for command in ("check", "tension", "plan", "bends", "bank", "clearance"):
        done = CliRunner().invoke(app(), [command, str(file)])
        assert "NFPA 70, 2023" in " ".join(done.output.split()), command
        done = CliRunner().invoke(app(), [command, str(file), "--json"])
        assert '"name": "NFPA 70"' in done.output and '"edition": "2023"' in done.output, command


def test_the_rules_in_json() -> None:
    job = loads(with_lines("SI", ""))
    result = evaluate(job, with_remedies=False)
    told = {"name": "none", "edition": None, "assumed": True}
    assert rules_data(job.practice) == told
    assert check_data(result)["rules"] == tension_data(result)["rules"] == told


@pytest.mark.parametrize(
    ("words", "rules", "edition"),
    [
        ([], "NFPA 70", "2023"),
        (["--units", "SI"], "none", ""),
        (["--rules", "CENELEC"], "CENELEC", "DIN VDE"),
        (["--rules", "CENELEC", "--edition", "BS", "--units", "SI"], "CENELEC", "BS"),
        (["--edition", "2020"], "NFPA 70", "2020"),
    ],
)
def test_new_writes_the_rules(tmp_path: Path, words: list[str], rules: str, edition: str) -> None:
    file = tmp_path / "new.toml"
    assert CliRunner().invoke(app(), ["new", str(file), *words]).exit_code == 0
    practice = load(file).practice
    assert (practice.rules, practice.edition, practice.rules_assumed) == (rules, edition, False)
    assert re.search(rf'^rules = "{rules}"$', file.read_text(encoding="utf-8"), re.M)


def test_new_refuses_rules_that_are_not_covered(tmp_path: Path) -> None:
    file = tmp_path / "new.toml"
    done = CliRunner().invoke(app(), ["new", str(file), "--rules", "NESC"])
    assert done.exit_code != 0 and not file.exists()


def test_a_plan_says_what_it_does_not_know_of_the_cold() -> None:
    job = loads(starter("US"))
    result = evaluate(job, with_remedies=False).runs[0]
    plan = make_plan(result, job, step=10.0)
    assert [f.severity for f in plan.findings if f.rule == "installation temperature"] == ["note"]


@pytest.mark.parametrize("word", ["centerline", "centreline"])
def test_either_spelling_of_the_centerline_is_understood(word: str) -> None:
    text = re.sub(r"^sidewall_radius = .*\n", "", starter("US"), flags=re.M)
    given = text.replace("[practice]\n", f'[practice]\nsidewall_radius = "{word}"\n', 1)
    assert loads(given).practice.sidewall_radius == "centerline"
