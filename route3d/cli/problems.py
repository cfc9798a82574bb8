"""Problems on standard error: one a line, and on a terminal the source line with a caret."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from route3d.errors import InputError, Problem

# So many problems are read and mended at one go; the rest are counted by kind.
_MOST, _MOST_KINDS = 20, 10


def report_problems(error: Exception) -> None:
    """Print what is wrong, one problem a line; of very many the first, and how many more."""
    problems = error.problems if isinstance(error, InputError) else (Problem(str(error)),)
    for problem in problems[:_MOST]:
        print(_one_line(str(problem)), file=sys.stderr)
        if sys.stderr.isatty():
            for line in snippet(problem):
                print(line, file=sys.stderr)

    for line in _rest(problems[_MOST:]):
        print(_one_line(line), file=sys.stderr)


def _rest(problems: Sequence[Problem]) -> Iterator[str]:
    """The number of the problems not shown, by kind, each kind with its first one."""
    kinds: dict[str, list[Problem]] = {}
    for problem in problems:
        kinds.setdefault(_kind(problem), []).append(problem)
    if problems:
        yield f"and {len(problems):,} more problems:"
    shown = sorted(kinds.values(), key=len, reverse=True)[:_MOST_KINDS]
    for alike in shown:
        first = str(alike[0])
        yield first if len(alike) == 1 else f"{len(alike):,} such as: {first}"
    if left := len(problems) - sum(map(len, shown)):
        yield f"{left:,} of {len(kinds) - len(shown):,} other kinds"


def _kind(problem: Problem) -> str:
    """What a message says without the names and numbers in it."""
    return re.sub(r"'[^']*'|\"[^\"]*\"|\d[\d.,]*", "#", problem.message)


def _one_line(text: str) -> str:
    """The text on one line, without control characters that a file name might carry."""
    joined = " ".join(text.split())
    return "".join(c if c.isprintable() else "?" for c in joined)


def snippet(problem: Problem, width: int = 100) -> Iterator[str]:
    """The source line of a problem and a caret under its column; nothing where there is none."""
    if not problem.file or problem.line is None or problem.column is None:
        return
    try:
        lines = Path(problem.file).read_text(encoding="utf-8-sig").split("\n")
        text = lines[problem.line - 1].rstrip("\r")
    except (OSError, ValueError, IndexError):
        return
    start = max(0, problem.column - 1 - width // 2)  # a long line is shown around its column
    cut = "".join(c if c.isprintable() else " " for c in text[start : start + width])
    gutter = f"{problem.line:>6} | "
    yield gutter + cut
    yield " " * (len(gutter) + problem.column - 1 - start) + "^"
