"""The rope ahead of the cable: its load in the bends, wear of plastic ones, factor of safety."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from route3d.checks.finding import Finding, at_least, at_most
from route3d.geometry.path import ARC
from route3d.mechanics.pull import Pull
from route3d.mechanics.rope import BendLoad
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.phrase import say
from route3d.standards.practice import plastic_bend_length, rope_design_factor, rope_safety_factor

_NAN = float("nan")
_WEAR = "rope wear in a plastic bend"


def check_rope(pull: Pull) -> tuple[Finding, ...]:
    """What the rope does to the bends it runs through, and how far it is from parting.

    Parameters
    ----------
    pull : Pull
        One direction, solved.

    Returns
    -------
    tuple of Finding
        Bend by bend, then the rope's strength.
    """
    return (*_strength(pull), *_rating(pull), *_bends(pull))


# --- strength ------------------------------------------------------------------------------------


def _strength(pull: Pull) -> list[Finding]:
    """Breaking strength over the largest load.

    Below the factor asked of pulling ropes it is a stop; below that of rope makers and the Cordage
    Institute, which is asked of their working load, a caution.
    """
    rope, load = pull.run.rope, pull.machine_peak
    if rope is None or rope.breaking_strength is None or load is None or load <= 0:
        return []
    least, usual = rope_safety_factor(), rope_design_factor()
    has = rope.breaking_strength / load
    fact, broken = (usual, "caution") if has >= least.value * (1 - 1e-9) else (least, "stop")
    fix = say(
        f"use a rope with a breaking strength of at least {{}}: {fact.value:g} times this load",
        (fact.value * load, "force+"),
    )
    return [
        at_least(
            "rope factor of safety",
            f"{pull.run.name}, head at station {{}}",
            has,
            fact.value,
            "ratio",
            fix,
            str(fact.source),
            station=pull.machine_peak_head,
            broken=broken,
        )
    ]


def _rating(pull: Pull) -> list[Finding]:
    """A working load that the breaking strength does not allow."""
    rope = pull.run.rope
    if rope is None or rope.breaking_strength is None:
        return []
    fact = rope_safety_factor()
    allowed = rope.breaking_strength / fact.value
    fix = say(
        f"the working load given exceeds the breaking strength / {fact.value:g}: do not "
        "exceed {}, or check both values on the rope's tag",
        (allowed, "force"),
    )
    return [
        at_most(
            "rope working load",
            f"rope {rope.name}",
            rope.rated_load,
            allowed,
            "force",
            fix,
            str(fact.source),
            broken="caution",
            close=False,
        )
    ]


# --- in the bends -------------------------------------------------------------------------------


def rope_pressure(load: BendLoad, conduit: Conduit, practice: Practice) -> float:
    """Load of the rope per length on the inside of a bend, T/R in N/m.

    Parameters
    ----------
    load : BendLoad
        Rope in one bend.
    conduit : Conduit
        The conduit.
    practice : Practice
        Conventions and rules it is worked by.

    Returns
    -------
    float
        N/m
    """
    on_axis = practice.sidewall_radius == "centerline"
    radius = load.radius if on_axis else load.radius - conduit.inner_diameter / 2
    return load.tension / radius if radius > 0 else float("inf")


def _bends(pull: Pull) -> list[Finding]:
    """The rope in every bend; wear where the bend is plastic, or may be."""
    if pull.rope_phase is None:
        return []
    numbers = {
        int(pull.path.vertex[segment]): (number, int(segment))
        for number, segment in enumerate(np.flatnonzero(pull.path.kind == ARC), start=1)
    }
    found = []
    for load in pull.rope_phase.in_bends():
        number, segment = numbers[load.vertex]
        conduit = pull.run.route.conduits[int(pull.path.leg[segment])]
        where = pull.run.route.bend_label(number, load.vertex)
        station = float(pull.path.stations[segment])
        found.append(_bend(pull, load, conduit, where, station))
    return list(_worst_of_each(found))


def _worst_of_each(findings: list[Finding]) -> Iterator[Finding]:
    """Of findings alike in rule and severity the worst, with the number of bends they are about."""
    alike: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((finding.rule, finding.severity), []).append(finding)
    for group in alike.values():
        worst = max(group, key=lambda f: f.demand if math.isnan(f.ratio) else f.ratio)
        if len(group) > 1:
            more = say(f" (the worst of {len(group)} bends)")
            worst = replace(worst, fix=worst.fix + more)
        yield worst


def _bend(pull: Pull, load: BendLoad, conduit: Conduit, where: str, station: float) -> Finding:
    pressure = rope_pressure(load, conduit, pull.practice)
    if conduit.plastic is False or conduit.material == "fiberglass":
        fix = say("the largest rope load on the inside of this bend")
        return Finding(
            "rope in the bend",
            "ok",
            where,
            pressure,
            _NAN,
            "sidewall",
            fix,
            "statics, T/R",
            station,
        )
    return _wear(pull, load, conduit, where, station, pressure)


def _wear(
    pull: Pull, load: BendLoad, conduit: Conduit, where: str, station: float, pressure: float
) -> Finding:
    """A fiber rope cuts plastic bends: judged by its load and by the rope that slides through."""
    limit, far = pull.practice.rope_wear, plastic_bend_length()
    heavy = pressure > limit * (1 + 1e-9)
    long = load.slid > far.value * (1 + 1e-9)
    severity = "caution" if heavy or long else "ok"
    if conduit.plastic is None and severity == "caution":
        severity = "note"
    fix = say(
        "the rope presses on the inside of this bend with up to {} (caution from {}; common "
        "practice, no source) and {} of rope slides through (caution from {}): use a steel "
        "or fiberglass elbow here, a flat pulling tape, and lubricant on the rope",
        (pressure, "sidewall"),
        (limit, "sidewall"),
        (load.slid, "length"),
        (far.value, "length"),
    )
    if conduit.plastic is None:
        fix = say("if plastic (material not known): ") + fix
    # The rule that is further beyond its figure gives the number.
    ratio = max(pressure / limit, load.slid / far.value)
    by_length = not heavy and long
    return Finding(
        _WEAR,
        severity,
        where,
        load.slid if by_length else pressure,
        far.value if by_length else limit,
        "length" if by_length else "sidewall",
        fix,
        str(far.source) if by_length else "common practice, no source",
        station,
        ratio,
    )
