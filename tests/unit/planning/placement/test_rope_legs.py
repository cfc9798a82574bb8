"""The conduit end, and the rope's ways from there to a machine."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull
from route3d.model import CableSet, LeadOff, Practice, Route, Run
from route3d.planning.placement.rope_legs import legs_to, pull_end, rope_lines
from tests.support.jobs import at, cable, conduit
from tests.support.places import (
    AHEAD,
    CORNER,
    LIMIT,
    LINE,
    hall,
    search,
)


def test_the_pulling_end_of_a_pull_either_way() -> None:
    vertices = (at((0, 0, -3), name="pit"), at((0, 0, 2), bend=1.0), at((7, 0, 2), name="room"))
    run = Run(CableSet(((cable(), 1),)), Route(vertices, (conduit(),) * 2), "F1")
    there = pull_end(solve_pull(run, Practice()))
    np.testing.assert_allclose(there.point, (7, 0, 2), atol=1e-12)
    np.testing.assert_allclose(there.outward, (1, 0, 0), atol=1e-12)
    back = pull_end(solve_pull(run, Practice(), reverse=True))
    np.testing.assert_allclose(back.point, (0, 0, -3), atol=1e-12)
    np.testing.assert_allclose(back.outward, (0, 0, -1), atol=1e-12)
    np.testing.assert_allclose(back.heading, (-1, 0, 0), atol=1e-12)  # it came along the roof


@pytest.mark.parametrize(("turns", "ways"), [(0, 1), (1, 2), (2, 2 * 2 + 2 * 4)])
def test_the_ways_through_quarter_turns_that_end_level(turns: int, ways: int) -> None:
    """One turn: left, right. Two: these and then level (2 x 2); up, down, then anywhere (2 x 4)."""
    assert len(rope_lines(AHEAD, CORNER * turns, LIMIT)) == ways


def test_an_eighth_turn_takes_the_rope_off_at_45_degrees() -> None:
    eighth = (LeadOff(math.pi / 4, CORNER[0].sheave),)
    found = search(hall(), lead_off=eighth)
    assert {round(abs(math.degrees(p.yaw))) for p in found.best} == {135}
    for p in found.best:
        legs = np.diff(np.array(p.rope), axis=0)
        cosine = legs[0] @ legs[1] / np.linalg.norm(legs[0]) / np.linalg.norm(legs[1])
        assert cosine == pytest.approx(math.cos(math.pi / 4), abs=math.sin(LIMIT))


def test_legs_lead_to_the_machine_with_room_for_every_sheave() -> None:
    rng = np.random.default_rng(2)
    heads = rng.uniform(-6, 6, (200, 3))
    for line in rope_lines(AHEAD, CORNER * 2, LIMIT):
        legs = legs_to(line, AHEAD.point, heads)
        np.testing.assert_allclose(legs.corners[:, 0], np.broadcast_to(AHEAD.point, (200, 3)))
        np.testing.assert_allclose(legs.corners[:, -1], heads)
        steps = np.diff(legs.corners, axis=1)
        good = legs.fits & (legs.swing < 1e-9)
        assert (np.linalg.norm(steps[good], axis=2) >= line.least - 1e-9).all()
        along = np.einsum("nki,ki->nk", steps[good], line.directions)
        np.testing.assert_allclose(np.linalg.norm(steps[good], axis=2), along, atol=1e-9)


def test_a_rope_may_come_back_over_two_sheaves() -> None:
    """Out, across and back: the first leg is as long as the last needs it to be."""
    (back,) = [
        line
        for line in rope_lines(AHEAD, CORNER * 2, LIMIT)
        if line.directions[2] @ AHEAD.outward < -0.9 and line.directions[1, 1] > 0.9
    ]
    legs = legs_to(back, AHEAD.point, np.array([[-3.0, 2.0, LINE], [0.0, 2.0, LINE]]))
    assert legs.fits.all()
    np.testing.assert_allclose(legs.swing, 0, atol=1e-12)
    np.testing.assert_allclose(legs.lengths, [0.2 + 2 + 3.2, 0.2 + 2 + 0.2])


def test_a_rope_of_no_length_does_not_fit_and_has_a_direction() -> None:
    """A machine whose line starts exactly at the conduit end; nothing is divided by zero."""
    (line,) = rope_lines(AHEAD, (), LIMIT)
    with np.errstate(all="raise"):
        legs = legs_to(line, AHEAD.point, np.array([AHEAD.point, AHEAD.point + AHEAD.outward]))
    assert legs.fits.tolist() == [False, True]
    assert np.linalg.norm(legs.last, axis=1) == pytest.approx([1.0, 1.0])
    assert legs.lengths == pytest.approx([0.0, 1.0])
