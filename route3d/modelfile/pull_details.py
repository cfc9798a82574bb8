"""The details file of a pull: what its crew writes down, read, or laid out to fill in."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError, model_validator

from route3d.disk import read_text
from route3d.errors import InputError
from route3d.field.details import (
    CableTest,
    ChangeFromPlan,
    Details,
    StopNote,
    UsedLubricant,
    UsedReel,
)
from route3d.model.run import Run
from route3d.modelfile.entries import jackets
from route3d.modelfile.fields import LeastForce, OneOf, Reads, Span, Temperature, Text, key
from route3d.modelfile.problems import Collector
from route3d.modelfile.read import LARGEST_FILE
from route3d.modelfile.toml_positions import Document, read_toml
from route3d.units import SYSTEMS

WHEN = ("before", "after")


def _as_text(value: Any) -> Any:
    """A date, a time or a number of TOML as the text of it."""
    plain = (datetime.date, datetime.time, int, float)
    return str(value) if isinstance(value, plain) and not isinstance(value, bool) else value


Volume = Annotated[float, Reads("volume", least=0, most=10.0)]
CableIn = Annotated[float, Reads("length", least=0, most=1e5)]
Words = Annotated[Text, BeforeValidator(_as_text)]


class _Details(BaseModel):
    """A table of the details file; what is left empty is not given."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _filled_in(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {k: v for k, v in value.items() if v not in ("", None)}


class ReelDetails(_Details):
    """One reel of the pull."""

    number: Words = key("Number of the reel.", "")
    cable: Words = key("Cable on it, as in the model.", "")
    lot: Words = key("Lot or batch of the maker.", "")
    length: Span | None = key("Length on the reel before the pull (US ft, SI m).", None)
    mark_head: Words = key("Footage mark on the jacket at the head.", "")
    mark_feed: Words = key("Footage mark on the jacket at the cut, feed end.", "")


class LubricantDetails(_Details):
    """The lubricant."""

    product: Words = key('Product; "none" if pulled dry.', "")
    lot: Words = key("Lot or batch.", "")
    quantity: Volume | None = key("Quantity used (US gal, SI L).", None)
    how: Words = key("Where and how it was put in.", "")


class StopDetails(_Details):
    """What was written of one stop."""

    at: CableIn = key("Cable in at the stop (US ft, SI m).")
    why: Words = key("Reason for the stop.", "")
    restart: Words = key("How it was restarted: gear, lubricant, who decided.", "")


class TestDetails(_Details):
    """One test of the cable."""

    what: Words = key("Test: insulation resistance, jacket integrity ...", "")
    when: Annotated[str, OneOf(lambda: WHEN)] = key("before or after the pull.", "")
    cable: Words = key("Cable or phase tested.", "")
    value: Words = key("Value read.", "")
    unit: Words = key("Unit of the value.", "")
    instrument: Words = key("Instrument and its number.", "")
    by: Words = key("Tested by.", "")
    date: Words = key("Date and time.", "")


class ChangeDetails(_Details):
    """One departure from the plan."""

    what: Words = key("What was done otherwise than planned.", "")
    why: Words = key("Reason.", "")
    agreed: Words = key("Agreed by.", "")


class PullDetailsEntry(_Details):
    """The whole details file."""

    units: Annotated[str, OneOf(lambda: SYSTEMS)] = key("Units of bare numbers, US or SI.", "SI")
    date: Words = key("Date of the pull, such as 2026-11-30.", "")
    started: Words = key("Time at the start.", "")
    finished: Words = key("Time at the end.", "")
    foreman: Words = key("Foreman.", "")
    operator: Words = key("Operator of the machine.", "")
    feed_end: Words = key("In charge at the feed end.", "")
    weather: Words = key("Weather.", "")
    temperature: Temperature | None = key("Air temperature (US °F, SI °C).", None)
    cable_temperature: Temperature | None = key("Temperature of the cable on the reel.", None)
    jacket: Annotated[str, OneOf(jackets)] = key("Jacket, if the model does not name it.", "")
    brake: LeastForce | None = key("Reel brake held, all reels together (US lbf, SI N).", None)
    brake_how: Words = key("How the reels were braked.", "")
    lubricant: LubricantDetails = key("The lubricant.", LubricantDetails())
    reel: list[ReelDetails] = key("The reels.", [], max_length=100)
    stop: list[StopDetails] = key("Notes on stops.", [], max_length=500)
    test: list[TestDetails] = key("Tests before and after.", [], max_length=500)
    departure: list[ChangeDetails] = key("Departures from the plan.", [], max_length=200)
    remarks: Words = key("Remarks.", "")


