"""Routes from LandXML: alignments with their profiles, plan features and pipe networks."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, fromstring

import numpy as np

from route3d.disk import declares_entities, read_bytes
from route3d.errors import InputError
from route3d.formats.drawn_routes import WrittenVertex, with_marks
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
from route3d.formats.exchange import Element as Told
from route3d.formats.landxml.arcs import SHORTEST, bent_route
from route3d.formats.landxml.pipes import Sizes, network_routes
from route3d.formats.landxml.plan import AlignmentPlan, local, plan_of, points_by_name
from route3d.formats.landxml.profile import (
    AlignmentProfile,
    Rounded,
    level_profile,
    profile_of,
    rounded,
)
from route3d.formats.landxml.writing import CODE, DIAMETER, POINT
from route3d.geometry.recognize import MOST_POINTS, recognize
from route3d.geometry.vectors import Floats, norm
from route3d.modelfile.fields import nearest
from route3d.units import METERS

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


FLAT = "no profile and no elevations: z set to 0"
_LINES = ("Alignment", "PlanFeature")
_KINDS = {
    "Alignment": "alignment",
    "PlanFeature": "plan feature",
    "PipeNetwork": "pipe network",
}


@dataclass(eq=False, slots=True)
class _Report:
    """Routes and what there is to say, gathered element by element."""

    routes: list[ExchangeRoute] = field(default_factory=list)
    used: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    elements: list[Told] = field(default_factory=list)
    marks: list[WrittenVertex] = field(default_factory=list)


def read_landxml(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the alignments, plan features and pipe networks of a LandXML file as routes.

    Of an alignment: lines, curves, spirals (clothoids) and irregular lines in plan, with its first
    design profile: grade lines, parabolic and circular curves. A plan feature has the elevations
    of its points. In a network, structures are pull points. ``options.layers`` names those wanted.
    One that cannot be read is told as an element, and the others are read. Raises InputError for
    what is no LandXML, for units not known, and where nothing can be read.
    """
    root = parsed(path)
    meters = meters_per_unit(options, linear_unit(root), path)
    every = [e for e in root.iter() if local(e) in _KINDS]
    wanted, passed = _wanted(every, options.layers, path)
    refuse_empty(wanted, path, "alignment, plan feature or pipe network")
    _refuse_crowd(wanted, options, path)
    named = points_by_name(root)
    report = _Report()
    report.ignored += _others(root)
    report.ignored += [f"{_KINDS[local(e)]} {_name(e)!r}, not requested" for e in passed[:25]]
    errors: list[InputError] = []
    for element in wanted:
        name, kind = _name(element) or path.stem, local(element)
        try:
            if kind in _LINES:
                _read_line(element, name, named, meters, options, path, report)
            else:
                _read_network(element, name, named, _sizes(root, meters), options, path, report)
        except InputError as error:
            errors.append(error)
            said = "; ".join(p.message for p in error.problems)
            report.elements.append(Told(name, kind, "missing", f"not read: {said}", name))
    if not report.routes:
        if errors:
            raise errors[0]
        refuse_empty((), path, "alignment, plan feature or pipe with two ends")
    routes, lost = with_marks(report.routes, report.marks, options.tolerance)
    return ImportedRoutes(
        routes,
        tuple(report.used),
        (*report.ignored, *lost),
        tuple(report.guessed),
        meters,
        crs=_crs(root),
        elements=tuple(report.elements),
    )


def _read_line(
    element: Element,
    name: str,
    named: Mapping[str, str],
    meters: float,
    options: ReadOptions,
    path: Path,
    report: _Report,
) -> None:
    """An alignment with its profile, or a plan feature with the elevations of its points."""
    plan = plan_of(element, named, meters, options, path, name)
    profile, said = profile_of(element, meters, path, name)
    if local(element) == "PlanFeature" and _closed(plan, options):
        report.ignored.append(f"plan feature {name!r}: a closed line")
        return
    route, notes = _route(name, plan, profile, meters, options, path)
    marks, diameter = _told(element, route.name, meters, options)
    route, bends = _with_points(route, marks, options)
    report.routes.append(replace(route, outer_diameter=diameter))
    report.marks += marks
    report.used += [_summary(name, plan, profile), *(f"{name}: {said}" for said in bends)]
    report.ignored += [f"{name}: {s}" for s in (*plan.ignored, *said)]
    report.guessed += [f"{name}: {s}" for s in (*plan.guessed, *notes)]
    if FLAT in notes:
        x, y, z = route.points[0].tolist()
        report.elements.append(Told(name, local(element), "guessed", FLAT, name, name, (x, y, z)))


def _closed(plan: AlignmentPlan, options: ReadOptions) -> bool:
    ends = np.column_stack((plan.points, plan.levels))[[0, -1]]
    return float(norm(ends[1] - ends[0])) <= options.tolerance


def _read_network(
    element: Element,
    name: str,
    named: Mapping[str, str],
    sizes: Sizes,
    options: ReadOptions,
    path: Path,
    report: _Report,
) -> None:
    made = network_routes(element, named, sizes, options, path, name)
    report.routes += made.routes
    report.used += made.used
    report.guessed += made.guessed
    report.elements += made.elements


def _name(element: Element) -> str:
    return element.get("name", "").strip()


def _crs(root: Element) -> str:
    """The grid of a file as a job names it, "" where it says none."""
    for element in root:
        if local(element) == "CoordinateSystem":
            code = element.get("epsgCode", "").strip()
            return f"EPSG:{code}" if code.isdigit() else _name(element)
    return ""


# --- what route3d wrote beside a line ----------------------------------------------------------


