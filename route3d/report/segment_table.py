"""The lines of a pull as printed: so many digits that each can be redone from the page."""

from __future__ import annotations

import math

from route3d.mechanics.pull import Pull
from route3d.mechanics.segment_lines import SegmentLine
from route3d.model.conduit import Conduit
from route3d.report.block import Block
from route3d.units import convert, unit_label

# The rounding is stated with every table: a line worked from the printed figures meets the printed
# result within this, in lbf or N, and this share of it.
WITHIN = {"US": 0.1, "SI": 0.5}
WITHIN_SHARE = 1e-4

FORMS = {
    "straight": "straight",
    "level": "level bend",
    "sag": "sag bend",
    "sag, outer wall": "sag bend on the outer wall",
    "crest": "crest bend",
    "tilted": "tilted bend",
    "corner": "turn at a pull point",
    "sheave": "sheave at a pull point",
    "slack": "brake",
    "held": "held load",
}
"""The explanation of each form of line."""

MARKS = {
    "straight": "S",
    "level": "L",
    "sag": "V",
    "sag, outer wall": "W",
    "crest": "C",
    "tilted": "X",
    "corner": "H",
    "sheave": "Q",
    "slack": "0",
    "held": "P",
}
"""The letter of the formula in the table."""


def force_unit(system: str) -> str:
    """The unit forces are worked in: that of weight per length times length."""
    return "lbf" if system == "US" else "N"


def in_force(newtons: float, system: str) -> float:
    """A force in the unit of ``force_unit``."""
    return convert(newtons, "force", "US") if system == "US" else newtons


def force(newtons: float, system: str) -> str:
    """A force as the lines print it, without its unit."""
    return f"{in_force(newtons, system):.{2 if system == 'US' else 1}f}"


def length(meters: float, system: str) -> str:
    """A length or bend radius in ft or m."""
    return f"{convert(meters, 'length', system):.3f}"


def per_length(newtons: float, system: str) -> str:
    """Weight per length in lbf/ft or N/m."""
    return f"{convert(newtons, 'sidewall', system):.6g}"


def pressure(newtons: float, system: str) -> str:
    """Sidewall pressure in lbf/ft or N/m."""
    return f"{convert(newtons, 'sidewall', system):.1f}"


def degrees(radians: float, places: int = 4) -> str:
    """An angle in degrees; what rounds to nothing has no sign."""
    text = f"{math.degrees(radians):.{places}f}"
    return text.lstrip("-") if float(text) == 0 else text


def rounding_words(system: str) -> str:
    """What the digits of the table are good for."""
    unit = force_unit(system)
    return (
        "Rounding: every figure is rounded from the full value, not from the figures beside it. A "
        f"line worked from the printed figures meets the printed result within {WITHIN[system]:g} "
        f"{unit} plus {WITHIN_SHARE:.2%}."
    )


def line_constants(pull: Pull, system: str) -> str:
    """What every line of a pull shares, with all digits."""
    unit = force_unit(system)
    w = pull.run.cables.weight
    words = [
        f"w = {per_length(w, system)} {unit}/{unit_label('length', system)}",
        f"tension leaving the reels {force(pull.reel_tension, system)} {unit}",
    ]
    if pull.start_tension != pull.reel_tension:
        words.append(f"entering the conduit {force(pull.start_tension, system)} {unit}")
    length = unit_label("length", system)
    for conduit, fit in dict.fromkeys(zip(pull.run.route.conduits, pull.fits, strict=True)):
        factor = fit.sidewall_factor if pull.practice.sidewall == "per cable" else 1.0
        bore = convert(conduit.inner_diameter, "length", system)
        fall = _fall(pull, conduit, system)
        words.append(f"{conduit.name}: D = {bore:.5f} {length}, f = {factor:.5f}{fall}")
    radius = "R - D/2" if pull.practice.sidewall_radius == "inside" else "R"
    return f"{'; '.join(words)}. Sidewall pressure P = f T / ({radius})."


