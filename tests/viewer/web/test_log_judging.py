"""What the log answers to readings, by a plan of three rows in N and m, the dial every 100 N."""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import cache
from importlib.resources import files
from typing import Any

import pytest

from viewer.web.bundle import join

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="NO NODE: scripts are not run")

_ENTRY = """
import { answerWords, heldOf, holdWords, restartWords, verdictOf } from "./pull_log.js";

const { plan, cases, held, starts, holds } = JSON.parse(require("fs").readFileSync(0, "utf8"));
const show = (value, quantity) => (value === null ? "-" : `${value.toFixed(0)} ${quantity}`);
const judged = cases.map(([entries, pulled, load]) => {
  const told = verdictOf(plan, entries, pulled, load);
  const { head, order, said } = answerWords(told, pulled, load, show);
  return { state: told.state, words: [head, order, ...said].filter(Boolean).join(" | ") };
});
const still = held.map(([entries, calls]) =>
  entries.map((_, i) => {
    const known = new Map(calls.filter(([id]) => id <= i).map(([id, call]) => [id, [call]]));
    return heldOf(plan, entries.slice(0, i + 1), known)?.call.kind ?? "";
  }),
);
const words = starts.map((place) => restartWords(plan, place, show));
const told = { judged, still, words, holds: holds.map(holdWords) };
process.stdout.write(JSON.stringify(told));
"""


def _row(pulled: float, expected: float, stop: float, **more: Any) -> dict[str, Any]:
    caution = expected + 400
    rest = {"low": 0.8 * expected, "caution": caution, "stop": stop, "gear": "one"}
    start = {"firstMove": None, "firstStop": None, "readable": True}
    return {"pulled": pulled, "expected": expected, **rest, **start, **more}


_ROWS = [
    _row(0.0, 500, 3000, firstMove=840, firstStop=4000),
    _row(50.0, 1500, 3000, firstMove=4650, firstStop=4700),
    _row(100.0, 2000, 3000),
]
_RESTARTS = [
    {"start": 0.0, "end": 60.0, "gear": "one", "firstMove": 2440.0, "most": 9000.0},
    {"start": 60.0, "end": 70.0, "gear": "", "firstMove": 2600.0, "most": 2000.0},
    {"start": 70.0, "end": 80.0, "gear": "one", "firstMove": 2440.0, "most": 2450.0},
    {"start": 80.0, "end": 100.0, "gear": "two", "firstMove": 2960.0, "most": 9000.0},
]
_PLAN = {
    "film": {"rows": _ROWS, "station": [0.0, 50.0, 100.0]},
    "step": 100.0,
    "gears": [["one", 5000, True], ["two", 9000, True], ["three", 9999, False]],
    "restarts": _RESTARTS,
}


def _entry(kind: str, pulled: float, load: float | None = None, at: int = 0) -> dict[str, Any]:
    return {"id": at, "kind": kind, "pulled_m": pulled, "load_N": load, "gear": ""}


def _log(*lines: tuple[Any, ...]) -> list[dict[str, Any]]:
    return [
        _entry(*line, at=i) if len(line) == 3 else _entry(*line, None, i)
        for i, line in enumerate(lines)
    ]


_START = [("start", 0.0)]
_PAUSE = [("start", 0.0), ("reading", 30.0, 1100), ("stop", 30.0)]

# log before, cable in, load: state, and words of the answer
_CASES: list[tuple[list[tuple[Any, ...]], float, float, str, str]] = [
    # a planned start: up to 900, above that STOP, far below any Stop
    (_START, 1.0, 900, "plan", "may read up to 900 force. 2100 force below Stop"),
    (_START, 1.0, 910, "stop", "Stop the pull now. Call. | 910 force at 1 length: the first move"),
    (_START, 3.1, 910, "plan", "ON PLAN"),
    (_START, 3.1, 1100, "caution", "ABOVE CAUTION"),
    # Stop of the place holds though the first move has a higher one
    (_START, 1.0, 3000, "stop", "Stop is reached"),
    (_START, 1.0, 3500, "stop", "500 force above Stop"),
    ([("start", 50.0)], 50.0, 2990, "plan", "may read up to 3000 force"),
    ([("start", 50.0)], 50.0, 3000, "stop", "Stop is reached"),
    # after a stop nobody planned
    ([*_PAUSE, ("start", 30.0)], 31.0, 2500, "plan", "may read up to 2500 force"),
    ([*_PAUSE, ("start", 30.0)], 31.0, 2510, "stop", "the first move may read up to 2500 force"),
    # up to a limit that lies below the next mark
    ([("start", 75.0)], 75.0, 2500, "stop", "the first move may read up to 2400 force"),
    # no first move is given where the pull must not be started: Caution applies
    ([("start", 65.0)], 65.0, 2200, "caution", "ABOVE CAUTION"),
    # at rest nothing is on plan; Stop, Caution and the first move still hold
    (_PAUSE, 30.0, 1100, "still", "STOPPED | Tap Log start before the cable moves."),
    (_PAUSE, 30.0, 100, "still", "STOPPED"),
    (
        _PAUSE,
        31.2,
        1100,
        "still",
        "NO START LOGGED | Tap Log start. | 1100 force at 31 length: the",
    ),
    (_PAUSE, 31.2, 2600, "stop", "the first move may read up to 2500 force"),
    (_PAUSE, 35.0, 1100, "still", "moved since the stop at 30 length"),
    (_PAUSE, 35.0, 1700, "caution", "No start is logged. Tap Log start."),
    (_PAUSE, 35.0, 100, "low", "FAR BELOW PLAN"),
    ([], 4.0, 500, "still", "NO START LOGGED | Tap Log start. | 500 force at 4 length: the cable"),
    ([("stop", 65.0)], 65.0, 1600, "still", "STOPPED | Do not start again here. Call."),
    (_START, 35.0, 1200, "plan", "ON PLAN"),
    (_START, 35.0, 300, "low", "FAR BELOW PLAN"),
]


