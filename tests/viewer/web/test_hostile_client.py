"""A client that wishes ill: it can end nothing, change no page but its own, and run no script."""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import aiohttp
import pytest

from tests.viewer.web.served import MODELS, QUIET, Client, Served, connected, play, serving
from viewer.web.messages import LARGEST

SCRIPT = "<img src=x onerror=\"document.title='owned'\">"


@pytest.fixture(scope="module")
def riser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo job, served from a copy."""
    model = tmp_path_factory.mktemp("page") / "riser.toml"
    model.write_bytes((MODELS / "riser_duct_bank.toml").read_bytes())
    with serving(model) as served:
        yield served


def token(url: str) -> str:
    return urlsplit(url).query.removeprefix("token=")


# --- messages ----------------------------------------------------------------------------------


def test_nothing_a_client_says_reaches_the_page_of_another(riser: Served) -> None:
    """Forged answers, scripts in every text, other people's runs, ends of the program."""
    texts = [
        json.dumps({"type": "run", "run": 0, "part": "answer", "data": {"name": SCRIPT}}),
        json.dumps({"type": "page", "data": {"title": SCRIPT}}),
        json.dumps({"type": "state", "run": 0, "shared": [{"id": "1", "name": SCRIPT}]}),
        json.dumps({"type": "exit"}),
        json.dumps({"type": "edit", "seq": 1, "run": 0, "key": SCRIPT, "text": "1", "units": "US"}),
        json.dumps(
            {"type": "edit", "seq": 2, "run": 0, "key": "reel", "text": SCRIPT, "units": "US"}
        ),
        json.dumps(
            {"type": "edit", "seq": 3, "run": 0, "key": "machine", "text": SCRIPT, "units": "US"}
        ),
        json.dumps(
            {"type": "edit", "seq": 4, "run": 0, "key": "reel", "text": "9" * 190, "units": "US"}
        ),
        json.dumps(
            {"type": "edit", "seq": 4, "run": 0, "key": "reel", "text": "nan", "units": "US"}
        ),
        json.dumps({"type": "edit", "seq": 5, "run": 7, "key": "reel", "text": "1", "units": "US"}),
        json.dumps({"type": "take", "seq": 6, "run": 0, "id": "1"}),
        json.dumps({"type": "save", "seq": 7, "run": 0, "name": f"../{SCRIPT}.toml"}),
        json.dumps({"type": "save", "seq": 8, "run": 0, "name": "riser.toml"}),
        json.dumps({"type": "open", "run": -1}),
        json.dumps({"__proto__": {"type": "hello"}, "constructor": SCRIPT}),
        "null",
        "[]",
        "{",
        "\x00",
        "[" * 30_000,
    ]

    async def story(bad: Client, good: Client) -> None:
        await good.hello()
        await bad.hello()
        await good.quiet()
        before, heard = json.dumps(good.data), len(good.heard)
        for text in texts:
            await bad.raw(text)
            refusal = await bad.until("refused")
            assert len(refusal["reason"]) < 1000
            assert "Traceback" not in refusal["reason"]
        assert await good.quiet() == []
        assert json.dumps(good.data) == before and len(good.heard) == heard
        seq = await bad.edit("reel", "150")  # and the connection lives on
        await bad.until("run", part="answer", seq=seq)
        assert await good.quiet() == []

    model = riser.model.read_bytes()
    play(riser, story)
    assert riser.process.poll() is None
    assert riser.model.read_bytes() == model
    assert [p.name for p in riser.model.parent.iterdir()] == ["riser.toml"]


def test_names_given_by_a_client_come_to_nobody_else(riser: Served) -> None:
    """A variant is its own; what is shared comes as values, in the words of the server."""

    async def story(bad: Client, good: Client) -> None:
        await good.hello()
        await bad.hello()
        await bad.send("variant", run=0, action="keep", name=SCRIPT)
        assert (await bad.until("state"))["variants"][0]["name"] == SCRIPT  # text, to itself alone
        await bad.edit("reel", "160 lbf")
        await bad.send("share", run=0)
        offer = await good.until("state")
        assert SCRIPT not in json.dumps(offer) and offer["shared"]
        assert offer["shared"][0]["edits"]["US"] == ["Reel tension: auto → 160 lbf"]
        await bad.send("reset", run=0)
        await bad.send("share", run=0)
        await good.until("state", shared=[])

    play(riser, story)


def test_a_client_that_says_no_hello_is_told_nothing(riser: Served) -> None:
    async def story(bad: Client) -> None:
        for kind in ("reset", "undo", "share"):
            await bad.send(kind, run=0)
        await bad.send("open", run=0)
        found = await bad.quiet()
        assert [m["type"] for m in found] == ["refused"] * 4
        await bad.send("hello", client=bad.client)
        await bad.until("page")
        await bad.send("hello", client=bad.client)
        assert "already" in (await bad.until("refused"))["reason"]

    play(riser, story, riser.url)


