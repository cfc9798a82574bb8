"""The published JSON Schema: whole, documented, and of one mind with the loader."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import route3d
from route3d.errors import InputError, UnitError
from route3d.model.practice import Practice
from route3d.modelfile.read import loads
from route3d.modelfile.schema import json_schema
from route3d.modelfile.starter import starter
from route3d.units import parse

MODELS = Path(route3d.__file__).parents[1] / "models"
TEXTS = {p.stem: p.read_text(encoding="utf-8") for p in sorted(MODELS.glob("*.toml"))}
TEXTS |= {f"starter {units}": starter(units) for units in ("US", "SI")}
SCHEMA = json_schema()
TABLES = {"": SCHEMA, **SCHEMA["$defs"]}


def errors_of(text: str) -> list[str]:
    return [e.message for e in Draft202012Validator(SCHEMA).iter_errors(tomllib.loads(text))]


def test_it_is_a_schema_of_the_draft_it_names() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("name", TEXTS)
def test_it_accepts_what_the_loader_accepts(name: str) -> None:
    assert errors_of(TEXTS[name]) == []


def test_every_field_has_a_title_and_a_description() -> None:
    fields = [f for table in TABLES.values() for f in table["properties"].values()]
    assert len(fields) > 50
    assert all(f.get("title") and f.get("description") for f in fields)


def test_every_table_refuses_unknown_keys() -> None:
    assert all(table["additionalProperties"] is False for table in TABLES.values())


def test_practice_has_exactly_the_fields_of_the_model() -> None:
    # That rules were assumed is what a file cannot say: it does not name them then.
    fields = set(Practice.__dataclass_fields__) - {"rules_assumed"}
    assert set(SCHEMA["$defs"]["PracticeEntry"]["properties"]) == fields | {"example"}


def test_toml_has_no_null() -> None:
    assert "null" not in str(SCHEMA) and "None" not in str(SCHEMA)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("title", "titel"),
        ("diameter       =", "diametre       ="),
        ("friction   =", "frictoin   ="),
        ("bend = 48", "bnd = 48"),
        ("metal =", "mettle ="),
        ('units = "US"', 'units = "us"'),
        ('"pulling eyes"', '"eyes"'),
        ('arrangement  = "auto"', 'arrangement  = "cradle"'),
        ("1.387", "-1.387"),
        ("1.387", "true"),
        ("1.387", '"1,387 in"'),
        ("1.387", '"1.387"'),
        ("1.387", '"sixty kN"'),
        ("phase = 3", "phase = 0"),
        ("rows    = 2", "rows    = 21"),
        ('reel_tension = "auto"', 'reel_tension = "none"'),
        ("PVC-40", "PVC-41"),
        ('"machine"]', '"tractor"]'),
        ("[0, 0, -5]", "[0, 0]"),
    ],
)
def test_it_refuses_what_the_loader_refuses(old: str, new: str) -> None:
    text = TEXTS["riser_duct_bank"]
    assert old in text
    broken = text.replace(old, new, 1)
    assert errors_of(broken)
    with pytest.raises(InputError):
        loads(broken)


LENGTHS = [
    "12.5 ft", "1.2m", "6\"", "3/4\"", "5'", "5'-3 1/2\"", "5' 3\"", "5 ft 3 in", "5ft-3in",
    "1 1/2 in", "3/4 in", "1e3 mm", "-2 m", "−2 m", ".5 m", "2. m", "1.5 metres", " 3 m ",
    "1,5 m", "5 k", "m", "12", "12 #", "nan m", "inf m", "1.2.3 m", "", "five ft", "0x10 m",
    "1_000 m", "+3 m", "3 m m", "--3 m", "1/0 in",
]  # fmt: skip


@pytest.mark.parametrize("text", LENGTHS)
def test_the_pattern_never_refuses_a_quantity_that_is_read(text: str) -> None:
    """The pattern may be looser than the parser, never stricter."""
    shape: dict[str, Any] = SCHEMA["$defs"]["VertexEntry"]["properties"]["bend"]
    try:
        parse(text, "radius", "SI")
    except UnitError:
        return
    assert Draft202012Validator(shape).is_valid(text)


@pytest.mark.parametrize("text", ["1,5 m", "12", "12 #", "nan m", "", "five ft", "1_000 m", "m"])
def test_the_pattern_refuses_plain_mistakes(text: str) -> None:
    shape: dict[str, Any] = SCHEMA["$defs"]["VertexEntry"]["properties"]["bend"]
    assert not Draft202012Validator(shape).is_valid(text)
