"""The list of what would make a run pass, as the live page works it out beside the edits."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from route3d.planning.evaluate import evaluate
from route3d.report.remedies import list_data, remedy_list
from tests.viewer.page.jobs import MODELS, weak_adapter
from viewer.page import live as module
from viewer.page.live import Live, ask, live_of, run_key
from viewer.page.session import Session, advised, edited, open_session, with_edits

RISER, YARD = MODELS / "riser_duct_bank.toml", MODELS / "yard_run.toml"
WAIT = 60.0


class State(dict[str, Any]):
    """The shared state of the page: what was sent last, and every list that was sent."""

    shown = 0

    def __init__(self) -> None:
        self.lists: list[Any] = []

    def __enter__(self) -> State:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def update(self, values: Any) -> None:  # type: ignore[override]
        super().update(values)
        self.lists += [v["US"] for k, v in values.items() if k == run_key(0, "help")]


class Server:
    def __init__(self) -> None:
        self.state = State()


class Page:
    """A run that is served, without a browser."""

    def __init__(self, session: Session) -> None:
        self.server, self.live = Server(), live_of(session, 0, 0.0)

    @property
    def state(self) -> State:
        return self.server.state

    @property
    def list(self) -> Any:
        return self.state.get(run_key(0, "help"), {}).get("US")

    def ask(self, wanted: Session) -> None:
        ask(self.server, self.live, wanted)

    async def until(self, seen: Callable[[], object]) -> None:
        late = time.monotonic() + WAIT
        while not seen():
            assert time.monotonic() < late, self.list
            await asyncio.sleep(0.01)

    async def ended(self) -> None:
        await self.until(lambda: not self.live.tasks)


def friction(live: Live, figure: str) -> Session:
    return edited(live.wanted, "friction:duct", figure, "US")


def numbers(told: Any) -> list[int]:
    return [line["number"] for group in told["groups"] for line in group["lines"]]


def test_an_edit_that_makes_the_run_fail_shows_the_list_and_one_that_passes_none() -> None:
    async def story() -> None:
        page = Page(open_session(RISER))
        page.ask(page.live.wanted)
        await page.ended()
        assert page.list["groups"] == [] and page.list["foot"] == ""
        page.ask(friction(page.live, "0.9"))
        await page.ended()
        assert page.live.session.fails
        assert page.list["title"] and numbers(page.list)[0] == 1
        assert page.list["command"] == "" and "as edited here" in page.list["foot"]
        assert any("Looking for" in told["foot"] for told in page.state.lists)  # while it is made
        page.ask(with_edits(page.live.wanted, {}))
        await page.ended()
        assert page.list["groups"] == [] and page.list["foot"] == ""

    asyncio.run(story())


def test_the_list_is_that_of_the_commands_and_stays_with_the_other_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    session = open_session(YARD)
    (answer,) = evaluate(session.job).runs
    expected = list_data(remedy_list(answer, "US"))
    searched: list[Session] = []
    monkeypatch.setattr(module, "advised", lambda s: searched.append(s) or advised(s))

    async def story() -> None:
        page = Page(session)
        page.ask(page.live.wanted)
        await page.ended()
        assert page.list["title"] == expected["title"] and page.list["foot"] == expected["foot"]
        told = [line for group in page.list["groups"] for line in group["lines"]]
        assert told == [line for group in expected["groups"] for line in group["lines"]]
        for end in ("0", "best"):
            page.ask(edited(page.live.wanted, "feed", end, "US"))
            await page.ended()
            assert numbers(page.list) == [line["number"] for line in told]

    asyncio.run(story())
    assert len(searched) == 1


def test_a_run_that_only_its_plan_stops_has_its_list(tmp_path: Path) -> None:
    async def story() -> None:
        page = Page(open_session(weak_adapter(tmp_path)))
        assert not page.live.session.result.stops
        page.ask(page.live.wanted)
        await page.ended()
        assert page.live.session.fails and page.list["groups"]

    asyncio.run(story())


def test_an_edit_is_answered_while_a_list_is_made_and_that_list_is_never_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nor are lists made that nobody asks for any more: they would slow down the newest."""
    hold, searched = Event(), []

    def slow(session: Session) -> Session:
        searched.append(session.run)
        assert hold.wait(WAIT)
        return advised(session)

    monkeypatch.setattr(module, "advised", slow)

    async def story() -> None:
        page = Page(open_session(RISER))
        first = friction(page.live, "0.9")
        page.ask(first)
        await page.until(lambda: searched)
        for figure in ("0.8", "0.7"):  # each answered, with the first list still being made
            wanted = friction(page.live, figure)
            page.ask(wanted)
            await page.until(lambda w=wanted: page.live.session.run is w.run)
            assert "Looking for" in page.list["foot"] and not page.list["groups"]
        newest = page.live.wanted
        hold.set()
        await page.ended()
        assert searched == [first.run, newest.run]
        assert page.live.session.run is newest.run is page.live.wanted.run
        assert [bool(told["groups"]) for told in page.state.lists].count(True) == 1
        page.ask(friction(page.live, "0.25"))
        await page.ended()
        assert page.list["groups"] == [] and page.list["foot"] == ""

    asyncio.run(story())


def test_a_run_too_large_to_search_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    for place in (module, module.publish.words):
        monkeypatch.setattr(place, "is_quick", lambda _: False)
    monkeypatch.setattr(module, "advised", lambda _: pytest.fail("searched all the same"))

    async def story() -> None:
        page = Page(open_session(YARD))
        page.ask(page.live.wanted)
        await page.ended()
        assert "too large" in page.list["foot"] and page.list["groups"] == []

    asyncio.run(story())
