"""Small wrong changes drawn at random from the product, and the tests that run the changed line.

A change is one operator, comparison, number or quantity of ``route3d/mechanics``, ``checks`` or
``planning``. Which tests run which line is measured once (coverage with a context for each test);
a change then meets those tests alone, until one of them fails.
"""

from __future__ import annotations

import ast
import os
import random
import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from route3d.quantities import QUANTITIES

PACKAGES = ("mechanics", "checks", "planning")
# What runs the lines of these packages without a renderer, a browser or a command of its own.
TESTS = (
    *(f"tests/unit/{name}" for name in (*PACKAGES, "report", "modelfile")),
    *("tests/oracles", "tests/published", "tests/properties", "tests/regression"),
)
# Seconds of tests, as they take without a change, that one change meets at most.
BUDGET = 30.0

_OPERATORS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    # turned round: at the very limit two floats hardly ever meet
    ast.Lt: ("<", ">"),
    ast.LtE: ("<=", ">="),
    ast.Gt: (">", "<"),
    ast.GtE: (">=", "<="),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
}


class Change(NamedTuple):
    """``old`` becomes ``new`` at ``start`` (a character of the file); ``line`` counts from 1."""

    kind: str
    file: str
    line: int
    start: int
    old: str
    new: str

    def of(self, text: str) -> str:
        """The text of the file with the change in it."""
        assert text[self.start : self.start + len(self.old)] == self.old, self
        return text[: self.start] + self.new + text[self.start + len(self.old) :]


def changes(root: Path) -> list[Change]:
    """Every change that could be made, in the order of the files."""
    found: list[Change] = []
    for package in PACKAGES:
        for path in sorted((root / "route3d" / package).rglob("*.py")):
            found += _changes_of(path.relative_to(root).as_posix(), path.read_text("utf-8"))
    return found


def sample(root: Path, number: int, seed: int) -> list[Change]:
    """``number`` changes, as many of each kind as there are, else the rest from the others."""
    drawn = random.Random(seed)
    by_kind: dict[str, list[Change]] = {}
    for change in changes(root):
        by_kind.setdefault(change.kind, []).append(change)
    for listed in by_kind.values():
        drawn.shuffle(listed)
    rounds = zip(*(_then_none(x) for _, x in sorted(by_kind.items())), strict=True)
    picked = (c for row in islice(rounds, number) for c in row if c is not None)
    return list(islice(picked, number))


def _then_none(listed: list[Change]) -> Iterator[Change | None]:
    yield from listed
    while True:
        yield None


def _changes_of(file: str, text: str) -> Iterator[Change]:
    lines = [0]
    for line in text.splitlines(keepends=True):
        lines.append(lines[-1] + len(line))
    rows = text.splitlines()

    def at(line: int, column: int) -> int:  # ast counts columns in bytes
        return lines[line - 1] + len(rows[line - 1].encode()[:column].decode())

    def between(kind: str, left: ast.expr, op: ast.AST, right: ast.expr) -> Iterator[Change]:
        if type(op) not in _OPERATORS:
            return
        old, new = _OPERATORS[type(op)]
        start = at(left.end_lineno or 0, left.end_col_offset or 0)
        found = re.search(re.escape(old), text[start : at(right.lineno, right.col_offset)])
        if found:
            place = start + found.start()
            yield Change(kind, file, text.count("\n", 0, place) + 1, place, old, new)

    for node in _product(ast.parse(text)):
        match node:
            case ast.BinOp():
                yield from between("arithmetic", node.left, node.op, node.right)
            case ast.Compare():
                for left, op, right in zip(
                    (node.left, *node.comparators), node.ops, node.comparators, strict=False
                ):
                    yield from between("comparison", left, op, right)
            case ast.Constant(value=bool() | None):
                pass
            case ast.Constant(value=int() | float()) | ast.Constant(value=str()):
                start = at(node.lineno, node.col_offset)
                old = text[start : at(node.end_lineno or 0, node.end_col_offset or 0)]
                new = _other(node.value)
                if new is not None:
                    kind = "unit" if isinstance(node.value, str) else "constant"
                    yield Change(kind, file, node.lineno, start, old, new)


