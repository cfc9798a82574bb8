"""The rope from the conduit end to the machine: what each turn of it adds, and what it carries.

A sheave asks for more tension coming out than goes in by its own friction, given as an efficiency.
A rope that turns over the conduit end itself slides on it: the capstan law with the rope's
friction. Turns, sheaves and machine lie close together, so the rope's weight there is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.rigging import LeadOff


@dataclass(frozen=True, slots=True)
class TurnLoad:
    """One turn of the rope at one load: tension before and after it, and what holds it, N.

    ``resultant`` is 2T sin(turn/2) with the larger of the two tensions, which errs on the safe
    side where the sheave has friction (docs/theory.md section 8; from memory).
    """

    turn: LeadOff
    before: float
    after: float

    @property
    def resultant(self) -> float:
        """Load on the fastening of the sheave, or of the conduit end, N."""
        return 2.0 * self.after * math.sin(self.turn.turn / 2.0)


def turn_factor(turn: LeadOff, rope_friction: float) -> float:
    """Tension after one turn over the tension before it.

    Parameters
    ----------
    turn : LeadOff
        Sheave or conduit end, and turn in rad.
    rope_friction : float
        Coefficient of the rope.

    Returns
    -------
    float
        1 or more.

    References
    ----------
    docs/theory.md section 8.
    """
    if turn.sheave is None:
        return math.exp(rope_friction * turn.turn)
    return 1.0 / turn.sheave.efficiency


def lead_off_factor(turns: Sequence[LeadOff], rope_friction: float) -> float:
    """Tension at the machine over the tension of the rope where it leaves the conduit.

    Parameters
    ----------
    turns : sequence of LeadOff
        From the conduit end to the machine.
    rope_friction : float
        Coefficient of the rope.

    Returns
    -------
    float
        1 or more.

    References
    ----------
    docs/theory.md section 8.
    """
    return math.prod(turn_factor(turn, rope_friction) for turn in turns)


def lead_off_factors(turns: Sequence[LeadOff], rope_friction: Floats | float) -> Floats | float:
    """As `lead_off_factor` for many frictions of the rope at once.

    Parameters
    ----------
    turns : sequence of LeadOff
        From the conduit end to the machine.
    rope_friction : float or ndarray, shape (k,)
        Coefficients of the rope.

    Returns
    -------
    float or ndarray, shape (k,)
        1 or more.

    References
    ----------
    docs/theory.md section 8.
    """
    if not isinstance(rope_friction, np.ndarray):
        return lead_off_factor(turns, rope_friction)
    sheaves = [turn for turn in turns if turn.sheave is not None]
    sliding = sum(turn.turn for turn in turns if turn.sheave is None)
    factors: Floats = lead_off_factor(sheaves, 0.0) * np.exp(rope_friction * sliding)
    return factors


def turn_loads(
    turns: Sequence[LeadOff], rope_friction: float, tension: float
) -> tuple[TurnLoad, ...]:
    """Every turn with its loads, for a rope that leaves the conduit with ``tension`` N.

    Parameters
    ----------
    turns : sequence of LeadOff
        From the conduit end to the machine.
    rope_friction : float
        Coefficient of the rope.
    tension : float
        N

    Returns
    -------
    tuple of TurnLoad
        N

    References
    ----------
    docs/theory.md section 8.
    """
    loads, t = [], tension
    for turn in turns:
        after = t * turn_factor(turn, rope_friction)
        loads.append(TurnLoad(turn, t, after))
        t = after
    return tuple(loads)
