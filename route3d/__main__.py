"""``python -m route3d`` is the command ``route3d``."""

from __future__ import annotations

import gc
import os


def run() -> None:
    """The entry point of the program, which owns its process."""
    # What loads stays; looking for garbage in it every 700 objects takes a tenth of a short answer.
    gc.set_threshold(100_000)
    # Plugins are looked for in every installed package, and none may change how a model is read.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    # Matrices are small: threads that wait for each other on a busy machine take 20 times as long.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from route3d.cli.main import run as run_command

    run_command()


if __name__ == "__main__":
    run()
