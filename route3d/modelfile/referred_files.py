"""The files that a model file refers to: what it says depends on their contents too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any


def referred_files(data: Mapping[str, Any]) -> Iterator[str]:
    """Meshes, ground surface and past pulls that the data of a model file names, as it names them.

    What is not well formed is left out; reading the model reports it.
    """
    site = _table(data.get("site"))
    context = site.get("context")
    for mesh in context if isinstance(context, list) else ():
        yield from _text(mesh if isinstance(mesh, str) else _table(mesh).get("file"))
    yield from _text(_table(site.get("grade")).get("file"))
    for conduit in _table(data.get("conduit")).values():
        yield from _text(_table(_table(conduit).get("friction")).get("history"))


def _table(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, Mapping) else {}


def _text(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
