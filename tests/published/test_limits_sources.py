"""Printed examples through the whole job: a Run is built, solved, checked and decided.

- W1, W3: CommScope ConQuest Conduit manual pp. 44, 68-71 (READ).
- W2: Transmission Engineering Standard TES-P-104.05 Rev 0, 18 Feb 2007, pp. 8-12 (READ).
- EC&M, "Simple Calculations for Cable Pulling", 1 Nov 2001 (PARTIAL READ; sidewall: a fragment).
- UFC 3-535-01, 17 Nov 2005, section 12-4 p.178 and Table 12-4 (READ).

Block names are those of the project's reference notes.
"""

from __future__ import annotations

import math

import pytest

from route3d.checks.limits import conductor_limit, utilization
from route3d.geometry.path import ARC
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import Practice, Run
from route3d.planning.result import evaluate_run
from route3d.standards.conductors import conductor_area
from tests.support import jobs
from tests.support.jobs import (
    FOOT,
    INCH,
    LBF,
    LBF_PER_FT,
    along,
    at,
    by_rule,
    cable,
    conduit,
    lay,
    stock,
    straight_run,
)
from tests.support.published import printed
from tests.support.routes import Go, Turn, vertices

pytestmark = pytest.mark.source("CommScope ConQuest Conduit manual (read)")


def at_joints(pull: Pull, unit: float) -> list[float]:
    """Tension at the end of every segment, in pulling order."""
    stations = pull.path.stations[::-1] if pull.reverse else pull.path.stations
    profile = pull.profile
    return [
        float(profile.tension[abs(profile.station - s) < 1e-9][-1]) / unit for s in stations[1:]
    ]


def sidewalls(pull: Pull, unit: float) -> list[float]:
    """Largest sidewall pressure of every bend, along the route."""
    profile = pull.profile
    bends = [i for i in range(len(pull.path)) if pull.path.kind[i] == ARC]
    return [float(profile.sidewall[profile.segment == i].max()) / unit for i in bends]


# --- W1: one cable, three bends, both ways ------------------------------------------------------

# Both publications work sidewall pressure on the bend radius, that is on the centerline.
CONQUEST = Practice(bend_form="capstan", sidewall_radius="centerline")
COAX = cable("QR715", 0.715 * INCH, 0.144 * LBF_PER_FT, max_tension=340 * LBF, sidewall_limit=1e5)
COAX_DUCT = conduit(1.5 * INCH, friction=0.5)


def coax(*pieces: Go | Turn) -> Run:
    feet = [
        Go(p.length * FOOT) if isinstance(p, Go) else Turn(p.degrees, p.radius * FOOT, p.side)
        for p in pieces
    ]
    return jobs.run(along(vertices(feet), COAX_DUCT, first="A", last="H"), COAX)


W1 = coax(
    *(Go(100), Turn(45, 10), Go(80), Turn(90, 10, "right")),
    *(Go(75), Turn(45, 10), Go(70)),
)  # fmt: skip
# Printed, every step rounded to whole pounds and multipliers to two decimals:
W1_PRINTED = {False: [7, 10, 16, 35, 40, 59, 64], True: [5, 7, 12, 26, 32, 47, 54]}
# Without that rounding (COMPUTED, plain arithmetic of the same formulas):
W1_EXACT = {
    False: [7.20, 10.66, 16.42, 36.02, 41.42, 61.34, 66.38],
    True: [5.04, 7.46, 12.86, 28.21, 33.97, 50.32, 57.52],
}
HUNDREDTH = 0.005001  # half of the last figure noted
W1_ABOVE = {
    False: [0.20, 0.66, 0.42, 1.02, 1.42, 2.34, 2.38],
    True: [0.04, 0.46, 0.86, 2.21, 1.97, 3.32, 3.52],
}


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.clause("pp. 44 and 71")
def test_w1_conquest_pp_44_and_71(reverse: bool) -> None:
    pull = solve_pull(W1, CONQUEST, reverse=reverse)
    ours = at_joints(pull, LBF)
    assert ours == pytest.approx(W1_EXACT[reverse], abs=HUNDREDTH)
    assert ours == printed(W1_PRINTED[reverse], rel=0.09)
    # Ours above the print, lb: it rounds each step to whole pounds, mostly down, and carries that
    # on: 66.38 against 64 forward (3.7 %), 57.52 against 54 in reverse (6.5 %).
    above = [value - figure for value, figure in zip(ours, W1_PRINTED[reverse], strict=True)]
    assert above == pytest.approx(W1_ABOVE[reverse], abs=HUNDREDTH)


