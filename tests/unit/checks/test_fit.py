from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.checks.finding import Finding
from route3d.checks.fit import check_fit
from route3d.mechanics.pull import run_fits
from route3d.model import Cable, Conduit, Practice
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import INCH, at, cable, conduit, lay

PRACTICE = Practice()
ON_D = Practice(jam_ratio="D/d")
d = 0.04


def findings(
    n: int, *ducts: Conduit, practice: Practice = PRACTICE, arrangement: str = "auto"
) -> list[Finding]:
    points = [at((10.0 * i, 0, 0)) for i in range(len(ducts) + 1)]
    route = lay(*points, conduits=list(ducts))
    run = jobs.run(route, [(cable(diameter=d), n)], arrangement=arrangement)
    return list(check_fit(run, practice, run_fits(run)))


def of(rule: str, n: int, bore: float, **more: object) -> list[Finding]:
    return [f for f in findings(n, conduit(bore), **more) if f.rule == rule]  # type: ignore[arg-type]


# --- fill --------------------------------------------------------------------------------------

# NFPA 70 Chapter 9 Table 1: 53, 31, 40 % (READ).
LIMITS = {1: 0.53, 2: 0.31, 3: 0.40, 4: 0.40}


@pytest.mark.parametrize("count", sorted(LIMITS))
def test_fill_at_its_boundary(count: int) -> None:
    def at_fill(share: float) -> Finding:
        (finding,) = of("fill", count, d * math.sqrt(count / share))
        return finding

    limit = LIMITS[count]
    assert at_fill(0.901 * limit).severity == "ok"
    assert at_fill(limit).severity == "ok"  # chosen, not estimated: legal up to the limit
    assert at_fill(1.001 * limit).severity == "stop"
    assert at_fill(limit).limit == limit
    assert at_fill(limit).demand == pytest.approx(limit, rel=1e-12)


def test_the_bore_the_fill_asks_for_is_enough_and_no_larger_than_needed() -> None:
    (finding,) = of("fill", 3, 0.1)  # 3 x 16 cm2 in 100 cm2: 48 %
    assert finding.severity == "stop"
    assert finding.demand == pytest.approx(0.48)
    ((bore, _),) = finding.fix.values
    assert of("fill", 3, bore)[0].severity == "ok"
    assert of("fill", 3, 0.98 * bore)[0].severity == "stop"


# --- jam ---------------------------------------------------------------------------------------

# 1.05 D/d, from memory (m): reference notes 5.
OVAL = [
    (2.35, "ok"), (2.45, "note"), (2.55, "caution"), (2.75, "caution"), (2.95, "caution"),
    (3.1, "note"), (3.25, "ok"),
]  # fmt: skip
# D/d: TES-P-104.05 p.12 and the note to NFPA 70 Chapter 9 Table 1 (READ); the graver of the two.
PLAIN = [(2.5, "note"), (2.79, "note"), (2.81, "caution"), (3.1, "caution"), (3.25, "ok")]


@pytest.mark.parametrize(("oval", "severity"), OVAL)
def test_jam_bands_on_1_05_D_over_d(oval: float, severity: str) -> None:
    (finding,) = of("jam ratio", 3, oval / 1.05 * d)
    assert finding.severity == severity
    assert finding.demand == pytest.approx(oval)


@pytest.mark.parametrize(("ratio", "severity"), PLAIN)
def test_jam_bands_on_D_over_d(ratio: float, severity: str) -> None:
    (finding,) = of("jam ratio", 3, ratio * d, practice=ON_D)
    assert finding.severity == severity
    assert finding.demand == pytest.approx(ratio)


def test_the_two_readings_are_different_quantities() -> None:
    # The same bore: D/d = 2.85 is "likely" by TES; 1.05 D/d = 2.99 is "moderate" by the other.
    (plain,), (oval,) = (of("jam ratio", 3, 2.85 * d, practice=p) for p in (ON_D, PRACTICE))
    assert "D/d" in render(plain.fix, "SI") and "1.05" not in render(plain.fix, "SI")
    assert "1.05 D/d" in render(oval.fix, "SI")
    assert oval.demand == pytest.approx(1.05 * plain.demand)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_only_three_cables_jam(count: int) -> None:
    assert of("jam ratio", count, 0.13) == []


