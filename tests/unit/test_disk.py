"""Atomic writing: the whole file or the old one, never something between."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from route3d.disk import write_bytes_atomic, write_text_atomic
from route3d.errors import InputError


def test_text_is_utf8_with_plain_line_ends(tmp_path: Path) -> None:
    write_text_atomic(tmp_path / "a.txt", "é\n")
    assert (tmp_path / "a.txt").read_bytes() == "é\n".encode()
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_the_old_file_stays_when_writing_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="cannot be written: no space left on device"):
        write_bytes_atomic(target, b"new")
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_permissions_are_those_of_a_plain_new_file_or_of_the_old_one(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.touch()
    write_bytes_atomic(tmp_path / "new", b"")
    assert (tmp_path / "new").stat().st_mode == plain.stat().st_mode
    plain.chmod(0o640)
    write_bytes_atomic(plain, b"x")
    assert plain.stat().st_mode & 0o777 == 0o640


def test_a_link_is_written_through(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    (tmp_path / "link").symlink_to("real")
    write_text_atomic(tmp_path / "link", "new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"


def test_no_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        write_text_atomic(tmp_path / "none" / "a.txt", "")


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        write_text_atomic(tmp_path, "")


def test_a_device_is_not_replaced() -> None:
    with pytest.raises(InputError, match="is not a regular file"):
        write_text_atomic("/dev/null", "")
    assert Path("/dev/null").is_char_device()


def test_a_write_protected_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.txt"
    target.write_text("old")
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # root may write everything
    with pytest.raises(InputError, match="is write-protected"):
        write_text_atomic(target, "new")
    assert target.read_text() == "old"


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_an_impossible_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError):
        write_text_atomic(tmp_path / name, "")
