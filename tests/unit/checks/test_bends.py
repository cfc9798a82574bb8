from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.checks.bends import check_bends
from route3d.checks.finding import Finding
from route3d.geometry.fillet import route_path
from route3d.model import Conduit, Practice, Route
from route3d.planning.shop import shop_sheet
from route3d.report.bends import section_verdict
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, vertices

PRACTICE = Practice()


def bends(route: Route, practice: Practice = PRACTICE, cables: object = None) -> list[Finding]:
    run = jobs.run(route, cables)  # type: ignore[arg-type]
    return list(check_bends(run, practice, route_path(route)))


def one_bend(radius: float, duct: Conduit | None = None, **more: object) -> list[Finding]:
    shape = vertices([Go(10), Turn(90, radius), Go(10)])
    return bends(along(shape, duct or conduit()), **more)  # type: ignore[arg-type]


# --- the cable's own radius --------------------------------------------------------------------


@pytest.mark.parametrize(("radius", "severity"), [(0.48, "ok"), (0.479, "stop"), (0.6, "ok")])
def test_cable_radius_on_the_centerline_where_its_source_measures_so(
    radius: float, severity: str
) -> None:
    finding, _ = one_bend(radius)  # 12 x 40 mm = 480 mm
    assert (finding.rule, finding.severity) == ("cable bend radius", severity)
    assert finding.limit == pytest.approx(0.48)
    assert finding.ratio == pytest.approx(0.48 / radius)


@pytest.mark.parametrize("practice", [Practice(), Practice(sidewall_radius="centerline")])
def test_cable_radius_counts_from_the_inner_wall(practice: Practice) -> None:
    def bend(radius: float) -> Finding:
        return one_bend(radius, practice=practice, cables=cable(bend_to="inside"))[0]

    inset = 0.13 / 2  # half of the bore
    short = bend(0.5)
    assert (short.severity, short.demand) == ("stop", pytest.approx(0.5 - inset))
    ((radius, _),) = short.fix.values
    assert radius == pytest.approx(0.48 + inset)
    assert (bend(radius).severity, bend(0.999 * radius).severity) == ("ok", "stop")


def test_the_stiffest_cable_of_the_set_rules_not_the_largest() -> None:
    stiff = cable("armoured", diameter=0.03, bend_multiple=20.0)
    finding, _ = one_bend(0.55, cables=[(cable(), 2), (stiff, 1)])
    assert finding.limit == pytest.approx(0.6)
    assert "armoured" in finding.source
    assert finding.severity == "stop"


def test_bends_are_named_and_placed_at_their_start() -> None:
    shape = vertices([Go(10), Turn(90, 1.0), Go(10), Turn(45, 1.0), Go(5)])
    route = along(shape, conduit())
    named = tuple(replace(v, name="V{2}") if i == 2 else v for i, v in enumerate(route.vertices))
    first, second, _ = bends(Route(named, route.conduits))
    assert (first.where, second.where) == ("bend 1", "bend 2 at V{2}")
    assert first.station == pytest.approx(10.0)
    assert second.station == pytest.approx(20.0 + math.pi / 2)
    assert render(second.place, "SI") == "bend 2 at V{2}"


# --- the conduit's radius ----------------------------------------------------------------------

STOCK = {
    "min_bend_radius": 0.6,
    "min_bend_source": "field",
    "elbow_radius": 0.4,
    "elbow_source": "factory elbow",
}


@pytest.mark.parametrize(
    ("radius", "severity", "source"),
    [
        (0.60, "ok", "field"),
        (0.599, "caution", "field"),
        (0.405, "note", "factory elbow"),
        (0.40, "note", "factory elbow"),
        (0.399, "stop", "field"),
    ],
)
def test_conduit_radius_between_elbow_and_field_bend(
    radius: float, severity: str, source: str
) -> None:
    """A standard elbow is one of the tables; between the two it takes a one-shot bender."""
    thin = cable(diameter=0.02)
    _, finding, _ = one_bend(radius, conduit(**STOCK), cables=thin)
    assert (finding.rule, finding.severity, finding.source) == (
        "conduit bend radius",
        severity,
        source,
    )


def test_a_standard_elbow_taken_by_itself_is_no_news() -> None:
    route = along(vertices([Go(10), Turn(90, 0.4), Go(10)]), conduit(**STOCK))
    taken = tuple(replace(v, bend_source="standard elbow") for v in route.vertices)
    _, finding, _ = bends(Route(taken, route.conduits), cables=cable(diameter=0.02))
    assert finding.severity == "ok"


def test_conduit_radius_fix_works() -> None:
    """A standard elbow, or a field bend: whichever the detailer takes passes."""
    _, finding, _ = one_bend(0.3, conduit(**STOCK), cables=cable(diameter=0.02))
    radii = [radius for radius, _ in finding.fix.values]
    assert finding.severity == "stop" and radii == [STOCK["elbow_radius"], STOCK["min_bend_radius"]]
    for radius, severity in zip(radii, ("note", "ok"), strict=True):
        _, again, _ = one_bend(radius, conduit(**STOCK), cables=cable(diameter=0.02))
        assert again.severity == severity


def test_where_only_an_elbow_fits_only_the_elbow_is_proposed() -> None:
    """Straights of 0.2 m beside an arc of 0.3 m leave 0.5 m; a field bend takes 0.6 m."""
    shape = vertices([Go(0.2), Turn(90, 0.3), Go(0.2)])
    _, finding, *_ = bends(along(shape, conduit(**STOCK)), cables=cable(diameter=0.02))
    assert render(finding.fix, "SI") == "use a standard elbow, radius 0.4 m"
    tight = vertices([Go(0.05), Turn(90, 0.3), Go(0.05)])
    _, finding, *_ = bends(along(tight, conduit(**STOCK)), cables=cable(diameter=0.02))
    assert "this one requires 0.4 m on the centerline" in render(finding.fix, "SI")