# --- clearance ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gap", "severity"),
    [(5.99, "stop"), (6.01, "note"), (24.99, "note"), (25.01, "ok")],
)
def test_clearance_of_one_cable_at_its_boundaries(gap: float, severity: str) -> None:
    # TES p.12 (READ): 6 to 25 mm; one cable leaves D - d.
    (finding,) = of("clearance", 1, d + gap / 1000)
    assert finding.severity == severity
    assert finding.demand == pytest.approx(gap / 1000)


# --- arrangement -------------------------------------------------------------------------------


def test_both_ways_are_said_between_2_5_and_3() -> None:
    (finding,) = of("arrangement", 3, 2.8 * d)
    text = render(finding.fix, "US")
    assert finding.severity == "note"
    # Reference notes 2.1: D/d 2.8 -> 1.2027 triangular, 1.4115 cradled.
    # Sidewall factors w/2 = 0.601 and (3 w - 2)/3 = 0.745.
    assert "triangular (weight factor 1.203, sidewall factor 0.601)" in text
    assert "cradled (weight factor 1.412, sidewall factor 0.745)" in text
    assert "Used: cradled" in text
    assert of("arrangement", 3, 2.4 * d) == of("arrangement", 3, 3.2 * d) == []


def test_a_diamond_where_four_cables_do_not_lie_so_is_a_caution() -> None:
    assert of("arrangement", 4, 2.9 * d, arrangement="diamond") == []
    (finding,) = of("arrangement", 4, 3.2 * d, arrangement="diamond")
    assert finding.severity == "caution"
    # At D/d = 3 the top cable, on both outer ones, meets the bottom one (geometry): 3.0, and not
    # 1 + sqrt 8 = 3.83, where the outer two have spread far beyond that.
    assert (finding.demand, finding.limit) == pytest.approx((3.2, 3.0), rel=1e-9)
    assert of("arrangement", 4, 3.0 * d, arrangement="diamond") == []
    assert len(of("arrangement", 4, 3.001 * d, arrangement="diamond")) == 1
    assert "diamond" in render(finding.fix, "SI")


# --- several conduits --------------------------------------------------------------------------


def test_each_different_conduit_is_checked_once_under_its_name() -> None:
    small, large = conduit(0.1, name="small{"), conduit(0.15, name="large")
    found = [f for f in findings(3, large, small, large) if f.rule == "fill"]
    assert [f.where for f in found] == ["F1, conduit large", "F1, conduit small{"]
    assert [f.severity for f in found] == ["ok", "stop"]
    assert render(found[1].place, "SI") == "F1, conduit small{"


def test_a_doubtful_dimension_is_a_caution() -> None:
    doubtful = conduit(5.0 * INCH, doubtful=True, source="estimate")
    (finding,) = [f for f in findings(1, doubtful) if f.rule == "stock dimensions"]
    assert (finding.severity, finding.source) == ("caution", "estimate")
    assert [f for f in findings(1, conduit()) if f.rule == "stock dimensions"] == []


@pytest.mark.parametrize(("share", "severity"), [(1.001, "ok"), (1.0, "ok"), (0.999, "caution")])
def test_a_duct_is_half_as_wide_again_as_the_bundle_in_din_vde_practice(
    share: float, severity: str
) -> None:
    # Nexans Deutschland (READ): 1.5 x the bundle; three singles 2.155 D, so 3.23 D (the table)
    bore = 1.5 * (1 + 2 / 3**0.5) * 0.03 * share
    found = check_fit_of(bore, Practice(rules="CENELEC"))
    assert found["bore to bundle ratio"].severity == severity
    assert bore / share / 0.03 == pytest.approx(3.23, abs=0.005)
    assert "fill" not in found
    assert "bore to bundle ratio" not in check_fit_of(bore, Practice())
    assert not {"fill", "bore to bundle ratio"} & set(check_fit_of(bore, Practice(rules="none")))


