"""Model files in which something is missing or too weak, made of the demos."""

from __future__ import annotations

from pathlib import Path

MODELS = Path(__file__).parents[3] / "models"


def weak_adapter(folder: Path) -> Path:
    """The roof drop, braced by adapters that hold half the load: only the plan finds it."""
    text = (MODELS / "roof_drop.toml").read_text()
    for given, weak in (
        ("5 kN", "0.9 kN"),
        ("9 kN", "0.9 kN"),
        ("15 kN", "1 kN"),
        ("25 kN", "1 kN"),
    ):
        kind = "light" if weak == "0.9 kN" else "locked"
        old, new = (f'{kind}_rating = "{load}"' for load in (given, weak))
        assert old in text
        text = text.replace(old, new)
    building = "basement_switchroom.glb"
    (folder / building).write_bytes((MODELS / building).read_bytes())
    model = folder / "weak.toml"
    model.write_text(text)
    return model


def without(folder: Path, key: str) -> Path:
    """The riser and duct bank, with no machine or no rope named by its run."""
    lines = (MODELS / "riser_duct_bank.toml").read_text().splitlines(True)
    kept = [t for t in lines if not t.startswith(f"{key} ")]
    assert len(kept) == len(lines) - 1
    model = folder / f"no_{key}.toml"
    model.write_text("".join(kept))
    return model


def weak_machine(folder: Path) -> Path:
    """The yard run with a machine that cannot pull its load."""
    text = (MODELS / "yard_run.toml").read_text()
    for given, weak in (("line_pull = 4000", "line_pull = 900"), ("= 10000,", "= 1800,")):
        assert text.count(given) == 1
        text = text.replace(given, weak)
    model = folder / "weak_machine.toml"
    model.write_text(text)
    return model