@pytest.mark.clause("pp. 69 and 71")
def test_w1_printed_values_follow_from_ours_by_the_rounding_of_the_book() -> None:
    # Each step of ours, taken from the printed start of that step, gives the printed end.
    multiplier = {45: 1.48, 90: 2.19}  # p.69, two decimals
    for reverse in (False, True):
        figure, start = W1_PRINTED[reverse], 0.0
        legs = [100, 45, 80, 90, 75, 45, 70]
        for leg, end in zip(legs[::-1] if reverse else legs, figure, strict=True):
            step = start * multiplier[leg] if leg in multiplier else start + leg * 0.144 * 0.5
            assert step == printed(end, abs=0.7, what=f"{leg}")  # rounded, or cut short
            start = end


@pytest.mark.clause("p. 71, sidewall")
def test_w1_sidewall_pressure() -> None:
    # Printed forward B-C 1.0, D-E 3.5, F-G 5.9 lb/ft: the printed tensions over 10 ft.
    ours = sidewalls(solve_pull(W1, CONQUEST), LBF_PER_FT)
    assert ours == pytest.approx([1.066, 3.602, 6.134], abs=HUNDREDTH)
    assert ours == printed([1.0, 3.5, 5.9], rel=0.07)
    # Printed reverse 0.7, 2.6, 4.7, labeled B-C, D-E, F-G: a misprint, the order is that pulled.
    back = sidewalls(solve_pull(W1, CONQUEST, reverse=True), LBF_PER_FT)
    assert back[::-1] == printed([0.7, 2.6, 4.7], rel=0.09)


@pytest.mark.clause("p. 44, conclusion")
def test_w1_the_reverse_pull_is_the_easier_and_is_chosen() -> None:
    # p.44: 64 lb forward, 54 lb reverse: feed from H. The cable limit is 340 lb.
    result = evaluate_run(W1, CONQUEST)
    assert result.decision.choice is not None
    assert result.decision.choice.pull.feed_name == printed("H", what="feed from")
    assert not result.stops
    assert utilization(result.decision.choice.pull).conductor == pytest.approx(
        57.52 / 340, abs=1e-4
    )


# --- W3 and the longest straight pull -----------------------------------------------------------


@pytest.mark.clause("pp. 68-69")
def test_w3_conquest_pp_68_69() -> None:
    # Printed 36 and 79 lb (multiplier 2.192); exact 36.0 and 78.958.
    pull = solve_pull(coax(Go(500), Turn(90, 10), Go(0.01)), CONQUEST)
    straight, bend, _ = at_joints(pull, LBF)
    assert straight == printed(36.0, abs=1e-9)
    assert bend == pytest.approx(78.958, abs=0.0005)


@pytest.mark.parametrize(("feet", "severity"), [(4722, "caution"), (4723, "stop")])
@pytest.mark.clause("p. 68")
def test_longest_straight_pull_of_340_lb_is_4722_ft(feet: float, severity: str) -> None:
    # p.68: Lm = Tm / (w f), printed 4722; exact 4722.22.
    finding = by_rule(evaluate_run(coax(Go(feet)), CONQUEST))["conductor tension"]
    assert finding.severity == severity
    assert feet / finding.ratio == printed(4722, abs=0.5)


# --- W2: three 240 mm2 cables, both ways --------------------------------------------------------

