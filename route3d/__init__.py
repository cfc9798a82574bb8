"""route3d: tension along a routed conduit path, and which end to pull from.

::

    job = route3d.load("feeder.toml")
    for run in route3d.evaluate(job).runs:
        print(run.run.name, run.best.pull.feed_name, run.best.pull.peak_tension)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from route3d.geometry.fillet import fillet
    from route3d.geometry.path import Path
    from route3d.mechanics.tension import integrate
    from route3d.model.job import Job
    from route3d.modelfile.read import load
    from route3d.planning.evaluate import evaluate

__version__ = "0.1.0"
__all__ = ["Job", "Path", "__version__", "evaluate", "fillet", "integrate", "load"]

# Loaded on first use: a program that only wants geometry does not wait for the model file reader.
_HOME = {
    "Job": "route3d.model.job",
    "Path": "route3d.geometry.path",
    "evaluate": "route3d.planning.evaluate",
    "fillet": "route3d.geometry.fillet",
    "integrate": "route3d.mechanics.tension",
    "load": "route3d.modelfile.read",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'route3d' has no attribute {name!r}")
    globals()[name] = getattr(import_module(_HOME[name]), name)
    return globals()[name]


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
