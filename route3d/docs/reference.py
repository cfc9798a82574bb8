"""The pages of the model file and the crews file, made from their JSON Schemas."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from route3d.modelfile.crews_file import crews_schema
from route3d.modelfile.example_marks import MARK
from route3d.modelfile.schema import json_schema

Node = dict[str, Any]

_HEAD = """# Model file

Made from the JSON Schema of the file by `python -m route3d.docs model-file`; do not edit by hand.
`route3d schema` prints the schema for an editor, `route3d new my_run.toml` writes a model file to
start from, in which every key is explained.

One TOML file describes a job. Bare numbers are read in the `units` of the file. Any quantity may
carry its own unit as text instead: `"48 in"`, `"1.2 m"`, `"500 lbf/ft"`, `"5'-3 1/2\\""`.
What is doubtful (a comma, an unknown unit, a mass where a length belongs) is refused, with file,
line, key, value and fix. z is up; x and y are any plan grid. Unknown keys are errors.

| | bare number, US | bare number, SI |
|---|---|---|
| positions, lengths | ft | m |
| diameters | in | mm |
| bend radii | in | m |
| weight per length | lb/ft | kg/m |
| force | lbf | N |
| sidewall pressure | lbf/ft | N/m |
| speed | ft/min | m/min |

`example = true` may stand in every table, or at the top for the whole file. It marks values that
nobody has confirmed: every output names the marked tables under EXAMPLE VALUES, `check` has a
caution, and sheets are made as drafts only. Delete the line once the values are yours.

In the tables below, *quantity* is a number or a text with a unit, and the example shows which unit.
"""


_CREWS_HEAD = """# Crews file

Made from the JSON Schema of the file by `python -m route3d.docs model-file`; do not edit by hand.
What it is for: [day plan](study_days.md). An example is `models/crews/berths.toml`.

One TOML file beside the model file: crews, machines, outage windows and deliveries for
`route3d study days MODEL CREWS`. Runs, machines and reels are named as in the model file. Bare
lengths are in the units of the model file, bare times in minutes. Dates are TOML dates
(`2026-06-01`), dates with a time of day TOML date-times without a zone (`2026-06-01T07:00:00`);
both may be text (`"2026-06-01 07:00"`). All are in the time of the site; a change of the clocks is
not modeled. Unknown keys are errors.
"""


def model_file_page() -> str:
    """The page of the model file as Markdown."""
    return _page(json_schema(), _HEAD)


def crews_file_page() -> str:
    """The page of the crews file as Markdown."""
    return _page(crews_schema(), _CREWS_HEAD)


def _page(schema: Node, head: str) -> str:
    parts = [head, "## Top level\n", *_table(schema, schema)]
    for path, name in _tables(schema):
        definition = schema["$defs"][name]
        parts += [f"## {path}\n", _escaped(definition["description"]) + "\n"]
        parts += _table(definition, schema)
    return "\n".join(parts) + "\n"


def _tables(schema: Node) -> Iterator[tuple[str, str]]:
    """Every table with its heading, each once, those within after the one they belong to."""
    seen: set[str] = set()

    def walk(node: Node, path: str) -> Iterator[tuple[str, str]]:
        for key, field in node["properties"].items():
            for name, form in _references(field):
                if name not in seen:
                    seen.add(name)
                    here = _path(path, key, form)
                    yield here, name
                    yield from walk(schema["$defs"][name], here)

    return walk(schema, "")


def _path(before: str, key: str, form: str) -> str:
    """How the heading of a table is written, such as ``[cable.NAME]`` or ``[[run]]``."""
    inner = f"{before.strip('[]')}.{key}" if before else key
    if form == "named":
        return f"[{inner}.NAME]"
    return f"[[{inner}]]" if form == "list" else f"[{inner}]"


def _references(field: Node) -> Iterator[tuple[str, str]]:
    """The tables a field holds: the name of each, and whether by name, in a list, or one."""
    shapes = (
        (field, "one"),
        (field.get("items", {}), "list"),
        (field.get("additionalProperties", {}), "named"),
    )
    for shape, form in shapes:
        if isinstance(shape, dict):
            for one in (shape, *shape.get("anyOf", ())):
                if "$ref" in one:
                    yield one["$ref"].rsplit("/", 1)[1], form


def _table(node: Node, schema: Node) -> list[str]:
    lines = ["| key | value | default | meaning |", "|---|---|---|---|"]
    required = node.get("required", ())
    ways = [way["required"] for way in node.get("anyOf", ())]
    filling = [keys[0] for keys in ways if keys in (["stock"], ["history"])]
    filled = [key for keys in ways if keys[0] not in filling for key in keys]
    fields = dict(node["properties"])
    mark = fields.pop(MARK)  # every table may have it: told once, at the end of the top level
    for key, field in (*fields.items(), *([(MARK, mark)] if node is schema else [])):
        default = "**required**" if key in required else _default(field, schema)
        if key in filled:
            default = "**required** without " + " or ".join(f"`{name}`" for name in filling)
        cells = (f"`{key}`", _value(field), default, _escaped(field.get("description", "")))
        lines.append("| " + " | ".join(cells) + " |")
    return [*lines, ""]


def _default(field: Node, schema: Node) -> str:
    value = field.get("default")
    if value in (None, "", [], {}) or isinstance(value, dict):
        return ""
    return _code(value)


def _value(field: Node) -> str:
    """What may stand there, in words."""
    found = list(_references(field))
    if found and "anyOf" not in field and "anyOf" not in field.get("items", {}):
        return {"one": "table", "list": "list of tables", "named": "tables by name"}[found[0][1]]
    if "enum" in field:
        return ", ".join(_code(word) for word in field["enum"])
    if "prefixItems" in field:
        items = list(dict.fromkeys(_value(item) for item in field["prefixItems"]))
        many = f"{len(field['prefixItems'])} of: " if len(items) == 1 else ""
        return f"[{many}{', '.join(items)}]"
    if field.get("type") == "array":
        return f"list of {_value(field['items'])}" if "items" in field else "list"
    if "anyOf" in field:
        kinds = list(dict.fromkeys(_kind(shape, field) for shape in field["anyOf"]))
        words = " or ".join(kinds)
        examples = ", ".join(map(_code, field.get("examples", ())))
        return f"{words}, such as {examples}" if _has_unit(field) else words
    return _kind(field, field)


def _kind(shape: Node, field: Node) -> str:
    if "const" in shape:
        return _code(shape["const"])
    if "$ref" in shape:
        return "table"
    kind = shape.get("type")
    if kind in ("number", "integer") and "maximum" in shape:
        return f"{shape['minimum']} to {shape['maximum']}"
    if kind == "object":
        return "table by name"
    texts = {"number": "number", "integer": "whole number", "boolean": "true or false"}
    quantity = any(s.get("type") == "number" for s in field.get("anyOf", ()))
    if quantity and kind in ("number", "string"):
        return "quantity" if _has_unit(field) else "number"
    return texts.get(str(kind), "text")


def _has_unit(field: Node) -> bool:
    return any(isinstance(example, str) for example in field.get("examples", ()))


def _code(value: Any) -> str:
    return f"`{json.dumps(value, ensure_ascii=False)}`"


def _escaped(text: str) -> str:
    """Text that Markdown shows as it is."""
    return text.replace("|", "\\|").replace("<", "&lt;").replace("*", "\\*")
