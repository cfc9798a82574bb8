from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.checks.classes import (
    check_classes,
    check_rules,
    check_stocking,
    check_temperature,
    temperature_gaps,
)
from route3d.checks.finding import Finding
from route3d.checks.limits import conductor_limit
from route3d.mechanics.pull import solve_pull
from route3d.model import Cable, Practice, Run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import LBF_PER_FT, along, cable, conduit
from tests.support.routes import Go, Turn, vertices

LEVEL = along(vertices([Go(10), Turn(90, 1.5), Go(10)]), conduit(friction=0.0))
US, SI = Practice(), Practice(rules="none")
VDE, BS = Practice(rules="CENELEC"), Practice(rules="CENELEC", edition="BS")
MV = {"voltage": 15e3, "shielded": True}


def classed(given: Cable, practice: Practice = US) -> dict[str, Finding]:
    found = check_classes(jobs.run(LEVEL, given), practice)
    return {f.rule.split()[1]: f for f in found}


# --- sidewall ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pounds", "severity"),
    # 15 kV shielded: 1,000 lb/ft (General Cable, READ); 14,600 N/m is how it is typed in SI
    [(999, "ok"), (1000, "ok"), (14_600 / LBF_PER_FT, "ok"), (1002, "caution"), (2000, "caution")],
)
def test_a_sidewall_limit_beyond_the_class_is_a_caution(pounds: float, severity: str) -> None:
    finding = classed(cable(sidewall_limit=pounds * LBF_PER_FT, **MV))["sidewall"]
    assert finding.severity == severity
    assert finding.ratio == pytest.approx(pounds / 1000, rel=1e-9)


@pytest.mark.parametrize(
    ("pounds", "severity", "limit"),
    # interlocked armor: General Cable 300, Southwire 1,000 (READ, both kept)
    [(300, "ok", 300), (301, "note", 300), (1000, "note", 300), (1002, "caution", 1000)],
)
def test_between_two_published_figures_it_is_a_note_that_says_both(
    pounds: float, severity: str, limit: float
) -> None:
    finding = classed(cable(sidewall_limit=pounds * LBF_PER_FT, armor="interlocked", **MV))
    found = finding["sidewall"]
    assert found.severity == severity
    assert found.limit == pytest.approx(limit * LBF_PER_FT, rel=1e-9)
    words = render(found.fix, "US")
    assert "300 lbf/ft" in words and "1,000 lbf/ft" in words


def test_without_rules_or_voltage_no_class_speaks() -> None:
    assert classed(cable(sidewall_limit=1e5, **MV), SI) == {}
    assert "sidewall" not in classed(cable(sidewall_limit=1e5))
    assert "sidewall" not in classed(cable(sidewall_limit=1e5, **MV), VDE)  # none was read


def test_a_recalled_european_figure_says_so() -> None:
    # ABB guide from memory: 7.5 kN/m for high-voltage XLPE in ducts
    finding = classed(cable(sidewall_limit=7501 * 1.01, voltage=110e3, shielded=True), VDE)
    assert finding["sidewall"].severity == "caution"
    assert "from memory" in finding["sidewall"].source


# --- bends ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "practice", "multiple", "severity"),
    [
        # 600 V, 0.04 m (1.57 in): training 5 (Okonite), any cable 12 (General Cable), both READ
        (cable(voltage=600.0), US, 4.9, "caution"),
        (cable(voltage=600.0), US, 5.0, "note"),
        (cable(voltage=600.0), US, 11.9, "note"),
        (cable(voltage=600.0), US, 12.0, "ok"),
        # shielded above 1,000 V: 12 in law
        (cable(**MV), US, 11.9, "caution"),
        (cable(**MV), US, 12.0, "ok"),
        (cable(**MV), US, 12.1, "ok"),
        # BS 6622 single-core 15 (READ)
        (cable(**MV), BS, 14.9, "caution"),
        (cable(**MV), BS, 15.0, "ok"),
    ],
)
def test_the_multiple_must_be_one_for_pulling(
    given: Cable, practice: Practice, multiple: float, severity: str
) -> None:
    finding = classed(replace(given, bend_multiple=multiple), practice)["bend"]
    assert finding.severity == severity
    assert "training" in render(finding.fix, "US")


