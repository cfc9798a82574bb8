"""Changes to TOML text that leave every byte of the rest as it is.

The places come from the syntax tree of ``toml_positions``; nothing is parsed and written anew, so
comments, order, alignment, units and line ends of what is not changed cannot be lost.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from route3d.errors import InputError, Problem
from route3d.modelfile.toml_positions import KeyPath, dotted, key_parts, toml_nodes

if TYPE_CHECKING:
    from tree_sitter import Node

Span = tuple[int, int]

_TABLES = ("table", "table_array_element")


def toml_value(value: Any) -> str:
    """A value as TOML; tables are written in one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, dict):
        return toml_table({k: toml_value(v) for k, v in value.items()})
    return repr(value)


def toml_words(text: str) -> str:
    """A text as TOML in single quotes where that spares marks before its double quotes."""
    plain = '"' in text and "'" not in text and text.isprintable()
    return f"'{text}'" if plain else toml_value(text)


def toml_table(fields: Mapping[str, str]) -> str:
    """An inline table of values that are TOML already."""
    inside = ", ".join(f"{toml_key(k)} = {v}" for k, v in fields.items())
    return f"{{ {inside} }}" if inside else "{}"


def toml_key(key: str) -> str:
    """A key, in quotes where it needs them."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else toml_value(key)


class TomlEdits:
    """Changes asked for one by one, by key path, and carried out together by ``text``.

    Paths are those of the text as given. ``name`` is used in messages. What cannot be changed in
    the form it has raises InputError with its place.
    """

    def __init__(self, text: str, name: str = "") -> None:
        self.name = name
        self._source = text.encode()
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self._nodes = toml_nodes(text)
        if text.strip() and not self._nodes:
            said = "the file cannot be edited: its TOML form is not supported"
            raise InputError(Problem(said, fix="make the change by hand", file=name))
        self._inside: dict[KeyPath, dict[KeyPath, None]] = defaultdict(dict)
        for path in self._nodes:
            while path and path not in self._inside[path[:-1]]:
                self._inside[path[:-1]][path] = None
                path = path[:-1]
        self._changes: list[tuple[Span, str]] = []
        self._cut_pairs: dict[Span, list[Node]] = defaultdict(list)

    # --- values ----------------------------------------------------------------------------------

    def has(self, path: KeyPath) -> bool:
        """Whether a value or a table of its own stands at the path."""
        return path in self._nodes

    def put(self, path: KeyPath, value: str, order: Sequence[str] = ()) -> None:
        """A value, which is TOML already, in place of the one there, or as a new key.

        A new key goes after those that precede it in ``order``; without one to the end of the
        short lines of its table.
        """
        node = self._nodes.get(path)
        if node is None:
            self._add(path, value, order)
        else:
            self._changes.append((_span(node), value))

    def _add(self, path: KeyPath, value: str, order: Sequence[str]) -> None:
        base, key = path[:-1], str(path[-1])
        nodes = self._nodes
        beside = [p for p in self._inside[base] if p in nodes and nodes[p].type not in _TABLES]
        beside.sort(key=lambda p: nodes[p].start_byte)
        if not beside:
            self._add_first(base, key, value)
            return
        after = self._nodes[self._anchor(beside, order[: order.index(key)] if order else ())]
        pair = _parent(after)
        first, equals = pair.children[0], next(n for n in pair.children if n.type == "=")
        parts = [node for _, node in key_parts(first)]
        written = self._raw(first.start_byte, parts[-1].start_byte) + toml_key(key)
        if _parent(pair).type == "inline_table":
            at = after.end_byte
            self._changes.append(((at, at), f", {written} = {value}"))
            return
        indent = self._raw(self._line_start(first.start_byte), first.start_byte)
        # The keys of a table are often padded to one column.
        column = max(len(self._raw(first.start_byte, equals.start_byte)) - 1, 0)
        line = f"{indent}{written:<{column}} = {value}"
        self._insert_lines(self._line_end(after.end_byte), [line])

    def _add_first(self, base: KeyPath, key: str, value: str) -> None:
        """The first key of a table that has none."""
        node, pair = self._nodes.get(base), f"{toml_key(key)} = {value}"
        if node is not None and node.type == "inline_table":
            self._changes.append((_span(node), f"{{ {pair} }}"))
        elif node is not None and node.type in _TABLES:
            self._insert_lines(self._line_end(_own_end(node)), [pair])
        else:
            raise self.refused(base, f"has no place for {key} in its present form")

    def _anchor(self, beside: Sequence[KeyPath], before: Sequence[str]) -> KeyPath:
        """The key of a table after which another one goes."""
        for wanted in reversed(before):
            for path in beside:
                if path[-1] == wanted:
                    return path
        nodes = self._nodes
        short = [p for p in beside if nodes[p].start_point.row == nodes[p].end_point.row]
        return (short or beside)[-1]

    def remove(self, path: KeyPath) -> None:
        """Everything at or below the path, with its keys, headers and comments beside it."""
        below = [self._nodes[p] for p in self._below(path) if p in self._nodes]
        reached = -1
        for node in sorted(below, key=lambda n: (n.start_byte, -n.end_byte)):
            if node.start_byte < reached and node.type not in _TABLES:
                continue  # inside of what is removed already
            reached = max(reached, self._cut(node))

    def _below(self, path: KeyPath) -> Iterable[KeyPath]:
        """The path and all paths below it."""
        todo = [path]
        while todo:
            path = todo.pop()
            yield path
            todo += self._inside.get(path, ())

    def _cut(self, node: Node) -> int:
        """Take one value out with what belongs to it; where it ended."""
        if node.type in _TABLES:
            start, end = self._block([node])
            before = self._line_start(max(start - 1, 0))
            if not self._raw(before, start).strip():  # not two blank lines where the table was
                start = before
            self._changes.append(((start, end), ""))
            return end
        parent = _parent(node)
        if parent.type == "array":
            span = self._row_span(node)
            self._changes.append((span, ""))
        elif _parent(parent).type == "inline_table":
            self._cut_pairs[_span(_parent(parent))].append(parent)
        else:
            span = self._line_start(parent.start_byte), self._line_end(node.end_byte)
            self._changes.append((span, ""))
        return node.end_byte

    # --- rows of an array -------------------------------------------------------------------------

    def insert_row(self, path: KeyPath, fields: Mapping[str, str], *, after: bool) -> None:
        """One more table in an array of tables, after or before the one at the path.

        It is laid out like that one: on a line of its own where that stands on one.
        """
        node = self._nodes[path]
        if node.type in _TABLES:
            start, end = self._block(self._tables(path))
            header = self._raw(node.start_byte, _header_end(node))
            lines = [header, *(f"{toml_key(k)} = {v}" for k, v in fields.items())]
            self._insert_lines(end if after else start, lines)
            return
        row, (start, end) = toml_table(fields), self._row_span(node)
        comma = self._comma(node)
        own_line = start == self._line_start(node.start_byte) and end == self._line_end(end - 1)
        if not own_line:
            at = node.start_byte if not after else comma or node.end_byte
            text = f"{row}, " if not after else f" {row}," if comma else f", {row}"
            self._changes.append(((at, at), text))
            return
        if after and not comma:
            self._changes.append(((node.end_byte, node.end_byte), ","))
        indent = self._raw(start, node.start_byte)
        self._insert_lines(end if after else start, [f"{indent}{row},"])

    def _comma(self, node: Node) -> int | None:
        """Where the comma after an element of an array ends."""
        found = re.compile(rb"\s*,").match(self._source, node.end_byte)
        return found.end() if found else None

    def _row_span(self, node: Node) -> Span:
        """An element of an array with its comma; the whole lines where it has them for itself."""
        start, end = self._line_start(node.start_byte), self._comma(node) or node.end_byte
        alone = not self._raw(start, node.start_byte).strip()
        rest = self._raw(end, self._line_end(end)).strip()
        if alone and (not rest or rest.startswith("#")):
            return start, self._line_end(end)
        gap = re.compile(rb"[ \t]*").match(self._source, end)
        return node.start_byte, gap.end() if gap and rest else end

    # --- whole tables -----------------------------------------------------------------------------

    def is_block(self, path: KeyPath) -> bool:
        """Whether the path is a table with a header of its own."""
        node = self._nodes.get(path)
        return node is not None and node.type in _TABLES

    def block(self, path: KeyPath) -> str:
        """The text of a table from its header on, with the tables below it."""
        return self._raw(*self._block(self._tables(path)))

    def replace_block(self, path: KeyPath, text: str) -> None:
        """Another text in place of a table and the tables below it."""
        self._changes.append((self._block(self._tables(path)), text))

    def add_after(self, path: KeyPath, text: str) -> None:
        """A table more, after the one at the path and a blank line."""
        _, end = self._block(self._tables(path))
        self._insert_lines(end, ["", *text.splitlines()])

    def add_before(self, path: KeyPath, text: str) -> None:
        """A table more, before the one at the path and the comment that leads it."""
        start = self._start_of(path)
        while start:
            above = self._line_start(start - 1)
            if not self._raw(above, start).lstrip().startswith("#"):
                break
            start = above
        self._insert_lines(start, [*text.splitlines(), ""])

    def note(self, path: KeyPath, lines: Iterable[str]) -> None:
        """Comment lines straight above a table."""
        self._insert_lines(self._start_of(path), [f"# {line}".rstrip() for line in lines])

    def rename(self, path: KeyPath, name: str) -> None:
        """Another last key in the header of a table, and so of the tables below it."""
        for node in self._tables(path):
            _, part = key_parts(_header(node))[sum(isinstance(k, str) for k in path) - 1]
            self._changes.append((_span(part), toml_key(name)))

    def last(self, kind: str) -> KeyPath | None:
        """The last table ``[kind.name]`` of the text."""
        found = [p for p in self._inside[(kind,)] if self.is_block(p)]
        return max(found, key=lambda p: self._nodes[p].start_byte, default=None)

    def _tables(self, path: KeyPath) -> list[Node]:
        below = (n for p in self._below(path) if (n := self._nodes.get(p)) is not None)
        found = [n for n in below if n.type in _TABLES]
        if not found:
            raise self.refused(path, "cannot be written more than once in its present form")
        return found

    def _block(self, tables: Sequence[Node]) -> Span:
        """The whole lines of tables that stand together, to the last key of the last of them."""
        start = self._line_start(min(n.start_byte for n in tables))
        end = self._line_end(max(map(_own_end, tables)))
        for path, node in self._nodes.items():
            if start <= node.start_byte < end and node.type in _TABLES and node not in tables:
                said = "is between tables that belong together"
                raise self.refused(path, said, "move it below them")
        return start, end

    def _start_of(self, path: KeyPath) -> int:
        """The line a table starts on, in whatever form it is."""
        node = self._nodes.get(path)
        while node is not None and node.type not in (*_TABLES, "pair"):
            node = node.parent
        return self._line_start(0 if node is None else node.start_byte)

    # --- the new text -----------------------------------------------------------------------------

    def text(self) -> str:
        """The text with all that was asked for."""
        changes = [*self._changes, *self._shorter_tables()]
        parts, reached = [], 0
        for (start, end), text in sorted(changes, key=lambda c: c[0]):
            parts.append(self._raw(reached, max(start, reached)))
            parts.append(text)
            reached = max(reached, end)
        parts.append(self._raw(reached, len(self._source)))
        return "".join(parts)

    def _shorter_tables(self) -> Iterable[tuple[Span, str]]:
        """What takes keys out of inline tables, each with one comma."""
        for gone in self._cut_pairs.values():
            pairs = [n for n in _parent(gone[0]).named_children if n.type == "pair"]
            kept = False
            for i, pair in enumerate(pairs):
                start, end = _span(pair)
                if pair not in gone:
                    kept = True
                elif kept:
                    yield (pairs[i - 1].end_byte, end), ""
                else:
                    yield (start, pairs[i + 1].start_byte if i + 1 < len(pairs) else end), ""

    def refused(self, path: KeyPath, what: str, fix: str = "") -> InputError:
        """The error of a place that cannot be changed as it is."""
        ends = range(len(path), 0, -1)
        near = next((n for end in ends if (n := self._nodes.get(path[:end]))), None)
        line = None if near is None else near.start_point.row + 1
        header = f"[[{path[0]}]]" if isinstance(path[-1], int) else f"[{dotted(path)}]"
        fix = fix or f"write it as {header} with its keys below, each on a line"
        return InputError(Problem(what, dotted(path), fix, self.name, line))

    def _raw(self, start: int, end: int) -> str:
        return self._source[start:end].decode()

    def _line_start(self, at: int) -> int:
        return self._source.rfind(b"\n", 0, at) + 1

    def _line_end(self, at: int) -> int:
        """Where the next line starts."""
        return self._source.find(b"\n", at) + 1 or len(self._source)

    def _insert_lines(self, at: int, lines: Iterable[str]) -> None:
        text = "".join(line + self.newline for line in lines)
        if at and not self._source[:at].endswith(b"\n"):  # the last line of a file may have no end
            text = self.newline + text
        self._changes.append(((at, at), text))


def _span(node: Node) -> Span:
    return node.start_byte, node.end_byte


def _parent(node: Node) -> Node:
    assert node.parent is not None  # only the whole document has none
    return node.parent


def _header(table: Node) -> Node:
    return next(n for n in table.named_children if n.type != "comment")


def _header_end(table: Node) -> int:
    return next(n.end_byte for n in table.children if n.type in ("]", "]]"))


def _own_end(table: Node) -> int:
    """Where the last key of a table ends, or its header where it has none."""
    pairs = [n for n in table.named_children if n.type == "pair"]
    if not pairs:
        return _header_end(table)
    return next(n for n in reversed(pairs[-1].named_children) if n.type != "comment").end_byte
