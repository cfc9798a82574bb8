"""Demo jobs with one limit broken each, as model files: for what is advised about them."""

from __future__ import annotations

from pathlib import Path

import route3d
from route3d.model.job import Job
from route3d.modelfile.read import loads

MODELS = Path(route3d.__file__).parents[1] / "models"
_BOTH = 'access = ["reel", "machine"]'
_RISER: dict[str, tuple[tuple[str, str], ...]] = {
    "fill": (('trade_size = "5"\nfriction   = 0.25', 'trade_size = "3"\nfriction   = 0.25'),),
    "degrees": (
        (
            "  { at = [180, 0, -6], bend = 48 },",
            "  { at = [90, 0, -5.5], bend = 48 },\n  { at = [90, 30, -5.5], bend = 48 },\n"
            "  { at = [180, 30, -6], bend = 48 },",
        ),
    ),
    "sidewall": (("sidewall_limit = 500", "sidewall_limit = 100"),),
    "rope": (("rated_load = 9000", "rated_load = 700"),),
    "machine": (
        ("line_pull = 3500", "line_pull = 400"),
        ("line_pull = 7500", "line_pull = 800"),
    ),
    "brake": (
        (f'name = "vault V1", {_BOTH}', 'name = "vault V1", access = ["machine"]'),
        (f'name = "roof switchroom", {_BOTH}', 'name = "roof switchroom", access = ["reel"]'),
        ("{ at = [180, 95, 42], bend = 48 }", "{ at = [180, 95, 342], bend = 48 }"),
        ("{ at = [195, 95, 42]", "{ at = [195, 95, 342]"),
    ),
    "brake rating": (
        (f'name = "vault V1", {_BOTH}', 'name = "vault V1", access = ["machine"]'),
        (f'name = "roof switchroom", {_BOTH}', 'name = "roof switchroom", access = ["reel"]'),
        ("sheave_radius = 24", 'sheave_radius = 24\nbrake_rating = "50 lbf"'),
    ),
    "radius": (("{ at = [180, 95, 42], bend = 48 }", "{ at = [180, 95, 42], bend = 14 }"),),
    "no room": (
        ("{ at = [180, 95, 42], bend = 48 }", "{ at = [180, 95, 42], bend = 14 }"),
        ("at = [195, 95, 42]", "at = [181.8, 95, 42]"),
    ),
    "access": (
        (f'name = "vault V1", {_BOTH}', 'name = "vault V1", access = ["reel"]'),
        (f'name = "roof switchroom", {_BOTH}', 'name = "roof switchroom", access = ["reel"]'),
    ),
    "grip": (
        ('attach       = "pulling eyes"', 'attach       = "basket grip"'),
        ("eye_rating    = 8000", "eye_rating    = 8000\ngrip_rating = 600"),
    ),
}
BROKEN = tuple(_RISER)
"""What is broken in the riser demo, by name."""


def broken_text(what: str) -> str:
    """The riser demo with one thing broken."""
    text = (MODELS / "riser_duct_bank.toml").read_text()
    for old, new in _RISER[what]:
        assert old in text, old
        text = text.replace(old, new)
    return text


def broken_job(what: str) -> Job:
    """The same as a job."""
    return loads(broken_text(what), f"{what}.toml", MODELS)
