"""The record holds the readings against the plan, and says nothing that nobody read or wrote."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from route3d import load
from route3d.api import plan
from route3d.field.details import ChangeFromPlan, Details, StopNote, UsedLubricant
from route3d.field.readings import Event, PullLog
from route3d.field.record import PullRecord, readings_hash, record_data, record_of
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan
from route3d.units import render

HASHES = ("m" * 64, "p" * 64, "l" * 64, "")


@cache
def _planned(feed: str = "roof switchroom") -> tuple[Job, Plan]:
    job = load("models/riser_duct_bank.toml")
    return job, plan(job, feed=feed).plans[0]


def _log(factor: float = 1.0, **more: object) -> PullLog:
    """The rows of the gauge table, read ``factor`` times as high as expected."""
    _, made = _planned()
    n = len(made.gauge)
    given = {
        "name": "F1.csv",
        "pulled": np.array([row.pulled for row in made.gauge]),
        "load": np.array([row.expected for row in made.gauge]) * factor,
        "time": np.arange(n) * 60.0,
        "gear": tuple(row.gear.name if row.gear else "" for row in made.gauge),
        "used": np.ones(n, dtype=bool),
        "flags": ((),) * n,
        "row": np.arange(2, n + 2),
        "run": "F1",
        "feed": "roof switchroom",
        "started": "2026-11-24T07:00:00-05:00",
    }
    return PullLog(**given | more)  # type: ignore[arg-type]


def _record(log: PullLog, details: Details | None = None) -> PullRecord:
    job, made = _planned()
    return record_of(job, made, log, details or Details(), hashes=HASHES)


def _departures(record: PullRecord) -> str:
    return " | ".join(render(phrase, "US") for phrase in record.departures)


def test_a_pull_as_planned_has_the_loads_of_the_gauge_table_and_no_departure() -> None:
    _, made = _planned()
    record = _record(_log())
    assert record.expected == pytest.approx([r.expected for r in made.gauge], rel=1e-9)
    assert record.stop == pytest.approx([r.stop for r in made.gauge], rel=1e-9)
    assert record.caution == pytest.approx([r.caution for r in made.gauge], rel=1e-9)
    assert set(record.above) == {""} and not record.stop_passed
    assert record.departures == ()
    assert record.peak == int(np.argmax([r.expected for r in made.gauge]))
    assert record.times == ("07:00", f"07:{len(made.gauge) - 1:02d}")


def test_stop_is_passed_by_a_reading_that_can_be_believed_alone() -> None:
    _, made = _planned()
    row = 1  # where the sidewall limit of a first move is reached at a higher reading
    load = np.array([r.expected for r in made.gauge])
    load[row] = made.gauge[row].stop * 1.01
    passed = _record(_log(load=load))
    assert passed.stop_passed and passed.above[row] == "stop" and passed.peak == row
    assert "Stop was passed" in _departures(passed)
    flags: list[tuple[str, ...]] = [()] * len(load)
    flags[row] = ("spike",)
    doubtful = _record(_log(load=load, flags=tuple(flags)))
    assert not doubtful.stop_passed and not doubtful.stop_doubtful and doubtful.peak != row
    assert "Above Stop, but not believed (spike)" in _departures(doubtful)
    tare = load[row] * 0.05
    assert not _record(_log(load=load, tare=tare)).stop_passed


def test_stop_always_applies_and_at_stop_is_passed() -> None:
    _, made = _planned()
    row = 1
    load = np.array([r.expected for r in made.gauge])
    cases: dict[tuple[str, ...], tuple[bool, bool]] = {
        (): (True, False),
        ("before the start",): (True, False),
        ("at standstill",): (True, False),
        ("first move",): (True, False),  # where that of a first move is higher
        ("saturated", "first move"): (True, False),
        ("stuck",): (False, True),
        ("footage back",): (False, True),
        ("spike", "at standstill"): (False, False),
    }
    for flags, told in cases.items():
        given: list[tuple[str, ...]] = [()] * len(load)
        given[row] = flags
        for share, reached in ((0.999, False), (1.0, True)):
            load[row] = made.gauge[row].stop * share
            log = _log(load=load, flags=tuple(given))
            record = _record(log)
            found = record.stop_passed, record.stop_doubtful
            assert found == (told if reached else (False, False)), (flags, share)
            assert record.stop[row] <= made.gauge[row].stop * (1 + 1e-9)


def test_departures_that_the_log_shows() -> None:
    job, made = _planned()
    length = made.pull.path.length
    gears = tuple(
        "low" if 20 < p < 60 else g for p, g in zip(_log().pulled, _log().gear, strict=True)
    )
    log = _log(
        3.5,
        gear=gears,
        events=(
            Event("brake", 0.0, 0.0, force=made.brake.at_most * 2),
            Event("stop", 30.0, 600.0, "radio"),
            Event("start", 30.0, 720.0),
        ),
        details=(("mark", "abcdef" * 8),),
    )
    keep = log.pulled < length - 5
    log = replace(
        log,
        **{name: getattr(log, name)[keep] for name in ("pulled", "load", "time", "used", "row")},
        gear=tuple(np.array(log.gear)[keep]),
        flags=((),) * int(keep.sum()),
    )
    cold = Details(cable_temperature=250.0, stops=(StopNote(31.0, "radio check", "low gear"),))
    run = made.pull.run
    items = tuple((replace(c, lowest_temperature=263.15), n) for c, n in run.cables.items)
    colder = replace(made.pull, run=replace(run, cables=replace(run.cables, items=items)))
    record = record_of(job, replace(made, pull=colder), log, cold, hashes=HASHES)
    told = _departures(record)
    for words in (
        "The log was kept by another plan, mark abcdefabcdef",
        "Above Caution: ",
        "Gear low from ",
        "Reels held with ",
        "Stopped at 98.4 ft of cable in, not planned. Reason: radio check.",
        "before the end.",
        "Pulled at -9.7 °F. The minimum for cable phase is 14.0 °F.",
    ):
        assert words in told, words
    (halt,) = record.halts
    assert (halt.seconds, halt.planned, halt.why, halt.restart) == (
        120.0, False, "radio check", "low gear",
    )  # fmt: skip


def test_the_other_end_and_a_pull_that_must_not_be_made_are_departures() -> None:
    job, made = _planned("vault V1")
    log = _log(feed="vault V1")
    record = record_of(job, made, log, Details(), hashes=HASHES)
    assert "Fed from vault V1. The plan feeds from roof switchroom." in _departures(record)
    assert ("must not be made" in _departures(record)) == made.stops


def test_what_is_not_known_stays_open() -> None:
    data = record_data(_record(_log(started="", time=np.full(len(_log()), np.nan))))
    assert (data["day"], data["started"], data["finished"]) == ("", "", "")
    assert data["temperature_K"] is None and data["jacket"] == ""
    assert data["lubricant"] == {"product": "", "lot": "", "quantity_m3": None, "how": ""}
    assert data["readings"][0]["time_s"] is None
    json.dumps(data, allow_nan=False)


def test_lubricant_and_conditions_come_from_details_then_from_the_log() -> None:
    poured = Event("lubricant", 0.0, 0.0, "gel")
    assert _record(_log(events=(poured,))).lubricant == "gel"
    assert _record(_log(events=(replace(poured, words=""),))).lubricant == "not named"
    details = Details(
        lubricant=UsedLubricant("wax"), temperature=280.0, jacket="PE",
        changes=(ChangeFromPlan("x", "y", "z"),),
    )  # fmt: skip
    record = _record(_log(events=(poured,)), details)
    assert (record.lubricant, record.temperature, record.jacket) == ("wax", 280.0, "PE")
    assert record.bank == "F1"


def test_the_hash_of_the_readings_is_that_of_the_pull_and_not_of_its_file() -> None:
    one = readings_hash(_log())
    assert one == readings_hash(_log(name="other.json", row=np.arange(len(_log())) + 9))
    assert one != readings_hash(_log(1.01))
    assert one != readings_hash(_log(started="2026-11-25T07:00:00-05:00"))


def test_rows_at_no_known_place_are_held_against_the_highest_stop() -> None:
    pulled = _log().pulled.copy()
    pulled[3], pulled[5] = np.nan, 500.0
    record = _record(_log(50.0, pulled=pulled))
    assert [record.above[i] for i in (3, 5)] == ["stop", "stop"] and record.stop_doubtful
    load = np.array([r.expected for r in _planned()[1].gauge])
    for share, doubtful in ((0.999, False), (1.0, True)):
        load[3] = max(r.stop for r in _planned()[1].gauge) * share
        assert _record(_log(load=load, pulled=pulled)).stop_doubtful is doubtful
    assert np.isnan(record.stop[[3, 5]]).all() and not record.believed[[3, 5]].any()


def test_the_brake_written_down_is_that_of_the_fit_unless_the_log_says_one() -> None:
    noted = Details(brake=1000.0)
    (event,) = noted.brake_in(_log()).events
    assert (event.kind, event.pulled, event.force) == ("brake", 0.0, 1000.0)
    told = _log(events=(Event("brake", 0.0, 0.0, force=1500.0),))
    assert noted.brake_in(told) is told and Details().brake_in(told) is told
