"""Text whose letters run from right to left, beside figures that do not.

A screen and a typesetter order each line by the Unicode bidirectional algorithm (UAX 9). Two
things in a name can turn the figures beside it: marks that set a direction, which nobody types, and
letters of a language written from right to left. The first are refused, the second shut off.
"""

from __future__ import annotations

import re
from typing import Any

MARKS = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
"""The formatting characters of UAX 9, section 2, as a class of a regular expression."""

_MARK = re.compile(f"[{MARKS}]")
# Hebrew, Arabic, Syriac, Thaana, N'Ko and the rest of the right-to-left blocks of the basic plane,
# the presentation forms, and the right-to-left blocks of plane 1 (UAX 9, DerivedBidiClass).
_LETTER = (
    "\u0590-\u061b\u061d-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
)
_ISOLATE, _END = "\u2068", "\u2069"
_STRETCH = re.compile(
    f"{_ISOLATE}[^{_END}]*{_END}|[{_LETTER}](?:[^\\S\\n]*[{_LETTER}])*"  # the first: done already
)


def mark_in(text: str) -> str:
    """The first mark that sets a direction, as ``U+202E``; empty where there is none."""
    found = _MARK.search(text)
    return f"U+{ord(found[0]):04X}" if found else ""


def isolated(text: str) -> str:
    """The text with every stretch of right-to-left letters shut off from what stands beside it.

    Inside such a stretch the order is that of its language; outside, figures keep theirs.
    """
    if text.isascii():
        return text
    return _STRETCH.sub(_shut_off, text)


def _shut_off(found: re.Match[str]) -> str:
    return found[0] if found[0][0] == _ISOLATE else f"{_ISOLATE}{found[0]}{_END}"


def all_isolated(data: Any) -> Any:
    """Plain data (dict, list, tuple, text) with every text in it ``isolated``, keys too."""
    if isinstance(data, str):
        return isolated(data)
    if isinstance(data, dict):
        return {all_isolated(key): all_isolated(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [all_isolated(value) for value in data]
    return data