def test_without_an_elbow_in_the_tables_the_field_bend_rules() -> None:
    _, finding, _ = one_bend(0.5, conduit(min_bend_radius=0.6), cables=cable(diameter=0.02))
    assert finding.severity == "stop"


def test_conduits_of_plain_dimensions_have_no_radius_of_their_own() -> None:
    assert [f.rule for f in one_bend(0.5)] == ["cable bend radius", "degrees between pull points"]


def test_a_bend_lies_in_the_conduit_that_starts_at_its_vertex() -> None:
    shape = vertices([Go(10), Turn(90, 0.5), Go(10)])
    before, after = conduit(name="a", min_bend_radius=0.2), conduit(name="b", min_bend_radius=0.7)
    _, finding, _ = bends(along(shape, [before, after]))
    assert (finding.limit, finding.severity) == (0.7, "stop")


# --- degrees between pull points ---------------------------------------------------------------


def quarter_turns(n: int, extra: float = 0.0) -> Route:
    pieces: list[Go | Turn] = [Go(10)]
    for i in range(n):
        pieces += [Turn(90, 1.0, "left" if i % 2 else "right"), Go(10)]
    if extra:
        pieces += [Turn(extra, 1.0, "left"), Go(10)]
    return along(vertices(pieces), conduit())


@pytest.mark.parametrize(
    ("route", "severity"),
    [
        (quarter_turns(3), "ok"),
        (quarter_turns(4), "ok"),  # four quarter bends are what the rule allows
        (quarter_turns(4, extra=0.04), "ok"),  # printed as 360.0: a hair of the coordinates
        (quarter_turns(4, extra=0.06), "stop"),
        (quarter_turns(4, extra=1.0), "stop"),
        (quarter_turns(5), "stop"),
    ],
)
def test_360_degrees_between_pull_points(route: Route, severity: str) -> None:
    finding = bends(route)[-1]
    assert (finding.rule, finding.severity) == ("degrees between pull points", severity)
    assert finding.limit == pytest.approx(2 * math.pi)
    assert finding.where == "A to B"


def test_degrees_start_again_at_a_pull_point_and_its_own_turn_counts_for_neither() -> None:
    staircase = [at((0, 0, 0), name="A")]
    x, y = 0.0, 0.0
    for i in range(7):
        x, y = (x + 10, y) if i % 2 == 0 else (x, y + 10)
        middle = i == 3
        staircase.append(
            at((x, y, 0), 0.0 if middle else 1.0, "V" if middle else "", "reel" if middle else "")
        )
    staircase.append(at((x, y + 10, 0), name="B"))
    route = lay(*staircase, conduits=conduit())
    *_, first, second = bends(route)
    assert (first.where, second.where) == ("A to V", "V to B")
    assert first.demand == pytest.approx(1.5 * math.pi)
    assert second.demand == pytest.approx(1.5 * math.pi)
    assert first.severity == second.severity == "ok"
    # The turn of 90 degrees at V itself is a corner, not a bend of either section.
    assert route_path(route).turn == pytest.approx(3.5 * math.pi)


def test_a_straight_run_has_its_degrees_too() -> None:
    straight = lay(at((0, 0, 0)), at((9, 0, 0)), conduits=conduit())
    (finding,) = bends(straight)
    assert (finding.demand, finding.severity) == (0.0, "ok")


@pytest.mark.parametrize(("extra", "verdict"), [(0.04, "ok"), (0.06, "stop")])
def test_the_table_between_pull_points_judges_as_the_check_does(extra: float, verdict: str) -> None:
    route = quarter_turns(4, extra=extra)
    (section,) = shop_sheet(route, route_path(route), PRACTICE).sections
    assert section_verdict(section) == bends(route)[-1].severity == verdict


@pytest.mark.parametrize(
    ("radius", "severity"), [(1.499, "caution"), (1.5, "ok"), (1.501, "ok")], ids=str
)
def test_bends_of_buried_ducts_have_a_least_radius_in_cei_practice(
    radius: float, severity: str
) -> None:
    # guide of an Italian network operator to MT/BT ducts: 1.50 m (READ)
    duct, cei = jobs.stock("EN-BURIED", "160"), Practice(rules="CENELEC", edition="CEI")
    (finding,) = [f for f in one_bend(radius, duct, practice=cei) if f.rule == "duct bend radius"]
    assert (finding.severity, finding.limit) == (severity, 1.5)
    assert "Italian" in finding.source and finding.station == pytest.approx(10.0)
    other = [
        *one_bend(radius, duct),
        *one_bend(radius, duct, practice=Practice(rules="none")),
        *one_bend(radius, jobs.stock("EN-STEEL", "50"), practice=cei),
    ]
    assert "duct bend radius" not in {f.rule for f in other}


def test_a_radius_that_does_not_fit_is_not_proposed() -> None:
    """12 x 40 mm = 480 mm asked for; straights of 0.1 m beside an arc of 0.3 m leave 0.4 m."""
    shape = vertices([Go(0.1), Turn(90, 0.3), Go(0.1)])
    finding = bends(along(shape, conduit()))[0]
    assert (finding.rule, finding.severity) == ("cable bend radius", "stop")
    said = render(finding.fix, "SI")
    assert said.startswith("move the route points apart, or use a cable")
    assert (
        "0.48 m on the centerline; the maximum that fits between the adjacent bends is 0.399 m"
        in said
    )
    finding = bends(along(vertices([Go(0.2), Turn(90, 0.3), Go(0.2)]), conduit()))[0]
    assert render(finding.fix, "SI") == "increase the centerline bend radius to at least 0.48 m"
