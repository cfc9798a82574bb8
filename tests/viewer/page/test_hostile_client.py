"""A client that speaks the page's own protocol, and means harm.

The attacks are those a browser's console, or twenty lines of script, can make over the websocket.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Awaitable, Callable
from typing import Any

import aiohttp
import msgpack  # type: ignore[import-untyped]
import pytest
from wslink.chunking import UnChunker, generate_chunks

from tests.viewer.page.conftest import Served
from viewer.page.calls import CALLS, LONGEST, allowed

SCRIPT = "<img src=x onerror=\"document.title='owned'\">"
SLEEP = 0.4  # s in which a push to all clients would have come


class Client:
    """One websocket that has said hello with the secret every page holds."""

    def __init__(self, link: aiohttp.ClientWebSocketResponse) -> None:
        self.link, self.chunks, self.number = link, UnChunker(), 0
        self.chunks.set_max_message_size(2**28)
        self.pushed: list[dict[str, Any]] = []

    async def send(self, method: str, *args: object, **kwargs: object) -> dict[str, Any]:
        """Call a method and give its whole answer; what is pushed meanwhile is kept."""
        self.number += 1
        rpcid = "system:c0:1" if method == "wslink.hello" else f"rpc:c0:{self.number}"
        message = {"wslink": "1.0", "id": rpcid, "method": method}
        packed = msgpack.packb({**message, "args": list(args), "kwargs": kwargs})
        for chunk in generate_chunks(packed, 0):
            await self.link.send_bytes(chunk)
        return await self.until(rpcid)

    async def until(self, rpcid: str) -> dict[str, Any]:
        while True:
            answer = await self.link.receive(timeout=20)
            assert answer.type is aiohttp.WSMsgType.BINARY, answer
            whole: Any = self.chunks.process_chunk(answer.data)
            if whole is not None and whole["id"] == rpcid:
                return dict(whole)
            if whole is not None and whole["id"].startswith("publish:trame.state.topic"):
                self.pushed.append(whole["result"])

    async def listen(self) -> None:
        """Keep what is pushed until nothing comes any more."""
        with pytest.raises(asyncio.TimeoutError):
            await asyncio.wait_for(self.until("none"), SLEEP)

    async def state(self) -> dict[str, Any]:
        found: dict[str, Any] = (await self.send("trame.state.get"))["result"]["state"]
        return found

    async def settled(self) -> dict[str, Any]:
        """The state once the plan has come, which is the last to come."""
        for _ in range(200):
            state = await self.state()
            if state.get("run0_film") and state.get("run0_crew"):
                await self.listen()
                return await self.state()
            await asyncio.sleep(0.1)
        raise AssertionError("no plan came")


def play(served: Served, attack: Callable[[Client, Client], Awaitable[None]]) -> None:
    """Let an attacker and somebody who only looks on be connected at once."""

    async def run() -> None:
        address = f"http://127.0.0.1:{served.port}/ws"
        async with (
            aiohttp.ClientSession() as session,
            session.ws_connect(address, max_msg_size=0) as one,
            session.ws_connect(address, max_msg_size=0) as two,
        ):
            bad, good = Client(one), Client(two)
            for client in (bad, good):
                hello = await client.send("wslink.hello", {"secret": "wslink-secret"})
                assert "result" in hello
            await attack(bad, good)

    asyncio.run(run())


def _forged(value: object) -> object:
    """Every text and number in a value replaced by those of the attacker."""
    if isinstance(value, dict):
        return {k: _forged(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_forged(v) for v in value]
    return SCRIPT if isinstance(value, str) else 9500 if isinstance(value, (int, float)) else value


def test_no_name_of_the_state_can_be_written(riser: Served) -> None:
    """Another stop on the foreman's page, a script in a chart, another template, a new name."""

    async def attack(bad: Client, good: Client) -> None:
        before = await good.settled()
        good.pushed.clear()
        names = ["run0_crew", "run0_charts", "run0_crew_chart", "trame__template_main"]
        assert set(names) <= set(before)
        forged = {k: _forged(before[k]) for k in before}
        forged |= {"run0_charts": SCRIPT, "trame__template_main": SCRIPT, "brought_along": SCRIPT}
        changes = [{"key": k, "value": v} for k, v in forged.items()]
        assert "error" not in await bad.send("trame.state.update", changes)
        await good.listen()
        assert good.pushed == []
        assert await good.state() == before

    play(riser, attack)


def test_who_writes_a_shared_name_gets_the_true_value_back(riser: Served) -> None:
    async def attack(bad: Client, good: Client) -> None:
        before = await good.settled()
        await bad.listen()
        bad.pushed.clear()
        await bad.send("trame.state.update", [{"key": "run0_crew", "value": SCRIPT}])
        await bad.send("trame.state.update", [{"key": "units", "value": "SI"}])  # its own affair
        await bad.listen()
        assert bad.pushed == [{"run0_crew": before["run0_crew"]}]

    play(riser, attack)


