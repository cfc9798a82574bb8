"""The load path by hand: what every link and sheave sees, at its limit, inside and outside of it.

100 m of level straight duct: a cable of 25 N/m at friction 0.4 leaves it with 10 N per m and the
reel tension; statics are the outside truth.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import Allowances, Gear, LeadOff, Machine, Practice, Reel, Rigging, Sheave
from route3d.planning.pull_plan.findings import link_findings, radius_findings
from route3d.planning.pull_plan.holding import holding
from route3d.planning.pull_plan.load_path import (
    Link,
    governing,
    load_path,
    pulling_conduit,
    sheave_radii,
)
from tests.support.jobs import LBF, along, cable, conduit, machine, rope, run

LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])
SHEAVE = Sheave("pit", 0.5, 50e3)


def level(*cables: tuple[object, int], reel_tension: float = 500.0, **more: object) -> Pull:
    items = cables or ((cable(), 1),)
    built = run(
        along(LINE, conduit(friction=0.4)),
        list(items),  # type: ignore[arg-type]
        rope=rope(),
        machine=more.pop("machine", machine(30e3)),
        reel_tension=reel_tension,
        **more,
    )
    return solve_pull(built, Practice())


def links(pull: Pull, load: float = 1500.0) -> dict[str, Link]:
    held = holding(pull.run, pulling_conduit(pull), load)
    return {link.name: link for link in load_path(pull, held, load)}


# --- sheaves the cable runs over -----------------------------------------------------------------


def test_a_sheave_needs_the_larger_of_pressure_and_bend_radius() -> None:
    """500 N feed in and 1,500 N come out; 12 x 40 mm is 0.48 m of bend radius."""
    for sidewall, at_feed, at_machine in ((1000.0, 0.5, 1.5), (10_000.0, 0.05, 0.15)):
        pull = level((cable(sidewall_limit=sidewall), 1), lead_off=(LeadOff(0.5, SHEAVE),))
        feed, pit = sheave_radii(pull, 10.0)
        assert (feed.name, pit.name) == ("feed-in sheave", "sheave pit")
        assert (feed.tension, pit.tension) == pytest.approx((500.0, 1500.0))
        assert (feed.by_sidewall, pit.by_sidewall) == pytest.approx((at_feed, at_machine))
        assert (feed.by_bend, pit.by_bend) == pytest.approx((0.48, 0.48))
        assert feed.least == pytest.approx(max(at_feed, 0.48))
        assert pit.least == pytest.approx(max(at_machine, 0.48))


def test_the_weakest_cable_of_a_set_sets_the_radius() -> None:
    """Two alike in size and weight: each carries half of 500 N, and lies up the wall of its bore.

    Centers 30 mm apart on a circle of 50 mm radius: the wall pushes back at arcsin 0.3, with
    250 / 0.95394 = 262.07 N, and 1,000 N/m asks for 0.26207 m (statics).
    """
    strong = cable("strong", 0.03, sidewall_limit=4000.0, bend_multiple=8.0)
    weak = cable("weak", 0.03, sidewall_limit=1000.0, bend_multiple=6.0)
    (feed,) = sheave_radii(level((strong, 1), (weak, 1)))
    assert feed.by_sidewall == pytest.approx(0.26207, abs=5e-6)
    assert feed.by_bend == pytest.approx(0.24)


@pytest.mark.parametrize(
    ("radius", "small"), [(0.5, False), (0.501, False), (0.499, True), (None, False)]
)
def test_a_sheave_at_inside_and_outside_its_least_radius(radius: float | None, small: bool) -> None:
    pull = level((cable(sidewall_limit=1000.0), 1), reel=Reel("reel", sheave_radius=radius))
    radii = sheave_radii(pull)
    found = list(radius_findings(radii, pull))
    assert radii[0].too_small is small
    assert [(f.rule, f.severity) for f in found] == (
        [("radius of feed-in sheave", "stop")] if small else []
    )
    for finding in found:
        assert (finding.demand, finding.limit) == pytest.approx((0.499, 0.5))
        assert finding.ratio == pytest.approx(0.5 / 0.499)


@pytest.mark.parametrize(("distance", "checked"), [(1.0, True), (50.0, False)])
def test_a_sheave_beyond_the_cable_drawn_out_meets_rope_only(
    distance: float, checked: bool
) -> None:
    pull = level(lead_off=(LeadOff(0.5, SHEAVE, distance),))
    names = [sheave.name for sheave in sheave_radii(pull, Allowances().pull_slack)]
    assert names == ["feed-in sheave", *(["sheave pit"] if checked else [])]


# --- links at the planned load -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rating", "severity"),
    # 1,500 N against each: below nine tenths, at nine tenths, near, at, and beyond
    [(1700.0, None), (1666.0, "caution"), (1500.0, "caution"), (1499.0, "stop"), (700.0, "stop")],
)
def test_a_swivel_at_inside_and_outside_its_rating(rating: float, severity: str | None) -> None:
    pull = level(rigging=Rigging("head", swivel_rating=rating))
    swivel = links(pull)["swivel"]
    assert (swivel.load, swivel.rating) == pytest.approx((1500.0, rating))
    assert swivel.ratio == pytest.approx(1500.0 / rating)
    found = [f for f in link_findings([swivel], pull) if f.rule == "load path: swivel"]
    assert [f.severity for f in found] == ([severity] if severity else [])


def test_the_governing_link_is_the_one_nearest_its_rating() -> None:
    pull = level(rigging=Rigging("head", swivel_rating=2000.0))
    found = governing(tuple(links(pull).values()))
    assert found is not None and (found.name, found.ratio) == ("swivel", pytest.approx(0.75))


def test_the_rope_is_held_to_working_load_and_to_a_quarter_of_its_strength() -> None:
    """EC&M, basics of cable pulling, page 2 (READ): strength at least 4 times the load."""
    strong = run(along(LINE, conduit()), rope=rope(rated_load=40e3)).rope
    assert strong is not None
    pull = level()
    roped = replace(pull, run=replace(pull.run, rope=replace(strong, breaking_strength=100e3)))
    found = links(roped)
    assert found["rope, working load"].rating == 40e3
    assert found["rope, breaking strength over 4"].rating == pytest.approx(25e3)


def test_a_sheave_is_loaded_by_both_parts_of_the_rope() -> None:
    """60 degrees round a frictionless sheave: 2 T sin 30 is T itself, 1,500 N."""
    sheave = links(level(lead_off=(LeadOff(math.pi / 3, SHEAVE),)))["sheave pit"]
    assert sheave.load == pytest.approx(1500.0)
    assert sheave.at_machine_pull == pytest.approx(30e3)


# --- what the machine could pull -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("rating", "outdone"), [(30_000.0, False), (30_001.0, False), (29_999.0, True)]
)
def test_a_link_at_inside_and_outside_what_the_machine_can_pull(
    rating: float, outdone: bool
) -> None:
    """The machine's 30 kN arrive at the swivel whole: nothing takes any of it on the way."""
    pull = level(rigging=Rigging("head", swivel_rating=rating))
    swivel = links(pull)["swivel"]
    assert swivel.at_machine_pull == pytest.approx(30e3)
    assert swivel.outdone is outdone
    found = list(link_findings([swivel], pull))
    assert [f.rule for f in found] == (["machine can overload"] if outdone else [])
    for finding in found:
        assert finding.severity == "caution"
        assert finding.ratio == pytest.approx(30e3 / 29_999)