TES = Practice(
    bend_form="capstan",
    weight_factor_in="straights",
    sidewall="group",
    sidewall_radius="centerline",
    jam_ratio="D/d",
)
TES_CABLE = cable(
    "240 mm2", 0.0413, 9.8 * 3.15 * 1.01, area=240e-6, max_stress=70.216e6, sidewall_limit=4371.0
)
TES_ROUTE = along(
    vertices([Go(60), Turn(45, 3.0), Go(20), Turn(90, 3.0), Go(30)]),
    conduit(0.154, friction=0.5),
    first="A",
    last="F",
)
W2 = jobs.run(TES_ROUTE, [(TES_CABLE, 3)], arrangement="triangular")
# Printed with OF rounded to 1.07 and multipliers to 1.48 and 2.19; reverse with the slip of p.10
# put right: 4287 x 1.48 = 6344.8, printed 6244 and carried on (end printed 9246).
W2_PRINTED = {False: [3002, 4442, 5442, 11917, 13418], True: [1501, 3287, 4287, 6345, 9347]}
# With OF 1.0748 and exact exponentials (COMPUTED).
W2_EXACT = {
    False: [3015.9, 4466.4, 5471.7, 12001.1, 13509.0],
    True: [1507.9, 3307.3, 4312.6, 6386.9, 9402.8],
}
# OF is noted to four decimals; the exact one is 1.07478.
FOUR_DECIMALS_OF_OF = 3e-5


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10")
def test_w2_tes_p_10(reverse: bool) -> None:
    pull = solve_pull(W2, TES, reverse=reverse)
    assert pull.fits[0].weight_factor == pytest.approx(1.0748, abs=0.00005)
    assert at_joints(pull, 1.0) == pytest.approx(
        W2_EXACT[reverse], rel=FOUR_DECIMALS_OF_OF, abs=0.1
    )
    # The print is lower by its OF of 1.07 and its rounded multipliers: 0.7 % at the end.
    assert at_joints(pull, 1.0) == printed(W2_PRINTED[reverse], rel=0.008)


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10, sidewall")
def test_w2_sidewall_of_the_whole_group() -> None:
    # Printed 1.48 and 3.97 kN/m against 4.371: ours 1.489 and 4.000 from the unrounded tensions.
    ours = sidewalls(solve_pull(W2, TES), 1000.0)
    assert ours == pytest.approx([4466.4 / 3000, 12001.1 / 3000], abs=0.0005)
    assert ours == printed([1.48, 3.97], rel=0.01)


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10, conductor limit")
def test_w2_conductor_limit() -> None:
    # 70.216 x 240 x 3, printed 50555; exact 50,555.5.
    assert conductor_limit(W2, TES).value == printed(50_555, abs=1)


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10, conclusion")
def test_w2_conclusion_the_reverse_is_easier() -> None:
    result = evaluate_run(W2, TES)
    assert result.decision.choice is not None
    assert result.decision.choice.pull.feed_name == printed("F", what="feed from")
    assert result.candidates[0].passes  # forward is within its limits too, as printed


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.12, jam ratio and clearance")
def test_w2_jam_and_clearance() -> None:
    # p.12: D/d = 15.4/4.13 = 3.73 > 3.0, "cannot jam"; clearance at least 6 mm.
    findings = by_rule(evaluate_run(W2, TES))
    assert findings["jam ratio"].severity == "ok"
    assert findings["jam ratio"].demand == printed(3.729, abs=0.0005)
    # C = D/2 - 1.366 d + ((D-d)/2) sqrt(1 - x²), p.12, by plain arithmetic, cm.
    x = 4.13 / (15.4 - 4.13)
    printed_form = 7.7 - 1.366 * 4.13 + 5.635 * math.sqrt(1 - x * x)
    # 1.366 stands for (1 + sqrt 3)/2 = 1.36603: 0.0001 cm here.
    assert findings["clearance"].demand * 100 == printed(printed_form, abs=2e-4)
    assert findings["clearance"].severity == "ok"


@pytest.mark.source("TES-P-104.05 Rev 0 (2007) (read)")
@pytest.mark.clause("p.10, occupancy factor")
def test_w2_left_to_auto_lies_cradled_and_pulls_harder() -> None:
    # TES takes the triangular factor at D/d = 3.73; the bands of practice (from memory) say
    # cradled above 3.0: 1.1791 against 1.0748. Both are answers; ours is the higher.
    pull = solve_pull(jobs.run(TES_ROUTE, [(TES_CABLE, 3)]), TES)
    assert pull.fits[0].arrangement == "cradled"
    assert pull.fits[0].weight_factor == pytest.approx(1 + 4 / 3 * (4.13 / 11.27) ** 2)
    assert pull.fits[0].weight_factor == printed(1.07, rel=0.103)  # ours the larger by 10.2 %
    assert pull.end_tension > solve_pull(W2, TES).end_tension


