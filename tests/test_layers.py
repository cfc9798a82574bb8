"""Imports go down the list of layers only, and heavy libraries wait until they are used."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[1]
LAYERS = "errors|phrase|units|standards|model|geometry|mechanics|checks|planning|report files cli"
LEVEL = {name: i for i, level in enumerate(LAYERS.split("|")) for name in level.split()}
TOP = {"__init__": len(LEVEL), "__main__": len(LEVEL)}  # the package's own face, above all
HEAVY = {"shapely", "trimesh", "pyvista", "scipy", "matplotlib", "mpmath", "viewer"}
PINT = {"route3d/units.py", "route3d/cli/common.py"}
FILES = sorted((ROOT / "route3d").rglob("*.py"))


class Import(NamedTuple):
    """A module that is imported, and whether that happens as soon as the file is."""

    module: str
    at_once: bool


def imports(node: ast.AST, at_once: bool = True) -> Iterator[Import]:
    if isinstance(node, ast.Import):
        yield from (Import(alias.name, at_once) for alias in node.names)
    elif isinstance(node, ast.ImportFrom):
        assert node.level == 0, "imports are absolute"
        inside = [alias.name for alias in node.names] if node.module == "route3d" else [""]
        yield from (Import(f"{node.module}.{name}".rstrip("."), at_once) for name in inside)
    later = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    later |= isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    for child in ast.iter_child_nodes(node):
        yield from imports(child, at_once and not later)


def faults(name: str, source: str) -> Iterator[str]:
    """What is wrong with the imports of the file ``name``, relative to the repository."""
    own = Path(name).with_suffix("").parts[1]
    for module, at_once in imports(ast.parse(source)):
        package, *rest = module.split(".")
        if module == "route3d.__version__":  # a string set before anything is imported
            continue
        if package == "route3d":
            target = rest[0] if rest and rest[0] in LEVEL else "__init__"
            if (LEVEL | TOP)[target] > (LEVEL | TOP)[own]:
                yield f"{name} imports {module}, which is above it"
        elif package in HEAVY and at_once:
            yield f"{name} imports {module} at once"
        elif package == "pint" and (name not in PINT or (at_once and "cli" in name)):
            yield f"{name} imports {module}"


@pytest.mark.parametrize("file", FILES, ids=lambda f: str(f.relative_to(ROOT)))
def test_imports_go_down_the_layers(file: Path) -> None:
    assert list(faults(file.relative_to(ROOT).as_posix(), file.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    ("name", "source", "ok"),
    [
        ("route3d/geometry/path.py", "from route3d.mechanics.tension import brake", False),
        ("route3d/model/run.py", "def f():\n    from route3d import checks", False),
        ("route3d/units.py", "import route3d", False),
        ("route3d/cli/view.py", "import viewer.scene", False),
        ("route3d/cli/view.py", "def f():\n    import viewer.scene", True),
        ("route3d/report/section.py", "try:\n    import shapely\nexcept OSError: pass", False),
        ("route3d/report/section.py", "if TYPE_CHECKING:\n    import shapely", True),
        ("route3d/files/fields.py", "def f():\n    import pint", False),
        ("route3d/cli/common.py", "import pint", False),
        ("route3d/report/tension.py", "from route3d.files import schema", True),
    ],
)
def test_the_check_itself_sees_what_is_forbidden(name: str, source: str, ok: bool) -> None:
    assert (not list(faults(name, source))) == ok
