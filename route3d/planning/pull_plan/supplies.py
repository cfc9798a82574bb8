"""What to bring: rope and the energy in it, lubricant, grips, sheaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.standards.practice import lubricant_volume, practice


@dataclass(frozen=True, slots=True)
class RopeNeed:
    """``length`` m of rope; at the worst moment it is loaded with ``load`` N, ``stretch`` m long.

    ``energy`` J is what it would release if it broke then: half the load times the stretch.
    """

    name: str
    length: float
    load: float
    stretch: float
    energy: float
    pulled: float


@dataclass(frozen=True, slots=True)
class Lubricant:
    """``volume`` m3 for one stretch of ``conduit`` of one bore, put in at ``entry``."""

    entry: str
    conduit: str
    length: float
    bore: float
    volume: float


@dataclass(frozen=True, slots=True)
class Supplies:
    """What to bring; ``lubricant_more`` is the share by which it may run over, by practice."""

    rope: RopeNeed | None
    lubricant: tuple[Lubricant, ...]
    lubricant_source: str
    lubricant_more: float
    fittings: tuple[str, ...]

    @property
    def lubricant_total(self) -> float:
        """All lubricant, m3."""
        return sum(part.volume for part in self.lubricant)


def supplies(
    pull: Pull, allowances: Allowances, starts: Sequence[tuple[float, float]] = ()
) -> Supplies:
    """What one pull needs; ``starts`` are planned first moves: cable in m, machine load N."""
    fact = practice("lubricant")
    return Supplies(
        rope=_rope(pull, allowances, starts),
        lubricant=_lubricant(pull),
        lubricant_source=str(fact.source),
        lubricant_more=practice("lubricant_spread").value,
        fittings=_fittings(pull),
    )


def _rope(
    pull: Pull, allowances: Allowances, starts: Sequence[tuple[float, float]]
) -> RopeNeed | None:
    """The rope and the moment at which it holds most energy.

    Stretch is straight with load: ``stretch`` at the rated load. The stored energy is T dL / 2
    (docs/theory.md section 8, from memory); the load at the machine is taken for the whole rope,
    which errs on the safe side.
    """
    rope = pull.run.rope
    if rope is None or pull.heads is None or pull.machine_loads is None:
        return None
    pulled = np.abs(pull.heads - pull.heads[0])
    at = np.concatenate((pulled, [place for place, _ in starts]))
    load = np.concatenate((pull.machine_loads, [force for _, force in starts]))
    stretch = rope.stretch * load / rope.rated_load * (pull.path.length - at + allowances.rope_tail)
    energy = load * stretch / 2
    worst = int(np.argmax(energy))
    return RopeNeed(
        name=rope.name,
        length=pull.path.length + allowances.rope_tail,
        load=float(load[worst]),
        stretch=float(stretch[worst]),
        energy=float(energy[worst]),
        pulled=float(at[worst]),
    )


def _lubricant(pull: Pull) -> tuple[Lubricant, ...]:
    """Q = k L D of each stretch of one bore, entered where it begins in pulling order.

    A stretch ends at every pull point, for lubricant can be put in there, and where the bore
    changes (Technical Talk XVII).
    """
    run, path = pull.run, pull.path
    legs = range(len(run.route.conduits))
    points = set(run.route.pull_points)
    parts: list[Lubricant] = []
    for leg in reversed(legs) if pull.reverse else legs:
        start = leg + 1 if pull.reverse else leg
        conduit = run.route.conduits[leg]
        length, entry = float(path.lengths[path.leg == leg].sum()), run.route.label(start)
        if parts and start not in points:
            entry = parts[-1].entry
            if conduit.label == parts[-1].conduit:
                length += parts.pop().length
        bore = conduit.inner_diameter
        parts.append(Lubricant(entry, conduit.label, length, bore, lubricant_volume(length, bore)))
    return tuple(parts)


def _fittings(pull: Pull) -> tuple[str, ...]:
    """Grips or eyes, swivel and sheaves by number (common practice, no source)."""
    run = pull.run
    count = run.cables.count
    if run.attach == "basket grip":
        heads = f"basket grip for the set of {count}" if count > 1 else "basket grip"
    else:
        heads = f"{count} pulling eye{'s' if count > 1 else ''} with links"
    found = [heads, "1 swivel"]
    turns = [turn for turn in run.lead_off if turn.sheave is not None]
    found += [f"sheave {turn.sheave.name} with fastening" for turn in turns if turn.sheave]
    found.append("feed-in sheave or guide, edge protection for both conduit ends")
    return tuple(found)
