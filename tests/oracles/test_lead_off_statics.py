"""Sheaves and rope off the conduit end against plain statics (COMPUTED, not published)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.mechanics.lead_off import lead_off_factor, turn_loads
from route3d.mechanics.pull import solve_pull
from route3d.model import LeadOff, Practice, Sheave
from tests.support.jobs import along, cable, conduit, rope, run

LINE = ([[0, 0, 0], [100, 0, 0]], [0, 0])


def test_the_vectors_at_a_sheave_add_up() -> None:
    """Statics: the pull of both parts of the rope on a frictionless sheave."""
    for degrees in (30, 90, 150):
        angle = math.radians(degrees)
        both = np.array([1.0, 0.0]) - np.array([math.cos(angle), math.sin(angle)])
        (load,) = turn_loads((LeadOff(angle, Sheave("s", 0.3, 1e5)),), 0.15, 1.0)
        assert load.resultant == pytest.approx(float(np.linalg.norm(both)), rel=1e-12)


def test_sheaves_in_a_row_multiply() -> None:
    turns = (LeadOff(1.0, Sheave("a", 0.3, 1e5, 0.95)), LeadOff(2.0, Sheave("b", 0.3, 1e5, 0.9)))
    assert lead_off_factor(turns, 0.15) == pytest.approx(1 / (0.95 * 0.9))
    first, second = turn_loads(turns, 0.15, 100.0)
    assert (first.after, second.before) == (second.before, pytest.approx(100 / 0.95))


def test_the_machine_feels_the_lead_off() -> None:
    route = along(LINE, conduit())
    straight = solve_pull(run(route, cable(), rope=rope()), Practice())
    turned = solve_pull(
        run(route, cable(), rope=rope(), lead_off=(LeadOff(1.57, Sheave("a", 0.3, 1e5, 0.9)),)),
        Practice(),
    )
    assert straight.machine_loads is not None and turned.machine_loads is not None
    assert turned.machine_loads == pytest.approx(straight.machine_loads / 0.9, rel=1e-12)
    assert turned.end_tension == straight.end_tension  # the cable does not
