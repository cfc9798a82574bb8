"""Between cable and machine, and between reel and conduit: sheaves, fittings and the reel."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Sheave:
    """``radius`` m to the middle of the rope; ``rating`` N of resultant load on its fastening.

    ``efficiency`` is the rope tension going in over that coming out, 1 for a frictionless sheave.
    """

    name: str
    radius: float
    rating: float
    efficiency: float = 1.0


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
    """Ratings of the fittings at the cable head, N; None where not given."""

    name: str
    swivel_rating: float | None = None
    grip_rating: float | None = None
    eye_rating: float | None = None


@dataclass(frozen=True, slots=True)
class Reel:
    """The cable reel: ``mass`` kg full, ``diameter`` and ``width`` m over the flanges.

    ``sheave_radius`` m is that of the sheave or guide that feeds the cable into the conduit.
    """

    name: str
    mass: float | None = None
    diameter: float | None = None
    width: float | None = None
    sheave_radius: float | None = None
