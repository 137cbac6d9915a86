"""What every test may use: the table of outside checks, and the weather files outside the package."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from browser import browser, page_at  # noqa: F401
from hypothesis import settings
from station_server import station_server, stations_running  # noqa: F401

REPOSITORY = Path(__file__).parents[1]

# The first call of a compiled function takes seconds, which no time limit per example allows for.
settings.register_profile("freecool", deadline=None)
settings.load_profile("freecool")


class Row(NamedTuple):
    """One line of the table "Checked against the outside"."""

    check: str
    source: str
    expected: str
    got: str
    tolerance: str


HEADINGS = Row("check", "source", "expected", "got", "tolerance")
ROWS = pytest.StashKey[list[Row]]()


class Outside:
    """Compares our figures with published ones, and keeps a row of each comparison."""

    def __init__(self, rows: list[Row]) -> None:
        self._rows = rows

    def __call__(self, check: str, source: str, expected: float, got: float, tolerance: float) -> None:
        """Record and assert that a figure lies within a tolerance of the published one."""
        self._rows.append(Row(check, source, _text(expected), _text(got), f"± {_text(tolerance)}"))
        assert abs(got - expected) <= tolerance, f"{check}: got {got}, {source} says {expected} ± {tolerance}"

    def within(self, check: str, source: str, low: float, high: float, got: float) -> None:
        """Record and assert that a figure lies inside a published range."""
        self._rows.append(Row(check, source, f"{_text(low)} to {_text(high)}", _text(got), "range"))
        assert low <= got <= high, f"{check}: got {got}, {source} says {low} to {high}"

    def print_only(self, check: str, source: str, expected: float | str, got: float) -> None:
        """Record a figure beside a published one, without a pass mark."""
        shown = expected if isinstance(expected, str) else _text(expected)
        self._rows.append(Row(check, source, shown, _text(got), "no pass mark"))


def _text(number: float) -> str:
    return f"{number:,.0f}" if abs(number) >= 1e5 else f"{number:.5g}"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--outside-table", metavar="FILE", help="write the outside checks as a Markdown page")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[ROWS] = []


@pytest.fixture
def outside(request: pytest.FixtureRequest) -> Outside:
    """The table of outside checks, to add to."""
    return Outside(request.config.stash[ROWS])


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    rows = config.stash[ROWS]
    if not rows:
        return
    terminalreporter.section("Checked against the outside")
    widths = [max(len(cell) for cell in column) for column in zip(HEADINGS, *rows, strict=True)]
    for row in [HEADINGS, *rows]:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        terminalreporter.write_line("  ".join(cells).rstrip())
    page = config.getoption("--outside-table")
    if page:
        Path(page).write_text(_markdown(rows), encoding="utf-8")


def _markdown(rows: list[Row]) -> str:
    intro = "Written by the tests themselves: each row is one comparison that ran, with its source."
    lines = ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in [HEADINGS, *rows]]
    lines.insert(1, "|" + " --- |" * len(HEADINGS))
    return "\n".join(["# Checked against the outside", "", intro, "", *lines, ""])


@pytest.fixture(scope="session")
def shared_weather() -> Callable[[str], Path]:
    """Path of a weather file kept outside the repository, given its name; skips where it is missing."""
    folder = Path(os.environ.get("FREECOOL_WEATHER_DIR") or REPOSITORY.parent / "shared" / "data")

    def find(name: str) -> Path:
        path = folder / name
        if not path.is_file():
            pytest.skip(f"{name} is not in {folder}: set FREECOOL_WEATHER_DIR to the folder that holds it")
        return path

    return find


@pytest.fixture(scope="session")
def pvlib_weather() -> Callable[[str], Path]:
    """Path of a weather file that pvlib carries, given its name."""
    import pvlib

    folder = Path(pvlib.__file__).parent / "data"

    def find(name: str) -> Path:
        path = folder / name
        assert path.is_file(), f"this pvlib carries no {name}"
        return path

    return find
