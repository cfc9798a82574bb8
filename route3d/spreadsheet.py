"""Text that a spreadsheet must take as text: a cell that begins like a formula would be run."""

from __future__ import annotations

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_MARK = "'"  # a spreadsheet shows what follows as it stands (common practice, no source)


def harmless(text: str) -> str:
    """The text of a CSV cell, marked where a spreadsheet would run it.

    >>> harmless("=1+1"), harmless("vault V1")
    ("'=1+1", 'vault V1')
    """
    return _MARK + text if text.lstrip(_MARK).startswith(_FORMULA) else text


def as_given(cell: str) -> str:
    """The text that ``harmless`` was given."""
    marked = cell.startswith(_MARK) and cell.lstrip(_MARK).startswith(_FORMULA)
    return cell[1:] if marked else cell
