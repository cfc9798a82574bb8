"""Long work beside the server: in a thread that does not keep the program from ending."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from threading import Thread
from typing import ParamSpec, TypeVar

from route3d.cli.common import WORK_ASIDE

Given = ParamSpec("Given")
Found = TypeVar("Found")


async def aside(work: Callable[Given, Found], *args: Given.args, **more: Given.kwargs) -> Found:
    """What ``work`` returns or raises, calculated in a thread of its own.

    ``asyncio.to_thread`` would do, but at its end asyncio waits for every thread: an interrupt
    while a very long run is calculated would take as long as that.
    """
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[Found] = loop.create_future()

    def settle(found: Found | None, error: BaseException | None) -> None:
        if answer.done():  # it is no longer needed
            return
        if error is not None:
            answer.set_exception(error)
        else:
            answer.set_result(found)  # type: ignore[arg-type]

    def run() -> None:
        try:
            outcome: tuple[Found | None, BaseException | None] = work(*args, **more), None
        except BaseException as error:
            outcome = None, error
        with suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(settle, *outcome)

    Thread(target=run, name=WORK_ASIDE, daemon=True).start()
    return await answer