def _other(value: object) -> str | None:
    """A number half as large again, or one more; another quantity for a quantity."""
    if isinstance(value, int):
        return str(value + 1)
    if isinstance(value, float):
        return repr(value * 1.5 if value else 1.0)
    known = list(QUANTITIES)
    if value not in known:
        return None
    return f'"{known[(known.index(str(value)) + 1) % len(known)]}"'


def _product(tree: ast.AST) -> Iterator[ast.AST]:
    """What is worked out when the product runs: no annotation, type alias or text of a sentence."""
    for child in ast.iter_child_nodes(tree):
        if isinstance(child, ast.JoinedStr):
            continue
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        yield child
        yield from _product(_unannotated(child))


def _unannotated(node: ast.AST) -> ast.AST:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        defaults = [x for x in (*node.args.defaults, *node.args.kw_defaults) if x is not None]
        return ast.Module([*node.body, *(ast.Expr(x) for x in defaults)], [])
    if isinstance(node, ast.AnnAssign):
        return ast.Module([ast.Expr(node.value)] if node.value else [], [])
    if isinstance(node, ast.Subscript):  # a number in it is a place, not a quantity
        return ast.Module([ast.Expr(node.value)], [])
    return node


class Runs(NamedTuple):
    """Which tests run a line, and how long each takes, s."""

    tests: dict[tuple[str, int], frozenset[str]]
    seconds: dict[str, float]

    def of(self, change: Change) -> list[str]:
        """The tests that run the changed line, within the budget.

        Those of a file named after the module come first, and then the quickest.
        """
        where = self.tests.get((change.file, change.line), frozenset())
        if not where:  # a line that runs when its module loads: whatever runs any of it
            where = frozenset().union(*(t for (f, _), t in self.tests.items() if f == change.file))
        chosen, spent = [], 0.0
        own = f"/test_{Path(change.file).stem}.py::"
        for test in sorted(where, key=lambda t: (own not in t, self.seconds.get(t, 1.0))):
            spent += self.seconds.get(test, 1.0)
            if chosen and spent > BUDGET:
                break
            chosen.append(test)
        return chosen


def measured(root: Path, data: Path) -> Runs:
    """Run the tests once with coverage into ``data``, and read what ran what."""
    packages = [f"--cov=route3d/{name}" for name in PACKAGES]
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", "-q", "-n", "2", "-p", "no:cacheprovider"),
            *("--durations=0", "--durations-min=0", "-vv", "--cov-context=test", "--cov-report="),
            *packages,
            *TESTS,
        ],
        cwd=root,
        env={**environment(root), "COVERAGE_FILE": str(data)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    times = re.findall(r"^([\d.]+)s (?:call|setup) +(\S+::.*)$", done.stdout, re.M)
    seconds: dict[str, float] = {}
    for took, test in times:
        seconds[test] = seconds.get(test, 0.0) + float(took)
    return Runs(_contexts(root, data), seconds)


def environment(root: Path) -> dict[str, str]:
    """That of a test run of the product in ``root``, and of no other."""
    return {**os.environ, "PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}


def _contexts(root: Path, data: Path) -> dict[tuple[str, int], frozenset[str]]:
    """From coverage's own file, whose lines are numbits (one bit a line)."""
    from coverage.numbits import numbits_to_nums

    found: dict[tuple[str, int], set[str]] = {}
    with sqlite3.connect(data) as db:
        rows = db.execute(
            "select path, context, numbits from line_bits join file on file.id = file_id "
            "join context on context.id = context_id where context like '%|%'"
        )
        for path, context, bits in rows:
            name = Path(path).relative_to(root).as_posix()
            test = context.rsplit("|", 1)[0]
            for line in numbits_to_nums(bits):
                found.setdefault((name, line), set()).add(test)
    return {key: frozenset(tests) for key, tests in found.items()}
