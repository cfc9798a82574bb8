"""Clashes as a BCF 2.1 file (buildingSMART): a topic, a camera and a picture for each.

Elements, their order and the patterns of GUIDs are those of the schemas markup.xsd and visinfo.xsd
of version 2.1, from memory. The same clashes give the same bytes: GUIDs are made from what clashes
and where, and the date is that of the document, else 2000-01-01.
"""

from __future__ import annotations

import datetime
import io
import uuid
import zipfile
from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from route3d.geometry.vectors import Floats
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.clearance.close_up import FIELD_OF_VIEW, CloseUp
from route3d.planning.clearance.issues import Issue, on_grid
from route3d.planning.clearance.job import NotJudged
from route3d.units import render, show

VERSION = "2.1"
NO_DATE = "2000-01-01T00:00:00Z"
"""The date of topics where the document of the job has none: not the hour of writing, so that the
same job gives the same file."""

_NAMESPACE = uuid.UUID("5d0c3e0e-7a44-4a5b-8f0e-9c1d6f3b2a71")
_TOOL = "route3d"
_KEYS = {"clash": "True", "close": "False", "inside?": "inside?"}
_STORED = (1980, 1, 1, 0, 0, 0)  # the first date a zip file can hold


def bcf_bytes(
    found: Sequence[Issue],
    views: Sequence[CloseUp],
    job: Job,
    system: str,
    pictures: Mapping[int, bytes],
    not_judged: Sequence[NotJudged] = (),
) -> bytes:
    """A zip file: every issue as a topic, in the order of their numbers, then what was not judged.

    ``views`` are their cameras, ``pictures`` their snapshots as PNG by number, ``system`` the units
    of texts; coordinates are in meters on the grid of the site. The same issues give the same
    bytes.
    """
    files: dict[str, bytes] = {"bcf.version": _version()}
    taken: dict[str, int] = {}
    for issue, view in zip(found, views, strict=True):
        topic = _guid(job, issue, taken)
        files[f"{topic}/markup.bcf"] = _markup(
            issue, job, system, topic, picture=issue.number in pictures
        )
        files[f"{topic}/viewpoint.bcfv"] = _viewpoint(issue, view, job, topic)
        if issue.number in pictures:
            files[f"{topic}/snapshot.png"] = pictures[issue.number]
    for number, one in enumerate(not_judged, len(found) + 1):
        topic = str(uuid.uuid5(_NAMESPACE, f"{job.title}|not judged|{one.name}"))
        files[f"{topic}/markup.bcf"] = _not_judged(one, number, job, system, topic)
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as target:
        for name, data in files.items():
            entry = zipfile.ZipInfo(name, _STORED)
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, data)
    return buffer.getvalue()


def _guid(job: Job, issue: Issue, taken: dict[str, int]) -> str:
    """The GUID of a topic: the same for the same clash, whatever else there is."""
    place = " ".join(f"{v:.2f}" for v in on_grid(job, issue.point))
    key = f"{job.title}|{issue.one}|{issue.other}|{_KEYS[issue.verdict]}|{place}"
    taken[key] = taken.get(key, 0) + 1
    return str(uuid.uuid5(_NAMESPACE, f"{key}|{taken[key]}"))


def _derived(topic: str, what: str) -> str:
    return str(uuid.uuid5(_NAMESPACE, f"{topic}|{what}"))


def _version() -> bytes:
    root = Element("Version", VersionId=VERSION)
    SubElement(root, "DetailedVersion").text = VERSION
    return _xml(root)


def _markup(issue: Issue, job: Job, system: str, topic: str, *, picture: bool) -> bytes:
    root = _topic(
        job,
        topic,
        "Clash",
        title=f"{issue.number}: {issue.title}",
        priority="High" if issue.severity == "stop" else "Normal",
        number=issue.number,
        label=issue.zone,
        text=describe(issue, job, system),
    )
    view = SubElement(root, "Viewpoints", Guid=_derived(topic, "viewpoint"))
    SubElement(view, "Viewpoint").text = "viewpoint.bcfv"
    if picture:
        SubElement(view, "Snapshot").text = "snapshot.png"
    return _xml(root)


