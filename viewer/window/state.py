"""What the window shows, and what each key changes: plain records, no window in here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from viewer.scene.records import COLOR_BY, Coloring

WindowView = Literal["isometric", "plan", "side", "profile"]
Layer = Literal["labels", "arrows", "bank", "grade", "context"]
LAYER_OF: dict[str, Layer] = {
    "arrow": "arrows",
    "bank": "bank",
    "bank edges": "bank",
    "grade": "grade",
    "grid": "grade",
    "context": "context",
    "context edges": "context",
    "room edges": "context",
}
"""The layer of each part of a picture that can be put away."""

_Choice = TypeVar("_Choice")

# One step of an arrow key is a fiftieth of the pull.
_STEP = 0.02


@dataclass(frozen=True, slots=True)
class WindowState:
    """All that a key can change.

    ``run`` is the number of the run and ``feed`` the vertex number of its feed end,
    ``exaggeration`` None for the automatic one. ``pulled`` is the share of the run the cable head
    has come, None for the picture of the whole cable; ``picked`` a station in m, None where nothing
    is picked. ``turn`` counts how often the camera was asked to look afresh.
    """

    feed: int
    units: str
    color_by: Coloring = "tension"
    theme: str = "light"
    view: WindowView = "isometric"
    exaggeration: float | None = None
    hidden: frozenset[Layer] = frozenset()
    pulled: float | None = None
    playing: bool = False
    picked: float | None = None
    help: bool = True
    turn: int = 0
    run: int = 0


KEYS: tuple[tuple[str, str], ...] = (
    ("drag, wheel", "orbit, zoom"),
    ("click", "read values"),
    ("1 2 3 4", "isometric, plan, side, profile"),
    ("F", "feed the other end"),
    ("C", "color by the next quantity"),
    ("U", "US or SI units"),
    ("D", "light or dark"),
    ("E", "true or enlarged size"),
    ("space", "play the pull, pause"),
    ("← →", "move the cable head"),
    ("T", "show the whole cable"),
    ("L A B G X", "labels, arrows, bank, grade, context"),
    ("S", "save a picture"),
    ("H", "hide these keys"),
    ("Q", "quit"),
)
KEY_OF_RUNS = ("N", "next run of the file")
_VIEWS: dict[str, WindowView] = {"1": "isometric", "2": "plan", "3": "side", "4": "profile"}
_LAYER_KEYS: dict[str, Layer] = {
    "l": "labels",
    "a": "arrows",
    "b": "bank",
    "g": "grade",
    "x": "context",
}


def pressed(state: WindowState, key: str, other: int) -> WindowState:
    """The state after a key, by its X name; ``other`` is the vertex of the end that does not feed.

    A key that means nothing changes nothing.
    """
    key = key.lower().removeprefix("kp_")
    if key in _VIEWS:
        return replace(state, view=_VIEWS[key], turn=state.turn + 1)
    if key in _LAYER_KEYS:
        return replace(state, hidden=state.hidden ^ {_LAYER_KEYS[key]})
    if key in ("left", "right"):
        return moved(state, _STEP if key == "right" else -_STEP)
    if key == "space":
        return _played(state)
    return _set(state, key, other)


def _set(state: WindowState, key: str, other: int) -> WindowState:
    if key == "f":
        begin = None if state.pulled is None else 0.0
        return replace(state, feed=other, pulled=begin, playing=False, turn=state.turn + 1)
    if key == "c":
        return replace(state, color_by=_next(state.color_by, COLOR_BY))
    if key == "u":
        return replace(state, units=_next(state.units, ("US", "SI")))
    if key == "d":
        return replace(state, theme=_next(state.theme, ("light", "dark")))
    if key == "e":
        factor = 1.0 if state.exaggeration is None else None
        return replace(state, exaggeration=factor, turn=state.turn + 1)
    if key == "t":
        return replace(state, pulled=None, playing=False)
    if key == "h":
        return replace(state, help=not state.help, turn=state.turn + 1)
    return replace(state, picked=None) if key == "escape" else state


def next_run(state: WindowState, feeds: Sequence[int]) -> WindowState:
    """The run after this one, or the first; ``feeds`` are the ends to feed each of them from."""
    run = (state.run + 1) % len(feeds)
    return replace(
        state,
        run=run,
        feed=feeds[run],
        pulled=None,
        playing=False,
        picked=None,
        turn=state.turn + 1,
    )


def _next(now: _Choice, choices: tuple[_Choice, ...]) -> _Choice:
    return choices[(choices.index(now) + 1) % len(choices)]


def moved(state: WindowState, share: float) -> WindowState:
    """The head ``share`` of the run farther on, or back; from the feed where there was none."""
    start = 0.0 if state.pulled is None else state.pulled
    return replace(state, pulled=min(1.0, max(0.0, start + share)), playing=False)


def _played(state: WindowState) -> WindowState:
    """Play from here, from the start at the end of the run; or pause."""
    if state.playing:
        return replace(state, playing=False)
    begin = 0.0 if state.pulled in (None, 1.0) else state.pulled
    return replace(state, pulled=begin, playing=True)