def _told(
    element: Element, run: str, meters: float, options: ReadOptions
) -> tuple[list[WrittenVertex], float | None]:
    """The points that ``write_landxml`` named, and the outer diameter (m) if it gave one."""
    marks, diameter = [], None
    for feature in element:
        if local(feature) != "Feature" or feature.get("code") != CODE:
            continue
        for held in feature:
            label, value = held.get("label"), held.get("value", "")
            try:
                if label == POINT:
                    marks.append(_mark(json.loads(value), run, meters, options))
                elif label == DIAMETER and 0 < float(value) < math.inf:
                    diameter = float(value)
            except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
                continue  # another program's, or edited: the line itself is read all the same
    return marks, diameter


def _mark(
    said: Mapping[str, object], run: str, meters: float, options: ReadOptions
) -> WrittenVertex:
    """A point as it was told; ValueError, TypeError or KeyError for anything else."""
    raw = np.array(said["at"], dtype=np.float64)
    box = None if said["box_m"] is None else np.array(said["box_m"], dtype=np.float64)
    if raw.shape != (3,) or not (box is None or (box.shape == (3,) and (box > 0).all())):
        raise ValueError
    sides = None if box is None else (float(box[0]), float(box[1]), float(box[2]))
    point = options.local(raw[[1, 0, 2]], meters)
    access = frozenset(str(said["access"]).split()) & {"reel", "machine"}
    return WrittenVertex(point, run, str(said["name"]), access, str(said["conduit"]), sides)


def _with_points(
    route: ExchangeRoute, marks: Sequence[WrittenVertex], options: ReadOptions
) -> tuple[ExchangeRoute, list[str]]:
    """The route with a vertex for each mark on one of its straights; its chords made bends, told.

    The bends are looked for here where there are marks: that of a bend is not on its chords.
    """
    points, radii, tolerance = route.points, route.radii, options.tolerance
    for mark in marks:
        if float(norm(points - mark.point).min()) <= tolerance:
            continue
        legs = np.diff(points, axis=0)
        share = np.einsum("ij,ij->i", mark.point - points[:-1], legs) / (legs**2).sum(axis=1)
        off = norm(points[:-1] + np.clip(share, 0, 1)[:, None] * legs - mark.point)
        i = int(np.argmin(off))
        if off[i] <= tolerance:
            points = np.insert(points, i + 1, mark.point, axis=0)
            radii = np.insert(radii, i + 1, 0.0)
    if not marks or not options.recognize or radii.any() or len(points) > MOST_POINTS:
        return ExchangeRoute(route.name, points, radii), []
    there = np.array([mark.point for mark in marks])
    keep = norm(points[:, None] - there).min(axis=1) <= tolerance
    found = recognize(points, options.arc_tolerance, keep=keep)
    said = (
        f"{counted(found.arcs, 'bend')} recognized in {len(points):,} points; maximum deviation "
        f"{max(found.residual, 1e-7) * 1000:.4g} mm"
    )
    return ExchangeRoute(route.name, found.points, found.radii), [said] if found.arcs else []


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


def linear_unit(root: Element, key: str = "linearUnit") -> str | None:
    """The unit of length of a file, a key of ``METERS``; None where it names none that is known.

    ``key`` is the attribute that names it, ``diameterUnit`` for pipes.
    """
    for units in root:
        if local(units) == "Units":
            for system in units:
                given = system.get(key)
                if given is not None:
                    return _UNITS.get(given.lower())
    return None


def _sizes(root: Element, meters: float) -> Sizes:
    """The units of a file for parts of a network: those of lengths where it gives no others."""
    own = (linear_unit(root, f"{what}Unit") for what in ("diameter", "width", "height"))
    diameter, width, height = (METERS[unit] if unit else meters for unit in own)
    return Sizes(meters, diameter, width, height)


def _wanted(
    every: Sequence[Element], layers: Sequence[str], path: Path
) -> tuple[list[Element], list[Element]]:
    """The elements asked for by their names, and the others."""
    if not layers:
        return list(every), []
    names = [_name(e) for e in every]
    for layer in layers:
        if layer not in names:
            said = f"has no alignment, plan feature or pipe network {layer!r}"
            raise bad_file(path, said, nearest(layer, names))
    wanted = [e for e in every if _name(e) in layers]
    return wanted, [e for e in every if _name(e) not in layers]


_KNOWN = {"Units", "Project", "Application", "Alignments", "CgPoints", "CoordinateSystem"}
_KNOWN |= {"PlanFeatures", "PipeNetworks"}


def _others(root: Element) -> list[str]:
    """The elements beside those read, counted by kind."""
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
    count = 0
    for one in alignments:
        kinds = [local(part) for part in one.iter()]
        if "IrregularLine" not in kinds:  # whose bends are looked for in its points
            count += sum(kind in _BENT for kind in kinds)
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
    if profile is None and not plan.has_levels and np.ptp(plan.stations) < SHORTEST:
        raise bad_file(path, f"has {name!r} with zero length", "export it again")
    if profile is None and not plan.has_levels:
        notes.append(FLAT)
        profile = level_profile(plan.stations)
    radii: Floats | None = None
    if profile is None:
        notes.append("no profile: elevations of its points used")
        if plan.steps > options.tolerance:
            said = f"elevations differ by up to {plan.steps:.4g} m where its elements meet"
            notes.append(f"{said}: those at the ends of elements are used")
        points = np.column_stack((plan.points, plan.levels))
    else:
        low, high = _span(plan, profile, notes)
        if high - low < SHORTEST:
            said = f"has the alignment {name!r}, whose profile has none of its stations"
            raise bad_file(path, said, "check the stations of plan and profile")
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
