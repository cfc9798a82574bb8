"""The server of the live page: one shared job, edits, the file watched, and a clean end.

Every browser shows the same job: an edit in one shows in all, and each says so. The tab, units,
theme, colours by and the selected bend stay with the browser (``CLIENT_ONLY``).
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import perf_counter
from typing import Any

from route3d.errors import InputError, Problem
from route3d.planning.changes import changes
from route3d.planning.stop_load import stop_load
from route3d.units import SYSTEMS
from viewer.page import publish
from viewer.page.aside import aside
from viewer.page.guard import check_host, guard
from viewer.page.session import (
    Session,
    changed_stamp,
    edited,
    open_session,
    preview,
    reloaded,
    solved,
    with_edits,
)
from viewer.scene_data import ContextMesh, Scene

CLIENT_ONLY = (
    *("tab", "units", "dark", "colour_by", "bend", "looking", "tags", "probe", "message"),
    *("colour_choices", "gestures", "bend_headers"),
)
_STATIC = Path(__file__).with_name("static")
_POLL = 0.5  # s between two looks at the model file
# A run that took longer than this to work out is previewed first, and worked out aside.
_SLOW = 0.35


@dataclass(slots=True)
class Live:
    """What changes while the page is served; the only such record of the program.

    ``session`` is the last good answer, ``wanted`` the newest question, ``version`` counts the
    questions so that an answer that comes too late is thrown away. ``took`` s the last answer.
    """

    session: Session
    wanted: Session
    scene: Scene
    context: tuple[ContextMesh, ...]
    took: float
    version: int = 0
    tasks: set[asyncio.Task[None]] = field(default_factory=set)


def serve(
    model: Path,
    *,
    run: str | None = None,
    host: str = "127.0.0.1",
    port: int = 0,
    token: str | None = None,
    units: str | None = None,
    ready: Callable[[str], None] = lambda url: None,
) -> None:
    """Serve a run until interrupted; ``ready`` is given the address once the page can be opened.

    Raises InputError for a file, run, address, port or token that cannot be used.
    """
    check_host(host, token)
    _check_port(host, port)
    session = open_session(model, run)
    start = perf_counter()
    session = solved(session)
    took = perf_counter() - start
    scene = publish.scene_of(session, "SI")
    live = Live(session, session, scene, publish.buildings_of(session, scene), took)
    server = _page(live, units or session.job.units)
    asyncio.run(_run(server, live, host, port, token, ready))


def _check_port(host: str, port: int) -> None:
    """InputError where nothing can listen there, before anything else is started."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family[0], socket.SOCK_STREAM) as probe:
            if os.name != "nt":  # there it would let two servers share a port
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(family[4])
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(
            Problem(f"cannot listen at {host}:{port}: {reason}", "--host, --port", "take another")
        ) from None


# --- page --------------------------------------------------------------------------------------


def _page(live: Live, units: str) -> Any:
    """The trame server with its state, widgets and what they call."""
    from trame.app import get_server

    os.environ.setdefault("TRAME_ARGS", "")  # our own command line is none of trame's
    server = get_server("route3d", client_type="vue3")
    state = server.state
    state.trame__client_only += list(CLIENT_ONLY)
    state.trame__title = f"route3d: {live.session.job.title}"
    state.update(
        {
            "tab": "engineer",
            "units": units,
            "dark": False,
            "colour_by": "tension",
            "bend": 0,
            "looking": "iso",
            "tags": [],
            "probe": "",
            "message": "",
            "working": None,
            "asked": 0,
        }
    )
    state.update(_first_values(live))
    from viewer.page.frame import build_page

    build_page(server)
    static = f"__route3d_{id(_STATIC) & 0xFFFF:x}"
    server.enable_module(
        {
            "serve": {static: str(_STATIC)},
            "scripts": [f"{static}/route3d.js"],
            "styles": [f"{static}/route3d.css"],
        }
    )
    server.controller.trigger("edit")(lambda *a: _on_edit(server, live, *a))
    server.controller.trigger("reset")(lambda: _on_reset(server, live))
    return server


def _first_values(live: Live) -> dict[str, Any]:
    """Everything a browser needs before the first edit; slow parts come after the start."""
    session = live.session
    values = {
        **publish.file_data(session),
        **publish.field_values(session),
        **publish.result_values(session),
        **publish.geometry_values(session, live.context),
        **publish.help_values(()),
    }
    if live.took > _SLOW:
        empty = {u: {"load": "…", "text": "Being worked out.", "rows": []} for u in SYSTEMS}
        charts = {u: {"wide": "", "narrow": ""} for u in SYSTEMS}
        return {**values, "bends": {u: [] for u in SYSTEMS}, "stop": empty, "crew_chart": charts}
    return {**values, **_late_values(session)}


def _late_values(session: Session) -> dict[str, Any]:
    stop = stop_load(session.shown.pull)
    return {**publish.bend_values(session), **publish.stop_values(session, stop)}


# --- edits -------------------------------------------------------------------------------------


def _on_edit(server: Any, live: Live, key: object, text: object, units: object) -> str:
    """Take one edit from a browser; what is wrong with it, or nothing, goes back to that one."""
    system = str(units) if units in SYSTEMS else live.session.job.units
    try:
        wanted = edited(live.wanted, str(key), str(text), system)
    except InputError as error:
        return publish.edit_problem(error, system)
    _ask(server, live, wanted)
    return ""


def _on_reset(server: Any, live: Live) -> str:
    """Drop all edits."""
    server.state.asked += 1  # fields are made anew, so that half-typed text goes too
    _ask(server, live, with_edits(live.wanted, {}))
    return ""


