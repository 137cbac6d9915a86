"""One table of all ratios of a run, printed at its end."""

from __future__ import annotations

import os
import platform
from typing import NamedTuple

import pytest

TABLE = pytest.StashKey[list["Ratio"]]()


class Ratio(NamedTuple):
    """One line: what was timed, over what."""

    what: str
    milliseconds: float
    over: str
    ratio: float


class Ratios:
    """The lines of a run, to add to."""

    def __init__(self, lines: list[Ratio]) -> None:
        self._lines = lines

    def add(self, what: str, seconds: float, over: str, other_seconds: float) -> None:
        """Keep how many times other_seconds a run took."""
        self._lines.append(Ratio(what, 1e3 * seconds, over, seconds / other_seconds))


def pytest_configure(config: pytest.Config) -> None:
    config.stash[TABLE] = []


@pytest.fixture
def ratios(request: pytest.FixtureRequest) -> Ratios:
    """The table, to add to."""
    return Ratios(request.config.stash.setdefault(TABLE, []))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    import numba

    lines = config.stash.get(TABLE, [])
    if not lines:
        return
    versions = f"Python {platform.python_version()}, numba {numba.__version__}, {os.cpu_count()} cores"
    terminalreporter.section(f"Ratios of this run: {versions}")
    width = max(len(line.what) for line in lines)
    for line in lines:
        terminalreporter.write_line(
            f"| {line.what:<{width}} | {line.milliseconds:10.3f} ms | {line.ratio:8.2f} x | {line.over} |"
        )
