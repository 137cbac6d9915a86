"""The floors of the house: which room may import which, read from every import of every file."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

import freecool

HOUSE = Path(freecool.__file__).parent
SOURCES = {path.relative_to(HOUSE).as_posix(): path.read_text("utf-8") for path in sorted(HOUSE.rglob("*.py"))}
# Each room and the rooms that it may use, lazily or not, beside itself. A name that is not here is refused.
MAY_USE = {
    "core": set[str](),
    "weather": {"core"},
    "bills": {"core", "weather"},
    "cases": {"core"},
    "physics": {"core"},
    "answers": {"core", "weather", "bills", "cases", "physics"},
    "show": {"core", "weather", "cases", "answers"},
    "batch": {"core", "weather", "cases", "answers"},
    "web": {"core", "weather", "cases", "answers", "show"},
    "cli": {"core", "weather", "bills", "cases", "answers", "show", "web", "batch"},
    # The public face, and what `python -m freecool` runs.
    "__init__.py": {"core", "weather", "bills", "cases", "answers"},
    "__main__.py": {"cli"},
}
MODULE_NAME = re.compile(r"freecool(\.[a-z_]+)+")
# The registry's way up, and the only one.
DECLARED = {("core/presentation.py", "freecool.show.presentations")}
# What may be named only where a type is meant: it is drawn, never called.
FOR_TYPES_ONLY = {("show", "answers")}
# One file each: the library's traps are known there.
ONE_FILE = {"psychrolib": "core/air.py", "meteostat": "weather/download.py"}
NO_TABLES = {"physics": {"pandas", "pvlib", "matplotlib", "pydantic"}}
HEAVY = ("numba", "pandas", "pvlib", "matplotlib", "meteostat")


def imported(tree: ast.AST, types: bool = False) -> Iterator[tuple[str, bool]]:
    """Full names of the modules that a tree imports, each with whether a type checker alone sees it."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, types) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute here"
            yield from ((f"{node.module}.{alias.name}", types) for alias in node.names)
        elif isinstance(node, ast.If) and ast.unparse(node.test).removeprefix("typing.") == "TYPE_CHECKING":
            for part in node.body:
                yield from imported(ast.Module([part], []), types=True)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and MODULE_NAME.fullmatch(node.value):
            # A module named in a text may be imported by that name.
            yield node.value, types
        else:
            yield from imported(node, types)


def faults(sources: Mapping[str, str]) -> list[str]:
    """Every import that goes up or sideways, given files by their place in the house."""
    found = []
    for place, source in sources.items():
        room = place.split("/")[0]
        for name, types in imported(ast.parse(source)):
            top, _, rest = name.partition(".")
            if top in NO_TABLES.get(room, ()) or (top in ONE_FILE and place != ONE_FILE[top]):
                found.append(f"{place} imports {name}")
            if top != "freecool" or (place, name) in DECLARED:
                continue
            target = rest.split(".")[0]
            if target == room and "/" in place:
                continue
            if target not in MAY_USE.get(room, set()) or ((room, target) in FOR_TYPES_ONLY and not types):
                found.append(f"{place} imports {name}")
    return found


def test_no_import_goes_up() -> None:
    assert faults(SOURCES) == []


def test_every_room_stands_in_the_table() -> None:
    assert {place.split("/")[0] for place in SOURCES} == set(MAY_USE)


@pytest.mark.parametrize(
    ("place", "source"),
    [
        ("physics/zone.py", "from freecool.cli.app import main"),
        ("physics/zone.py", "def run():\n    import freecool.cli.output"),
        (
            "physics/zone.py",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from freecool.weather import Weather",
        ),
        ("physics/__init__.py", "import pandas"),
        ("physics/year.py", "from freecool.show.style import INK"),
        ("weather/climate_zone.py", "from freecool.cases.model import Case"),
        ("answers/estimate.py", "def text(self):\n    from freecool.show.answer import answer_text"),
        ("answers/__init__.py", "from freecool.batch.run import run_batch"),
        ("batch/row.py", "from freecool.cli.request import setting"),
        ("web/app.py", "from freecool.cli.output import write_table"),
        ("bills/cooling.py", "from freecool.cases.model import Case"),
        ("weather/model.py", "from freecool.bills.model import Bills"),
        ("show/html.py", "from freecool.answers.estimate import estimate"),
        ("core/units.py", "from freecool import make_case"),
        ("answers/pick.py", "from freecool import __version__"),
        ("weather/sun.py", "import meteostat"),
        ("core/air.py", "from importlib import import_module\nimport_module('freecool.show.text')"),
        ("new_file.py", "from freecool.core import air"),
    ],
)
def test_a_planted_fault_is_refused(place: str, source: str) -> None:
    assert len(faults({place: source})) == 1


@pytest.mark.parametrize(
    ("place", "source"),
    [
        ("physics/zone.py", "from freecool.core import air"),
        ("physics/year.py", "from freecool.physics.zone import Modes"),
        ("show/html.py", "if TYPE_CHECKING:\n    from freecool.answers.estimate import Estimate"),
        ("cli/app.py", "from freecool.web.app import create_app"),
    ],
)
def test_what_goes_down_passes(place: str, source: str) -> None:
    assert faults({place: source}) == []


def circles(sources: Mapping[str, str]) -> list[list[str]]:
    """Rings of files that import one another, lazily or for types too."""
    places = {place.removesuffix(".py").removesuffix("/__init__").replace("/", "."): place for place in sources}
    uses: dict[str, set[str]] = {}
    for place, source in sources.items():
        names = [
            name.removeprefix("freecool.") for name, _ in imported(ast.parse(source)) if (place, name) not in DECLARED
        ]
        near = {places.get(name) or places.get(name.rpartition(".")[0]) for name in names}
        uses[place] = {other for other in near if other is not None and other != place}
    found: list[list[str]] = []
    done: set[str] = set()

    def walk(place: str, path: list[str]) -> None:
        if place in path:
            found.append(path[path.index(place) :])
        elif place not in done:
            for other in sorted(uses[place]):
                walk(other, [*path, place])
            done.add(place)

    for place in sources:
        walk(place, [])
    return found


def test_no_files_import_one_another() -> None:
    assert circles(SOURCES) == []


def test_a_planted_circle_is_found() -> None:
    ring = {
        "answers/one.py": "from freecool.answers.two import b",
        "answers/two.py": "def b():\n    from freecool.answers import one",
    }
    assert circles(ring) == [["answers/one.py", "answers/two.py"]]
    ring["answers/two.py"] = "if TYPE_CHECKING:\n    from freecool.answers.one import A"
    assert circles(ring) == [["answers/one.py", "answers/two.py"]]


def test_the_answers_are_modules_and_the_face_gives_functions() -> None:
    program = (
        "import freecool.answers.estimate as m, freecool.answers.pick as p, freecool\n"
        "print(type(m).__name__, type(p).__name__, type(freecool.estimate).__name__)"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (run.stderr, run.stdout.split()) == ("", ["module", "module", "function"])


def test_the_command_line_starts_without_heavy_imports() -> None:
    program = f"import freecool.cli.app, sys; print(*sorted(set({HEAVY!r}) & set(sys.modules)))"
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (run.returncode, run.stderr, run.stdout.split()) == (0, "", [])
