"""The words a leg of a route is written in, such as ``right 90 at 36 in``: text to records.

One text is one leg. It is read from left to right; the first word that cannot stand where it stands
ends the reading with its column, what was understood before it and what could follow.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from typing import Literal, NoReturn

from route3d.errors import InputError, Problem, UnitError
from route3d.quantities import QUANTITIES
from route3d.units import parse, show, spellings, written

Point = tuple[float, float, float]

LONGEST_TEXT = 500
# Slips of a unit or of the decimal point; the model file has the same limits for points and bends.
FARTHEST, WIDEST_RADIUS, LARGEST_BOX = 1e5, 1000.0, 100.0  # m
# Angles have this many decimals of a degree: 2 micrometers at the end of 100 km.
ANGLE_DECIMALS = 12


@dataclass(frozen=True, slots=True)
class LegFault:
    """One thing wrong with the texts of a route: which ``leg`` (from 0), ``column`` (from 1).

    ``head`` is what the message begins with: number and text of the leg, known where it is shown.
    ``conduit`` is the name of the one that was not known, where only that is wrong.
    """

    leg: int
    column: int
    message: str
    fix: str = ""
    head: str = ""
    conduit: str = ""


class LegsError(InputError):
    """Legs that make no route; ``faults`` are its problems with the numbers of their legs."""

    def __init__(self, faults: Iterable[LegFault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda f: (f.leg, f.column)))
        super().__init__(Problem(f.message, fix=f.fix, column=f.column) for f in self.faults)


Side = Literal["left", "right", "up", "down"]
Kind = Literal["start", "length", "turn", "kick", "offset", "saddle", "point", "pull point", "end"]
Fitting = Literal["", "elbow", "sweep"]


@dataclass(frozen=True, slots=True)
class Heading:
    """Where a leg points: ``bearing`` degrees clockwise from north; None straight up or down."""

    bearing: float | None
    pitch: float = 0.0


@dataclass(frozen=True, slots=True)
class Slope:
    """How a leg rises: by ``rise`` m from end to end, or as ``grade``, rise over level length."""

    rise: float | None = None
    grade: float = 0.0


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg as it was written.

    ``at`` m is the point of a start or an end. ``length`` m is measured to the corner, "along" the
    straight conduit, or "horizontal". ``turns`` are sides and degrees, ``rises`` sides or headings
    and m; ``angle`` degrees is that of an offset, saddle or kick and ``across`` m is from corner to
    corner over a saddle. ``radius`` m and ``fitting`` stand, or would stand, at ``radius_span`` of
    the text.
    """

    kind: Kind
    text: str
    at: Point | None = None
    heading: Heading | None = None
    slope: Slope | None = None
    length: float = 0.0
    measured: Literal["", "along", "horizontal"] = ""
    turns: tuple[tuple[Side, float], ...] = ()
    rises: tuple[tuple[Side | Heading, float], ...] = ()
    angle: float = 0.0
    across: float | None = None
    radius: float | None = None
    radius_span: tuple[int, int] = (0, 0)
    fitting: Fitting = ""
    name: str = ""
    access: frozenset[str] | None = None
    conduit: str | None = None
    box: tuple[float, float, float] | None = None
    sheave: str | None = None


def read_leg(text: str, number: int, system: str) -> Leg:
    """The record of one leg.

    Parameters
    ----------
    text : str
        Such as ``right 90 at 36 in``.
    number : int
        From 0, for messages.
    system : {"US", "SI"}
        Units of bare numbers.

    Returns
    -------
    Leg
        With SI lengths; angles in degrees.

    Raises
    ------
    LegsError
        With the column, what was understood and what could follow.

    References
    ----------
    docs/legs.md.
    """
    return _Reader(text, number, system).leg()


def with_radius(text: str, number: int, system: str, radius: float) -> str | None:
    """The text of a leg with another bend radius, in the unit it has.

    Parameters
    ----------
    text : str
        A turn, offset, saddle or kick.
    number : int
        Of the leg, from 0, for messages.
    system : {"US", "SI"}
        Units of bare numbers.
    radius : float
        m

    Returns
    -------
    str or None
        None where only the radius cannot be changed.
    """
    leg = read_leg(text, number, system)
    if not leg.radius_span[1]:
        return None
    first, last = leg.radius_span
    was = _quantity("length").search(text, first, last)
    bare = was is not None and was[1] is None and not was[0].endswith(('"', "″"))
    like = 0.0 if bare else was[0] if was else f"1 {QUANTITIES['radius'].units[system]}"
    said = written(radius, "radius", system, like).strip('"')
    joined = "at " if leg.kind == "turn" else "radius "
    gap = "" if first < last else " " if leg.kind == "turn" else ", "
    made = text[:first] + gap + joined + said + text[last:]
    try:
        new = read_leg(made, number, system)
    except LegsError:
        return None
    aside = {"text": "", "radius": None, "radius_span": (0, 0), "fitting": ""}
    return made if replace(new, **aside) == replace(leg, **aside) else None  # type: ignore[arg-type]


