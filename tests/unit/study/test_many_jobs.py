"""Many jobs: nothing lost and nothing doubled, whatever ends the work and wherever it is done."""

from __future__ import annotations

import csv
import gc
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from route3d.cli.jobs import INTERRUPTED
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.report.jobs_page import write_jobs_page
from route3d.report.summary import Counts, jobs_csv, write_jobs_xlsx
from route3d.study.many_jobs.answer import FileAnswer, JobFile, JobLine
from route3d.study.many_jobs.feed import one_by_one
from route3d.study.many_jobs.ledger import Ledger
from route3d.study.many_jobs.pace import Pace
from route3d.study.many_jobs.processes import in_processes
from route3d.study.many_jobs.run import answer_all
from tests.support.many_jobs import ROOT, feeder, quick_answer, unplanned, write_feeders
from tests.support.twelve_runs import twelve_runs

BY = "route3d 1"
FEEDERS = 60
STOPPED = 200  # so many that a busy machine is still at it when the command is stopped


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Files of one run and of several, one with an error, and one that refers to another file."""
    texts = ["1", "5", "bad", "1 mesh.glb", "2", "1", "3"]
    for i, text in enumerate(texts):
        (tmp_path / f"{i}.toml").write_text(text)
    (tmp_path / "mesh.glb").write_text("walls")
    return tmp_path


def files_of(folder: Path) -> list[str]:
    return sorted(str(file) for file in folder.glob("*.toml"))


def answered(folder: Path, by: str = BY) -> tuple[list[str], Ledger]:
    """The files that were answered now, and the closed ledger."""
    asked: list[str] = []

    def answer(file: JobFile) -> FileAnswer:
        asked.append(Path(file.file).stem)
        return quick_answer(file)

    with Ledger(files_of(folder), by, folder / "out.jsonl") as ledger:
        answer_all(ledger, one_by_one(answer))
        ledger.lines = list(ledger.worst_first())  # type: ignore[attr-defined]
    return asked, ledger


def lines_of(folder: Path) -> list[str]:
    return (folder / "out.jsonl").read_text().splitlines()


def test_a_run_cut_short_anywhere_ends_with_the_same_results(folder: Path) -> None:
    """Killed after any byte of its output, also within a line and within the runs of a file."""
    _, whole = answered(folder)
    data = (folder / "out.jsonl").read_bytes()
    for end in range(0, len(data) + 1, 61):
        (folder / "out.jsonl").write_bytes(data[:end])
        asked, ledger = answered(folder)
        assert sorted(lines_of(folder)) == sorted(data.decode().splitlines()), end
        assert ledger.lines == whole.lines  # type: ignore[attr-defined]
        cut = data[:end].rpartition(b"\n")[2] != b""
        assert ledger.resumed.cut == cut
        complete = {n for n in "013456" if f'/{n}.toml"' in data[:end].decode()}
        assert not {"0", "3", "5"} & set(asked) & complete or cut


@pytest.mark.parametrize(
    ("change", "again"),
    [
        (lambda f: None, {"2"}),  # what had errors is always tried again
        (lambda f: (f / "1.toml").write_text("4"), {"1", "2"}),
        (lambda f: (f / "mesh.glb").write_text("other walls"), {"2", "3"}),
        (lambda f: (f / "mesh.glb").rename(f / "gone"), {"2", "3"}),
        (lambda f: (f / "2.toml").write_text("1"), {"2"}),
        (lambda f: (f / "7.toml").write_text("1"), {"2", "7"}),
    ],
)
def test_what_changed_is_answered_again_and_nothing_else(
    folder: Path, change: Callable[[Path], object], again: set[str]
) -> None:
    answered(folder)
    change(folder)
    if not (folder / "mesh.glb").exists():
        (folder / "3.toml").write_text("bad")
    asked, _ = answered(folder)
    assert set(asked) == again
    keys = [(d["file"], d.get("run_number", 0)) for d in map(json.loads, lines_of(folder))]
    assert len(set(keys)) == len(keys)
    assert {file for file, _ in keys} == {Path(f).name for f in files_of(folder)}


def test_another_program_answers_all_of_it_again(folder: Path) -> None:
    _, first = answered(folder)
    asked, second = answered(folder, "route3d 2")
    assert set(asked) == set("0123456") and second.lines == first.lines  # type: ignore[attr-defined]
    assert len(lines_of(folder)) == len(first) and '"route3d 1"' not in " ".join(lines_of(folder))


def test_doubled_lines_go_and_those_of_other_files_stay(folder: Path) -> None:
    _, ledger = answered(folder)
    lines = lines_of(folder)
    foreign = json.dumps(json.loads(lines[0]) | {"file": "elsewhere.toml"})
    (folder / "out.jsonl").write_text("\n".join([*lines, foreign, *lines]) + "\n")
    _, again = answered(folder)
    assert again.lines == ledger.lines and again.resumed.foreign == 1  # type: ignore[attr-defined]
    assert sorted(lines_of(folder)) == sorted([*lines, foreign])


def test_a_folder_that_was_moved_with_its_results_is_not_answered_again(folder: Path) -> None:
    answered(folder)
    moved = folder.with_name("moved")
    folder.rename(moved)
    assert answered(moved)[0] == ["2"]


@pytest.mark.parametrize("text", ["my notes\n", "{}\n", '{"file": 3}\n', "[1]", "\x00\x00"])
def test_a_file_that_is_no_results_is_left_alone(folder: Path, text: str) -> None:
    (folder / "out.jsonl").write_text(text)
    with pytest.raises(InputError, match=r"out.jsonl:1: is not a result of route3d jobs"):
        answered(folder)
    assert (folder / "out.jsonl").read_text() == text


def test_two_commands_do_not_write_to_one_file(folder: Path) -> None:
    with (
        Ledger(files_of(folder), BY, folder / "out.jsonl"),
        pytest.raises(InputError, match="is being written by another command"),
    ):
        answered(folder)


# --- processes ------------------------------------------------------------------------------------


def test_a_file_that_ends_its_process_is_told_and_the_others_are_answered(folder: Path) -> None:
    for i in (7, 20):
        (folder / f"{i}.toml").write_text("die")
    for i in range(8, 20):
        (folder / f"{i}.toml").write_text("1")
    with Ledger(files_of(folder), BY) as ledger:
        answer_all(ledger, in_processes(quick_answer, 2))
        lines = list(ledger.by_file())
    keys = [(line.file, line.run and line.run.name) for line in lines]
    assert len(set(keys)) == len(keys) == ledger.whole - 1 + 5 + 2 + 3 - 2
    errors = {Path(line.file).stem: line.errors for line in lines if line.run is None}
    assert set(errors) == {"2", "7", "20"}
    assert all("the process that worked on it ended" in errors[n][0] for n in ("7", "20"))


def _started(folder: Path, out: Path) -> subprocess.Popen[str]:
    """The command on its way: some results are there, and not all."""
    command = subprocess.Popen(
        [sys.executable, "-m", "route3d", "jobs", str(folder), "--out", str(out), "--workers", "2"],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    for _ in range(1200):
        if out.exists() and out.read_bytes().count(b"\n") >= 4:
            return command
        time.sleep(0.02)
    raise TimeoutError(command.communicate()[1])


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_command_that_was_stopped_goes_on_where_it_ended(
    how: signal.Signals, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_feeders(tmp_path, STOPPED, planned=False)
    out = tmp_path / "out.jsonl"
    command = _started(tmp_path, out)
    os.killpg(command.pid, how) if how is signal.SIGINT else command.kill()
    said = command.communicate()[1]
    if out.read_bytes().count(b"\n") == STOPPED:
        pytest.skip("the machine is so busy that the command ended before it could be stopped")
    done = out.read_bytes().count(b"\n")
    assert 4 <= done < STOPPED
    if how is signal.SIGINT:
        assert command.returncode == INTERRUPTED
        assert f"stopped: {done} of {STOPPED} files are answered, in {out}" in said
        assert "Traceback" not in said
    assert main(["jobs", str(tmp_path), "--out", str(out), "--json", "--workers", "1"]) == 0
    captured = capsys.readouterr()
    assert f"{done} of {STOPPED} files are done and unchanged" in captured.err
    names = [json.loads(line)["name"] for line in out.read_text().splitlines()]
    assert sorted(names) == sorted(f"F{n}" for n in range(STOPPED))
    assert {run["name"] for run in json.loads(captured.out)["runs"]} == set(names)


def test_processes_give_what_one_gives_and_a_large_file_is_shared_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "many.toml").write_text(unplanned(twelve_runs(range(1, 11))))  # two parts
    (tmp_path / "one.toml").write_text(feeder(1))
    told = []
    for workers in "12":
        made = tmp_path / f"{workers}.csv"
        words = ["jobs", str(tmp_path), "--workers", workers, "--csv", str(made), "--json"]
        code = main(words)
        told.append((code, capsys.readouterr().out, made.read_text()))
    assert told[0] == told[1] and len(told[0][2].splitlines()) == 22


# --- the command ----------------------------------------------------------------------------------


def test_folders_within_a_folder_are_read_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inside = tmp_path / "berths" / "north"
    inside.mkdir(parents=True)
    (inside / "a.toml").write_text(feeder(1))
    (tmp_path / "berths" / ".hidden").mkdir()
    (tmp_path / "berths" / ".hidden" / "b.toml").write_text("no model")
    assert main(["jobs", str(tmp_path)]) == 2
    assert "has no model files" in (err := capsys.readouterr().err) and "--recursive" in err
    assert main(["jobs", str(tmp_path), "--recursive"]) == 0
    assert "F1" in capsys.readouterr().out


def test_nothing_of_a_folder_is_dropped_without_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A damaged file is an error; a sound one of another kind is named, and that only."""
    job = (ROOT / "models" / "berths.xlsx").read_bytes()
    table = io.BytesIO()
    write_jobs_xlsx(table, [], "t", "SI", examples=False)
    damaged = {
        "bytes.xlsx": bytes(range(256)) * 20,
        "cut.xlsx": job[:20_000],
        "empty.toml": b"",
        "syntax.toml": b"[crew.N\n",
        "runless.toml": feeder(1).partition("[[run]]")[0].encode(),
        "latin.toml": b"# caf\xe9\n[crew.N]\n",
    }
    others = {
        "table.xlsx": (table.getvalue(), "not a job workbook"),
        "old.xls": (b"\xd0\xcf", "a workbook of the kind .xls is not read: save it as .xlsx"),
    }
    for name, kind in (
        ("crews/berths.toml", "a crews file"),
        ("options/yard_run.toml", "an options file"),
        ("pulls/F1_details.toml", "the details of a pull"),
    ):
        data = (ROOT / "models" / name).read_bytes()
        others[name.replace("/", "_")] = data, kind
    for name, data in {**damaged, **{n: data for n, (data, _) in others.items()}}.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "good.toml").write_text(feeder(1))
    (tmp_path / "~$good.xlsx").write_bytes(b"open")
    (tmp_path / "gone.toml").symlink_to(tmp_path / "nowhere")
    assert main(["jobs", str(tmp_path), "--json"]) == 2
    captured = capsys.readouterr()
    told = json.loads(captured.out)
    wrong = {Path(f["file"]).name for f in told["files"] if f["errors"]}
    assert wrong == {*damaged, "gone.toml"} and [r["name"] for r in told["runs"]] == ["F1"]
    assert {Path(o["file"]).name: o["why"] for o in told["left_out"]} == {
        name: why for name, (_, why) in others.items()
    }
    for name, (_, why) in others.items():
        assert f"note: {tmp_path / name}: {why}; left out" in captured.err


