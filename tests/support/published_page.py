"""The page of printed figures: source, clause, printed value, ours, agreeing digits.

Made by running the tests of ``tests/published``::

    python -m tests.support.published_page OUT.md
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

from tests.support.published import Comparison

HEADINGS = ("clause", "what", "printed", "ours", "agreeing digits")


def page(comparisons: Sequence[Comparison], out: str) -> None:
    """Write all comparisons as Markdown, one table for each source."""
    Path(out).write_text(text(comparisons), encoding="utf-8")


def text(comparisons: Sequence[Comparison]) -> str:
    """The page; sources and clauses in alphabetical order, figures in that of the tests."""
    ordered = sorted(comparisons, key=lambda c: (c.source, c.clause))
    wrong = sum(not c.agrees for c in ordered)
    lines = [
        "# Printed figures and ours",
        "",
        f"{len(ordered)} comparisons; {wrong} outside their tolerance.",
        "",
        "Agreeing digits: -log10 of the difference over the printed figure. A figure that agrees",
        "to fewer digits than are printed has its reason in the test.",
    ]
    for source, group in groupby(ordered, key=lambda c: c.source):
        lines += ["", f"## {source}", "", _row(HEADINGS), _row(["---"] * len(HEADINGS))]
        lines += [_row(_cells(one)) for one in group]
    return "\n".join(lines) + "\n"


def _cells(one: Comparison) -> list[str]:
    digits = "all" if one.digits is None else f"{one.digits:.1f}"
    if not one.agrees:
        digits += ", outside the tolerance"
    return [one.clause, one.what, figure(one.printed), figure(one.ours), digits]


def figure(value: object) -> str:
    """A figure to seven digits, as many as any source prints."""
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def main(arguments: Sequence[str]) -> int:
    """Run the published tests and write the page; the exit code is that of the tests."""
    import pytest

    if len(arguments) < 1 or arguments[0].startswith("-"):
        print("usage: python -m tests.support.published_page OUT.md [TESTS...]", file=sys.stderr)
        return 2
    out, *tests = arguments
    here = Path(__file__).parents[1] / "published"
    chosen = tests or [str(here)]
    return int(pytest.main(["-q", "-p", "no:cacheprovider", *chosen, "--published-page", out]))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
