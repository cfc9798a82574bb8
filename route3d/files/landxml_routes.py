"""Routes from LandXML: alignments in plan with their profiles, made points close together.

Plan and profile together are no arcs in space but for level curves, so both are sampled; the
recognition of bends that follows tells how far its arcs are off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast
from xml.etree.ElementTree import Element, ParseError, fromstring

import numpy as np

from route3d.files.exchange import (
    LARGEST_FILE,
    ExchangeRoute,
    Reading,
    ReadOptions,
    bad_file,
    counted,
    metres_per_unit,
    placed,
    refuse_empty,
    without_doubles,
)
from route3d.files.fields import nearest
from route3d.files.landxml_plan import Plan, local, plan_of, points_by_name
from route3d.files.landxml_profile import Profile, profile_of
from route3d.files.reading import read_bytes

# As a tree, an element takes a hundred times the room of its shortest tag.
MOST_ELEMENTS = 1_500_000
_UNITS = {
    "meter": "m",
    "metre": "m",
    "millimeter": "mm",
    "centimeter": "cm",
    "kilometer": "km",
    "foot": "ft",
    "inch": "in",
    "ussurveyfoot": "us-ft",
}


def read_landxml(path: Path, options: ReadOptions) -> Reading:
    """Read the alignments of a LandXML file, each with its first design profile, as routes.

    Lines, curves, spirals (clothoids) and irregular lines in plan; grade lines, parabolic and
    circular curves in profile. ``options.layers`` names the alignments wanted. Raises InputError
    for what is no LandXML, for elements that do not join, and for units not known.
    """
    root = _parsed(path)
    metres = metres_per_unit(options, _unit(root), path)
    alignments = [e for e in root.iter() if local(e) == "Alignment"]
    wanted, passed = _wanted(alignments, options.layers, path)
    refuse_empty(wanted, path, "alignment")
    named = points_by_name(root)
    routes, used, guessed = [], [], []
    ignored = [*_others(root), *(f"alignment {n!r}, not asked for" for n in passed[:25])]
    for element in wanted:
        name = element.get("name", "").strip() or path.stem
        plan = plan_of(element, named, metres, options, path, name)
        profile, said = profile_of(element, metres, path, name)
        route, notes = _route(name, plan, profile, metres, options, path)
        routes.append(route)
        used.append(_summary(name, plan, profile))
        ignored += [f"{name}: {s}" for s in (*plan.ignored, *said)]
        guessed += [f"{name}: {s}" for s in (*plan.guessed, *notes)]
    return Reading(tuple(routes), tuple(used), tuple(ignored), tuple(guessed))


def _parsed(path: Path) -> Element:
    data = read_bytes(path, limit=LARGEST_FILE)
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data or "<!DOCTYPE".encode("utf-16-le") in data:
        raise bad_file(path, "declares entities, which no LandXML file needs", "export it again")
    if data.count(b"<") > 2 * MOST_ELEMENTS:
        said = f"has more than {MOST_ELEMENTS:,} elements"
        raise bad_file(path, said, "export the alignments alone, without surfaces")
    try:
        root = fromstring(data)
    except ParseError as error:
        said = f"is not XML: {error.msg.split(':')[0]}"
        raise bad_file(path, said, "export it again", error.position[0]) from None
    except (ValueError, LookupError, RecursionError) as error:  # an encoding that is none
        raise bad_file(path, f"is not XML: {error}", "export it again") from None
    if local(root) != "LandXML":
        raise bad_file(
            path, f"is XML, but of <{local(root)[:40]}>, not LandXML", "is it the right file?"
        )
    return root


def _unit(root: Element) -> str | None:
    for units in root:
        if local(units) == "Units":
            for system in units:
                given = system.get("linearUnit")
                if given is not None:
                    return _UNITS.get(given.lower())
    return None


def _wanted(
    alignments: Sequence[Element], layers: Sequence[str], path: Path
) -> tuple[list[Element], list[str]]:
    """The alignments asked for, and the names of the others."""
    if not layers:
        return list(alignments), []
    names = [e.get("name", "").strip() for e in alignments]
    for layer in layers:
        if layer not in names:
            raise bad_file(path, f"has no alignment {layer!r}", nearest(layer, names))
    pairs = list(zip(alignments, names, strict=True))
    return [e for e, n in pairs if n in layers], [n for _, n in pairs if n not in layers]


_KNOWN = {"Units", "Project", "Application", "Alignments", "CgPoints", "CoordinateSystem"}


def _others(root: Element) -> list[str]:
    """What stands beside the alignments, counted by kind."""
    counts = Counter(local(e) for e in root if local(e) not in _KNOWN)
    return [counted(n, f"element {kind}", f"elements {kind}") for kind, n in sorted(counts.items())]


def _summary(name: str, plan: Plan, profile: Profile | None) -> str:
    kinds = ", ".join(f"{n} {kind}" for kind, n in plan.kinds.items())
    levels = "" if profile is None else f"; profile of {counted(len(profile.stations), 'point')}"
    curves = "" if profile is None else f", {counted(profile.curves, 'vertical curve')}"
    return f"{name}: {kinds}{levels}{curves}"


def _route(
    name: str,
    plan: Plan,
    profile: Profile | None,
    metres: float,
    options: ReadOptions,
    path: Path,
) -> tuple[ExchangeRoute, list[str]]:
    """The route of a plan and its profile, sampled at all places where either changes."""
    notes: list[str] = []
    if profile is None:
        points = np.column_stack((plan.points, plan.levels))
        if plan.has_levels:
            notes.append("no profile: levels are those of its points")
        else:
            notes.append("no profile and no levels: z is 0")
    else:
        stations, notes = _stations(plan, profile)
        flat = plan.at(stations)
        points = np.column_stack((flat, profile.level(stations)))
    moved = placed(points / metres, metres, options, path)
    kept, _ = without_doubles(moved)  # places where both plan and profile change
    if len(kept) < 2:
        raise bad_file(path, f"has the alignment {name!r} of no length", "export it again")
    return ExchangeRoute(name, kept, np.zeros(len(kept))), notes


def _stations(plan: Plan, profile: Profile) -> tuple[Any, list[str]]:
    """Stations (m) to sample, and what to say of the parts without a profile."""
    low = max(float(plan.stations[0]), float(profile.stations[0]))
    high = min(float(plan.stations[-1]), float(profile.stations[-1]))
    every = np.unique(np.concatenate((plan.stations, profile.samples(), [low, high])))
    inside = every[(every >= low) & (every <= high)]
    missing = float(plan.stations[-1] - plan.stations[0]) - (high - low)
    notes = []
    if missing > 1e-6:
        notes.append(f"{missing:.3f} m of the alignment beyond its profile left out")
    return cast(Any, inside), notes
