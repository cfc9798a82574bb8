"""Places of keys and values in TOML text, against places counted by hand."""

from __future__ import annotations

import time
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.errors import InputError
from route3d.modelfile.toml_positions import KeyPath, _walked, read_toml

TEXT = """title = "é" # x
a.b = 1
[cable.phase]
conductor = { metal = "cü", area = "350" } # c
"q k".z = [1, 2]
[[run]]
route = [
  { at = [0, 0, # a comment, with ] in it
     5], name = "v" },
  { at = [1, 2, 3] },
]
[[run]]
[run.sub]
x = 1
[[run.deep]]
y = 1
[[run.deep]]
y = 2
"""


@pytest.mark.parametrize(
    ("path", "value", "key"),
    [
        (("title",), (1, 9), (1, 1)),
        (("a", "b"), (2, 7), (2, 3)),
        (("cable", "phase"), (3, 2), (3, 2)),
        (("cable", "phase", "conductor", "area"), (4, 36), (4, 29)),
        (("cable", "phase", "q k", "z", 1), (5, 15), (5, 15)),
        (("run", 0, "route", 0, "at", 2), (9, 6), (9, 6)),
        (("run", 0, "route", 0, "name"), (9, 17), (9, 10)),
        (("run", 0, "route", 1), (10, 3), (10, 3)),
        (("run", 1), (12, 3), (12, 3)),
        (("run", 1, "sub", "x"), (14, 5), (14, 1)),
        (("run", 1, "deep", 1, "y"), (18, 5), (18, 1)),
    ],
)
def test_places(path: KeyPath, value: tuple[int, int], key: tuple[int, int]) -> None:
    document = read_toml(TEXT)
    assert document.value_place(path) == value
    assert document.key_place(path) == key


def test_a_key_that_is_not_there_is_placed_at_its_table() -> None:
    assert read_toml(TEXT).value_place(("cable", "phase", "diameter")) == (3, 2)


def test_windows_line_ends_do_not_shift_lines() -> None:
    assert read_toml(TEXT.replace("\n", "\r\n")).value_place(("run", 1, "sub", "x")) == (14, 5)


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("a = 1\nb = \n", 2, 5),
        ('a = "\n', 1, 6),
        ("a = 1\n[b\n", 2, 3),
        ("a = [1, 2", 1, None),
        ("x = 01", 1, 6),
    ],
)
def test_syntax_errors_have_a_line(text: str, line: int, column: int | None) -> None:
    with pytest.raises(InputError) as caught:
        read_toml(text, "f.toml")
    (problem,) = caught.value.problems
    assert problem.file == "f.toml"
    assert (problem.line, problem.column) == (line, column)
    assert problem.message.startswith("not TOML: ")


def test_a_number_of_thousands_of_digits_is_refused() -> None:
    with pytest.raises(InputError):
        read_toml("a = " + "9" * 5000)


def test_deep_nesting_is_refused() -> None:
    with pytest.raises(InputError, match="nested too deeply"):
        read_toml("a = " + "[" * 5000 + "]" * 5000)


