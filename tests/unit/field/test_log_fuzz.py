"""Logs broken at random: a located refusal, or a log in which every line of the file is told of."""

from __future__ import annotations

import json
import random
import string
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import InputError
from route3d.field.log.cleaning import COUNTS_ANYWAY, FLAGS
from route3d.field.log.decisions import Decisions
from route3d.field.log.read import read_log
from route3d.field.log.stream import LogStream
from route3d.field.log.tables import LINE_END, log_text
from route3d.field.readings import PullLog, Reading
from route3d.report.field_log import log_csv
from tests.support.log_files import FOOT, POUND, job, page_json, recorded, riser_run, text_of

NAME = "pull.log"
_JUNK = (
    *("", "-", "OL", "n/a", "12,5", "1,234", "1.234,5", "1e9", "-1e300", "1e400", "NaN", "inf"),
    *("99:99", "24:00:00", "07:60", "2026-02-30", "31/31/2026", "½", "\x00", "\ufeff", '"', "'"),
    *("4'-6\"", "9" * 400, "low", "high", "stop", "10 furlong", "5 kN", ">5000", "\t", ";", "é"),
    *("#REF!", "=1+1"),
)


def base(draw: random.Random) -> str:
    rows = recorded(rest=draw.randint(0, 4), step=draw.choice((1.0, 4.0, 25.0)))[:60]
    return text_of(rows, draw.choice((",", ";", "\t")))


def page(draw: random.Random) -> str:
    return page_json(
        [
            {
                "kind": draw.choice(("reading", "reading", "start", "stop", "gear", "note")),
                "clock_s": 10.0 * i,
                "pulled_m": i * FOOT * 3,
                "load_N": (300 + i) * POUND,
            }
            for i in range(20)
        ]
    )


def broken(draw: random.Random) -> bytes:
    """A log with up to six things wrong with it."""
    text = page(draw) if draw.random() < 0.1 else base(draw)
    for _ in range(draw.randint(1, 6)):
        lines = text.split("\n")
        i, j = draw.randrange(len(lines)), draw.randrange(len(lines))
        kind = draw.randrange(13)
        if kind == 0:
            lines[i], lines[j] = lines[j], lines[i]
        elif kind == 1:
            lines.insert(i, lines[j])
        elif kind == 2:
            del lines[i]
        elif kind in (3, 4, 5):
            separator = next((s for s in ",;\t" if s in lines[i]), ",")
            cells = lines[i].split(separator)
            cells[draw.randrange(len(cells))] = draw.choice(_JUNK)
            lines[i] = separator.join(cells)
        elif kind == 6:
            lines[i] = "".join(draw.choice(string.printable) for _ in range(draw.randint(0, 60)))
        elif kind == 7:
            lines = lines[: max(i, 1)]
        elif kind == 8:
            lines[min(i, j) : max(i, j)] = reversed(lines[min(i, j) : max(i, j)])
        elif kind == 9:
            lines[min(i, j) : max(i, j)] = [
                x.replace(".", ",") for x in lines[min(i, j) : max(i, j)]
            ]
        elif kind == 10:
            lines[i:i] = lines[min(i, j) : max(i, j)]
        elif kind == 11:
            lines[0] = lines[0].replace(*draw.choice((("(ft)", ""), ("Load", "Force"), ("e", "é"))))
        else:
            lines[i] = lines[i][: draw.randint(0, 20)]
        text = "\n".join(lines)
    if draw.random() < 0.1:
        text = text.replace("\n", draw.choice(("\r\n", "\r", "\n\n")))
    data = text.encode(draw.choice(("utf-8", "utf-8", "utf-8-sig", "cp1252", "utf-16")), "replace")
    if draw.random() < 0.15 and data:
        changed = bytearray(data)
        for _ in range(draw.randint(1, 5)):
            changed[draw.randrange(len(changed))] = draw.randrange(256)
        data = bytes(changed)
    return data


def lines_of(data: bytes) -> int:
    """How many lines the file has, as the reader decodes it."""
    lines = LINE_END.split(log_text(data, Decisions()).replace("\x00", ""))
    return len(lines) - (not lines[-1])


def check(log: PullLog, data: bytes) -> None:
    told = {*log.row.tolist(), *(e.row for e in log.events)}
    for decision in log.decisions:
        assert decision.words.endswith(".") and decision.count > 0
        told |= {line for a, b in decision.rows for line in range(a, b + 1)}
    of_page = dict(log.details)["format"] == "page, JSON"
    count = len(json.loads(log_text(data, Decisions()))["entries"]) if of_page else lines_of(data)
    assert told >= set(range(1, count + 1))
    assert len(set(log.row.tolist())) == len(log)
    length = riser_run().length
    for i, flags in enumerate(log.flags):
        assert set(flags) <= FLAGS.keys() and len(set(flags)) == len(flags)
        assert log.used[i] == (not set(flags) - COUNTS_ANYWAY)
    used = log.used
    assert np.isfinite(log.load[used]).all()
    assert ((log.pulled[used] >= 0) & (log.pulled[used] <= length)).all()
    assert (np.diff(log.pulled[used]) > -0.35).all()
    times = log.time[used]
    assert (np.diff(times[~np.isnan(times)]) >= -1e-6).all()


def fuzz(cases: int, seed: int, folder: Path) -> None:
    draw = random.Random(seed)
    path, read = folder / NAME, 0
    for case in range(cases):
        data = broken(draw)
        path.write_bytes(data)
        try:
            log = read_log(path, job(), plan=riser_run())
        except InputError as error:
            assert error.problems and all(p.message and p.file == str(path) for p in error.problems)
            continue
        read += 1
        check(log, data)
        if case % 25 == 0:
            text = log_csv(log, job(), "US")
            (folder / "clean.csv").write_text(text, encoding="utf-8")
            again = read_log(folder / "clean.csv", job(), plan=riser_run())
            assert log_csv(again, job(), "US") == text
    assert 0.3 * cases < read < 0.98 * cases  # both kinds are met


def test_five_hundred_broken_logs(tmp_path: Path) -> None:
    fuzz(500, 13, tmp_path)


@pytest.mark.many
def test_twenty_thousand_broken_logs(tmp_path: Path) -> None:
    fuzz(20_000, 2026, tmp_path)


def test_fifty_broken_logs_as_streams(tmp_path: Path) -> None:
    """The stream gives a reading or a decision for every line too, and ends in no other error."""
    draw = random.Random(7)
    path, whole = tmp_path / NAME, 0
    for _ in range(50):
        data = broken(draw)
        path.write_bytes(data)
        try:
            with LogStream(path, job(), plan=riser_run()) as stream:
                made = [*stream.poll(), *stream.finish()]
        except InputError as error:
            assert all(p.message and p.file == str(path) for p in error.problems)
            continue
        whole += 1
        told = {item.row for item in made}
        told |= {x for d in stream.decisions for a, b in d.rows for x in range(a, b + 1)}
        assert told >= set(range(1, lines_of(data) + 1)) or not made
        assert all(set(r.flags) <= FLAGS.keys() for r in made if isinstance(r, Reading))
    assert whole > 15
