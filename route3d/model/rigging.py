"""Between cable and machine, and between reel and conduit: sheaves, fittings and the reel."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Eyes or grip, swivel and links ahead of the cable, where a file gives no length (common practice,
# no source), m.
HEAD_LENGTH = 1.0


@dataclass(frozen=True, slots=True)
class Sheave:
    """``radius`` m of the groove; ``rating`` N of resultant load on its fastening.

    ``efficiency`` is the tension going in over that coming out, 1 for a frictionless sheave.
    ``held_by`` says what the sheave is fastened to, "" where not given.
    """

    name: str
    radius: float
    rating: float
    efficiency: float = 1.0
    held_by: str = ""


@dataclass(frozen=True, slots=True)
class LeadOff:
    """One turn of the rope between conduit end and machine: ``turn`` rad round ``sheave``.

    Without a sheave the rope turns over the conduit end itself. ``distance`` m of rope lie between
    the conduit end and the turn, 0 where not given: the head is then taken to reach it.
    """

    turn: float
    sheave: Sheave | None = None
    distance: float = 0.0


@dataclass(frozen=True, slots=True)
class Rigging:
    """Ratings of the fittings at the cable head, N; None where not given.

    ``head_length`` m is that of eyes or grip, swivel and links ahead of the cable; None where not
    given, and :data:`HEAD_LENGTH` is then assumed.
    """

    name: str
    swivel_rating: float | None = None
    grip_rating: float | None = None
    eye_rating: float | None = None
    head_length: float | None = None


@dataclass(frozen=True, slots=True)
class CableReel:
    """Reels with ``length`` m of ``cable`` each, to cut from; ``name`` is the mark on them.

    ``count`` such reels are on hand; None for as many as are needed.
    """

    cable: str
    length: float
    count: int | None = None
    name: str = ""

    @property
    def label(self) -> str:
        """What the reels are called: their mark, else the cable on them."""
        return self.name or f"{self.cable} reel"


@dataclass(frozen=True, slots=True)
class Reel:
    """The cable reel: ``mass`` kg full, ``diameter`` and ``width`` m over the flanges.

    ``drum_diameter`` m is that of the drum the last cable lies on. ``count`` is the number of reels
    that feed together, None for one reel for each cable. ``drag_force`` N is what one reel takes to
    turn, or ``drag_length`` m the length of cable whose weight it equals; None for both where not
    given. A brake on each reel holds ``brake_torque`` Nm, or ``brake_force`` N at the full drum.

    ``sheave_radius`` m is that of the sheave or guide that feeds the cable into the conduit. The
    cable turns ``feed_turn`` rad on it, with ``feed_efficiency`` (tension going in over tension
    coming out) or ``feed_friction`` of the guide; a file that gives a turn gives one of the two.
    """

    name: str
    mass: float | None = None
    diameter: float | None = None
    width: float | None = None
    sheave_radius: float | None = None
    drum_diameter: float | None = None
    count: int | None = None
    drag_force: float | None = None
    drag_length: float | None = None
    brake_torque: float | None = None
    brake_force: float | None = None
    feed_turn: float = 0.0
    feed_efficiency: float | None = None
    feed_friction: float | None = None

    @property
    def feed_factor(self) -> float:
        """Tension entering the conduit over that leaving the reels (capstan law for a guide)."""
        if self.feed_efficiency is not None:
            return 1.0 / self.feed_efficiency
        return math.exp((self.feed_friction or 0.0) * self.feed_turn)
