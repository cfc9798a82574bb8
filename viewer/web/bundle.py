"""The scripts and styles of the page, joined from its modules: the same bytes in both forms.

A page that is handed over has them inside, allowed by their hashes; a live one asks its server for
them, by names that hold the hash, so that a browser keeps them for good.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import Literal

_VENDOR = ("three.bundle.js", "preact.bundle.js", "uplot.min.js")
_STYLES = ("vendor/uplot.min.css", "page.css")
_ENTRY = "main.js"
_IMPORT = re.compile(r'^import\s*\{([^}]*)\}\s*from\s*"\./([^"]+)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:const|let|function|class)\b)", re.MULTILINE)
_DECLARED = re.compile(
    r"^(?:export )?(?:async )?(?:const|let|var|function\*?|class)\s+(\{[^}]*\}|\[[^\]]*\]|[\w$]+)",
    re.MULTILINE,
)
_OFFERED = re.compile(
    r"^export (?:async )?(?:const|let|function\*?|class)\s+([\w$]+)", re.MULTILINE
)
_TYPES = {"js": "text/javascript", "css": "text/css"}


@dataclass(frozen=True)
class Asset:
    """A script or a style of the page."""

    name: str
    text: str

    @property
    def kind(self) -> Literal["js", "css"]:
        """What it is: the ending of its name."""
        return "js" if self.name.endswith(".js") else "css"

    @property
    def content_type(self) -> str:
        """The same for a browser."""
        return _TYPES[self.kind]

    @cached_property
    def source(self) -> str:
        """Its hash as a content security policy names it."""
        return f"'sha256-{base64.b64encode(self._digest).decode('ascii')}'"

    @cached_property
    def served_name(self) -> str:
        """Its name on a server: another for every other text."""
        return f"{self.name.split('.')[0]}-{self._digest.hex()[:16]}.{self.kind}"

    @cached_property
    def packed(self) -> bytes:
        """Its bytes, compressed."""
        return gzip.compress(self.text.encode(), 9, mtime=0)

    @cached_property
    def _digest(self) -> bytes:
        return hashlib.sha256(self.text.encode()).digest()


def scripts() -> tuple[Asset, ...]:
    """The scripts in the order they have to run, ours last."""
    return (*(_asset(name, f"vendor/{name}") for name in _VENDOR), _app())


def styles() -> tuple[Asset, ...]:
    """The styles, ours last."""
    return tuple(_asset(path.split("/")[-1], path) for path in _STYLES)


@cache
def _asset(name: str, path: str) -> Asset:
    # nothing in a script may end the element that holds it
    return Asset(name, re.sub(r"</(script|style)", r"<\\/\1", read(path), flags=re.IGNORECASE))


@cache
def _app() -> Asset:
    folder = files("viewer.web") / "app"
    modules = {f.name: f.read_text("utf-8") for f in folder.iterdir() if f.name.endswith(".js")}
    joined = re.sub(r"</(script)", r"<\\/\1", join(modules, _ENTRY), flags=re.IGNORECASE)
    return Asset("app.js", joined)


@cache
def read(path: str) -> str:
    """A file of the page as text."""
    return (files("viewer.web") / "app" / path).read_text("utf-8")


def page(head: str, data: str, end: str) -> str:
    """The page with its head, its data, and its scripts."""
    pieces = {"HEAD": head, "DATA": data, "SCRIPTS": end}
    # one pass, so that nothing inside a piece is taken for a place of another
    return re.sub(r"<!--(HEAD|DATA|SCRIPTS)-->", lambda m: pieces[m[1]], read("index.html"))


# --- joining -----------------------------------------------------------------------------------


def join(modules: Mapping[str, str], entry: str) -> str:
    """One script of the modules that ``entry`` needs, each after those it needs itself.

    Modules share one scope, so that a name may be declared at the top of one of them only; imports
    stand at the top, by name. Raises ValueError for what cannot be joined.
    """
    order: list[str] = []
    _visit(modules, entry, (), order)
    owners: dict[str, str] = {}
    for name in order:
        for declared in _declared(modules[name]):
            if declared in owners:
                raise ValueError(f"{declared} is declared in {owners[declared]} and in {name}")
            owners[declared] = name
    parts = [f"// {name}\n{_bare(name, modules[name])}" for name in order]
    return '(() => {\n"use strict";\n' + "\n".join(parts) + "\n})();\n"


def _visit(modules: Mapping[str, str], name: str, way: Sequence[str], order: list[str]) -> None:
    if name in way:
        raise ValueError(f"modules import each other in a circle: {' -> '.join([*way, name])}")
    if name in order:
        return
    if name not in modules:
        raise ValueError(f"{way[-1] if way else 'the page'} needs {name}, which there is not")
    for names, other in _IMPORT.findall(modules[name]):
        _visit(modules, other, (*way, name), order)
        missing = {n.strip() for n in names.split(",")} - {""} - {*_OFFERED.findall(modules[other])}
        if missing:
            raise ValueError(f"{name} imports {', '.join(sorted(missing))}, not in {other}")
    order.append(name)


def _declared(text: str) -> list[str]:
    found = []
    for names in _DECLARED.findall(text):
        parts = names.strip("{}[]").split(",") if names[0] in "{[" else [names]
        found += [p.split(":")[-1].split("=")[0].strip() for p in parts]
    return [name for name in found if name]


def _bare(name: str, text: str) -> str:
    bare = _EXPORT.sub("", _IMPORT.sub("", text)).removeprefix('"use strict";\n')
    left = re.search(r"^(?:import|export)\b.*", bare, re.MULTILINE)
    if left:
        raise ValueError(f"{name}: cannot join {left[0]!r}")
    return bare
