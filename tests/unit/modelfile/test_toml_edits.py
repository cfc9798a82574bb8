"""Changes to TOML text: what is asked for, and not a byte more."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.errors import InputError
from route3d.modelfile.toml_edits import TomlEdits, toml_value

TEXT = """\
# head
top = 1 # one

[a.'odd key']  # of a
long   = [
  1,   # first
  2, 3
]
short  = { x = 1, y = "é", z = 3 }   # at the end

# of the rows
[[row]]
name = "r1"
points = [
  { at = 1 },   # one
  { at = 2 }
]
flat = [{ at = 1 }, { at = 2 }, { at = 3 }]
[row.sub]
k = 1

[[row]]
none = {}
[empty]
"""


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("top",), "2.5", "top = 1 # one", "top = 2.5 # one"),
        (("a", "odd key", "long", 1), "9", "  2, 3", "  9, 3"),
        (("a", "odd key", "short", "y"), '"ü"', 'y = "é"', 'y = "ü"'),
        (("a", "odd key", "short", "w"), "4", "z = 3 }", "z = 3, w = 4 }"),
        (("a", "odd key", "new"), "4", "# at the end\n", "# at the end\nnew    = 4\n"),
        (("row", 0, "points", 1, "b"), "7", "{ at = 2 }\n", "{ at = 2, b = 7 }\n"),
        (("row", 1, "none", "b"), "7", "none = {}", "none = { b = 7 }"),
        (("row", 0, "sub", "l"), "2", "k = 1\n", "k = 1\nl = 2\n"),
        (("empty", "b c"), "7", "[empty]\n", '[empty]\n"b c" = 7\n'),
    ],
)
def test_a_value_in_place_or_a_new_key(path: Any, value: str, old: str, new: str) -> None:
    edits = TomlEdits(TEXT)
    edits.put(path, value)
    assert TEXT.count(old) == 1
    assert edits.text() == TEXT.replace(old, new)


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        (("top",), "top = 1 # one\n", ""),
        (("a", "odd key", "long", 0), "  1,   # first\n", ""),
        (("a", "odd key", "long", 1), "  2, 3", "  3"),
        (("a", "odd key", "short", "x"), "x = 1, ", ""),
        (("a", "odd key", "short", "z"), ", z = 3", ""),
        (("row", 0, "points", 1), "  { at = 2 }\n", ""),
        (("row", 0, "flat", 0), "[{ at = 1 }, ", "["),
        (("row", 0, "flat", 2), "{ at = 3 }]", "]"),
        (("row", 0, "sub"), "[row.sub]\nk = 1\n", ""),
    ],
)
def test_something_taken_out(path: Any, old: str, new: str) -> None:
    edits = TomlEdits(TEXT)
    edits.remove(path)
    assert TEXT.count(old) == 1
    assert edits.text() == TEXT.replace(old, new)
    tomllib.loads(edits.text())


@pytest.mark.parametrize("gone", ["x", "y", "z", "xy", "yz", "xz", "xyz", ""])
def test_any_keys_taken_out_of_a_table_in_one_line(gone: str) -> None:
    edits = TomlEdits(TEXT)
    for key in gone:
        edits.remove(("a", "odd key", "short", key))
    table = tomllib.loads(edits.text())["a"]["odd key"]["short"]
    assert "".join(table) == "".join(k for k in "xyz" if k not in gone)


@pytest.mark.parametrize(
    ("row", "after", "old", "new"),
    [
        (("points", 0), True, "},   # one\n", "},   # one\n  { n = 9 },\n"),
        (("points", 0), False, "  { at = 1 },   #", "  { n = 9 },\n  { at = 1 },   #"),
        (("points", 1), True, "{ at = 2 }\n", "{ at = 2 },\n  { n = 9 },\n"),
        (("flat", 0), True, "[{ at = 1 },", "[{ at = 1 }, { n = 9 },"),
        (("flat", 0), False, "[{ at = 1 },", "[{ n = 9 }, { at = 1 },"),
        (("flat", 2), True, "{ at = 3 }]", "{ at = 3 }, { n = 9 }]"),
    ],
)
def test_one_more_row(row: tuple[str, int], after: bool, old: str, new: str) -> None:
    edits = TomlEdits(TEXT)
    edits.insert_row(("row", 0, *row), {"n": "9"}, after=after)
    assert edits.text() == TEXT.replace(old, new)
    tomllib.loads(edits.text())


def test_tables_copied_renamed_and_told() -> None:
    edits = TomlEdits(TEXT)
    part = TomlEdits(edits.block(("a", "odd key")))
    part.rename(("a", "odd key"), "plain")
    edits.add_after(("a", "odd key"), part.text())
    edits.add_before(("row", 0), "[new]\nk = 1")
    edits.note(("row", 0), ["told"])
    assert edits.block(("row", 0)).endswith("[row.sub]\nk = 1\n")
    text = edits.text()
    assert "\n\n[a.plain]  # of a\nlong   = [\n" in text
    assert "\n\n[new]\nk = 1\n\n# of the rows\n# told\n[[row]]\n" in text
    data = tomllib.loads(text)
    assert data["a"]["plain"] == data["a"]["odd key"]


def test_what_has_no_header_is_refused_with_its_line() -> None:
    edits = TomlEdits("x = 1\nrow = [{ a = 1 }]\n", "f.toml")
    with pytest.raises(InputError) as caught:
        edits.block(("row", 0))
    assert str(caught.value).startswith("f.toml:2: row[0]: ")
    assert "write it as [[row]]" in str(caught.value)


@given(
    st.recursive(
        st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | st.text(),
        lambda inside: st.lists(inside) | st.dictionaries(st.text(), inside),
        max_leaves=12,
    )
)
def test_every_value_reads_back(value: Any) -> None:
    try:
        text = f"k = {toml_value(value)}\n"
        text.encode()
    except UnicodeEncodeError:  # half a character, which no file holds
        return
    assert tomllib.loads(text)["k"] == value
