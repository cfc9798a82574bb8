"""The server of the live page: the runs of one file, edits, the file watched, and a clean end.

All browsers share the edits of a run: one made in one shows in all, and each says so. The run, tab,
units, theme, colors by and the selected bend stay with the browser (``CLIENT_ONLY``).
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from time import perf_counter
from typing import Any

from route3d.errors import InputError, Problem
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.units import SYSTEMS, unit_label
from viewer.film_data import unit_table
from viewer.page import publish
from viewer.page.aside import aside
from viewer.page.calls import confine
from viewer.page.edits import edit_fields
from viewer.page.guard import check_host, guard
from viewer.page.live import OF_A_RUN, Live, ask, first_values, live_of, run_key, show
from viewer.page.session import (
    Session,
    Stamp,
    another,
    changed_stamp,
    edited,
    open_session,
    reloaded,
    solved,
    with_edits,
)

CLIENT_ONLY = (
    *("run", "opening", "tab", "units", "dark", "colour_by", "bend", "looking", "tags", "probe"),
    *("message", "colour_choices", "gestures", "bend_headers", *OF_A_RUN),
    *(
        "head",
        "playing",
        "now",
        "at_row",
        "trail",
        "cue",
        "loads",
        "unrolled",
        "trame_error_report_msg",
    ),
)
_STATIC = Path(__file__).with_name("static")
_SHARED = Path(__file__).parent.with_name("shared")
_POLL = 0.5  # s between two looks at the model file


@dataclass(slots=True)
class Page:
    """The runs of the file by their numbers, and those of them that somebody has looked at.

    A name keeps its number when the file changes, so that no browser shows another run for it.
    ``file`` is a session of the last state of the file that could be read, whichever its run.
    """

    server: Any
    file: Session
    names: list[str]
    first: int
    lives: dict[int, Live] = field(default_factory=dict)


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
    """Serve all runs until interrupted; ``ready`` is given the address once it can be opened.

    ``run`` is the one to begin with, the first of the file where it is left out. Raises InputError
    for a file, run, address, port or token that cannot be used.
    """
    check_host(host, token)
    _check_port(host, port)
    session = open_session(model, run)
    start = perf_counter()
    session = solved(session)
    page = build(session, perf_counter() - start, units or session.job.units)
    asyncio.run(_run(page, host, port, token, ready))


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


def build(session: Session, took: float, units: str) -> Page:
    """The trame server with its state, widgets and what they call; not started."""
    from trame.app import get_server

    os.environ.setdefault("TRAME_ARGS", "")  # our own command line is none of trame's
    server = get_server("route3d", client_type="vue3")
    names = [r.name for r in session.job.runs]
    page = Page(server, session, names, names.index(session.given.name))
    _first_state(page, session, units)
    _add(page, live_of(session, page.first, took))
    from viewer.page.frame import build_page

    build_page(server)
    # where the server ends the page stays, with the last figures and a word about it
    server.state.trame__template_error = server.state.trame__template_main
    static, shared = "__route3d_page", "__route3d_shared"
    server.enable_module(
        {
            "serve": {static: str(_STATIC), shared: str(_SHARED)},
            "scripts": [f"{shared}/film.js", f"{static}/pull.js", f"{static}/route3d.js"],
            "styles": [f"{static}/route3d.css"],
        }
    )
    server.controller.trigger("edit")(lambda *a: _on_edit(page, *a))
    server.controller.trigger("reset")(lambda *a: _on_reset(page, *a))
    server.controller.trigger("read")(lambda *a: _on_read(page, *a))
    server.controller.trigger("unroll")(lambda *a: _on_unroll(page, *a))
    server.controller.trigger("open")(lambda *a: _on_open(page, *a))
    return page


def _first_state(page: Page, session: Session, units: str) -> None:
    """First values of all names: what has none is no variable in the browser."""
    state, job = page.server.state, session.job
    state.trame__client_only += list(CLIENT_ONLY)
    state.trame__title = f"route3d: {job.title}"
    state.update(dict.fromkeys(OF_A_RUN))
    state.update(
        {
            "run": page.first,
            "opening": False,
            "tab": "engineer",
            "units": units,
            "dark": False,
            "colour_by": "tension",
            "bend": 0,
            "looking": "iso",
            "tags": [],
            "probe": "",
            "message": "",
            "head": 100,
            "playing": False,
            "now": [],
            "at_row": 0,
            "length_unit": {u: unit_label("length", u) for u in SYSTEMS},
            "force_unit": {u: unit_label("force", u) for u in SYSTEMS},
            "trail": None,
            "cue": None,
            "loads": None,
            "unrolled": "",
            "unit_table": unit_table(),
            "trame_error_report_msg": "",
            "of_a_run": list(OF_A_RUN),
            "shown": 0,
            "model_name": session.path.name,
        }
    )
    _show_names(page, job)


def _show_names(page: Page, job: Job) -> None:
    """The runs of the file to choose from, and room in the state for those that are new."""
    page.names += [r.name for r in job.runs if r.name not in page.names]
    state = page.server.state
    for i in range(len(page.names)):
        state.update(
            {key: None for n in OF_A_RUN if not state.has(key := run_key(i, n))},
        )
    with state:
        state.job = job.title
        state.runs = [
            {"value": page.names.index(r.name), "title": r.name, "props": {"subtitle": _ends(r)}}
            for r in job.runs
        ]


def _ends(run: Run) -> str:
    route = run.route
    return f"{route.label(0)} to {route.label(len(route.vertices) - 1)}"


def _add(page: Page, live: Live) -> None:
    page.lives[live.index] = live
    show(page.server, live, first_values(live))


# --- what a browser asks for -------------------------------------------------------------------


async def _on_open(page: Page, run: object) -> str:
    """Have a run ready to be looked at; what keeps it from that goes back to the browser."""
    if not isinstance(run, int) or not 0 <= run < len(page.names):
        return "There is no such run."
    if run in page.lives:
        return ""
    start = perf_counter()
    try:
        session = await aside(another, page.file, page.names[run])
        live = await aside(live_of, session, run, perf_counter() - start)
    except InputError as error:
        return "; ".join(publish.problem_words(p) for p in error.problems)
    if run not in page.lives:  # nobody else has asked for it meanwhile
        _add(page, live)
        ask(page.server, live, live.wanted)  # for what is slow to work out
    return ""


def _on_edit(page: Page, run: object, key: object, text: object, units: object) -> str:
    """Take one edit from a browser; what is wrong with it, or nothing, goes back to that one."""
    live = page.lives.get(run) if isinstance(run, int) else None
    if live is None:
        return "There is no such run."
    system = str(units) if units in SYSTEMS else live.session.job.units
    fields = edit_fields(live.wanted.given, live.wanted.run)
    try:
        wanted = edited(live.wanted, str(key), str(text), system)
    except InputError as error:
        label = next((f.label for f in fields if f.key == key), "")
        return publish.edit_problem(error, system, label, str(text))
    ask(page.server, live, wanted)
    return ""


def _on_read(page: Page, run: object, station: object, units: object) -> str:
    """The words for a place that was tapped; none where there is no such place."""
    live = page.lives.get(run) if isinstance(run, int) else None
    if live is None or not isinstance(station, (int, float)) or units not in SYSTEMS:
        return ""
    last = max(float(t.station[-1]) for t in live.scene.tubes)
    return publish.place_words(live.scene, min(max(station, 0.0), last), str(units))


async def _on_unroll(page: Page, run: object, units: object, narrow: object) -> str:
    """The profile of the direction on show as SVG; none where there is no such run."""
    live = page.lives.get(run) if isinstance(run, int) else None
    if live is None or units not in SYSTEMS:
        return ""
    return await aside(publish.unrolled, live.session, str(units), bool(narrow))


def _on_reset(page: Page, run: object) -> str:
    """Drop all edits of a run."""
    live = page.lives.get(run) if isinstance(run, int) else None
    if live is not None:
        live.asked += 1  # fields are made anew, so that half-typed text goes too
        show(page.server, live, {"asked": live.asked})
        ask(page.server, live, with_edits(live.wanted, {}))
    return ""


# --- the model file ----------------------------------------------------------------------------


async def _watch(page: Page) -> None:
    """Read the model file again whenever its bytes change."""
    while True:
        await asyncio.sleep(_POLL)
        for live in list(page.lives.values()):
            stamp = changed_stamp(live.wanted.path, live.wanted.stamp)
            if stamp is not None:
                await _reread(page, live, stamp)


async def _reread(page: Page, live: Live, stamp: Stamp) -> None:
    before = live.wanted
    job, fresh = await aside(reloaded, before, stamp)
    if live.wanted is not before:  # edited meanwhile: the next look reads it again
        return
    if job is None:
        page.file = replace(page.file, stamp=stamp, problems=fresh.problems)
    else:
        page.file = replace(page.file, job=job, stamp=stamp, problems=())
        _show_names(page, job)
    ask(page.server, live, fresh)


# --- life --------------------------------------------------------------------------------------


async def _run(
    page: Page, host: str, port: int, token: str | None, ready: Callable[[str], None]
) -> None:
    """Serve until interrupted; then close every connection and free the port."""
    server, live = page.server, page.lives[page.first]
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # Windows raises KeyboardInterrupt instead
            loop.add_signal_handler(name, stop.set)
    server.controller.on_server_bind.add(lambda web: _bound(server, web, token, host))
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
    watching = loop.create_task(_watch(page))
    ask(server, live, live.wanted)  # for what is slow to work out
    ready(address(host, server.port, token))
    try:
        await stop.wait()
    finally:
        for task in (watching, *(t for live in page.lives.values() for t in live.tasks)):
            task.cancel()
        await server.stop()
        with contextlib.suppress(asyncio.CancelledError):
            await serving


def _bound(server: Any, bound: Any, token: str | None, host: str) -> None:
    """Before anything is served: guard, calls confined, and the answer to trame's first question.

    Its page asks a launcher for the address of the websocket, and puts an error on the console
    where there is none.
    """
    from aiohttp import web

    async def launcher(_: web.Request) -> web.Response:
        return web.json_response({"sessionURL": "ws://use_host/ws"})

    confine(server, bound)
    bound.app.middlewares.append(guard(token, host))
    bound.app.router.add_post("/paraview/", launcher)


async def _started(server: Any, serving: asyncio.Task[None]) -> None:
    """Wait until the server listens; raises what kept it from doing so."""
    await asyncio.wait({serving, server.ready}, return_when=asyncio.FIRST_COMPLETED)
    if serving.done():
        serving.result()


def address(host: str, port: int, token: str | None) -> str:
    """What to open in a browser on this machine."""
    named = f"[{host}]" if ":" in host and not host.startswith("[") else host
    return f"http://{named}:{port}/" + (f"?token={token}" if token else "")