def with_rise(text: str, number: int, system: str, rise: float) -> str | None:
    """The text of a saddle with another rise, m; None for another leg.

    Parameters
    ----------
    text : str
        A saddle.
    number : int
        Of the leg, from 0, for messages.
    system : {"US", "SI"}
        Units of bare numbers.
    rise : float
        m

    Returns
    -------
    str or None
        With the rise in inches or meters.
    """
    head = re.search(r"\bsaddle\s+", text, re.IGNORECASE)
    if read_leg(text, number, system).kind != "saddle" or head is None or rise <= 0:
        return None
    was = _quantity("length").match(text, head.end())
    assert was is not None  # the rise follows the word
    unit, places = {"US": ("in", 8), "SI": ("m", 10)}[system]
    said = f"{rise / parse(f'1 {unit}', 'length', system):.{places}f}".rstrip("0").rstrip(".")
    return f"{text[: was.start()]}{said} {unit}{text[was.end() :]}"


def divided(text: str, number: int, system: str, length: float) -> tuple[str, str] | None:
    """The texts of a length divided in two, such as for a pull point between.

    Parameters
    ----------
    text : str
        A length; its slope and conduit go on in the second part without being said.
    number : int
        Of the leg, from 0, for messages.
    system : {"US", "SI"}
        Units of bare numbers.
    length : float
        What the first part is to say, m.

    Returns
    -------
    tuple of str or None
        None for another leg, and where nothing would be left.
    """
    leg = read_leg(text, number, system)
    if leg.kind != "length" or not 0 < length < leg.length:
        return None
    unit, places = {"US": ("ft", 9), "SI": ("m", 10)}[system]

    def said(value: float) -> str:
        return f"{value / parse(f'1 {unit}', 'length', system):.{places}f}".rstrip("0").rstrip(".")

    match = _quantity("length").search(text)
    assert match is not None  # the leg is a length
    beside = text[match.end() :]
    measured = f" {leg.measured}" if leg.measured else ""
    if leg.slope is not None and leg.slope.rise is not None:
        rise = leg.slope.rise * length / leg.length
        conduit = "" if leg.conduit is None else f" in {key_of(leg.conduit)}"
        word = "up" if rise > 0 else "down"
        beside = f"{measured}, {word} {said(abs(rise))} {unit}{conduit}"
    first = f"{text[: match.start()]}{said(length)} {unit}{beside}"
    return first, f"{said(leg.length - length)} {unit}{measured}"


# --- words -------------------------------------------------------------------------------------

_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
_BEARINGS = {word: 45.0 * i for i, word in enumerate(_COMPASS)} | {
    word: 45.0 * i for i, word in enumerate(("n", "ne", "e", "se", "s", "sw", "w", "nw"))
}
_SIDES: tuple[Side, ...] = ("left", "right", "up", "down")
_HEADS = (
    "start", "left", "right", "up", "down", "turn", "bend", "kick", "offset", "saddle",
    "pull point", "point", "end",
)  # fmt: skip
_HEADS_SAID = (
    "a length such as 120 ft", "right 90 at 36 in", "turn to heading N30E at 36 in",
    "offset 12 ft left at 30 degrees", "saddle, kick, point, pull point, end",
)  # fmt: skip
# Where a name without quotes ends.
NAME_ENDS = ("at", "heading", "for", "in", "box", "no", "name", "named", "sheave", "around")


def quoted(name: str) -> str:
    """A name as it is read back: without quotes where it is plain words.

    Parameters
    ----------
    name : str
        Of a point.

    Returns
    -------
    str
        To be written in a leg.
    """
    words = re.fullmatch(r"[A-Za-z0-9_][\w.&/-]*(?: [A-Za-z0-9_][\w.&/-]*)*", name, re.ASCII)
    taken = (*NAME_ENDS, "start", "end", "pull", "point")
    if words and not any(word.lower() in taken for word in name.split()):
        return name
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def key_of(name: str) -> str:
    """The name of a conduit or a sheave as it is read back.

    Parameters
    ----------
    name : str
        Of its table.

    Returns
    -------
    str
        To be written in a leg.
    """
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else quoted(name)


