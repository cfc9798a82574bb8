"""Numbers as words for the radio: the only place that knows how a language speaks a figure.

Another language is one more entry of ``VOICES``: how it says a number, and its units.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from route3d.phrase import Phrase
from route3d.units import convert, decimals_of, unit_label

_ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen"),
    "nineteen",
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def english(number: Decimal) -> str:
    """A number as a US crew says it on the radio.

    Up to 9,999 in hundreds, except whole thousands and what is within a hundred above them.

    >>> english(Decimal(4300)), english(Decimal(1650)), english(Decimal(4050))
    ('forty-three hundred', 'sixteen hundred fifty', 'four thousand fifty')
    >>> english(Decimal("19.20")), english(Decimal(12350))
    ('nineteen point two', 'twelve thousand three hundred fifty')
    """
    whole, _, part = f"{abs(number):f}".partition(".")
    words = _whole(int(whole))
    if part := part.rstrip("0"):
        words += " point " + " ".join(_ONES[int(digit)] for digit in part)
    return f"minus {words}" if number < 0 and words != "zero" else words


def _whole(number: int) -> str:
    if number < 20:
        return _ONES[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens] + (f"-{_ONES[ones]}" if ones else "")
    if number < 10_000 and number // 100 % 10:
        return _joined(f"{_whole(number // 100)} hundred", number % 100)
    for size, name in ((10**9, "billion"), (10**6, "million"), (1000, "thousand")):
        if number >= size:
            count, rest = divmod(number, size)
            # after a thousand its hundreds, one to nine, are said as such
            return _joined(f"{_whole(count)} {name}", rest)
    raise AssertionError(number)  # hundreds below a thousand are said above


def _joined(words: str, rest: int) -> str:
    return f"{words} {_whole(rest)}" if rest else words


@dataclass(frozen=True, slots=True)
class Voice:
    """How a language says a figure: its ``number``, and the unit behind it, one and many.

    A unit that is not in ``units`` is not said: the crew knows that it is feet and pounds.
    """

    number: Callable[[Decimal], str]
    units: Mapping[str, tuple[str, str]]


VOICES: Mapping[str, Voice] = {
    "en": Voice(english, {"m": ("meter", "meters"), "kN": ("kilonewton", "kilonewtons")}),
}


def spoken(value: float, quantity: str, system: str, language: str = "en") -> str:
    """An SI value in words, with the digits that are printed of it; lengths whole.

    >>> spoken(270.2, "length", "SI"), spoken(270.2, "length", "US")
    ('two hundred seventy meters', 'eight hundred eighty-six')
    >>> spoken(19200.0, "force", "SI"), spoken(19127.0, "force", "US")
    ('nineteen point two kilonewtons', 'forty-three hundred')
    """
    voice = VOICES[language]
    shown = convert(value, quantity, system)
    decimals = 0 if quantity == "length" else decimals_of(shown, quantity, system)
    number = Decimal(f"{shown:.{decimals}f}")
    one, many = voice.units.get(unit_label(quantity, system), ("", ""))
    return f"{voice.number(number)} {one if number == 1 else many}".rstrip()


def said(phrase: Phrase, system: str, language: str = "en") -> str:
    """A Phrase with its figures in words; it begins with a capital."""
    words = (spoken(value, quantity, system, language) for value, quantity in phrase.values)
    text = phrase.template.format(*words)
    return text[:1].upper() + text[1:]
