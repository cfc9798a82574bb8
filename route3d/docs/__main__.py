"""``python -m route3d.docs``: make the generated pages, the pictures and the HTML site."""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

from route3d.disk import write_text_atomic

HERE = Path(__file__).parent


def main(arguments: list[str] | None = None) -> None:
    """Run one of the commands."""
    parser = argparse.ArgumentParser(prog="python -m route3d.docs", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("model-file", help="write model_file.md from the schema")
    commands.add_parser("printed", help="renew the printed output in README and docs")
    pictures = commands.add_parser("pictures", help="make the pictures of README and docs")
    pictures.add_argument("folder", type=Path, nargs="?", default=HERE / "pictures")
    benchmarks = commands.add_parser(
        "benchmarks", help="run the benchmarks, compare with the last run, renew the speed tables"
    )
    benchmarks.add_argument(
        "--from", dest="file", type=Path, help="a run that pytest --benchmark-json wrote"
    )
    site = commands.add_parser("site", help="build the HTML site; needs route3d[docs]")
    site.add_argument("folder", type=Path)
    asked = parser.parse_args(arguments)
    if asked.command == "model-file":
        from route3d.docs.reference import model_file_page

        write_text_atomic(HERE / "model_file.md", model_file_page())
    elif asked.command == "printed":
        from route3d.docs.printed import PAGES, refreshed

        for page in PAGES:
            write_text_atomic(page, refreshed(page.read_text(encoding="utf-8")))
    elif asked.command == "pictures":
        from route3d.docs.pictures import make_pictures

        make_pictures(asked.folder)
    elif asked.command == "benchmarks":
        from route3d.docs.benchmarks import run_benchmarks
        from route3d.errors import InputError

        try:
            well = run_benchmarks(asked.file)
        except InputError as error:
            parser.error(str(error))
        if not well:
            raise SystemExit(1)
    else:
        build_site(asked.folder)


def build_site(folder: Path) -> None:
    """The HTML site in ``folder``; any warning of the builder is an error."""
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    with tempfile.TemporaryDirectory() as pages:
        for page in (*HERE.glob("*.md"), HERE / "site.css"):
            shutil.copy(page, pages)
        shutil.copytree(HERE / "pictures", Path(pages) / "pictures")
        config = load_config(
            str(HERE / "mkdocs.yml"), docs_dir=pages, site_dir=str(folder.resolve()), strict=True
        )
        build(config)


if __name__ == "__main__":
    main()
