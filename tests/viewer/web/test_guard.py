"""Who may be served what."""

from __future__ import annotations

import pytest

from route3d.errors import InputError
from viewer.web.guard import check_host, is_loopback, role_of
from viewer.web.server import address


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "[::1]", "localhost"])
def test_this_machine_needs_no_token(host: str) -> None:
    assert is_loopback(host)
    check_host(host, None)


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "::", "192.168.1.20", "10.0.0.1", "yard-pc", "", "127.0.0.1.example"]
)
def test_others_are_not_served_with_or_without_a_token(host: str) -> None:
    assert not is_loopback(host)
    for token in (None, "crew-4711-blue"):
        with pytest.raises(InputError, match="this machine only"):
            check_host(host, token)


@pytest.mark.parametrize("token", ["", "short", "has space in it", "ümläut-ümläut", "a;b;c;d;e"])
def test_a_token_too_weak_or_unfit_for_an_address_is_refused(token: str) -> None:
    with pytest.raises(InputError, match="token"):
        check_host("127.0.0.1", token)


def test_the_address_to_open() -> None:
    assert address("127.0.0.1", 80, "engineer", "a-word") == "http://127.0.0.1:80/?token=a-word"
    assert address("::1", 8080, "crew", "word") == "http://[::1]:8080/crew/?token=word"


@pytest.mark.parametrize(
    ("path", "role"),
    [("/", "engineer"), ("/ws", "engineer"), ("/crew/", "crew"), ("/crew/ws", "crew")],
)
def test_a_folder_for_each_link(path: str, role: str) -> None:
    assert role_of(path) == role
