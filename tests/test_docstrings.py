"""Docstrings below the doors tell parameters, returns and errors, as numpydoc has it; their examples are true."""

from __future__ import annotations

import ast
import doctest
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from numpydoc.hooks.validate_docstrings import process_file

import freecool

HOUSE = Path(freecool.__file__).parent
ROOMS = ("core", "weather", "bills", "cases", "physics", "answers", "show")
FILES = {path.relative_to(HOUSE).as_posix(): path for room in ROOMS for path in sorted((HOUSE / room).rglob("*.py"))}
# numpydoc's own names of its checks: layout (GL), summary (SS), parameters (PR), returns (RT) and yields (YD).
# Those that ask for a full stop are left out: a description here ends in its unit.
CHECKS = {
    "GL03", "GL06", "GL07", "GL08", "GL09", "SS02", "SS04", "SS06", "PR01", "PR02", "PR03", "PR04", "PR06", "PR07",
    "PR10", "RT01", "RT03", "YD01",
}  # fmt: skip
PRIVATE = re.compile(r"(^|\.)_")


def faults(path: Path) -> list[str]:
    """What the docstrings of a file leave out, given its path."""
    settings = {"checks": CHECKS, "exclude": PRIVATE, "overrides": {}, "exclude_files": None}
    tree = ast.parse(path.read_text("utf-8"))
    properties, inner = set(property_names(tree, path.stem)), set(inner_names(tree, path.stem))
    found = [
        f"{name}: {check} {told}"
        for _, name, check, told in process_file(str(path), settings)
        # A property is read as a value: its sentence is its return. A function within another is its own affair.
        if not (check == "RT01" and name in properties) and name not in inner
    ]
    return found + [f"{name}: raises {error} and does not say so" for name, error in untold_errors(tree, path.stem)]


def public(tree: ast.AST, name: str) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Public functions and methods with their dotted names, given a tree and its name."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            dotted = f"{name}.{node.name}"
            if isinstance(node, ast.FunctionDef):
                yield dotted, node
            else:
                yield from public(node, dotted)


def property_names(tree: ast.AST, name: str) -> Iterator[str]:
    for dotted, node in public(tree, name):
        if any(ast.unparse(decorator).endswith("property") for decorator in node.decorator_list):
            yield dotted


def inner_names(tree: ast.AST, name: str) -> Iterator[str]:
    """Functions within public functions, by dotted name."""
    for dotted, node in public(tree, name):
        for part in ast.walk(node):
            if part is not node and isinstance(part, ast.FunctionDef):
                yield f"{dotted}.{part.name}"


def untold_errors(tree: ast.AST, name: str) -> Iterator[tuple[str, str]]:
    """Functions that raise an error which the section Raises does not name, with that error."""
    for dotted, node in public(tree, name):
        _, _, section = (ast.get_docstring(node) or "").partition("Raises\n------\n")
        for part in ast.walk(node):
            if isinstance(part, ast.Raise) and isinstance(part.exc, ast.Call):
                error = ast.unparse(part.exc.func).rpartition(".")[2]
                if error[0].isupper() and not re.search(rf"^{error}$", section, re.MULTILINE):
                    yield dotted, error


@pytest.mark.parametrize("place", FILES)
def test_docstrings_tell_parameters_returns_and_errors(place: str) -> None:
    assert faults(FILES[place]) == []


WHOLE = '''"""A file."""


def half(share: float) -> float:
    """Half of a share, given the share.

    Parameters
    ----------
    share : float
        What to halve [-].

    Returns
    -------
    float
        Half of it [-].

    Raises
    ------
    ValueError
        The share is negative.
    """
    if share < 0:
        raise ValueError("negative")
    return share / 2


class Pair:
    """Two halves."""

    @property
    def sum(self) -> float:
        """Both together [-]."""
        return 1.0
'''


def test_a_docstring_that_tells_all_passes(tmp_path: Path) -> None:
    (tmp_path / "whole.py").write_text(WHOLE)
    assert faults(tmp_path / "whole.py") == []


@pytest.mark.parametrize(
    ("left_out", "told"),
    [
        ("    share : float\n        What to halve [-].\n", "PR01"),
        ("        What to halve [-].\n", "PR07"),
        ("    Returns\n    -------\n    float\n        Half of it [-].\n\n", "RT01"),
        ("        Half of it [-].\n", "RT03"),
        ("    Raises\n    ------\n    ValueError\n        The share is negative.\n", "raises ValueError"),
        ('        """Both together [-]."""\n', "GL08"),
    ],
)
def test_what_is_left_out_is_found(left_out: str, told: str, tmp_path: Path) -> None:
    assert left_out in WHOLE
    (tmp_path / "whole.py").write_text(WHOLE.replace(left_out, ""))
    assert any(told in fault for fault in faults(tmp_path / "whole.py"))


SHOWN = [place for place, path in FILES.items() if re.search(r"^\s*>>> ", path.read_text("utf-8"), re.MULTILINE)]


@pytest.mark.parametrize("place", SHOWN)
def test_examples_in_docstrings_are_true(place: str) -> None:
    module = import_module(f"freecool.{place.removesuffix('.py').replace('/', '.')}")
    run = doctest.testmod(module)
    assert run.attempted > 0
    assert run.failed == 0
