"""Tables on a narrow terminal: every word and number stays whole, no line is too wide."""

from __future__ import annotations

import io

import pytest
from rich.console import Console, RenderableType

from route3d.checks.finding import Finding
from route3d.phrase import say
from route3d.report.findings import findings_table
from route3d.report.layout import table

HEADS = ("cable in", "head at", "stop", "limit reached first", "by brake")
ROWS = (
    ("0 ft", "roof switchroom", "3,879 lbf", "sidewall, feed-in sheave", "268 to 801 lbf"),
    ("1,157 ft", "end of bend 1", "4,413 lbf", "worst bolt, combined", "1,394 to 1,945 lbf"),
)


def printed(item: RenderableType, width: int) -> list[str]:
    """The lines of a terminal ``width`` columns wide."""
    out = io.StringIO()
    Console(file=out, width=width, force_terminal=True, color_system=None).print(item)
    return out.getvalue().splitlines()


@pytest.mark.parametrize("width", [60, 70, 80, 100, 200])
def test_a_table_is_as_narrow_as_the_terminal_and_cuts_no_word(width: int) -> None:
    lines = printed(table(HEADS, ROWS, numbers={0, 2, 4}), width)
    assert max(map(len, lines)) <= width
    words = " ".join(lines).split()
    for text in (*HEADS, *(cell for row in ROWS for cell in row)):
        assert set(text.split()) <= set(words), text
    # A number stays on the line of its unit.
    for number in ("3,879 lbf", "4,413 lbf", "801 lbf", "1,945 lbf", "1,157 ft"):
        assert any(number in line for line in lines), number


def test_a_table_with_room_is_not_wrapped() -> None:
    lines = printed(table(HEADS, ROWS, numbers={0, 2, 4}), 200)
    assert len(lines) == 2 + len(ROWS)
    assert all(any(cell in line for line in lines) for row in ROWS for cell in row)


@pytest.mark.parametrize("width", [80, 100])
def test_a_finding_with_a_long_place_keeps_its_figures_on_its_first_line(width: int) -> None:
    finding = Finding(
        rule="rope wear in a plastic bend",
        severity="caution",
        where="bend 3, after a stop, fed from the far substation of berth 4",
        demand=22_000.0,
        limit=7_300.0,
        quantity="sidewall",
        fix=say("use a steel bend here"),
        source="common practice, no source",
        station=None,
        ratio=3.0,
    )
    lines = [
        line.rstrip() for part in findings_table([finding], "SI") for line in printed(part, width)
    ]
    assert max(map(len, lines)) <= width
    first = next(line for line in lines if line.startswith("caution"))
    assert first.endswith("22,000 N/m  7,300 N/m")
    head = next(line for line in lines if line.startswith("severity"))
    # The headings stand above their columns: the numbers end where the headings end.
    assert len(head) == len(first)
    assert "substation" in " ".join(lines) and "berth" in " ".join(lines)


@pytest.mark.parametrize("terminal", [False, True])
@pytest.mark.parametrize("width", [121, 200, 10_000])
def test_no_table_is_wider_than_120_columns_and_no_figure_is_lost(
    width: int, terminal: bool
) -> None:
    """As that of a stopped run, in a pipe or a wide terminal alike."""
    stop = "STOP: sidewall pressure, machine line pull, conductor tension, pulling eyes load"
    rows = [
        ["verdict", f"{stop}, {k}", f"fed from the other end: {stop}", f"{k:,} lbf to 9,{k} lbf"]
        for k in range(1001, 1009)
    ]
    out = io.StringIO()
    console = Console(file=out, width=width, force_terminal=terminal, color_system=None)
    console.print(table(["", "feed vault V1", "feed roof switchroom", "load"], rows, numbers={3}))
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 120
    assert all(
        text.count(f"{k:,} lbf") == 1 for k in range(1001, 1009) for text in ["".join(lines)]
    )
    assert sum(line.split()[:1] == ["verdict"] for line in lines) == 8


def test_words_too_long_for_120_columns_are_not_cut() -> None:
    names = ["n" * 50, "m" * 60, "k" * 40]
    out = io.StringIO()
    Console(file=out, width=10_000, color_system=None).print(table(["a", "b", "c"], [names]))
    assert all(name in out.getvalue() for name in names)


@pytest.mark.parametrize("terminal", [False, True])
def test_a_table_that_does_not_fit_goes_on_below_with_its_first_column(terminal: bool) -> None:
    heads = ("bend", *(f"quantity{i}" for i in range(8)))
    rows = [(f"B{k}", *(f"{k}{i},000.0 lbf/ft" for i in range(8))) for k in range(3)]
    out = io.StringIO()
    console = Console(file=out, width=60, force_terminal=terminal, color_system=None)
    console.print(table(heads, rows, numbers=range(1, 9)))
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 60
    starts = [line for line in lines if line.startswith("bend")]
    assert len(starts) > 1 and " ".join(starts).count("quantity") == 8
    for row in rows:
        told = [line for line in lines if line.startswith(row[0])]
        assert len(told) == len(starts)
        assert all(any(cell in line for line in told) for cell in row)
