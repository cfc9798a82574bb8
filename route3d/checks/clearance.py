"""What a conduit keeps clear of, against what is asked for: clashes, and places that are too close.

Only what the model file asks for is judged. Published separations (from steam, gas, communications)
depend on code, voltage and use, and none is applied.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from route3d.checks.finding import Finding
from route3d.phrase import literal, say

TOUCH = 1e-4
"""Less overlap or shortfall than this is none, m: meshes in single precision are no finer."""
_THROUGH = 1e-6
_GEOMETRY = "geometry: the conduit's outside against the surfaces of the mesh"
_BETWEEN = "geometry: the outsides of the two conduits"
_BODIES = "geometry: the outsides of the two"
_BODY = "geometry: the outside of the body against the surfaces of the mesh"
_MOVED = {"concrete": "bank"}
RUN = "run"
"""The subject of what is measured along a conduit."""


@dataclass(frozen=True, slots=True)
class NearPlace:
    """Stations ``start`` to ``end`` m, nearest at ``station``: ``distance`` m there.

    From surface to surface, negative where they overlap. ``gap`` is that of the centerline: 0
    where it goes through a mesh. ``what`` names the meshes or the run, the nearest first.
    ``point`` (x, y, z m) is where; None for on the centerline at the station.
    """

    start: float
    end: float
    station: float
    distance: float
    gap: float
    what: tuple[str, ...]
    point: tuple[float, float, float] | None = None

    @property
    def depth(self) -> float:
        """How deep the conduit is in what it clashes with, m; 0 where it is clear of it."""
        return max(-self.distance, 0.0)


@dataclass(frozen=True, slots=True)
class Met:
    """One run against one thing: ``name``, such as "hot pipe" or "run F2".

    ``required`` is the clearance asked for, m, and ``nearest`` the least that was found where it
    counts, None where nothing counts. ``short`` is too close without a clash; ``at_ends`` would be
    a clash or too close, but at an end or pull point, where conduits come to what they end at;
    ``inside`` lies within a closed body, with ``distance`` minus the depth of the surface; where it
    is said to be ``solid`` that is a clash, from where the conduit enters to where it leaves.

    ``kind`` is "mesh", "run", or that of a body, such as "concrete". ``subject`` is what is
    measured: "run", or the kind of a body. ``severity`` is that of too little clearance, which
    ``source`` asks for. Where the place or the size of one of the two is not given (``assumed``),
    a clash is no more than a caution.
    """

    name: str
    kind: str
    required: float
    nearest: NearPlace | None
    clashes: tuple[NearPlace, ...] = ()
    short: tuple[NearPlace, ...] = ()
    at_ends: tuple[NearPlace, ...] = ()
    inside: tuple[NearPlace, ...] = ()
    solid: bool | None = None
    subject: str = RUN
    severity: str = "stop"
    source: str = ""
    assumed: bool = False

    @property
    def is_run(self) -> bool:
        """True where it is a run or its ducts."""
        return self.kind == "run"


def check_met(met: Met) -> tuple[Finding, ...]:
    """Every clash and every place that is too close; one "ok" where there is none.

    Parameters
    ----------
    met : Met
        A run against one thing, m.

    Returns
    -------
    tuple of Finding
        In the order of the run.
    """
    found = [
        *(_clash(met, place) for place in met.clashes),
        *(_short(met, place, met.severity) for place in met.short),
        *(_at_end(met, place) for place in met.at_ends),
        *(_inside(met, place) for place in met.inside if met.solid is None),
    ]
    if not met.clashes and not met.short and met.nearest is not None:
        found.append(_short(met, met.nearest, "ok"))
    return tuple(found)


def _clash(met: Met, place: NearPlace) -> Finding:
    away = (place.depth + met.required, "diameter+")
    within = met.solid and place in met.inside
    conduit, moved = met.subject == RUN, _MOVED.get(met.subject, met.subject)
    if within:
        fix = say(
            f"the {'conduit' if conduit else met.subject} is inside solid material: move the "
            f"{moved} {{}} clear of the surface" + (", or plan a sleeve" if conduit else ""),
            (met.required, "diameter+"),
        )
    elif met.kind != "mesh":
        fix = say(f"move {_either(met)} by {{}}", away)
    elif not conduit:
        fix = say(f"move the {moved} by {{}}, or plan a recess", away)
    elif place.gap < _THROUGH:
        fix = say(
            "the conduit passes right through: move the run, or plan an opening with a sleeve"
        )
    else:
        fix = say("move the run by {}, or plan a recess", away)
    rule = f"clash with {met.name}"
    source = (_GEOMETRY if conduit else _BODY) if met.kind == "mesh" else _BODIES
    if conduit and met.is_run:
        source = _BETWEEN
    severity, ratio = "stop", math.inf
    if met.assumed:
        severity, source = "caution", f"{source}; a place or size is not given"
    return Finding(
        rule,
        severity,
        _where(place),
        place.depth,
        0.0,
        "diameter",
        fix,
        source,
        place.station,
        ratio,
    )


def _either(met: Met) -> str:
    """Which of the two may be moved."""
    if met.subject == RUN and met.is_run:
        return "one of the two runs"
    if met.subject == met.kind:
        return "one of the two"
    return f"the {_MOVED.get(met.subject, met.subject)} or the {_MOVED.get(met.kind, met.kind)}"


def _short(met: Met, place: NearPlace, severity: str) -> Finding:
    away = (max(met.required - place.distance, 0.0), "diameter+")
    ratio = met.required / place.distance if place.distance > 0 else float(met.required > 0)
    source = met.source
    if met.required == 0:
        source = f"model file: no clearance required from {met.name}"
    if met.assumed and severity == "stop":
        severity = "caution"
    return Finding(
        f"clearance from {met.name}",
        severity,
        _where(place),
        place.distance,
        met.required,
        "diameter",
        say(f"move the {_MOVED.get(met.subject, met.subject)} away by {{}}", away)
        if severity != "ok"
        else say(""),
        source,
        place.station,
        ratio,
    )


def _at_end(met: Met, place: NearPlace) -> Finding:
    said = "touches" if place.distance < -TOUCH else "is close to"
    fix = say(f"verify that it {said} {literal(place.what[0])} only where it is meant to end")
    return Finding(
        f"at an end: {met.name}",
        "note",
        _where(place),
        place.distance,
        met.required,
        "diameter",
        fix,
        "model file: site.clearance_free_ends",
        place.station,
    )


def _inside(met: Met, place: NearPlace) -> Finding:
    fix = say(
        "set solid in site.context: true if the mesh is solid material (a clash), false if "
        "it encloses the air of a room (no clash)"
    )
    return Finding(
        "inside a closed surface",
        "caution",
        _where(place),
        -place.distance,
        math.nan,
        "radius",
        fix,
        _GEOMETRY if met.subject == RUN else _BODY,
        place.station,
    )


def _where(place: NearPlace) -> str:
    return f"station {{}}, {place.what[0]}"
