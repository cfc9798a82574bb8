"""What a watch says of a reading: calls that stand until they are over, no false ON PLAN."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.api import plan
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.field.log.read import read_log
from route3d.field.log.stream import LogStream
from route3d.field.readings import Event, EventKind, Reading
from route3d.field.watch import BACK, Seen, Watch
from route3d.modelfile.read import load
from route3d.planning.pull_plan.dial import mark_below
from route3d.report.field_watch import departure_line, reading_line

FOOT, LBF = 0.3048, 4.4482216152605
MODEL = "models/riser_duct_bank.toml"
JOB = load(MODEL)
PLAN = plan(JOB).plans[0]


def expected(feet: float) -> float:
    return float(
        np.interp(feet * FOOT, [r.pulled for r in PLAN.gauge], [r.expected for r in PLAN.gauge])
    )


class Pull:
    """A pull by the plan, place after place, until told otherwise."""

    def __init__(self) -> None:
        self.watch = Watch(PLAN, JOB.allowances.gauge_step)
        self.row = 0

    def read(self, feet: float, over: float = 0.0, *flags: str, share: float = 1.0) -> Seen:
        self.row += 1
        force = share * expected(feet) + over * LBF
        used = not flags
        reading = Reading(feet * FOOT, force, math.nan, "high", used, flags, self.row)
        seen = self.watch.reading(reading)
        assert seen is not None
        return seen

    def run(self, start: int, end: int, **more: float) -> list[Seen]:
        return [self.read(feet, **more) for feet in range(start, end, 2)]  # type: ignore[arg-type]

    def event(self, kind: EventKind, feet: float) -> None:
        self.watch.event(Event(kind, feet * FOOT, math.nan))


def states(seen: list[Seen]) -> list[str]:
    return [one.state for one in seen]


def test_a_drop_stands_until_the_readings_are_back_or_the_pull_starts_again() -> None:
    pull = Pull()
    assert set(states(pull.run(70, 100))) == {"on plan"}
    gone = pull.run(100, 140, share=0.0)
    assert states(gone[:2]) == ["low", "low"] and set(states(gone[2:])) == {"drop"}
    assert all(one.ahead is None for one in gone)  # a forecast would be of another pull
    assert reading_line(gone[0], "US").startswith("FAR BELOW PLAN: Stop and look. 100 ft in;")
    assert reading_line(gone[-1], "US").startswith(
        "STOP: Drop to nothing: stop machine and reels; the rope may be loaded, keep clear. 138 ft"
    )
    assert departure_line(gone[2].called[0], "US").startswith("STOP: Load drops to nothing at 102")
    again = Watch(PLAN, JOB.allowances.gauge_step)
    again.take_up(pull.watch.kept(), "state.json")  # and it stands in the watch that goes on
    pull.watch = again
    assert states(pull.run(140, 144)) == ["drop", "drop"]
    assert states(pull.run(144, 146, share=0.0)) == ["drop"]  # the count begins anew
    back = pull.run(146, 156)
    assert states(back)[: BACK - 1] == ["drop"] * (BACK - 1) and "drop" not in states(back)[BACK:]
    pull.run(156, 166, share=0.0)
    assert pull.read(168, share=0.0).state == "drop"
    pull.event("start", 168)
    assert pull.read(170, share=0.0).state == "low"
    assert "drop" in states(pull.run(172, 180, share=0.0))  # called anew


def test_a_jump_stands_until_the_level_is_back_or_the_pull_starts_again() -> None:
    for end in ("back", "start"):
        pull = Pull()
        pull.run(170, 200)
        up = pull.run(200, 230, over=900.0)
        called = states(up).index("jump")
        assert called <= 3 and set(states(up[called:])) == {"jump"}
        assert reading_line(up[-1], "US").startswith("STOP AND CALL: Sudden rise: stop and find")
        line = departure_line(up[called].called[0], "US")
        assert line.startswith("STOP AND CALL: Load jumps by +") and "find the cause" in line
        if end == "start":
            pull.event("start", 230)
            assert "jump" not in states(pull.run(232, 240, over=900.0))
        else:
            down = states(pull.run(230, 240))
            assert down[: BACK - 1] == ["jump"] * (BACK - 1) and "jump" not in down[BACK:]


def test_a_first_move_is_held_to_its_own_limit_and_to_stop() -> None:
    pull = Pull()
    there = next(s for s in PLAN.accidents if s.gear and s.start <= 105 * FOOT <= s.end)
    step = JOB.allowances.gauge_step / LBF
    most = mark_below(there.most, JOB.allowances.gauge_step) / LBF  # as on the cards
    pull.event("start", 105)
    base = expected(106) / LBF
    assert pull.read(106, most - base - 1.0, "first move").state == "on plan"
    over = pull.read(106, most - base + step + 1.0, "first move")
    assert over.state == "first move" and pull.watch.passed == 0
    assert reading_line(over, "US").startswith("STOP AND CALL: First move above what is planned")
    assert pull.read(106, 4500.0, "first move").state == "stop" and pull.watch.passed == 1
    start = Pull()  # Stop applies to a first move too
    start.event("start", 0)
    row = PLAN.gauge[0]
    assert row.first_stop is not None and row.first_stop <= row.stop
    assert start.read(0, row.stop / LBF - expected(0) / LBF, "first move").state == "stop"


def test_at_rest_and_with_a_wrong_gauge_nothing_is_on_plan() -> None:
    pull = Pull()
    pull.run(90, 100)
    line = reading_line(pull.read(100, 0.0, "at standstill", share=0.0), "US")
    assert line.startswith("RECORDED ONLY: Standstill. 100 ft in") and "forecast" in line
    moves = pull.read(101, 400.0, "at standstill")  # the log reader waits for more way
    assert moves.state == "on plan" and moves.reading.flags == ("first move",)
    assert pull.read(120, 0.0, "gauge not accurate").state == "recorded"
    assert pull.read(130, 0.0, "footage jumps", share=0.0).state == "low"
    assert pull.watch.read_to == pytest.approx(130 * FOOT)
    assert pull.watch.pulled == pytest.approx(98 * FOOT)


def test_what_lies_ahead_is_said_first_and_only_of_places_ahead() -> None:
    pull = Pull()
    seen = pull.run(90, 110)[-1]
    assert seen.ahead is not None and seen.state == "on plan"
    behind = replace(
        seen.ahead, stop_at=30.0, stop_from=29.0, caution_at=28.0, chance=0.45, last_safe=28.5
    )
    pull.watch._ahead = behind
    told = pull.read(150, 0.0, "footage jumps")
    assert told.state == "stop ahead" and told.ahead is not None
    here = 150 * FOOT
    assert told.ahead.stop_at == told.ahead.caution_at == here == told.ahead.pulled[0]
    assert told.ahead.peak_at >= here and told.ahead.last_safe is None
    line = reading_line(told, "US")
    assert line.startswith("ON PLAN NOW; Stop likely ahead, chance 45%: Slow down, call. 150 ft")
    assert "Stop likely from here on" in line
    pull.watch._ahead = replace(behind, chance=0.19, stop_at=None)
    assert pull.read(151, 0.0, "footage jumps").state == "on plan"
    above = pull.read(152, 1500.0, "footage jumps")
    assert above.state == "caution" and above.ahead is not None and above.ahead.caution_at is None
    assert "above Caution" in reading_line(above, "US")


def test_the_log_of_the_page_is_read_as_by_field_log(tmp_path: Path) -> None:
    whole = Path("models/pulls/F1.json").read_text()
    path = tmp_path / "log.json"
    path.write_text(whole[:900])
    with LogStream(path, JOB) as stream:
        assert stream.poll() == []  # it is being written
        path.write_text(whole)
        made = [*stream.poll(), *stream.poll(), *stream.finish()]
    log = read_log("models/pulls/F1.json", JOB)
    assert [(r.pulled, r.load, r.row) for r in made if isinstance(r, Reading)] == list(
        zip(log.pulled, log.load, log.row, strict=True)
    )
    assert [e for e in made if isinstance(e, Event)] == list(log.events)


def test_what_is_no_text_is_refused_and_not_echoed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pull.csv"
    for head in (b"", b"%PDF-1.7\n", b"PK\x03\x04", b"\x89PNG\r\n\x1a\n"):
        path.write_bytes(head + np.random.default_rng(1).bytes(5000))
        with LogStream(path, JOB) as stream, pytest.raises(InputError, match="is not text"):
            stream.poll()
    assert main(["field", "watch", MODEL, str(path), "--once"]) == 2
    told = capsys.readouterr()
    assert "is not text, so it is no log" in told.err
    assert (told.out + told.err).replace("\n", "").isprintable()