def test_a_name_that_no_file_of_results_can_hold_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    try:
        Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff.toml")).write_text(feeder(1))
    except OSError:
        pytest.skip("no such name on this system")
    assert main(["jobs", str(tmp_path)]) == 2
    assert "has a name that is not UTF-8; rename it" in capsys.readouterr().err


def test_an_error_of_the_program_itself_is_the_row_of_its_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    write_feeders(tmp_path, 3)
    lines = __import__("route3d.api").api.lines

    def sometimes(job: object) -> object:
        if "feeder 1" in job.title:  # type: ignore[attr-defined]
            raise ZeroDivisionError("by nothing")
        return lines(job)

    monkeypatch.setattr("route3d.api.lines", sometimes)
    assert main(["jobs", str(tmp_path), "--csv", str(tmp_path / "x.csv")]) == 2
    said = "an error in route3d: ZeroDivisionError: by nothing; report it with this file"
    assert said in capsys.readouterr().err
    rows = list(csv.DictReader(io.StringIO((tmp_path / "x.csv").read_text())))
    assert [row["run"] for row in rows] == ["", "F2", "F0"] and said in rows[0]["verdict"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "x.json"), "must end in .jsonl"),
        (("--html", "x.htm"), "must end in .html"),
        (("--workers", "0"), "--workers"),
        (("--workers", "2", "--scheduler", "tcp://127.0.0.1:1"), "do not go together"),
        (("--out", "missing/x.jsonl"), "folder"),
    ],
)
def test_bad_options_are_told(
    words: tuple[str, ...],
    said: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    write_feeders(tmp_path, 1)
    assert main(["jobs", str(tmp_path), *words]) == 2
    assert said in capsys.readouterr().err


def test_the_pace_is_told_in_words() -> None:
    assert str(Pace(10_000, 0, 2500, 3, 100.0)) == (
        "2,500 of 10,000 files, 25 a second, 5 min 0 s left, 3 with errors"
    )
    assert str(Pace(10, 4, 4, 0, 0.0)) == "4 of 10 files"


# --- what is written ------------------------------------------------------------------------------


def many_lines(count: int) -> list[JobLine]:
    files = [JobFile(n, f"jobs/{n}.toml") for n in range(count)]
    run = _any_run()
    return [
        JobLine(f.file, "Ferry terminal", replace(run, name=f"F{f.number}"), (), (), "US", 1)
        for f in files
    ]


def _any_run():  # type: ignore[no-untyped-def]
    from tests.support.many_jobs import _summary

    return _summary(1, 1)


def test_the_page_holds_every_line_and_nothing_of_it_is_markup() -> None:
    lines = many_lines(3)
    nasty = "</script><script>alert(1)</script> \u2028 <!--"
    lines += [JobLine("b.toml", "", None, errors=(nasty, "more"))]
    line_8 = JobLine("c.toml", "", None, errors=("c.toml:8: not TOML",))
    lines += [replace(lines[0], title=nasty, examples=("cable.phase",)), line_8]
    file = io.BytesIO()
    write_jobs_page(file, lines, Counts(4, 1, 1), "All <runs>", "US", examples=True)
    page = file.getvalue().decode()
    assert page.count("<script") == page.count("</script>") == 2
    assert "Do not pull: 1 of 4 runs. 1 file has errors." in page and "All &lt;runs&gt;" in page
    assert not re.search(r"(?:src|href)\s*=|https?://|@import|url\(", page)
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    heads = [column["title"] for column in data["columns"]]
    assert heads[:4] == ["verdict", "run", "of limit (%)", "governing"] and heads[-1] == "job"
    assert len(data["rows"]) == 6 and data["rows"][5][1] == "error: line 8: not TOML"
    assert all(len(row) == len(heads) + 1 for row in data["rows"])
    assert data["rows"][3][1] == f"error: {nasty} and 1 more" and data["rows"][3][0] == 0
    length = data["rows"][0][1 + heads.index("length (ft)")]
    assert length == pytest.approx((100 + 1 / 3) / 0.3048, abs=0.051)
    assert data["rows"][4][1 + heads.index("job")] == nasty


def test_memory_does_not_grow_with_the_jobs(tmp_path: Path) -> None:
    """What is kept for each job: its name, its place in the results, and what it is sorted by."""

    def peak(count: int) -> int:
        place = tmp_path / str(count)
        place.mkdir()
        (place / "one").write_text("1")
        files = [f"{place}/one" for _ in range(count)]
        write_jobs_xlsx(io.BytesIO(), [], "t", "SI", examples=False)  # what it loads
        gc.collect()
        tracemalloc.start()
        with Ledger(files, BY) as ledger:
            answer_all(ledger, one_by_one(quick_answer))
            counts = Counts(len(ledger) - len(ledger.bad), 0)
            with (place / "out").open("wb") as out:
                for text in jobs_csv(ledger.worst_first(), "SI", examples=False):
                    out.write(text.encode())
                write_jobs_page(out, ledger.worst_first(), counts, "t", "SI", examples=False)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    few, more = peak(300), peak(1000)
    assert (more - few) / 700 < 250  # bytes a job
