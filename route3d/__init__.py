"""route3d: tension along a routed conduit path, and which end to pull from.

::

    job = route3d.load("feeder.toml")
    print(route3d.evaluate(job))

Numbers are SI (m, N, N/m, rad); the ``of`` constructors also take texts with a unit.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from route3d.api import (
        bends,
        check,
        clearance,
        days,
        evaluate,
        limits,
        options,
        plan,
        spread,
        to_frame,
    )
    from route3d.errors import InputError
    from route3d.geometry.fillet import fillet
    from route3d.geometry.path import Path
    from route3d.mechanics.tension import integrate, sidewall
    from route3d.model.cable import Cable
    from route3d.model.conduit import Conduit
    from route3d.model.job import Job
    from route3d.model.machine import Machine
    from route3d.model.rope import Rope
    from route3d.model.route import Route
    from route3d.model.run import CableSet, Run
    from route3d.modelfile.read import load

__version__ = "0.1.0"
__all__ = [
    "Cable",
    "CableSet",
    "Conduit",
    "InputError",
    "Job",
    "Machine",
    "Path",
    "Rope",
    "Route",
    "Run",
    "__version__",
    "bends",
    "check",
    "clearance",
    "days",
    "evaluate",
    "fillet",
    "integrate",
    "limits",
    "load",
    "options",
    "plan",
    "sidewall",
    "spread",
    "to_frame",
]

# Loaded on first use: a program that only wants geometry does not wait for the model file reader.
_HOME = {
    **dict.fromkeys(
        (
            "bends",
            "check",
            "clearance",
            "days",
            "evaluate",
            "limits",
            "options",
            "plan",
            "spread",
            "to_frame",
        ),
        "route3d.api",
    ),
    "Cable": "route3d.model.cable",
    "CableSet": "route3d.model.run",
    "Conduit": "route3d.model.conduit",
    "InputError": "route3d.errors",
    "Job": "route3d.model.job",
    "Machine": "route3d.model.machine",
    "Path": "route3d.geometry.path",
    "Rope": "route3d.model.rope",
    "Route": "route3d.model.route",
    "Run": "route3d.model.run",
    "fillet": "route3d.geometry.fillet",
    "integrate": "route3d.mechanics.tension",
    "load": "route3d.modelfile.read",
    "sidewall": "route3d.mechanics.tension",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'route3d' has no attribute {name!r}")
    globals()[name] = getattr(import_module(_HOME[name]), name)
    return globals()[name]


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
