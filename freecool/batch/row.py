"""One row answered, in whichever process: the site's case and weather, the job, and its figures or its fault."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from freecool.answers.jobs import JOBS
from freecool.answers.settings import SearchSettings
from freecool.batch.columns import JobName, Value, values_of
from freecool.batch.sites import PLACE, Site, digest_of
from freecool.cases.options import is_file
from freecool.cases.quantity import ELEVATION
from freecool.cases.wording import case_wording, column_wording
from freecool.core.errors import BatchError, CaseError, FreecoolError, WeatherError, worded
from freecool.core.units import System
from freecool.core.version import __version__

if TYPE_CHECKING:
    from freecool.cases.model import Case
    from freecool.weather import Weather

# Kept by each process: rows of one weather need not stand together, and a year takes half a megabyte.
WEATHERS_KEPT = 32


class BatchSettings(NamedTuple):
    """What holds for every row.

    Attributes
    ----------
    job : {"value", "pick", "compare"}
    told : dict, optional
        By the case file; a cell of the row is stronger.
    units : {"ip", "si"}
        Whose unit a bare number takes.
    draws, seed : int
        Sensor errors drawn by pick and compare.
    offline, allow_gaps : bool
        As of `open_weather`.
    """

    job: JobName = "value"
    told: dict[str, Any] | None = None
    units: System = "ip"
    draws: int = 100
    seed: int = 0
    offline: bool = False
    allow_gaps: bool = False


class RowTask(NamedTuple):
    """One row to answer, with all that a process elsewhere must know."""

    settings: BatchSettings
    folder: str
    """Where relative paths of weather begin."""
    list_name: str
    site: Site
    digest: str
    """Of the weather file's content."""
    version: str
    """Of freecool, where the batch was started."""


def answer(task: RowTask) -> list[Value]:
    """The values of the job's columns, given a task; a row that cannot be answered holds the reason instead.

    Raises
    ------
    BatchError
        This process runs another version of freecool.
    """
    if task.version != __version__:
        raise BatchError(
            f"A worker runs freecool {__version__}, expected {task.version}: install the same version everywhere."
        )
    try:
        told = _answered(task)
    except FreecoolError as error:
        return failed(task, worded(error, column_wording))
    except Exception as error:
        return failed(task, f"failed in an unforeseen way ({type(error).__name__}: {error}); please report it.")
    return values_of(task.settings.job, *_labels(task), told)


def failed(task: RowTask, reason: str) -> list[Value]:
    """The values of a row that was not answered, given why."""
    start = f"{task.list_name} row {task.site.row}"
    text = reason if reason.startswith(start) else f"{start}: {reason}"
    return values_of(task.settings.job, *_labels(task), None, text)


def _labels(task: RowTask) -> tuple[str | None, str | None]:
    return task.site.cells.get("name"), task.site.cells.get("weather")


def _answered(task: RowTask) -> dict[str, Any]:
    if task.site.fault:
        raise BatchError(f"{task.site.fault}.")
    settings = task.settings
    search = SearchSettings(draws=settings.draws, seed=settings.seed)
    # Rows share out the cores already: one thread each.
    result = JOBS[settings.job].run(_case(task), _weather(task), search, workers=1)
    figures: dict[str, Any] = result.to_dict()
    return figures


def _case(task: RowTask) -> Case:
    from freecool.cases.model import make_case
    from freecool.cases.options import case_overrides, typed_value

    cells = task.site.cells
    values = {key: typed_value(cell) for key, cell in cells.items() if key not in ("weather", *PLACE)}
    # A customer's name is a name, whatever word it is.
    overrides = case_overrides({**values, "name": cells.get("name", "")})
    where = f"{task.list_name} row {task.site.row}"
    try:
        return make_case(task.settings.told, overrides, units=task.settings.units, where=where)
    except CaseError as error:
        raise CaseError(worded(error, case_wording(values))) from None


def _weather(task: RowTask) -> Weather:
    from freecool.weather.years import year_span

    cells, settings = task.site.cells, task.settings
    source = cells.get("weather")
    if source is None:
        raise WeatherError("weather is empty: give a weather file, station:ID, near:PLACE or demo:NAME.")
    high = cells.get("elevation")
    place = {
        "latitude": _degrees(cells, "latitude"),
        "longitude": _degrees(cells, "longitude"),
        "utc_offset_h": _degrees(cells, "utc_offset"),
        "elevation_m": None if high is None else ELEVATION.told(high, settings.units, "elevation"),
    }
    path = str(Path(task.folder, source)) if is_file(source) else source
    found = _opened(
        path, task.digest, settings.allow_gaps, year_span(cells.get("years")), settings.offline, tuple(place.items())
    )
    if isinstance(found, FreecoolError):
        raise found
    return found


def _degrees(cells: dict[str, str], name: str) -> float | None:
    try:
        return float(cells[name]) if name in cells else None
    except ValueError:
        raise CaseError(f"{name} is {cells[name]!r}, expected a number.") from None


@lru_cache(maxsize=WEATHERS_KEPT)
def _opened(
    source: str,
    digest: str,
    allow_gaps: bool,
    years: tuple[int, int] | None,
    offline: bool,
    place: tuple[tuple[str, float | None], ...],
) -> Weather | FreecoolError:
    """The weather, or why there is none: a bad file too is read once."""
    from freecool.weather import open_weather

    if digest and digest_of(Path(source)) != digest:
        return WeatherError(f"{Path(source).name} changed since the batch began: run it again from the start.")
    try:
        return open_weather(source, allow_gaps=allow_gaps, years=years, offline=offline, refresh=False, **dict(place))
    except FreecoolError as error:
        return error
