"""The kinds of value a model file holds, as pydantic annotations that read, check and publish."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Any, ClassVar

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    StrictBool,
    StringConstraints,
    model_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from route3d.errors import InputError, Problem, Route3dError, UnitError
from route3d.quantities import QUANTITIES
from route3d.units import parse, show

# --- the kinds of value a model file holds, as pydantic annotations that read, check and publish
# A quantity is read by ``route3d.units.parse`` in the system of the validation context
# (``{"system": "US"}``) and leaves as an SI float. Its limits catch slips of unit and of the
# decimal point; they are not engineering limits.

JsonSchema = dict[str, Any]


def refuse(message: str, fix: str = "") -> PydanticCustomError:
    """The error a validator raises: ``message`` what is wrong, ``fix`` what to do about it."""
    return PydanticCustomError("route3d", "{message}", {"message": message, "fix": fix})


def nearest(name: object, known: Iterable[str]) -> str:
    """``did you mean 'x'?``, or the known names where none is near; empty where none is known."""
    names = list(known)
    if close := get_close_matches(str(name)[:80], names, n=1, cutoff=0.6):
        return f"did you mean {close[0]!r}?"
    return f"valid names: {', '.join(names[:20])}" if names else ""


def brief(value: object) -> str:
    """A bad value for a message, cut short where it is long."""
    try:
        text = repr(value)
    except ValueError:  # Python's limit on the digits of an integer
        return "a number of thousands of digits"
    return text if len(text) <= 60 else f"{text[:57]}..."


# --- quantities --------------------------------------------------------------------------------

_NUMBER = r"[+\-−]?([0-9]+([.][0-9]*)?|[.][0-9]+)([eE][+\-]?[0-9]+)?"
_FRACTION = r"-?([0-9]+[ \-])?[0-9]+/[0-9]+"
_UNIT = r"[A-Za-z°][A-Za-z0-9°/*·²³\^ \-]*"
_FEET_INCHES = r"-?[0-9][0-9 ./'′\-]*['\"′″]"
QUANTITY_PATTERN = rf"^\s*(({_NUMBER}|{_FRACTION})\s*{_UNIT}|{_FEET_INCHES}|-?[0-9 ./\-ft]+in)\s*$"
"""What a quantity written as text looks like; ``parse`` is stricter still."""

PLAIN_PATTERN = rf"^\s*{_NUMBER}\s*$"


class _ReadInUnits:
    """A field read by ``read(value, system)``, in the units of the file."""

    __slots__ = ()
    read: Callable[[Any, str], Any]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            lambda value, info: self.read(value, (info.context or {}).get("system", "SI"))
        )


class ReadsPlain:
    """A field read by ``read(value)``, whatever the units of the file."""

    __slots__ = ()
    read: Callable[[Any], Any]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)


# Share of a limit by which a value at it may be beyond it: 180 degrees are a bit above pi.
_A_HAIR = 1e-12


@dataclass(frozen=True, slots=True)
class Reads(_ReadInUnits):
    """Annotation of a field that holds one quantity, with its limits in SI.

    ``above`` excludes its bound and ``least`` includes it; ``most`` is the largest sane value.
    ``word`` is a text that may stand for None, such as ``auto``.
    """

    quantity: str
    most: float
    above: float | None = None
    least: float | None = None
    word: str = ""
    outside: str = "check the unit and the decimal point"

    def read(self, value: Any, system: str) -> float | None:
        """The SI value of what stands in the file."""
        if self.word and value == self.word:
            return None
        try:
            number = parse(value, self.quantity, system)
        except UnitError as error:
            raise refuse(f"{error}{self._or_word()}") from None
        except (OverflowError, ValueError):  # integers of hundreds of digits
            raise refuse(f"{brief(value)} is too large") from None
        self.check(value, number, system)
        return number

    def _or_word(self) -> str:
        return f', or "{self.word}"' if self.word else ""

    def check(self, value: Any, number: float, system: str) -> None:
        """Refuse a number outside the limits, naming the limit in the units of the file."""
        if self.above is not None and number <= self.above:
            raise refuse(f"{brief(value)} must be greater than {self.above:g}")
        if self.least is not None and number < self.least - _A_HAIR * abs(self.least):
            least = _in_system(self.least, self.quantity, system)
            raise refuse(f"{brief(value)} is below the minimum of {least}", self.outside)
        if number > self.most + _A_HAIR * abs(self.most):
            most = _in_system(self.most, self.quantity, system)
            raise refuse(f"{brief(value)} exceeds the maximum of {most}", self.outside)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        kind = QUANTITIES[self.quantity]
        number: JsonSchema = {"type": "number"}
        if self.above is not None:
            number["exclusiveMinimum"] = self.above
        if self.least == 0:  # the other limits depend on the units of the file
            number["minimum"] = 0
        pattern = QUANTITY_PATTERN if kind.si else PLAIN_PATTERN
        shapes: list[JsonSchema] = [number, {"type": "string", "pattern": pattern}]
        if self.word:
            shapes.insert(0, {"const": self.word})
        return {"anyOf": shapes, "examples": [_example(self.quantity)]}


def _example(quantity: str) -> str | float:
    kind = QUANTITIES[quantity]
    return kind.example if kind.si else float(kind.example)


def _in_system(number: float, quantity: str, system: str) -> str:
    if not QUANTITIES[quantity].si:
        return f"{number:g}"
    text, metric = show(number, quantity, system), show(number, quantity, "SI")
    return text if text == metric else f"{text} ({metric})"


LOCAL_GRID = "use a local grid: subtract a fixed origin from every point"
Coordinate = Annotated[float, Reads("length", least=-1e5, most=1e5, outside=LOCAL_GRID)]
Diameter = Annotated[float, Reads("diameter", above=0, most=2.0)]
BoxSide = Annotated[float, Reads("diameter", above=0, most=100.0)]
Size = Annotated[float, Reads("length", above=0, most=100.0)]
Spacing = Annotated[float, Reads("diameter", above=0, most=10.0)]
Cover = Annotated[float, Reads("diameter", least=0, most=10.0)]
TrenchSlope = Annotated[float, Reads("ratio", least=0, most=10)]
Radius = Annotated[float, Reads("radius", above=0, most=1000.0)]
# Surveyed curves are nearly straight in places; bends that do not fit their legs are refused too.
LARGEST_BEND = 1e5
BendRadius = Annotated[float, Reads("radius", above=0, most=LARGEST_BEND)]
Weight = Annotated[float, Reads("weight", above=0, most=5000.0)]
Force = Annotated[float, Reads("force", above=0, most=1e7)]
LeastForce = Annotated[float, Reads("force", least=0, most=1e7)]
ReelTension = Annotated[float | None, Reads("force", least=0, most=1e7, word="auto")]
Sidewall = Annotated[float, Reads("sidewall", above=0, most=1e6)]
Speed = Annotated[float, Reads("speed", above=0, most=10.0)]
Stress = Annotated[float, Reads("stress", above=0, most=2e9)]
Voltage = Annotated[float, Reads("voltage", above=0, most=1e6)]
Friction = Annotated[float, Reads("ratio", least=0, most=2.0)]
BendMultiple = Annotated[float, Reads("ratio", least=1, most=60)]
Stretch = Annotated[float, Reads("ratio", least=0, most=0.5)]
RestartFactor = Annotated[float, Reads("ratio", least=1, most=5)]
Mass = Annotated[float, Reads("mass", above=0, most=1e6)]
Angle = Annotated[float, Reads("angle", above=0, most=math.pi)]
Efficiency = Annotated[float, Reads("ratio", above=0, most=1)]
Share = Annotated[float, Reads("ratio", least=0, most=0.9)]
RemedyMargin = Annotated[float, Reads("ratio", least=0.5, most=1)]
LeastDuration = Annotated[float, Reads("time", least=0, most=1e6)]
LONGEST = 1e5
"""The largest sane length, m."""
Span = Annotated[float, Reads("length", above=0, most=LONGEST)]
LeastSpan = Annotated[float, Reads("length", least=0, most=1e4)]
# From the cold of the poles to what no jacket bears.
Temperature = Annotated[float, Reads("temperature", least=203.15, most=363.15)]
PlanPoint = Annotated[float, Reads("length", least=-100, most=100)]


# --- one of two quantities -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Measure:
    """An SI ``value`` and which ``quantity`` it is."""

    quantity: str
    value: float


@dataclass(frozen=True, slots=True)
class ReadsEither(_ReadInUnits):
    """Annotation of a field that holds one of two quantities; a bare number is the first."""

    first: Reads
    second: Reads

    def read(self, value: Any, system: str) -> Measure:
        """The measure; where it is neither, the error names what either is."""
        reads = self.first
        if isinstance(value, str):
            try:
                parse(value, self.first.quantity, system)
            except UnitError as error:
                try:
                    parse(value, self.second.quantity, system)
                except UnitError:
                    raise refuse(f"{error}, or {_text_of(self.second.quantity)}") from None
                reads = self.second
        number = reads.read(value, system)
        return Measure(reads.quantity, number or 0.0)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        shapes = [
            shape
            for reads in (self.first, self.second)
            for shape in reads.__get_pydantic_json_schema__(schema, handler)["anyOf"]
        ]
        unique = [shape for i, shape in enumerate(shapes) if shape not in shapes[:i]]
        return {"anyOf": unique, "examples": [_example(self.second.quantity)]}


def _text_of(quantity: str) -> str:
    return f'a {quantity} such as "{QUANTITIES[quantity].example}"'


Drag = Annotated[
    Measure,
    ReadsEither(Reads("force", least=0, most=1e6), Reads("length", least=0, most=1000.0)),
]
BrakeRating = Annotated[
    Measure,
    ReadsEither(Reads("force", above=0, most=1e6), Reads("torque", above=0, most=1e6)),
]


# --- sizes the tables know -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SizeRead:
    """A conductor size: ``area`` in m² and the ``text`` it was given as."""

    area: float
    text: str


_SQUARES = re.compile(r"mm(?:\*\*|\^)2|sq\.?\s*mm")


class ReadsConductorSize(_ReadInUnits):
    """Annotation of a conductor size: a trade size as text, or a bare number."""

    _bare = Reads("conductor_area", above=0, most=0.05)

    def read(self, value: Any, system: str) -> SizeRead:
        """The size; trade sizes are looked up in the published conductor table."""
        if not isinstance(value, str):
            text = f"{brief(value)} {QUANTITIES['conductor_area'].units[system]}"
            area = self._bare.read(value, system)
        else:
            text, area = value, _conductor_area(value)
            self._bare.check(value, area, system)
        return SizeRead(area or 0.0, _SQUARES.sub("mm²", text))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        text = {"type": "string", "pattern": r"[0-9]", "maxLength": 60}
        number = {"type": "number", "exclusiveMinimum": 0}
        return {"anyOf": [text, number], "examples": ["350 kcmil", "4/0 AWG", "185 mm2"]}


def _conductor_area(text: str) -> float:
    from route3d.standards.conductors import conductor_area

    try:
        return conductor_area(text).value
    except (LookupError, ValueError, Route3dError) as error:
        raise refuse(_words_of(error)) from None


def _words_of(error: Exception) -> str:
    """The message of an error; ``str`` of a KeyError would put quotes round it."""
    return str(error.args[0]) if error.args else str(error)


class ReadsTradeSize(ReadsPlain):
    """Annotation of a trade size: text, or a whole number."""

    def read(self, value: Any) -> str:
        """The trade size as text."""
        if isinstance(value, bool) or not isinstance(value, str | int) or not str(value).strip():
            raise refuse(f"{brief(value)} is not a trade size", 'enter it as text, such as "2-1/2"')
        return brief(value) if isinstance(value, int) else value.strip()

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        text = {"type": "string", "minLength": 1}
        return {"anyOf": [text, {"type": "integer"}], "examples": ["5", "2-1/2"]}


SizedArea = Annotated[SizeRead, ReadsConductorSize()]
TradeSize = Annotated[str, ReadsTradeSize()]


# --- counts, words, names ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Counts(ReadsPlain):
    """Annotation of a whole number from 1 to ``most``."""

    most: int

    def read(self, value: Any) -> int:
        """The number, where it is one."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse(f"{brief(value)} is not a whole number, for example 3")
        if not 1 <= value <= self.most:
            raise refuse(f"{brief(value)} must be between 1 and {self.most:,}")
        return value

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        return {"type": "integer", "minimum": 1, "maximum": self.most}


