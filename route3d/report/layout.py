"""Layout of every report: headings, paragraphs, plain tables. No text is read as markup."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.padding import Padding
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from route3d.model.examples import example_banner
from route3d.model.job import Job

Justify = Literal["left", "right"]
WIDEST = 120
"""Columns that a table keeps within wherever its words and figures let it, so that it is read."""

_SEVERITY_STYLES = {"stop": "bold red", "caution": "yellow", "note": "cyan", "ok": "green"}


def severity_style(severity: str) -> str:
    """The style of a severity word; the word itself carries the meaning without color."""
    return _SEVERITY_STYLES.get(severity, "")


def heading(of: Job | str) -> Text:
    """The title of a report, and under it which values of the job nobody has confirmed.

    A report that is about no job has its title as text.
    """
    if isinstance(of, str):
        return Text(of, style="bold underline")
    banner = example_banner(of.examples)
    return Text.assemble(
        (of.title, "bold underline"), (f"\n{banner}" if banner else "", "bold red")
    )


def paragraph(text: str | Text, *, style: str = "", indent: int = 0, before: int = 0) -> Padding:
    """Text that wraps between words, ``indent`` columns in and ``before`` empty lines down."""
    body = text if isinstance(text, Text) else Text(text, style=style)
    body.overflow = "fold"
    return Padding(body, (before, 0, 0, indent), expand=False)


def table(
    heads: Sequence[str], rows: Iterable[Sequence[str | Text]], *, numbers: Container[int] = ()
) -> RenderableType:
    """A table with a rule under its heads; long cells wrap, none is ever cut.

    The columns of ``numbers`` are set to the right.
    """
    cells = [[c if isinstance(c, Text) else Text(c) for c in row] for row in rows]
    right = [i in numbers for i in range(len(heads))]
    return _TextTable([Text(head) for head in heads], cells, right)


def shrunk(whole: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """Column widths within ``room``, taken from the widest first, none below its ``least``."""
    widths = list(whole)
    while sum(widths) > room:
        spare = [w if w > small else 0 for w, small in zip(widths, least, strict=True)]
        if not any(spare):
            break
        widths[spare.index(max(spare))] -= 1
    return widths


def _whole(text: str, number: bool) -> Iterable[str]:
    return text.split("\n")


def _in_words(text: str, number: bool) -> Iterable[str]:
    """Where a cell may be broken: between words, and a range of numbers after its "to"."""
    return text.replace(" to ", " to\n").split("\n") if number else text.split()


def _widest(text: str) -> int:
    return max(map(cell_len, text.split("\n")))


def _wrapped(text: str, width: int, number: bool) -> list[str]:
    """The lines of a cell: between words, and of a range of numbers after its "to" alone."""
    if _widest(text) <= width:
        return text.split("\n")
    if number:
        return list(_in_words(text, number))
    lines = [""]
    for word in re.findall(r"\n|[^\S\n]*\S+", text):
        if word == "\n":
            lines.append("")
        elif cell_len(lines[-1] + word) <= width:
            lines[-1] += word
        else:
            lines.append(word.lstrip())
    return lines


@dataclass(frozen=True, slots=True)
class _TextTable:
    """Cells to lay out when printed: by rich, or line by line where it is plain text.

    Rich takes a millisecond for a row, a thousand times what joining its cells takes.
    """

    heads: list[Text]
    rows: list[list[Text]]
    right: list[bool]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        plain = console.color_system is None and not console.is_terminal
        most = min(options.max_width, max(WIDEST, self._least()))
        for number, part in enumerate(self._parts(most)):
            if number:
                yield Segment.line()
            lines = part._lines(most) if plain else None
            if lines is None:
                yield from console.render(part._laid_out(most), options.update(max_width=most))
            else:
                yield Segment("".join(line + "\n" for line in lines))

    def _parts(self, most: int) -> Iterator[_TextTable]:
        """The table whole, or where it is too wide in parts that each repeat the first column."""
        part, widths = [0], [self._width(i, _in_words) + 1 for i in range(len(self.heads))]
        for column in range(1, len(self.heads)):
            if len(part) > 1 and sum(widths[i] for i in (*part, column)) > most:
                yield self._columns(part)
                part = [0]
            part.append(column)
        yield self._columns(part)

    def _columns(self, chosen: Sequence[int]) -> _TextTable:
        rows = [[row[i] for i in chosen] for row in self.rows]
        return _TextTable([self.heads[i] for i in chosen], rows, [self.right[i] for i in chosen])

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        return Measurement.get(console, options, self._laid_out(options.max_width))

    def _laid_out(self, most: int) -> Table:
        gap, widths = self._fitted(most)
        pad = (0, gap - 1, 0, 0)
        result = Table(box=SIMPLE_HEAD, show_edge=False, padding=pad, header_style="bold")
        for i, (head, right) in enumerate(zip(self.heads, self.right, strict=True)):
            justify: Justify = "right" if right else "left"
            width = None if widths is None else widths[i]
            keep = right and widths is None
            result.add_column(head, justify=justify, overflow="fold", no_wrap=keep, width=width)
        for row in self.rows:
            result.add_row(*(row if widths is None else map(self._broken, row, widths, self.right)))
        return result

    @staticmethod
    def _broken(cell: Text, width: int, right: bool) -> Text:
        """A range of numbers too wide for its column goes on after its "to", units stay on."""
        if not right or cell_len(cell.plain) <= width:
            return cell
        return Text("\n".join(_in_words(cell.plain, True)), style=cell.style)

    def _fitted(self, most: int) -> tuple[int, list[int] | None]:
        """Space between columns and widths that cut no word; None where ``most`` is too little.

        Of two spaces and one, that with which the table has fewer lines.
        """
        whole = [self._width(i, _whole) for i in range(len(self.heads))]
        least = [self._width(i, _in_words) for i in range(len(self.heads))]
        found = []
        for gap in (2, 1):
            room = most - gap * len(whole)
            if sum(least) <= room:
                widths = shrunk(whole, least, room)
                found.append((self._height(widths), -gap, widths))
                if widths == whole:
                    break
        if not found:
            return 2, None
        _, gap, best = min(found)
        return -gap, best

    def _height(self, widths: Sequence[int]) -> int:
        """How many lines the rows take."""
        return sum(
            max(
                len(_wrapped(cell.plain, width, right))
                for cell, width, right in zip(row, widths, self.right, strict=True)
            )
            for row in self.rows
        )

    def _least(self) -> int:
        """The columns below which words or figures would be cut."""
        widths = [self._width(i, _in_words) for i in range(len(self.heads))]
        return sum(widths) + len(widths)

    def _width(self, column: int, parts: Callable[[str, bool], Iterable[str]]) -> int:
        """Width of the widest part in a column; a number stays beside its unit."""
        right = self.right[column]
        cells = (part for row in self.rows for part in parts(row[column].plain, right))
        heads = parts(self.heads[column].plain, False)
        return max(map(cell_len, (*heads, *cells)), default=0)

    def _lines(self, most: int) -> list[str] | None:
        """The lines rich would print; None where ``most`` cuts words."""
        grid = [[cell.plain for cell in row] for row in (self.heads, *self.rows)]
        widths = [max(map(_widest, column)) for column in zip(*grid, strict=True)]
        gap = 2
        if sum(widths) + gap * len(widths) - 1 > most:
            gap, fitted = self._fitted(most)
            if fitted is None:
                return None
            widths = fitted
        head, *rows = (self._row(cells, widths, gap, k == 0) for k, cells in enumerate(grid))
        rule = "─" * (sum(widths) + gap * len(widths) - 1)
        return [*head, rule, *(line for row in rows for line in row)]

    def _row(self, cells: Sequence[str], widths: Sequence[int], gap: int, head: bool) -> list[str]:
        """The lines of one row; a head stands at the foot of them."""
        parts = [
            _wrapped(cell, width, right and not head)
            for cell, width, right in zip(cells, widths, self.right, strict=True)
        ]
        height = max(map(len, parts), default=0)
        empty = ([""] * (height - len(part)) for part in parts)
        full = [(*e, *p) if head else (*p, *e) for p, e in zip(parts, empty, strict=True)]
        lines = zip(*full, strict=True)
        return [(" " * gap).join(self._padded(x, widths)) + " " * (gap - 1) for x in lines]

    def _padded(self, row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
        for text, width, right in zip(row, widths, self.right, strict=True):
            space = " " * (width - cell_len(text))
            yield space + text if right else text + space
