"""The lines of a calculation report, redone with a pocket calculator from what is printed.

Nothing here knows the program: figures are read off the page, and the formulas are written out
again from docs/theory.md, equations (2), (6) to (9), (11) and (13).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_FIGURE = r"(-?\d+(?:\.\d+)?)"
_OR_DASH = r"(-?\d+(?:\.\d+)?|-)"
_LINE = re.compile(
    r"\b(\d+)([a-l]?) ((?:straight|bend|turn)[^;]*?) ([SLVWCXHQ0P]) "
    + " ".join([_FIGURE, _OR_DASH, _OR_DASH, _FIGURE, _FIGURE])
    + rf" {_OR_DASH} (\d+\.?\d*(?: η)?) {_FIGURE} {_FIGURE} (-|\d+\.\d\*?)"
    + rf" {_FIGURE} {_FIGURE} {_OR_DASH}"
)
_TABLE = re.compile(r"w = (?P<w>\d+\.?\d*) (?:lbf|N)/(?:ft|m);.*?meets the printed result", re.S)
_CONDUIT = re.compile(r"(?<=[;.] )([^;]+?): D = (\d+\.\d+) (?:ft|m), f = (\d+\.\d+)")
_GIVEN = re.compile(r"(?<=[;.] )([^;]+?): D = [^;]*?, μ = (\d+\.?\d*), ")
_WITHIN = re.compile(r"meets the printed result within (\d+\.?\d*) (?:lbf|N) plus (\d+\.?\d*)%")
_PEAK = re.compile(r"\* line (\w+): the tension peaks inside the bend at (\d+\.\d+)")


@dataclass(frozen=True)
class PrintedLine:
    """One line as printed; angles in degrees, "-" as nan."""

    name: str
    what: str
    form: str
    length: float
    angle: float
    radius: float
    slope_in: float
    slope_out: float
    friction: float
    factor: float
    t_in: float
    t_out: float
    sidewall: float
    hand_in: float
    hand_out: float
    hand_sidewall: float
    peak: float


@dataclass(frozen=True)
class PrintedTable:
    """The table of one direction with what is printed over it: w, and D and f of each conduit.

    ``given`` is the friction of the hand method where that in the lines may be lower.
    """

    weight: float
    conduits: dict[str, tuple[float, float]]
    given: dict[str, float]
    lines: list[PrintedLine]
    within: tuple[float, float]


def tables(text: str) -> list[PrintedTable]:
    """Every table of lines in the text of a report."""
    flat = re.sub(r"\s+", " ", text)
    allowed = _WITHIN.search(flat)
    assert allowed is not None, "the report does not state its rounding"
    within = float(allowed[1]), float(allowed[2]) / 100
    found = []
    for table in _TABLE.finditer(flat):
        peaks = dict(_PEAK.findall(table[0]))
        lines = [_line(match, peaks) for match in _LINE.finditer(table[0])]
        conduits = {name: (float(D), float(f)) for name, D, f in _CONDUIT.findall(table[0])}
        given = {name: float(mu) for name, mu in _GIVEN.findall(table[0])}
        found.append(PrintedTable(float(table["w"]), conduits, given, lines, within))
    return found


def _line(match: re.Match[str], peaks: dict[str, str]) -> PrintedLine:
    number, part, what, form, *figures = match.groups()
    values = [
        math.nan if each == "-" else float(each.rstrip("*").removesuffix(" η")) for each in figures
    ]
    peak = float(peaks.get(f"{number}{part}", "nan"))
    assert figures[9].endswith("*") == (not math.isnan(peak)), match[0]
    return PrintedLine(f"{number}{part}", what, form, *values, peak)


def exact(line: PrintedLine, w: float) -> float | None:
    """Tension out by the formula the line names; None where no closed form exists."""
    k, angle = line.friction * line.factor, math.radians(line.angle)
    a, b = math.radians(line.slope_in), math.radians(line.slope_out)
    t, turn = line.t_in, w * line.radius
    if line.form == "S":
        return max(0.0, t + w * line.length * (math.sin(a) + k * math.cos(a)))
    if line.form == "L":
        return t * math.cosh(k * angle) + math.sinh(k * angle) * math.hypot(t, turn)
    c = turn / (1 + k * k)
    if line.form == "V":
        return (t + c * _g(a, k)) * math.exp(k * (b - a)) - c * _g(b, k)
    if line.form == "W":
        return (t - c * _h(a, k)) * math.exp(-k * (b - a)) + c * _h(b, k)
    if line.form == "C":
        return (t - c * _g(-a, k)) * math.exp(k * (a - b)) + c * _g(-b, k)
    if line.form == "H":
        return t * math.exp(k * angle)
    if line.form == "Q":
        return t / line.factor
    return 0.0 if line.form == "0" else None


def _g(phi: float, k: float) -> float:
    return 2 * k * math.sin(phi) + (1 - k * k) * math.cos(phi)


def _h(phi: float, k: float) -> float:
    return 2 * k * math.sin(phi) - (1 - k * k) * math.cos(phi)


def by_hand(line: PrintedLine, w: float, given: float | None) -> float:
    """Tension out by the hand method, with the friction ``given`` where it is not that printed."""
    friction = line.friction if given is None else given
    k, a = friction * line.factor, math.radians(line.slope_in)
    if line.form == "S":
        return max(0.0, line.hand_in + w * line.length * (math.sin(a) + k * math.cos(a)))
    if line.form == "Q":
        return line.hand_in / line.factor
    return line.hand_in * math.exp(k * math.radians(line.angle))


def check(table: PrintedTable) -> dict[str, int]:
    """Redo every line of a table; how many of each form were redone."""
    within, part = table.within
    redone: dict[str, int] = {}
    assert table.lines
    for before, line in zip((None, *table.lines), table.lines, strict=False):
        if before is not None:  # nothing is lost between two lines
            assert (line.t_in, line.hand_in) == (before.t_out, before.hand_out), line
        t_out = exact(line, table.weight)
        if t_out is not None:
            assert abs(t_out - line.t_out) <= within + part * line.t_out, (line, t_out)
        given = next((mu for name, mu in table.given.items() if line.what.endswith(name)), None)
        hand = by_hand(line, table.weight, given)
        assert abs(hand - line.hand_out) <= within + part * line.hand_out, (line, hand)
        _check_sidewall(table, line)
        redone[line.form] = redone.get(line.form, 0) + 1
    return redone


def _check_sidewall(table: PrintedTable, line: PrintedLine) -> None:
    within, part = table.within
    if math.isnan(line.sidewall) or line.form == "Q":
        return
    bore, share = next(v for name, v in table.conduits.items() if line.what.endswith(name))
    per = share / (line.radius - bore / 2)
    most = max(line.t_in, line.t_out) if math.isnan(line.peak) else line.peak
    # a radius of 1 m or ft is printed to a thousandth, and so is what lies between it and D/2
    rounded = 0.05 + per * within + line.sidewall * (part + 0.001 / (line.radius - bore / 2))
    assert abs(per * most - line.sidewall) <= rounded, (line, per * most)
    if not math.isnan(line.hand_sidewall) and not line.name[-1].isalpha():
        hand = per * max(line.hand_in, line.hand_out)
        assert abs(hand - line.hand_sidewall) <= rounded + line.hand_sidewall * 0.001
