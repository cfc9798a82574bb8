"""README and docs do what they say: their Python runs, printed output is what commands print."""

from __future__ import annotations

import contextlib
import doctest
import io
import re
from functools import cache
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.docs.printed import refreshed

ROOT = Path(__file__).parents[1]
PAGES = ("README.md", *(f"route3d/docs/{p.name}" for p in (ROOT / "route3d/docs").glob("*.md")))
TEXTS = {page: (ROOT / page).read_text(encoding="utf-8") for page in sorted(PAGES)}
README = TEXTS["README.md"]
BLOCKS = [
    (page, *block)
    for page, text in TEXTS.items()
    for block in re.findall(r"```\n\$ route3d (.+)\n((?:.*\n)+?)```", text)
]
# What the README's example of bad input changes in the demo model.
SLIPS = {
    "diameter       = 1.387 ": 'diameter       = "1.36 lb"',
    "friction   = 0.25": "friktion   = 0.25",
}


@pytest.mark.parametrize("page", [page for page, text in TEXTS.items() if ">>> " in text])
def test_the_python_examples_run(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(ROOT / page), module_relative=False)
    assert result.attempted >= 3 and result.failed == 0


def test_the_front_page_stays_short() -> None:
    assert len(README) <= 9000
    # The two commands of a newcomer with their time and size, and one picture of each kind.
    assert len(re.findall(r"minutes[^)]*GB\)", README)) == 2
    assert re.findall(r"!\[[^]]+\]\(([^)]+)\)", README) == [
        "route3d/docs/pictures/route.png",
        "route3d/docs/pictures/page.png",
    ]


@pytest.mark.parametrize("page", TEXTS)
def test_every_link_leads_somewhere(page: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", TEXTS[page]):
        if not target.startswith("http"):
            assert (ROOT / page).parent.joinpath(target).is_file(), target


def test_printed_output_is_renewed_by_one_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page with a figure gone wrong comes back as it stands, apart from line breaks."""
    monkeypatch.chdir(ROOT)
    detailer = TEXTS["route3d/docs/detailer.md"]
    assert "269'-3 7/16\"" in detailer
    assert refreshed(detailer.replace("269'-3 7/16", "962'-3 7/16")) == detailer


@pytest.mark.parametrize(
    ("page", "command", "printed"), BLOCKS, ids=[f"{p}: {c}" for p, c, _ in BLOCKS]
)
def test_output_is_what_the_command_prints(
    page: str, command: str, printed: str, tmp_path: Path
) -> None:
    folder = ROOT
    if "models/x.toml" in command:
        text = (ROOT / "models/riser_duct_bank.toml").read_text(encoding="utf-8")
        for right, wrong in SLIPS.items():
            assert right in text
            text = text.replace(right, wrong, 1)
        folder = tmp_path
        (folder / "models").mkdir()
        (folder / "models/x.toml").write_text(text, encoding="utf-8")
    real = " ".join(said(command, folder).split())
    for part in printed.split("...\n"):
        assert " ".join(part.split()) in real


@cache
def said(command: str, folder: Path) -> str:
    """What a command prints, on both channels; the same for all blocks that show a part of it."""
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stdout(io.StringIO()) as out,
        contextlib.redirect_stderr(io.StringIO()) as err,
    ):
        main(command.split())
    return out.getvalue() + err.getvalue()


def test_every_command_named_exists(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--help"])
    known = capsys.readouterr().out
    everything = "\n".join(TEXTS.values())
    named = set(re.findall(r"(?:`|bin/|\$ )route3d ([a-z]+)", everything))
    assert {"tension", "view", "check", "new", "schema", "stock", "bends"} <= named
    for name in named:
        assert f" {name} " in known, name