def _ask(server: Any, live: Live, wanted: Session) -> None:
    """Make ``wanted`` the newest question and start to answer it."""
    live.wanted = wanted
    live.version += 1
    task = asyncio.get_running_loop().create_task(_answer(server, live, live.version))
    live.tasks.add(task)
    task.add_done_callback(live.tasks.discard)


async def _answer(server: Any, live: Live, version: int) -> None:
    """Work out the newest question aside, and show it unless a newer one has come."""
    wanted, before = live.wanted, live.session
    _show(server, publish.field_values(wanted))
    same_route = wanted.given is before.given and wanted.run.route.vertices == (
        before.run.route.vertices
    )
    if live.took > _SLOW and same_route and wanted.run != before.run:
        pull = await aside(preview, wanted)
        if version != live.version:
            return
        _show(server, await aside(publish.preview_values, live.scene, pull))
    try:
        await _answer_fully(server, live, version, wanted)
    except InputError as error:
        if version == live.version:
            live.wanted = live.session
            words = "; ".join(publish.problem_words(p) for p in error.problems)
            _show(server, {**publish.field_values(live.session), "notice": words, "working": None})


async def _answer_fully(server: Any, live: Live, version: int, wanted: Session) -> None:
    before, start = live.session, perf_counter()
    known = wanted.run == before.run and wanted.given is before.given
    ready = replace(wanted, result=before.result)
    if not known:
        ready = await aside(solved, wanted)
        live.took = perf_counter() - start
    if version != live.version:
        return
    context = live.context
    if wanted.given is not before.given:  # another state of the file
        context = await aside(_buildings, ready)
    values = await aside(publish.result_values, ready)
    if publish.geometry_key(ready) != publish.geometry_key(before):
        values |= await aside(publish.geometry_values, ready, context)
    if version != live.version:
        return
    live.session, live.context, live.scene = ready, context, publish.scene_of(ready, "SI")
    values |= {**publish.help_values(()), **publish.file_data(ready), "working": None}
    _show(server, values)
    await _answer_late(server, live, version, ready)


async def _answer_late(server: Any, live: Live, version: int, ready: Session) -> None:
    """What takes longer than the rest, or is not seen at once."""
    late = await aside(_late_values, ready)
    if version != live.version:
        return
    _show(server, late)
    if live.took <= _SLOW and ready.result.decision.choice is None:
        await _help(server, live, version)


async def _help(server: Any, live: Live, version: int) -> None:
    """What would make the run pass; it is solved many times over, so it comes last."""
    session = live.session
    found = await aside(changes, session.run, session.job.practice)
    if version == live.version:
        _show(server, publish.help_values(found))


def _buildings(session: Session) -> tuple[ContextMesh, ...]:
    return publish.buildings_of(session, publish.scene_of(session, "SI"))


def _show(server: Any, values: Mapping[str, Any]) -> None:
    """Send values to all browsers; what has not changed is not sent again."""
    with server.state as state:
        state.update(values)


# --- the model file ----------------------------------------------------------------------------


async def _watch(server: Any, live: Live) -> None:
    """Read the model file again whenever its bytes change."""
    while True:
        await asyncio.sleep(_POLL)
        stamp = changed_stamp(live.wanted.path, live.wanted.stamp)
        if stamp is None:
            continue
        fresh = await aside(reloaded, live.wanted, stamp)
        if fresh.problems:
            live.wanted = fresh
            live.session = replace(live.session, stamp=stamp, problems=fresh.problems)
            _show(server, publish.file_data(fresh))
        else:
            _ask(server, live, fresh)


# --- life --------------------------------------------------------------------------------------


async def _run(
    server: Any, live: Live, host: str, port: int, token: str | None, ready: Callable[[str], None]
) -> None:
    """Serve until interrupted; then close every connection and free the port."""
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # Windows raises KeyboardInterrupt instead
            loop.add_signal_handler(name, stop.set)
    server.controller.on_server_bind.add(lambda web: _bound(web.app, token, host))
    serving = server.start(
        host=host,
        port=port,
        exec_mode="task",
        thread=True,
        open_browser=False,
        show_connection_info=False,
        disable_logging=True,
        timeout=0,
    )
    await _started(server, serving)
    watching = loop.create_task(_watch(server, live))
    _ask(server, live, live.wanted)  # for what is slow to work out
    ready(address(host, server.port, token))
    try:
        await stop.wait()
    finally:
        for task in (watching, *live.tasks):
            task.cancel()
        await server.stop()
        with contextlib.suppress(asyncio.CancelledError):
            await serving


def _bound(app: Any, token: str | None, host: str) -> None:
    """Before anything is served: the guard, and the answer to trame's first question.

    Its page asks a launcher for the address of the websocket, and puts an error on the console
    where there is none.
    """
    from aiohttp import web

    async def launcher(_: web.Request) -> web.Response:
        return web.json_response({"sessionURL": "ws://use_host/ws"})

    app.middlewares.append(guard(token, host))
    app.router.add_post("/paraview/", launcher)


async def _started(server: Any, serving: asyncio.Task[None]) -> None:
    """Wait until the server listens; raises what kept it from doing so."""
    await asyncio.wait({serving, server.ready}, return_when=asyncio.FIRST_COMPLETED)
    if serving.done():
        serving.result()


def address(host: str, port: int, token: str | None) -> str:
    """What to open in a browser on this machine or, for a wildcard, on another."""
    named = socket.gethostname() if host in ("0.0.0.0", "::") else host
    named = f"[{named}]" if ":" in named else named
    return f"http://{named}:{port}/" + (f"?token={token}" if token else "")