def test_the_weakest_of_the_outdone_links_is_the_figure() -> None:
    """Swivel 20 kN and sheave 12 kN under 30 kN: 1.5 and 2.5 times."""
    turn = LeadOff(1.0471975511965976, Sheave("pit", 0.5, 12e3))  # 60 degrees: load is T
    pull = level(rigging=Rigging("head", swivel_rating=20e3), lead_off=(turn,))
    found = links(pull)
    pair = [found["swivel"], found["sheave pit"]]
    (finding,) = link_findings(pair, pull)
    assert finding.ratio == pytest.approx(2.5)
    assert (finding.demand, finding.limit) == pytest.approx((30e3, 12e3))
    assert "swivel" in finding.fix.template and "sheave pit" in finding.fix.template


@pytest.mark.parametrize(("rating", "outdone"), [(24_000.0, False), (23_999.0, True)])
def test_a_sheave_keeps_some_of_the_machines_pull_from_the_head(
    rating: float, outdone: bool
) -> None:
    """Efficiency 0.8: of 30 kN at the machine 24 kN arrive at the head."""
    turn = LeadOff(1.0, Sheave("pit", 0.5, 50e3, 0.8))
    pull = level(rigging=Rigging("head", swivel_rating=rating), lead_off=(turn,))
    swivel = links(pull)["swivel"]
    assert swivel.at_machine_pull == pytest.approx(24e3)
    assert swivel.outdone is outdone


def test_only_the_strongest_gear_counts_for_what_the_machine_can_pull() -> None:
    """Gears of 10 and 40 kN at 0.75: 30 kN reach the rope."""
    two = Machine("two", (Gear(10e3, 0.5), Gear(40e3, 0.1)), efficiency=0.75)
    found = links(level(machine=two))
    assert found["machine, strongest gear"].rating == pytest.approx(30e3)
    assert found["swivel"].at_machine_pull == pytest.approx(30e3)


def test_a_rope_turned_over_the_conduit_end_loads_it_and_nothing_rates_it() -> None:
    """60 degrees with a rope of friction 0.2 and 1,200 N at the mouth: e^{0.2 pi/3} as much beyond.

    The resultant is taken as 2 T sin 30 of the larger tension, T itself (statics).
    """
    pull = level(lead_off=(LeadOff(math.pi / 3),))
    end = links(pull, 1200.0 * math.exp(0.2 * math.pi / 3))["conduit end (rope bears on it)"]
    assert end.load == pytest.approx(1200.0 * math.exp(0.2 * math.pi / 3))
    assert (end.rating, end.source) == (None, "not given")


@pytest.mark.parametrize(("rating", "expected"), [(20e3, 20e3), (60e3, 10_000 * LBF)])
def test_an_eye_counts_with_its_rating_up_to_the_cap(rating: float, expected: float) -> None:
    eyes = links(level(rigging=Rigging("head", eye_rating=rating)))["pulling eyes"]
    assert eyes.rating == pytest.approx(expected)


def test_a_sheave_with_friction_is_loaded_by_the_larger_part_of_the_rope() -> None:
    """60 degrees, efficiency 0.8: 1,200 N go in and 1,500 N come out, taken for both: T itself."""
    worn = Sheave("worn", 0.5, 50e3, efficiency=0.8)
    assert links(level(lead_off=(LeadOff(math.pi / 3, worn),)))["sheave worn"].load == (
        pytest.approx(1500.0)
    )
