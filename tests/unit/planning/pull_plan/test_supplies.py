"""What to bring, by hand: rope and the energy in it, lubricant, fittings."""

from __future__ import annotations

import pytest

from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import Allowances, LeadOff, Practice, Sheave
from route3d.planning.pull_plan.supplies import supplies
from tests.support.jobs import BOTH, along, at, cable, conduit, lay, rope, run

GALLON, FOOT, INCH = 231 * 0.0254**3, 0.3048, 0.0254
LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])


def level(friction: float = 0.4, count: int = 1, **more: object) -> Pull:
    route = along(LINE, conduit(friction=friction))
    return solve_pull(run(route, [(cable(), count)], **{"rope": rope(), **more}), Practice())


def test_rope_reaches_through_the_run_and_to_the_machine() -> None:
    found = supplies(level(reel_tension=0.0), Allowances(rope_tail=12.0)).rope
    assert found is not None and found.length == pytest.approx(112.0)


def test_energy_of_the_rope_at_the_moment_it_holds_most() -> None:
    """No friction and 8,000 N at the reel: all of the rope carries that at the start.

    Stretch 0.012 at 40 kN: 0.0024 of 110 m is 0.264 m, and half of 8,000 N times it 1,056 J.
    """
    pull = level(0.0, rope=rope(0.0), reel_tension=8000.0)
    found = supplies(pull, Allowances(rope_tail=10.0)).rope
    assert found is not None
    assert (found.pulled, found.load) == (0.0, pytest.approx(8000.0))
    assert found.stretch == pytest.approx(0.264)
    assert found.energy == pytest.approx(1056.0)


@pytest.mark.parametrize(("force", "governs"), [(12_000.0, True), (10_000.0, False)])
def test_a_first_movement_counts_where_it_stores_more(force: float, governs: bool) -> None:
    """At 50 m in, 60 m of rope are left: 12 kN store 1,296 J, 10 kN 900 J, the start 1,056 J."""
    pull = level(0.0, rope=rope(0.0), reel_tension=8000.0)
    found = supplies(pull, Allowances(rope_tail=10.0), [(50.0, force)]).rope
    assert found is not None
    assert found.energy == pytest.approx(1296.0 if governs else 1056.0)
    assert (found.pulled, found.load) == pytest.approx(
        (50.0, 12_000.0) if governs else (0.0, 8000.0)
    )


def test_without_a_rope_there_is_none_to_bring() -> None:
    assert supplies(level(rope=None, reel_tension=0.0), Allowances()).rope is None


@pytest.mark.parametrize("reverse", [False, True])
def test_lubricant_goes_in_at_each_pull_point_for_the_stretch_ahead(reverse: bool) -> None:
    """Q = 0.0015 L D, gal, ft and in (Technical Talk XVII, READ): 400 ft and 200 ft of 4 in."""
    duct = conduit(4 * INCH)
    points = (
        at((0, 0, 0), name="A", ends=BOTH),
        at((400 * FOOT, 0, 0), name="pit", ends=BOTH),
        at((600 * FOOT, 0, 0), name="B", ends=BOTH),
    )
    pull = solve_pull(run(lay(*points, conduits=duct)), Practice(), reverse=reverse)
    found = supplies(pull, Allowances())
    parts = [(p.entry, p.volume / GALLON) for p in found.lubricant]
    expected = [("A", 2.4), ("pit", 1.2)] if not reverse else [("B", 1.2), ("pit", 2.4)]
    assert [name for name, _ in parts] == [name for name, _ in expected]
    assert [v for _, v in parts] == pytest.approx([v for _, v in expected])
    assert found.lubricant_total / GALLON == pytest.approx(3.6)
    assert found.lubricant_more == 0.5  # from memory, medium confidence


def test_a_change_of_bore_between_pull_points_is_lubricated_from_where_the_cable_enters() -> None:
    points = at((0, 0, 0), name="A", ends=BOTH), at((100, 0, 0)), at((200, 0, 0), ends=BOTH)
    narrow, wide = conduit(4 * INCH, name="narrow"), conduit(5 * INCH, name="wide")
    pull = solve_pull(run(lay(*points, conduits=[narrow, wide])), Practice())
    found = supplies(pull, Allowances()).lubricant
    assert [(p.entry, p.conduit, p.length) for p in found] == [
        ("A", "narrow", pytest.approx(100.0)),
        ("A", "wide", pytest.approx(100.0)),
    ]
    same = solve_pull(run(lay(*points, conduits=narrow)), Practice())
    assert [p.length for p in supplies(same, Allowances()).lubricant] == [pytest.approx(200.0)]


def test_fittings_by_number() -> None:
    turn = LeadOff(0.5, Sheave("pit", 0.3, 1e5))
    eyes = supplies(level(count=3, lead_off=(turn,), reel_tension=0.0), Allowances()).fittings
    assert eyes[0] == "3 pulling eyes with links"
    assert "1 swivel" in eyes
    assert "sheave pit with fastening" in eyes
    grip = level(count=3, attach="basket grip", reel_tension=0.0)
    assert supplies(grip, Allowances()).fittings[0] == "basket grip for the set of 3"
