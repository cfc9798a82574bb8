"""A job of 2,000 bends and 20 km, for what has to be quick enough even then."""

from __future__ import annotations

import math
from pathlib import Path

MODELS = Path(__file__).parents[2] / "models"
BENDS, LEG = 2000, 10.0
# So little friction that the tension of 2,000 bends stays a number: e^(0.002 x 700 rad) is 4.
FRICTION = 0.002


def write_big_job(folder: Path) -> Path:
    """The yard run's data with a route that snakes along three quarters of a circle."""
    head = (MODELS / "yard_run.toml").read_text().split("route = [")[0]
    for given in ("friction   = 0.25", "friction   = 0.15"):
        assert given in head
        head = head.replace(given, f"friction   = {FRICTION}")
    # the pull points it names are those of the route left out
    head = "\n".join(line for line in head.splitlines() if not line.startswith("can_splice")) + "\n"
    x = y = 0.0
    rows = ['{ at = [0, 0, -5], name = "A", access = ["reel", "machine"], conduit = "duct" },']
    for i in range(BENDS + 1):
        angle = (0.0 if i % 2 == 0 else math.radians(20)) + 1.5 * math.pi * i / BENDS
        x, y = x + LEG * math.cos(angle), y + LEG * math.sin(angle)
        at = f"[{x / 0.3048:.4f}, {y / 0.3048:.4f}, {-5 + math.sin(i / 7):.4f}]"
        last = 'name = "B", access = ["reel", "machine"]'
        rows.append(f"{{ at = {at}, {last if i == BENDS else 'bend = 48'} }},")
    path = folder / "big.toml"
    path.write_text(head + "route = [\n" + "\n".join(rows) + "\n]\n")
    return path
