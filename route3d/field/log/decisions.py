"""The decisions of a reading as they are made: rows of one decision drawn together."""

from __future__ import annotations

from dataclasses import dataclass, field

from route3d.field.readings import Decision

# A stream may run for days: so many stretches, and so many decisions of one rule, are kept each.
MOST_STRETCHES = 500
MOST_OF_A_RULE = 100


@dataclass(slots=True)
class _Rows:
    """The rows of one decision so far."""

    stretches: list[list[int]] = field(default_factory=list)
    count: int = 0


class Decisions:
    """What was done so far; memory does not grow with the rows."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], _Rows] = {}
        self._kinds: dict[str, int] = {}

    def note(self, rule: str, words: str, first: int = 0, last: int = 0, count: int = 1) -> None:
        """Rows ``first`` to ``last`` of the file come under this decision; 0 for the whole file."""
        key = (rule, words)
        if key not in self._found:
            self._kinds[rule] = self._kinds.get(rule, 0) + 1
            if self._kinds[rule] > MOST_OF_A_RULE:
                key = (rule, f"More rows of the kind: {rule}.")
        rows = self._found.setdefault(key, _Rows())
        rows.count += count
        if first:
            last = last or first
            if rows.stretches and rows.stretches[-1][1] + 1 >= first >= rows.stretches[-1][0]:
                rows.stretches[-1][1] = max(last, rows.stretches[-1][1])
            elif len(rows.stretches) < MOST_STRETCHES:
                rows.stretches.append([first, last])
            else:  # the last stretch then stands for all that come
                rows.stretches[-1][1] = max(last, rows.stretches[-1][1])

    def listed(self) -> tuple[Decision, ...]:
        """All of them in the order they were first made."""
        return tuple(
            Decision(rule, words, _merged(rows.stretches), rows.count)
            for (rule, words), rows in self._found.items()
        )


def _merged(stretches: list[list[int]]) -> tuple[tuple[int, int], ...]:
    """Stretches in order, those that meet drawn together."""
    merged: list[list[int]] = []
    for first, last in sorted(stretches):
        if merged and first <= merged[-1][1] + 1:
            merged[-1][1] = max(merged[-1][1], last)
        else:
            merged.append([first, last])
    return tuple((first, last) for first, last in merged)
