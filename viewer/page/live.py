"""One run as its browsers see it: the last good answer, the newest question, and the way to it.

The values of run number 2 stand in the state as ``run2_sheet`` and so on. A browser copies those
of the run it looks at to the bare names, which the widgets use and which stay with the browser.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import Any

from route3d.directions import all_isolated
from route3d.errors import InputError
from route3d.mechanics.pull import Pull
from route3d.planning.remedies.bend_margins import bend_margins
from route3d.units import SYSTEMS
from viewer.gauge import is_quick
from viewer.page import publish
from viewer.page.aside import aside
from viewer.page.session import Session, advised, planned, preview, solved
from viewer.scene_data import ContextMesh, Scene

OF_A_RUN = (
    *("title", "sheet", "charts", "crew", "colours", "labels", "legend", "line"),
    *("tube", "solids", "box", "corners", "places", "marker", "bends", "stop", "crew_chart"),
    *("fields", "bend_fields", "edit_words", "machines", "ends", "feed"),
    *("problems", "notice", "help", "working", "asked", "film", "bends_fed"),
)
# What a browser sends back as it is.
_TYPED = ("machines", "fields", "bend_fields", "feed", "ends")
# A run that took longer than this to work out is previewed first, and worked out aside.
_SLOW = 0.35
# Bends solved again for the least radius that passes: a tenth of a second or two.
_MOST_SOLVED = 300


@dataclass(slots=True)
class Live:
    """What changes while a run is served; with ``server.Page`` the only such record.

    ``session`` is the last good answer, ``wanted`` the newest question, ``version`` counts the
    questions so that an answer that comes too late is thrown away. ``took`` s the last answer;
    ``index`` is the number of the run, ``asked`` counts how often all edits were dropped.
    """

    session: Session
    wanted: Session
    scene: Scene
    context: tuple[ContextMesh, ...]
    took: float
    index: int = 0
    version: int = 0
    asked: int = 0
    tasks: set[asyncio.Task[None]] = field(default_factory=set)
    searching: asyncio.Lock = field(default_factory=asyncio.Lock)


def live_of(session: Session, index: int, took: float) -> Live:
    """A run whose answer has just been worked out."""
    scene = publish.scene_of(session, "SI")
    return Live(session, session, scene, publish.buildings_of(session, scene), took, index)


def run_key(index: int, name: str) -> str:
    """The name of a value of a run in the state that all browsers share."""
    return f"run{index}_{name}"


def show(server: Any, live: Live, values: Mapping[str, Any]) -> None:
    """Send values of a run to all browsers; what has not changed is not sent again."""
    with server.state as state:
        state.update(
            {
                run_key(live.index, n): v if n in _TYPED else all_isolated(v)
                for n, v in values.items()
            }
        )
        state.shown += 1


def first_values(live: Live) -> dict[str, Any]:
    """Everything a browser needs before the first edit; slow parts come after the start."""
    session = live.session
    values = {
        **publish.file_data(session),
        **publish.field_values(session),
        **publish.result_values(session),
        **publish.geometry_values(session, live.context),
        **publish.help_values(session),
        "working": None,
        "asked": live.asked,
    }
    if live.took > _SLOW:
        return {**values, "bends": {u: [] for u in SYSTEMS}}
    return {**values, **publish.bend_values(session)}


def _late_values(
    session: Session, context: tuple[ContextMesh, ...]
) -> tuple[Session, dict[str, Any]]:
    """The bends and the plan; and the session with the place of its machine."""
    ready, plan = planned(session)
    margins = bend_margins(ready.result, most=_MOST_SOLVED)
    values = {**publish.bend_values(ready, margins), **publish.plan_values(ready, plan)}
    if publish.geometry_key(ready) != publish.geometry_key(session):
        values |= publish.geometry_values(ready, context)  # the machine stands elsewhere
    return ready, values


# --- question and answer -----------------------------------------------------------------------


def ask(server: Any, live: Live, wanted: Session) -> None:
    """Make ``wanted`` the newest question and start to answer it."""
    live.wanted = wanted
    live.version += 1
    task = asyncio.get_running_loop().create_task(_answer(server, live, live.version))
    live.tasks.add(task)
    task.add_done_callback(live.tasks.discard)


async def _answer(server: Any, live: Live, version: int) -> None:
    """Work out the newest question aside, and show it unless a newer one has come."""
    wanted, before = live.wanted, live.session
    fields = publish.field_values(wanted)
    if not wanted.edits:  # what is on show is that of the edits until the answer has come
        fields.pop("edit_words")
    show(server, live, fields)
    same_route = wanted.given is before.given and wanted.run.route.vertices == (
        before.run.route.vertices
    )
    pull = None
    if live.took > _SLOW and same_route and wanted.run != before.run:
        pull = await aside(preview, wanted)
        if version != live.version:
            return
        show(server, live, await aside(publish.preview_values, live.scene, pull))
    try:
        await _answer_fully(server, live, version, wanted, pull)
    except InputError as error:
        if version == live.version:
            # of the newest stamp: else the file would be read again and again
            live.wanted = live.session = replace(live.session, stamp=wanted.stamp)
            words = "; ".join(publish.problem_words(p) for p in error.problems)
            fields = publish.field_values(live.session)
            show(server, live, {**fields, "notice": words, "working": None})


async def _answer_fully(
    server: Any, live: Live, version: int, wanted: Session, seen: Pull | None
) -> None:
    before, start = live.session, perf_counter()
    known = wanted.run == before.run and wanted.given is before.given
    ready = replace(wanted, result=before.result)
    if not known:
        ready = await aside(solved, wanted, seen)
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
    values |= {**publish.help_values(ready), **publish.file_data(ready), "working": None}
    values |= publish.field_values(ready)
    show(server, live, values)
    await _answer_late(server, live, version, ready)


def _buildings(session: Session) -> tuple[ContextMesh, ...]:
    return publish.buildings_of(session, publish.scene_of(session, "SI"))


async def _answer_late(server: Any, live: Live, version: int, ready: Session) -> None:
    """What takes longer than the rest, or is not seen at once."""
    ready, late = await aside(_late_values, ready, live.context)
    if version != live.version:
        return
    live.session, live.scene = ready, publish.scene_of(ready, "SI")
    # the next edit begins with the place found: it is the same unless the end or machine changes
    live.wanted = replace(live.wanted, search=ready.search, sought=ready.sought)
    show(server, live, {**late, **publish.help_values(ready)})
    if ready.fails and ready.result.advice is None and is_quick(ready.shown):
        await _help(server, live, version)


async def _help(server: Any, live: Live, version: int) -> None:
    """What would make the run pass; it is solved many times over, so it comes last.

    One search at a time: those of questions that are no longer asked would slow down the newest.
    """
    async with live.searching:
        if version != live.version:
            return
        found = await aside(advised, live.session)
        if version != live.version:
            return
        live.session = found  # the other end asked for has the same list
        show(server, live, publish.help_values(found))
