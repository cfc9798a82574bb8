"""The page is built of widgets that know every attribute they are given."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from viewer.page.server import CLIENT_ONLY, build
from viewer.page.session import open_session

RISER = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"


@pytest.fixture(scope="module")
def page() -> tuple[Any, list[Any]]:
    """The server, not started, and every widget made for it."""
    from trame_client.widgets.core import AbstractElement

    made: list[Any] = []
    init = AbstractElement.__init__

    def noted(self: Any, *args: Any, **more: Any) -> None:
        init(self, *args, **more)
        made.append(self)

    session = open_session(RISER)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(AbstractElement, "__init__", noted)
        server = build(session, 0.0, "US").server
    return server, made


def test_no_attribute_is_silently_left_out(page: tuple[Any, list[Any]]) -> None:
    _, made = page
    assert len(made) > 100
    skipped = [(w._elem_name, w.skipped_attributes) for w in made if w.html]
    assert [s for s in skipped if s[1]] == []


def test_every_value_a_browser_keeps_to_itself_has_a_start(page: tuple[Any, list[Any]]) -> None:
    """A name without a first value is no variable in the page, and setting it does nothing."""
    server, _ = page
    assert [key for key in CLIENT_ONLY if not server.state.has(key)] == []
    assert set(CLIENT_ONLY) <= set(server.state.trame__client_only)
