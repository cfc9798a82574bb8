"""TOML text to data, with the line and column of every key and value.

``tomllib`` gives the data and is the judge of what is TOML; ``tree-sitter-toml`` gives the places,
exact inside nested arrays and inline tables, where ``tomllib`` keeps none.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from route3d.directions import mark_in
from route3d.errors import InputError, Problem
from route3d.modelfile.fields import brief
from route3d.modelfile.places import Place, problem_at

if TYPE_CHECKING:
    from tree_sitter import Node

KeyPath = tuple[str | int, ...]
"""Keys and list indices from the top of the file, such as ``("run", 0, "route", 2, "bend")``."""


@dataclass(frozen=True, slots=True)
class Document:
    """The ``data`` of a model file, as TOML has it, and where each key path stands in the file.

    ``values`` and ``keys`` hold a Place for each key path; list items have no key. ``notes`` are
    sentences on how a workbook was read.
    """

    data: dict[str, Any]
    values: dict[KeyPath, Place]
    keys: dict[KeyPath, Place]
    notes: tuple[str, ...] = ()

    def value_place(self, path: KeyPath) -> Place | None:
        """The place of a value, or of the nearest thing around it that has one."""
        return _nearest(self.values, path)

    def key_place(self, path: KeyPath) -> Place | None:
        """The place of a key, or of the value where it has no key of its own."""
        return self.keys.get(path) or self.value_place(path)


def _nearest(places: dict[KeyPath, Place], path: KeyPath) -> Place | None:
    for end in range(len(path), 0, -1):
        if (place := places.get(path[:end])) is not None:
            return place
    return None


def read_toml(text: str, name: str = "") -> Document:
    """Parse TOML text; InputError with line and column where it is not TOML."""
    if long := _LONG_KEY.search(text):
        raise InputError(_too_deep(text, name, long))
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise InputError(
            Problem("the brackets are nested too deeply", fix="flatten the file", file=name)
        ) from None
    except ValueError as error:  # TOMLDecodeError, and Python's limit on the digits of an integer
        problem = _given_twice(text, name, str(error)) or _syntax_problem(text, name, str(error))
        raise InputError(problem) from None
    document = Document(data, *_index(text))
    refuse_reversing(document, name)
    return document


DEEPEST = 32
"""Parts of a dotted key: a model needs six, and time and memory grow with their square."""

_PART = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_LONG_KEY = re.compile(
    rf"(?:^|[\[{{,])[ \t]*{_PART}(?:[ \t]*\.[ \t]*{_PART}){{{DEEPEST}}}", re.MULTILINE
)


def _too_deep(text: str, name: str, found: re.Match[str]) -> Problem:
    start = found.start() + len(found[0]) - len(found[0].lstrip("[{, \t"))
    key = text[start : start + 40]
    return Problem(
        f"the key {key}... has more than {DEEPEST} segments",
        fix="a model file key has at most six segments",
        file=name,
        line=text.count("\n", 0, start) + 1,
        column=start - text.rfind("\n", 0, start),
    )


def refuse_reversing(document: Document, name: str) -> None:
    """InputError for texts and keys with marks that reorder the digits next to them."""
    if problems := list(_reversing(document, name)):
        raise InputError(problems)


def _reversing(document: Document, name: str) -> Iterator[Problem]:
    """A Problem for every text and key with a mark in it that turns the text beside it."""
    todo: list[tuple[KeyPath, object]] = [((), document.data)]
    while todo:
        path, value = todo.pop()
        if isinstance(value, dict):
            todo += [((*path, key), entry) for key, entry in reversed(value.items())]
        elif isinstance(value, list):
            todo += [((*path, i), entry) for i, entry in reversed(list(enumerate(value)))]
        key = path[-1] if path and isinstance(path[-1], str) else ""
        for text, place in ((key, document.key_place), (value, document.value_place)):
            if isinstance(text, str) and (mark := mark_in(text)):
                said = f"{brief(text)} contains the control mark {mark}, which can reorder the "
                said += "digits next to it"
                fix = "delete it, or retype the text"
                yield problem_at(place(path), said, dotted(path), fix, name)


_LAST_LINE = "(at end of document)"


def _syntax_problem(text: str, name: str, message: str) -> Problem:
    """A Problem from the words of tomllib, whose message ends ``(at line 5, column 9)``."""
    line, column = None, None
    if match := re.search(r" ?\(at line (\d+), column (\d+)\)$", message):
        line, column = int(match[1]), int(match[2])
        message = message[: match.start()]
    elif message.endswith(_LAST_LINE):
        line = text.rstrip().count("\n") + 1
        message = message.removesuffix(_LAST_LINE).rstrip() + " at the end of the file"
    return Problem(
        f"not TOML: {message[:1].lower()}{message[1:]}",
        fix="put text in quotes, use a decimal point, put lists in [ ]",
        file=name,
        line=line,
        column=column,
    )


_TWICE = ("Cannot overwrite", "Cannot declare", "Cannot mutate", "Duplicate inline")


def _given_twice(text: str, name: str, message: str) -> Problem | None:
    """Which key is given twice and where it was first: tomllib says neither of all keys."""
    walk = _walked(text) if message.startswith(_TWICE) else None
    if walk is None or not walk.twice:
        return None
    path, first, (line, column) = walk.twice[0]
    return Problem(
        f"duplicate key, first on line {first[0]}",
        where=dotted(path),
        fix="remove one of the two",
        file=name,
        line=line,
        column=column,
    )


def dotted(path: KeyPath) -> str:
    """A key path as people write it: ``run[0].route[2].bend``."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            bare = re.fullmatch(r"[A-Za-z0-9_-]+", part)
            text += ("." if text else "") + (part if bare else brief(part))
    return text


