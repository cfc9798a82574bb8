"""The documents that are made: the page of the model file, the pictures, the HTML site."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest

from route3d.docs.pictures import BY_BROWSER, BY_COMMAND, make_pictures
from route3d.docs.reference import crews_file_page, model_file_page
from route3d.modelfile.schema import json_schema

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "route3d/docs"
# A page opens quickly on a phone at a site.
LARGEST_PICTURE = 100_000
MOST_OF_ALL = 400_000


def test_the_page_of_the_model_file_is_that_of_the_schema() -> None:
    page = (DOCS / "model_file.md").read_text(encoding="utf-8")
    assert page == model_file_page(), "run: python -m route3d.docs model-file"


def test_the_page_of_the_crews_file_is_that_of_its_schema() -> None:
    page = (DOCS / "crews_file.md").read_text(encoding="utf-8")
    assert page == crews_file_page(), "run: python -m route3d.docs model-file"


def test_the_page_of_the_model_file_names_every_key() -> None:
    page, schema = model_file_page(), json_schema()
    for table in (schema, *schema["$defs"].values()):
        for key, field in table["properties"].items():
            assert f"| `{key}` |" in page
            for word in field.get("enum", ()):
                assert json.dumps(word, ensure_ascii=False) in page
    assert page.count("\n## ") == len(schema["$defs"]) + 1  # each table once, and the top level


def test_the_site_is_built_without_a_warning(tmp_path: Path) -> None:
    pytest.importorskip("mkdocs", reason="NO MKDOCS: pip install 'route3d[docs]'")
    pytest.importorskip("material", reason="NO THEME: pip install 'route3d[docs]'")
    done = subprocess.run(
        [sys.executable, "-m", "route3d.docs", "site", str(tmp_path / "site")],
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    assert "WARNING" not in done.stdout + done.stderr
    for page in DOCS.glob("*.md"):
        html = (tmp_path / "site" / f"{page.stem}.html").read_text(encoding="utf-8")
        assert page.read_text(encoding="utf-8").splitlines()[0].removeprefix("# ") in html
        # Nothing is loaded from another site.
        assert "fonts.googleapis" not in html and "cdn" not in html
    assert (tmp_path / "site/pictures/route.png").is_file()


def test_a_broken_link_stops_the_site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("material", reason="NO THEME: pip install 'route3d[docs]'")
    from mkdocs.exceptions import Abort

    import route3d.docs.__main__ as command

    shutil.copytree(DOCS, tmp_path / "docs")
    with (tmp_path / "docs/theory.md").open("a", encoding="utf-8") as page:
        page.write("\n[nowhere](nowhere.md)\n")
    monkeypatch.setattr(command, "HERE", tmp_path / "docs")
    with pytest.raises(Abort):
        command.build_site(tmp_path / "site")


def test_the_pictures_are_there_and_small() -> None:
    kept = {p.name: p.stat().st_size for p in (DOCS / "pictures").iterdir()}
    assert set(kept) == {*BY_COMMAND, *BY_BROWSER}
    assert max(kept.values()) <= LARGEST_PICTURE and sum(kept.values()) <= MOST_OF_ALL
    shown = "".join(p.read_text(encoding="utf-8") for p in DOCS.glob("*.md"))
    assert all(f"pictures/{name}" in shown for name in kept)


@pytest.mark.slow
@pytest.mark.renderer
@pytest.mark.browser
def test_one_command_makes_the_pictures(tmp_path: Path) -> None:
    if not shutil.which("chromium"):
        pytest.skip("NO BROWSER: pictures are not made. Get one: apt-get install chromium")
    pytest.importorskip("playwright", reason="NO PLAYWRIGHT: pip install 'route3d[test]'")
    from PIL import Image

    make_pictures(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} == {*BY_COMMAND, *BY_BROWSER}
    for made in tmp_path.iterdir():
        assert made.stat().st_size <= LARGEST_PICTURE
        kept = DOCS / "pictures" / made.name
        if made.suffix == ".svg":
            # The same models give the same drawings: those kept are not of another day.
            assert made.read_bytes() == kept.read_bytes(), "run: python -m route3d.docs pictures"
            assert ElementTree.parse(made).getroot().tag.endswith("svg")
            continue
        with Image.open(made) as ours, Image.open(kept) as theirs:
            assert ours.size == theirs.size
            # Drawn, not blank: many colors, none of which covers nearly all.
            counts = sorted(n for n, _ in ours.convert("RGB").getcolors(1 << 24) or ())
            assert len(counts) > 10 and counts[-1] < 0.95 * ours.size[0] * ours.size[1]


def test_the_documents_go_into_the_wheel() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = project["tool"]["setuptools"]["package-data"]["route3d"]
    packed = {p.relative_to(ROOT / "route3d") for x in patterns for p in (ROOT / "route3d").glob(x)}
    for file in DOCS.rglob("*"):
        if file.suffix in (".md", ".png", ".svg", ".yml", ".css"):
            assert file.relative_to(ROOT / "route3d") in packed, file
    assert project["project"]["license-files"] == ["route3d/LICENSE"]