@dataclass(frozen=True, slots=True)
class OneOf(ReadsPlain):
    """Annotation of a word from a list; ``words`` is called only when one is read.

    ``fix`` says what else to do about a word that is none of them. ``spellings`` are other ways
    to write some of them, which are accepted without being offered.
    """

    words: Callable[[], Iterable[str]]
    fix: str = ""
    spellings: tuple[tuple[str, str], ...] = ()

    def read(self, value: Any) -> str:
        """The word, where it is one of them."""
        words = tuple(self.words())
        if isinstance(value, str):
            value = dict(self.spellings).get(value, value)
        if value not in words:
            near = nearest(value, words)
            hints = (near if near.startswith("did") else "", self.fix)
            message = f"{brief(value)} is not one of: {', '.join(words)}"
            raise refuse(message, " ".join(hint for hint in hints if hint))
        return str(value)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        return {"enum": [*self.words(), *dict(self.spellings)]}


_DUCT = re.compile(r"\s*([1-9][0-9]?)-([1-9][0-9]?):\s*(\S[^\x00-\x1f\x7f]{0,119})\s*")


class ReadsDuct(ReadsPlain):
    """Annotation of a duct of a bank and the run in it, such as ``1-2: F1``."""

    def read(self, value: Any) -> str:
        """The text, where it names row, column and run."""
        if not isinstance(value, str) or _DUCT.fullmatch(value) is None:
            raise refuse(
                f"{brief(value)} does not name a duct and its run",
                "enter 'row-column: run', such as \"1-2: F1\"",
            )
        return value

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        pattern = r"^\s*[1-9][0-9]?-[1-9][0-9]?:\s*\S"
        return {"type": "string", "pattern": pattern, "examples": ["1-2: F1"]}