def _fall(pull: Pull, conduit: Conduit, system: str) -> str:
    """Friction up to a contact load and above it, where that decides."""
    if pull.course.fall is None or not conduit.fall_decides or conduit.friction_above is None:
        return ""
    above = f"{per_length(conduit.friction_above, system)} {unit_label('sidewall', system)}"
    return f", μ = {conduit.friction:.6g}, {conduit.friction_then:.6g} above {above}"


_HEADS = (
    "no.",
    "type",
    "form",
    "length, {length}",
    "angle, °",
    "radius, {length}",
    "slope in, °",
    "slope out, °",
    "μ",
    "ω",
    "T in, {force}",
    "T out, {force}",
    "P, {pressure}",
    "hand in",
    "hand out",
    "hand P",
)


def segment_block(pull: Pull, lines: tuple[SegmentLine, ...], system: str) -> Block:
    """The table of one direction, in pulling order."""
    units = {
        "length": unit_label("length", system),
        "force": force_unit(system),
        "pressure": unit_label("sidewall", system),
    }
    return Block(
        f"Feed from {pull.feed_name}, pull at {pull.pull_name}",
        (),
        tuple(head.format(**units) for head in _HEADS),
        tuple(_row(pull, line, system) for line in lines),
        frozenset(range(3, len(_HEADS))),
        tuple(_notes(lines, system)),
    )


def _row(pull: Pull, line: SegmentLine, system: str) -> tuple[str, ...]:
    bent = line.angle > 0
    arc = bent and line.radius > 0
    sheave = line.form == "sheave"
    return (
        f"{line.number}{line.part}",
        line_name(pull, line),
        MARKS[line.form],
        length(line.length, system),
        degrees(line.angle) if bent else "-",
        length(line.radius, system) if arc else "-",
        degrees(line.slope_in),
        degrees(line.slope_out),
        "-" if sheave or line.form == "held" else f"{line.friction:.6g}",
        f"{math.exp(-line.effective_friction * line.angle):.6g} η"
        if sheave
        else f"{line.weight_factor:.5f}",
        force(line.tension_in, system),
        force(line.tension_out, system),
        pressure(line.sidewall, system) + ("*" if inside(line) else "") if line.sidewall else "-",
        force(line.hand_in, system),
        force(line.hand_out, system),
        pressure(line.hand_sidewall, system) if line.hand_sidewall else "-",
    )


def inside(line: SegmentLine) -> bool:
    """True where the largest tension of a bend is inside it, above both ends."""
    return line.largest > max(line.tension_in, line.tension_out) * (1 + 1e-9)


def line_name(pull: Pull, line: SegmentLine) -> str:
    """What a line is: bend number along the route, name of its point, conduit."""
    path, route = pull.path, pull.run.route
    conduit = route.conduits[int(path.leg[line.segment])].name
    if line.form == "straight":
        return f"straight, {conduit}"
    vertex = int(path.vertex[line.segment])
    if line.form in ("corner", "sheave"):
        return f"turn at {route.label(vertex)}"
    number = int((path.kind[: line.segment + 1] == 1).sum())
    return f"{route.bend_label(number, vertex)}, {conduit}"


def _notes(lines: tuple[SegmentLine, ...], system: str) -> list[str]:
    notes = [
        f"* line {line.number}{line.part}: the tension peaks inside the bend at "
        f"{force(line.largest, system)} {force_unit(system)}; sidewall pressure is worked from it."
        for line in lines
        if line.sidewall and inside(line)
    ]
    cut = dict.fromkeys(line.number for line in lines if line.part)
    if cut:
        numbers = ", ".join(str(number) for number in cut)
        notes.append(f"Bend of line {numbers} is cut where another formula takes over.")
    if any(line.friction != line.friction_given for line in lines):
        notes.append(
            "μ is lower where the contact load is above the threshold of its conduit; the hand "
            "method uses the friction given everywhere."
        )
    return notes
