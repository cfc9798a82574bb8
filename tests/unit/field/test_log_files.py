"""One pull, written by many hands and programs, is the same log; what is doubtful is refused."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime, time, timedelta
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.field.log.read import read_log
from route3d.field.readings import PullLog
from route3d.report.field_form import form_csv, form_xlsx
from route3d.report.field_log import log_csv
from tests.support.log_files import (
    FOOT,
    MODEL,
    POUND,
    job,
    page_json,
    recorded,
    riser_plan,
    riser_run,
    text_of,
)

# Cable in ft, reading lbf, minute after 7:00 of ten rows by hand.
PULL = [(20 + 30 * i, 450 + 40 * i + i % 3, 3 * i) for i in range(10)]


def rows(*heads: str, mark: str = ".", separator: str = ",", **as_text: Callable[..., str]) -> str:
    """The ten rows under these headers; each cell of a row by the function of its column."""
    lines = [separator.join(heads)]
    for feet, pounds, minute in PULL:
        cells = [make(feet, pounds, minute) for make in as_text.values()]
        lines.append(separator.join(c.replace(".", mark) for c in cells))
    return "\n".join(lines) + "\n"


def feet_(f: int, p: int, m: int) -> str:
    return f"{f}"


def pounds_(f: int, p: int, m: int) -> str:
    return f"{p}"


def clock_(f: int, p: int, m: int) -> str:
    return f"07:{m:02}:00"


def book(*table: tuple[object, ...], title: str = "log") -> bytes:
    from openpyxl import Workbook

    made = Workbook()
    made.worksheets[0].title = title
    for row in table:
        made.worksheets[0].append(row)
    out = BytesIO()
    made.save(out)
    return out.getvalue()


START = datetime(2026, 3, 2, 7)
COLUMNS = {"t": clock_, "f": feet_, "p": pounds_}
SAME: dict[str, str | bytes] = {
    "plain": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS),
    "brackets, case, other words": rows("CLOCK", "Footage [FT]", "Line Tension [Lbs]", **COLUMNS),
    "unit as a last word": rows("Time", "Length ft", "Load_lbf", **COLUMNS),
    "units row, preamble, blank lines": "Recorder;X\nSerial;12\n\n"
    + rows("Time", "Distance", "Force", **COLUMNS, separator=";").replace(
        "Force\n", "Force\n;ft;lbf\n\n"
    ),
    "tabs and decimal commas": rows(
        "time",
        "cable in (m)",
        "load (kN)",
        t=clock_,
        f=lambda f, p, m: f"{f * FOOT:.4f}",
        p=lambda f, p, m: f"{p * POUND / 1000:.6f}",
        mark=",",
        separator="\t",
    ),
    "semicolons, points of thousands": rows(
        "time",
        "cable in (mm)",
        "load (N)",
        t=clock_,
        f=lambda f, p, m: f"{f * FOOT * 1000:,.1f}".replace(",", "~"),
        p=lambda f, p, m: f"{p * POUND:,.3f}".replace(",", "~"),
        mark=",",
        separator=";",
    ).replace("~", "."),
    "commas of thousands in quotes": rows(
        "time",
        "cable in (in)",
        "load (lbf)",
        t=clock_,
        f=lambda f, p, m: f'"{f * 12:,}"',
        p=lambda f, p, m: f"{p:.1f}",
    ),
    "units in cells": rows(
        "time",
        "cable in",
        "reading",
        t=clock_,
        f=lambda f, p, m: f"{f} ft",
        p=lambda f, p, m: f"{p} lbf",
    ),
    "feet and inches": rows(
        "time", "cable in (ft)", "reading (kip)",
        t=clock_,
        f=lambda f, p, m: f"{f}'-0\"",
        p=lambda f, p, m: f"{p / 1000}",
    ),
    "ISO times": rows(
        "timestamp",
        "cable in (ft)",
        "reading (lbf)",
        t=lambda f, p, m: f"2026-03-02T07:{m:02}:00-05:00",
        f=feet_,
        p=pounds_,
    ),
    "date and time apart, AM": rows(
        "Date", "Time", "cable in (ft)", "reading (lbf)",
        d=lambda f, p, m: "3/2/2026",
        t=lambda f, p, m: f"7:{m:02}:00 AM",
        f=feet_,
        p=pounds_,
    ),
    "German dates": rows(
        "Time", "cable in (ft)", "reading (lbf)",
        t=lambda f, p, m: f"02-03-2026 07:{m:02}:00".replace("-", "/"),
        f=feet_,
        p=pounds_,
    ),
    "epoch": rows(
        "time", "cable in (ft)", "reading (lbf)",
        t=lambda f, p, m: f"{1772452800 + 60 * m}",
        f=feet_,
        p=pounds_,
    ),
    "spreadsheet days": rows(
        "time", "cable in (ft)", "reading (lbf)",
        t=lambda f, p, m: f"{46083.25 + m / 1440:.9f}",
        f=feet_,
        p=pounds_,
    ),
    "minutes": rows(
        "elapsed (min)", "cable in (ft)", "reading (lbf)",
        t=lambda f, p, m: f"{m}",
        f=feet_,
        p=pounds_,
    ),
    "twelve-hour clock by hand": rows(
        "time", "cable in (ft)", "reading (lbf)",
        t=lambda f, p, m: f"{(11 * 60 + 50 + m) // 60 % 12 or 12}:{(50 + m) % 60:02}",
        f=feet_,
        p=pounds_,
    ),
    "a row of the header again, a footer": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS)
    + "time,cable in (ft),reading (lbf)\n,,\nend of log,,\n",
    "UTF-16": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS).encode("utf-16"),
    "UTF-16 without a mark": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS).encode(
        "utf-16-le"
    ),
    "UTF-8 with a mark": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS).encode(
        "utf-8-sig"
    ),
    "Windows text": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS)
    .replace("time,", "time °,")
    .encode("cp1252"),
    "old line ends": rows("time", "cable in (ft)", "reading (lbf)", **COLUMNS).replace("\n", "\r"),
    "beside what is no reading": rows(
        "time", "expected (lbf)", "reading (lbf)", "stop (lbf)", "cable in (ft)", "peak load (lbf)",
        t=clock_,
        e=lambda f, p, m: "1",
        p=pounds_,
        s=lambda f, p, m: "9999",
        f=feet_,
        k=lambda f, p, m: "7",
    ),
    "workbook": book(
        ("Load test", None),
        ("time", "cable in (ft)", "reading (lbf)"),
        *((START + timedelta(minutes=m), f, p) for f, p, m in PULL),
    ),
    "workbook, times of day and texts": book(
        ("time", "cable in", "reading"),
        (None, "m", "kN"),
        *(
            (time(7, m), f"{f * FOOT:.4f}".replace(".", ","), p * POUND / 1000)
            for f, p, m in PULL
        ),
    ),
    "page": page_json(
        [
            {"kind": "reading", "clock_s": 60.0 * m, "pulled_m": f * FOOT, "load_N": p * POUND}
            for f, p, m in PULL
        ]
    ),
    "page, CSV": "time,kind,cable in (ft),reading (lbf),gear,brake (lbf),note\n"
    + "".join(f"2026-03-02T07:{m:02}:00-05:00,reading,{f},{p},,,\n" for f, p, m in PULL),
}  # fmt: skip


def read(data: str | bytes, tmp_path: Path, **more: object) -> PullLog:
    path = tmp_path / "pull.log"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_log(path, job(), plan=riser_run(), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", SAME)
def test_the_same_pull_is_the_same_log(name: str, tmp_path: Path) -> None:
    log = read(SAME[name], tmp_path)
    assert log.pulled == pytest.approx([f * FOOT for f, _, _ in PULL], abs=1e-4)
    assert log.load == pytest.approx([p * POUND for _, p, _ in PULL], abs=1e-2)
    assert log.time == pytest.approx([60.0 * m for _, _, m in PULL], abs=1e-3)
    assert log.used.all() and not any(log.flags)


def test_numbers_without_units_take_those_asked_for(tmp_path: Path) -> None:
    text = rows("time", "cable in", "load", **COLUMNS)
    us, si = (read(text, tmp_path, units=units) for units in ("US", "SI"))
    assert us.pulled == pytest.approx(si.pulled * FOOT)
    assert us.load == pytest.approx(si.load * POUND)


@pytest.mark.parametrize(
    "mapping",
    [
        ["load=Channel 2 [kN]", "footage=Channel 1 [m]"],
        ["load=channel 2 [kN]", "footage=2 [m]", "time=1"],
    ],
)
def test_a_mapping_names_the_columns(mapping: list[str], tmp_path: Path) -> None:
    text = rows("time", "Channel 1", "Channel 2", **COLUMNS)
    log = read(text, tmp_path, mapping=mapping)
    assert log.load == pytest.approx([p * 1000 for _, p, _ in PULL])
    bare = text.partition("\n")[2]
    log = read(bare, tmp_path, mapping=["load=3 [kN]", "footage=2 [m]", "time=1"])
    assert len(log) == len(PULL) and log.load[0] == pytest.approx(450_000)
    turned = read(text, tmp_path, mapping=["load=-Channel 2 [kN]", "footage=2 [m]"])
    assert turned.load[0] == pytest.approx(-450_000)


def test_commas_that_may_be_either_are_asked_about(tmp_path: Path) -> None:
    text = "cable in (ft);load (lbf)\n" + "".join(f"{50 * i};1,{i}00\n" for i in range(1, 6))
    with pytest.raises(InputError, match=r"'1,100' may be 1\.100 or 1100; add --decimal") as caught:
        read(text, tmp_path)
    assert caught.value.problems[0].line == 2
    assert read(text, tmp_path, decimal="point").load[0] == pytest.approx(1100 * POUND)
    assert read(text, tmp_path, decimal="comma").load[0] == pytest.approx(1.1 * POUND)
    other = text.replace("\n50;", "\n50,5;")  # another column shows it
    assert read(other, tmp_path).load[0] == pytest.approx(1.1 * POUND)
    whole = text + "300;950\n310;960\n320;970\n"  # whole numbers beside them do
    assert read(whole, tmp_path).load[0] == pytest.approx(1100 * POUND)


WRONG = {
    "nothing": ("", "is empty"),
    "a header alone": ("time,cable in (ft),load (lbf)\n", "no readings"),
    "no unit": (rows("time", "cable in", "load (lbf)", **COLUMNS), "no unit.*--units US"),
    "unit of another kind": (
        rows("time", "cable in (lbf)", "load (lbf)", **COLUMNS),
        r"'lbf' is not a unit of cable in.*--map",
    ),
    "two loads": (
        rows("cable in (ft)", "load 1 (lbf)", "load 2 (lbf)", f=feet_, p=pounds_, q=pounds_),
        r"2 columns that may be the load: 'load 1 \(lbf\)' and.*--map \"load=load 1 \(lbf\)\"",
    ),
    "no load": (
        rows("time", "cable in (ft)", "Channel 2 [kN]", **COLUMNS),
        r"no column is known as the reading.*--map \"load=Channel 2 \[kN\]\"",
    ),
    "neither footage nor speed": (
        rows("time", "x", "load (lbf)", **COLUMNS),
        r"cable in \(footage\) or speed.*--map \"footage=x\"",
    ),
    "words for numbers": (
        rows("time", "cable in (ft)", "load (lbf)", t=clock_, f=feet_, p=lambda *_: "much"),
        "10 of 10 rows: reading not a number.*load.*'much'",
    ),
    "cut JSON": (SAME["page"][:300], "is not whole JSON"),
    "other JSON": ("{}", "not a log of a pull"),
    "a later page": (page_json([]).replace('log": 1', 'log": 9'), "version '9'"),
    "broken entries": (
        page_json(
            [{"kind": "reading", "pulled_m": "far", "at": "", "clock_s": 0}, {"kind": "nap"}]
        ),
        r"entries\[1\]\.pulled_m: 'far' is not a number.*entries\[2\]\.kind: 'nap'",
    ),
    "a picture": (bytes(range(256)) * 8, "is neither text nor a workbook.*CSV, XLSX or JSON"),
    "an archive": (b"PK\x03\x04" + b"\0" * 100, "cannot be read as a workbook"),
    "an old workbook": (b"\xd0\xcf\x11\xe0" + b"\0" * 100, "old-format"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_read_is_refused_with_the_fix(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, said = WRONG[name]
    path = tmp_path / "pull.log"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    assert main(["field", "log", MODEL, str(path)]) == 2
    error = capsys.readouterr().err
    assert "Traceback" not in error and str(path) in error
    assert re.search(said, error.replace("\n", " ")), error


def test_a_mapping_that_names_nothing_is_refused(tmp_path: Path) -> None:
    text = rows("time", "cable in (ft)", "load (lbf)", **COLUMNS)
    for asked, said in (
        ("load", "maps no column"),
        ("colour=load", "maps no column"),
        ("load=Channel 9", "no column 'Channel 9'"),
        ("load=load [ft]", "'ft' is not a unit of load"),
    ):
        with pytest.raises(InputError, match=re.escape(said)):
            read(text, tmp_path, mapping=[asked])
    with pytest.raises(InputError, match="mapped twice"):
        read(text, tmp_path, mapping=["load=2 [lbf]", "load=3 [lbf]"])


def test_run_feed_and_sheet_must_be_known(tmp_path: Path) -> None:
    path = tmp_path / "pull.xlsx"
    path.write_bytes(SAME["workbook"])  # type: ignore[arg-type]
    for more, said in (
        ({"sheet": "Log 2"}, "no sheet 'Log 2'"),
        ({"run": "F9"}, "no run is named 'F9'"),
        ({"feed": "nowhere"}, "no end named 'nowhere'"),
    ):
        with pytest.raises(InputError, match=said):
            read_log(path, job(), **more)  # type: ignore[arg-type]
    assert read_log(path, job(), feed="vault V1").feed == "vault V1"
    named = "run: F9\nfeed: elsewhere\n" + str(SAME["plain"])
    log = read(named, tmp_path)
    assert {d.rule for d in log.decisions} >= {"run", "feed"} and log.run == "F1"


# --- the form, the page and the clean record ------------------------------------------------------


def test_a_form_filled_in_by_hand_is_the_log_of_the_page(tmp_path: Path) -> None:
    plan = riser_plan()
    told = [round(row.expected / POUND / 50) * 50 for row in plan.gauge]
    texts = form_csv(plan, job(), "US").splitlines()
    head = next(i for i, line in enumerate(texts) if line.startswith("cable in"))
    for i, pounds in enumerate(told):
        cells = texts[head + 1 + i].split(",")
        texts[head + 1 + i] = ",".join(
            [*cells[:4], f"{pounds:,}" if i else "500", f"7:{2 * i:02}", ""]
        )
    texts[head + 14] = texts[head + 14].replace(f"{told[-1]:,}", f'"{told[-1]:,}"')
    by_hand = read("\n".join(texts) + "\n", tmp_path)

    from openpyxl import load_workbook

    sheet = load_workbook(BytesIO(form_xlsx(plan, job(), "US"))).worksheets[0]
    for i, pounds in enumerate(told):
        sheet.cell(head + 2 + i, 5).value = pounds if i else 500
        sheet.cell(head + 2 + i, 6).value = time(7, 2 * i)
    out = BytesIO()
    sheet.parent.save(out)
    typed = read(out.getvalue(), tmp_path)

    at = [min(round(row.pulled / FOOT, 1) * FOOT, plan.pull.path.length) for row in plan.gauge]
    page = read(
        page_json(
            [
                {
                    "kind": "reading",
                    "clock_s": 120.0 * i,
                    "pulled_m": place,
                    "load_N": pounds * POUND,
                }
                for i, (place, pounds) in enumerate(zip(at, [500, *told[1:]], strict=True))
            ]
        ),
        tmp_path,
    )
    for log in (by_hand, typed):
        assert log.run == "F1" and log.feed == "roof switchroom"
        assert log.pulled == pytest.approx(page.pulled)
        assert log.load == pytest.approx(page.load)
        assert log.time == pytest.approx(page.time)
        assert log.flags == page.flags and log.gear == page.gear
    assert page.used.sum() == len(plan.gauge) - 1  # the first is the first move


def test_a_form_that_was_left_empty_is_no_reading(tmp_path: Path) -> None:
    log = read(form_csv(riser_plan(), job(), "US"), tmp_path)
    assert set(log.flags) == {("no reading",)} and not log.events


def test_what_the_page_tells_of_the_pull(tmp_path: Path) -> None:
    entries = [
        {"kind": "reading", "clock_s": 0.0, "pulled_m": 0.0, "load_N": 45.0},
        {"kind": "brake", "clock_s": 5.0, "brake_N": 900.0},
        {"kind": "start", "clock_s": 10.0, "pulled_m": 0.0},
        {"kind": "reading", "clock_s": 15.0, "pulled_m": 1.0, "load_N": 2000.0},
        {"kind": "reading", "clock_s": 60.0, "pulled_m": 12.0, "load_N": 1700.0},
        {"kind": "stop", "clock_s": 70.0, "note": "lunch"},
        {"kind": "reading", "clock_s": 80.0, "pulled_m": 12.5, "load_N": 900.0},
        {"kind": "gear", "clock_s": 90.0, "gear": "low"},
        {"kind": "start", "clock_s": 100.0},
        {"kind": "reading", "clock_s": 110.0, "pulled_m": 14.0, "load_N": 1900.0},
        {"kind": "reading", "clock_s": 150.0, "pulled_m": 30.0, "load_N": 1500.0, "note": "dust"},
    ]
    undone = [{"kind": "reading", "clock_s": 20.0, "pulled_m": 500.0, "load_N": 1.0}]
    log = read(page_json(entries, undone=undone), tmp_path)
    assert log.started == "2026-03-02T07:00:00-05:00" and log.tare == pytest.approx(45.0)
    assert [e.kind for e in log.events] == ["brake", "start", "stop", "gear", "start", "note"]
    assert log.events[2].words == "lunch" and log.events[2].pulled == 12.0
    assert log.events[0].force == 900.0 and log.events[3].words == "low"
    assert log.used.tolist() == [False, False, True, False, False, True]
    assert log.flags[3] == ("at standstill",) and log.flags[4] == ("first move",)
    assert log.gear[-1] == "low"
    assert any(d.rule == "undone" and d.count == 1 for d in log.decisions)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_clean_record_is_read_back_as_it_was(system: str, tmp_path: Path) -> None:
    rows_ = recorded()
    text = text_of(rows_[:60]) + "07:30:00,-3,OL,,=1+1\n" + text_of(rows_[60:]).partition("\n")[2]
    log = read(text, tmp_path)
    record = log_csv(log, job(), system)
    path = tmp_path / "clean.csv"
    path.write_text(record, encoding="utf-8")
    back = read_log(path, job())
    for name in ("pulled", "load", "time"):
        np.testing.assert_allclose(getattr(back, name), getattr(log, name), rtol=1e-14)
    for name in ("gear", "flags", "decisions", "run", "feed", "started", "name"):
        assert getattr(back, name) == getattr(log, name)
    assert back.used.tolist() == log.used.tolist() and back.row.tolist() == log.row.tolist()
    assert back.tare == pytest.approx(log.tare)
    assert [(e.kind, e.words, e.row) for e in back.events] == [
        (e.kind, e.words, e.row) for e in log.events
    ]
    assert log_csv(back, job(), system) == record


def test_the_command_prints_counts_and_decisions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pull.csv"
    path.write_text(text_of(recorded()), encoding="utf-8")
    assert main(["field", "log", MODEL, str(path), "--csv", str(tmp_path / "c.csv")]) == 0
    out = capsys.readouterr().out
    assert "323 of 337 readings used" in out and "Tare: 10 lbf" in out and "first move" in out
    assert main(["field", "log", MODEL, str(tmp_path / "c.csv"), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["log"]["used"] == 323 and len(data["readings"]) == 337
    assert main(["field", "log", MODEL, str(path), "--csv", str(path)]) == 2
    assert main(["field", "log", MODEL, str(path), "--tare", "heavy"]) == 2
    assert "--tare" in capsys.readouterr().err


def test_the_form_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("f.csv", "f.xlsx"):
        assert main(["field", "form", MODEL, str(tmp_path / name), "--run", "F1"]) == 0
        assert main(["field", "log", MODEL, str(tmp_path / name)]) == 0
    assert main(["field", "form", MODEL, str(tmp_path / "f.txt")]) == 2
    assert main(["field", "form", "models/roof_drop.toml", str(tmp_path / "r.csv")]) in (0, 2)
    capsys.readouterr()


def test_decimal_commas_are_told_of_the_columns_that_have_them(tmp_path: Path) -> None:
    log = read(SAME["tabs and decimal commas"], tmp_path)
    (told,) = [d.words for d in log.decisions if "decimal commas" in d.words]
    assert "'time'" not in told and "'cable in (m)', 'load (kN)'" in told
