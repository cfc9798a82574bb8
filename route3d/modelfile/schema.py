"""The whole model file, and the JSON Schema published from it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from route3d.modelfile.entries import BankEntry, CableEntry, ConduitEntry, RopeEntry, RunEntry
from route3d.modelfile.fields import Entry, Name, OneOf, Text
from route3d.modelfile.job_entries import PlanEntry, PracticeEntry, SiteEntry
from route3d.modelfile.tackle_entries import (
    AnchorEntry,
    MachineEntry,
    ReelEntry,
    RiggingEntry,
    SheaveEntry,
)
from route3d.units import SYSTEMS


class ModelEntry(Entry):
    """A route3d model file: one job."""

    title: Text = Field("", description="Title of the job. Default: the file name.")
    units: Annotated[str, OneOf(lambda: SYSTEMS)] = Field(
        description="Units of bare numbers and of reports: US or SI."
    )
    cable: dict[Name, CableEntry] = Field(min_length=1, description="Cable types, by name.")
    conduit: dict[Name, ConduitEntry] = Field(min_length=1, description="Conduits, by name.")
    rope: dict[Name, RopeEntry] = Field(default={}, description="Pulling ropes, by name.")
    machine: dict[Name, MachineEntry] = Field(default={}, description="Machines, by name.")
    sheave: dict[Name, SheaveEntry] = Field(default={}, description="Lead-off sheaves, by name.")
    anchor: dict[Name, AnchorEntry] = Field(default={}, description="Machine anchors, by name.")
    rigging: dict[Name, RiggingEntry] = Field(
        default={}, description="Rigging (fittings at the cable head), by name."
    )
    reel: dict[Name, ReelEntry] = Field(default={}, description="Cable reels, by name.")
    run: list[RunEntry] = Field(min_length=1, description="The runs.")
    bank: list[BankEntry] = Field(default=[], description="Duct banks.")
    site: SiteEntry = Field(
        default_factory=SiteEntry, description="Building meshes around the route."
    )
    practice: PracticeEntry = Field(
        default_factory=PracticeEntry, description="Rules and conventions used for this job."
    )
    plan: PlanEntry = Field(default_factory=PlanEntry, description="Allowances of the pull plan.")


DRAFT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of the model file.

    It knows every key, type and word; what hangs on units or on other parts of the file (limits,
    names, geometry) only the loader checks.
    """
    schema = _plain(ModelEntry.model_json_schema())
    for table in (schema, *schema["$defs"].values()):
        for key, field in table["properties"].items():
            field.setdefault("title", key.replace("_", " ").title())
    return {"$schema": DRAFT, **schema, "title": "route3d model file"}


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
