"""Numbers as people and recorders write them: the decimal mark of a column, units in cells."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal, NamedTuple

Decimal = Literal["", ".", ","]

_SPACES = re.compile(r"[\s\u00a0\u2009\u202f']+(?=\d{3}(?:\D|$))")
_PARTS = re.compile(r"([<>~]?)\s*([+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?)\s*([^\d\s.,+\-].*)?")
_POINT = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?")
_NOTHING = {"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "#n/a", "nil", "?", "."}
_OVER = {"ol", "o.l.", "over", "overload", "ovl", "ovld", "overrange", "over range", "sat"}
# Whole numbers without a mark that show commas to be of thousands: fewer may be chance.
_WHOLE = 3


class NumberCell(NamedTuple):
    """What a cell says: a ``value``, NaN without one, its own ``unit``, and the ``trouble``.

    ``trouble`` is "missing", "over" (beyond the range of the gauge) or "bad".
    """

    value: float
    unit: str = ""
    trouble: Literal["", "missing", "over", "bad"] = ""


class DoubtfulMarkError(Exception):
    """A number that is one with a decimal comma and another with a comma of thousands."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


def read_number(cell: object, decimal: Decimal) -> NumberCell:
    """The number in a cell, in a column with this decimal mark ("" where it has none to tell)."""
    if cell is None:
        return NumberCell(math.nan, trouble="missing")
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        try:
            value = float(cell)
        except OverflowError:
            return NumberCell(math.nan, trouble="bad")
        trouble: Literal["", "bad"] = "" if math.isfinite(value) else "bad"
        return NumberCell(value if not trouble else math.nan, trouble=trouble)
    if not isinstance(cell, str):
        return NumberCell(math.nan, trouble="bad")
    if (quick := _POINT.fullmatch(cell)) and decimal != ",":
        value = float(quick.group())
        return NumberCell(value) if math.isfinite(value) else NumberCell(math.nan, trouble="bad")
    text = cell.strip().replace("−", "-")
    if text.lower() in _NOTHING:
        return NumberCell(math.nan, trouble="missing")
    if text.lower() in _OVER:
        return NumberCell(math.nan, trouble="over")
    parts = _PARTS.fullmatch(_SPACES.sub("", text))
    if parts is None:
        return NumberCell(math.nan, trouble="bad")
    sign, number, unit = parts.groups()
    plain = _in_points(number, decimal or ".")
    if plain is None or not math.isfinite(value := float(plain)):
        return NumberCell(math.nan, trouble="bad")
    if sign:
        return NumberCell(value, (unit or "").strip(), "over" if sign == ">" else "bad")
    return NumberCell(value, (unit or "").strip())


def _in_points(number: str, decimal: Decimal) -> str | None:
    """The number with a decimal point and no marks of thousands; None where it is none."""
    if decimal == ",":
        number = number.translate(str.maketrans(",.", ".,"))
    if "," in number:
        if not _GROUPED.fullmatch(number):
            return None
        number = number.replace(",", "")
    return number if _POINT.fullmatch(number) else None


class Marks(NamedTuple):
    """What the cells of a column show of their decimal mark.

    ``mark`` is "" where no cell decides it. ``comma`` and ``point`` are the first cells that are a
    number with either mark, and another one: "1,234" and "1.234"; "" without one.
    """

    mark: Decimal
    comma: str
    point: str


def marks(cells: Iterable[object]) -> Marks:
    """What the cells of one column show."""
    points = commas = whole = 0
    comma = point = ""
    for cell in cells:
        if not isinstance(cell, str):
            continue
        parts = _PARTS.fullmatch(_SPACES.sub("", cell.strip().replace("−", "-")))
        if parts is None:
            continue
        with_point, with_comma = _in_points(parts[2], "."), _in_points(parts[2], ",")
        if with_point is None or with_comma is None:
            points += with_point is not None
            commas += with_comma is not None
        elif "," in parts[2]:
            comma = comma or parts.group()
        elif "." in parts[2]:
            point = point or parts.group()
        elif parts[2].strip("+-0"):
            whole += 1
    if points or commas:
        return Marks("." if points >= commas else ",", comma, point)
    if comma and (point or whole >= _WHOLE):
        return Marks(".", comma, point)  # as whole numbers stand there without any decimals
    return Marks("", comma, point)


def column_mark(shown: Marks, others: Decimal) -> Decimal:
    """The decimal mark of a column; that of the ``others`` of the file where its cells leave it.

    A point that nothing speaks against is a decimal point. Raises DoubtfulMarkError where a number
    may be one or another.
    """
    if shown.mark:
        return shown.mark
    if shown.comma and not others:
        raise DoubtfulMarkError(shown.comma)
    if shown.point and others == ",":
        raise DoubtfulMarkError(shown.point)
    return others or "."
