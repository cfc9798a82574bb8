"""The crews file: what is read, and what is wrong in it, each at its line."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import pytest

import route3d
from route3d.errors import InputError
from route3d.model.job import Job
from route3d.model.schedule import Crew, Delivery, Outage
from route3d.modelfile.crews_file import load_schedule, schedule_of
from route3d.modelfile.read import load

MODELS = Path(route3d.__file__).parents[1] / "models"
GOOD = """\
start = 2026-06-01
move = "40 min"
setup_again = 20
same_place = 12
ways = { B10 = 1 }
machine.puller.count = 2

[crew.North]
machines = ["puller"]
hours = "07:00-15:30"
off = ["2026-06-05"]

[crew.South]
machines = ["puller"]
hours = "22:00 to 06:00"
days = ["Tue", "Mon"]
start = "2026-06-02"

[[outage]]
name = "closed"
runs = ["B7"]
start = 2026-06-04T06:00:00
end = "2026-06-04 13:00"

[[outage]]
name = "ferries"
runs = ["B1", "B7"]
start = 2026-06-04 07:00:00
end = 2026-06-05 07:00:00
pull = "outside"

[[delivery]]
name = "truck"
reel = "berth"
at = "2026-06-03T10:00"
"""


@pytest.fixture(scope="module")
def job() -> Job:
    return load(MODELS / "berths.xlsx")


def test_a_whole_file_is_read(job: Job) -> None:
    found = schedule_of(GOOD, "crews.toml", job)
    assert found.crews == (
        Crew("North", ("puller",), (time(7), time(15, 30)), (0, 1, 2, 3, 4), date(2026, 6, 1),
             (date(2026, 6, 5),)),
        Crew("South", ("puller",), (time(22), time(6)), (0, 1), date(2026, 6, 2)),
    )  # fmt: skip
    assert found.outages == (
        Outage("closed", ("B7",), datetime(2026, 6, 4, 6), datetime(2026, 6, 4, 13)),
        Outage("ferries", ("B1", "B7"), datetime(2026, 6, 4, 7), datetime(2026, 6, 5, 7), False),
    )
    assert found.deliveries == (Delivery("truck", datetime(2026, 6, 3, 10), reel="berth"),)
    assert (found.move, found.setup_again, found.counts) == (2400.0, 1200.0, {"puller": 2})
    assert found.same_place == pytest.approx(12 * 0.3048)  # bare, in the units of the job
    assert found.ways == {"B10": 1}


def test_the_demo_is_read(job: Job) -> None:
    found = load_schedule(MODELS / "crews/berths.toml", job)
    assert [crew.name for crew in found.crews] == ["North", "South"]


BAD = [
    ("start = 2026-06-01", "start = 2026-13-01", 1, ""),
    ("start = 2026-06-01", 'start = "June 1"', 1, "'June 1' is not a date; enter it like 2026"),
    ("start = 2026-06-01\n", "", 1, "start is missing; enter the first day"),
    ('move = "40 min"', 'move = "-5 min"', 2, "'-5 min' is below the minimum of 0 min"),
    ('move = "40 min"', 'move = "40 ft"', 2, "'40 ft'"),
    ("same_place = 12", "sameplace = 12", 4, "unknown key 'sameplace'; did you mean 'same_place'?"),
    ("B10 = 1", "B20 = 1", 5, "there is no run 'B20' in the model file"),
    ("B10 = 1", "B10 = 0", 5, "0 must be between 1 and 20"),
    ("machine.puller.count", "machine.winch.count", 6, "there is no machine 'winch' in the model"),
    ("puller.count = 2", "puller.count = 0", 6, "0 must be between 1 and 50"),
    ('machines = ["puller"]\nhours = "07', 'hours = "07', 8, "machines is missing"),
    ('["puller"]\nhours = "07', '[]\nhours = "07', 9, "has 0 entries; minimum 1"),
    ('["puller"]\nhours = "07', '["puler"]\nhours = "07', 9, "'puler' in the model file; did you"),
    ("07:00-15:30", "7 to 3:30", 10, "'7 to 3:30' is not the hours of a shift; enter"),
    ("07:00-15:30", "07:00-25:00", 10, "is not the hours of a shift"),
    ("07:00-15:30", "15:30-07:00", 10, "is a shift of 15.5 h; the maximum is 14 h; check which"),
    ("07:00-15:30", "07:00-07:00", 10, "ends when it begins"),
    ('["Tue", "Mon"]', '["Tues"]', 16, "'Tues' is not one of: Mon, Tue"),
    ('start = "2026-06-02"', 'start = "2026-05-02"', 17, "2026-05-02 is before the first day"),
    ('runs = ["B7"]', 'runs = ["V7"]', 21, "there is no run 'V7' in the model file; valid"),
    ('runs = ["B7"]', "runs = []", 21, "has 0 entries; minimum 1"),
    ("start = 2026-06-04T06:00:00", "start = 2026-06-04", 22, "is not a date with a time of day"),
    ("2026-06-04T06:00:00", "2026-06-04T06:00:00Z", 22, "has a time zone; enter the time of the"),
    ("2026-06-04T06:00:00", "2026-06-04T06:00:30", 22, "has seconds; enter hours and minutes"),
    ("2026-06-04 13:00", "2026-06-04 05:00", 23, "ends at 2026-06-04 05:00, not after its start"),
    ("2026-06-04 13:00", "2026-06-04 06:00", 23, "'closed' ends at 2026-06-04 06:00, not after"),
    ("2026-06-04 13:00", "2029-06-04 13:00", 23, "is more than 730 days after the first day"),
    (
        "start = 2026-06-04T06:00:00\nend = \"2026-06-04 13:00\"",
        "start = 2026-05-04T06:00:00\nend = \"2026-05-04 13:00\"",
        23,
        "window 'closed' is over before the first day, 2026-06-01",
    ),
    ('pull = "outside"', "", 28, "'ferries' overlaps window 'closed' of run 'B7' on line 20; make"),
    ('pull = "outside"', 'pull = "never"', 30, "'never' is not one of: inside, outside"),
    ('reel = "berth"', 'reel = "bert"', 34, "there is no reel 'bert' in the model file; did you"),
    ('reel = "berth"\n', "", 33, "delivery 'truck' has no runs and no reel; give one of runs and"),
    ('reel = "berth"', 'reel = "berth"\nruns = ["B1"]', 33, "has runs and reel; give one of runs"),
    ("[crew.South]", "[crew.North]", 13, ""),
]  # fmt: skip


@pytest.mark.parametrize(("good", "bad", "line", "said"), BAD)
def test_a_mistake_is_told_at_its_line(good: str, bad: str, line: int, said: str, job: Job) -> None:
    assert good in GOOD
    with pytest.raises(InputError) as error:
        schedule_of(GOOD.replace(good, bad, 1), "crews.toml", job)
    problem = error.value.problems[0]
    assert problem.file == "crews.toml" and problem.line == line, problem
    assert said in f"{problem.message}; {problem.fix}", problem


def test_every_mistake_is_told_at_once(job: Job) -> None:
    text = GOOD.replace('["B7"]', '["X"]').replace('"berth"', '"Y"').replace("40 min", "40 ft")
    with pytest.raises(InputError) as error:
        schedule_of(text.replace("40 ft", "40 min"), "crews.toml", job)
    assert [p.line for p in error.value.problems] == [21, 34]