def duct_and_run(text: str) -> tuple[int, int, str]:
    """Row, column and run of a text that ``ReadsDuct`` has read."""
    found = _DUCT.fullmatch(text)
    assert found is not None
    return int(found[1]), int(found[2]), found[3].rstrip()


class ReadsRules(ReadsPlain):
    """Annotation of the rules a job is judged by."""

    def read(self, value: Any) -> str:
        """The rule set, where it is one that is covered."""
        from route3d.standards.rules import ALSO_KNOWN_AS, NAMES, NOT_COVERED

        known = ", ".join(f'"{name}"' for name in NAMES)
        if isinstance(value, str) and value.upper() in NOT_COVERED:
            raise refuse(f"{NOT_COVERED[value.upper()]} is not covered", f"choose one of {known}")
        if isinstance(value, str):
            value = ALSO_KNOWN_AS.get(value.upper(), value)
        return OneOf(lambda: NAMES).read(value)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchema:
        from route3d.standards.rules import ALSO_KNOWN_AS, NAMES

        return {"enum": [*NAMES, *ALSO_KNOWN_AS]}


Rules = Annotated[str, ReadsRules()]
ConductorCount = Annotated[int, Counts(500)]
CableCount = Annotated[int, Counts(40)]
DuctCount = Annotated[int, Counts(20)]
DuctName = Annotated[str, ReadsDuct()]

