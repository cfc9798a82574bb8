"""What is wrong with a log is found row by row, told, and nothing else is touched."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.field.log.read import read_log
from route3d.field.log.stream import LogStream
from route3d.field.readings import PullLog, Reading
from route3d.modelfile.read import loads
from tests.support.log_files import (
    FOOT,
    MODEL,
    POUND,
    Line,
    job,
    recorded,
    riser_run,
    shifted,
    text_of,
    written,
)

HEADER = 1  # rows are lines of the file
BEFORE = {"before the start"}


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., PullLog]:
    def of(rows: list[Line], **more: object) -> PullLog:
        path = written(tmp_path / "pull.csv", rows)
        return read_log(path, job(), plan=riser_run(), **more)  # type: ignore[arg-type]

    return of


def flagged(log: PullLog) -> dict[str, list[int]]:
    """Rows of the recorder, from 0, by their flags; those of every start left out."""
    found: dict[str, list[int]] = {}
    for row, flags in zip(log.row.tolist(), log.flags, strict=True):
        for flag in flags:
            if flag not in ("before the start", "first move"):
                found.setdefault(flag, []).append(row - HEADER - 1)
    return found


def rules(log: PullLog) -> set[str]:
    return {d.rule for d in log.decisions} - {"header", "before the start", "first move", "tare"}


def test_a_sound_log_keeps_all_but_its_start(read: Callable[..., PullLog]) -> None:
    rows = recorded()
    log = read(rows)
    assert flagged(log) == {} and rules(log) == set()
    assert log.tare == pytest.approx(10 * POUND)
    first = [i for i, f in enumerate(log.flags) if "first move" in f]
    assert first == list(range(7, 14))  # from 3 ft, where it is seen to move, to 9 ft: within 3 m
    assert log.used.sum() == len(rows) - 14
    assert log.pulled == pytest.approx([r.feet * FOOT for r in rows])
    assert log.load == pytest.approx([round(r.pounds) * POUND for r in rows])
    assert log.time == pytest.approx([r.time - rows[0].time for r in rows])
    assert [e.kind for e in log.events] == ["start"]
    assert set(log.gear) == {"high"}


def at(rows: list[Line], index: int, **new: object) -> list[Line]:
    """The rows with one of them changed."""
    return [*rows[:index], replace(rows[index], **new), *rows[index + 1 :]]  # type: ignore[arg-type]


def again(rows: list[Line], index: int) -> list[Line]:
    return [*rows[:index], rows[index], *rows[index:]]


SOUND = recorded()
# What is done to the log, the flags it must earn by row, and the decisions that go with them.
CASES: dict[str, tuple[list[Line], dict[str, list[int]], set[str]]] = {
    "a row twice": (again(SOUND, 100), {"duplicate": [101]}, {"duplicate"}),
    "negative": (at(SOUND, 100, pounds=-400.0), {"negative": [100]}, {"negative"}),
    "cable in typed wrong": (
        at(SOUND, 100, feet=5.0),
        {"footage out of line": [100]},
        {"footage out of line"},
    ),
    "cable in far too large": (
        at(SOUND, 100, feet=290.0),
        {"footage out of line": [100]},
        {"footage out of line"},
    ),
    "beyond the route": (
        [*SOUND, Line(SOUND[-1].time + 9, 340.0, 900.0)],
        {"beyond the route": [len(SOUND)]},
        {"beyond the route"},
    ),
    "clock set back an hour": (shifted(SOUND, 100, time=-3600.0), {}, {"clock set back"}),
    "summer time": (shifted(SOUND, 100, time=3600.0), {}, {"clock set forward"}),
    "midnight": (shifted(SOUND, 0, time=16.95 * 3600.0), {}, {"midnight"}),
    "rows missing": (SOUND[:100] + SOUND[150:], {}, {"gap in time"}),
    "counter reset": (
        shifted(SOUND, 100, feet=-SOUND[100].feet),
        {"footage back": [100, 101]},
        {"counter reset", "footage back"},
    ),
    "counter counts down": (
        [replace(r, feet=500.0 - r.feet) for r in SOUND],
        {},
        {"counter counts down"},
    ),
    "counter slips and is put right": (
        shifted(SOUND, 100, 200, feet=-12.0),
        {
            "footage back": list(range(100, 111)),
            "at standstill": [111, 112],  # back where it was: whatever happened, it stood
            "footage jumps": [200],
        },
        {"footage back", "at standstill", "footage jumps", "footage corrected"},
    ),
    "two pulls in one file": (
        [*SOUND, *shifted(SOUND, 0, time=3600.0)[:60]],
        {"another pull": list(range(len(SOUND) + 2, len(SOUND) + 60))},
        {"another pull", "footage back", "gap in time"},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_trouble_is_flagged_where_it_is(name: str, read: Callable[..., PullLog]) -> None:
    rows, flags, decided = CASES[name]
    log = read(rows)
    found = flagged(log)
    if name == "two pulls in one file":
        found.pop("footage back")
    assert found == flags
    assert decided <= rules(log)
    assert rules(log) <= decided | {"gap in time"}
    starts = sum("first move" in f or "before the start" in f for f in log.flags)
    doubted = sum(map(len, flags.values())) + (2 if name == "two pulls in one file" else 0)
    assert log.used.sum() == len(rows) - doubted - starts


def test_a_clock_that_was_set_goes_on_from_the_row_before(read: Callable[..., PullLog]) -> None:
    sound = read(SOUND).time
    for hours in (-1, 1):
        log = read(shifted(SOUND, 100, time=3600.0 * hours))
        assert log.time == pytest.approx(sound, abs=1.0)
    assert read(shifted(SOUND, 0, time=16.95 * 3600.0)).time == pytest.approx(sound)


def test_a_counter_that_was_reset_or_counts_down_gives_the_same_places(
    read: Callable[..., PullLog],
) -> None:
    sound = read(SOUND)
    down = read([replace(r, feet=500.0 - r.feet) for r in SOUND])
    assert down.pulled == pytest.approx(sound.pulled, abs=1e-9)
    reset = read(shifted(SOUND, 100, feet=-SOUND[100].feet))
    # the counter began at 0 again where the cable had come one row further
    assert reset.pulled[110:] == pytest.approx(sound.pulled[110:], abs=1.1 * FOOT)


def test_rows_out_of_order_are_put_in_order_where_the_clock_is_sound(
    read: Callable[..., PullLog],
) -> None:
    late = [*SOUND[:100], *SOUND[103:130], *SOUND[100:103], *SOUND[130:]]
    log, sound = read(late), read(SOUND)
    assert log.pulled == pytest.approx(sound.pulled)
    assert log.load == pytest.approx(sound.load)
    (order,) = [d for d in log.decisions if d.rule == "put in order"]
    assert order.rows == ((102, 131),)
    assert log.row.tolist() != sorted(log.row.tolist())  # each keeps its line


def test_a_stop_is_found_and_the_first_move_after_it_flagged(
    read: Callable[..., PullLog],
) -> None:
    held = [replace(SOUND[100], time=SOUND[100].time + 2.0 * i, pounds=300.0) for i in range(1, 40)]
    log = read([*SOUND[:101], *held, *shifted(SOUND, 101, time=80.0)[101:]])
    assert flagged(log) == {"at standstill": list(range(101, 141))}  # it moves once two feet on
    feet = SOUND[100].feet
    after = [i for i in range(140, 160) if "first move" in log.flags[i]]
    assert after == list(range(141, 149))
    assert [(e.kind, round(e.pulled / FOOT)) for e in log.events] == [
        ("start", 0),
        ("stop", feet),
        ("start", feet),
    ]
    assert log.used.sum() == read(SOUND).used.sum() - 9


def test_the_last_advance_before_a_standstill_is_at_rest_where_it_has_fallen(
    read: Callable[..., PullLog],
) -> None:
    fallen = replace(SOUND[100], pounds=0.3 * SOUND[99].pounds)
    held = [replace(fallen, time=fallen.time + 2.0 * i) for i in range(1, 40)]
    log = read([*SOUND[:100], fallen, *held, *shifted(SOUND, 101, time=80.0)[101:]])
    assert flagged(log)["at standstill"] == list(range(100, 141))


def test_a_counter_that_stood_while_the_cable_ran_is_told(read: Callable[..., PullLog]) -> None:
    stood = [replace(r, feet=SOUND[100].feet) for r in SOUND[101:131]]
    log = read([*SOUND[:101], *stood, *SOUND[131:]])
    assert flagged(log)["at standstill"] == list(range(101, 131))
    assert "footage stood" in rules(log)


def runs_of(rows: list[Line], first: int, last: int, pounds: float) -> list[Line]:
    return [replace(r, pounds=pounds) if first <= i < last else r for i, r in enumerate(rows)]


def test_a_stuck_gauge_and_the_end_of_its_range(read: Callable[..., PullLog]) -> None:
    """The plan rises from 340 to 660 lbf over these 100 ft: more than four marks."""
    stuck = runs_of(SOUND, 90, 190, 340.0)
    assert flagged(read(stuck)) == {"stuck": list(range(90, 190))}
    clipped = [replace(r, pounds=min(r.pounds, 640.0)) for r in SOUND]
    flat = [i for i, r in enumerate(SOUND) if r.pounds >= 640.0]
    log = read(clipped)
    found = flagged(log)
    assert set(found) == {"saturated"}
    # rows where the swing of the gauge stays below are no part of it
    assert set(found["saturated"]) <= set(flat) and len(found["saturated"]) > 0.9 * len(flat) - 20


def test_a_dial_read_to_its_marks_is_not_stuck(read: Callable[..., PullLog]) -> None:
    """Rounded to 50 lbf the same reading stands for dozens of rows; the plan says as much."""
    rounded = [replace(r, pounds=50.0 * round(r.pounds / 50.0)) for r in SOUND]
    assert flagged(read(rounded)) == {}
    for share in (0.6, 1.6):  # of the planned load
        other = [replace(r, pounds=50.0 * round(share * r.pounds / 50.0)) for r in SOUND]
        assert flagged(read(other)) == {}


def test_one_wild_reading_among_close_ones_is_a_spike(read: Callable[..., PullLog]) -> None:
    close = recorded(step=0.5, seconds=1.0)
    assert flagged(read(at(close, 300, pounds=3000.0))) == {"spike": [300]}
    apart = recorded(step=2.0)
    assert flagged(read(at(apart, 100, pounds=3000.0))) == {}  # 2 ft apart it may be a snag
    snag = [replace(r, pounds=r.pounds + 900) if 300 <= i < 310 else r for i, r in enumerate(close)]
    assert flagged(read(snag)) == {}


def test_readings_in_a_gear_without_an_accurate_gauge_do_not_count(tmp_path: Path) -> None:
    text = Path(MODEL).read_text(encoding="utf-8")
    text = text.replace('name = "high", line_pull', 'name = "high", gauge = false, line_pull')
    blind = loads(text)
    path = written(tmp_path / "pull.csv", [replace(r, gear="high") for r in SOUND])
    log = read_log(path, blind)
    assert not log.used.any()
    assert all("gauge not accurate" in f for f in log.flags)
    path = written(tmp_path / "low.csv", [replace(r, gear="LOW") for r in SOUND])
    assert read_log(path, blind).used.sum() == len(SOUND) - 14
    odd = read_log(written(tmp_path / "odd.csv", [replace(r, gear="third") for r in SOUND]), blind)
    assert "gear not known" in rules(odd)


def test_tare_is_read_at_rest_or_as_given(read: Callable[..., PullLog]) -> None:
    assert read(SOUND, tare=123.0).tare == 123.0
    tight = [replace(r, pounds=400.0) if i < 5 else r for i, r in enumerate(SOUND)]
    log = read(tight)
    assert log.tare == 0.0
    assert any("not slack" in d.words for d in log.decisions)
    assert read(recorded(rest=1)).tare == 0.0  # one row may be the first of the pull


def test_cable_in_from_speed_and_time(tmp_path: Path) -> None:
    path = tmp_path / "speed.csv"
    rows = [f"{2 * i},{30.0 if i else 0.0},{300 + i}" for i in range(150)]
    path.write_text("\n".join(["t (s),speed (ft/min),load (lbf)", *rows]), encoding="utf-8")
    log = read_log(path, job(), plan=riser_run())
    assert log.pulled[-1] == pytest.approx((149 - 0.5) * FOOT)
    assert "footage from speed" in rules(log)
    path.write_text("\n".join(["t (s),speed (ft/min),load (lbf)", *rows[:50], *rows[90:]]), "utf-8")
    log = read_log(path, job(), plan=riser_run())
    assert flagged(log) == {"footage after a gap": list(range(50, 110))}


# --- the stream judges as the file does -----------------------------------------------------------


class Slow:
    """A stream that gives a few bytes at a time."""

    def __init__(self, data: bytes, size: int) -> None:
        self.parts: Iterator[bytes] = iter([data[i : i + size] for i in range(0, len(data), size)])

    def read(self, _: int) -> bytes:
        return next(self.parts, b"")


@pytest.mark.parametrize(
    "name",
    [n for n in CASES if n not in ("cable in typed wrong", "cable in far too large")],
)
def test_the_stream_flags_what_the_file_does(name: str, tmp_path: Path) -> None:
    rows, _, _ = CASES[name]
    log = read_log(written(tmp_path / "x.csv", rows), job(), plan=riser_run())
    stream = LogStream(Slow(text_of(rows).encode(), 97), job(), plan=riser_run())  # type: ignore[arg-type]
    flags: dict[int, tuple[str, ...]] = {}
    readings: list[Reading] = []
    while not stream.ended:
        new = [r for r in stream.poll() if isinstance(r, Reading)]
        readings += new
        flags |= {r.row: r.flags for r in new} | stream.amended
    assert not stream.finish()
    if name == "counter counts down":  # known only once it has gone down for a while
        late = flags.values()
        assert sum("footage back" in f for f in late) < 12
        return
    assert [flags[r.row] for r in readings] == list(log.flags)
    assert np.array([r.pulled for r in readings]) == pytest.approx(log.pulled)
    assert stream.tare == log.tare
    assert [d.rule for d in stream.decisions] == [d.rule for d in log.decisions]


def test_a_late_row_of_a_stream_is_flagged(tmp_path: Path) -> None:
    late = [*SOUND[:100], SOUND[101], SOUND[100], *SOUND[102:]]
    stream = LogStream(Slow(text_of(late).encode(), 5000), job(), plan=riser_run())  # type: ignore[arg-type]
    readings = [r for r in stream.follow() if isinstance(r, Reading)]
    assert [r.row for r in readings if "out of order" in r.flags] == [103]
    assert sum(r.used for r in readings) == len(SOUND) - 15


def test_a_note_on_every_row_is_one_event(read: Callable[..., PullLog]) -> None:
    rows = [replace(r, note="reel stop" if 50 <= i < 70 else "") for i, r in enumerate(recorded())]
    log = read(rows)
    assert [e.words for e in log.events if e.kind == "note"] == ["reel stop"]
    assert next(d.count for d in log.decisions if d.rule == "note again") == 19
