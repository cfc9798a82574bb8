"""``route3d serve``: the live page of a model file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import ModelFile, UnitsOption, message, write

if TYPE_CHECKING:
    from viewer.web.guard import Role


def serve(
    model: ModelFile,
    run: Annotated[
        str | None,
        typer.Option("--run", metavar="NAME", show_default=False, help="The run to begin with."),
    ] = None,
    host: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Loopback address to listen at.")
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port to listen at; 0 takes any that is free.")
    ] = 0,
    token: Annotated[
        str | None,
        typer.Option(
            metavar="WORD",
            show_default=False,
            help="The word in your link, asked of every browser; one is made where left out.",
        ),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
    units: UnitsOption = None,
) -> None:
    """What if? A page in the browser: edit, inspect the bends, and read the crew's sheet.

    Shows the runs in 3D beside their tables, works out every change at once, and follows the model
    file as you save it. Every browser edits for itself, and may share what it found or save it to a
    new model file. It prints two links: yours, and one for the crew with which nothing can be
    changed. It serves this machine only, needs no network, and ends with Ctrl-C.

    Example: route3d serve models/riser_duct_bank.toml
    """
    from viewer.web.server import serve as serve_page

    def ready(links: Mapping[Role, str]) -> None:
        write(f"serving {model} at {links['engineer']}\n")
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
        ready=ready,
    )


def _open(address: str) -> None:
    """Open the browser without waiting for it: some do not come back before they are closed."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