# No control characters: names go to terminals and into tables.
Text = Annotated[str, StringConstraints(max_length=500, pattern=r"^[^\x00-\x1f\x7f]*$")]
Name = Annotated[
    str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]*$")
]


# --- places and money -----------------------------------------------------------------------------


class ReadsSpot(_ReadInUnits):
    """Annotation of a place along a route: a station, or the name of a point."""

    _station = Reads("length", least=0, most=LONGEST)

    def read(self, value: Any, system: str) -> float | str:
        """The station in m; a text that is no length is the name of a point."""
        if isinstance(value, str):
            try:
                parse(value, "length", system)
            except UnitError:
                if not value.strip():
                    raise refuse("'' is no place", "enter a station, or a point by name") from None
                return value.strip()
        station = self._station.read(value, system)
        assert station is not None
        return station


def typed_spot(text: str, system: str) -> float | str:
    """A place along a route as typed on a command line: a bare number is a station too."""
    try:
        value: float | str = float(text)
    except ValueError:
        value = text
    try:
        return ReadsSpot().read(value, system)
    except PydanticCustomError as error:
        context = error.context or {}
        raise InputError(Problem(context["message"], fix=context["fix"])) from None


class ReadsMoney(ReadsPlain):
    """Annotation of an amount of money."""

    def read(self, value: Any) -> float:
        """The amount; never negative."""
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0 <= value <= 1e12:
            fix = "enter a number, such as 1200"
            raise refuse(f"{brief(value)} is not an amount of money", fix)
        return float(value)


