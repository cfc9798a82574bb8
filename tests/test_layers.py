"""Imports go down the list of layers only, never in a circle, and heavy packages wait."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
# From the bottom up; a module may import from its own line and from those before it.
LAYERS = [
    *(
        ["errors"],
        ["phrase", "quantities", "spreadsheet", "directions", "disk", "language"],
        ["units"],
        ["standards"],
        ["model"],
        ["geometry"],
        ["mechanics"],
    ),
    *(
        ["checks"],
        ["planning"],
        ["field"],
        ["study"],
        ["drawing", "report", "modelfile", "formats"],
        ["api"],
        ["cli"],
        ["docs"],
    ),
]
HEIGHT = {name: height for height, names in enumerate(LAYERS) for name in names}
HEAVY = {"shapely", "trimesh", "pyvista", "vtk", "vtkmodules", "scipy", "matplotlib", "pint"}
HEAVY |= {"SALib", "dask", "distributed", "ortools", "pandas"}
FILES = {
    ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): file
    for package in ("route3d", "viewer")
    for file in sorted((ROOT / package).rglob("*.py"))
}
# The house opens with these: they see all of it, and nothing in it sees them.
FRONT = {"route3d", "route3d.__main__"}


@cache
def imports(module: str, *, everywhere: bool) -> tuple[str, ...]:
    """Full names imported when a module is, and inside functions too if ``everywhere``."""

    def walk(node: ast.AST) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            if isinstance(child, ast.Import):
                yield from (alias.name for alias in child.names)
            elif isinstance(child, ast.ImportFrom):
                assert child.level == 0, f"{module}: relative import"
                yield from (f"{child.module}.{alias.name}" for alias in child.names)
            elif everywhere or not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                yield from walk(child)

    return tuple(walk(ast.parse(FILES[module].read_text(encoding="utf-8"))))


def layer(dotted: str) -> int | None:
    """Height of the layer of ``route3d.<layer>...``, the viewer's above all; None outside."""
    parts = dotted.split(".")
    if parts[0] == "viewer":
        return len(LAYERS)
    return HEIGHT.get(parts[1]) if parts[0] == "route3d" and len(parts) > 1 else None


def modules_used(module: str) -> set[str]:
    """The modules of this house that one imports anywhere in it, itself left out."""
    named = imports(module, everywhere=True)
    found = {name if name in FILES else name.rpartition(".")[0] for name in named}
    return found & FILES.keys() - {module} - FRONT


def circles() -> list[set[str]]:
    """Sets of modules each of which reaches all the others by imports (R. Tarjan, 1972)."""
    number: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[set[str]] = []

    def visit(module: str) -> None:
        number[module] = low[module] = len(number)
        stack.append(module)
        for other in sorted(modules_used(module)):
            if other not in number:
                visit(other)
            if other in stack:
                low[module] = min(low[module], low[other])
        if low[module] == number[module]:
            group = set()
            while module not in group:
                group.add(stack.pop())
            found.extend([group] if len(group) > 1 else [])

    for module in FILES:
        if module not in number:
            visit(module)
    return found


def test_imports_go_down_and_never_in_a_circle() -> None:
    offenders = []
    for module in FILES.keys() - FRONT:
        own = layer(module)
        if own is None:
            offenders.append(f"{module} is in no layer")
            continue
        for name in imports(module, everywhere=True):
            # The command line opens the viewer when it is asked for a picture.
            opens = module.startswith("route3d.cli.") and name.startswith("viewer.")
            if (layer(name) or 0) > own and not opens:
                offenders.append(f"{module} imports {name} from above")
    offenders += ["a circle: " + ", ".join(sorted(group)) for group in circles()]
    assert not offenders, "\n" + "\n".join(sorted(offenders))


def test_heavy_packages_and_the_viewer_are_imported_when_used() -> None:
    offenders = []
    for module in FILES:
        at_once = {name.split(".")[0] for name in imports(module, everywhere=False)}
        barred = HEAVY | (set() if module.startswith("viewer") else {"viewer"})
        offenders += [f"{module} imports {name} at once" for name in at_once & barred]
        if module != "route3d.units" and any(
            name.split(".")[0] == "pint" for name in imports(module, everywhere=True)
        ):
            offenders.append(f"{module} knows pint, which is the business of units alone")
    assert not offenders, "\n" + "\n".join(sorted(offenders))
