"""The form of a new job without a browser: what it asks, answers, finds, and writes."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from route3d.modelfile.read import load
from viewer.web.start import Start, hear_start

ID = "0123456789abcdef" * 2
ROUTE = "start pad at 0, 0, -3 heading east\n200 ft\nright 90 at 36 in\n60 ft\nend hall"


class Form:
    """A browser at the form, and what it was told."""

    def __init__(self, start: Start, role: Any = "engineer") -> None:
        self.start, self.role, self.heard = start, role, list[dict[str, Any]]()
        start.said.append(self.told)

    def told(self, text: str) -> None:
        self.heard.append(json.loads(text))

    async def send(self, kind: str, **values: Any) -> dict[str, Any]:
        """Send a message; what came of it."""
        await hear_start(self.start, self.role, self.told, json.dumps({"type": kind, **values}))
        return self.heard[-1]


def play(folder: Path, story: Callable[[Start], Awaitable[None]]) -> None:
    async def run() -> None:
        await story(Start(folder, "US", asyncio.get_running_loop().create_future()))

    asyncio.run(asyncio.wait_for(run(), 60))


def test_nine_questions_come_with_their_defaults_and_each_answer_is_echoed(tmp_path: Path) -> None:
    async def story(start: Start) -> None:
        form = Form(start)
        data = (await form.send("hello", client=ID))["data"]
        assert len(data["questions"]) == 9 and all(q["default"] for q in data["questions"])
        assert data["folder"] == str(tmp_path) and "riser" in data["templates"]
        assert [*data["understood"]] == [q["key"] for q in data["questions"]]
        assert all(told.get("lines") for told in data["understood"].values())
        told = (await form.send("answers", seq=1, answers={"route": ROUTE}))["data"]
        assert "pad to hall: 258" in told["understood"]["route"]["lines"][0]
        told = (await form.send("answers", seq=2, answers={"rules": "CENELEC, SI"}))["data"]
        assert told["system"] == "SI" and "45 m" in told["questions"][5]["default"]
        # the first mistake is said, what hangs on it is not
        told = (await form.send("answers", seq=3, answers={"cable": "500 kcmil"}))["data"]
        assert "fits" in told["understood"]["cable"]["wrong"]
        assert [*told["understood"]] == ["rules", "cable", "route"]
        assert "235.4 ft" in told["understood"]["route"]["lines"][0]
        # a route in conduits that are wrong waits for them; no command of a terminal is offered
        riser = {"cable": "x", "route": ROUTE.replace("60 ft", "60 ft in riser")}
        for conduit, keys in (("PVC-40 5 and RMC 5", ["route"]), ("PVC-40 55", [])):
            answers = riser | {"conduit": conduit}
            told = (await form.send("answers", seq=4, answers=answers))["data"]["understood"]
            assert [*told] == ["rules", "cable", *keys] and "route3d" not in told["cable"]["wrong"]
            assert all("lines" in told[key] for key in keys)

    play(tmp_path, story)


def test_stock_is_found_as_it_is_typed(tmp_path: Path) -> None:
    async def story(start: Start) -> None:
        form = Form(start)
        found = await form.send("find", seq=1, key="cable", words="500 kcmil")
        assert len(found["names"]) == 12 and found["more"] > 0
        assert all("500 kcmil" in name for name in found["names"])
        assert (await form.send("find", seq=2, key="cable", words=" "))["names"] == []
        assert (await form.send("find", seq=3, key="route", words="500"))["names"] == []

    play(tmp_path, story)


def test_the_file_is_written_once_and_opened_for_all(tmp_path: Path) -> None:
    async def story(start: Start) -> None:
        form, crew = Form(start), Form(start, "crew")
        await form.send("begin", seq=1, name="new job.toml", answers={"route": ROUTE})
        assert start.chosen.result() == tmp_path / "new job.toml"
        assert form.heard[-1] == crew.heard[-1] == {"type": "begun", "file": "new job.toml"}
        job = load(tmp_path / "new job.toml")
        assert job.runs[0].route.vertices[-1].name == "hall"
        assert "conduit.duct" in job.examples  # what was not answered is marked
        assert "open already" in (await form.send("begin", seq=2, name="b.toml"))["reason"]
        assert [p.name for p in tmp_path.iterdir()] == ["new job.toml"]

    play(tmp_path, story)


def test_a_template_is_written_in_the_units_of_the_form(tmp_path: Path) -> None:
    async def story(start: Start) -> None:
        form = Form(start)
        told = await form.send("begin", seq=1, name="a.toml", template="shaft")
        assert "no template" in told["reason"] and not start.chosen.done()
        await form.send("begin", seq=2, name="a.toml", template="riser", units="SI")
        assert load(start.chosen.result()).units == "SI"

    play(tmp_path, story)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"name": "../x.toml"}, "not a model file name"),
        ({"name": "/tmp/x.toml"}, "not a model file name"),
        ({"name": "x.txt"}, "not a model file name"),
        ({"name": "there.toml"}, "already exists"),
        ({"name": "x.toml", "answers": {"cable": "500 kcmil"}}, "fits"),
        ({"name": "x.toml", "answers": {"count": "many"}}, "number of cables"),
        (
            {"name": "x.toml", "answers": {"route": "9 ft\n6 ft"}},
            "the first leg is not the start",
        ),
    ],
)
def test_what_cannot_be_written_is_refused(
    tmp_path: Path, values: dict[str, Any], words: str
) -> None:
    async def story(start: Start) -> None:
        (tmp_path / "there.toml").write_text("kept")
        told = await Form(start).send("begin", seq=1, **values)
        assert told["type"] == "refused" and words in told["reason"]
        assert not start.chosen.done() and (tmp_path / "there.toml").read_text() == "kept"
        assert len([*tmp_path.iterdir()]) == 1

    play(tmp_path, story)


def test_a_crew_only_waits(tmp_path: Path) -> None:
    async def story(start: Start) -> None:
        crew = Form(start, "crew")
        assert (await crew.send("hello", client=ID))["data"] == {"role": "crew"}
        for kind, values in (
            ("begin", {"name": "x.toml"}),
            ("answers", {"answers": {}}),
            ("find", {"key": "cable", "words": "500"}),
        ):
            assert "read-only" in (await crew.send(kind, seq=1, **values))["reason"]
        assert "No model file is open" in (await Form(start).send("undo", seq=1, run=0))["reason"]

    play(tmp_path, story)
