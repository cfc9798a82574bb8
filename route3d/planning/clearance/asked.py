"""Which clearance is asked for between two kinds of things, and how grave less of it is."""

from __future__ import annotations

from dataclasses import dataclass, replace

from route3d.model.site import BOX, BUILDING, CONCRETE, CONDUIT, Site, Surround

# What stands for good keeps the clearance of a class of meshes; a machine is there for a day.
_LASTING = (CONDUIT, CONCRETE, BOX)


@dataclass(frozen=True, slots=True)
class Asked:
    """The clearance ``least`` m, the ``severity`` where less is kept, and the key that asks."""

    least: float
    severity: str = "stop"
    source: str = ""


def asked_between(site: Site, one: str, other: str) -> Asked:
    """What is asked for between two kinds of our own things."""
    given = _given(site, one, other)
    if given is not None:
        return given
    if one == other == CONDUIT:
        asked = Asked(site.between_runs, "stop", "model file: site.clearance_between_runs")
        return _with_supports(asked, site)
    if CONDUIT in (one, other) and {one, other} <= set(_LASTING):
        return _with_supports(Asked(0.0), site)
    return Asked(0.0)


def asked_of_mesh(site: Site, kind: str, surround: Surround) -> Asked:
    """What is asked for between a kind of our own and the meshes of a class."""
    given = _given(site, kind, surround.kind or BUILDING)
    if given is not None:
        return given
    if kind in _LASTING:
        asked = Asked(surround.clearance, "stop", "model file: site.context, clearance of {}")
        # a building without a class is what supports are fixed to
        return _with_supports(asked, site) if kind == CONDUIT and surround.kind else asked
    return Asked(0.0)


def _with_supports(asked: Asked, site: Site) -> Asked:
    """The clearance asked for, or the room for the supports of a conduit where that is more."""
    if site.support_room <= asked.least:
        return asked
    return Asked(site.support_room, "stop", "model file: site.support_room")


def _given(site: Site, one: str, other: str) -> Asked | None:
    for asked in site.clearances:
        if sorted(asked.between) == sorted((one, other)):
            said = f"model file: site.clearance between {' and '.join(asked.between)}"
            return Asked(asked.least, asked.severity, said)
    return None


def named(asked: Asked, name: str) -> Asked:
    """The same with the name of what asks for it in its source."""
    return replace(asked, source=asked.source.replace("{}", name))
