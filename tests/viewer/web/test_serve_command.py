"""``route3d serve`` where it cannot serve: exit code 2, and what to do about it."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from route3d.cli.main import main

MODELS = Path(__file__).parents[3] / "models"
DROP = str(MODELS / "roof_drop.toml")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--host", "0.0.0.0"], "this machine only"),
        (["--host", "192.0.2.7"], "this machine only"),
        (["--token", "short"], "at least 8"),
        (["--run", "Z9"], "N1"),
        (["--host", "192.0.2.7", "--token", "crew-4711-blue"], "this machine only"),
        (["--host", "no.such.host.invalid", "--token", "crew-4711-blue"], "this machine only"),
    ],
)
def test_what_it_refuses(capsys: pytest.CaptureFixture[str], options: list[str], said: str) -> None:
    assert main(["serve", DROP, "--no-browser", *options]) == 2
    captured = capsys.readouterr()
    assert said in captured.err and captured.out == ""


def test_a_port_that_is_taken(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["serve", DROP, "--no-browser", "--port", str(port)]) == 2
    assert f"cannot listen at 127.0.0.1:{port}" in capsys.readouterr().err


def test_a_model_that_cannot_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    model = tmp_path / "bad.toml"
    model.write_text('units = "SI"\n[cable]\n')
    assert main(["serve", str(model), "--no-browser"]) == 2
    assert "bad.toml" in capsys.readouterr().err
