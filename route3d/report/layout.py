"""The look of every report: headings, paragraphs, plain tables. Nothing here is read as markup."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from typing import Literal

from rich.box import SIMPLE_HEAD
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

Justify = Literal["left", "right"]

_SEVERITY_STYLES = {"stop": "bold red", "caution": "yellow", "note": "cyan", "ok": "green"}


def severity_style(severity: str) -> str:
    """The style of a severity word; the word itself carries the meaning without colour."""
    return _SEVERITY_STYLES.get(severity, "")


def heading(text: str) -> Text:
    """The title of a report."""
    return Text(text, style="bold underline")


def paragraph(text: str | Text, *, style: str = "", indent: int = 0, before: int = 0) -> Padding:
    """Text that wraps between words, ``indent`` columns in and ``before`` empty lines down."""
    body = text if isinstance(text, Text) else Text(text, style=style)
    body.overflow = "fold"
    return Padding(body, (before, 0, 0, indent), expand=False)


def table(
    heads: Sequence[str], rows: Iterable[Sequence[str | Text]], *, numbers: Container[int] = ()
) -> Table:
    """A table with a rule under its heads; long cells wrap, none is ever cut.

    The columns of ``numbers`` are set to the right.
    """
    result = Table(box=SIMPLE_HEAD, show_edge=False, padding=(0, 1, 0, 0), header_style="bold")
    for i, head in enumerate(heads):
        justify: Justify = "right" if i in numbers else "left"
        result.add_column(Text(head), justify=justify, overflow="fold", no_wrap=i in numbers)
    for row in rows:
        result.add_row(*(cell if isinstance(cell, Text) else Text(cell) for cell in row))
    return result
