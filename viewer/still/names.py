"""Names that no font of this machine can draw, given others before a picture is made."""

from __future__ import annotations

from dataclasses import replace

from route3d.drawing.pixels import undrawable
from route3d.model import CableSet, Job, Machine, Run


def drawable(job: Job) -> tuple[Job, dict[str, str]]:
    """The job with names that can be drawn, and which name stands for which; empty if all can.

    A vertex goes by its number then, anything else by what it is and a number.
    """
    plain = _Plain()
    runs = tuple(_run(run, plain) for run in job.runs)
    banks = tuple(replace(bank, run=plain.given.get(bank.run, bank.run)) for bank in job.banks)
    title = plain.name(job.title, "job")
    if not plain.given:
        return job, {}
    return replace(job, title=title, runs=runs, banks=banks), plain.given


class _Plain:
    """The names given so far: the same name is given the same one again."""

    def __init__(self) -> None:
        self.given: dict[str, str] = {}
        self.counts: dict[str, int] = {}

    def name(self, name: str, kind: str) -> str:
        if not undrawable(name):
            return name
        if name not in self.given:
            self.counts[kind] = self.counts.get(kind, 0) + 1
            self.given[name] = f"{kind} {self.counts[kind]}"
        return self.given[name]


def _run(run: Run, plain: _Plain) -> Run:
    route = run.route
    vertices = list(route.vertices)
    ends = {end.name: end for end in run.ends}
    for i, vertex in enumerate(vertices):
        if undrawable(vertex.name):
            number = f"point {i + 1}"
            # The route then goes by its number; an end of its own equipment needs it as its name.
            vertices[i] = replace(vertex, name=number if vertex.name in ends else "")
            if vertex.name in ends:
                ends[vertex.name] = replace(ends[vertex.name], name=number)
            plain.given.setdefault(vertex.name, number)
    conduits = {c: replace(c, name=plain.name(c.name, "conduit")) for c in route.conduits}
    items = tuple((replace(c, name=plain.name(c.name, "cable")), n) for c, n in run.cables.items)
    rope = run.rope
    return replace(
        run,
        name=plain.name(run.name, "run"),
        cables=CableSet(items),
        route=replace(
            route, vertices=tuple(vertices), conduits=tuple(conduits[c] for c in route.conduits)
        ),
        rope=None if rope is None else replace(rope, name=plain.name(rope.name, "rope")),
        machine=_machine(run.machine, plain),
        ends=tuple(replace(end, machine=_machine(end.machine, plain)) for end in ends.values()),
    )


def _machine(machine: Machine | None, plain: _Plain) -> Machine | None:
    return None if machine is None else replace(machine, name=plain.name(machine.name, "machine"))
