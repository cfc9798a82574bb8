"""A document as a sequence of parts: what paper and browser set out, each in its own way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, TypeAlias

from route3d.report.block import Block
from route3d.report.formula import Formula


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``level`` 1 starts a part of the document, ``new_page`` a page."""

    text: str
    level: int = 2
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """Paragraphs; ``small`` for notes, ``bullets`` for a list."""

    texts: tuple[str, ...]
    small: bool = False
    bullets: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer in a box."""

    text: str
    stop: bool


@dataclass(frozen=True, slots=True)
class Table:
    """The table of a block: ``dense`` for very many columns, ``shares`` of the width for each.

    One to ``write_in`` has boxes high enough for a pen.
    """

    block: Block
    caption: str = ""
    dense: bool = False
    shares: tuple[float, ...] = ()
    write_in: bool = False


@dataclass(frozen=True, slots=True)
class Formulas:
    """Formulas under a title each, with words below: rules of the method, or figures put in."""

    items: tuple[tuple[str, tuple[Formula, ...], str], ...]
    columns: int = 1


@dataclass(frozen=True, slots=True)
class Figures:
    """Pictures side by side: SVG text, caption, share of the width."""

    items: tuple[tuple[str, str, float], ...]


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to sign: what for, and the name where it is given."""

    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class DrawingPage:
    """A drawing true to scale on a page of its own, mm."""

    svg: str
    width: float
    height: float
    caption: str


Part: TypeAlias = Heading | Words | Verdict | Table | Formulas | Figures | Signatures | DrawingPage


@dataclass(frozen=True, slots=True)
class Document:
    """A document: its ``title`` block as pairs of label and text, its ``parts``, its ``foot``.

    ``banner`` is printed at the head of every page; empty for none.
    """

    title: str
    name: str
    block: tuple[tuple[str, str], ...]
    parts: tuple[Part, ...]
    foot: str
    banner: str = ""


def document_data(document: Document) -> dict[str, Any]:
    """The document as plain data for a template."""
    return {
        "title": document.title,
        "name": document.name,
        "block": [list(pair) for pair in document.block],
        "foot": document.foot,
        "banner": document.banner,
        "parts": [
            part_data(part, following)
            for part, following in zip_longest(document.parts, document.parts[1:])
        ],
    }


def part_data(part: Part, following: Part | None = None) -> dict[str, Any]:
    """A part as plain data; ``following`` is the one after it."""
    kind = type(part).__name__.lower()
    match part:
        case Heading():
            data: dict[str, Any] = {
                "text": part.text,
                "level": part.level,
                "new_page": part.new_page,
            }
        case Words():
            data = {"texts": list(part.texts), "small": part.small, "bullets": part.bullets}
            data["leads"] = isinstance(following, Table)  # stays on the page of its table
        case Verdict():
            data = {"text": part.text, "stop": part.stop}
        case Table():
            data = {
                "heads": list(part.block.heads),
                "rows": [list(row) for row in part.block.rows],
                "numbers": sorted(part.block.numbers),
                "heavy": sorted(part.block.heavy),
                "notes": list(part.block.notes),
                "dense": part.dense,
                "shares": list(part.shares),
                "write_in": part.write_in,
                "caption": part.caption,
            }
        case Formulas():
            data = {
                "items": [
                    {"title": title, "formulas": [f.typst for f in formulas], "words": words}
                    for title, formulas, words in part.items
                ],
                "columns": part.columns,
            }
        case Figures():
            data = {"items": _dicts(part.items, ("svg", "caption", "share"))}
        case Signatures():
            data = {"lines": _dicts(part.lines, ("what", "name"))}
        case DrawingPage():
            data = {
                "svg": part.svg,
                "width": part.width,
                "height": part.height,
                "caption": part.caption,
            }
    return {"kind": kind} | data


def _dicts(items: Sequence[tuple[Any, ...]], names: Sequence[str]) -> list[dict[str, Any]]:
    return [dict(zip(names, item, strict=True)) for item in items]
