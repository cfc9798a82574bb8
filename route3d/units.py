"""Text to SI and SI to text: the only place that knows units, and the only pint registry.

Unit text is parsed strictly before pint sees it. Left alone, pint reads ``1,5 kN`` as 15 kN, drops
the inch mark of ``6"`` and accepts ``nan kN``; here a quantity is one plain number and one unit of
a known list, or a trade form of feet and inches. Anything doubtful is a ``UnitError``.
"""

from __future__ import annotations

import json
import math
import re
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from route3d.errors import InputError, Problem, UnitError
from route3d.phrase import Phrase
from route3d.quantities import QUANTITIES, Quantity

if TYPE_CHECKING:
    import pint

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s² (CGPM 1901, exact); turns kg/m into N/m."""

SYSTEMS = ("US", "SI")

METERS: dict[str, float] = {
    "m": 1.0,
    "mm": 1e-3,
    "cm": 1e-2,
    "km": 1e3,
    "ft": 0.3048,
    "in": 0.0254,
    "yd": 0.9144,
    "us-ft": 1200 / 3937,
}
"""Meters in one unit of length of a file; the foot of 1959 and the US survey foot are exact by
definition (international yard of 1959, and US survey foot of 1893; from memory)."""

FARTHEST = 1e9
"""Coordinates beyond this (m) overflow every sensible grid of the Earth."""

# What a person may write as a unit, and how pint spells it. Nothing outside this list is read.
_UNIT_NAMES: dict[str, str] = {
    **{u: u for u in ("m", "cm", "mm", "km", "ft", "in", "yd", "mil")},
    **{u: u for u in ("N", "kN", "lbf", "kgf", "kg", "lb", "g")},
    **{u: u for u in ("deg", "rad", "s", "min", "h", "J", "kJ", "V", "kV", "Pa", "kPa", "MPa")},
    **{u: u for u in ("gal", "L", "kcmil", "cmil", "psi", "kft", "kip", "W")},
    **dict.fromkeys(("metre", "meter", "metres", "meters"), "m"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    **dict.fromkeys(("inch", "inches"), "in"),
    **dict.fromkeys(("lbs", "pound"), "lb"),
    **dict.fromkeys(("°", "degrees"), "deg"),
    "litre": "L",
    "MCM": "kcmil",
    "us-ft": "survey_foot",
}
_POWERS = {"2": "**2", "3": "**3", "²": "**2", "³": "**3", "^2": "**2", "^3": "**3"}
_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_FRACTION = r"(?:(\d+)[ -])?(\d+)/(\d+)"
_PLAIN = re.compile(rf"({_NUMBER})\s*([^\d\s.,+\-/].*)?")
_TRADE = re.compile(rf"(-?)(?:{_FRACTION})\s*(.+)")

# Only the units of the list above, each by its exact definition (SI brochure; international yard
# and pound of 1959; US gallon of 231 cubic inches). pint's own list takes half a second to read.
_DEFINITIONS = """
centi- = 1e-2 = c-
milli- = 1e-3 = m-
kilo- = 1e3 = k-
mega- = 1e6 = M-
meter = [length] = m
second = [time] = s
gram = [mass] = g
ampere = [current] = A
radian = [] = rad
degree = 3.141592653589793 / 180 * radian = deg
minute = 60 * second = min
hour = 3600 * second = h
inch = 0.0254 * meter = in
foot = 12 * inch = ft
survey_foot = 1200 / 3937 * meter
yard = 3 * foot = yd
mil = inch / 1000
cmil = 3.141592653589793 / 4 * mil ** 2
kcmil = 1000 * cmil
kft = 1000 * foot
litre = 0.001 * meter ** 3 = L
gallon = 231 * inch ** 3 = gal
newton = 1000 * gram * meter / second ** 2 = N
pound = 453.59237 * gram = lb
pound_force = 0.45359237 * 9.80665 * newton = lbf
kip = 1000 * pound_force
kilogram_force = 9.80665 * newton = kgf
pascal = newton / meter ** 2 = Pa
psi = pound_force / inch ** 2
joule = newton * meter = J
watt = joule / second = W
volt = watt / ampere = V
"""


@cache
def registry() -> pint.UnitRegistry[Any]:
    """The one pint registry of route3d, made on first use; it knows the units of this module.

    pint takes longer to load than a job takes to solve, so the factors of everyday units stand
    ready in ``everyday_units.json``, written from this registry and held to it by a test.
    """
    import pint

    ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    ureg.load_definitions(_DEFINITIONS.strip().splitlines())
    return ureg


@cache
def _si_factor(unit: str, si: str) -> tuple[float, str]:
    """``(factor, "")`` from unit to SI, or ``(nan, dimension)`` where the dimensions differ."""
    everyday = _everyday().get(f"{unit} {si}")
    return _factor_by_pint(unit, si) if everyday is None else (everyday, "")


def _factor_by_pint(unit: str, si: str) -> tuple[float, str]:
    """What pint says of a unit.

    Mass per length is taken as weight per length at standard gravity, since cable weights are
    printed in kg/m and lb/ft; nothing else turns mass into force.
    """
    ureg = registry()
    amount = ureg.Quantity(1.0, unit)
    if si == "N/m" and amount.check("[mass]/[length]"):
        amount = amount * ureg.Quantity(GRAVITY, "m/s**2")
    if not amount.is_compatible_with(si or "dimensionless"):
        return math.nan, _dimension_name(amount)
    exact = float(amount.to(si or "dimensionless").magnitude)
    return float(f"{exact:.15g}"), ""  # pint reaches 0.0254 by way of the yard, one bit low


@cache
def _everyday() -> dict[str, float]:
    """SI factors of everyday units by ``"unit SI-unit"``, both as pint spells them."""
    file = Path(__file__).with_name("everyday_units.json")
    factors: dict[str, float] = json.loads(file.read_text(encoding="utf-8"))
    return factors


_LENGTHS = ("m", "mm", "km", "ft", "in")
# Every unit of the list by itself, and those that drawings and catalogs put together.
_EVERYDAY = (
    *sorted({*_UNIT_NAMES.values()}),
    *(f"{length}**{power}" for length in (*_LENGTHS, "cm", "yd") for power in (2, 3)),
    *(f"{amount}/{length}" for amount in ("N", "kN", "lbf", "kg", "lb") for length in _LENGTHS),
    *("kgf/m", "g/m", "kg/km", "lb/kft", "lbf/kft", "N/mm**2", "kN/mm**2", "lbf/in**2"),
    *("m/s", "m/min", "ft/s", "ft/min", "ft/h", "m/h"),
    *("N*m", "kN*m", "lbf*ft", "ft*lbf", "lbf*in", "in*lbf"),
)


def everyday_factors() -> dict[str, float]:
    """The contents of ``everyday_units.json``: what pint makes of each unit of the list."""
    wanted = dict.fromkeys(kind.si for kind in QUANTITIES.values() if kind.si not in ("", "K"))
    found = {f"{unit} {si}": _factor_by_pint(unit, si)[0] for si in wanted for unit in _EVERYDAY}
    return {name: factor for name, factor in found.items() if not math.isnan(factor)}


_DIMENSIONS = {
    "[length]": "a length",
    "[mass]": "a mass",
    "[length]*[mass]/[time]**2": "a force",
    "[mass]/[time]**2": "a force per length",
    "[mass]/[length]": "a mass per length",
    "[length]**2": "an area",
    "[length]**3": "a volume",
    "[length]/[time]": "a speed",
    "[time]": "a time",
    "[mass]/[length]/[time]**2": "a stress",
    "[length]**2*[mass]/[time]**2": "an energy or a torque",
    "[length]**2*[mass]/[current]/[time]**3": "a voltage",
}
_WANTED = {
    "length": "a length",
    "diameter": "a length",
    "radius": "a length",
    "tape": "a length",
    "area": "an area",
    "conductor_area": "an area",
    "weight": "a weight per length",
    "mass": "a mass",
    "force": "a force",
    "sidewall": "a force per length",
    "speed": "a speed",
    "stress": "a stress",
    "angle": "an angle",
    "time": "a time",
    "crew time": "a time",
    "energy": "an energy",
    "torque": "a torque",
    "volume": "a volume",
    "concrete": "a volume",
    "voltage": "a voltage",
    "temperature": "a temperature",
}

# Scales of temperature do not start at the same zero: (kelvin per degree, kelvin at its zero).
_SCALES: dict[str, tuple[float, float]] = {
    "degC": (1.0, 273.15),
    "°C": (1.0, 273.15),
    "degF": (5 / 9, 459.67 * 5 / 9),
    "°F": (5 / 9, 459.67 * 5 / 9),
    "K": (1.0, 0.0),
}


def _dimension_name(amount: Any) -> str:
    for dimension, name in _DIMENSIONS.items():
        if amount.check(dimension):
            return name
    return "an angle or a plain number" if amount.dimensionless else "something else"


# A torque as it is written: force and length side by side, in either order.
_TORQUE = re.compile(r"(k?N)[ *·-]?(m)|(lbf)[ *·-](ft|in)|(ft|in)[ *·-](lbf)")
_SQUARE = re.compile(r"\bsq(?:\.\s*|\s+)([A-Za-z]+)\b")


def _unit_text(text: str) -> str:
    """The pint spelling of a unit such as ``lbf/ft``, ``mm²`` or ``sq mm``; UnitError otherwise."""
    parts = []
    if torque := _TORQUE.fullmatch(text):
        text = "*".join(word for word in torque.groups() if word)
    text = _SQUARE.sub(r"\1^2", text)
    for token in re.split(r"\s*([*/·])\s*", text):
        if token in ("*", "/", "·"):
            parts.append("*" if token == "·" else token)
            continue
        match = re.fullmatch(r"(us-ft|[A-Za-z°]+)(\^?[23²³])?", token)
        if match is None or match[1] not in _UNIT_NAMES:
            raise UnitError(f"has the unit {token!r}, which is not known")
        parts.append(_UNIT_NAMES[match[1]] + _POWERS.get(match[2] or "", ""))
    return "".join(parts)


def parse(value: float | int | str, quantity: str, system: str) -> float:
    """Read what a person typed as an SI float.

    ``value`` is a bare number, read in the unit the ``system`` ("US" or "SI") has for the
    ``quantity`` (a key of ``QUANTITIES``), or a string with a unit. Feet and inches may be written
    ``5'-3 1/2"``, ``6"``, ``3/4 in``, ``1 1/2 in``.

    Raises UnitError, with an example, for anything else: no number, no unit in a string, unit not
    known, wrong dimension, a comma, not finite, 12 inches or more after feet.

    >>> parse("5'-3 1/2\\"", "length", "SI")
    1.6129
    >>> parse(2, "length", "SI")
    2.0
    """
    kind = QUANTITIES[quantity]
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnitError(f"{value!r} is not a number; {_help(kind)}")
    if isinstance(value, str):
        return _parse_text(value, kind)
    number = float(value)
    if not math.isfinite(number):
        raise UnitError(f"{value!r} is not a finite number; {_help(kind)}")
    return _to_si(number, kind.units[system], kind)


@cache
def spellings(quantity: str) -> tuple[str, ...]:
    """Every way to write a unit of a quantity, longest first.

    >>> spellings("angle")
    ('degrees', 'deg', 'rad', '°')
    """
    si = QUANTITIES[quantity].si
    known = (word for word, unit in _UNIT_NAMES.items() if f"{unit} {si}" in _everyday())
    return tuple(sorted(known, key=lambda word: (-len(word), word)))


def amount(value: float | str, quantity: str, name: str) -> float:
    """A number in SI as it is, or a text with its unit, for those who build a job in Python.

    Parameters
    ----------
    value : float or str
        A finite number in the SI unit of the quantity, or a text such as ``"1.36 in"``.
    quantity : str
        A key of ``QUANTITIES``, such as ``"diameter"``.
    name : str
        What the value is, for the message.

    Returns
    -------
    float
        The value in SI.

    Raises
    ------
    InputError
        Where the value is neither; it names ``name`` and the value.

    Examples
    --------
    >>> amount("5'-3 1/2\\"", "radius", "bend"), amount(1.2192, "radius", "bend")
    (1.6129, 1.2192)
    """
    try:
        if isinstance(value, str):
            return parse(value, quantity, "SI")
        if isinstance(value, bool) or not math.isfinite(value):
            raise UnitError(f"{value!r} is not a finite number; {_help(QUANTITIES[quantity])}")
    except UnitError as error:
        raise InputError(Problem(str(error), where=name)) from None
    return float(value)


def _help(kind: Quantity) -> str:
    if not kind.si:
        return f"write a plain number, for example {kind.example}"
    return f'{_WANTED[kind.name]} is required, for example "{kind.example}"'


def _to_si(number: float, unit: str, kind: Quantity) -> float:
    """A number in SI; ``unit`` as pint spells it, that of a temperature as people write it."""
    if kind.name != "temperature":
        return number * (_factor(unit, kind) if unit else 1.0)
    if unit not in _SCALES:
        raise UnitError(f"has the unit {unit!r}, which is not a temperature unit")
    degree, zero = _SCALES[unit]
    kelvin = number * degree + zero
    if kelvin < -1e-9:  # a hair, for the rounding of -459.67 °F
        raise UnitError("is below absolute zero")
    return max(kelvin, 0.0)


def _factor(unit: str, kind: Quantity) -> float:
    if not kind.si:
        return 1.0
    factor, other = _si_factor(unit, kind.si)
    if math.isnan(factor):
        raise UnitError(f"is {other}, {_help(kind)}")
    return factor


def _parse_text(text: str, kind: Quantity) -> float:
    try:
        number, unit = _split(text.strip().replace("−", "-"))
        if unit and not kind.si:
            raise UnitError("has a unit")
        if kind.si and not unit:
            raise UnitError("has no unit")
        spelled = unit if kind.name == "temperature" or not unit else _unit_text(unit)
        result = _to_si(number, spelled, kind)
        if kind.name == "torque" and not _TORQUE.fullmatch(unit):
            raise UnitError(f"is an energy, {_help(kind)}")  # a joule is no torque
        if not math.isfinite(result):
            raise UnitError("is not a finite number")
    except UnitError as error:
        reason = str(error)
        hint = "" if "is required" in reason or "; write" in reason else f"; {_help(kind)}"
        raise UnitError(f"{text!r} {reason}{hint}") from None
    return result


def _split(body: str) -> tuple[float, str]:
    """Number and unit text of a quantity; feet-and-inches forms come back in inches."""
    if (inches := _feet_inches(body)) is not None:
        return inches, "in"
    if match := _PLAIN.fullmatch(body):
        return float(match[1]), (match[2] or "").strip()
    if match := _TRADE.fullmatch(body):
        sign, whole, top, bottom, unit = match.groups()
        return (-1 if sign else 1) * (float(whole or 0) + _ratio(top, bottom)), unit
    if "," in body:
        raise UnitError("has a comma: use a decimal point and no thousands separator")
    raise UnitError("is not a number with a unit")


def _feet_inches(body: str) -> float | None:
    r"""Inches of ``5'-3 1/2"``, ``5'``, ``6"``, ``3/4"``; None where the text is no such form."""
    match = re.fullmatch(
        r"(-?)(?:(\d+(?:\.\d+)?)(?:'|′|\s*ft)(?:\s*-\s*(?=\d)|\s+|(?=\d|$)))?"
        r"(?:(\d+(?:\.\d+)?)?(?:(?:(?<=\d)[ -]|(?<!\d))(\d+)/(\d+))?(?:\"|″|\s*in))?",
        body,
    )
    if match is None or not any(match.groups()[1:4]) or not re.search(r"['\"′″]|ft.*in", body):
        return None
    sign, feet, whole, top, bottom = match.groups()
    inches = float(whole or 0) + (_ratio(top, bottom) if top else 0.0)
    if feet and (whole or top):
        _refuse_doubtful(sign, feet, inches)
    return (-1 if sign else 1) * (12 * float(feet or 0) + inches)


def _refuse_doubtful(sign: str, feet: str, inches: float) -> None:
    """Feet and inches that nobody reads off a tape: a slip of the pen, whichever was meant."""
    if "." in feet:
        raise UnitError(
            f"has decimal feet before inches; write whole feet and inches, or {sign}{feet} ft alone"
        )
    if inches >= 12:
        more = f"{sign}{int(feet) + int(inches // 12)}'-{inches % 12:g}\""
        raise UnitError(
            f"has {inches:g} inches after the feet; 12 inches make a foot; write {more}"
        )


def _ratio(top: str, bottom: str) -> float:
    if int(bottom) == 0:
        raise UnitError("divides by zero")
    return int(top) / int(bottom)


def written(value: float, quantity: str, system: str, like: object = None) -> str:
    """An SI value as a model file holds it, in the fewest digits that read back as just that.

    ``like`` is what stands there now: its unit is kept, and a number without one stays bare.

    >>> written(1.96088, "radius", "US", "48 in"), written(1.2192, "radius", "US", 50)
    ('"77.2 in"', '48')
    """
    kind = QUANTITIES[quantity]
    unit = ""
    if isinstance(like, str) and kind.si:
        unit = _split(like.strip().replace("−", "-"))[1]
    one = parse(f"1 {unit}" if unit else 1, quantity, system)
    for digits in range(18):
        number = f"{Decimal(f'{value / one:.{digits}g}'):f}" if digits else "0"
        if math.isclose(float(number) * one, value, rel_tol=_READS_BACK, abs_tol=1e-12):
            break
    return f'"{number} {unit}"' if unit else number


# Share of a value by which what is read back may differ: far below what anyone measures.
_READS_BACK = 1e-10


# --- SI to text --------------------------------------------------------------------------------


_ENDLESS = 1e9
"""From here on numbers are shown as powers of ten."""


def convert(value: float, quantity: str, system: str) -> float:
    """An SI value in the unit shown for that quantity in that system."""
    kind = QUANTITIES[quantity]
    if quantity in ("percent", "fine percent"):
        return value * 100
    if quantity == "temperature":
        degree, zero = _SCALES[kind.shown[system]]
        return (value - zero) / degree
    return value / _factor(kind.shown[system], kind) if kind.si else value


def unit_label(quantity: str, system: str) -> str:
    """The unit shown for a quantity, as people write it: ``lbf/ft``, ``mm²``, ``°``."""
    if quantity in ("percent", "fine percent"):
        return "%"
    if quantity == "weight" and system == "US":
        return "lb/ft"
    unit = QUANTITIES[quantity].shown[system]
    for pint_spelling, printed in (("**2", "²"), ("**3", "³"), ("deg", "°"), ("*", "·")):
        unit = unit.replace(pint_spelling, printed)
    return unit


def system_of(unit: str) -> str:
    """The system that goes with a unit of length, a key of ``METERS``.

    >>> system_of("us-ft"), system_of("mm")
    ('US', 'SI')
    """
    return "US" if unit in ("ft", "us-ft", "in", "yd") else "SI"


def show(value: float, quantity: str, system: str, *, decimals: int | None = None) -> str:
    """An SI value as text with its unit, such as ``3,500 lbf`` or ``15.57 kN``.

    >>> show(15568.8, "force", "US"), show(15568.8, "force", "SI")
    ('3,500 lbf', '15.57 kN')
    """
    number = convert(value, quantity, system)
    places = decimals_of(number, quantity, system) if decimals is None else decimals
    if not math.isfinite(number):
        return "none" if number > 0 else "-"
    # Figures no pull comes near must not run over what stands beside them.
    endless = decimals is None and abs(number) >= _ENDLESS
    text = f"{number:.3g}" if endless else f"{number:,.{places}f}"
    if quantity == "radius" and "." in text:  # ``48 in``: radii are chosen, not measured
        text = text.rstrip("0").rstrip(".")
    if float(text.replace(",", "")) == 0:
        text = text.lstrip("-")
    unit = unit_label(quantity, system)
    glue = "" if unit in ("°", "%", "") else " "
    return f"{text}{glue}{unit}"


def tape(value: float, system: str, *, toward: str = "") -> str:
    """A length as it is read off a tape: feet, inches and sixteenths, or whole millimeters.

    To the nearest mark of the tape; with ``toward`` "+" the next one up, with "-" the next down.
    Each length is rounded from the exact one, so that marks of one piece do not add up rounding.

    >>> print(tape(1.0239375, "US"), "or", tape(1.0239375, "SI"))
    3'-4 5/16" or 1,024 mm
    """
    if not math.isfinite(value):
        return "none" if value > 0 else "-"
    marks = value / _TAPE_MARK[system]
    to = {"": math.floor(marks + 0.5), "+": math.ceil(marks - _ON), "-": math.floor(marks + _ON)}
    sign, count = "-" if to[toward] < 0 else "", abs(to[toward])
    if system == "SI":
        return f"{sign}{count:,} mm"
    feet, rest = divmod(count, 12 * 16)
    inches, part = divmod(rest, 16)
    shared = math.gcd(part, 16)
    fraction = f" {part // shared}/{16 // shared}" if part else ""
    return f"{sign}{feet}'-{inches}{fraction}\""


_TAPE_MARK = {"US": 0.0254 / 16, "SI": 1e-3}
"""m from one mark of a tape to the next (common practice, no source)."""
_ON = 1e-4
"""What is so near to a mark of the tape, in its steps, is on it."""


def decimals_of(number: float, quantity: str, system: str) -> int:
    """The decimals shown of a number in the unit of its quantity.

    A force has no more than five digits with its decimals: none is known better, nor near that.

    >>> [decimals_of(kn, "force", "SI") for kn in (15.57, 999.4, 1234.5, 108806.0)]
    [2, 2, 1, 0]
    """
    places = QUANTITIES[quantity].decimals[system]
    if quantity != "force" or not math.isfinite(number) or abs(number) < 1000:
        return places
    return max(places - math.floor(math.log10(abs(number))) + 2, 0)


def render(phrase: Phrase, system: str) -> str:
    """A Phrase as text in the units of ``system``, each value by ``show_marked``."""
    return phrase.template.format(*(show_marked(v, q, system) for v, q in phrase.values))


def show_marked(value: float, quantity: str, system: str) -> str:
    """A value with its unit, rounded as its quantity is marked (see ``rounded``).

    A length of the quantity "tape" is that of ``tape``.
    """
    if quantity.startswith("tape"):
        return tape(value, system, toward=quantity.removeprefix("tape"))
    return show(rounded(value, quantity, system), quantity.rstrip("+-"), system)


def rounded(value: float, quantity: str, system: str) -> float:
    """An SI value rounded as its quantity is marked, to the digits shown of it.

    A quantity marked ``+`` ("radius+") is rounded up, so that a least value still passes when it
    is built as printed; one marked ``-`` ("force-") is rounded down; any other stays as it is.
    """
    if quantity[-1] not in "+-":
        return value
    name = quantity[:-1]
    number = convert(value, name, system)
    if not (math.isfinite(number) and number):
        return value
    step = 10.0 ** -decimals_of(number, name, system)
    # What is on a step already stays there.
    steps = (
        math.ceil(number / step - 1e-9) if quantity[-1] == "+" else math.floor(number / step + 1e-9)
    )
    return value * steps * step / number