# --- places ------------------------------------------------------------------------------------

_Places = tuple[dict[KeyPath, Place], dict[KeyPath, Place]]


def _index(text: str) -> _Places:
    """Places of values and of keys for text that tomllib has accepted."""
    walk = _walked(text)
    return ({}, {}) if walk is None else (walk.values, walk.keys)


def toml_nodes(text: str) -> dict[KeyPath, Node]:
    """The syntax node of every value and table of TOML text; empty where the parsers disagree."""
    nodes: dict[KeyPath, Node] = {}
    return {} if _walked(text, nodes) is None else nodes


def _walked(text: str, nodes: dict[KeyPath, Node] | None = None) -> _Walk | None:
    """One walk over the text; None where the parsers disagree: no places rather than wrong ones."""
    import tree_sitter_toml
    from tree_sitter import Language, Parser

    source = text.encode()
    tree = Parser(Language(tree_sitter_toml.language())).parse(source)
    if tree.root_node.has_error:
        return None
    walk = _Walk(source.split(b"\n"), nodes)
    walk.document(tree.root_node)
    return walk


_INNER = re.compile(rb"[\x80-\xbf]")
"""The bytes of UTF-8 after the first of a character."""


class _Walk:
    """One pass over a syntax tree; it has a stack of its own, so depth needs no recursion."""

    def __init__(self, lines: list[bytes], nodes: dict[KeyPath, Node] | None) -> None:
        self.lines = lines
        self.nodes = nodes  # kept only where asked for: a long file has a hundred thousand
        self.inner: dict[int, list[int]] = {}
        self.values: dict[KeyPath, Place] = {}
        self.keys: dict[KeyPath, Place] = {}
        self.counts: dict[KeyPath, int] = {}
        self.given: dict[KeyPath, Place] = {}
        self.headed: dict[KeyPath, Place] = {}
        self.twice: list[tuple[KeyPath, Place, Place]] = []

    def document(self, root: Node) -> None:
        """The places of everything in the file, and what in it is given twice."""
        for node in root.named_children:
            if node.type == "pair":
                self.pair((), node)
            elif node.type in ("table", "table_array_element"):
                self.table(node)

    def table(self, node: Node) -> None:
        """A ``[table]`` or ``[[table]]`` header and the pairs under it."""
        header, *rest = _without_comments(node)
        parts = key_parts(header)
        path = (*self.resolve(tuple(key for key, _ in parts[:-1])), parts[-1][0])
        if node.type == "table_array_element":
            self.keys.setdefault(path, self.place(header))
            self.values.setdefault(path, self.place(header))
            self.counts[path] = self.counts.get(path, 0) + 1
            path += (self.counts[path] - 1,)
        for end in range(1, len(path)):
            self.values.setdefault(path[:end], self.place(header))
            self.keys.setdefault(path[:end], self.place(header))
        self.values[path] = self.keys[path] = self.place(header)
        if self.nodes is not None:
            self.nodes[path] = node
        self.meet(path, self.headed.get(path) or self.closed(path, 1), self.place(header))
        self.headed.setdefault(path, self.place(header))
        for pair in rest:
            if pair.type == "pair":
                self.pair(path, pair)

    def resolve(self, keys: KeyPath) -> KeyPath:
        """Header keys with the index of the latest element put after each array of tables."""
        path: KeyPath = ()
        for key in keys:
            path += (key,)
            if path in self.counts:
                path += (self.counts[path] - 1,)
        if path and path in self.counts:
            path += (self.counts[path] - 1,)
        return path

    def pair(self, base: KeyPath, node: Node) -> None:
        """One ``key = value`` and all that is inside the value."""
        todo = [(base, node)]
        while todo:
            path, item = todo.pop()
            if item.type == "pair":
                path, item = self.key(path, item)
            self.values[path] = self.place(item)
            if self.nodes is not None:
                self.nodes[path] = item
            if item.type == "inline_table":
                todo += [(path, n) for n in item.named_children if n.type == "pair"]
            elif item.type == "array":
                todo += [((*path, i), n) for i, n in enumerate(_without_comments(item))]

    def meet(self, path: KeyPath, first: Place | None, place: Place) -> None:
        """Keep what is given at ``place`` though it was already at ``first``."""
        if first is not None:
            self.twice.append((path, first, place))

    def closed(self, path: KeyPath, start: int) -> Place | None:
        """Where this key, or one around it of ``start`` parts or more, was given a value."""
        ends = range(start, len(path) + 1)
        return next((self.given[path[:end]] for end in ends if path[:end] in self.given), None)

    def key(self, path: KeyPath, pair: Node) -> tuple[KeyPath, Node]:
        """The path and the value node of a pair, with the places of its keys kept."""
        key, value = _without_comments(pair)
        parts = key_parts(key)
        whole = (*path, *(name for name, _ in parts))
        first = self.keys.get(whole) or self.closed(whole, len(path) + 1)
        self.meet(whole, first, self.place(key))
        self.given.setdefault(whole, self.place(key))
        for name, node in parts:
            path = (*path, name)
            self.keys[path] = self.place(node)
            self.values.setdefault(path, self.place(node))
        return path, value

    def place(self, node: Node) -> Place:
        """Tree-sitter counts bytes from 0; people count characters from 1."""
        row, byte = node.start_point
        if row not in self.inner:  # found once for each line: one line may hold all of a file
            line = self.lines[row]
            found = [] if line.isascii() else [m.start() for m in _INNER.finditer(line)]
            self.inner[row] = found
        return row + 1, byte - bisect_left(self.inner[row], byte) + 1


def _without_comments(node: Node) -> list[Node]:
    return [n for n in node.named_children if n.type != "comment"]


def key_parts(node: Node) -> list[tuple[str, Node]]:
    """Each name of a bare, quoted or dotted key with its node, left to right."""
    parts: list[tuple[str, Node]] = []
    todo = [node]
    while todo:
        part = todo.pop()
        if part.type == "dotted_key":
            todo += reversed(part.named_children)
        else:
            parts.append((_key_name(part), part))
    return parts


def _key_name(node: Node) -> str:
    text = (node.text or b"").decode()
    if node.type != "quoted_key":
        return text
    return str(tomllib.loads(f"k = {text}")["k"])  # tomllib knows the escapes
