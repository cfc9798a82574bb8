"""Routes from LandXML: alignments in plan with their profiles, made bends in space."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, fromstring

import numpy as np

from route3d.disk import declares_entities, read_bytes
from route3d.formats.exchange import (
    LARGEST_FILE,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    meters_per_unit,
    placed,
    refuse_empty,
    without_doubles,
)
from route3d.formats.landxml.arcs import bent_route
from route3d.formats.landxml.plan import AlignmentPlan, local, plan_of, points_by_name
from route3d.formats.landxml.profile import (
    AlignmentProfile,
    Rounded,
    level_profile,
    profile_of,
    rounded,
)
from route3d.geometry.vectors import Floats
from route3d.modelfile.fields import nearest

# As a tree, an element takes a hundred times the room of its shortest tag.
MOST_ELEMENTS = 1_500_000
# Making bends takes 2 ms an element.
MOST_BENT = 3_000
_BENT = {"Line", "Curve", "Spiral", "PVI", "ParaCurve", "UnsymParaCurve", "CircCurve"}
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


def read_landxml(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the alignments of a LandXML file, each with its first design profile, as routes.

    Lines, curves, spirals (clothoids) and irregular lines in plan; grade lines, parabolic and
    circular curves in profile. ``options.layers`` names the alignments wanted. Raises InputError
    for what is no LandXML, for elements that do not join, and for units not known.
    """
    root = parsed(path)
    meters = meters_per_unit(options, linear_unit(root), path)
    alignments = [e for e in root.iter() if local(e) == "Alignment"]
    wanted, passed = _wanted(alignments, options.layers, path)
    refuse_empty(wanted, path, "alignment")
    _refuse_crowd(wanted, options, path)
    named = points_by_name(root)
    routes, used, guessed = [], [], []
    ignored = [*_others(root), *(f"alignment {n!r}, not requested" for n in passed[:25])]
    for element in wanted:
        name = element.get("name", "").strip() or path.stem
        plan = plan_of(element, named, meters, options, path, name)
        profile, said = profile_of(element, meters, path, name)
        route, notes = _route(name, plan, profile, meters, options, path)
        routes.append(route)
        used.append(_summary(name, plan, profile))
        ignored += [f"{name}: {s}" for s in (*plan.ignored, *said)]
        guessed += [f"{name}: {s}" for s in (*plan.guessed, *notes)]
    return ImportedRoutes(tuple(routes), tuple(used), tuple(ignored), tuple(guessed), meters)


def parsed(path: Path) -> Element:
    """The root of a LandXML file; InputError for what is none."""
    data = read_bytes(path, limit=LARGEST_FILE)
    if declares_entities(data):
        raise bad_file(path, "declares entities, which LandXML does not use", "export it again")
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
            path,
            f"is XML, but <{local(root)[:40]}>, not LandXML",
            "check that this is the right file",
        )
    return root


def linear_unit(root: Element) -> str | None:
    """The unit of length of a file, a key of ``METERS``; None where it names none that is known."""
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
    """The elements beside the alignments, counted by kind."""
    counts = Counter(local(e) for e in root if local(e) not in _KNOWN)
    return [counted(n, f"element {kind}", f"elements {kind}") for kind, n in sorted(counts.items())]


def _summary(name: str, plan: AlignmentPlan, profile: AlignmentProfile | None) -> str:
    kinds = ", ".join(f"{n} {kind}" for kind, n in plan.kinds.items())
    levels = "" if profile is None else f"; profile of {counted(len(profile.stations), 'point')}"
    curves = "" if profile is None else f", {counted(profile.curves, 'vertical curve')}"
    return f"{name}: {kinds}{levels}{curves}"


def _rounding(made: Rounded) -> str:
    change = f"a grade break of {abs(made.change) * 100:.2g} %"
    said = f"{change} in a curve, at station {made.station:.3f} m, rounded over {made.length:.2g} m"
    return f"{said}: maximum deviation {made.off * 1000:.2g} mm"


def _refuse_crowd(alignments: Sequence[Element], options: ReadOptions, path: Path) -> None:
    """InputError for more elements than can be made bends while a person waits."""
    parts = (part for one in alignments for part in one.iter())
    count = sum(local(part) in _BENT for part in parts)
    if options.recognize and count > MOST_BENT:
        said = f"has {count:,} elements in its alignments; the maximum is {MOST_BENT:,}"
        raise bad_file(path, said, "select some with --layer, or read chords with --keep-facets")


def _route(
    name: str,
    plan: AlignmentPlan,
    profile: AlignmentProfile | None,
    meters: float,
    options: ReadOptions,
    path: Path,
) -> tuple[ExchangeRoute, list[str]]:
    """The route of a plan and its profile: bends, or points close together where those are asked.

    Points too where its elements are lines through points, in which bends are looked for later.
    """
    notes: list[str] = []
    if profile is None and not plan.has_levels:
        notes.append("no profile and no elevations: z set to 0")
        profile = level_profile(plan.stations)
    radii: Floats | None = None
    if profile is None:
        notes.append("no profile: elevations of its points used")
        points = np.column_stack((plan.points, plan.levels))
    else:
        low, high = _span(plan, profile, notes)
        if options.recognize and "IrregularLine" not in plan.kinds:
            profile, breaks = rounded(profile, plan.curved, options.arc_tolerance / 2)
            notes += map(_rounding, breaks)
            left = options.arc_tolerance - max((b.off for b in breaks), default=0.0)
            bent = bent_route(plan, profile, low, high, left)
            points, radii = bent.points, bent.radii
            if bent.off > 1e-7:
                notes.append(f"bends as 3D arcs, maximum deviation {bent.off * 1000:.2g} mm")
        else:
            stations = _stations(plan, profile, low, high)
            points = np.column_stack((plan.at(stations), profile.level(stations)))
    moved = placed(points / meters, meters, options, path)
    if radii is None:
        moved, _ = without_doubles(moved)  # places where both plan and profile change
        radii = np.zeros(len(moved))
    if len(moved) < 2:
        raise bad_file(path, f"has the alignment {name!r} with zero length", "export it again")
    return ExchangeRoute(name, moved, radii), notes


def _span(plan: AlignmentPlan, profile: AlignmentProfile, notes: list[str]) -> tuple[float, float]:
    """The stations (m) that have both plan and profile, and a note on those that have not."""
    low = max(float(plan.stations[0]), float(profile.stations[0]))
    high = min(float(plan.stations[-1]), float(profile.stations[-1]))
    missing = float(plan.stations[-1] - plan.stations[0]) - (high - low)
    if missing > 1e-6:
        notes.append(f"{missing:.3f} m of the alignment beyond its profile omitted")
    return low, high


def _stations(plan: AlignmentPlan, profile: AlignmentProfile, low: float, high: float) -> Floats:
    """Stations (m) to sample between two."""
    every = np.unique(np.concatenate((plan.stations, profile.samples(), [low, high])))
    inside: Floats = every[(every >= low) & (every <= high)]
    return inside
