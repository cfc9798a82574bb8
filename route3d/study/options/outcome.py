"""Other ways to build or pull a run, solved and ranked."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Option:
    """One way, solved.

    ``changes`` say in words what differs from the model file. ``utilization`` is that of the worst
    pull, ``setups`` the places a machine stands at, ``crew_time`` s over all pulls, ``cost`` in the
    user's currency, None where the user gave no costs. ``stops`` tells why it must not be pulled.
    ``efficient`` says that no other option is at least as good in everything and better in
    something. ``error`` tells why it could not be solved.
    """

    name: str
    changes: tuple[str, ...]
    utilization: float
    friction_margin: float | None
    setups: int
    crew_time: float | None
    cost: float | None
    governing: str
    feed: str
    pull: str
    stops: tuple[str, ...]
    efficient: bool
    costs: tuple[tuple[str, float], ...] = ()
    error: str = ""


@dataclass(frozen=True, eq=False)
class Options:
    """All options of a run, best first; ``currency`` is empty where no costs were given."""

    title: str
    run: str
    options: tuple[Option, ...]
    currency: str = ""
    notes: tuple[str, ...] = field(default=())
