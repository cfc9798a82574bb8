"""The force on each sheave by hand statics: 2T sin(turn/2), half way between the two ropes."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import LeadOff, Practice, Rigging, Sheave
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.pull_plan.sheaves import head_length_findings, sheave_findings, sheave_forces
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import at, conduit, lay

PIT = Sheave("pit", 0.6, 50e3, efficiency=0.9, held_by="beam")


def level(*turns: LeadOff, guide: Sheave | None = None) -> Pull:
    """Level, without friction, 4 kN all the way, round a pull point that turns by 90 degrees."""
    point = replace(at((30, 0, 0), name="V", ends="reel machine"), sheave=guide)
    route = lay(
        at((0, 0, 0), name="A"), point, at((30, 20, 0), name="B"), conduits=conduit(friction=0.0)
    )
    return solve_pull(
        jobs.run(route, reel_tension=4000.0, rope=jobs.rope(1e-9, 0.0), lead_off=turns), Practice()
    )


def search(*corners: tuple[float, float, float]) -> PlacementSearch:
    place = SimpleNamespace(rope=corners)
    return PlacementSearch((place,), 1, 1, (), None)  # type: ignore[arg-type]


NOWHERE = PlacementSearch((), 0, 0, (), None)  # type: ignore[arg-type]


def test_force_direction_and_what_holds_a_lead_off_sheave() -> None:
    """Out along +y, round the sheave to the east and level: it is pulled to the south-east."""
    pull = level(LeadOff(math.pi / 2, PIT))
    corners = search((30, 20, 0), (30, 24, 0), (36, 24, 0))
    (one,) = sheave_forces(pull, 4000 / 0.9, corners)
    assert one.force == pytest.approx(2 * 4000 / 0.9 * math.sin(math.pi / 4))
    assert one.heading == pytest.approx(math.radians(135))
    assert one.rise == pytest.approx(0.0)
    assert render(one.words, "US") == "heading 135.0°, level"
    assert (one.sheave.held_by, one.place) == ("beam", "B")
    assert not list(sheave_findings([one]))


@pytest.mark.parametrize(
    ("after", "words"),
    [
        ((30.0, 24.0, 5.0), "heading 180.0°, 45.0° up"),
        ((30.0, 24.0, -5.0), "heading 180.0°, 45.0° down"),
        ((30.0, 24.0, 0.0), "toward the inside of the turn, half way between the two ropes"),
    ],
)
def test_a_rope_that_goes_up_or_down_pulls_the_sheave_so(
    after: tuple[float, float, float], words: str
) -> None:
    pull = level(LeadOff(math.pi / 2, PIT))
    (one,) = sheave_forces(pull, 4000.0, search((30, 20, 0), (30, 24, 0), after))
    assert render(one.words, "SI") == words


def test_a_force_straight_down_has_no_heading() -> None:
    pull = level(LeadOff(math.pi / 2, PIT))
    (one,) = sheave_forces(pull, 4000.0, search((30, 20, -4), (30, 24, 0), (30, 28, -4)))
    assert one.heading is None and render(one.words, "SI") == "straight down"


def test_without_a_place_the_direction_is_told_in_words() -> None:
    (one,) = sheave_forces(level(LeadOff(1.0, PIT)), 4000.0, NOWHERE)
    assert one.heading is None and one.rise is None
    assert render(one.words, "US").startswith("toward the inside of the turn")


def test_a_turn_over_the_conduit_end_is_no_sheave() -> None:
    assert sheave_forces(level(LeadOff(1.0)), 4000.0, NOWHERE) == ()


def test_a_guided_pull_point_is_told_with_its_own_direction() -> None:
    """East into the vault and north out of it: the sheave is pulled to the north-west."""
    guide = Sheave("guide", 0.6, 50e3)
    (one,) = sheave_forces(level(guide=guide), 4000.0, NOWHERE)
    assert (one.place, one.sheave) == ("V", guide)
    assert one.force == pytest.approx(2 * 4000 * math.sin(math.pi / 4))
    assert one.heading == pytest.approx(math.radians(315))
    (finding,) = sheave_findings([one])
    assert (finding.severity, finding.rule) == ("caution", "sheave fastening guide")
    assert finding.demand == one.force
    assert "heading 315.0°, level" in render(finding.fix, "US")


def test_an_assumed_head_length_is_said() -> None:
    (note,) = head_length_findings(level())
    assert (note.severity, note.demand) == ("note", 1.0)
    given = level()
    given = replace(given, run=replace(given.run, rigging=Rigging("head", head_length=0.6)))
    assert not list(head_length_findings(given))
