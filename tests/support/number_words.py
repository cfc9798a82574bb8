"""English number words read back as a number, written apart from what says them."""

from __future__ import annotations

import re

_FROM_ZERO = """zero one two three four five six seven eight nine ten eleven twelve thirteen
    fourteen fifteen sixteen seventeen eighteen nineteen"""
_FROM_TWENTY = """twenty thirty forty fifty sixty seventy eighty ninety"""
_SMALL = {word: number for number, word in enumerate(_FROM_ZERO.split())}
_TENS = {word: 10 * number for number, word in enumerate(_FROM_TWENTY.split(), 2)}
WORD = rf"(?:{'|'.join((*_SMALL, *_TENS, 'hundred', 'thousand', 'million', 'point'))})"
NUMBER = rf"\b{WORD}\b(?:[ -]{WORD}\b)*"


def number_of(words: str) -> float:
    """The number that words say, such as "forty-three hundred fifty" or "two point eight"."""
    whole, _, part = words.partition(" point ")
    total = here = 0
    for word in re.split("[ -]", whole):
        if word in _SMALL:
            here += _SMALL[word]
        elif word in _TENS:
            here += _TENS[word]
        elif word == "hundred":
            here *= 100
        else:
            total, here = total + here * {"thousand": 1000, "million": 10**6}[word], 0
    digits = "".join(str(_SMALL[word]) for word in part.split())
    return total + here + (float(f"0.{digits}") if digits else 0.0)


def numbers_in(text: str) -> list[float]:
    """Every number said in a sentence, in order."""
    return [number_of(found) for found in re.findall(NUMBER, text.lower())]
