"""The smallest machine and rope that pass, of the job's own and of the tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from route3d.model.job import Job
from route3d.model.machine import Gear, Machine
from route3d.model.rope import Rope
from route3d.model.run import Run
from route3d.standards.stock import machine_named, names, rope_named
from route3d.study.limits.inputs import with_machine
from route3d.study.limits.outcome import FarthestValue, StockChoice
from route3d.study.limits.search import Judge

# Classes of machine are named by their pull in the units of the job.
_UNIT = {"US": " lbf", "SI": " kN"}


@dataclass(frozen=True, slots=True)
class Shelf:
    """What may be taken instead: machines and ropes of the job, and those of the tables."""

    own_machines: tuple[Machine, ...]
    own_ropes: tuple[Rope, ...]
    stock_machines: tuple[Machine, ...]
    stock_ropes: tuple[Rope, ...]

    @classmethod
    def of(cls, job: Job) -> Shelf:
        """The shelf of a job; classes of machine are those of its system of units."""
        runs = job.runs
        given = (
            *job.machines,
            *(r.machine for r in runs),
            *(e.machine for r in runs for e in r.ends),
        )
        unit = _UNIT[job.units]
        return cls(
            tuple(dict.fromkeys(m for m in given if m is not None)),
            tuple(dict.fromkeys(r.rope for r in runs if r.rope is not None)),
            tuple(_stock_machine(n) for n in names("machine") if unit in n),
            tuple(_stock_rope(n) for n in names("rope")),
        )


def _stock_machine(name: str) -> Machine:
    gears = machine_named(name).gears
    return Machine(name, tuple(Gear(pull, speed, gear) for gear, pull, speed in gears), stock=name)


def _stock_rope(name: str) -> Rope:
    facts = {key: fact.value for key, fact in rope_named(name).facts.items()}
    return Rope(
        name,
        facts["diameter"],
        facts["weight"],
        facts["friction"],
        facts["rated_load"],
        facts["stretch"],
        facts["breaking_strength"],
        stock=name,
    )


def with_choices(found: FarthestValue, run: Run, judge: Judge, shelf: Shelf) -> FarthestValue:
    """The answer for machine or rope with the smallest of each shelf that passes, solved whole."""
    if found.input == "machine":
        own, stock = (
            _smallest(((m.name, m.line_pull, with_machine(run, m)) for m in machines), judge)
            for machines in (shelf.own_machines, shelf.stock_machines)
        )
    else:
        own, stock = (
            _smallest(((r.name, r.rated_load, replace(run, rope=r)) for r in ropes), judge)
            for ropes in (shelf.own_ropes, shelf.stock_ropes)
        )
    return replace(found, own=own, stock=stock)


def _smallest(choices: Iterable[tuple[str, float, Run]], judge: Judge) -> StockChoice | None:
    """The first by its rating that passes; None where none does."""
    for name, rated, changed in sorted(choices, key=lambda choice: choice[1]):
        if judge.verdict(changed).passes:
            return StockChoice(name, rated)
    return None
