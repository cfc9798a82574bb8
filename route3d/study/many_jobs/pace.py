"""How fast many jobs go, and how long the rest takes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Pace:
    """``done`` of ``whole`` files after ``seconds``; ``kept`` of them were done before.

    ``failed`` counts the files with errors.
    """

    whole: int
    kept: int
    done: int
    failed: int
    seconds: float

    @property
    def rate(self) -> float:
        """Files a second, 0 before the first."""
        return (self.done - self.kept) / self.seconds if self.seconds > 0 else 0.0

    @property
    def left(self) -> float | None:
        """Seconds that the rest takes at this rate; None before the first file is done."""
        return (self.whole - self.done) / self.rate if self.rate > 0 else None

    def __str__(self) -> str:
        words = [f"{self.done:,} of {self.whole:,} files"]
        if self.rate > 0:
            words.append(
                f"{self.rate:,.0f} a second" if self.rate >= 10 else f"{self.rate:.1f} a second"
            )
        if self.left is not None:
            words.append(f"{clock(self.left)} left")
        if self.failed:
            words.append(f"{self.failed:,} with errors")
        return ", ".join(words)


def clock(seconds: float) -> str:
    """A time as people say it.

    >>> clock(4.4), clock(61), clock(7325)
    ('4 s', '1 min 1 s', '2 h 2 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"