def _not_judged(one: NotJudged, number: int, job: Job, system: str, topic: str) -> bytes:
    """A topic of what was not judged: it has no place, so no viewpoint."""
    said = f"{one.name} was not judged: {render(one.why, system)}."
    banner = example_banner(job.examples)
    return _xml(
        _topic(
            job,
            topic,
            "Not judged",
            title=f"{number}: {one.name} not judged",
            priority="High",
            number=number,
            label="not judged",
            text=f"{said} {banner}".strip(),
        )
    )


def _topic(
    job: Job,
    topic: str,
    kind: str,
    *,
    title: str,
    priority: str,
    number: int,
    label: str,
    text: str,
) -> Element:
    root = Element("Markup")
    head = SubElement(root, "Topic", Guid=topic, TopicType=kind, TopicStatus="Open")
    for name, value in (
        ("Title", title),
        ("Priority", priority),
        ("Index", str(number)),
        ("Labels", label),
        ("CreationDate", created(job)),
        ("CreationAuthor", job.document.made or _TOOL),
        ("Description", text),
    ):
        SubElement(head, name).text = value
    return root


_DATES = ("%Y-%m-%d", "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y")


def created(job: Job) -> str:
    """The date of the document as xs:dateTime; ``NO_DATE`` where it has none that is sure.

    Read are 2026-03-14, 14 March 2026 and March 14, 2026, but no date in figures that may be of
    day and month or of month and day.
    """
    for form in _DATES:
        try:
            day = datetime.datetime.strptime(job.document.date.strip(), form).date()
        except ValueError:
            continue
        return f"{day.isoformat()}T00:00:00Z"
    return NO_DATE


def describe(issue: Issue, job: Job, system: str) -> str:
    """What a coordinator must know of an issue, in one paragraph."""
    clearance = show(issue.distance, "diameter", system)
    place = ", ".join(show(v, "length", system) for v in issue.point)
    said = [
        f"{issue.severity.capitalize()}{f' ({issue.why})' if issue.why else ''}.",
        f"Clearance {clearance}" + (" (overlap)." if issue.clash else "."),
        f"Required: {show(issue.required, 'diameter', system)}." if issue.required else "",
        f"Run {issue.run}, station {show(issue.station, 'length', system)}.",
        f"Zone: {issue.zone}.",
        f"Model x, y, z: {place}.",
    ]
    if job.site.frame.origin is not None:
        grid = ", ".join(show(v, "length", system) for v in on_grid(job, issue.point))
        said.append(f"Grid x, y, z: {grid}.")
    said.append(example_banner(job.examples))
    return " ".join(text for text in said if text)


def _viewpoint(issue: Issue, view: CloseUp, job: Job, topic: str) -> bytes:
    root = Element("VisualizationInfo", Guid=_derived(topic, "viewpoint"))
    components = SubElement(root, "Components")
    selection = SubElement(components, "Selection")
    for guid in issue.guids:
        SubElement(selection, "Component", IfcGuid=guid)
    for name in (issue.one, *(() if issue.guids else (issue.other,))):
        own = SubElement(selection, "Component")
        SubElement(own, "OriginatingSystem").text = _TOOL
        SubElement(own, "AuthoringToolId").text = name
    SubElement(components, "Visibility", DefaultVisibility="true")
    camera = SubElement(root, "PerspectiveCamera")
    eye = _triple(on_grid(job, _triple(view.eye)))
    _point(camera, "CameraViewPoint", eye)
    _point(camera, "CameraDirection", _triple(view.forward))
    _point(camera, "CameraUpVector", _triple(view.up))
    SubElement(camera, "FieldOfView").text = f"{FIELD_OF_VIEW:g}"
    return _xml(root)


def _triple(values: Floats | Sequence[float]) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in values)
    return x, y, z


def _point(parent: Element, name: str, values: Sequence[float]) -> None:
    point = SubElement(parent, name)
    for axis, value in zip("XYZ", values, strict=True):
        SubElement(point, axis).text = f"{value:.9f}"


def _xml(root: Element) -> bytes:
    indent(root)
    data: bytes = tostring(root, encoding="utf-8", xml_declaration=True)
    return data