_QUADRANT = re.compile(
    r"([NS])\s*(\d+(?:\.\d*)?|\.\d+)\s*(?:°|degrees?\b|deg\b)?\s*(?:(\d+(?:\.\d*)?)\s*['′])?"
    r"\s*(?:(\d+(?:\.\d*)?)\s*[\"″])?\s*([EW])(?![A-Za-z0-9])",
    re.IGNORECASE,
)
_WORD = re.compile(r"[A-Za-z]+(?:-[A-Za-z]+)*")
_TOKEN = re.compile(r"\"[^\"]*\"?|[^\s,]+|,")
_QUOTED = re.compile(r"\"((?:\\.|[^\"\\])*)\"|'([^']*)'(?![A-Za-z0-9])|“([^”]*)”", re.DOTALL)
_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+\-]?\d+)?"
_PLAIN = re.compile(rf"[+\-−]?{_NUMBER}")


@cache
def _quantity(kind: str) -> re.Pattern[str]:
    """A number of a length or an angle, with its unit as group 1 where it has one."""
    words = (*spellings(kind), *(("degree",) if kind == "angle" else ()))
    unit = "|".join(re.escape(w) + (r"(?![A-Za-z0-9])" if w.isalpha() else "") for w in words)
    inches = r"(?:\d+(?:\.\d+)?(?:[ \-]\d+/\d+)?|\d+/\d+)\s*(?:[\"″]|in(?![A-Za-z0-9]))"
    feet = rf"\d+(?:\.\d+)?\s*(?:['′]|ft(?![A-Za-z0-9]))\s*-?\s*{inches}|" * (kind == "length")
    marks = r"['′\"″]|" * (kind == "length")
    return re.compile(
        rf"[+\-−]?(?:{feet}(?:(?:\d+[ \-])?\d+/\d+|{_NUMBER})(?:\s*({marks}{unit}))?)"
    )


# What can follow a rise, where its direction is left out.
_AFTER_A_RISE = ("at", "and", "over", "radius", "with")
# A length where the angle of a shape stands; "at 30 in riser" is an angle and a conduit.
_RADIUS_FOR_ANGLE = re.compile(
    rf"({_quantity('length').pattern})\s*(?:$|,|at\b|radius\b|elbow\b|sweep\b)"
)


def shorten(text: str) -> str:
    """A text for a message, cut short where it is long.

    Parameters
    ----------
    text : str
        Any.

    Returns
    -------
    str
        At most 60 characters.
    """
    return text if len(text) <= 60 else f"{text[:57]}..."


def _suggestion(word: str, known: Iterable[str]) -> str:
    """``did you mean "x"?`` where a known word is near, else nothing."""
    near = get_close_matches(word.lower()[:80], list(known), n=1, cutoff=0.6)
    return f'did you mean "{near[0]}"?' if near else ""


# Clauses: the words that begin them, and how they are shown where they could follow.
_CLAUSES: dict[str, tuple[tuple[str, ...], str]] = {
    "radius": (("at", "radius", "with"), "at RADIUS"),
    "fitting": (("elbow", "sweep", "standard"), "elbow or sweep"),
    "slope": (("up", "down", "rising", "falling", "level"), "down 1 ft or falling 1 in 100"),
    "measured": (("along", "horizontal", "to"), "along or horizontal"),
    "and": (("and",), "and up or down ANGLE"),
    "across": (("over",), "over LENGTH"),
    "heading": (("heading",), "heading NORTH, N30E or 214 degrees"),
    "point": (("at",), "at X, Y, Z"),
    "name": (("name", "named"), 'name "NAME"'),
    "access": (("for", "no"), "for reel and machine, or no access"),
    "conduit": (("in",), "in CONDUIT"),
    "box": (("box",), "box LENGTH x WIDTH x HEIGHT"),
    "sheave": (("sheave", "around"), "around sheave NAME"),
}
_HERE = ("access", "conduit", "box", "sheave")


# --- the reader ----------------------------------------------------------------------------------


