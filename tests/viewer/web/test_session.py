"""A run through edits, and the stamps of its file."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.model import Job
from route3d.modelfile.read import load
from viewer.web.page_data import edit_words, field_data, geometry_key
from viewer.web.session import (
    Session,
    advised,
    answered,
    edited_run,
    margined,
    needs_advice,
    planned,
    preview,
    surroundings_of,
)
from viewer.web.stamps import Stamp, changed_stamp, stamp_of

MODELS = Path(__file__).parents[3] / "models"


def session_of(job: Job, edits: dict[str, object] | None = None, **more: object) -> Session:
    edits = edits or {}
    return answered(job, job.runs[0], edits, surroundings_of(job), **more)  # type: ignore[arg-type]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    copy = tmp_path / "job.toml"
    copy.write_bytes((MODELS / "riser_duct_bank.toml").read_bytes())
    return copy


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))
    state = file.stat()  # a clock of coarse steps must not hide it
    os.utime(file, ns=(state.st_atime_ns, state.st_mtime_ns + 1_000_000))


def test_an_edit_gives_what_the_program_gives_for_the_changed_file(file: Path) -> None:
    session = session_of(load(file), {"friction:duct": 0.4})
    change(file, "friction   = 0.25", "friction   = 0.40")
    again = session_of(load(file))
    assert session.result.best.pull.peak_tension == again.result.best.pull.peak_tension
    assert session.result.decision.why == again.result.decision.why


def test_the_preview_has_the_tension_of_the_full_answer(file: Path) -> None:
    job = load(file)
    full = session_of(job, {"friction:duct": 0.4}).result
    for candidate in full.candidates:
        reverse = candidate.pull.reverse
        quick = preview(job, job.runs[0], {"friction:duct": 0.4}, reverse=reverse)
        assert quick.feed == candidate.pull.feed
        np.testing.assert_array_equal(quick.profile.tension, candidate.pull.profile.tension)


def test_a_change_of_the_file_is_seen_once(file: Path) -> None:
    known = stamp_of(file)
    assert changed_stamp(file, known) is None
    change(file, "friction   = 0.25", "friction   = 0.30")
    new = changed_stamp(file, known)
    assert new is not None and changed_stamp(file, new) is None


def test_a_file_saved_unchanged_is_no_change(file: Path) -> None:
    known = stamp_of(file)
    os.utime(file, ns=(1, 1))
    assert changed_stamp(file, known) is None


def test_a_file_that_goes_and_comes_back(file: Path) -> None:
    known, text = stamp_of(file), file.read_bytes()
    file.unlink()
    gone = changed_stamp(file, known)
    assert gone == Stamp() and changed_stamp(file, gone) is None
    file.write_bytes(text)
    back = changed_stamp(file, gone)
    assert back is not None and back.digest == known.digest


WINCH = """[machine.winch]
gears = [{ line_pull = 1500, speed = 40 }]
envelope = [3, 2, 3]

"""


def test_the_machines_are_all_of_the_file(file: Path) -> None:
    change(file, "[machine.puller]", f"{WINCH}[machine.puller]")
    job = load(file)
    fields = field_data(session_of(job))["fields"]["US"]
    assert next(f for f in fields if f["key"] == "machine")["choices"] == ["winch", "puller"]
    with_winch = session_of(job, {"machine": "winch"})
    assert with_winch.result.best.pull.run.machine == job.machines[0]


def test_a_run_without_a_machine_can_be_given_one(file: Path) -> None:
    change(file, 'machine      = "puller"', "")
    job = load(file)
    assert job.runs[0].machine is None
    named = session_of(job, {"machine": "puller"})
    assert named.result.best.utilization.machine
    (words,) = edit_words(job, job.runs[0], named.edits)["US"]
    assert words == "Machine: none → puller"
    bare = session_of(job)
    given = [f["text"] for f in field_data(bare)["fields"]["US"] if f["key"] == "machine"]
    assert given == [""]
    none = field_data(replace(bare, job=replace(job, machines=())))["fields"]["US"]
    assert not [f for f in none if f["key"] == "machine"]


def test_an_edit_keeps_the_place_of_the_machine_unless_it_bears_on_it(file: Path) -> None:
    job = load(file)
    first = session_of(job)
    assert first.place(first.best) is None  # not sought yet
    session = planned(first, first.best)
    assert session.place(session.best) is not None
    assert geometry_key(first) != geometry_key(session)
    rough = session_of(job, {"friction:duct": 0.3}, before=session)
    assert rough.place(rough.best) is session.place(session.best)
    assert geometry_key(rough) == geometry_key(session)
    faster = session_of(job, {"speed:0": 0.1}, before=session)
    assert faster.place(faster.best) is session.place(session.best)
    assert session.place(1 - session.best) is None  # of the other end nothing is known
    other = session_of(load(file), {"friction:duct": 0.3}, before=session)
    assert other.place(other.best) is None  # another state of the file may have another site


def test_a_radius_changes_the_meshes_and_friction_does_not(file: Path) -> None:
    job = load(file)
    session = session_of(job)
    assert geometry_key(session_of(job, {"friction:riser": 0.3})) == geometry_key(session)
    assert geometry_key(session_of(job, {"bend:1": 1.3})) != geometry_key(session)


def test_what_is_worked_out_is_added_step_by_step() -> None:
    job = load(MODELS / "yard_run.toml")
    session = session_of(job)
    assert session.fails and needs_advice(session) and not session.is_planned
    for n in (0, 1):
        session = planned(session, n)
        assert session.plan(n) is not None and session.place(n) is None  # not to be pulled
    assert session.is_planned and not session.margins
    assert len(margined(session).margins) == sum(v.bend > 0 for v in job.runs[0].route.vertices)
    full = advised(session)
    assert full.result.advice is not None and not needs_advice(full)


def test_edits_that_change_nothing_are_left_out(file: Path) -> None:
    job = load(file)
    run, kept = edited_run(job, job.runs[0], {"friction:duct": 0.25, "reel": 700.0})
    assert kept == {"reel": 700.0} and run.reel_tension == 700.0
