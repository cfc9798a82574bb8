"""Logs of something else: another unit, run, feed end or machine. None is taken quietly."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from route3d.api import plan
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.field.compare import compare_log
from route3d.field.fit import fit_logs
from route3d.field.log.read import read_log
from route3d.modelfile.read import load
from route3d.report.field_log import log_csv

MODEL = Path("models/riser_duct_bank.toml")
LOG = Path("models/pulls/F1_recorder.csv").read_text(encoding="utf-8")
JOB = load(MODEL)
HEAD = "Time,Footage (ft),Tension (lbf),Gear,Note"


def read(text: str, **more: object):  # type: ignore[no-untyped-def]
    return read_log("F1.csv", JOB, data=text.encode(), **more)  # type: ignore[arg-type]


def with_row(number: int, footage: str, load: str) -> str:
    lines = LOG.splitlines()
    lines[number] = f"{lines[number].split(',')[0]},{footage},{load},high,"
    return "\n".join(lines)


def test_a_log_in_the_wrong_unit_is_flagged_and_teaches_nothing() -> None:
    log = read(LOG.replace("lbf", "kN"))
    assert any("above the machine's pull" in flags for flags in log.flags)
    with pytest.raises(InputError, match="above what the machine can pull"):
        fit_logs(JOB, [log])


@pytest.mark.parametrize("load", ["1e308", "1e400", "inf"])
def test_an_impossible_load_is_told_as_above_stop_and_never_infinite(load: str) -> None:
    log = read(with_row(60, "98", load))
    found = compare_log(plan(JOB, feed=log.feed).plans[0], JOB, log)
    above = found.flagged_above_stop.tolist() + found.above_stop.tolist()
    assert [int(log.row[i]) for i in above] == [61]
    text = log_csv(log, JOB, "US")
    assert ",inf" not in text and "15.000000000000002" not in text
    again = read(text)
    assert np.array_equal(again.load, log.load, equal_nan=True) and again.flags == log.flags


def test_a_footage_beyond_everything_is_flagged_without_a_warning() -> None:
    log = read(with_row(60, "1e308", "400"))
    assert log.flags[list(log.row).index(61)] == ("footage out of line",)


def test_a_log_of_another_run_or_end_is_refused_until_it_is_asked_for() -> None:
    for wrong, said in (
        (LOG.replace("Run: F1", "Run: Z9"), 'run .Z9.*--run "F1"'),
        (LOG.replace("roof switchroom", "Mars"), 'fed from .Mars.*--feed "vault V1"'),
    ):
        with pytest.raises(InputError, match=said):
            read(wrong)
        asked = read(wrong, run="F1", feed="roof switchroom")
        assert {"run", "feed"} & {d.rule for d in asked.decisions}
    record = log_csv(read(LOG), JOB, "US").replace("run,F1", "run,Z9")
    with pytest.raises(InputError, match="Z9"):
        read(record)


def test_a_log_of_the_other_end_is_told_and_gives_no_friction() -> None:
    log = read(LOG.replace("roof switchroom", "vault V1"))
    found = fit_logs(JOB, [log])
    assert found.other_ends == ("roof switchroom",)
    assert not any(e.known for e in found.estimates)
    assert (
        compare_log(plan(JOB, feed="vault V1").plans[0], JOB, log).other_end == found.other_ends[0]
    )
    assert not fit_logs(JOB, [read(LOG)]).other_ends[0]


def test_columns_that_are_not_force_twice_there_or_without_a_header() -> None:
    with pytest.raises(InputError, match="'psi' is not a unit of load"):
        read(LOG.replace("lbf", "psi"), units="US")
    table = LOG[LOG.index(HEAD) + len(HEAD) + 1 :]
    twice = HEAD.replace("Note", "Tension (lbf)") + "\n" + table
    with pytest.raises(InputError, match=r"column 3.*column 5.*load=3"):
        read(twice)
    with pytest.raises(InputError, match=r"columns 3 and 5.*load=3"):
        read(twice, mapping=["load=Tension (lbf)"])
    with pytest.raises(InputError, match=r"footage=2 \[ft\].*load=3 \[lbf\]"):
        read(table)
    assert len(read(table, mapping=["footage=2 [ft]", "load=3 [lbf]"])) == 193
    with pytest.raises(InputError, match="holds no readings"):
        read(HEAD + "\n" + "1" * 100_000)


def _watch(capsys: pytest.CaptureFixture[str], path: Path, *more: str) -> tuple[int, str]:
    code = main(["field", "watch", str(MODEL), str(path), "--once", *more])
    shown = capsys.readouterr()
    return code, shown.out + shown.err


def test_a_watch_is_no_all_clear_without_readings_or_off_the_route(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, state = tmp_path / "F1.csv", tmp_path / "state.json"
    for text, said in (
        ("", "holds no readings"),
        (HEAD + "\n", "holds no readings"),
        (LOG.replace("Run: F1", "Run: Z9"), "Z9"),
        (LOG.replace("roof switchroom", "vault V1"), '--feed "vault V1"'),
    ):
        path.write_text(text)
        code, shown = _watch(capsys, path)
        assert code == 2 and said in shown and "not reached" not in shown
    path.write_text("\n".join([*LOG.splitlines()[:60], "08:20:00.0,900,300,high,", ""]))
    code, shown = _watch(capsys, path, "--state", str(state))
    assert code == 0 and "NOT JUDGED" in shown.split("900 ft in")[0].splitlines()[-1]
    path.write_text(HEAD + "\n" + LOG[LOG.index(HEAD) + len(HEAD) + 1 :])
    code, shown = _watch(capsys, path, "--state", str(state))
    assert code == 2 and "another log" in shown
    path.write_text(with_row(60, "98", "1e308"))
    code, shown = _watch(capsys, path)
    assert code == 1 and "STOP: Call. More than the machine can pull" in shown