@pytest.mark.parametrize(
    ("method", "args"),
    [
        ("application.exit", ()),
        ("application.exit.later", (0,)),
        ("trame.force.push", ("brought_along",)),
        ("trame.lifecycle.update", ("server_exited",)),
        ("trame.lifecycle.update", (["client_exited"],)),
        ("trame.state.update", ()),
        ("trame.state.update", ("text",)),
        ("trame.state.update", ([1, {}, {"key": ["a"]}, {"key": None, "value": 1}],)),
        ("trame.trigger", ()),
        ("trame.trigger", (["edit"], [], {})),
        ("trame.trigger", ("edit", [], {})),
        ("trame.trigger", ("edit", [0, "reel", "9" * 5000, "US"], {})),
        ("trame.trigger", ("edit", [0, "feed", "9" * 150, "US"], {})),
        ("trame.trigger", ("edit", [0, "reel", "nan", "US"], {})),
        ("trame.trigger", ("edit", [0, "reel", SCRIPT, "US"], {})),
        ("trame.trigger", ("edit", [0, f"friction:{SCRIPT}", "0.2", "US"], {})),
        ("trame.trigger", ("edit", [10**6, "reel", "1", "US"], {})),
        ("trame.trigger", ("read", [0, float("nan"), "US"], {})),
        ("trame.trigger", ("read", [0, "1", "US"], {})),
        ("trame.trigger", ("open", [-1], {})),
        ("trame.trigger", ("unroll", [0, "US", SCRIPT], {})),
        ("trame.trigger", ("reset", [0], {"run": 0})),
    ],
)
def test_no_other_call_changes_or_ends_anything(
    riser: Served, method: str, args: tuple[object, ...]
) -> None:
    async def attack(bad: Client, good: Client) -> None:
        before = await good.settled()
        good.pushed.clear()
        answer = await bad.send(method, *args)
        assert "Traceback" not in str(answer)
        await good.listen()
        assert good.pushed == []
        assert await good.state() == before

    play(riser, attack)
    assert riser.process.poll() is None


def test_what_the_page_calls_is_allowed() -> None:
    good: dict[str, list[object]] = {
        "edit": [0, "reel", "1200 lbf", "US"],
        "reset": [0],
        "read": [1, 12.5, "SI"],
        "unroll": [0, "US", True],
        "open": [2],
    }
    assert good.keys() == CALLS.keys()
    for name, args in good.items():
        assert allowed(name, args) and allowed(name, args, {})
        assert not allowed(name, [*args, 1]) and not allowed(name, args[:-1])
        assert not allowed(name, [True, *args[1:]])
    assert allowed("edit", [0, "reel", "1" * LONGEST, "US"])
    assert not allowed("edit", [0, "reel", "1" * (LONGEST + 1), "US"])


# --- malformed requests ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headers", "statuses"),
    [
        ({"Host": "[::1"}, (400, 403)),
        ({"Host": "127.0.0.1:port"}, (400, 403)),
        ({"Host": "127.0.0.1:99999999"}, (400, 403)),
        ({"Host": "[]"}, (400, 403)),
        ({"Host": ""}, (400, 403)),
        ({"Host": "a b\\c@127.0.0.1"}, (400, 403)),
        ({"Host": "user@127.0.0.1"}, (400, 403)),
        ({"Host": "127.0.0.1\xff"}, (400, 403)),
        ({"Host": "[v1.x]"}, (400, 403)),
        ({"Origin": "http://[::1"}, (400, 403)),
        ({"Origin": "http://[elsewhere"}, (400, 403)),
        ({"Origin": "null"}, (400, 403)),
        ({"Origin": "\xff\xfe"}, (400, 403)),
        ({"Origin": ""}, (400, 403)),
        ({"Cookie": "route3d_token=\xff\xfe"}, (200,)),  # nothing is asked here
        ({"Cookie": "=;;=\x7f;\xff=\xff"}, (200, 400)),
    ],
)
def test_malformed_headers_are_refused_and_nothing_fails(
    riser: Served, headers: dict[str, str], statuses: tuple[int, ...]
) -> None:
    assert _status(riser.port, headers) in statuses


def _status(port: int, headers: dict[str, str], path: str = "/index.html") -> int:
    sent = {"Host": f"127.0.0.1:{port}", "Connection": "close", **headers}
    lines = [f"GET {path} HTTP/1.1", *(f"{k}: {v}" for k, v in sent.items())]
    with socket.create_connection(("127.0.0.1", port), timeout=5) as link:
        link.sendall(("\r\n".join(lines) + "\r\n\r\n").encode("latin-1"))
        return int(link.recv(4096).split(b" ")[1])


@pytest.mark.parametrize("path", ["/%00", "/%ff", "//", "/?token=%ff", "/ws", "/assets/%00"])
def test_malformed_paths_do_not_fail(riser: Served, path: str) -> None:
    assert _status(riser.port, {}, path) < 500


def test_a_malformed_token_is_a_wrong_one() -> None:
    from viewer.page.guard import _same

    for given in ("\udcff", "\ud800", "ü", ""):
        assert not _same(given, "crew-4711-blue")
    assert _same("crew-4711-blue", "crew-4711-blue")
