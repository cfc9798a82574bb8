"""Whatever is typed into a model file, it is a Job or an InputError that says where."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import route3d
from route3d.errors import InputError
from route3d.model import Job
from route3d.modelfile.read import loads

MODELS = Path(route3d.__file__).parents[1] / "models"
TEXTS = [p.read_text(encoding="utf-8") for p in sorted(MODELS.glob("*.toml"))]

# Tokens where a slip is likely; each may be replaced by any of the odd values.
TOKEN = re.compile(r'"[^"\n]*"|-?\d+(?:\.\d+)?|\b[a-z_]+\b|[{}\[\],=]')
ODD = [
    "", "0", "-1", "1e308", "1e-308", "nan", "-inf", "true", "''", '"\\u0000"', '"9/0 in"',
    "[]", "[[[]]]", "{}", "{ a = 1 }", "1979-05-27", "07:32:00", '"auto"', '"duct"', "9" * 400,
    '"1e999 m"', '"½ in"', '"{x}"', '"%s"', "0x7fffffffffffffff", '"\\uffff"', "= =", "#", "\n",
    '"5 mm"', '"1 AWG"', '"0 kcmil"', '"99999999999999999999 kcmil"', '"' + "z" * 600 + '"',
]  # fmt: skip


def check(text: str) -> None:
    try:
        assert isinstance(loads(text, "x.toml"), Job)
    except InputError as error:
        assert error.problems
        lines = text.count("\n") + 1
        for problem in error.problems:
            assert problem.message
            assert problem.file == "x.toml"
            assert problem.line is None or 1 <= problem.line <= lines


patient = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@patient
@given(st.data())
def test_replaced_tokens(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    for _ in range(data.draw(st.integers(1, 3))):
        tokens = list(TOKEN.finditer(text))
        token = data.draw(st.sampled_from(tokens))
        odd = data.draw(st.sampled_from(ODD) | st.text(max_size=6))
        text = text[: token.start()] + odd + text[token.end() :]
    check(text)


@patient
@given(st.data())
def test_lines_lost_doubled_and_moved(data: st.DataObject) -> None:
    lines = data.draw(st.sampled_from(TEXTS)).splitlines(keepends=True)
    for _ in range(data.draw(st.integers(1, 4))):
        line = lines.pop(data.draw(st.integers(0, len(lines) - 1)))
        for _ in range(data.draw(st.integers(0, 2))):
            lines.insert(data.draw(st.integers(0, len(lines))), line)
    check("".join(lines))


@patient
@given(st.sampled_from(TEXTS), st.data())
def test_changed_characters(text: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 3))
    check(text[:at] + data.draw(st.text(max_size=3)) + text[at + cut :])


numbers = st.floats() | st.integers() | st.sampled_from(["1 m", "3 ft", "x"])
points = st.lists(st.tuples(numbers, numbers, numbers), min_size=0, max_size=5)


@patient
@given(points, st.lists(numbers, min_size=5, max_size=5))
def test_any_numbers_as_route(route: list[tuple[object, ...]], bends: list[object]) -> None:
    written = ",".join(
        f"{{ at = [{', '.join(map(_toml, at))}], bend = {_toml(bend)}, conduit = 'shaft' }}"
        for at, bend in zip(route, bends, strict=False)
    )
    base = TEXTS[1]
    check(base[: base.index("route = [")] + f"route = [{written}]")


def _toml(value: object) -> str:
    return repr(value)