# --- temperature ---------------------------------------------------------------------------------


def cold(given: Cable, celsius: float, practice: Practice = US) -> list[str]:
    day = replace(practice, laying_temperature=celsius + 273.15)
    return [f.severity for f in check_temperature(jobs.run(LEVEL, given), day)]


def test_below_the_given_temperature_is_a_stop() -> None:
    given = cable(lowest_temperature=263.15, jacket="PE")
    assert [cold(given, c) for c in (-9.9, -10.0, -10.1)] == [["ok"], ["ok"], ["stop"]]


def test_below_the_temperature_of_the_jacket_is_a_caution() -> None:
    # PVC: -10 °C in the NFPA 70 note (READ), -5 °C by DIN VDE (READ)
    given = cable(jacket="PVC")
    assert [cold(given, c) for c in (-9.9, -10.0, -10.1)] == [["ok"], ["ok"], ["caution"]]
    assert [cold(given, c, VDE) for c in (-4.9, -5.0, -5.1)] == [["ok"], ["ok"], ["caution"]]
    assert cold(given, -5.1, SI) == ["caution"]  # a maker's own instructions


def test_what_is_not_given_is_not_judged_and_a_plan_says_so() -> None:
    assert cold(cable(), -60) == []
    assert check_temperature(jobs.run(LEVEL, cable(jacket="PVC")), US) == ()
    bare, known = (temperature_gaps(jobs.run(LEVEL, c), US) for c in (cable(), cable(jacket="PVC")))
    assert [f.severity for f in (*bare, *known)] == ["note", "note"]
    assert "not checked" in render(bare[0].fix, "SI")
    assert "below -10.0 °C" in render(known[0].fix, "SI")
    day = replace(US, laying_temperature=280.0)
    assert temperature_gaps(jobs.run(LEVEL, cable(jacket="PVC")), day) == ()


# --- which rules ---------------------------------------------------------------------------------


def test_rules_that_were_assumed_are_a_note_with_the_words_to_type() -> None:
    run = jobs.run(LEVEL)
    assert check_rules(run, US) == ()
    (code,) = check_rules(run, replace(US, rules_assumed=True))
    assert code.severity == "note"
    assert '[practice] rules = "NFPA 70", edition = "2023"' in render(code.fix, "US")
    (none,) = check_rules(run, replace(SI, rules_assumed=True))
    words = render(none.fix, "SI")
    assert 'rules = "none"' in words and "70.2 N/mm²" in words and "50.0 N/mm²" in words


def test_the_conductors_are_judged_by_the_rules() -> None:
    run = jobs.run(LEVEL, [(cable(area=240e-6), 3)])
    assert conductor_limit(run, VDE).value == pytest.approx(3 * 240e-6 * 50e6)
    assert conductor_limit(run, US).value == pytest.approx(3 * 240e-6 * 70.229e6, rel=2e-5)
    assert "VDE" in conductor_limit(run, VDE).source
    loose = replace(run, attach="basket grip")
    assert conductor_limit(loose, VDE).value == pytest.approx(2 * 240e-6 * 50e6)
    laid_up = replace(loose, arrangement="triplexed")
    assert conductor_limit(laid_up, VDE).value == pytest.approx(3 * 240e-6 * 50e6)


def test_a_grip_on_armor_by_din_vde_practice() -> None:
    # F = 9 N/mm2 x D2 on wire armor (READ): 14,400 N at 40 mm
    def gripped(tension: float, practice: Practice, **more: object) -> list[str]:
        given: Run = jobs.run(
            LEVEL,
            cable(**more),
            reel_tension=tension,
            attach="basket grip",  # type: ignore[arg-type]
        )
        return [f.severity for f in check_stocking(solve_pull(given, practice))]

    assert gripped(12_900, VDE, armor="wire") == ["ok"]
    assert gripped(14_400, VDE, armor="wire") == ["caution"]
    assert gripped(14_401, VDE, armor="wire") == ["stop"]
    assert gripped(14_401, VDE) == [] and gripped(14_401, US, armor="wire") == []