@pytest.mark.parametrize(("share", "severity"), [(1.001, "ok"), (1.0, "ok"), (0.999, "caution")])
def test_unequal_cables_without_a_known_bundle_count_side_by_side(
    share: float, severity: str
) -> None:
    """20 and 30 mm side by side: 50 mm, and 1.5 times that in DIN VDE practice."""
    cables = [(jobs.cable(diameter=0.03), 1), (jobs.cable(diameter=0.02), 1)]
    run = jobs.straight_run(jobs.conduit(0.075 * share), cables)
    found = {f.rule: f for f in check_fit(run, Practice(rules="CENELEC"), run_fits(run))}
    assert found["bore to bundle ratio"].severity == severity
    assert found["bore to bundle ratio"].demand == pytest.approx(1.5 * share)


def check_fit_of(bore: float, practice: Practice) -> dict[str, Finding]:
    run = jobs.straight_run(jobs.conduit(bore=bore), [(jobs.cable(diameter=0.03), 3)])
    return {f.rule: f for f in check_fit(run, practice, run_fits(run))}


@pytest.mark.parametrize(
    ("share", "severity"), [(0.999, "ok"), (1.0, "ok"), (1.001, "caution")], ids=str
)
def test_a_space_factor_of_45_percent_in_bs_practice(share: float, severity: str) -> None:
    """IET On-Site Guide, outside its factor tables (READ, second-hand): conduit of 40 mm."""
    duct = jobs.stock("EN-STEEL", "40")
    diameter = duct.inner_diameter * (0.45 * share) ** 0.5
    run = jobs.straight_run(duct, jobs.cable(diameter=diameter))
    found = {f.rule: f for f in check_fit(run, BS, run_fits(run))}
    assert found["fill"].severity == severity
    assert found["fill"].limit == 0.45
    assert "IET On-Site Guide" in found["fill"].source


BS = Practice(rules="CENELEC", edition="BS")


@pytest.mark.parametrize(
    ("bore", "cores", "diameter", "severity"),
    [
        # BS 6622 makers' tables, one cable per duct (READ)
        (0.0999, 1, 0.05, "caution"),
        (0.1, 1, 0.05, "ok"),
        (0.1001, 1, 0.05, "ok"),
        (0.1, 3, 0.06, "ok"),
        (0.1, 3, 0.0601, "caution"),
        (0.1249, 3, 0.07, "caution"),
        (0.125, 3, 0.07, "ok"),
        (0.1251, 3, 0.07, "ok"),
    ],
)
def test_bore_of_a_duct_for_one_cable(
    bore: float, cores: int, diameter: float, severity: str
) -> None:
    given = jobs.cable(diameter=diameter, cores=cores, voltage=11e3, shielded=True)
    (finding,) = of_one_duct(jobs.conduit(bore), [(given, 1)], BS)
    assert (finding.rule, finding.severity) == ("minimum duct bore", severity)
    assert finding.limit == (0.125 if diameter > 0.06 else 0.1)
    assert "BS 6622" in finding.source
    assert not of_one_duct(jobs.conduit(0.2), [(given, 2)], BS)
    assert not of_one_duct(jobs.conduit(bore), [(given, 1)], Practice(rules="CENELEC"))


@pytest.mark.parametrize(
    ("cores", "area", "volts", "asked"),
    [
        (1, 50e-6, 11e3, True),
        (1, 49e-6, 11e3, False),
        (1, 630e-6, 11e3, True),
        (1, 631e-6, 11e3, False),
        (2, 240e-6, 11e3, False),
        (1, 240e-6, 1000.0, False),
        (1, 240e-6, 1001.0, True),
        (1, 240e-6, 36e3, True),
        (1, 240e-6, 36.1e3, False),
        (1, 240e-6, None, False),
    ],
)
def test_the_table_of_one_cable_in_a_duct_has_its_bounds(
    cores: int, area: float, volts: float | None, asked: bool
) -> None:
    given = jobs.cable(cores=cores, area=area, voltage=volts, shielded=True)
    assert bool(of_one_duct(jobs.conduit(), [(given, 1)], BS)) is asked


