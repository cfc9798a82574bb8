"""The page of ``route3d serve`` without a file: nine questions as a form, and the file they make.

The questions, what an answer came to, and the model file are those of ``route3d new --ask``
(``modelfile/interview.py``); here they only travel. The file is written once, under a name that is
free, in the folder the server was started in; then the page is that of the file.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from route3d.disk import write_text_atomic
from route3d.errors import InputError, Problem
from route3d.modelfile.interview import KEYS, Question, model_text, questions, system_of, understood
from route3d.modelfile.read import loads
from route3d.modelfile.starter import TEMPLATES, template_text
from route3d.standards.tables import NotInTable
from viewer.web.aside import aside
from viewer.web.guard import Role
from viewer.web.handover import as_json
from viewer.web.messages import (
    MODEL_NAME,
    Answers,
    Begin,
    Find,
    Hello,
    Message,
    Ping,
    Refused,
    read_message,
)

Data = dict[str, Any]

_MOST_FOUND = 12
# Stands for the answers that are wrong while the route is checked: thin enough for any conduit.
_ANY = {"cable": "600 V XHHW-2 copper 14 AWG", "count": "1", "friction": "0.3"}


@dataclass(slots=True, eq=False)
class Start:
    """The form before there is a file: its ``folder``, and the file once one is ``chosen``.

    ``units`` are those of the defaults; ``said`` sends a message to every browser that waits.
    """

    folder: Path
    units: str
    chosen: asyncio.Future[Path]
    said: list[Callable[[str], None]] = field(default_factory=list)


async def hear_start(
    start: Start, role: Role, say: Callable[[str], None], text: str | bytes
) -> None:
    """Carry out a message of the form, or refuse it with the reason."""

    def tell(kind: str, **values: Any) -> None:
        say(as_json({"type": kind, **values}))

    try:
        await _obey(start, role, tell, read_message(text))
    except Refused as refused:
        tell("refused", seq=refused.seq, key=refused.key, reason=refused.reason)


async def _obey(start: Start, role: Role, tell: Callable[..., None], message: Message) -> None:
    if isinstance(message, Ping):
        tell("pong", at=message.at)
        return
    if isinstance(message, Hello):
        tell("start", data=await aside(start_data, start, role))
        return
    seq = getattr(message, "seq", 0)
    if role == "crew":
        raise Refused("This link is read-only: nothing can be changed here.", seq)
    if isinstance(message, Answers):
        answers = {**message.answers, "units": start.units}
        tell("understood", seq=seq, data=await aside(understood_data, answers))
    elif isinstance(message, Find):
        tell("found", seq=seq, **await aside(_found, start, message))
    elif isinstance(message, Begin):
        await _begin(start, tell, message)
    else:
        raise Refused("No model file is open yet.", seq)


def start_data(start: Start, role: Role) -> Data:
    """The form: the questions with their defaults, and the templates; for a crew, that it waits."""
    if role == "crew":
        return {"role": role}
    return {
        "role": role,
        "folder": str(start.folder),
        "templates": [*TEMPLATES],
        **understood_data({"units": start.units}),
    }


def understood_data(answers: Mapping[str, str]) -> Data:
    """The questions as the answers leave them, and what each came to, up to the first mistake.

    The route is checked beside a mistake in an answer that it does not depend on.
    """
    told: Data = {}
    for key in KEYS:
        told[key] = _told(key, answers)
        if "wrong" in told[key]:
            break
    alone = {k: answers[k] for k in ("units", "rules", "conduit", "route") if k in answers} | _ANY
    if "route" not in told and "lines" in _told("conduit", alone):
        told["route"] = _told("route", alone)
    system = system_of(answers)
    return {
        "system": system,
        "questions": [_question(q) for q in questions(system)],
        "understood": told,
    }


def _told(key: str, answers: Mapping[str, str]) -> Data:
    try:
        return {"lines": list(understood(key, answers))}
    except (InputError, NotInTable) as error:
        return {"wrong": _words(error)}


def _question(asked: Question) -> Data:
    names = ("key", "title", "text", "default", "help", "lines")
    return {**{name: getattr(asked, name) for name in names}, "kind": asked.kind or ""}


def _words(error: Exception) -> str:
    if not isinstance(error, InputError):
        return str(error)
    # a command of the terminal is no help on the page
    told = (
        "; ".join(t for t in (p.message, p.fix) if t and "`route3d" not in t)
        for p in error.problems
    )
    return "\n".join(dict.fromkeys(told))


def _found(start: Start, message: Find) -> Data:
    """The stock names that hold what was typed so far, best first."""
    asked = next((q for q in questions(start.units) if q.key == message.key), None)
    names = () if asked is None or not message.words.strip() else asked.matches(message.words)
    more = max(len(names) - _MOST_FOUND, 0)
    return {"key": message.key, "names": list(names[:_MOST_FOUND]), "more": more}


async def _begin(start: Start, tell: Callable[..., None], message: Begin) -> None:
    """Write the file, and open it for every browser that waits."""
    if start.chosen.done():
        raise Refused("A model file is open already: load the page again.", message.seq)
    try:
        path = await aside(_write, start, message)
    except (InputError, NotInTable) as error:
        raise Refused(_words(error), message.seq, "name" if _is_of_name(error) else "") from None
    if start.chosen.done():  # another browser was faster; its file is open, this one lies beside it
        raise Refused(f"{path.name} was written, but another file was opened first", message.seq)
    start.chosen.set_result(path)
    for say in start.said:
        say(as_json({"type": "begun", "file": path.name}))


def _is_of_name(error: Exception) -> bool:
    return isinstance(error, InputError) and error.problems[0].where == "name"


def _write(start: Start, message: Begin) -> Path:
    name = message.name.strip()
    path = start.folder / name
    if not MODEL_NAME.fullmatch(name):
        problem = Problem(f"{name!r} is not a model file name", "name", "end it in .toml")
        raise InputError(problem)
    if path.exists() or path.is_symlink():
        raise InputError(Problem(f"file {name} already exists", "name", "choose another name"))
    if message.template:
        if message.template not in TEMPLATES:
            raise InputError(Problem(f"no template is named {message.template!r}"))
        text = template_text(message.template, message.units)
    else:
        text = model_text({**message.answers, "units": start.units})
    loads(text, name, start.folder)  # nothing is written that could not be opened
    write_text_atomic(path, text)
    return path
