"""Imports go down the list of layers only, and heavy packages wait until they are used."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
# From the bottom up; a module may import from its own line and from those before it.
LAYERS = [
    *(
        ["errors"],
        ["phrase", "quantities", "spreadsheet", "directions", "disk"],
        ["units"],
        ["standards"],
        ["model"],
        ["geometry"],
        ["mechanics"],
    ),
    *(
        ["checks"],
        ["planning"],
        ["drawing"],
        ["report", "modelfile", "formats"],
        ["api"],
        ["cli"],
        ["docs"],
    ),
]
HEIGHT = {name: height for height, names in enumerate(LAYERS) for name in names}
HEAVY = {"shapely", "trimesh", "pyvista", "vtk", "vtkmodules", "scipy", "matplotlib"}
FILES = sorted((ROOT / "route3d").rglob("*.py"))


def imports(file: Path, *, everywhere: bool) -> Iterator[str]:
    """Full names imported when ``file`` is, and inside functions too if ``everywhere``."""

    def walk(node: ast.AST) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            if isinstance(child, ast.Import):
                yield from (alias.name for alias in child.names)
            elif isinstance(child, ast.ImportFrom):
                assert child.level == 0, f"{file}: relative import"
                yield from (f"{child.module}.{alias.name}" for alias in child.names)
            elif everywhere or not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                yield from walk(child)

    return walk(ast.parse(file.read_text(encoding="utf-8")))


def layer(dotted: str) -> int | None:
    """Height of the layer of ``route3d.<layer>...``, None outside route3d and for its front."""
    parts = dotted.split(".")
    return HEIGHT[parts[1]] if parts[0] == "route3d" and parts[1] in HEIGHT else None


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.relative_to(ROOT).as_posix())
def test_a_module_imports_only_from_below(file: Path) -> None:
    name = ".".join(file.relative_to(ROOT).with_suffix("").parts)
    own = layer(name) if name.count(".") else None
    if own is None:  # __init__ and __main__ of route3d open the house: they see all of it
        assert name in ("route3d.__init__", "route3d.__main__")
        return
    above = [x for x in imports(file, everywhere=True) if (layer(x) or 0) > own]
    assert not above


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.relative_to(ROOT).as_posix())
def test_heavy_packages_and_the_viewer_are_imported_when_used(file: Path) -> None:
    at_once = {name.split(".")[0] for name in imports(file, everywhere=False)}
    assert not at_once & (HEAVY | {"viewer"})


def test_pint_is_known_to_units_alone() -> None:
    users = [
        f for f in FILES if any(x.split(".")[0] == "pint" for x in imports(f, everywhere=True))
    ]
    # The command line loads it early, without scipy, and uses nothing of it.
    assert [f.relative_to(ROOT).as_posix() for f in users] == [
        "route3d/cli/common.py",
        "route3d/units.py",
    ]


def test_every_package_has_its_place() -> None:
    packages = {
        f.stem if f.parent.name == "route3d" else f.relative_to(ROOT).parts[1] for f in FILES
    }
    assert packages - {"__init__", "__main__"} == set(HEIGHT)
