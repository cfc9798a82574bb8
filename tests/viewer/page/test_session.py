"""The served run through edits and through changes of its file."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import InputError
from viewer.page.session import (
    Stamp,
    another,
    changed_stamp,
    edited,
    open_session,
    preview,
    reloaded,
    solved,
    stamp_of,
)
from viewer.page.words import edit_words, field_data

MODELS = Path(__file__).parents[3] / "models"


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
    session = solved(edited(open_session(file), "friction:duct", "0.4", "US"))
    change(file, "friction   = 0.25", "friction   = 0.40")
    again = open_session(file)
    assert session.result.best.pull.peak_tension == again.result.best.pull.peak_tension
    assert session.result.decision.why == again.result.decision.why


def test_the_preview_has_the_tension_of_the_full_answer(file: Path) -> None:
    session = edited(open_session(file), "friction:duct", "0.4", "US")
    quick = preview(session)
    full = solved(session).shown.pull
    assert quick.feed == full.feed
    np.testing.assert_array_equal(quick.profile.tension, full.profile.tension)


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
    _, session = reloaded(open_session(MODELS / "riser_duct_bank.toml"), gone)
    file.write_bytes(text)
    back = changed_stamp(file, gone)
    assert back is not None and back.digest == known.digest
    assert session.problems == ()


def test_a_broken_file_keeps_everything_but_says_where(file: Path) -> None:
    session = edited(open_session(file), "friction:riser", "0.5", "US")
    change(file, "friction   = 0.25", "friction   = -1")
    broken = reloaded(session, stamp_of(file))[1]
    assert [p.line is not None for p in broken.problems] == [True]
    assert broken.run == session.run and broken.result is session.result
    assert broken.edits == session.edits
    change(file, "friction   = -1", "friction   = 0.3")
    _, mended = reloaded(broken, stamp_of(file))
    assert mended.problems == () and mended.edits == session.edits
    assert {c.name: c.friction for c in mended.run.route.conduits} == {"duct": 0.3, "riser": 0.5}


def test_edits_that_no_longer_fit_are_dropped_and_said_so(file: Path) -> None:
    session = edited(open_session(file), "friction:riser", "0.5", "US")
    change(file, '"riser"', '"pipe"')
    change(file, "[conduit.riser]", "[conduit.pipe]")
    fresh = reloaded(session, stamp_of(file))[1]
    assert not fresh.edits and "dropped" in fresh.message
    assert fresh.run == fresh.given


def test_a_run_that_is_gone_is_a_problem_of_the_file(file: Path) -> None:
    session = open_session(file, "F1")
    change(file, '"F1"', '"G1"')
    assert "no run is named 'F1'" in str(reloaded(session, stamp_of(file))[1].problems[0])


def test_any_run_of_a_file_can_be_opened_and_the_first_is_where_none_is_named(file: Path) -> None:
    two_runs(file)
    first = edited(open_session(file), "friction:duct", "0.4", "US")
    assert first.given.name == "F1"
    second = another(first, "F2")
    assert (second.given.name, second.result.run.name) == ("F2", "F2")
    assert not second.edits and second.run == second.given
    assert open_session(file, "F2").given == second.given
    with pytest.raises(InputError, match="F1, F2"):
        open_session(file, "F3")


def two_runs(file: Path) -> None:
    text = file.read_text()
    run = text[text.index("[[run]]") : text.index("[[bank]]")]
    file.write_text(text + "\n" + run.replace('"F1"', '"F2"'))


def test_the_machines_are_all_of_the_file(file: Path) -> None:
    change(file, "[machine.puller]", f"{WINCH}[machine.puller]")
    session = open_session(file)
    assert list(session.machines) == ["winch", "puller"]
    with_winch = solved(edited(session, "machine", "winch", "US"))
    assert with_winch.shown.pull.run.machine == session.machines["winch"]


def test_a_run_without_a_machine_can_be_given_one(file: Path) -> None:
    change(file, 'machine      = "puller"', "")
    session = open_session(file)
    assert session.given.machine is None
    named = solved(edited(session, "machine", "puller", "US"))
    assert named.shown.utilisation.machine
    (words,) = edit_words(named, "US")
    assert words["text"] == "Machine: none named → puller"
    assert [f["text"] for f in field_data(session, "US") if f["key"] == "machine"] == [""]
    job = replace(session.job, machines=())
    assert not [f for f in field_data(replace(session, job=job), "US") if f["key"] == "machine"]


WINCH = """[machine.winch]
gears = [{ line_pull = 1500, speed = 40 }]
envelope = [3, 2, 3]

"""