@dataclass
class _Reader:
    """Reads one text; ``at`` is how far it has come."""

    text: str
    number: int
    system: str
    at: int = 0
    found: dict[str, object] = field(default_factory=dict)

    # What stands next.

    def skip(self) -> None:
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1

    def done(self) -> bool:
        self.skip()
        return self.at >= len(self.text)

    def word(self) -> str:
        """The next word in small letters, which stays there; empty where none is next."""
        self.skip()
        match = _WORD.match(self.text, self.at)
        return match[0].lower() if match else ""

    def take(self, *words: str) -> str:
        """The next word, taken where it is one of these; else empty."""
        word = self.word()
        if word not in words:
            return ""
        self.at += len(word)
        return word

    def take_mark(self, mark: str) -> bool:
        self.skip()
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        self.skip()
        return pattern.match(self.text, self.at)

    # What is wrong.

    def fault(
        self, message: str, *next_words: str, at: int | None = None, known: Iterable[str] = ()
    ) -> NoReturn:
        """End with what is wrong at a place: here, where nothing else is said."""
        self.skip()
        place = self.at if at is None else at
        before = self.text[:place].strip()
        token = _TOKEN.match(self.text, place)
        hints = [_suggestion(token[0], known)] if token else []
        if next_words:
            hints.append(f"next can be: {'; '.join(next_words)}")
        head = f'leg {self.number + 1} ("{shorten(self.text.strip())}"), column {place + 1}: '
        said = f'; understood so far: "{shorten(before)}"' if before else ""
        fix = " ".join(hint for hint in hints if hint)
        raise LegsError([LegFault(self.number, place + 1, head + message + said, fix, head)])

    def unknown(self, *next_words: str, known: Iterable[str] = ()) -> NoReturn:
        """End at a word that cannot stand here, or where one is missing."""
        self.skip()
        token = _TOKEN.match(self.text, self.at)
        if token is None:
            self.fault("more is required", *next_words)
        shown = shorten(token[0].replace('"', "'"))
        message = f'"{shown}" is not understood here'
        before = self.text[: self.at].rstrip()
        if re.search(r"\din$|\d\s+in$", before) and "in CONDUIT" in next_words:
            message += ' ("in" after a number is inches: write "60 ft in riser")'
        elif re.search(r"\d,$", before) and token[0][0].isdigit():
            message += " (write numbers with a decimal point and without commas)"
        self.fault(message, *next_words, known=known)

    # Numbers.

    def quantity(self, kind: str, what: str, *, unit: str = "") -> float:
        """A number in SI (an angle in degrees); ``unit`` is that of the file where it has none."""
        reads = "angle" if kind == "angle" else "length"
        match = self.match(_quantity(reads))
        if match is None:
            self.unknown(what)
        value = self.value(match, kind, unit)
        self.at = match.end()
        return value

    def value(self, match: re.Match[str], kind: str, unit: str = "") -> float:
        text = match[0]
        bare = match[1] is None and not re.search(r"(?:[\"″]|in)$", text)
        if bare:
            text = f"{text} {unit or QUANTITIES[kind].units[self.system]}"
        text = re.sub(r"degree$", "degrees", text)
        try:
            value = parse(text, kind, self.system)
        except UnitError as error:
            self.fault(str(error), at=match.start())
        except (ValueError, OverflowError):
            self.fault("the number has too many digits", at=match.start())
        return round(math.degrees(value), ANGLE_DECIMALS) if kind == "angle" else value

    def length(self, what: str, kind: str = "length", most: float = FARTHEST) -> float:
        """A length above 0 that is no slip of a unit."""
        place = self.place()
        value = self.quantity(kind, what)
        self.within(value, 0.0, most, kind, place)
        return value

    def within(self, value: float, above: float, most: float, kind: str, place: int) -> None:
        if not above < value:
            self.fault("must be greater than 0", at=place)
        if value > most:
            limit = show(most, kind, self.system)
            self.fault(f"exceeds the maximum of {limit}", at=place)

    def degrees(self, what: str, most: float, *, whole: bool = False) -> float:
        """An angle above 0 and below ``most`` degrees, or up to it with ``whole``."""
        place = self.place()
        value = self.quantity("angle", what)
        if not (0 < value < most or (whole and value == most)):
            below = "at most" if whole else "less than"
            self.fault(f"the angle must be greater than 0 and {below} {most:g}°", at=place)
        return value

    def place(self) -> int:
        self.skip()
        return self.at

    def three(self, kind: str, mark: str, what: str) -> tuple[float, float, float]:
        """Three numbers with a mark between; a unit after the last alone is that of all."""
        found: list[tuple[re.Match[str], int]] = []
        for i in range(3):
            if i and not (self.take_mark(mark) or (mark == "x" and self.take_mark("×"))):
                self.unknown(f'"{mark}" and the next number of {what}')
            match = self.match(_quantity("length"))
            if match is None:
                self.unknown(f"{what} (number {i + 1} of 3)")
            found.append((match, i))
            self.at = match.end()
        units = [match[1] for match, _ in found]
        shared = units[2] if units[:2] == [None, None] and (units[2] or "").isalpha() else ""
        first, second, third = (self.value(match, kind, shared or "") for match, _ in found)
        return first, second, third

    # Names.

    def name_or_none(self) -> str:
        """A name in quotes, or the words before the next clause; empty where neither is next."""
        if (quoted := self.match(_QUOTED)) is not None:
            self.at = quoted.end()
            return self.plain(quoted)
        words = []
        while not self.done() and self.text[self.at] not in ',"“' and self.word() not in NAME_ENDS:
            match = re.compile(r"[^\s,\"“]+").match(self.text, self.at)
            assert match is not None  # something that is no space, comma or quote is next
            words.append(match[0])
            self.at = match.end()
        return " ".join(words)

    def plain(self, quoted: re.Match[str]) -> str:
        inside = quoted[1]
        if inside is not None:
            return re.sub(r"\\(.)", r"\1", inside, flags=re.DOTALL)
        return quoted[2] if quoted[2] is not None else quoted[3]

    def key(self, what: str) -> str:
        """The name of a table of the model file: one word, or in quotes."""
        if (quoted := self.match(_QUOTED)) is not None:
            self.at = quoted.end()
            name = self.plain(quoted)
        else:
            match = self.match(re.compile(r"[^\s,\"“]+"))
            if match is None:
                self.unknown(what)
            name, self.at = match[0], match.end()
        if not name:
            self.fault("the name is empty", what)
        return name

    # Directions.

    def heading(self) -> Heading:
        """A heading in words, by quadrant or in degrees; up and down too."""
        if up := self.take("up", "down"):
            return Heading(None, 90.0 if up == "up" else -90.0)
        if (quadrant := self.match(_QUADRANT)) is not None:
            return Heading(self.quadrant(quadrant))
        if word := self.take(*_BEARINGS):
            return Heading(_BEARINGS[word])
        expected = "north, N30E, 214 degrees, up or down"
        if self.match(_PLAIN) is None:
            self.unknown(expected, known=(*_BEARINGS, "up", "down"))
        place = self.place()
        value = self.quantity("angle", expected)
        if not 0 <= value <= 360:
            self.fault("a heading is from 0 to 360 degrees, clockwise from north", at=place)
        return Heading(value % 360)

    def quadrant(self, match: re.Match[str]) -> float:
        north, degrees, minutes, seconds, east = match.groups()
        place = self.place()
        if float(minutes or 0) >= 60 or float(seconds or 0) >= 60:
            self.fault("minutes and seconds of a bearing are less than 60", at=place)
        angle = float(degrees) + float(minutes or 0) / 60 + float(seconds or 0) / 3600
        if angle > 90:
            self.fault("a quadrant bearing such as N30E is at most 90 degrees", at=place)
        self.at = match.end()
        if north.upper() == "S":
            angle = 180 - angle
        return round(angle if east.upper() == "E" else -angle, ANGLE_DECIMALS) % 360

    def side(self, *others: str) -> Side:
        word = self.take(*_SIDES)
        if not word:
            self.unknown("left, right, up or down", *others, known=_SIDES)
        return word  # type: ignore[return-value]

    def slope(self) -> Slope:
        """``down 1 ft``, ``falling 1 in 100``, ``rising 2%``, ``falling 3 in per 100 ft``."""
        word = self.take(*_CLAUSES["slope"][0])
        if word == "level":
            return Slope(grade=0.0)
        sign = 1.0 if word in ("up", "rising") else -1.0
        amount = f"{word} 1 ft, {word} 1 in 100, {word} 2% or {word} 5 degrees"
        ratio = re.compile(rf"({_NUMBER})\s*(?::|in\s)\s*({_NUMBER})(?!\s*(?:['\"/°%]|[A-Za-z]))")
        place = self.place()
        if (match := self.match(ratio)) is not None:
            rise, run = float(match[1]), float(match[2])
            if not 0 < run < math.inf or not 0 < rise < math.inf:
                self.fault("a slope such as 1 in 100 has two numbers greater than 0", at=place)
            self.at = match.end()
            return Slope(grade=sign * rise / run)
        if (match := self.match(re.compile(rf"({_NUMBER})\s*(?:%|percent\b)"))) is not None:
            if not 0 < float(match[1]) < math.inf:
                self.fault("must be greater than 0", at=place)
            self.at = match.end()
            return Slope(grade=sign * float(match[1]) / 100)
        angle = self.match(_quantity("angle"))
        if angle is not None and angle[1] is not None:
            return Slope(grade=sign * math.tan(math.radians(self.degrees(amount, 90))))
        rise = self.length(amount)
        if not self.take("per"):
            return Slope(rise=sign * rise)
        if unit := self.take(*spellings("length")):
            return Slope(grade=sign * rise / parse(f"1 {unit}", "length", self.system))
        return Slope(grade=sign * rise / self.length("a length: per 100 ft"))

    # --- legs ------------------------------------------------------------------------------------

    def leg(self) -> Leg:
        """The whole text."""
        if len(self.text) > LONGEST_TEXT:
            self.fault(f"the text has more than {LONGEST_TEXT} characters")
        if self.done():
            self.fault("the text is empty", *self.heads)
        made = self.head()
        if not self.done():
            self.unknown("the end of the leg")
        return made

    @property
    def heads(self) -> tuple[str, ...]:
        """What a leg can begin with."""
        first = ("start NAME at 0, 0, 0 heading north in CONDUIT",)
        return _HEADS_SAID if self.number else first

    def head(self) -> Leg:
        self.take("straight")
        word = self.word()
        heads: dict[str, Callable[[], Leg]] = {
            "start": self.start, "turn": self.turn_to, "bend": self.bend, "kick": self.kick,
            "rolled": self.offset, "offset": self.offset, "saddle": self.saddle, "end": self.end,
            "point": self.point, "pull": self.pull_point, **dict.fromkeys(_SIDES, self.turn),
        }  # fmt: skip
        if word in heads:
            return heads[word]()
        if (bends := self.match(re.compile(r"([34])-bend\b|(three|four)-bend\b"))) is not None:
            self.at = bends.end()
            return self.saddle(3 if bends[0][0] in "3t" else 4)
        if self.match(_quantity("length")) is None:
            self.unknown(*self.heads, known=(*_HEADS, *_BEARINGS))
        angle = re.compile(_quantity("angle").pattern + r"(?=\s+(?:rolled\s+)?(?:offset|saddle)\b)")
        if self.match(angle) is not None:
            before = self.degrees("an angle", 90)
            return self.saddle(angle=before) if self.word() == "saddle" else self.offset(before)
        return self.straight()

    def clauses(self, made: Leg, *allowed: str) -> Leg:
        """What is said beside the head of a leg: each clause once, in any order, commas or not."""
        given: set[str] = set()
        while True:
            comma = self.take_mark(",")
            if self.done():
                if comma:
                    self.fault("nothing follows the comma", *self.can_follow(allowed, given))
                return made
            word, place = self.word(), self.at
            rest = [c for c in allowed if word in _CLAUSES[c][0]]
            if not rest:
                known = [w for c in allowed if c not in given for w in _CLAUSES[c][0]]
                if re.search(r"\d\s*$", self.text[: self.at]):  # a unit may be misspelled
                    known += (*spellings("length"), *spellings("angle"))
                self.unknown(*self.can_follow(allowed, given), known=known)
            clause = rest[0]
            if clause in given:
                self.fault(f'"{word}" is given twice', *self.can_follow(allowed, given), at=place)
            made = self.clause(made, clause)
            given.add(clause)

    def can_follow(self, allowed: Sequence[str], given: Iterable[str]) -> list[str]:
        left = [_CLAUSES[c][1] for c in allowed if c not in given]
        return left or ["the end of the leg"]

    def clause(self, made: Leg, clause: str) -> Leg:
        """The record with one clause more."""
        if clause == "slope":
            return replace(made, slope=self.slope())
        if clause in ("radius", "fitting"):
            return self.radius(made)
        word = self.take(*_CLAUSES[clause][0])
        if clause == "measured" and word == "to":
            self.take("the")
            if not self.take("corner"):
                self.unknown("to the corner", known=("corner",))
            return made
        if clause == "measured":
            self.take("the")
            self.take("conduit")
            return replace(made, measured=word)  # type: ignore[arg-type]
        if clause == "and":
            return replace(made, turns=(*made.turns, self.other_turn(made)))
        if clause == "across":
            across = self.length("the length across, from corner to corner: over 24 in")
            return replace(made, across=across)
        if clause == "heading":
            return replace(made, heading=self.heading())
        if clause == "point":
            place = self.place()
            at = self.three("length", ",", "the point X, Y, Z")
            if max(map(abs, at)) > FARTHEST:
                limit = show(FARTHEST, "length", self.system)
                self.fault(f"a coordinate exceeds the maximum of {limit}", at=place)
            return replace(made, at=at)
        if clause == "name":
            if not (name := self.name_or_none()):
                self.unknown('a name: name "sweep 2"')
            return replace(made, name=name)
        if clause == "access":
            return replace(made, access=self.access(word))
        if clause == "conduit":
            return replace(made, conduit=self.key("the name of a conduit"))
        if clause == "box":
            place = self.place()
            sides = self.three("diameter", "x", "the box: length x width x height")
            for side in sides:
                self.within(side, 0.0, LARGEST_BOX, "length", place)
            return replace(made, box=sides)
        if word == "around" and not self.take("sheave"):
            self.unknown('"sheave" and its name', known=("sheave",))
        return replace(made, sheave=self.key("the name of a sheave"))

    def access(self, word: str) -> frozenset[str]:
        if word == "no":
            if not self.take("access"):
                self.unknown("access", known=("access",))
            return frozenset()
        found: list[str] = []
        while True:
            what = self.take("reel", "machine")
            if not what:
                self.unknown("reel, machine, or reel and machine", known=("reel", "machine"))
            found.append(what)
            if not self.take("and"):
                return frozenset(found)

    def radius(self, made: Leg) -> Leg:
        """``at 36 in``, ``at standard 36 in sweep``, ``radius 36 in``, ``elbow``, ``sweep``."""
        begun = self.place()
        self.take("with")
        at = self.take("at", "radius")
        self.take("radius")
        standard = self.take("standard")
        if self.match(_quantity("length")) is not None:
            if made.radius is not None:
                self.fault("the radius is given twice")
            made = replace(made, radius=self.length("a radius", "radius", WIDEST_RADIUS))
        elif at and not standard and self.word() not in ("elbow", "sweep"):
            self.unknown("a radius such as 36 in", "standard elbow", known=("standard", "elbow"))
        elif not self.word():
            self.unknown("elbow or sweep")
        if (fitting := self.take("elbow", "sweep")) and made.fitting:
            self.fault("the fitting is given twice")
        if standard and not fitting:
            self.unknown("elbow or sweep", known=("elbow", "sweep"))
        if fitting:
            made = replace(made, fitting=fitting)  # type: ignore[arg-type]
        first, last = made.radius_span if made.radius_span[1] else (begun, self.at)
        return replace(made, radius_span=(min(first, begun), max(last, self.at)))

    # Straights.

    def straight(self) -> Leg:
        length = self.length("a length such as 120 ft")
        return self.clauses(Leg("length", self.text, length=length), "slope", "measured", "conduit")

    # Turns.

    def turn(self) -> Leg:
        """``right 90``, ``left 45 and up 30``."""
        side = self.side()
        turned = side, self.degrees(f"an angle: {side} 90", 180, whole=True)
        return self.bent(Leg("turn", self.text, turns=(turned,)), "and")

    def other_turn(self, made: Leg) -> tuple[Side, float]:
        """The second turn of a compound one: in the other of plan and elevation."""
        first = made.turns[0][0]
        others: tuple[Side, ...] = ("up", "down") if first in ("left", "right") else _SIDES[:2]
        side = self.take(*others)
        if not side:
            self.unknown(f"{others[0]} or {others[1]} and an angle", known=others)
        return side, self.degrees(f"an angle: {side} 30", 180, whole=True)  # type: ignore[return-value]

    def bent(self, made: Leg, *more: str) -> Leg:
        made = self.clauses(made, *more, "radius", "fitting", "name", *_HERE)
        end = len(self.text.rstrip()) if not made.radius_span[1] else 0
        return made if made.radius_span[1] else replace(made, radius_span=(end, end))

    def turn_to(self) -> Leg:
        """``turn to heading N30E``, ``turn to heading east rising 30 degrees``."""
        self.take("turn")
        if self.match(re.compile(r"(?:left|right|up|down)\s+[\d.]", re.IGNORECASE)):
            return self.turn()
        self.take("to")
        self.take("heading")
        return self.bent(Leg("turn", self.text, heading=self.heading()), "slope")

    def bend(self) -> Leg:
        """``bend at 48 in``: between two slopes, its angle from the legs on both sides."""
        self.take("bend")
        return self.bent(Leg("turn", self.text))

    # Offsets, saddles and kicks.

    def rise(self) -> tuple[Side | Heading, float]:
        length = self.length("a rise such as 12 in")
        if word := self.take(*_SIDES):
            return word, length  # type: ignore[return-value]
        toward = self.take("to"), self.take("heading")
        if not any(toward) and self.word() not in _BEARINGS and not self.match(_QUADRANT):
            expected = "left, right, up or down", "in a riser a heading such as north"
            if self.done() or self.word() in _AFTER_A_RISE:
                self.fault("left, right, up or down is missing", *expected)
            self.unknown(*expected, known=(*_SIDES, *_COMPASS))
        return self.heading(), length

    def shape_angle(self, made: Leg) -> Leg:
        """The ``at 30 degrees`` of an offset, saddle or kick, where it was not said before it."""
        if made.angle:
            return made
        usual = ", ".join(f"{a:g}" for a in usual_angles())
        said = f"at ANGLE, such as at 30 degrees (usual: {usual})"
        self.take_mark(",")
        if not self.take("at"):
            self.unknown(said, known=("at",))
        radius = self.match(_RADIUS_FOR_ANGLE)
        if radius is not None and not _PLAIN.fullmatch(radius[1]):
            by_rise = " by rise" if made.kind == "kick" else ""
            message = f"the {made.kind}{by_rise} needs an angle; {radius[1]} is a radius"
            self.fault(message, f"at ANGLE, such as at 30 degrees, radius {radius[1]}")
        return replace(made, angle=self.degrees(said, 90))

    def offset(self, angle: float = 0.0) -> Leg:
        """``offset 12 ft left at 30 degrees``, ``offset 8 in right and 6 in up at 30 degrees``."""
        rolled = bool(self.take("rolled"))
        if not self.take("offset"):
            self.unknown("offset", known=("offset",))
        rises = [self.rise()]
        if self.take("and"):
            place = self.place()
            rises.append(self.rise())
            flat = [rise[0] in ("left", "right") for rise in rises]
            if flat[0] == flat[1] or any(isinstance(rise[0], Heading) for rise in rises):
                self.fault("a rolled offset is left or right, and up or down", at=place)
        elif rolled:
            self.unknown("and the other rise: and 6 in up")
        made = Leg("offset", self.text, rises=tuple(rises), angle=angle)
        return self.bent(self.shape_angle(made))

    def saddle(self, bends: int = 0, angle: float = 0.0) -> Leg:
        """``saddle 6 in up at 22.5 degrees``, of 4 bends with ``over 24 in``."""
        if not self.take("saddle"):
            self.unknown("saddle", known=("saddle",))
        made = Leg("saddle", self.text, rises=(self.rise(),), angle=angle)
        if self.word() == "over":
            made = self.clause(made, "across")
        made = self.shape_angle(made)
        made = self.bent(made, *(() if made.across else ("across",)))
        if bends == 3 and made.across is not None:
            self.fault("a 3-bend saddle has no length across", "leave out over LENGTH")
        if bends == 4 and made.across is None:
            self.fault(
                "more is required", "over LENGTH: across the obstacle, from corner to corner"
            )
        return made

    def kick(self) -> Leg:
        """``kick left 20``, or by its rise: ``kick 10 in up at 15 degrees``."""
        self.take("kick")
        if self.match(_quantity("length")) is not None:
            made = Leg("kick", self.text, rises=(self.rise(),))
            return self.bent(self.shape_angle(made))
        side = self.side("a rise: kick 10 in up at 15 degrees")
        turned = side, self.degrees(f"an angle: kick {side} 20", 90)
        return self.bent(Leg("turn", self.text, turns=(turned,)))

    # Points.

    def start(self) -> Leg:
        self.take("start")
        made = Leg("start", self.text, name=self.name_or_none())
        made = self.clauses(made, "point", "heading", "slope", *_HERE[:3])
        if made.at is None:
            self.fault("the start has no point", "at X, Y, Z")
        if made.heading is None:
            self.fault("the start has no heading", _CLAUSES["heading"][1])
        return made

    def end(self) -> Leg:
        self.take("end")
        made = Leg("end", self.text, name=self.name_or_none())
        return self.clauses(made, "point", "access", "box")

    def pull_point(self) -> Leg:
        self.take("pull")
        if not self.take("point"):
            self.unknown("point", known=("point",))
        made = Leg("pull point", self.text, name=self.name_or_none())
        return self.clauses(made, *_HERE)

    def point(self) -> Leg:
        self.take("point")
        return self.clauses(Leg("point", self.text, name=self.name_or_none()), *_HERE)


@cache
def usual_angles() -> tuple[float, ...]:
    """The angles of the table of offsets, degrees.

    Returns
    -------
    tuple of float
        From the least.
    """
    from route3d.standards.tables import load

    return tuple(sorted(float(row["deg"]) for row in load("bending_geometry").rows))