_RATE = re.compile(r"\s*([0-9][0-9,]*(?:\.[0-9]+)?)\s*(?:per|/)\s*([A-Za-z]+)\s*")


class ReadsRate(_ReadInUnits):
    """Annotation of money for a length; a bare number is for a foot or a meter."""

    _money = ReadsMoney()

    def read(self, value: Any, system: str) -> float:
        """The amount for a meter."""
        unit = "ft" if system == "US" else "m"
        if isinstance(value, str):
            found = _RATE.fullmatch(value)
            if found is None:
                raise refuse(f"{brief(value)} is not money for a length", 'such as "18 per ft"')
            value, unit = float(found[1].replace(",", "")), found[2]
        try:
            length = parse(f"1 {unit}", "length", system)
        except UnitError as error:
            raise refuse(str(error)) from None
        return self._money.read(value) / length


PlaceOnRoute = Annotated[float | str, ReadsSpot()]
Money = Annotated[float, ReadsMoney()]
MoneyPerLength = Annotated[float, ReadsRate()]


# --- what every table of the model file is --------------------------------------------------


def key(about: str, default: Any = ..., **more: Any) -> Any:
    """A key of a table, with what it is; it must be given where it has no default."""
    return Field(default, description=about, **more)


class Entry(BaseModel):
    """A table of the model file; keys it does not know are errors."""

    model_config = ConfigDict(
        defer_build=True,  # only the table that is read builds, with all that is inside it
        extra="forbid",
        frozen=True,
        model_title_generator=lambda model: model.__name__.removesuffix("Entry"),
    )

    # Never part of what the table describes: Job.examples has the marks of the whole file.
    example: StrictBool = key(
        "true marks values that nobody has confirmed: every output names this table under EXAMPLE "
        "VALUES, and sheets are drafts, until the line is deleted.",
        False,
        exclude=True,
    )


def _needed_without_stock(schema: JsonSchema) -> None:
    required = schema.pop("required")
    schema["anyOf"] = [{"required": ["stock"]}, {"required": required}]


class StockedEntry(Entry):
    """A table that a stock entry may fill: ``FILLED`` may be left out where ``stock`` is given."""

    FILLED: ClassVar[tuple[str, ...]] = ()
    model_config = ConfigDict(json_schema_extra=_needed_without_stock)

    @model_validator(mode="before")
    @classmethod
    def _left_open(cls, value: Any) -> Any:
        """None, which TOML has not, for what the stock entry will fill."""
        if isinstance(value, dict) and "stock" in value:
            return dict.fromkeys(cls.FILLED) | value
        return value
