"""A running ``route3d serve`` and what speaks to it without a browser."""

from __future__ import annotations

import asyncio
import json
import os
import re
import secrets
import signal
import subprocess
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import Any

import aiohttp
import pytest

MODELS = Path(__file__).parents[3] / "models"
WAIT = 30.0
QUIET = 0.4  # s in which something pushed to all would have come


@dataclass
class Served:
    """A served model: its process, and the links of engineer and crew."""

    process: subprocess.Popen[str]
    url: str
    crew: str
    model: Path

    @property
    def port(self) -> int:
        match = re.search(r":(\d+)/", self.url)
        assert match, self.url
        return int(match[1])

    def interrupt(self, how: int = signal.SIGINT) -> int:
        self.process.send_signal(how)
        return self.process.wait(15)


@contextmanager
def serving(
    model: Path, *options: str, folder: Path | None = None, new: bool = False
) -> Iterator[Served]:
    """Serve a model in a process of its own, as a person does; ``new`` without naming it."""
    named = [] if new else [str(model)]
    command = [sys.executable, "-m", "route3d", "serve", *named, "--no-browser", *options]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env,
        cwd=folder,
    )
    late = Timer(60, process.kill)
    late.start()
    try:
        assert process.stdout and process.stderr
        lines = process.stdout.readline() + process.stdout.readline()
        links = re.findall(r"http://\S+", lines)
        if len(links) != 2:
            process.wait(10)
            pytest.fail(f"not served: {lines}{process.stderr.read()}")
        late.cancel()
        yield Served(process, links[0], links[1], model)
    finally:
        late.cancel()
        if process.poll() is None:
            process.kill()
        process.communicate()


class Client:
    """One websocket, what it was sent, and the data its page would show."""

    def __init__(self, link: aiohttp.ClientWebSocketResponse) -> None:
        self.link, self.client, self.seq = link, secrets.token_hex(16), 0
        self.heard: list[dict[str, Any]] = []
        self.data: dict[str, Any] = {}

    async def send(self, kind: str, **values: Any) -> int:
        """Send a message with the next number, where it takes one."""
        self.seq += 1
        numbered = {} if kind in ("hello", "open", "ping") else {"seq": self.seq}
        await self.raw(json.dumps({"type": kind, **numbered, **values}))
        return self.seq

    async def raw(self, text: str) -> None:
        await self.link.send_str(text)

    async def next(self) -> dict[str, Any]:
        message = await self.link.receive(timeout=WAIT)
        assert message.type is aiohttp.WSMsgType.TEXT, message
        found: dict[str, Any] = json.loads(message.data)
        self.heard.append(found)
        if found["type"] == "page":
            self.data = found["data"]
        if found["type"] == "run":
            merge(self.data["runs"][found["run"]], json.loads(message.data)["data"])
        return found

    async def until(self, kind: str, **values: Any) -> dict[str, Any]:
        """The next message of a type with these values; others are kept in ``heard``."""
        while True:
            found = await self.next()
            if found["type"] == kind and values.items() <= found.items():
                return found

    async def quiet(self) -> list[dict[str, Any]]:
        """What comes until nothing comes any more."""
        count = len(self.heard)
        while True:
            try:
                await asyncio.wait_for(self.next(), QUIET)
            except TimeoutError:
                return self.heard[count:]

    async def hello(self, **values: Any) -> None:
        """Say hello, and wait until all of the run has come, and an engineer's own state."""
        await self.send("hello", client=self.client, **values)
        await self.settled()
        if self.data["role"] == "engineer" and not any(m["type"] == "state" for m in self.heard):
            await self.until("state")

    async def settled(self, number: int = 0) -> dict[str, Any]:
        """The run once its plans and bends have come."""
        while True:
            await self.next()
            run = self.data["runs"][number] if self.data else {}
            both = run.get("directions", [])
            known = "glb" in run and not any(d.get("pending", True) for d in both)
            rows = [d["words"].get(u, {}).get("bends", "…") for d in both for u in ("US", "SI")]
            if known and "…" not in str(rows):
                return dict(run)

    async def edit(self, key: str, text: str, units: str = "US", run: int = 0) -> int:
        return await self.send("edit", run=run, key=key, text=text, units=units)


def merge(into: Any, data: dict[str, Any]) -> None:
    """Take a part of a run up into what is known of it, as the page does."""
    for key, value in data.items():
        if key == "directions" and isinstance(into.get(key), list):
            for one, other in zip(into[key], value, strict=True):
                merge(one, other)
        elif isinstance(value, dict) and isinstance(into.get(key), dict):
            merge(into[key], value)
        else:
            into[key] = value


@asynccontextmanager
async def connected(url: str) -> AsyncIterator[Client]:
    """A client that came by a link, as a page does: the token once, then the cookie."""
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(cookie_jar=jar) as session:
        async with session.get(url) as page:
            assert page.status == 200
        folder = url.partition("?")[0]
        async with session.ws_connect(f"{folder}ws", max_msg_size=0) as link:
            yield Client(link)


def play(served: Served, story: Callable[..., Awaitable[None]], *urls: str) -> None:
    """Let one client for each link be connected at once; two engineers where none are named."""

    async def run() -> None:
        links = urls or (served.url, served.url)
        async with connected(links[0]) as first:
            if len(links) == 1:
                await story(first)
                return
            async with connected(links[1]) as second:
                await story(first, second)

    asyncio.run(asyncio.wait_for(run(), 90))


MORE = """
[machine.winch]
gears    = [{ line_pull = 1500, speed = 40 }]
envelope = [3, 2, 3]

[machine."capstan on the apron"]
gears    = [{ line_pull = 900, speed = 60 }, { line_pull = 6000, speed = 12 }]
envelope = [4, 3, 4]

"""


def three_runs() -> str:
    """Three runs and three machines: F1 and F2 pass, F3 is far too long and names no machine."""
    text = (MODELS / "riser_duct_bank.toml").read_text()
    start, end = text.index("[[run]]"), text.index("[[bank]]")
    run = text[start:end]
    second = (
        run.replace('"F1"', '"F2"')
        .replace("[180, 95", "[180, 120")
        .replace("[195, 95", "[195, 120")
    )
    third = run.replace('"F1"', '"F3"').replace("at = [0, 0, -5]", "at = [-8000, 0, -5]")
    third = "".join(t for t in third.splitlines(True) if not t.startswith("machine "))
    return "\n".join((text[:start] + MORE + text[start:], second, third))
