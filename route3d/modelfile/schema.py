"""The whole model file, and the JSON Schema published from it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel

from route3d.modelfile.entries import BankEntry, CableEntry, ConduitEntry, RopeEntry, RunEntry
from route3d.modelfile.fields import Entry, Name, OneOf, Text, key
from route3d.modelfile.job_entries import (
    DocumentEntry,
    PlanEntry,
    PracticeEntry,
    SiteEntry,
    SpreadEntry,
    VariantEntry,
)
from route3d.modelfile.tackle_entries import (
    AnchorEntry,
    CableReelEntry,
    MachineEntry,
    ReelEntry,
    RiggingEntry,
    SheaveEntry,
)
from route3d.units import SYSTEMS


class ModelEntry(Entry):
    """A route3d model file: one job."""

    title: Text = key("Title of the job. Default: the file name.", "")
    units: Annotated[str, OneOf(lambda: SYSTEMS)] = key(
        "Units of bare numbers and of reports: US or SI."
    )
    cable: dict[Name, CableEntry] = key("Cable types, by name.", min_length=1)
    conduit: dict[Name, ConduitEntry] = key("Conduits, by name.", min_length=1)
    rope: dict[Name, RopeEntry] = key("Pulling ropes, by name.", {})
    machine: dict[Name, MachineEntry] = key("Machines, by name.", {})
    sheave: dict[Name, SheaveEntry] = key("Lead-off sheaves, by name.", {})
    anchor: dict[Name, AnchorEntry] = key("Machine anchors, by name.", {})
    rigging: dict[Name, RiggingEntry] = key("Rigging (fittings at the cable head), by name.", {})
    reel: dict[Name, ReelEntry] = key("Cable reels, by name.", {})
    cable_reel: list[CableReelEntry] = key("Reels to cut the cable from.", [], max_length=1000)
    run: list[RunEntry] = key("The runs.", min_length=1)
    bank: list[BankEntry] = key("Duct banks.", [])
    site: SiteEntry = key("Building meshes around the route.", default_factory=SiteEntry)
    practice: PracticeEntry = key(
        "Rules and conventions used for this job.", default_factory=PracticeEntry
    )
    document: DocumentEntry = key(
        "Title block of reports and sheets.", default_factory=DocumentEntry
    )
    plan: PlanEntry = key("Allowances of the pull plan.", default_factory=PlanEntry)
    spread: SpreadEntry = key("Uncertain inputs.", default_factory=SpreadEntry)
    variant: list[VariantEntry] = key("Variants of the job to compare.", [], max_length=20)


DRAFT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of the model file.

    It knows every key, type and word; what hangs on units or on other parts of the file (limits,
    names, geometry) only the loader checks.
    """
    return schema_of(ModelEntry, "route3d model file")


def schema_of(model: type[BaseModel], title: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a file, with a title for every key."""
    schema = _plain(model.model_json_schema())
    for table in (schema, *schema["$defs"].values()):
        for name, field in table["properties"].items():
            field.setdefault("title", name.replace("_", " ").title())
    return {"$schema": DRAFT, **schema, "title": title}


def _plain(node: Any) -> Any:
    """The same schema without null, which TOML has not, and without choices of one."""
    if isinstance(node, list):
        return [_plain(item) for item in node]
    if not isinstance(node, dict):
        return node
    result = {k: _plain(v) for k, v in node.items() if v is not None}
    if "patternProperties" in result:  # pydantic's form lets other names through unchecked
        ((pattern, value),) = result.pop("patternProperties").items()
        names = {**result.get("propertyNames", {}), "pattern": pattern}
        result |= {"additionalProperties": value, "propertyNames": names}
    shapes = result.get("anyOf")
    if isinstance(shapes, list):
        shapes = [shape for shape in shapes if shape != {"type": "null"}]
        result["anyOf"] = shapes
        if len(shapes) == 1:
            del result["anyOf"]
            result = {**shapes[0], **result}
    return result
