"""Every test here names what it restates and compares with something printed."""

from __future__ import annotations

from collections.abc import Generator

import pytest

from tests.support.published import COMPARISONS, Place, enter, leave, made_by
from tests.support.published_page import page


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--published-page OUT.md``, where pytest is started with this folder."""
    parser.addoption("--published-page", default="", help="write the page of printed figures")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, None, None]:
    """Note where the figures of the running test are printed; fail one that compares with none."""
    enter(place_of(item))
    try:
        yield
    finally:
        leave()
    if not made_by(item.nodeid):
        pytest.fail("compares with nothing printed: use printed(), or move it to tests/oracles")


def place_of(item: pytest.Item) -> Place:
    """Source and clause from the markers, the case from the name of the test."""
    texts = []
    for marker in ("source", "clause"):
        found = item.get_closest_marker(marker)
        if found is None or not found.args:
            pytest.fail(f"names no {marker}: mark it @pytest.mark.{marker}(...)")
        texts.append(str(found.args[0]))
    name, _, case = item.name.partition("[")
    what = name.removeprefix("test_").replace("_", " ") + (f" [{case}" if case else "")
    return Place(item.nodeid, *texts, what)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Write the page where it was asked for."""
    out = session.config.getoption("published_page", "")
    if out:
        page(COMPARISONS, out)
