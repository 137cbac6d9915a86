"""What every test may use: the table of outside checks, and the weather files outside the package."""

from __future__ import annotations

import gzip
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from browser import browser, page_at  # noqa: F401
from checks import CONTRADICTED, PASSED, PRINTED, Comparison, checks_page
from hypothesis import settings
from station_server import station_server, stations_running  # noqa: F401
from stress import LONG

KEPT_WEATHER = Path(__file__).parent / "weather"

# The first call of a compiled function takes seconds, which no time limit per example allows for.
settings.register_profile("freecool", deadline=None)
settings.load_profile("freecool")


COMPARISONS = pytest.StashKey[list[tuple[int, Comparison]]]()
PLACE = pytest.StashKey[int]()
# Their figures lead the page, in this order: what outdoor air avoids, a building's year, the sun on it, rules, choice.
LEADING = ("test_hvac_bestest.py", "test_bestest.py", "test_solar.py", "test_rules_compared.py", "test_differential.py")


class Outside:
    """Compares our figures with published ones, and keeps each comparison beside its test."""

    def __init__(self, test: pytest.Item) -> None:
        self._test = test

    def __call__(self, check: str, source: str, expected: float, got: float, tolerance: float) -> None:
        """Record and assert that a figure lies within a tolerance of the published one."""
        agrees = abs(got - expected) <= tolerance
        self._keep(agrees, check, source, _text(expected), got, f"± {_text(tolerance)}")
        assert agrees, f"{check}: got {got}, {source} says {expected} ± {tolerance}"

    def within(self, check: str, source: str, low: float, high: float, got: float) -> None:
        """Record and assert that a figure lies inside a published range."""
        agrees = low <= got <= high
        self._keep(agrees, check, source, f"{_text(low)} to {_text(high)}", got, "range")
        assert agrees, f"{check}: got {got}, {source} says {low} to {high}"

    def print_only(self, check: str, source: str, expected: float | str, got: float) -> None:
        """Record a figure beside a published one that has no pass mark; a judged test adds it in passing."""
        self._keep(None, check, source, expected if isinstance(expected, str) else _text(expected), got, "")

    def _keep(self, agrees: bool | None, check: str, source: str, expected: str, got: float, tolerance: str) -> None:
        verdict = PRINTED if agrees is None else PASSED if agrees else CONTRADICTED
        expected_failure = self._test.get_closest_marker("xfail")
        reason = expected_failure.kwargs["reason"] if verdict == CONTRADICTED and expected_failure else ""
        kept = Comparison(verdict, check, source, expected, _text(got), tolerance, reason)
        # A test's properties travel with its report, from whichever process ran it.
        self._test.user_properties.append(("outside", [self._test.stash[PLACE], *kept]))


def _text(number: float) -> str:
    return f"{number:,.0f}" if abs(number) >= 1e5 else f"{number:.5g}"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--outside-table", metavar="FILE", help="write the outside checks as a Markdown page")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[COMPARISONS] = []
    config.addinivalue_line("markers", "long: many processes, pages or rows; with FREECOOL_LONG_TESTS=1, as in CI")
    config.pluginmanager.register(Collector(config.stash[COMPARISONS]), "outside-collector")


class Collector:
    """Gathers the comparisons of every test that was reported here."""

    def __init__(self, comparisons: list[tuple[int, Comparison]]) -> None:
        self._comparisons = comparisons

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.when == "call":
            kept = [value for name, value in report.user_properties if name == "outside"]
            self._comparisons += [(place, Comparison(*texts)) for place, *texts in kept]  # type: ignore[has-type, misc]


def pytest_xdist_auto_num_workers() -> int:
    """How many processes run tests: one more than cores, since many tests wait for a server, a browser or a child."""
    return min((os.cpu_count() or 1) + 1, 8)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the long tests, and number the rest, those that lead the page first, whoever runs them and when."""
    if not LONG:
        left_out = [item for item in items if item.get_closest_marker("long")]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
    ranks = {name: rank for rank, name in enumerate(LEADING)}
    by_rank = sorted(items, key=lambda item: ranks.get(item.path.name, len(ranks)))
    for place, item in enumerate(by_rank):
        item.stash[PLACE] = place


@pytest.fixture
def outside(request: pytest.FixtureRequest) -> Outside:
    """The table of outside checks, to add to."""
    return Outside(request.node)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    comparisons = [comparison for _, comparison in sorted(config.stash[COMPARISONS], key=lambda kept: kept[0])]  # type: ignore[index]
    if not comparisons:
        return
    text = checks_page(comparisons)
    page = config.getoption("--outside-table")
    if page:
        Path(page).write_text(text, encoding="utf-8")
    terminalreporter.section("Checked against the outside")
    terminalreporter.write_line(text)


@pytest.fixture(scope="session")
def shared_weather(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Path of a weather file, given its name: from the folder FREECOOL_WEATHER_DIR, else from `tests/weather`."""
    originals = os.environ.get("FREECOOL_WEATHER_DIR")
    folder = tmp_path_factory.mktemp("weather")

    def find(name: str) -> Path:
        if originals and (Path(originals) / name).is_file():
            return Path(originals) / name
        path = folder / name
        if not path.is_file():
            path.write_bytes(gzip.decompress((KEPT_WEATHER / f"{name}.gz").read_bytes()))
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