def read_details(path: Path, system: str) -> Details:
    """The details of a file; bare numbers are in its ``units``, else in those of ``system``.

    InputError with the line of every mistake.
    """
    return _details(read_toml(read_text(path, limit=LARGEST_FILE), str(path)), str(path), system)


def details_of_log(data: Any, name: str, system: str) -> Details:
    """The same keys as the page's log carries them; InputError naming the key of every mistake."""
    return _details(Document({} if data is None else data, {}, {}), name, system)


def _details(document: Document, name: str, system: str) -> Details:
    data = document.data
    units = data.get("units") if isinstance(data, dict) else None
    report = Collector(document, name)
    context = {"system": units if units in SYSTEMS else system}
    try:
        entry = PullDetailsEntry.model_validate(data, context=context)
    except ValidationError as error:
        report.add_all(error, PullDetailsEntry)
        raise InputError(report.in_order()) from None
    lists = {"lubricant", "reel", "stop", "test", "departure"}
    return Details(
        **entry.model_dump(exclude={"units", *lists}),
        lubricant=UsedLubricant(**entry.lubricant.model_dump()),
        reels=tuple(UsedReel(**line.model_dump()) for line in entry.reel if _said(line)),
        stops=tuple(StopNote(**line.model_dump()) for line in entry.stop),
        tests=tuple(CableTest(**line.model_dump()) for line in entry.test if _said(line)),
        changes=tuple(ChangeFromPlan(**c.model_dump()) for c in entry.departure if _said(c)),
    )


def _said(line: _Details) -> bool:
    """Whether anything is written of a reel, a test ... besides what the empty file has of it."""
    return bool(line.model_fields_set)


# --- an empty file to fill in ---------------------------------------------------------------------

TESTS = ("insulation resistance", "jacket integrity")


def details_template(run: Run, system: str) -> str:
    """A details file of a run to fill in: every key with what it is, one reel for each cable."""
    lines = [
        f"# Details of the pull of run {run.name}, for its as-pulled record. Leave empty what is",
        "# not known: it is printed as a blank to fill in by hand. Bare numbers: in these units.",
        f'units = "{system}"',
        "",
        *_empty(PullDetailsEntry),
        "",
        "[lubricant]",
        *_empty(LubricantDetails),
    ]
    cables = [cable.name for cable, count in run.cables.items for _ in range(count)]
    for number, cable in enumerate(cables, 1):
        lines += ["", "[[reel]]" + f"  # {number} of {len(cables)}"]
        lines += _empty(ReelDetails, {"cable": cable})
    lines += ["", "# One for each stop whose reason is to be in the record.", "# [[stop]]"]
    lines += [f"# {line}" for line in _empty(StopDetails)]
    for when in WHEN:
        for what in TESTS:
            lines += ["", "[[test]]", *_empty(TestDetails, {"what": what, "when": when})]
    lines += ["", "# One for each departure from the plan.", "# [[departure]]"]
    lines += [f"# {line}" for line in _empty(ChangeDetails)]
    return "\n".join(lines) + "\n"


def _empty(entry: type[_Details], given: Mapping[str, str] | None = None) -> Iterator[str]:
    for name, field in entry.model_fields.items():
        if name == "units" or name in ("lubricant", "reel", "stop", "test", "departure"):
            continue
        yield f'{name} = "{(given or {}).get(name, "")}"'.ljust(32) + f"# {field.description}"
