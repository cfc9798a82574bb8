"""A virtual screen for window tests, started and ended with them."""

from __future__ import annotations

import contextlib
import os
import subprocess
import time
from collections.abc import Callable, Iterator

import pytest

_WAIT = 60.0  # seconds for anything to happen on a busy machine with no graphics card


def until(found: Callable[[], object], what: str) -> object:
    end = time.monotonic() + _WAIT
    while time.monotonic() < end:
        if value := found():
            return value
        time.sleep(0.05)
    raise AssertionError(f"not within {_WAIT:g} s: {what}")


@contextlib.contextmanager
def virtual_screen() -> Iterator[str]:
    """The name of a display that answers; the test fails where none starts."""
    # Each process has a number of its own: two servers that look for a free one at the same moment
    # may both take the same, and the screen of one then goes with the other.
    first = 70 + os.getpid() % 900
    for number in range(first, first + 3):
        server, name = _server(number)
        if _is_up(server, name):
            break
        server.kill()
        server.wait(10)
    else:
        pytest.fail("Xvfb did not start")
    yield name
    server.terminate()
    server.wait(10)


def _server(number: int) -> tuple[subprocess.Popen[bytes], str]:
    """A virtual screen on a display, and the name of that; it ends at once where one is there.

    Without -noreset it starts afresh whenever its last client leaves, as each xdotool does, and
    takes no window in that moment.
    """
    server = subprocess.Popen(
        ["Xvfb", f":{number}", "-screen", "0", "1400x900x24", "-nolisten", "tcp", "-noreset"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return server, f":{number}"


def _is_up(server: subprocess.Popen[bytes], display: str) -> bool:
    """Whether a screen answers, and is this server's: where another is there it ends at once."""
    with contextlib.suppress(AssertionError):
        until(lambda: server.poll() is not None or _answers(display), "an answer")
    return server.poll() is None and _answers(display)


def _answers(display: str) -> bool:
    """Whether a display is there and still is a moment later."""
    for pause in (0.0, 0.5):
        time.sleep(pause)
        done = subprocess.run(
            ["xdotool", "getdisplaygeometry"],
            env={**os.environ, "DISPLAY": display},
            capture_output=True,
        )
        if done.returncode:
            return False
    return True
