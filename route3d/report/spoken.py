"""Numbers as words for the radio: the only place that knows how a language speaks a figure.

Another language is one more entry of ``VOICES``: how it says a number, and its units.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from route3d.language import AS_IT_IS, ENGLISH, Translated, Translation
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


_UNOS = (
    *("cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez"),
    *("once", "doce", "trece", "catorce", "quince", "dieciséis", "diecisiete", "dieciocho"),
    *("diecinueve", "veinte", "veintiuno", "veintidós", "veintitrés", "veinticuatro"),
    *("veinticinco", "veintiséis", "veintisiete", "veintiocho", "veintinueve"),
)
_DIEZ = (
    *("", "", "", "treinta", "cuarenta", "cincuenta", "sesenta", "setenta", "ochenta", "noventa"),
)
_CIEN = (
    *("", "ciento", "doscientos", "trescientos", "cuatrocientos", "quinientos", "seiscientos"),
    *("setecientos", "ochocientos", "novecientos"),
)


def spanish(number: Decimal) -> str:
    """A number as a Spanish-speaking crew says it on the radio.

    >>> spanish(Decimal(4300)), spanish(Decimal(1650)), spanish(Decimal(121))
    ('cuatro mil trescientos', 'mil seiscientos cincuenta', 'ciento veintiuno')
    >>> spanish(Decimal("19.20")), spanish(Decimal(21500))
    ('diecinueve punto dos', 'veintiún mil quinientos')
    """
    whole, _, part = f"{abs(number):f}".partition(".")
    words = _entero(int(whole))
    if part := part.rstrip("0"):
        words += " punto " + " ".join(_UNOS[int(digit)] for digit in part)
    return f"menos {words}" if number < 0 and words != "cero" else words


def _entero(number: int) -> str:
    if number < 30:
        return _UNOS[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _DIEZ[tens] + (f" y {_UNOS[ones]}" if ones else "")
    if number < 1000:
        hundreds, rest = divmod(number, 100)
        return (
            "cien"
            if number == 100
            else f"{_CIEN[hundreds]} {_entero(rest) if rest else ''}".strip()
        )
    size, one, many = (1000, "mil", "mil") if number < 10**6 else (10**6, "un millón", "millones")
    count, rest = divmod(number, size)
    words = one if count == 1 else f"{_before_noun(_entero(count))} {many}"
    return f"{words} {_entero(rest)}" if rest else words


def _before_noun(words: str) -> str:
    """One loses its end before a noun: veintiún mil, treinta y un metros."""
    if words.endswith("veintiuno"):
        return f"{words[:-3]}ún"
    return words[:-1] if words.endswith("uno") else words


@dataclass(frozen=True, slots=True)
class Voice:
    """How a language says a figure: its ``number``, and the unit behind it, one and many.

    A unit that is not in ``units`` is not said: the crew knows that it is feet and pounds.
    ``before_unit`` is what a number becomes before one.
    """

    number: Callable[[Decimal], str]
    units: Mapping[str, tuple[str, str]]
    before_unit: Callable[[str], str] = str


VOICES: Mapping[str, Voice] = {
    "en": Voice(english, {"m": ("meter", "meters"), "kN": ("kilonewton", "kilonewtons")}),
    "es": Voice(
        spanish,
        {"m": ("metro", "metros"), "kN": ("kilonewton", "kilonewtons")},
        _before_noun,
    ),
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
    words = voice.number(number)
    if not many:
        return words
    return f"{voice.before_unit(words)} {one if number == 1 else many}"


def said(phrase: Phrase, system: str, told: Translation = AS_IT_IS) -> str:
    """A Phrase with its figures in words, in the language of ``told``; it begins with a capital."""
    words = [spoken(value, quantity, system, told.language) for value, quantity in phrase.values]
    if told.language != ENGLISH:  # figures stand for themselves while the sentence is translated
        marks = {f"Figure{chr(65 + i)}": word for i, word in enumerate(words)}
        text = phrase.template.format(*marks)
        known = replace(told, names=told.names | marks.keys())
        text = known.of(text[:1].upper() + text[1:])
        text = re.sub(r"\bFigure[A-Z]\b", lambda m: marks[m[0]], text)
    else:
        text = phrase.template.format(*words)
    return Translated(text[:1].upper() + text[1:])
