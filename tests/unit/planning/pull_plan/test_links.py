"""The load path: every link with its load, its rating, and which one is weakest."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import (
    Allowances,
    Gear,
    LeadOff,
    Machine,
    Practice,
    Reel,
    Rigging,
    Rope,
    Run,
    Sheave,
    Vehicle,
)
from route3d.planning.placement.rope_legs import drawn_out
from route3d.planning.pull_plan.holding import holding
from route3d.planning.pull_plan.load_path import governing, load_path, sheave_radii
from tests.support.jobs import along, cable, conduit, rope, run

BEND = ([[0, 0, 0], [60, 0, 0], [60, 40, 0]], [0, 3, 0])
SHEAVE = Sheave("corner", 0.3, 50e3, 0.95)
PULLER = Machine("puller", (Gear(30e3, 0.1),), efficiency=0.9, boom_rating=40e3)


def built(**more: object) -> Run:
    given = {"rope": rope(), "machine": PULLER, "lead_off": (LeadOff(math.pi / 2, SHEAVE),)}
    return run(along(BEND, conduit()), cable(), **{**given, **more})


def links_of(pulled: Run) -> tuple[Pull, dict[str, object]]:
    pull = solve_pull(pulled, Practice())
    load = pull.machine_least
    held = holding(pulled, pulled.route.conduits[-1], load)
    return pull, {link.name: link for link in load_path(pull, held, load)}


def test_every_link_of_the_issue_is_there_in_order() -> None:
    pulled = built(anchor=Vehicle("truck", 4000, 0.5, 25e3))
    _, links = links_of(pulled)
    assert list(links) == [
        "conductors",
        "pulling eyes",
        "swivel",
        "rope, working load",
        "sheave corner",
        "boom",
        "machine, strongest gear",
        "wheel grip",
        "drawbar",
    ]


def test_the_sheave_carries_the_resultant_and_the_rope_the_rise() -> None:
    """2T sin(turn/2) at 90 degrees is 1.414 T; the efficiency raises T to the machine."""
    pull, links = links_of(built())
    assert links["rope, working load"].load == pytest.approx(pull.end_tension / 0.95)
    assert links["sheave corner"].load == pytest.approx(math.sqrt(2) * pull.end_tension / 0.95)
    assert links["machine, strongest gear"].rating == pytest.approx(27e3)


def test_ratings_on_the_plates_come_before_the_published_caps() -> None:
    _, plain = links_of(built())
    _, rated = links_of(built(rigging=Rigging("head", 9e3, None, 5e3)))
    assert "given" not in plain["pulling eyes"].source
    assert (rated["pulling eyes"].rating, rated["swivel"].rating) == (5e3, 9e3)
    _, grip = links_of(built(attach="basket grip", rigging=Rigging("head", None, 2e3, None)))
    assert grip["basket grip"].rating == 2e3


def test_a_rope_with_its_breaking_strength_is_held_to_the_safety_factor() -> None:
    """At least 4 on the average breaking strength (EC&M, in standards/data/field_practice.toml)."""
    strong = Rope("line", 0.02, 2.0, 0.2, 40e3, 0.012, breaking_strength=100e3)
    _, links = links_of(built(rope=strong))
    assert links["rope, breaking strength over 4"].rating == pytest.approx(25e3)


def test_the_weakest_link_governs() -> None:
    pulled = built(rigging=Rigging("head", 900.0, None, None))
    _, links = links_of(pulled)
    weakest = governing(tuple(links.values()))
    assert weakest is not None and weakest.name == "swivel" and weakest.ratio > 1


def test_what_the_machine_can_outdo_is_marked() -> None:
    """Every component rated at least the puller's maximum (common practice)."""
    _, links = links_of(built(rigging=Rigging("head", 20e3, None, None)))
    assert links["swivel"].outdone  # 27 kN less the sheave's 5 % at the head
    assert links["swivel"].at_machine_pull == pytest.approx(27e3 * 0.95)
    assert not links["rope, working load"].outdone


def test_without_a_rating_there_is_no_ratio() -> None:
    _, links = links_of(built(machine=replace(PULLER, boom_rating=None)))
    assert math.isnan(links["boom"].ratio) and links["boom"].source == "not given"


def test_a_sheave_under_the_cable_needs_its_radius() -> None:
    """T/R of one cable at its limit, and bend_multiple diameters less half the cable."""
    pulled = built(reel=Reel("berth", sheave_radius=0.2), reel_tension=2e3)
    pull = solve_pull(pulled, Practice())
    feed, corner = sheave_radii(pull)
    assert feed.by_sidewall == pytest.approx(2e3 / 7000.0)
    assert feed.by_bend == pytest.approx(pulled.cables.largest.min_bend_radius)
    assert feed.too_small and corner.by_sidewall == pytest.approx(
        pull.end_tension / 0.95 / 7000.0  # the tension going out of the sheave
    )
    assert not sheave_radii(solve_pull(built(reel_tension=2e3), Practice()))[0].too_small


def test_a_head_past_a_sheave_carries_its_outgoing_tension() -> None:
    """T/efficiency once past; a sheave exactly at the end of the head, or beyond it, is not."""
    pulled = built(lead_off=(LeadOff(math.pi / 2, SHEAVE, distance=2.0),))
    pull = solve_pull(pulled, Practice())
    held = holding(pulled, pulled.route.conduits[-1], pull.machine_least)

    def loads(out: float) -> list[float]:
        links = load_path(pull, held, pull.machine_least, 9e3, out)
        return [link.load for link in links[:3]]

    assert loads(1.9) == loads(2.0) == [9e3] * 3
    assert loads(2.1) == pytest.approx([9e3 / 0.95] * 3)


def test_the_head_comes_out_by_the_cable_drawn_out_and_its_own_length() -> None:
    allowances = Allowances(pull_slack=3.0)
    assert drawn_out(built(), allowances) == 3.0 + 1.0
    assert drawn_out(built(rigging=Rigging("long", head_length=2.5)), allowances) == 5.5


@pytest.mark.parametrize("missing", ["rope", "machine"])
def test_a_load_path_needs_rope_and_machine(missing: str) -> None:
    pulled = built(**{missing: None})
    held = holding(pulled, pulled.route.conduits[-1], 1500.0)
    with pytest.raises(ValueError, match="no rope or no machine"):
        load_path(solve_pull(pulled, Practice()), held, 1500.0)
