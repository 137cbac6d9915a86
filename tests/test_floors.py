"""The floors of the house: which room may import which."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import freecool

HOUSE = Path(freecool.__file__).parent
FILES = sorted(HOUSE.rglob("*.py"))
MODULES = {path.relative_to(HOUSE).as_posix(): ast.parse(path.read_text("utf-8")) for path in FILES}
# The doors, and the package's public face, which opens them.
DOORS = ("cli", "web/", "batch/", "__init__.py", "__main__.py")
HEAVY = ("numba", "pandas", "pvlib", "matplotlib", "meteostat")


def imported(tree: ast.AST, at_import: bool = False) -> Iterator[str]:
    """Full names of the modules a tree imports, or of those it needs when it is itself imported."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute here"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif not (at_import and _later(node)):
            yield from imported(node, at_import)


def _later(node: ast.AST) -> bool:
    """Whether a node's body waits for a call, or for a type checker."""
    if isinstance(node, ast.If):
        return ast.unparse(node.test).removeprefix("typing.") == "TYPE_CHECKING"
    return isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)


def needs(name: str, package: str, at_import: bool = False) -> bool:
    """Whether a module, named by its file, imports a package."""
    names = imported(MODULES[name], at_import)
    return any(needed == package or needed.startswith(f"{package}.") for needed in names)


def below_the_doors() -> list[str]:
    return [name for name in MODULES if not name.startswith(DOORS)]


def test_the_rooms_are_all_there() -> None:
    rooms = {name.split("/")[0] for name in MODULES}
    assert {"physics", "weather", "show", "air.py", "units.py", "errors.py", "cli.py"} <= rooms


def test_physics_knows_neither_tables_nor_any_room_above() -> None:
    rooms = ("weather", "case", "presets", "prepare", "estimate", "show", "cli", "web")
    above = ["pandas", *(f"freecool.{room}" for room in rooms)]
    physics = [name for name in MODULES if name.startswith("physics/")]
    assert physics
    assert [(name, package) for name in physics for package in above if needs(name, package)] == []


def test_nothing_below_imports_a_door() -> None:
    doors = ("freecool.cli", "freecool.web", "freecool.batch")
    assert [(name, door) for name in below_the_doors() for door in doors if needs(name, door)] == []


def test_answers_reach_up_to_showing_only_lazily() -> None:
    lower = [name for name in below_the_doors() if not name.startswith("show/")]
    assert [name for name in lower if needs(name, "freecool.show", at_import=True)] == []


def test_one_file_imports_psychrolib_and_one_meteostat() -> None:
    assert [name for name in MODULES if needs(name, "psychrolib")] == ["air.py"]
    assert len([name for name in MODULES if needs(name, "meteostat")]) <= 1


def test_the_command_line_starts_without_heavy_imports() -> None:
    program = f"import freecool.cli, sys; print(*sorted(set({HEAVY!r}) & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stderr, run.stdout.split()) == (0, "", [])