def _jump(at: float, size: float, kind: str = "jump") -> dict[str, Any]:
    return {"kind": kind, "start": at, "end": at, "called": at, "size": size}


# log, calls by entry, and what is held after each entry
_HELD: list[tuple[list[tuple[Any, ...]], list[tuple[int, Any]], list[str]]] = [
    (  # a jump lasts through a stop, and until a start
        [*_START, ("reading", 40.0, 1900), ("reading", 42.0, 1950), ("stop", 42.0),
         ("reading", 42.0, 600), ("start", 42.0), ("reading", 46.0, 1950)],
        [(1, _jump(40.0, 600))],
        ["", "jump", "jump", "jump", "jump", "", ""],
    ),
    (  # or until the load is back, though that is called a fall
        [*_START, ("reading", 40.0, 1900), ("reading", 42.0, 1700), ("reading", 44.0, 1380),
         ("reading", 46.0, 1420), ("reading", 48.0, 1460)],
        [(1, _jump(40.0, 600)), (4, _jump(44.0, -560))],
        ["", "jump", "jump", "", "", ""],
    ),
    (  # with more friction than planned the level before the jump counts
        [*_START, ("reading", 40.0, 2200), ("reading", 42.0, 2150), ("reading", 44.0, 1700)],
        [(1, _jump(40.0, 600))],
        ["", "jump", "jump", ""],
    ),
    (  # a drop lasts while nothing is read, with what was planned to be low too
        [*_START, ("reading", 40.0, 0), ("reading", 42.0, 0), ("stop", 42.0), ("reading", 50.0, 0),
         ("reading", 60.0, 500), ("reading", 62.0, 1500)],
        [(2, _jump(42.0, -1300, "drop"))],
        ["", "low", "drop", "drop", "drop", "drop", ""],
    ),
    (  # far below without a rule for departures
        [*_START, ("reading", 40.0, 300), ("reading", 41.0, 1200), ("reading", 42.0, 1300)],
        [],
        ["", "low", "", ""],
    ),
    (  # a fall is a departure while it lasts, one to what is planned is not held
        [*_START, ("reading", 40.0, 800), ("reading", 42.0, 820), ("reading", 44.0, 1300)],
        [(1, _jump(40.0, -500))],
        ["", "jump", "jump", ""],
    ),
    ([*_START, ("reading", 40.0, 1300)], [(1, _jump(40.0, -500))], ["", ""]),
    ([*_START, ("reading", 40.0, 1300)], [(1, _jump(40.0, -2000, "drop"))], ["", ""]),
]  # fmt: skip

_STARTS = [0.0, 50.0, 30.0, 60.0, 65.0, 75.0, 90.0]


@cache
def _told() -> dict[str, Any]:
    app = files("viewer.web") / "app"
    names = ("pull_log.js", "film.js", "forecast.js", "words.js")
    script = join(
        {**{n: (app / n).read_text("utf-8") for n in names}, "entry.js": _ENTRY}, "entry.js"
    )
    given = {
        "plan": _PLAN,
        "cases": [(_log(*log), pulled, load) for log, pulled, load, _, _ in _CASES],
        "held": [(_log(*log), calls) for log, calls, _ in _HELD],
        "starts": _STARTS,
        "holds": [["259 lbf", "", ""], ["259 lbf", "200 lbf", "579 lbf"], ["", "", ""]],
    }
    ran = subprocess.run(
        ["node", "-e", script], input=json.dumps(given), capture_output=True, text=True, check=True
    )
    told: dict[str, Any] = json.loads(ran.stdout)
    return told


@pytest.mark.parametrize("case", range(len(_CASES)))
def test_a_reading_is_judged(case: int) -> None:
    told, (_, _, _, state, words) = _told()["judged"][case], _CASES[case]
    assert told["state"] == state
    assert words in told["words"]


def test_nothing_at_rest_or_beyond_its_limit_is_on_plan() -> None:
    """Whatever it reads, of all cases: ON PLAN is said of a running pull alone."""
    for told, (log, _, _, state, _) in zip(_told()["judged"], _CASES, strict=True):
        running = next((line[0] for line in reversed(log) if line[0] != "reading"), "") == "start"
        assert ("ON PLAN" in told["words"]) == (state == "plan")
        assert running or state != "plan"


@pytest.mark.parametrize("case", range(len(_HELD)))
def test_what_is_off_plan_stays_until_it_is_over(case: int) -> None:
    assert _told()["still"][case] == _HELD[case][2]


def test_a_start_is_told_its_limit_never_above_stop() -> None:
    told = dict(zip(_STARTS, _told()["words"], strict=True))
    assert [told[place]["barred"] for place in _STARTS] == [False] * 3 + [True] * 2 + [False] * 2
    assert told[0.0]["words"] == "Planned start. First move up to 900 force, Stop 3000 force."
    assert told[50.0]["words"] == "Planned start. First move below Stop, 3000 force."
    assert told[30.0]["words"] == "Start again in gear one. First move up to 2500 force."
    assert told[60.0]["words"] == "Do not start again here. Call."
    assert told[75.0]["words"] == "Start again in gear one. First move up to 2400 force."
    assert told[90.0]["words"] == "Start again in gear two. First move below Stop, 3000 force."


def test_what_hangs_is_held_by_reels_and_machine() -> None:
    one, all_three, none = _told()["holds"]
    assert one == ["Cable hangs: hold at least 259 lbf at the reels."]
    assert len(all_three) == 3 and "at most 200 lbf" in all_three[1] and "579 lbf" in all_three[2]
    assert none == []
