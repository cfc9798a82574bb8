"""The server of the live page: its files, the two links, the websocket, and a clean end.

It listens before the model file is read, so that a browser has the page while the run is worked
out; whatever takes long to import is imported by then, in a thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import re
import secrets
import signal
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from aiohttp import WSCloseCode, WSMsgType, web

from route3d.errors import InputError, Problem
from route3d.language import ENGLISH
from viewer.web import bundle
from viewer.web.aside import aside
from viewer.web.guard import FOLDERS, Role, check_host, guard, role_of
from viewer.web.stamps import Stamp, stamp_of

if TYPE_CHECKING:
    from route3d.model.job import Job
    from viewer.web.live import Live
    from viewer.web.start import Start

_MOST_CONNECTIONS = 64
# Messages that wait for a browser which does not take them; then it is let go.
_MOST_WAITING = 64
_LARGEST = 256 * 1024  # bytes; what is more ends the connection before it is read
_ENDED = b"the server has ended"


@dataclass(slots=True, eq=False)
class _Served:
    """What the handlers share: the page once all is there for it, and every open connection.

    ``start`` is the form for a new job, where there is no file to begin with.
    """

    live: asyncio.Future[Live]
    start: Start | None = None
    read: asyncio.Event = field(default_factory=asyncio.Event)
    links: set[web.WebSocketResponse] = field(default_factory=set)


def serve(
    model: Path | None,
    *,
    run: str | None = None,
    host: str = "127.0.0.1",
    port: int = 0,
    token: str | None = None,
    units: str | None = None,
    language: str = ENGLISH,
    ready: Callable[[Mapping[Role, str]], None] = lambda links: None,
) -> None:
    """Serve all runs until interrupted; ``ready`` is given the links once the file is read.

    Without a ``model`` the page begins with the questions of a new job, and writes it into the
    current folder. ``run`` is the one to begin with, the first of the file if omitted; ``token``
    that of the engineer's link, made if omitted; ``language`` that of the crew's tab. Raises
    InputError for a file, run, address, port or token that cannot be used.
    """
    check_host(host, token)
    tokens: dict[Role, str] = {
        "engineer": token or secrets.token_urlsafe(32),
        "crew": secrets.token_urlsafe(32),
    }
    asyncio.run(_serve(model, run, host, port, tokens, units, language, ready))


async def _serve(
    model: Path | None,
    run: str | None,
    host: str,
    port: int,
    tokens: Mapping[Role, str],
    units: str | None,
    language: str,
    ready: Callable[[Mapping[Role, str]], None],
) -> None:
    loop, stop = asyncio.get_running_loop(), asyncio.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # Windows raises KeyboardInterrupt instead
            loop.add_signal_handler(name, stop.set)
    served = _Served(loop.create_future())
    if model is None:
        from viewer.web.start import Start

        served.start = Start(Path.cwd(), units or "US", loop.create_future())
    runner = web.AppRunner(application(served, tokens, host), access_log=None, shutdown_timeout=1)
    await runner.setup()
    try:
        await _listen(runner, host, port)
        working = loop.create_task(_work(served, model, run, units, language))
        stopped = loop.create_task(stop.wait())
        read = loop.create_task(served.read.wait())
        await asyncio.wait({read, working, stopped}, return_when=asyncio.FIRST_COMPLETED)
        if read.done() and not stop.is_set():
            at = runner.addresses[0][1]
            ready({role: address(host, at, role, tokens[role]) for role in FOLDERS})
        read.cancel()
        await asyncio.wait({working, stopped}, return_when=asyncio.FIRST_COMPLETED)
        stopped.cancel()
        if working.done():
            working.result()
        working.cancel()
    finally:
        if _is_open(served):
            for task in served.live.result().tasks:
                task.cancel()
        for link in list(served.links):
            with contextlib.suppress(Exception):
                await asyncio.wait_for(link.close(code=WSCloseCode.GOING_AWAY, message=_ENDED), 1)
        await runner.cleanup()


def _is_open(served: _Served) -> bool:
    live = served.live
    return live.done() and not live.cancelled() and live.exception() is None


async def _listen(runner: web.AppRunner, host: str, port: int) -> None:
    try:
        await web.TCPSite(runner, host, port).start()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(
            Problem(f"cannot listen at {host}:{port}: {reason}", "--host, --port", "choose another")
        ) from None


async def _work(
    served: _Served, model: Path | None, run: str | None, units: str | None, language: str
) -> None:
    """Read the file, answer its first run, and watch it; ends only by what it raises."""
    if model is None:
        assert served.start is not None  # made with the server
        served.read.set()
        model = await served.start.chosen
    try:
        stamp, job = await aside(_read, model, run)
        served.read.set()
        live = await aside(_opened, model, job, stamp, run, units)
        live.language = language
    except BaseException as error:
        served.live.set_exception(error)
        served.live.exception()  # raised below: whoever waits for a page meanwhile goes with it
        raise
    from viewer.web.live import warm_up, watch

    served.live.set_result(live)
    await warm_up(live)
    await watch(live)


def _read(model: Path, run: str | None) -> tuple[Stamp, Job]:
    """The job of the file; InputError where it cannot be read or has no such run."""
    from route3d.modelfile.read import load

    stamp, job = stamp_of(model), load(model)
    names = [r.name for r in job.runs]
    if run is not None and run not in names:
        problem = f"no run is named {run!r}", "--run", f"name one of {', '.join(names)}", str(model)
        raise InputError(Problem(*problem))
    return stamp, job


def _opened(model: Path, job: Job, stamp: Stamp, run: str | None, units: str | None) -> Live:
    from viewer.web.live import live_of

    return live_of(model, job, stamp, run, units)


def address(host: str, port: int, role: Role, token: str) -> str:
    """What to open in a browser on this machine."""
    named = f"[{host}]" if ":" in host and not host.startswith("[") else host
    return f"http://{named}:{port}{FOLDERS[role]}?token={token}"


# --- requests ----------------------------------------------------------------------------------


def application(served: _Served, tokens: Mapping[Role, str], host: str) -> web.Application:
    """The page, its files and its websocket, in the folder of either link."""
    app = web.Application(middlewares=[guard(tokens, host)])

    async def websocket(request: web.Request) -> web.WebSocketResponse:
        return await _talk(served, request)

    async def pdf(request: web.Request) -> web.StreamResponse:
        return await _pdf(served, request)

    for folder in FOLDERS.values():
        app.router.add_get(folder, _index)
        app.router.add_get(f"{folder}ws", websocket)
        app.router.add_get(f"{folder}{{kind:report|sheet}}.pdf", pdf)
        app.router.add_get(f"{folder}{{name}}", _file)
    return app


async def _index(request: web.Request) -> web.StreamResponse:
    scripts, styles = bundle.scripts(), bundle.styles()
    text = bundle.page(
        "\n".join(f'<link rel="stylesheet" href="{s.served_name}">' for s in styles),
        "",
        "\n".join(f'<script defer src="{s.served_name}"></script>' for s in scripts),
    )
    tag = sha256(text.encode()).hexdigest()[:32]
    if any(known.value == tag for known in request.if_none_match or ()):
        return web.Response(status=304, headers={"ETag": f'"{tag}"'})
    headers = {"ETag": f'"{tag}"', "Cache-Control": "no-cache"}
    response = web.Response(text=text, content_type="text/html", headers=headers)
    response.enable_compression()
    return response


async def _file(request: web.Request) -> web.StreamResponse:
    """A script or a style; its name changes with its bytes, so that it is kept for good."""
    name = request.match_info["name"]
    asset = next((a for a in (*bundle.scripts(), *bundle.styles()) if a.served_name == name), None)
    if asset is None:
        raise web.HTTPNotFound(text="No such file.\n")
    headers = {"Cache-Control": "private, max-age=31536000, immutable", "Vary": "Accept-Encoding"}
    packed = "gzip" in request.headers.get("Accept-Encoding", "")
    if packed:
        headers["Content-Encoding"] = "gzip"
    body = asset.packed if packed else asset.text.encode()
    return web.Response(
        body=body, content_type=asset.content_type, charset="utf-8", headers=headers
    )


async def _pdf(served: _Served, request: web.Request) -> web.StreamResponse:
    """A document of the model file as it is on disk; the reason where there can be none."""
    from route3d.units import SYSTEMS
    from viewer.web.documents import DOCUMENTS, document_pdf

    kind, units = request.match_info["kind"], request.query.get("units", "US")
    if kind == "report" and role_of(request.path) == "crew":
        raise web.HTTPForbidden(text="The calculation report is for the engineer's link.\n")
    if units not in SYSTEMS or not _is_open(served):
        raise web.HTTPNotFound(text="No such document.\n")
    live = served.live.result()
    try:
        async with live.late:
            made = await aside(
                lambda: document_pdf(live.job, kind, units, draft="draft" in request.query)  # type: ignore[arg-type]
            )
    except InputError as error:
        reason = "; ".join(str(p) for p in error.problems)
        raise web.HTTPConflict(text=f"{reason}\n") from None
    stem = re.sub(r"[^A-Za-z0-9._ -]", "_", live.path.stem)  # all that a header may hold
    saved_as = f'attachment; filename="{stem}-{DOCUMENTS[kind]}.pdf"'  # type: ignore[index]
    headers = {"Content-Disposition": saved_as, "Cache-Control": "no-store"}
    return web.Response(body=made, content_type="application/pdf", headers=headers)


# --- websocket ---------------------------------------------------------------------------------


async def _talk(served: _Served, request: web.Request) -> web.WebSocketResponse:
    """Hear one browser until it leaves."""
    if len(served.links) >= _MOST_CONNECTIONS:
        raise web.HTTPServiceUnavailable(text="Too many pages are open.\n")
    # to this machine nothing has to be packed: that would take longer than to send it
    link = web.WebSocketResponse(max_msg_size=_LARGEST, heartbeat=20, compress=False)
    served.links.add(link)
    try:
        await link.prepare(request)
        if served.start is not None and not served.start.chosen.done():
            await _ask(served.start, role_of(request.path), link)
            return link
        live = await asyncio.shield(served.live)
        from viewer.web.live import Browser, hear, leave

        waiting: asyncio.Queue[str] = asyncio.Queue(_MOST_WAITING)
        browser = Browser(role_of(request.path), _speaker(live, link, waiting))
        writing = asyncio.get_running_loop().create_task(_write(link, waiting))
        try:
            async for message in link:
                if message.type in (WSMsgType.TEXT, WSMsgType.BINARY):
                    await hear(live, browser, message.data)
        finally:
            leave(live, browser)
            writing.cancel()
    finally:
        served.links.discard(link)
    return link


async def _ask(start: Start, role: Role, link: web.WebSocketResponse) -> None:
    """Hear one browser that fills in the form, until it leaves for the page of its file."""
    from viewer.web.start import hear_start

    waiting: asyncio.Queue[str] = asyncio.Queue()
    writing = asyncio.get_running_loop().create_task(_write(link, waiting))
    start.said.append(waiting.put_nowait)
    try:
        async for message in link:
            if message.type in (WSMsgType.TEXT, WSMsgType.BINARY):
                await hear_start(start, role, waiting.put_nowait, message.data)
    finally:
        start.said.remove(waiting.put_nowait)
        writing.cancel()


def _speaker(
    live: Live, link: web.WebSocketResponse, waiting: asyncio.Queue[str]
) -> Callable[[str], None]:
    from viewer.web.live import do

    def say(text: str) -> None:
        try:
            waiting.put_nowait(text)
        except asyncio.QueueFull:
            closing = link.close(code=WSCloseCode.POLICY_VIOLATION, message=b"too slow")
            do(live, closing)

    return say


async def _write(link: web.WebSocketResponse, waiting: asyncio.Queue[str]) -> None:
    with contextlib.suppress(ConnectionError):  # it has left: the reading side ends too
        while True:
            await link.send_str(await waiting.get())