# --- EC&M 2001 ----------------------------------------------------------------------------------


XLPE_500 = cable("500 kcmil", 1.60 * INCH, 2.2 * LBF_PER_FT, area=253.35e-6)


@pytest.mark.source("EC&M, Simple Calculations for Cable Pulling, Nov 2001 (read in part)")
@pytest.mark.clause("cable area and fill")
def test_p1_fit_in_galvanised_rigid_conduit() -> None:
    # Printed cable area 6.03 in2 (with 0.785 for pi/4; exact 6.0319) and 40 % fill.
    assert 3 * math.pi / 4 * 1.60**2 == printed(6.03, abs=0.005)
    findings = by_rule(evaluate_run(straight_run(stock("RMC", "5"), [(XLPE_500, 3)]), Practice()))
    # COMPUTED in the notes for the bore 5.073 in: fill 0.2984, 1.05 D/d 3.3292.
    assert findings["fill"].demand == pytest.approx(0.2984, abs=0.00005)
    assert findings["fill"].limit == printed(0.40)
    assert findings["fill"].severity == "ok"
    assert findings["jam ratio"].demand == pytest.approx(3.3292, abs=0.0001)
    assert findings["jam ratio"].severity == "ok"


@pytest.mark.source("EC&M, Simple Calculations for Cable Pulling, Nov 2001 (read in part)")
@pytest.mark.clause("40 % fill")
def test_p1_five_inch_is_the_first_to_pass_40_percent() -> None:
    verdicts = {}
    for trade in ("3-1/2", "4", "5", "6"):
        run = straight_run(stock("RMC", trade), [(XLPE_500, 3)])
        verdicts[trade] = by_rule(evaluate_run(run, Practice()))["fill"]
    passing = [trade for trade, finding in verdicts.items() if finding.severity != "stop"]
    assert passing == printed(["5", "6"])


@pytest.mark.source("NFPA 70 and TES-P-104.05 (read)")
@pytest.mark.clause("jam ratio")
def test_p1_the_two_jam_readings_disagree_there() -> None:
    # D/d 3.17: the note to NFPA 70 Chapter 9 Table 1 warns up to 3.2, TES says it cannot jam
    # above 3.0, and 1.05 D/d = 3.33 is "very small" (from memory).
    run = straight_run(stock("RMC", "5"), [(XLPE_500, 3)])
    plain, widened = (
        by_rule(evaluate_run(run, Practice(jam_ratio=reading)))["jam ratio"]
        for reading in ("D/d", "1.05 D/d")
    )
    assert (plain.severity, widened.severity) == ("caution", "ok")
    assert plain.demand < 3.2 and plain.demand == printed(3.17, abs=0.005)
    assert widened.demand > 3.2 and widened.demand == printed(3.33, abs=0.005)


@pytest.mark.parametrize(("feet", "severity"), [(3.0, "caution"), (2.99, "stop"), (3.4, "ok")])
@pytest.mark.source("EC&M, Simple Calculations for Cable Pulling, Nov 2001 (read in part)")
@pytest.mark.clause("1,200 lb/ft")
def test_ecm_1200_lb_per_ft_wants_a_radius_of_3_ft_at_3600_lb(feet: float, severity: str) -> None:
    # "3 x 600 V XLPE: 1,200 lb/ft, so T = 3,600 lb needs R = 3 ft": the group's tension over R.
    limited = cable(diameter=1.2 * INCH, sidewall_limit=1200 * LBF_PER_FT)
    shape = vertices([Go(10), Turn(90, feet * FOOT), Go(10)])
    route = along(shape, conduit(4 * INCH, friction=0.0))
    run = jobs.run(route, [(limited, 3)], reel_tension=3600 * LBF)
    practice = Practice(sidewall="group", sidewall_radius="centerline")
    findings = by_rule(evaluate_run(run, practice))
    assert findings["sidewall pressure"].severity == severity
    assert findings["sidewall pressure"].ratio * feet == printed(3.0, rel=1e-9)


# --- UFC 3-535-01 -------------------------------------------------------------------------------

