"""What ``route3d view`` was asked for, and what of it does not go together."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from route3d.errors import InputError, Problem

_SMALLEST, _LARGEST = (360, 300), 4000
# Below these a film has no room for its chart, and charts cannot be read.
_SMALLEST_OF = {"--movie": ("a film", (640, 400)), "--svg": ("a sheet of charts", (600, 700))}
_SHORTEST, _LONGEST = 1.0, 120.0


class PictureView(StrEnum):
    """From where to look."""

    isometric = "isometric"
    plan = "plan"
    side = "side"
    profile = "profile"


class ColorBy(StrEnum):
    """What the colors of the conduit say."""

    tension = "tension"
    sidewall = "sidewall"
    utilization = "utilization"
    conduit = "conduit"


class Shade(StrEnum):
    """Light for paper and daylight, dark for a dim room."""

    light = "light"
    dark = "dark"


@dataclass(frozen=True, slots=True)
class Request:
    """The options as given; None where one was omitted."""

    feed: str | None
    color_by: ColorBy | None
    view: PictureView | None
    theme: Shade | None
    size: str | None
    exaggerate: str | None
    seconds: float | None

    def options(self, units: str, *names: str) -> dict[str, Any]:
        """Those of ``names`` that were given, as keyword arguments of a writer or of a window."""
        found = {
            "units": units,
            "feed": None if self.feed == "best" else self.feed,
            "color_by": self.color_by and self.color_by.name,
            "view": self.view,
            "theme": self.theme,
            "size": pixels(self.size),
            "exaggeration": factor(self.exaggerate),
            "seconds": self.seconds,
        }
        plain = {k: v.value if isinstance(v, StrEnum) else v for k, v in found.items()}
        return {k: v for k, v in plain.items() if k in ("units", *names) and v is not None}


# Which outputs an option acts on; no output at all is the window.
_ACTS_ON = {
    "--feed": ("--png", "--svg", "--movie", "window"),
    "--color-by": ("--png", "window"),
    "--view": ("--png", "--movie", "window"),
    "--theme": ("--png", "--svg", "--movie", "--html", "window"),
    "--size": ("--png", "--svg", "--movie", "window"),
    "--exaggerate": ("--png", "--movie", "window"),
    "--seconds": ("--movie",),
}


def refuse_idle(asked: Request, wanted: tuple[str, ...]) -> None:
    """InputError for every option that acts on nothing that was asked for."""
    given = {f"--{n.replace('_', '-')}": getattr(asked, n) for n in Request.__slots__}
    given["--color-by"] = asked.color_by
    outputs = wanted or ("window",)
    problems = []
    for option, acts_on in _ACTS_ON.items():
        if given[option] is not None and not set(acts_on) & set(outputs):
            names = " or ".join(n for n in acts_on if n != "window")
            said = f"{option} has no effect on " + (" and ".join(wanted) or "a window")
            problems.append(Problem(said, option, f"leave it out, or write a {names} file"))
    if asked.view == PictureView.profile and "--movie" in wanted:
        fix = "choose isometric, plan or side"
        problems.append(Problem("a film cannot show the unrolled profile", "--view", fix))
    if asked.seconds is not None and not _SHORTEST <= asked.seconds <= _LONGEST:
        fix = f"give {_SHORTEST:g} to {_LONGEST:g} seconds"
        problems.append(Problem(f"{asked.seconds:g} is no length for a film", "--seconds", fix))
    if problems:
        raise InputError(problems)
    size = pixels(asked.size)
    factor(asked.exaggerate)
    for option, (what, least) in _SMALLEST_OF.items():
        if size and option in wanted and any(s < m for s, m in zip(size, least, strict=True)):
            said = f"{what} of {size[0]}x{size[1]} pixels has no room for what it shows"
            raise InputError(Problem(said, "--size", f"use at least {least[0]}x{least[1]}"))


def pixels(text: str | None) -> tuple[int, int] | None:
    """Width and height of ``1600x1000``."""
    if text is None:
        return None
    match = re.fullmatch(r"(\d{1,5})[x×X](\d{1,5})", text.strip())
    found = (int(match[1]), int(match[2])) if match else (0, 0)
    if not all(low <= p <= _LARGEST for p, low in zip(found, _SMALLEST, strict=True)):
        least = "x".join(map(str, _SMALLEST))
        said = f"{text!r} is not a size from {least} to {_LARGEST}x{_LARGEST} pixels"
        raise InputError(Problem(said, where="--size", fix="enter it as 1600x1000"))
    return found


def factor(text: str | None) -> float | None:
    """The exaggeration, None for the automatic one."""
    if text is None or text.strip().lower() == "auto":
        return None
    try:
        times = float(text)
    except ValueError:
        times = 0.0
    if not 1 <= times <= 1e4:
        said = f"{text!r} must be between 1 and 10,000"
        raise InputError(Problem(said, "--exaggerate", "give 1 for true size, or auto"))
    return times