@pytest.mark.parametrize(
    ("cables", "cautioned"),
    [
        ([(jobs.cable(diameter=0.01), 1)], True),
        ([(jobs.cable(diameter=0.01), 2)], False),
        ([(jobs.cable(diameter=0.01, cores=3), 1)], False),
    ],
)
def test_a_single_core_alone_in_steel_is_a_caution_in_din_vde_practice(
    cables: list[tuple[Cable, int]], cautioned: bool
) -> None:
    # Nexans Deutschland (READ): all cables of the a.c. system in one steel pipe
    steel, vde = jobs.stock("EN-STEEL", "40"), Practice(rules="CENELEC")
    found = of_one_duct(steel, cables, vde)
    assert [(f.rule, f.severity) for f in found] == [
        ("single core in steel conduit", "caution")
    ] * cautioned
    assert not of_one_duct(jobs.stock("EN-PVC-MEDIUM", "40"), cables, vde)
    assert not of_one_duct(steel, cables, Practice(rules="none"))


def of_one_duct(
    duct: Conduit, cables: list[tuple[Cable, int]], practice: Practice
) -> list[Finding]:
    run = jobs.straight_run(duct, cables)
    named = ("minimum duct bore", "single core in steel conduit")
    return [f for f in check_fit(run, practice, run_fits(run)) if f.rule in named]


@pytest.mark.parametrize(
    ("sharing", "share"), [("worse of both", "80%"), ("conductor area", "80%"), ("equal", "50%")]
)
def test_the_share_of_unequal_cables_is_that_of_the_practice(sharing: str, share: str) -> None:
    """480 mm2 beside 120 mm2: four fifths by area, a half each."""
    cables = [(cable("large", area=480e-6), 1), (cable("small", area=120e-6, main=True), 1)]
    run = jobs.run(lay(at((0, 0, 0)), at((9, 0, 0)), conduits=conduit()), cables)
    found = check_fit(run, Practice(tension_sharing=sharing), run_fits(run))
    (note,) = (f for f in found if f.rule == "unequal cables")
    assert f"at most {share} each" in render(note.fix, "SI")


# --- unequal cables ----------------------------------------------------------------------------


def unequal(*cables: tuple[Cable, int]) -> list[Finding]:
    wide = jobs.straight_run(conduit(0.2), list(cables))
    found = check_fit(wide, PRACTICE, run_fits(wide))
    return [f for f in found if f.rule == "unequal cables"]


def test_unequal_main_cables_are_named_with_the_largest_share() -> None:
    """240 and 160 mm2: by area the larger carries 240/400 of the pull, more than its half."""
    large, small = cable("large"), cable("small{", area=160e-6)
    like = replace(large, name="like")
    (finding,) = unequal((large, 1), (small, 1))
    said = render(finding.fix, "SI")
    assert finding.severity == "note" and finding.where == "F1"
    assert "1 x large, 1 x small{, at most 60% each" in said
    assert "Riding along" not in said
    assert unequal((large, 2)) == unequal((large, 1), (like, 1)) == []


def test_a_riding_cable_is_named_with_what_it_carries() -> None:
    """16 mm2 beside 240 rides along: of 25 + 1 N/m of the set its own weight is 1/26."""
    earth = cable("earth", diameter=0.01, weight=1.0, area=16e-6)
    (finding,) = unequal((cable(), 1), (earth, 1))
    said = render(finding.fix, "SI")
    assert "1 x phase, at most 100% each" in said
    assert "Riding cables: 1 x earth (3.8% of the pull, weight)" in said


@pytest.mark.parametrize("share", [1.001, 0.999])
def test_the_bundle_of_unequal_cables_is_the_circle_round_them(share: float) -> None:
    """Two cables of 40 and 20 mm touch in a circle of 60 mm, and 1.5 times that is 90 mm."""
    pair = [(cable("large"), 1), (cable("small", diameter=0.02, area=160e-6), 1)]
    wide = jobs.straight_run(conduit(0.09 * share), pair)
    practice = Practice(rules="CENELEC")
    found = {f.rule: f for f in check_fit(wide, practice, run_fits(wide))}
    room = found["bore to bundle ratio"]
    assert room.demand == pytest.approx(1.5 * share, rel=1e-6)
    assert room.severity == ("ok" if share > 1 else "caution")
