"""What national practice asks of building conduit between pull points, at its limits."""

from __future__ import annotations

import pytest

from route3d.checks.finding import Finding
from route3d.checks.run import check_run
from route3d.checks.sections import check_sections, sections
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits
from route3d.model import Conduit, Practice, Route, Run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import along, at, cable, lay, stock
from tests.support.routes import Go, Turn, vertices

BS, VDE, CEI = (Practice(rules="CENELEC", edition=e) for e in ("BS", "DIN VDE", "CEI"))
SINGLE = cable("single", diameter=4e-3, weight=0.35, area=2.5e-6, voltage=450.0)
# 3.8 m, a right angle of 0.2 m, 3.8 m: 7.91 m
BENT = vertices([Go(3.8), Turn(90, 0.2), Go(3.8)])


def straight(length: float, duct: Conduit) -> Route:
    return along(([[0, 0, 0], [length, 0, 0]], [0, 0]), duct)


def found(route: Route, count: int = 1, practice: Practice = BS) -> dict[str, Finding]:
    run = jobs.run(route, [(SINGLE, count)])
    return {f.rule: f for f in check_sections(run, practice, route_path(route))}


@pytest.mark.parametrize(
    ("practice", "length", "severity"),
    [
        # IET guidance, about 10 m (from memory)
        (BS, 9.99, "ok"),
        (BS, 10.0, "ok"),
        (BS, 10.01, "caution"),
        # DIN 18015 practice, about 15 m (from memory, low confidence): a note at most
        (VDE, 14.99, "ok"),
        (VDE, 15.0, "ok"),
        (VDE, 15.01, "note"),
    ],
)
def test_length_between_pull_points(practice: Practice, length: float, severity: str) -> None:
    finding = found(straight(length, stock("EN-STEEL", "20")), practice=practice)[
        "length between pull points"
    ]
    assert finding.severity == severity
    assert finding.demand == pytest.approx(length)
    assert finding.where == "A to B"
    assert "from memory" in finding.source
    assert render(finding.fix, "SI") == "add a pull point between them"


@pytest.mark.parametrize(
    ("size", "count", "severity", "factor"),
    [
        # 8 m and one bend, 2.5 mm2 counts 30: 16 mm 130, 20 mm 213, 32 mm 692 (IET On-Site Guide)
        ("16", 4, "ok", 130),
        ("16", 5, "caution", 130),
        ("20", 7, "ok", 213),
        ("20", 8, "caution", 213),
        ("32", 23, "ok", 692),
        ("32", 24, "caution", 692),
    ],
)
def test_cable_factors_against_the_conduit_factor(
    size: str, count: int, severity: str, factor: float
) -> None:
    finding = found(along(BENT, stock("EN-PVC-MEDIUM", size)), count)["conduit factor"]
    assert (finding.severity, finding.limit) == (severity, factor)
    assert finding.demand == 30 * count
    assert "IET On-Site Guide" in finding.source and f"{size} mm" in finding.source
    assert finding.where == f"A to B, conduit {size}"
    assert "Basis: 7.91 m between pull points, 1 right-angle bend, " in render(finding.fix, "SI")


def test_cable_factors_may_add_up_to_the_conduit_factor() -> None:
    """217 + 5 x 145 + 2 x 43 + 2 x 16 = 1060: nothing of the table adds up to 290 but 5 x 58."""
    four = cable("four", diameter=4.8e-3, area=4e-6)
    route = straight(3.0, stock("EN-STEEL", "16"))
    run = jobs.run(route, [(four, 5)])
    (length, factor) = check_sections(run, BS, route_path(route))
    assert (factor.demand, factor.limit, factor.severity) == (290, 290, "ok")
    assert length.severity == "ok"


def test_beyond_the_table_it_is_a_note_that_asks_for_a_pull_point() -> None:
    finding = found(straight(12.0, stock("EN-STEEL", "20")), 3)["conduit factor"]
    assert finding.severity == "note" and finding.demand == 90
    words = "no conduit factor published for 12.00 m and 0 right-angle bends: add a pull point"
    assert render(finding.fix, "SI") == words


def test_each_stretch_and_each_conduit_of_it_is_judged() -> None:
    small, large = stock("EN-STEEL", "16"), stock("EN-STEEL", "20")
    route = lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        at((2, 0, 0)),
        at((4, 0, 0), name="box", ends="machine"),
        at((9, 0, 0), name="B", ends="reel machine"),
        conduits=(small, large, small),
    )
    run = jobs.run(route, [(SINGLE, 6)])
    path = route_path(route)
    lengths = [(s.where, s.length, s.turn) for s in sections(run, path)]
    assert lengths == [("A to box", pytest.approx(4), 0), ("box to B", pytest.approx(5), 0)]
    factors = [f for f in check_sections(run, BS, path) if f.rule == "conduit factor"]
    # 4 m straight: 177 and 286; 5 m: 171
    assert [(f.where, f.limit, f.severity) for f in factors] == [
        ("A to box, conduit 16", 177, "caution"),
        ("A to box, conduit 20", 286, "ok"),
        ("box to B, conduit 16", 171, "caution"),
    ]


NEW = {
    "length between pull points",
    "conduit factor",
    "minimum duct bore",
    "single core in steel conduit",
}


def rules_of(run: Run, practice: Practice) -> set[str]:
    return {f.rule for f in check_run(run, practice, route_path(run.route), run_fits(run))}


@pytest.mark.parametrize("practice", [Practice(), Practice(rules="none")])
def test_nothing_of_this_is_asked_without_cenelec(practice: Practice) -> None:
    run = jobs.run(along(BENT, stock("EN-STEEL", "20")), SINGLE)
    assert not (NEW | {"duct bend radius"}) & rules_of(run, practice)
    assert NEW & rules_of(run, BS)


@pytest.mark.parametrize("practice", [BS, VDE])
def test_a_bank_of_160_mm_ducts_is_outside_all_of_it(practice: Practice) -> None:
    run = jobs.run(straight(120.0, stock("EN-BURIED", "160")), [(cable(), 3)])
    assert not (NEW | {"fill", "duct bend radius"}) & rules_of(run, practice)
