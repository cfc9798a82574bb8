"""``route3d serve``: the live page of a model file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import LanguageOption, UnitsOption, message, option, whole_number, write

if TYPE_CHECKING:
    from viewer.web.guard import Role


def serve(
    model: Annotated[
        Path | None,
        typer.Argument(
            metavar="MODEL",
            help="Model file (TOML). Default: a form on the page asks nine questions and writes "
            "one into the current folder.",
            show_default=False,
        ),
    ] = None,
    run: Annotated[str | None, option("NAME", "Run to show first.")] = None,
    host: Annotated[str, typer.Option(metavar="ADDRESS", help="Loopback address.")] = "127.0.0.1",
    port: Annotated[
        int,
        option("PORT", "Port; 0: any free one. Default: 0.", parser=whole_number(0, 65535)),
    ] = 0,
    token: Annotated[
        str | None, option("WORD", "Token in your link. Default: a random one.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
    language: LanguageOption = "en",
    units: UnitsOption = None,
) -> None:
    """Live page in the browser: draw the route, change assumptions, read the crew's sheet.

    Shows the runs in 3D beside their tables, updates with every change, and follows the model file
    as you save it. Every browser has its own what-if, and may share it or save it to the model
    file or a new one. Without a model file the page asks nine questions and writes one. Two links
    are printed: yours, and a read-only one for the crew. The page is served on this machine only,
    needs no network, and ends with Ctrl-C.

    Example: route3d serve models/riser_duct_bank.toml
    """
    from route3d.errors import InputError, Problem
    from viewer.web.server import serve as serve_page

    if model is None and run is not None:
        raise InputError(Problem("a run needs a model file", "--run", "name the file too"))

    def ready(links: Mapping[Role, str]) -> None:
        write(f"serving {model or 'a new job'} at {links['engineer']}\n")
        write(f"for the crew, to look at: {links['crew']}\n")
        message("Ctrl-C ends it")
        if browser:
            _open(links["engineer"])

    serve_page(
        model,
        run=run,
        host=host,
        port=port,
        token=token,
        units=None if units is None else units.value,
        language=language,
        ready=ready,
    )


def _open(address: str) -> None:
    """Open the browser without waiting for it: some do not come back before they are closed."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
