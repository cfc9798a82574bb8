"""A log that grows, is cut short, replaced, comes slowly or in another encoding, for hours."""

from __future__ import annotations

import os
import threading
import time
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.field.log.read import read_log
from route3d.field.log.stream import LogStream
from route3d.field.readings import Event, Reading
from tests.support.log_files import FOOT, job, recorded, riser_run, text_of

TEXT = text_of(recorded())
LINES = TEXT.splitlines(keepends=True)
Opened = Callable[..., LogStream]


@pytest.fixture
def opened() -> Iterator[Opened]:
    streams: list[LogStream] = []

    def of(source: object, **more: object) -> LogStream:
        streams.append(LogStream(source, job(), plan=riser_run(), **more))  # type: ignore[arg-type]
        return streams[-1]

    yield of
    for stream in streams:
        stream.close()


def rows_of(made: list[Reading | Event]) -> list[int]:
    return [r.row for r in made if isinstance(r, Reading)]


def append(path: Path, text: str) -> None:
    with path.open("a", encoding="utf-8", newline="") as file:
        file.write(text)


def test_a_reading_comes_with_the_end_of_its_line(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "pull.csv"
    path.write_text("".join(LINES[:3]), encoding="utf-8")
    stream = opened(path)
    assert rows_of(stream.poll()) == [2, 3]
    assert stream.poll() == []
    append(path, LINES[3][:-5])  # "10," without its end may still become "105,"
    assert stream.poll() == []
    append(path, LINES[3][-5:] + LINES[4])
    assert rows_of(stream.poll()) == [4, 5]
    append(path, LINES[5].rstrip("\n"))
    assert stream.poll() == []
    assert rows_of(stream.finish()) == [6]
    assert stream.ended


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_bytes_come_as_they_like(encoding: str, ends: str, tmp_path: Path, opened: Opened) -> None:
    """Every byte by itself: half letters and half line ends wait for the rest."""
    text = "".join(LINES[:40]).replace(",,\n", ",,Bär\n").replace("\n", ends)
    path = tmp_path / "pull.csv"
    path.write_bytes(b"")
    stream, made = opened(path), []
    with path.open("ab", buffering=0) as file:
        for byte in text.encode(encoding):
            file.write(bytes([byte]))
            made += stream.poll()
    made += stream.finish()
    path.write_bytes(text.encode(encoding))
    whole = read_log(path, job(), plan=riser_run())
    assert rows_of(made) == whole.row.tolist()
    assert [r.load for r in made if isinstance(r, Reading)] == whole.load.tolist()
    assert {e.words for e in made if isinstance(e, Event) and e.kind == "note"} == {"Bär"}


def test_a_file_cut_short_is_read_from_its_begin(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "pull.csv"
    path.write_text("".join(LINES[:200]), encoding="utf-8")
    stream = opened(path)
    before = [r for r in stream.poll() if isinstance(r, Reading)]
    path.write_text(LINES[0] + "".join(LINES[200:220]), encoding="utf-8")
    after = [r for r in stream.poll() if isinstance(r, Reading)]
    assert len(before) == 199 and len(after) == 20
    assert all(r.used for r in after)
    assert after[0].row == 202  # lines are counted on
    assert after[0].pulled == pytest.approx(before[-1].pulled + FOOT)
    assert {d.rule for d in stream.decisions} >= {"begun anew", "header again"}


def test_a_file_written_again_from_its_start_counts_no_row_twice(
    tmp_path: Path, opened: Opened
) -> None:
    path = tmp_path / "pull.csv"
    path.write_text("".join(LINES[:200]), encoding="utf-8")
    stream = opened(path)
    stream.poll()
    path.write_text("".join(LINES[:150]), encoding="utf-8")
    again = [r for r in stream.poll() if isinstance(r, Reading)]
    assert len(again) == 149 and not any(r.used for r in again)
    append(path, "".join(LINES[150:210]))
    more = [r.used for r in stream.poll() if isinstance(r, Reading)]
    assert more == [False] * 50 + [True] * 10


def test_a_file_replaced_by_another_is_read_to_its_end_first(
    tmp_path: Path, opened: Opened
) -> None:
    path = tmp_path / "pull.csv"
    path.write_text("".join(LINES[:50]), encoding="utf-8")
    stream = opened(path)
    made = stream.poll()
    append(path, "".join(LINES[50:60]))
    path.rename(tmp_path / "pull.csv.1")
    made += stream.poll()
    assert rows_of(made) == list(range(2, 61))
    # the next file has another order of columns
    head, *rest = (line.rstrip("\n").split(",") for line in (LINES[0], *LINES[60:80]))
    turned = "\n".join(",".join(reversed(cells)) for cells in (head, *rest)) + "\n"
    path.write_text(turned, encoding="utf-8")
    after = [r for r in stream.poll() if isinstance(r, Reading)]
    assert len(after) == 20 and all(r.used for r in after)


def test_a_pipe_is_followed_to_its_end(opened: Opened) -> None:
    reader, writer = os.pipe()

    def slowly() -> None:
        with os.fdopen(writer, "wb", buffering=0) as pipe:
            for i in range(0, len(LINES[:60]), 7):
                pipe.write("".join(LINES[i : min(i + 7, 60)]).encode())
                time.sleep(0.01)

    thread = threading.Thread(target=slowly)
    with os.fdopen(reader, "rb") as pipe:
        stream = opened(pipe)
        thread.start()
        made = list(stream.follow(every=0.002))
        thread.join()
    assert rows_of(made) == list(range(2, 61)) and stream.ended


def test_following_a_file_ends_when_it_is_quiet(tmp_path: Path, opened: Opened) -> None:
    path = tmp_path / "pull.csv"
    path.write_text(TEXT, encoding="utf-8")
    made = list(opened(path).follow(every=0.001, idle=0.02))
    assert len(rows_of(made)) == len(LINES) - 1


def test_what_cannot_be_told_is_asked_at_once(tmp_path: Path, opened: Opened) -> None:
    with pytest.raises(InputError, match="no such file"):
        opened(tmp_path / "none.csv")
    path = tmp_path / "pull.csv"
    path.write_text("cable in (ft);load (lbf)\n50;1,100\n", encoding="utf-8")
    with pytest.raises(InputError, match="--decimal"):
        opened(path).poll()
    path.write_text("cable in (ft);load (lbf)\n50.5;1100\n60.5;12,5\n70,5;8\n80,5;8\n", "utf-8")
    with pytest.raises(InputError, match=r"shows a decimal comma.*--decimal"):
        opened(path).poll()
    path.write_text("a,b\n" + "1,2\n" * 80, encoding="utf-8")
    with pytest.raises(InputError, match="no column is known"):
        opened(path).poll()


def long_log(hours: float) -> Iterator[bytes]:
    """10 Hz: the riser pulled slowly again and again after stops, with all sorts of trouble."""
    yield LINES[0].encode()
    count = int(hours * 36_000)
    for i in range(count):
        feet = 330.0 * i / count
        load = 400 + 0.5 * feet + (i * 7919 % 13)
        text = (
            f"{i // 36000 % 24:02}:{i // 600 % 60:02}:{i / 10 % 60:04.1f},{feet:.2f},{load:.0f},,\n"
        )
        if i % 997 == 0:
            text = "\x00,???,OL\n" if i % 2 else text + text
        yield text.encode()


def memory_of(hours: float, opened: Opened) -> tuple[int, int]:
    class Source:
        def __init__(self) -> None:
            self.lines = long_log(hours)

        def read(self, _: int) -> bytes:
            return b"".join(line for _, line in zip(range(10), self.lines, strict=False))

    stream, count = opened(Source()), 0
    tracemalloc.start()
    try:
        while not stream.ended:
            count += len(rows_of(stream.poll()))
        return count, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_does_not_grow_with_the_log(opened: Opened, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("route3d.field.log.cleaning._RECENT", 400)  # full within the shorter log
    short, long = memory_of(0.03, opened), memory_of(0.06, opened)
    assert long[0] > 1.9 * short[0]
    assert long[1] < 1.1 * short[1] + 100_000


@pytest.mark.scale
def test_eight_hours_at_ten_readings_a_second(opened: Opened) -> None:
    hour, eight = memory_of(1.0, opened), memory_of(8.0, opened)
    assert eight[0] > 288_000
    assert eight[1] < 1.1 * hour[1] + 100_000