def test_a_message_too_large_is_refused_and_one_far_too_large_ends_its_connection(
    riser: Served,
) -> None:
    async def story(bad: Client, good: Client) -> None:
        await good.hello()
        await bad.raw(json.dumps({"type": "ping", "at": 1, "pad": "x" * LARGEST}))
        assert "at most" in (await bad.until("refused"))["reason"]
        await bad.send("ping", at=1)
        await bad.until("pong")
        await bad.link.send_bytes(b"\xff" * 100)
        await bad.until("refused")
        await bad.raw("x" * (8 * LARGEST))
        answer = await bad.link.receive(timeout=10)
        assert answer.type in (aiohttp.WSMsgType.CLOSE, aiohttp.WSMsgType.CLOSED)
        await good.send("ping", at=2)
        assert (await good.until("pong"))["at"] == 2

    play(riser, story)


def test_one_that_asks_without_end_is_answered_its_newest_question_alone(riser: Served) -> None:
    async def story(bad: Client, good: Client) -> None:
        await good.hello()
        await bad.hello()
        for k in range(60):
            seq = await bad.edit("friction:duct", f"0.3{k:02d}")
        await good.send("ping", at=3)  # the others are heard meanwhile
        await good.until("pong")
        await bad.until("run", part="plan", seq=seq)
        answered = {m["seq"] for m in bad.heard if m.get("part") == "plan" and m["seq"]}
        assert answered == {seq}

    play(riser, story)


def test_the_link_of_the_crew_edits_nothing(riser: Served) -> None:
    async def story(crew: Client, good: Client) -> None:
        await good.hello()
        await crew.hello()
        await crew.quiet()
        await good.quiet()
        for kind in ("reset", "undo", "redo", "share"):
            await crew.send(kind, run=0)
        await crew.edit("reel", "150")
        await crew.send("save", run=0, name="crew.toml")
        found = await crew.quiet()
        assert [m["type"] for m in found] == ["refused"] * 6
        assert await good.quiet() == []
        assert crew.data["role"] == "crew" and good.data["role"] == "engineer"

    play(riser, story, riser.crew, riser.url)
    assert not (riser.model.parent / "crew.toml").exists()


# --- requests ----------------------------------------------------------------------------------


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
        ({"Host": "rebound.example"}, (403,)),
        ({"Origin": "http://[::1"}, (400, 403)),
        ({"Origin": "http://[elsewhere"}, (400, 403)),
        ({"Origin": "http://elsewhere.example"}, (403,)),
        ({"Origin": "http://127.0.0.1:1"}, (403,)),
        ({"Origin": "null"}, (400, 403)),
        ({"Origin": "\xff\xfe"}, (400, 403)),
        ({"Origin": ""}, (400, 403)),
        ({"Cookie": "route3d_engineer=\xff\xfe"}, (401,)),
        ({"Cookie": "=;;=\x7f;\xff=\xff"}, (400, 401)),
        ({}, (401,)),
    ],
)
def test_malformed_and_foreign_requests_are_refused_and_nothing_fails(
    riser: Served, headers: dict[str, str], statuses: tuple[int, ...]
) -> None:
    for path in ("/", "/ws", "/crew/", "/crew/ws"):
        assert _status(riser.port, headers, path) in statuses


def _status(port: int, headers: dict[str, str], path: str = "/") -> int:
    sent = {"Host": f"127.0.0.1:{port}", "Connection": "close", **headers}
    lines = [f"GET {path} HTTP/1.1", *(f"{k}: {v}" for k, v in sent.items())]
    with socket.create_connection(("127.0.0.1", port), timeout=5) as link:
        link.sendall(("\r\n".join(lines) + "\r\n\r\n").encode("latin-1"))
        return int(link.recv(4096).split(b" ")[1])


@pytest.mark.parametrize(
    "path", ["/%00", "/%ff", "//", "/?token=%ff", "/ws", "/crew", "/assets/%00", "/../riser.toml"]
)
def test_malformed_paths_do_not_fail(riser: Served, path: str) -> None:
    assert 300 <= _status(riser.port, {}, path) < 500


def test_each_link_opens_its_own_page_alone(riser: Served) -> None:
    """A wrong token, that of the other link, and a cookie of the other folder are of no use."""

    def cookie(role: str, word: str) -> dict[str, str]:
        return {"Cookie": f"route3d_{role}_{riser.port}={word}"}

    engineer, crew = token(riser.url), token(riser.crew)
    assert len(engineer) >= 40 and len(crew) >= 40 and engineer != crew
    assert _status(riser.port, {}, f"/?token={engineer}") == 302
    assert _status(riser.port, {}, f"/?token={crew}") == 401
    assert _status(riser.port, {}, f"/crew/?token={engineer}") == 401
    assert _status(riser.port, {}, f"/?token={engineer[:-1]}") == 401
    assert _status(riser.port, cookie("engineer", engineer)) == 200
    assert _status(riser.port, cookie("crew", crew), "/crew/") == 200
    for headers in (cookie("crew", crew), cookie("engineer", crew), cookie("engineer", "")):
        assert _status(riser.port, headers) == 401
        assert _status(riser.port, headers, "/ws") == 401
        assert _status(riser.port, headers, "/app.js") == 401


