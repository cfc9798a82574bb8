"""Work in a thread beside the server."""

from __future__ import annotations

import asyncio
import time
from threading import Event

import pytest

from viewer.web.aside import aside


def test_it_returns_what_the_work_returns_and_raises_what_it_raises() -> None:
    async def both() -> int:
        with pytest.raises(ZeroDivisionError):
            await aside(divmod, 1, 0)
        return await aside(pow, 2, exp=10)

    assert asyncio.run(both()) == 1024


def test_the_server_goes_on_meanwhile_and_ends_without_waiting() -> None:
    hold = Event()

    async def leave() -> int:
        task = asyncio.create_task(aside(hold.wait, 30))
        turns = 0
        while turns < 5:
            await asyncio.sleep(0.01)
            turns += 1
        task.cancel()
        return turns

    start = time.perf_counter()
    assert asyncio.run(leave()) == 5
    assert time.perf_counter() - start < 10  # not the half minute of the work
    hold.set()
