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
    if not cell.startswith(_MARK):
        return cell
    return cell[1:] if cell.lstrip(_MARK).startswith(_FORMULA) else cell
