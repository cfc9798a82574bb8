"""The live page: the runs of one file, the edits of each browser, and the answers.

Nothing here knows how messages travel. Every browser has a what-if of its own; another sees of it
only what is shared, as checked values in the words of the server. Of each browser only the newest
question is answered; what takes longer than the answer is calculated for one of them at a time.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Coroutine, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

from route3d.disk import write_bytes_atomic
from route3d.errors import GeometryError, InputError, Problem
from route3d.geometry.leg_grammar import LegsError
from route3d.language import ENGLISH
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.modelfile.edits import write_edited
from route3d.modelfile.read import load
from route3d.report.translated import translation_for
from route3d.units import SYSTEMS, show
from viewer.web import page_data
from viewer.web.aside import aside
from viewer.web.documents import (
    comparison_data,
    explanation_data,
    model_files,
    other_job,
    sensitivity_data,
)
from viewer.web.edits import (
    Edits,
    Value,
    apply_edits,
    edit_fields,
    exact_text,
    read_quantity,
    read_value,
    reads_of,
    route_now,
    with_edit,
    with_route,
)
from viewer.web.guard import Role
from viewer.web.handover import as_json
from viewer.web.messages import (
    MODEL_NAME,
    OF_A_CREW,
    Answers,
    AskSensitivity,
    Begin,
    Compare,
    Edit,
    EditLegs,
    EditRoute,
    Explain,
    Find,
    Hello,
    KeepVariant,
    Message,
    Open,
    Ping,
    Refused,
    Save,
    Step,
    Take,
    read_message,
)
from viewer.web.route_edit import (
    MOST_POINTS,
    deleted,
    geometry_words,
    inserted,
    moved,
    read_route,
    with_bend,
    with_length,
    with_radii,
)
from viewer.web.route_legs import drawn_by_legs
from viewer.web.session import (
    BuildingsShown,
    Session,
    advised,
    answered,
    edited_run,
    machines_of,
    margined,
    needs_advice,
    planned,
    preview,
    surroundings_of,
)
from viewer.web.stamps import Stamp, changed_stamp, stamp_of
from viewer.web.what_ifs import WhatIf

Data = dict[str, Any]
Key = tuple[int, frozenset[tuple[str, Any]]]

POLL = 0.5
"""Seconds between two looks at the model file."""

# A run that took longer than this to work out is previewed first.
_SLOW = 0.35
# So long (s) a browser has to ask nothing before its plan is begun: a slider asks many times.
_REST = 0.12
_MOST_ANSWERS = 24
# Parts of answers kept as they were sent, for the next browser that asks the same.
_MOST_PARTS = 24
# What a browser left is kept for when it comes back; of so many.
_MOST_GONE, _MOST_SHARED, _MOST_SAVED = 40, 20, 50


@dataclass(slots=True, eq=False)
class Browser:
    """A browser that is connected, or was: ``say`` sends it a message, None while it is not.

    ``shown`` is the last answer it was sent and ``shape`` the key of its meshes; ``version`` counts
    its questions, so that an answer that comes too late is thrown away.
    """

    role: Role
    say: Callable[[str], None] | None
    name: str = ""
    client: str = ""
    units: str = "US"
    run: int = 0
    seq: int = 0
    what_ifs: dict[int, WhatIf] = field(default_factory=dict)
    shown: Session | None = None
    shape: tuple[object, object] | None = None
    version: int = 0

    @property
    def what_if(self) -> WhatIf:
        """What it has changed of the run it looks at."""
        return self.what_ifs.get(self.run, WhatIf())

    def tell(self, kind: str, **values: Any) -> None:
        """Send it a message; one that has left is not told."""
        if self.say is not None:
            self.say(as_json({"type": kind, **values}))


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """A what-if that a browser offers to the others."""

    id: str
    browser: Browser
    run: int
    edits: Edits


@dataclass(slots=True, eq=False)
class Live:
    """The file and its browsers; with ``Browser`` the only record here that changes.

    A run keeps its number in ``names`` when the file changes, so that no browser shows another for
    it. ``job`` is that of the last state of the file that could be read, ``problems`` are those of
    the state on disk where it cannot be, ``language`` is that of the crew's tab. ``parts`` are
    parts of answers as they were sent, as JSON; ``took`` is how long (s) each run took to answer.
    """

    path: Path
    job: Job
    stamp: Stamp
    surroundings: BuildingsShown
    names: list[str]
    first: int
    units: str
    language: str = ENGLISH
    problems: tuple[Problem, ...] = ()
    browsers: list[Browser] = field(default_factory=list)
    shared: list[Shared] = field(default_factory=list)
    answers: OrderedDict[Key, Session] = field(default_factory=OrderedDict)
    parts: OrderedDict[object, str] = field(default_factory=OrderedDict)
    took: dict[int, float] = field(default_factory=dict)
    late: asyncio.Lock = field(default_factory=asyncio.Lock)
    studies: asyncio.Lock = field(default_factory=asyncio.Lock)
    tasks: set[asyncio.Task[object]] = field(default_factory=set)
    counted: int = 0
    saved: int = 0

    def given(self, number: int) -> Run:
        """The run of that number as the file gives it; InputError where there is none."""
        try:
            return self.job.run(self.names[number])
        except IndexError:
            raise InputError(Problem("there is no such run")) from None
        except KeyError:
            raise InputError(Problem(f"the file has no run {self.names[number]!r}")) from None

    def known(self, key: Key) -> Session | None:
        """An answer that was calculated for this state of the file."""
        session = self.answers.get(key)
        return session if session is not None and session.job is self.job else None

    def keep(self, key: Key, session: Session) -> None:
        """An answer for whoever asks the same; the oldest go."""
        if session.job is self.job:
            self.answers[key] = session
            self.answers.move_to_end(key)
            while len(self.answers) > _MOST_ANSWERS:
                self.answers.popitem(last=False)

    async def part(self, key: object, data: Callable[[], Data]) -> str:
        """A part of an answer as JSON, made where nobody was sent it before; the oldest go."""
        text = self.parts.get(key)
        if text is None:
            job = self.job
            text = await aside(lambda: as_json(data()))
            if job is not self.job:
                return text
            self.parts[key] = text
        self.parts.move_to_end(key)
        while len(self.parts) > _MOST_PARTS:
            self.parts.popitem(last=False)
        return text


def key_of(number: int, edits: Edits) -> Key:
    """What tells one question from another."""
    return number, frozenset(edits.items())


def live_of(path: Path, job: Job, stamp: Stamp, run: str | None, units: str | None) -> Live:
    """The runs of a file, none solved yet; InputError where a building cannot be read."""
    names = [r.name for r in job.runs]
    first = 0 if run is None else names.index(run)
    return Live(path, job, stamp, surroundings_of(job), names, first, units or job.units)


async def warm_up(live: Live) -> None:
    """Answer the first run before anybody asks; InputError where it has no answer."""
    await _answer(live, live.first, {}, None)


# --- what a browser asks for -------------------------------------------------------------------


async def hear(live: Live, browser: Browser, text: str | bytes) -> None:
    """Carry out a message, or refuse it with the reason; only that browser is told of a refusal."""
    try:
        await _obey(live, browser, read_message(text))
    except Refused as refused:
        browser.tell("refused", seq=refused.seq, key=refused.key, reason=refused.reason)


async def _obey(live: Live, browser: Browser, message: Message) -> None:
    seq = getattr(message, "seq", 0)
    if browser.role == "crew" and message.type not in OF_A_CREW:
        raise Refused("This link is read-only: nothing can be changed here.", seq)
    if isinstance(message, Ping):
        browser.tell(
            "pong", at=message.at, now=datetime.now().astimezone().isoformat("T", "seconds")
        )
        return
    if isinstance(message, Hello):
        await _hello(live, browser, message)
        return
    if not browser.client:
        raise Refused("The first message must be hello.", seq)
    if isinstance(message, Answers | Find | Begin):
        raise Refused("A model file is open already: load the page again.", seq)
    try:
        given = live.given(message.run)
        browser.seq = seq or browser.seq
        if isinstance(message, Open):
            browser.tell("problems", problems=[problem_words(p) for p in live.problems], notice="")
            _show(live, browser, message.run)
        elif isinstance(message, Explain):
            do(live, _explain(live, browser, message))
        elif isinstance(message, Compare):
            do(live, _compare(live, browser, given, message))
        elif isinstance(message, AskSensitivity):
            do(live, _sensitivity(live, browser, given, message))
        elif isinstance(message, Save):
            file = await _save(live, browser, message)
            browser.tell("saved", seq=seq, file=file)
        else:
            browser.run = message.run
            if isinstance(message, Edit | EditRoute | EditLegs):
                browser.units = message.units
            before = browser.what_if
            now = await _changed(live, browser, given, message)
            browser.what_ifs[browser.run] = now
            asked = now.edits != before.edits
            if asked:
                ask(live, browser)
            if isinstance(message, Step) and message.type == "share":
                _share(live, browser)
            _state(live, browser, asked=asked)
    except LegsError as error:
        faults = [
            {
                "leg": f.leg,
                "column": f.column,
                "message": f.message.removeprefix(f.head),
                "fix": f.fix,
            }
            for f in error.faults
        ]
        browser.tell("legs", run=browser.run, seq=seq, faults=faults)
    except InputError as error:
        routed = "route" if isinstance(message, EditRoute) else ""
        kept = "save" if isinstance(message, Save) else routed
        key = message.key if isinstance(message, Edit) else kept
        raise Refused(_reason(live, browser, message, error), seq, key) from None


async def _changed(
    live: Live,
    browser: Browser,
    given: Run,
    message: Edit | EditRoute | EditLegs | Step | KeepVariant | Take,
) -> WhatIf:
    """The what-if of the run of a browser as a message wants it; InputError where it cannot be."""
    now = browser.what_if
    if isinstance(message, EditRoute):
        wanted = _rerouted(given, now.edits, message)
        try:
            return now.stepped(await _fitting(live, given, wanted), message.gesture or "")
        except GeometryError as error:
            route = apply_edits(given, machines_of(live.job), wanted).route
            raise InputError(Problem(geometry_words(error, route, message.units))) from None
    if isinstance(message, EditLegs):
        edit = await aside(drawn_by_legs, live.job, given, message.lines, message.units)
        wanted = with_route(now.edits, edit)
        return now.stepped(await _fitting(live, given, wanted), message.gesture or "")
    if isinstance(message, Edit):
        if message.key == "route":
            raise InputError(Problem("'route' cannot be edited as a field"))
        value = read_value(message.key, message.text, message.units)
        wanted = with_edit(given, now.edits, message.key, value)
        return now.stepped(await _fitting(live, given, wanted))
    if isinstance(message, Take):
        offered = (s for s in live.shared if s.id == message.id and s.run == browser.run)
        found = next((s for s in offered if s.browser is not browser), None)
        if found is None:
            raise InputError(Problem("this what-if is no longer shared"))
        return now.stepped(await _fitting(live, given, found.edits))
    if isinstance(message, KeepVariant):
        if message.action == "keep":
            return now.kept_as((message.name or "").strip())
        variant = now.variant(message.id or "")
        if variant is None:
            raise InputError(Problem("there is no such variant"))
        if message.action == "drop":
            return now.dropped(variant.id)
        return now.stepped(await _fitting(live, given, variant.edits))
    steps = {"reset": lambda: now.stepped({}), "undo": now.undone, "redo": now.redone}
    return steps[message.type]() if message.type in steps else now


def _rerouted(given: Run, edits: Edits, message: EditRoute) -> dict[str, Value]:
    """The edits with the change of the route that a message asks for; InputError for a bad one."""
    edit, index, units = route_now(given, edits), message.point, message.units
    if len(edit.points) > MOST_POINTS:
        said = f"a route edited on the page has at most {MOST_POINTS} points"
        raise InputError(Problem(said, fix="edit it in the model file"))

    def typed(kind: str) -> float:
        return float(read_quantity(reads_of(kind), message.text, units) or 0.0)

    def place() -> tuple[float, float, float] | None:
        if message.at is None:
            return None
        at = edit.points[min(index, len(edit.points) - 1)].at
        x, y, z = (
            float(read_quantity(reads_of("at"), text, units) or 0.0) if text.strip() else there
            for text, there in zip(message.at, at, strict=True)
        )
        return x, y, z

    if message.action == "move":
        to = place()
        if to is None:
            raise InputError(Problem("a point is moved to three coordinates"))
        edit = moved(edit, index, to, rest=message.rest)
    elif message.action == "insert":
        edit = inserted(edit, index, place())
    elif message.action == "delete":
        edit = deleted(edit, index, given)
    elif message.action == "bend":
        edit = with_bend(edit, index, typed("bend"), given)
    else:
        edit = with_length(edit, index, typed("leg"), rest=message.rest)
    return with_route(edits, with_radii(edit, given))


async def _fitting(live: Live, given: Run, edits: Edits) -> Edits:
    """Those of the edits that change the run; InputError where they fit nothing in it."""
    _, kept = await aside(edited_run, live.job, given, edits)
    return kept


def _reason(live: Live, browser: Browser, message: Message, error: InputError) -> str:
    """Why not; a radius that does not fit in the units it was typed in."""
    words = "; ".join(problem_words(p) for p in error.problems)
    if not isinstance(message, Edit) or browser.run != message.run:
        return words
    given = live.given(message.run)
    edits = browser.what_if.edits
    fields = edit_fields(given, edited_run(live.job, given, edits)[0], edits)
    label = next((f.label for f in fields if f.key == message.key), "")
    if isinstance(error, GeometryError) and error.largest_radius is not None:
        largest = show(error.largest_radius, "radius", message.units)
        words = f"this radius leaves no straight between the bends; maximum that fits: {largest}"
    return f"{label}, {message.text!r}: {words}" if label else words


def problem_words(problem: Problem) -> str:
    """One problem on one line: its line in the file first, the folders omitted."""
    line = f"line {problem.line}" if problem.line is not None else problem.cell
    place = f"{line}: " if line else ""
    return place + str(replace(problem, file="", line=None, cell=""))


# --- coming and going --------------------------------------------------------------------------


async def _hello(live: Live, browser: Browser, message: Hello) -> None:
    """Take up what this browser left, or what it brings along, and show it its run."""
    if browser.client:
        raise Refused("hello was already received")
    brought: dict[int, WhatIf] = {}
    lost: list[str] = []
    if browser.role == "engineer":
        left = next(
            (
                b
                for b in live.browsers
                if b.client == message.client and b.say is None and b.role == browser.role
            ),
            None,
        )
        if left is not None:
            live.browsers.remove(left)
            browser.name, brought = left.name, left.what_ifs
            live.shared = [
                replace(s, browser=browser) if s.browser is left else s for s in live.shared
            ]
        else:
            brought, lost = await aside(_brought, live, message.whatif)
    browser.client, browser.what_ifs, browser.units = message.client, brought, message.units
    if not browser.name:
        live.counted += 1
        browser.name = f"browser {live.counted}"
    live.browsers.append(browser)
    browser.tell("page", data=_frame(live, browser))
    browser.tell(
        "problems", problems=[problem_words(p) for p in live.problems], notice="; ".join(lost)
    )
    there = message.run if message.run < len(live.names) else live.first
    _show(live, browser, there if message.run else live.first)


def _brought(
    live: Live, whatif: Mapping[str, Mapping[str, str]]
) -> tuple[dict[int, WhatIf], list[str]]:
    """What a browser has kept of each run, checked like anything typed; and what was lost of it."""
    found: dict[int, WhatIf] = {}
    lost = []
    for name, texts in whatif.items():
        number = next((i for i, own in enumerate(live.names) if own == name), None)
        if number is None or not texts:
            continue
        try:
            given = live.given(number)
            edits = {k: _kept_value(live.job, given, k, text) for k, text in texts.items()}
            _, kept = edited_run(live.job, given, edits)
        except InputError as error:
            lost.append(_dropped(error))
            continue
        found[number] = WhatIf().stepped(kept)
    return found, lost


def _kept_value(job: Job, given: Run, key: str, text: str) -> Value:
    """What a browser has kept of one edit; InputError for what it cannot have been."""
    if key != "route":
        return read_value(key, text, "SI")
    edit, legs = read_route(text)
    return replace(edit, drawn=drawn_by_legs(job, given, legs).drawn) if legs else edit


def _dropped(error: InputError) -> str:
    said = "the model file has changed; edits that no longer fit were dropped"
    return f"{said} ({problem_words(error.problems[0])})"


def leave(live: Live, browser: Browser) -> None:
    """Forget a connection; what the browser changed is kept for when it comes back."""
    browser.say, browser.shown, browser.shape = None, None, None
    browser.version += 1
    gone = [b for b in live.browsers if b.say is None]
    for old in gone[: max(len(gone) - _MOST_GONE, 0)]:
        live.browsers.remove(old)
        live.shared = [s for s in live.shared if s.browser is not old]


def _frame(live: Live, browser: Browser) -> Data:
    known = {r.name: r for r in live.job.runs}
    return {
        **page_data.frame_data(live.job, live.units, "auto", live.language),
        "live": True,
        "role": browser.role,
        "files": model_files(live.path) if browser.role == "engineer" else [],
        "unconfirmed": bool(live.job.examples),
        "runs": [
            page_data.stub_data(known[n]) if n in known else {"name": n, "ends": [], "stub": True}
            for n in live.names
        ],
    }


def _show(live: Live, browser: Browser, number: int) -> None:
    """Show a run from scratch."""
    browser.run, browser.shown, browser.shape = number, None, None
    ask(live, browser)
    _state(live, browser)


# --- question and answer -----------------------------------------------------------------------


def do(live: Live, work: Coroutine[Any, Any, object]) -> None:
    """Have something done beside; it ends with the server."""
    task = asyncio.get_running_loop().create_task(work)
    live.tasks.add(task)
    task.add_done_callback(live.tasks.discard)


def ask(live: Live, browser: Browser) -> None:
    """Answer what a browser wants to know now, and nothing it asked before."""
    browser.version += 1
    do(live, _tell_all(live, browser, browser.version, browser.seq))


async def _tell_all(live: Live, browser: Browser, version: int, seq: int) -> None:
    """The answer of the newest question in its parts, as long as it is the newest."""
    number, edits, job = browser.run, browser.what_if.edits, live.job
    key = key_of(number, edits)

    async def told(part: str, data: Callable[[], Data], *of: object) -> bool:
        """Send one part; False where another question has come meanwhile.

        ``of`` is all that its data come from, where another browser may be sent the same.
        """
        text = await (live.part((part, *of), data) if of else aside(lambda: as_json(data())))
        head = as_json({"type": "run", "run": number, "seq": seq, "part": part})
        return current() and _sent(browser, f'{head[:-1]},"data":{text}}}')

    def current() -> bool:
        return version == browser.version and job is live.job and browser.say is not None

    async def meshes(session: Session) -> bool:
        shape = page_data.geometry_key(session)
        if shape == browser.shape:
            return True
        geometry = partial(page_data.geometry_data, session, len(live.names))
        if not await told("geometry", geometry, key, shape):
            return False
        browser.shape = shape
        return True

    try:
        shown = browser.shown
        if live.known(key) is None and live.took.get(number, 0.0) > _SLOW and shown is not None:
            early = await aside(_previewed, live.job, shown, edits)
            if early and not await told("answer", lambda: early):
                return
        session = await _answer(live, number, edits, shown)
        editable = browser.role == "engineer"
        same = browser.shape is not None and page_data.tube_key(session) == browser.shape[0]
        units = (browser.units,)  # first what is seen at once
        rest = tuple(u for u in SYSTEMS if u not in units)
        if not current() or not await told(
            "answer",
            partial(page_data.answer_data, session, units, colors=same, editable=editable),
            session,
            units,
            same,
            editable,
        ):
            return
        browser.shown = session
        if not await told("answer", partial(page_data.word_data, session, rest), session, rest):
            return
        if browser.what_if.variants:  # what is shown now stands beside them
            _state(live, browser)
        if not await meshes(session):
            return
        if session.is_planned and session.margins and not needs_advice(session):
            return
        await asyncio.sleep(_REST)
        async with live.late:
            await _work_out(live, browser, session, current, told, meshes)
    except InputError as error:
        if not current():
            return
        words = "; ".join(problem_words(p) for p in error.problems)
        if browser.shown is None and not edits:
            browser.tell("problems", problems=[words], notice="")
            return
        browser.tell("refused", seq=seq, key="", reason=words)
        browser.what_ifs[number] = browser.what_if.undone()
        _state(live, browser)


def _sent(browser: Browser, text: str) -> bool:
    if browser.say is None:
        return False
    browser.say(text)
    return True


async def _work_out(
    live: Live,
    browser: Browser,
    session: Session,
    current: Callable[[], bool],
    told: Callable[..., Awaitable[bool]],
    meshes: Callable[[Session], Awaitable[bool]],
) -> None:
    """What takes longer than the answer: plans, what the bends have left, and advice."""
    key = key_of(browser.run, session.edits)

    async def worked_out(
        work: Callable[[], Session], part: str, data: Callable[[Session], Data]
    ) -> Session | None:
        """The session with more known of it, told; None where it is no longer needed."""
        found = await aside(work)
        live.keep(key, found)
        if not await told(part, partial(data, found)):
            return None
        browser.shown = found
        return found

    now: Session | None = session if current() else None
    for n in (session.best, 1 - session.best):
        if now is not None and now.planned[n] is None:
            now = await worked_out(partial(planned, now, n), "plan", partial(_plan_of, n))
    if now is None or not await meshes(now):  # the machine stands elsewhere
        return
    if not now.margins:
        now = await worked_out(partial(margined, now), "plan", page_data.margin_data)
    if now is not None and needs_advice(now):
        await worked_out(partial(advised, now), "advice", page_data.advice_data)


def _plan_of(n: int, session: Session) -> Data:
    return page_data.plan_data(session, n)


async def _answer(live: Live, number: int, edits: Edits, shown: Session | None) -> Session:
    """The answer to a run with edits, calculated where there is none yet."""
    key = key_of(number, edits)
    session = live.known(key)
    if session is None:
        job, start = live.job, perf_counter()
        given, surroundings = live.given(number), live.surroundings
        told = translation_for(job, [], live.language)
        make = partial(answered, before=shown, told=told)
        session = await aside(make, job, given, edits, surroundings)
        live.took[number] = perf_counter() - start
        live.keep(key, session)
    return session


def _previewed(job: Job, shown: Session, edits: Edits) -> Data:
    """Colors and peaks of a question on the route that is on show; else nothing."""
    run, _ = edited_run(job, shown.given, edits)
    if job is not shown.job or run.route.vertices != shown.run.route.vertices:
        return {}
    pulls = [preview(job, shown.given, edits, reverse=reverse) for reverse in (False, True)]
    return page_data.preview_data(shown, pulls)


# --- what-ifs in words -------------------------------------------------------------------------


def _state(live: Live, browser: Browser, *, asked: bool = False) -> None:
    if browser.role == "engineer":
        do(live, _tell_state(live, browser, browser.run, browser.what_if, browser.seq, asked))


async def _tell_state(
    live: Live, browser: Browser, number: int, what_if: WhatIf, seq: int, asked: bool
) -> None:
    """What a browser has changed and kept, and what others offer it.

    ``asked`` says that the answer to it comes apart from this.
    """
    job = live.job
    offered = [s for s in live.shared if s.run == number and s.browser is not browser]

    def words() -> str:
        given = live.given(number)
        shown = live.known(key_of(number, what_if.edits))
        return as_json(
            {
                "type": "state",
                "run": number,
                "seq": seq,
                "asked": asked,
                "name": browser.name,
                "edits": page_data.edit_words(job, given, what_if.edits),
                "whatif": {key: exact_text(key, value) for key, value in what_if.edits.items()},
                "current": page_data.summary_data(shown) if shown else {"working": True},
                "canUndo": what_if.can_undo,
                "canRedo": what_if.can_redo,
                "variants": [
                    {
                        "id": v.id,
                        "name": v.name,
                        "edits": page_data.edit_words(job, given, v.edits),
                        **_summary(live, number, v.edits),
                    }
                    for v in what_if.variants
                ],
                "shared": [
                    {
                        "id": s.id,
                        "name": s.browser.name,
                        "edits": page_data.edit_words(job, given, s.edits),
                    }
                    for s in offered
                ],
            }
        )

    try:
        text = await aside(words)
    except InputError:  # the file has changed meanwhile: what follows from that is told apart
        return
    if what_if == browser.what_if and number == browser.run and job is live.job:
        _sent(browser, text)


def _summary(live: Live, number: int, edits: Edits) -> Data:
    """The figures of a variant, to hold it against others."""
    key = key_of(number, edits)
    session = live.known(key)
    if session is None:
        told = translation_for(live.job, [], live.language)
        session = answered(live.job, live.given(number), edits, live.surroundings, told=told)
        live.keep(key, session)
    return page_data.summary_data(session)


def _share(live: Live, browser: Browser) -> None:
    """Offer the what-if of a browser to the others, in place of what it offered before."""
    others = [s for s in live.shared if s.browser is not browser or s.run != browser.run]
    live.counted += 1
    offer = Shared(str(live.counted), browser, browser.run, browser.what_if.edits)
    live.shared = [*others, *([offer] if offer.edits else [])][-_MOST_SHARED:]
    for other in live.browsers:
        if other is not browser and other.run == browser.run:
            _state(live, other)


async def _save(live: Live, browser: Browser, message: Save) -> str:
    """Write a run with its edits to a new file beside the model, or into the model; its name."""
    name = live.path.name if message.into else message.name.strip()
    if not message.into and not MODEL_NAME.fullmatch(name):
        raise InputError(
            Problem(
                f"{name!r} is not a model file name",
                fix="enter one without a folder that ends in .toml, such as feeder 2.toml",
            )
        )
    out = live.path.parent / name
    if message.into and live.path.suffix.lower() != ".toml":
        fix = "save to a new model file, or convert it to one (.toml) and serve that"
        raise InputError(Problem(f"{live.path.name} is not written by the page", fix=fix))
    if live.saved >= _MOST_SAVED:
        raise InputError(Problem(f"{_MOST_SAVED} files saved, the maximum: restart the server"))
    what_if = browser.what_ifs.get(message.run, WhatIf())
    edits = what_if.edits
    number, job, machines = message.run, live.job, machines_of(live.job)
    if message.into and not edits:
        raise InputError(Problem("nothing has been changed"))

    def write() -> None:
        if not message.into and (out.exists() or out.is_symlink()):
            raise InputError(Problem(f"file {name} already exists", fix="choose another name"))
        if stamp_of(live.path).digest != live.stamp.digest:
            raise InputError(Problem("the model file is being changed", fix="try again"))
        if message.into:
            backup = live.path.with_name(f"{live.path.name}.bak")
            write_bytes_atomic(backup, live.path.read_bytes())
        write_edited(
            live.path,
            out,
            job,
            live.names[number],
            lambda run: apply_edits(run, machines, edits),
            over_model=message.into,
        )

    live.saved += 1
    async with live.late:
        await aside(write)
    if message.into:  # the file has them now
        fresh = WhatIf(variants=what_if.variants, kept=what_if.kept)
        browser.what_ifs[message.run] = fresh
    return name


# --- asked for beside the run ------------------------------------------------------------------


async def _explain(live: Live, browser: Browser, message: Explain) -> None:
    """Tell a browser what is behind a rule, with the figures of the run as it shows it."""
    try:
        shown = browser.shown
        if shown is None or browser.run != message.run:
            shown = await _answer(live, message.run, {}, None)
        data = await aside(explanation_data, shown, message.rule, message.units)
    except InputError as error:
        words = "; ".join(problem_words(p) for p in error.problems)
        browser.tell("refused", seq=message.seq, key="explain", reason=words)
        return
    browser.tell("explained", seq=message.seq, data=data)


async def _compare(live: Live, browser: Browser, given: Run, message: Compare) -> None:
    """Tell a browser how its what-if, a variant or another file differs from the file."""
    job, what_if = live.job, browser.what_ifs.get(message.run, WhatIf())

    def other() -> tuple[str, Job]:
        if message.file:
            return message.file, other_job(live.path, message.file)
        label, edits = "what-if", what_if.edits
        if message.variant is not None:
            variant = what_if.variant(message.variant)
            if variant is None:
                raise InputError(Problem("there is no such variant"))
            label, edits = variant.name, variant.edits
        if not edits:
            raise InputError(Problem("nothing has been changed"))
        return label, replace(job, runs=(edited_run(job, given, edits)[0],))

    try:
        async with live.late:
            data = await aside(lambda: comparison_data(job, given, other(), message.units))
    except InputError as error:
        words = "; ".join(problem_words(p) for p in error.problems)
        browser.tell("refused", seq=message.seq, key="compare", reason=words)
        return
    browser.tell("compared", seq=message.seq, run=message.run, data=data)


async def _sensitivity(live: Live, browser: Browser, given: Run, message: AskSensitivity) -> None:
    """Tell a browser the spread and the limits of its what-if of a run, or of the file."""
    job, what_if = live.job, browser.what_ifs.get(message.run, WhatIf())

    def made() -> Data:
        run = edited_run(job, given, what_if.edits)[0]
        data = sensitivity_data(replace(job, runs=(run,)))[0]
        return data | {"edits": page_data.edit_words(job, given, what_if.edits)}

    try:
        async with live.studies:
            data = await aside(made)
    except InputError as error:
        words = "; ".join(problem_words(p) for p in error.problems)
        browser.tell("refused", seq=message.seq, key="sensitivity", reason=words)
        return
    except ModuleNotFoundError as error:
        words = f"this needs the package {error.name}: pip install 'route3d[study]'"
        browser.tell("refused", seq=message.seq, key="sensitivity", reason=words)
        return
    browser.tell("studied", seq=message.seq, run=message.run, data=data)


# --- the model file ----------------------------------------------------------------------------


async def watch(live: Live) -> None:
    """Read the model file again whenever its bytes change."""
    while True:
        await asyncio.sleep(POLL)
        stamp = changed_stamp(live.path, live.stamp)
        if stamp is not None:
            await _reread(live, stamp)


async def _reread(live: Live, stamp: Stamp) -> None:
    live.stamp = stamp
    try:
        job = await aside(load, live.path)
        surroundings = await aside(surroundings_of, job)
        live.problems = ()
    except InputError as error:
        live.problems = error.problems
        _tell_problems(live)
        return
    before, live.job, live.surroundings = live.job, job, surroundings
    live.answers.clear()
    live.parts.clear()
    live.names += [r.name for r in job.runs if r.name not in live.names]
    lost = {id(b): await aside(_refit, live, b) for b in live.browsers}
    offers = [await aside(_refit_offer, live, s) for s in live.shared]
    live.shared = [s for s in offers if s is not None]
    anew = _framed(job) != _framed(before)
    for browser in list(live.browsers):
        if browser.say is None:
            continue
        if anew:
            browser.tell("page", data=_frame(live, browser))
            browser.shape = None
        browser.tell("problems", problems=_missing(live, browser), notice=lost.get(id(browser), ""))
        if not _missing(live, browser):
            ask(live, browser)
            _state(live, browser)


def _framed(job: Job) -> tuple[object, ...]:
    """What the frame of a page shows of a job."""
    return job.title, job.examples, [run.name for run in job.runs]


def _missing(live: Live, browser: Browser) -> list[str]:
    """What is wrong with the file for a browser: it may have lost the run that is on show."""
    try:
        live.given(browser.run)
    except InputError as error:
        return [problem_words(p) for p in error.problems]
    return []


def _tell_problems(live: Live) -> None:
    for browser in live.browsers:
        browser.tell("problems", problems=[problem_words(p) for p in live.problems], notice="")


def _refit(live: Live, browser: Browser) -> str:
    """Keep what still fits of a browser's edits; what was dropped, in words."""
    lost = ""
    for number, what_if in list(browser.what_ifs.items()):
        try:
            given = live.given(number)
            _, kept = edited_run(live.job, given, what_if.edits)
        except InputError as error:
            kept, lost = {}, _dropped(error)
        variants = tuple(v for v in what_if.variants if _fits(live, number, v.edits))
        fresh = WhatIf((kept,), 0, variants, what_if.kept)
        browser.what_ifs[number] = fresh if not kept else replace(fresh, steps=({}, kept), at=1)
    return lost


def _fits(live: Live, number: int, edits: Edits) -> bool:
    try:
        edited_run(live.job, live.given(number), edits)
    except InputError:
        return False
    return True


def _refit_offer(live: Live, offer: Shared) -> Shared | None:
    return offer if _fits(live, offer.run, offer.edits) else None
