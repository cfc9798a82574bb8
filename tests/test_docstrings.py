"""Docstrings of the public face, of geometry, mechanics and checks, in the form of numpydoc."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import route3d
from route3d import api

ROOT = Path(__file__).parents[1]
THEORY = (ROOT / "route3d/docs/theory.md").read_text(encoding="utf-8")
EXPORTED = [name for name in route3d.__all__ if name != "__version__"]
ORDER = ["Parameters", "Attributes", "Returns", "Raises", "References", "Examples"]
NOTHING = ("None", "NoReturn", "inspect._empty")


def of_packages() -> Iterator[tuple[str, Any]]:
    """Every public function of the modules of the three packages."""
    for package in ("geometry", "mechanics", "checks"):
        for file in sorted((ROOT / "route3d" / package).glob("[!_]*.py")):
            module = importlib.import_module(f"route3d.{package}.{file.stem}")
            for name, thing in vars(module).items():
                own = inspect.isfunction(thing) and thing.__module__ == module.__name__
                if own and not name.startswith("_"):
                    yield f"{package}.{file.stem}.{name}", thing


def of_the_face() -> Iterator[tuple[str, Any]]:
    """What ``route3d`` exports: functions, constructors, the methods of paths and answers."""
    for name in EXPORTED:
        thing = getattr(route3d, name)
        if inspect.isfunction(thing):
            yield name, thing
    kinds = [t for t in map(route3d.__getattr__, EXPORTED) if inspect.isclass(t)]
    for kind in (*kinds, api.Result):
        for name in vars(kind):
            thing = getattr(kind, name)
            is_method = inspect.isfunction(thing) or inspect.ismethod(thing)
            if is_method and not name.startswith("_") and name != "report":
                yield f"{kind.__name__}.{name}", thing


FUNCTIONS = dict([*of_the_face(), *of_packages()])
RECORDS = [
    t for t in map(route3d.__dict__.get, route3d.__all__) if t and dataclasses.is_dataclass(t)
]


def sections(thing: Any) -> dict[str, str]:
    """The sections of a docstring by name, in its order."""
    text = inspect.getdoc(thing) or ""
    parts = re.split(r"^(\w+)\n-{3,}\n", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def described(section: str) -> list[str]:
    """The names a Parameters section describes, each with something said about it."""
    names = []
    for head, body in re.findall(r"^(\S.*?) : .+\n((?:    .*\n?)*)", section + "\n", re.MULTILINE):
        assert body.strip(), f"nothing is said of {head}"
        names += [name.strip().lstrip("*") for name in head.split(",")]
    return names


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_what_it_takes_gives_and_raises(name: str) -> None:
    function = FUNCTIONS[name]
    found = sections(function)
    assert list(found) == [s for s in ORDER if s in found]
    signature = inspect.signature(function)
    wanted = [p for p in signature.parameters if p not in ("self", "cls")]
    if "Parameters" in found:
        heads = re.findall(r"^(\S.*)$", found["Parameters"], re.MULTILINE)
        if all(" : " in head for head in heads):
            assert sorted(described(found["Parameters"])) == sorted(wanted)
        else:  # "as for another function"
            assert all(p in found["Parameters"] for p in wanted)
    else:
        assert not wanted
    if str(signature.return_annotation) not in NOTHING:
        assert found["Returns"].strip()
    for error in raises(function):
        assert error in found.get("Raises", ""), f"{error} is raised and not told"


def raises(function: Any) -> Iterator[str]:
    """The classes of the errors that the body of a function raises itself."""
    source = inspect.getsource(function)
    lines = source.splitlines()
    indent = len(lines[0]) - len(lines[0].lstrip())
    tree = ast.parse("\n".join(line[indent:] for line in lines))
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
            error = ast.unparse(node.exc.func).split(".")[-1]
            if error[0].isupper():  # not a function that makes one
                yield error


def test_the_list_is_not_empty_by_mistake() -> None:
    assert len(FUNCTIONS) > 170
    assert {"integrate", "Cable.of", "geometry.fillet.fillet", "checks.run.check_run"} <= set(
        FUNCTIONS
    )
    assert len(RECORDS) >= 7


@pytest.mark.parametrize("record", RECORDS, ids=lambda r: r.__name__)
def test_a_record_of_the_face_tells_every_field(record: Any) -> None:
    told = described(sections(record)["Parameters"])
    assert told == [field.name for field in dataclasses.fields(record)]


def test_every_citation_of_the_theory_leads_to_its_section_and_equation() -> None:
    known = {int(n) for n in re.findall(r"^## (\d+)\. ", THEORY, re.MULTILINE)}
    numbered = {int(n) for n in re.findall(r" \((\d+)\)$", THEORY, re.MULTILINE)}
    assert known == set(range(1, len(known) + 1)) and numbered == set(range(1, 21))
    cited = 0
    for folder in ("route3d", "viewer", "tests"):
        for file in (ROOT / folder).rglob("*.py"):
            text = " ".join(re.sub(r"^\s*#", "", file.read_text(encoding="utf-8")).split())
            for place in re.findall(
                r"docs/theory\.md((?:,? (?:sections?|equations?|and|to)| \(?\d+\)?,?)+)", text
            ):
                kind: set[int] = set()
                for word in re.findall(r"[a-z]+|\d+", place):
                    if word.isdigit():
                        assert int(word) in kind, f"{file}: {place}"
                        cited += 1
                    elif word not in ("and", "to"):
                        kind = known if word.startswith("section") else numbered
    assert cited > 50
    # What the repository does not hold is not cited.
    for file in (*ROOT.glob("route3d/**/*.py"), *ROOT.glob("tests/**/*.py")):
        if file != Path(__file__):
            assert "design section" not in file.read_text(encoding="utf-8").lower(), file
