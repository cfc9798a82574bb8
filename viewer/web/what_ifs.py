"""What one browser has changed of a run: its edits, those it can go back to, and kept variants."""

from __future__ import annotations

from dataclasses import dataclass, replace

from viewer.web.edits import Edits

_MOST_STEPS = 200
MOST_VARIANTS = 8
"""Variants of one run: more have no room side by side."""


@dataclass(frozen=True, slots=True)
class Variant:
    """Edits kept under a name."""

    id: str
    name: str
    edits: Edits


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The ``steps`` of a browser, each all edits at once, and ``at`` which of them it stands.

    ``gesture`` is the movement of a hand that the last step is of, empty where it is of none.
    """

    steps: tuple[Edits, ...] = ({},)
    at: int = 0
    variants: tuple[Variant, ...] = ()
    kept: int = 0
    gesture: str = ""

    @property
    def edits(self) -> Edits:
        """What differs from the file now."""
        return self.steps[self.at]

    @property
    def can_undo(self) -> bool:
        """Whether there is a step before."""
        return self.at > 0

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back."""
        return self.at + 1 < len(self.steps)

    def stepped(self, edits: Edits, gesture: str = "") -> WhatIf:
        """With other edits; steps that were taken back are gone, and the same edits are no step.

        All edits of one ``gesture`` are one step.
        """
        if edits == self.edits:
            return self
        going_on = bool(gesture) and gesture == self.gesture
        steps = (*self.steps[: self.at + (not going_on)], edits)[-_MOST_STEPS:]
        return replace(self, steps=steps, at=len(steps) - 1, gesture=gesture)

    def undone(self) -> WhatIf:
        """One step back, where there is one."""
        return replace(self, at=max(self.at - 1, 0), gesture="")

    def redone(self) -> WhatIf:
        """One step on, where there is one."""
        return replace(self, at=min(self.at + 1, len(self.steps) - 1), gesture="")

    def kept_as(self, name: str) -> WhatIf:
        """With the edits kept as a variant; the oldest goes where there are too many."""
        number = self.kept + 1
        variant = Variant(str(number), name or f"Variant {number}", self.edits)
        return replace(self, variants=(*self.variants, variant)[-MOST_VARIANTS:], kept=number)

    def dropped(self, variant: str) -> WhatIf:
        """Without a variant."""
        return replace(self, variants=tuple(v for v in self.variants if v.id != variant))

    def variant(self, variant: str) -> Variant | None:
        """The variant of that id."""
        return next((v for v in self.variants if v.id == variant), None)
