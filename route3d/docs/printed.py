"""The printed output in README and docs: blocks that begin with ``$ route3d``.

A block holds the whole output of its command, or paragraphs of it between lines of ``...``.
"""

from __future__ import annotations

import contextlib
import io
import re
import textwrap
from difflib import SequenceMatcher
from pathlib import Path

from route3d.cli.main import main

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", *sorted((ROOT / "route3d/docs").glob("*.md")))
# The example of wrong input: which file it is about, and what is wrong in it.
WRONG_FILE = "models/x.toml"
_BLOCK = re.compile(r"```\n\$ route3d (.+)\n((?:.*\n)+?)```")
_WIDTH = 104


def blocks(text: str) -> list[tuple[str, str]]:
    """Command and printed output of every block of a page."""
    return _BLOCK.findall(text)


def refreshed(text: str) -> str:
    """The page with the output that its commands print today; wrong input is left as it is."""

    def renewed(found: re.Match[str]) -> str:
        command, printed = found.groups()
        if WRONG_FILE in command:
            return found.group()
        out = _output(command)
        parts = printed.split("...\n")
        return f"```\n$ route3d {command}\n" + "...\n".join(_same(p, out) for p in parts) + "```"

    return _BLOCK.sub(renewed, text)


def _output(command: str) -> str:
    with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.chdir(ROOT):
        main(command.split())
    return out.getvalue()


# A part that is shorter by more than this is cut out of its paragraphs; rows come and go in others.
_GROWN = 5


def _same(part: str, out: str) -> str:
    """What of the output a part of a block shows: whole paragraphs, or lines cut out of them."""
    if not part.strip():
        return part
    shown, real = part.rstrip().split("\n\n"), out.rstrip().split("\n\n")
    starts = range(len(real) - len(shown) + 1) or range(1)
    start = max(starts, key=lambda i: _like(shown[0], real[i]))
    paragraphs = _lines("\n\n".join(real[start : start + len(shown)]))
    wanted = part.rstrip().splitlines()
    if len(paragraphs) <= len(wanted) + _GROWN:
        return "\n".join(paragraphs) + "\n"
    lines = _lines(out.rstrip())
    first = max(
        range(len(lines) - len(wanted) + 1),
        key=lambda i: _like("\n".join(wanted), "\n".join(lines[i : i + len(wanted)])),
    )
    return "\n".join(lines[first : first + len(wanted)]) + "\n"


def _like(ours: str, theirs: str) -> float:
    return SequenceMatcher(None, ours.split(), theirs.split(), autojunk=False).ratio()


def _lines(text: str) -> list[str]:
    return "\n".join(map(_wrapped, text.splitlines())).splitlines()


def _wrapped(line: str) -> str:
    """A sentence within the width of a page; rows of tables stay as they are."""
    in_a_cell = line.startswith(" " * (_WIDTH // 2))
    if len(line) <= _WIDTH or "──" in line or in_a_cell:
        return line
    if re.search(r"\S {2,}\S.* {2,}\S", line) or re.match(r" {8,}\S.* {2,}\S", line):
        return line  # cells, or their second lines
    # a row of two columns goes on under its second
    indent = len(re.match(r"\s*(?:\d+\. |\S+ \S+  )?", line).group())  # type: ignore[union-attr]
    after = " " * (indent if indent else 2)
    return "\n".join(
        textwrap.wrap(
            line, _WIDTH, subsequent_indent=after, break_long_words=False, break_on_hyphens=False
        )
    )
