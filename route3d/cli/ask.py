"""Asks the nine questions of a new job at a terminal, or of a pipe: one answer a line."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import suppress

from route3d.cli.common import write
from route3d.errors import InputError
from route3d.modelfile.interview import KEYS, Question, model_text, question, understood

_MOST_SHOWN = 12
_HOW = (
    "Nine questions. Enter takes the default in [brackets], which is marked as an example.\n"
    "? shows help, ? WORDS searches the stock names, back returns to the question before.\n"
)


class Ended(Exception):
    """The answers ended before the questions did."""


class _Back(Exception):
    """The question before is wanted."""


def asked_model(first: dict[str, str]) -> str:
    """The model file of the answers typed; ``first`` may hold the units.

    Raises Ended where the input ends or is interrupted; nothing is written then.
    """
    with suppress(ImportError):
        import readline  # noqa: F401 - arrow keys in what is typed
    write(_HOW)
    answers = dict(first)
    at = 0
    while at < len(KEYS):
        key = KEYS[at]
        try:
            answer = _ask(at + 1, question(key, answers), answers)
        except _Back:
            at = max(0, at - 1)
            answers.pop(KEYS[at], None)
            continue
        answers.pop(key, None)
        answers |= {key: answer} if answer else {}
        at += 1
    return model_text(answers)


def _ask(number: int, asked: Question, answers: dict[str, str]) -> str:
    """One answer that holds, "" for the default; asked again until it does."""
    write(f"\n{number} of {len(KEYS)}  {asked.title}: {asked.text}\n")
    shown: tuple[str, ...] = ()
    legs: list[str] = []
    while True:
        text = _line(asked, legs)
        if text == "?" or text.startswith("? "):
            shown = _help(asked, text[1:].strip())
            continue
        if text.lower() == "back":
            if not legs:
                raise _Back
            write(f"  removed: {legs.pop()}\n")
            continue
        if text.isdigit() and 1 <= int(text) <= len(shown):
            text = shown[int(text) - 1]
        if asked.lines and text:
            legs += _whole_legs(text, legs, answers)
            continue
        answer = "\n".join(legs) if asked.lines else text
        try:
            for line in understood(asked.key, {**answers, asked.key: answer}):
                write(f"  {line}\n")
            return answer
        except InputError as error:
            _complain(error)


def _line(asked: Question, legs: list[str]) -> str:
    """One line that was typed."""
    if asked.lines:
        default = " / ".join(asked.default.splitlines())
        prompt = f"leg {len(legs) + 1}" + (
            " (Enter ends the route): " if legs else f" [{default}]: "
        )
    else:
        prompt = f"[{asked.default}]: "
    try:
        text = input(prompt).strip()
    except (EOFError, KeyboardInterrupt):
        write("\n")
        raise Ended from None
    if not sys.stdin.isatty():
        write(f"{text}\n")  # what a pipe has sent, as a terminal shows what is typed
    return text


def _whole_legs(text: str, legs: list[str], answers: dict[str, str]) -> Iterator[str]:
    """The legs of a line that can be read, up to the first that cannot."""
    from route3d.modelfile.interview import check_leg

    for number, leg in enumerate(filter(None, (part.strip() for part in text.split(";")))):
        try:
            check_leg(leg, len(legs) + number, answers)
        except InputError as error:
            _complain(error)
            return
        yield leg


def _help(asked: Question, words: str) -> tuple[str, ...]:
    """Print what may be typed, or the stock names that match; those that a number chooses."""
    found = asked.matches(words) if asked.kind else ()
    if not words:
        write(f"  {asked.help}\n")
        if found:
            write(f"  {len(found)} stock names; search them with: ? WORDS\n")
        return ()
    shown = found[:_MOST_SHOWN]
    for number, name in enumerate(shown, 1):
        write(f"  {number:>2}  {name}\n")
    if len(found) > len(shown):
        write(f"  and {len(found) - len(shown)} more; add a word\n")
    if asked.key == "count":  # a number is the answer itself
        return ()
    write("  Enter a number, or a name.\n" if shown else "  nothing found\n")
    return shown


def _complain(error: InputError) -> None:
    for problem in error.problems:
        fix = f"; {problem.fix}" if problem.fix else ""
        write(f"  {problem.message}{fix}\n")
