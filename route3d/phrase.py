"""A sentence that still holds its numbers in SI, so that a report can print it in any units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Phrase:
    """Text with places for quantities: ``template.format(*formatted values)``.

    ``values`` holds ``(SI value, quantity)`` pairs; the quantity names are those of
    ``route3d.quantities.QUANTITIES`` ("force", "sidewall", "radius", ...).
    """

    template: str
    values: tuple[tuple[float, str], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.template)

    def __add__(self, other: Phrase) -> Phrase:
        return Phrase(self.template + other.template, self.values + other.values)


def literal(text: str) -> str:
    """Text that people typed, safe inside a template: its braces doubled."""
    return text.replace("{", "{{").replace("}", "}}")


def say(template: str, *values: tuple[float, str]) -> Phrase:
    """A Phrase from a template with ``{}`` places, one for each ``(SI value, quantity)``."""
    return Phrase(template, values)