# Table 12-4 p.178, lb, singles of copper: number, size, printed.
UFC_12_4 = [(2, "6 AWG", 420), (3, "6 AWG", 630)]


@pytest.mark.parametrize(("n", "size", "figure"), UFC_12_4)
@pytest.mark.source("UFC 3-535-01 (2005) (read)")
@pytest.mark.clause("Table 12-4 p.178")
def test_ufc_table_12_4_that_0_008_lb_per_cmil_gives(n: int, size: str, figure: float) -> None:
    core = cable(diameter=0.01, area=conductor_area(size).value)
    ours = conductor_limit(straight_run(conduit(), [(core, n)]), Practice()).value / LBF
    assert ours == printed(figure, abs=1)  # printed to 5 lb; 26,240 x 0.008 = 209.9 each


@pytest.mark.source("UFC 3-535-01 (2005) (read)")
@pytest.mark.clause("Table 12-4 p.178")
def test_ufc_table_12_4_where_it_differs() -> None:
    def ours(n: int, size: str) -> float:
        core = cable(diameter=0.01, area=conductor_area(size).value)
        return conductor_limit(straight_run(conduit(), [(core, n)]), Practice()).value / LBF

    # Printed 840 for four No. 6: the plain sum. Southwire (READ) counts 0.8 of it above three.
    assert ours(4, "6 AWG") / 0.8 == printed(840, abs=0.5, what="four No. 6, before 0.8")
    # Printed 275 for two No. 8, 0.00833 lb/cmil; and 367 for three, 2/3 of the 550 for four.
    assert ours(2, "8 AWG") == pytest.approx(264.2, abs=0.5)
    assert ours(2, "8 AWG") == printed(275, rel=0.04, what="two No. 8")
    two_of_three = Practice(strength_count="two of three")
    three = straight_run(conduit(), [(cable(diameter=0.01, area=conductor_area("8 AWG").value), 3)])
    assert conductor_limit(three, two_of_three).value / LBF == pytest.approx(264.2, abs=0.5)


@pytest.mark.parametrize(
    ("count", "friction", "length", "share"),
    # 9,000 N against 25 N/m each: 1,200 m of one cable at K = 0.3, 900 m of several at 0.4.
    [(1, 0.3, 1200.0, 1.0), (3, 0.4, 900.0, 1.04408)],
)
@pytest.mark.source("UFC 3-535-01 (2005) (read)")
@pytest.mark.clause("12-4 p.178")
def test_ufc_longest_straight_pull(
    count: int, friction: float, length: float, share: float
) -> None:
    # Prints L = T x K W, a misprint: dimensions ask for L = T/(K W). K 0.3 single, 0.4 multiple.
    # It knows no weight correction: three cables of 20 mm in a bore of 130 mm are at their limit by
    # it, and 4.4 % beyond it by ours, the cradled factor 1 + 4/3 (20/110)^2 = 1.04408.
    one = cable(diameter=0.02, weight=25.0, max_tension=9000.0)
    ends = at((0, 0, 0), ends=jobs.BOTH), at((length, 0, 0), ends=jobs.BOTH)
    duct = conduit(0.13, friction=friction)
    run = jobs.run(lay(*ends, conduits=duct), [(one, count)], reel_tension=0.0)
    found = utilization(solve_pull(run, Practice())).conductor
    assert found == pytest.approx(share, abs=5.1e-6)
    assert length / found == printed(length, rel=0.043, what="m, by its formula")


# --- Germany ------------------------------------------------------------------------------------


@pytest.mark.source("VDE 0298-3, by a maker's article (read)")
@pytest.mark.clause("pulling force")
def test_vde_0298_3_four_cores_of_2_5_mm2() -> None:
    # Read: 50 N/mm2, 4 x 2.5 mm2 -> 500 N. It knows no 0.8 for four conductors, so it comes out
    # where the tension is given, and as 400 N where the stress is.
    given = cable(diameter=0.01, area=2.5e-6, cores=4, max_tension=500.0)
    stress = cable(diameter=0.01, area=2.5e-6, cores=4, max_stress=50e6)
    assert conductor_limit(straight_run(conduit(), given), Practice()).value == printed(500)
    assert conductor_limit(straight_run(conduit(), stress), Practice()).value == pytest.approx(400)
