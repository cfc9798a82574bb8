"""What the user gives to be compared: options, places where no vault may stand, and costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from route3d.errors import Problem
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.phrase import Phrase

Spot = float | str
"""A place along a route: its station, m, or the name of a point."""
ALL_BENDS = "all"
"""Stands for every bend of a run."""


@dataclass(frozen=True, slots=True)
class NoVault:
    """A stretch of the route in which no vault may stand, and ``why``.

    ``run`` is the run it is of, "" for all. ``place`` says where it was given.
    """

    start: Spot
    end: Spot
    why: str = ""
    run: str = ""
    place: Problem = field(default_factory=lambda: Problem(""))


@dataclass(frozen=True, slots=True)
class Costs:
    """What things cost, in ``currency``; None and no entry: the user gave no figure.

    ``vault``, ``bend``, ``splice`` and ``setup`` each; ``conduit`` and ``lubricant`` by name and
    for a meter; ``crew_hour`` for an hour of the crew; ``machine_day`` by name for each day begun,
    of ``day`` s of work.
    """

    currency: str
    vault: float | None = None
    bend: float | None = None
    splice: float | None = None
    setup: float | None = None
    crew_hour: float | None = None
    conduit: Mapping[str, float] = field(default_factory=dict)
    lubricant: Mapping[str, float] = field(default_factory=dict)
    machine_day: Mapping[str, float] = field(default_factory=dict)
    day: float = 0.0


@dataclass(frozen=True, slots=True)
class Work:
    """What is done to a run besides other keys of the model file.

    ``bends`` are radii, m, by the name of a bend or its point, or "all". ``vaults`` is a number of
    new vaults to be placed, ``cuts`` the places of vaults that are given. ``parts`` are the cables
    pulled together in each of several conduits side by side.
    """

    bends: Mapping[str, float] = field(default_factory=dict)
    vaults: int = 0
    cuts: tuple[Spot, ...] = ()
    parts: tuple[Mapping[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class GivenOption:
    """One option: the job with its keys changed, and the ``work`` done to some ``runs``.

    ``changes`` are words for what differs. An empty ``runs`` stands for all. ``other_conduits`` are
    the names, by that in the model, of conduits taken instead. ``extra`` are its own costs by what
    they are for. ``job`` is None where it could not be read: ``problems`` say why. ``place`` says
    where it was given. ``parts`` are the numbers of the options that a combination is made of.
    """

    name: str
    job: Job | None
    changes: tuple[Phrase, ...] = ()
    work: tuple[tuple[frozenset[str], Work], ...] = ()
    other_conduits: Mapping[str, str] = field(default_factory=dict)
    lubricant: str = ""
    extra: Mapping[str, float] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    place: Problem = field(default_factory=lambda: Problem(""))
    parts: tuple[int, ...] = ()


Together = Callable[[frozenset[int]], tuple[tuple[GivenOption, ...], tuple[str, ...]]]
"""Combinations of the options but for some, by number, and sentences on what is left out."""


@dataclass(frozen=True, slots=True)
class GivenOptions:
    """Everything that is asked.

    ``together`` makes the combinations, once it is known which options fail alone; None where none
    are asked for. ``vault_length`` m is the length of a new vault along the route, None where it
    was not given.
    ``lubricant`` is the name of the one used as modeled. ``runs`` are all of the model file, where
    the job has only some of them.
    """

    options: tuple[GivenOption, ...]
    no_vault: tuple[NoVault, ...] = ()
    vault_length: float | None = None
    costs: Costs | None = None
    lubricant: str = ""
    together: Together | None = None
    runs: tuple[Run, ...] = ()