def test_a_page_elsewhere_cannot_talk_to_this_one(riser: Served) -> None:
    async def story() -> None:
        cookies = {f"route3d_engineer_{riser.port}": token(riser.url)}
        address = f"http://127.0.0.1:{riser.port}/ws"
        async with aiohttp.ClientSession(cookies=cookies) as session:
            for origin in ("http://elsewhere.example", "null", f"https://127.0.0.1:{riser.port}1"):
                with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                    await session.ws_connect(address, origin=origin)
                assert refused.value.status in (400, 403)

    asyncio.run(story())


def test_a_malformed_token_is_a_wrong_one() -> None:
    from viewer.web.guard import _same

    for given in ("\udcff", "\ud800", "ü", ""):
        assert not _same(given, "crew-4711-blue")
    assert _same("crew-4711-blue", "crew-4711-blue")


# --- what is served, and the end ---------------------------------------------------------------


def test_files_are_packed_kept_for_good_and_allowed_nothing_inline(riser: Served) -> None:
    async def story() -> None:
        jar = aiohttp.CookieJar(unsafe=True)
        folder = riser.url.partition("?")[0]
        async with aiohttp.ClientSession(cookie_jar=jar, auto_decompress=False) as session:
            async with session.get(riser.url, allow_redirects=False) as answer:
                crumb = answer.headers["Set-Cookie"]
                assert "HttpOnly" in crumb and "SameSite=Strict" in crumb
                assert token(riser.url) not in answer.headers["Location"]
            async with session.get(folder, headers={"Accept-Encoding": "identity"}) as answer:
                page, tag = await answer.text(), answer.headers["ETag"]
                policy = answer.headers["Content-Security-Policy"]
                assert answer.headers["Cache-Control"] == "no-cache"
            assert "unsafe" not in policy and "default-src 'none'" in policy
            assert "script-src 'self';" in policy and "<script>" not in page
            assert 'id="data"' not in page and "style=" not in page
            async with session.get(folder, headers={"If-None-Match": tag}) as answer:
                assert answer.status == 304
            names = [part.split('"')[0] for part in page.replace("href=", "src=").split('src="')]
            names = [n for n in names[1:] if n.endswith((".js", ".css"))]
            assert len(names) >= 4
            whole = 0
            for name in names:
                packing = {"Accept-Encoding": "gzip"}
                async with session.get(folder + name, headers=packing) as answer:
                    body = await answer.read()
                    assert answer.headers["Content-Encoding"] == "gzip"
                    assert "immutable" in answer.headers["Cache-Control"]
                    assert answer.headers["X-Content-Type-Options"] == "nosniff"
                    whole += len(body)
                plain = {"Accept-Encoding": "identity"}
                async with session.get(folder + name, headers=plain) as answer:
                    assert "Content-Encoding" not in answer.headers
                    assert len(await answer.read()) > len(body)
            assert whole < 300_000
            async with session.get(folder + "app-0.js") as answer:
                assert answer.status == 404

    asyncio.run(story())


@pytest.mark.parametrize("how", [2, 15])
def test_it_ends_cleanly_with_pages_open_and_work_going_on(tmp_path: Path, how: int) -> None:
    """By Ctrl-C and by TERM: connections are closed, nothing is printed but the links."""
    model = tmp_path / "yard.toml"
    model.write_bytes((MODELS / "yard_run.toml").read_bytes())
    with serving(model, "--token", "crew-4711-blue") as served:
        assert token(served.url) == "crew-4711-blue"

        async def story() -> None:
            async with connected(served.url) as client:
                await client.send("hello", client=client.client)
                await client.until("run", part="answer")  # plans and advice are to come
                loop = asyncio.get_running_loop()
                ended = loop.run_in_executor(None, served.interrupt, how)
                while (message := await client.link.receive(timeout=15)).type not in (
                    aiohttp.WSMsgType.CLOSE,
                    aiohttp.WSMsgType.CLOSED,
                    aiohttp.WSMsgType.CLOSING,
                ):
                    assert message.type is aiohttp.WSMsgType.TEXT
                assert client.link.close_code == aiohttp.WSCloseCode.GOING_AWAY
                assert await ended == 0
                await asyncio.sleep(QUIET)

        asyncio.run(story())
        assert served.process.stdout and served.process.stderr
        said = served.process.stdout.read() + served.process.stderr.read()
        assert "Traceback" not in said and "Error" not in said
        assert token(served.crew) not in said and "crew-4711-blue" not in said
        with socket.socket() as free:
            free.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            free.bind(("127.0.0.1", served.port))