# Every path of the data must have a place of its own: checked on random documents.
keys = st.text("ab \"'é.", min_size=1, max_size=3)
leaves = st.integers(-9, 9) | st.booleans() | st.text("xé#]}", max_size=3)
values = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=8,
)


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[\n" + ", # note\n".join(_written(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_written(k)} = {_written(v)}" for k, v in value.items()) + "}"
    return str(value)


def _paths(value: object, path: KeyPath = ()) -> list[KeyPath]:
    inner: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return [path] * bool(path) + [p for k, v in inner for p in _paths(v, (*path, k))]


@given(st.dictionaries(keys, values, max_size=3))
def test_every_path_has_its_own_place(data: dict[str, object]) -> None:
    text = "".join(f"{_written(k)} = {_written(v)}\n" for k, v in data.items())
    assert tomllib.loads(text) == data
    document = read_toml(text)
    lines = text.split("\n")
    for path in _paths(data):
        line, column = document.values[path]
        value: object = data
        for part in path:
            value = value[part]  # type: ignore[index]
        assert lines[line - 1][column - 1 :].startswith(_written(value).split("\n")[0])


# --- a key given twice --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "key", "first", "line"),
    [
        ("[cable.phase]\ndiameter = 1\nweight = 2\ndiameter = 3\n", "cable.phase.diameter", 2, 4),
        ("a = 1\nb = 2\na = 1\n", "a", 1, 3),
        ("[a]\nx = 1\n\n[a]\ny = 1\n", "a", 1, 4),
        ("[[run]]\nname = 1\n[[run]]\nname = 1\nname = 2\n", "run[1].name", 4, 5),
        ("r = [\n { at = 1 },\n { bend = 1, bend = 2 },\n]\n", "r[1].bend", 3, 3),
        ("a = 1\na.b = 2\n", "a.b", 1, 2),
        ("a.b = 1\na = 2\n", "a", 1, 2),
        ('"a b" = 1\n"a b" = 2\n', "'a b'", 1, 2),
        ("a = { b = 1 }\n[a.c]\nd = 1\n", "a.c", 1, 2),
        ("[t]\nx = 1\n[u]\nx = 2\n[t.x]\ny = 3\n", "t.x", 2, 5),
    ],
)
def test_a_key_given_twice_is_named_with_both_lines(
    text: str, key: str, first: int, line: int
) -> None:
    with pytest.raises(InputError) as caught:
        read_toml(text, "m.toml")
    (problem,) = caught.value.problems
    assert (problem.where, problem.line) == (key, line)
    assert f"first on line {first}" in problem.message and "remove one" in problem.fix


@pytest.mark.parametrize(
    "text",
    [
        "a.b = 1\na.c = 2\n[d.e]\nf = 1\n[d]\ng = 1\n",
        "[[run]]\nname = 1\n[run.x]\ny = 1\n[[run]]\nname = 1\n[run.x]\ny = 1\n",
        "a = { b = { c = 1 }, d = [{ c = 1 }, { c = 1 }] }\n",
    ],
)
def test_keys_given_once_are_no_trouble(text: str) -> None:
    assert read_toml(text).data == tomllib.loads(text)
    walk = _walked(text)
    assert walk is not None and walk.twice == []


# --- files made to take long ---------------------------------------------------------------------

MANY = 20_000


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * MANY) + " = 1\n",
        "x = { " + ".".join(["a"] * MANY) + " = 1 }\n",
        "[" + ".".join(["a"] * MANY) + "]\n",
        "[[" + " . ".join(['"a"'] * MANY) + "]]\n",
        "'a'." * MANY + "b = 1\n",
        "a." * MANY + "= 1\n",
        "x = " + "[" * MANY + "]" * MANY + "\n",
        "x = " + "{ a = " * MANY + "1" + " }" * MANY + "\n",
    ],
    ids=["dotted", "inside", "header", "array", "quoted", "broken", "lists", "tables"],
)
def test_what_is_nested_thousands_deep_is_refused_at_once(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(InputError) as caught:
        read_toml("units = 'SI'\n" + text, "job.toml")
    assert time.perf_counter() - start < 1.0  # 16 s and 2 GB before
    (problem,) = caught.value.problems
    assert problem.file == "job.toml" and len(str(problem)) < 250
    assert "more than 32 segments" in problem.message or "nested too deeply" in problem.message
    if "parts" in problem.message:
        assert problem.line == 2


def test_as_many_parts_as_are_allowed_are_read() -> None:
    assert read_toml(".".join(["a"] * 32) + " = 1\n").data["a"]
    with pytest.raises(InputError, match="more than 32 segments"):
        read_toml(".".join(["a"] * 33) + " = 1\n")
    long = ".".join("1" * 40)
    assert read_toml(f'x = "{long}"\ny = [{", ".join(["1.5"] * 40)}]\n').data["x"] == long


@pytest.mark.scale
@pytest.mark.parametrize("item", ["1.5", '"ä"'])
def test_a_long_line_is_read_in_time_that_grows_with_it(item: str) -> None:
    start = time.perf_counter()
    found = read_toml(f"x = [{', '.join([item] * 50_000)}]\n")
    assert time.perf_counter() - start < 5.0  # the square of the length would be minutes
    step = len(item) + 2
    assert found.value_place(("x", 49_999)) == (1, 6 + 49_999 * step)
