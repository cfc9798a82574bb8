"""``python -m route3d`` is the command ``route3d``."""

from __future__ import annotations

from route3d.cli.main import run

if __name__ == "__main__":
    run()
