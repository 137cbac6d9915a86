"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import dataclasses
import gc
import inspect
import json
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from freecool.cli_weather import weather_app, year_span
from freecool.errors import CaseError, FreecoolError

if TYPE_CHECKING:
    import pandas as pd

    from freecool.case import Case
    from freecool.scenarios import Progress
    from freecool.units import System
    from freecool.weather import Weather

app = typer.Typer(
    name="freecool",
    help="What outdoor air as the first stage of cooling is worth: hours, compressor kWh avoided, fan kWh added, "
    "money, and whether it makes the place damp.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.add_typer(weather_app, name="weather")


def _option(help_text: str, *names: str, **more: Any) -> Any:
    return typer.Option(*names, help=help_text, **more)


@dataclasses.dataclass(frozen=True)
class Asked:
    """What every command can be told: weather, building, rule, price, and how to answer."""

    weather: Annotated[
        str | None,
        typer.Argument(
            help="An EPW, TMY3 or plain CSV file, station:ID, near:LAT,LON, or demo:NAME (high-desert, humid-coast, "
            "mixed-inland). "
            "Left out: an invented demo climate, and the answer says so."
        ),
    ] = None
    case: Annotated[Path | None, _option("Case file (.toml); see docs/case-file.md.")] = None
    building: Annotated[
        str | None,
        _option("Preset to start from: detached-house-light, -medium, -heavy, small-office, shop, equipment-room."),
    ] = None
    setpoint: Annotated[str | None, _option("Cooling set point, constant, such as 75F.")] = None
    differential: Annotated[str | None, _option("How far outdoor air must be below the reference, such as 5F.")] = None
    rule: Annotated[
        str | None,
        _option("differential, return-differential, fixed-dry-bulb, fixed-enthalpy, differential-enthalpy, dew-point."),
    ] = None
    flow: Annotated[str | None, _option("Supply air, such as 1200cfm.")] = None
    fan: Annotated[str | None, _option("Fan power by flow, such as 0.365W/cfm.")] = None
    price: Annotated[float | None, _option("Electricity price per kWh.")] = None
    installed_cost: Annotated[float | None, _option("Damper, controls and labour, for the payback.")] = None
    enthalpy_limit: Annotated[
        str | None, _option("Besides the rule: outdoor enthalpy at most, such as '28 Btu/lb'.")
    ] = None
    dew_point_limit: Annotated[str | None, _option("Besides the rule: outdoor dew point at most, such as 55F.")] = None
    high_limit: Annotated[str | None, _option("Besides the rule: outdoor dry bulb at most, such as 65F.")] = None
    precool: Annotated[
        str | None, _option("How far below set point free cooling may go on after a warm day, such as 2F.")
    ] = None
    zone: Annotated[str | None, _option("ASHRAE 169 climate zone, such as 4A.")] = None
    set_: Annotated[
        list[str] | None,
        _option("Any other value of the case, such as building.floor_area=2000ft2.", "--set", metavar="KEY=VALUE"),
    ] = None
    years: Annotated[str | None, _option("Of a station or a record of real years: such as 2015-2024.")] = None
    latitude: Annotated[float | None, _option("Of a plain CSV that does not say it, degrees north.")] = None
    longitude: Annotated[float | None, _option("Of a plain CSV, degrees east (west is negative).")] = None
    elevation: Annotated[str | None, _option("Of a plain CSV, or of the building, such as 5000ft.")] = None
    utc_offset: Annotated[float | None, _option("Of a plain CSV: hours of standard time from UTC, such as -7.")] = None
    allow_gaps: Annotated[bool, _option("Fill gaps longer than 48 h too.", "--allow-gaps")] = False
    offline: Annotated[bool, _option("Station weather: use only what was fetched before.", "--offline")] = False
    units: Annotated[str, _option("ip (°F, cfm, tons) or si; a bare number takes its unit.")] = "ip"
    as_json: Annotated[bool, _option("One JSON object on standard output.", "--json")] = False
    report: Annotated[Path | None, _option("Write a page to hand over to this .html file.")] = None

    @property
    def system(self) -> System:
        """The unit system asked for."""
        if self.units not in ("ip", "si"):
            raise CaseError(f"--units is {self.units!r}: expected ip or si.")
        return "si" if self.units == "si" else "ip"

    def make_case(self) -> Case:
        """The resolved case: options over case file over preset."""
        from freecool.case import make_case, merged, read_case_file

        given = {
            "schedule.cooling": self.setpoint,
            "rule.differential": self.differential,
            "rule.name": self.rule,
            "fan.flow": self.flow,
            "fan.power": self.fan,
            "money.price": self.price,
            "money.installed_cost": self.installed_cost,
            "site.climate_zone": self.zone,
            "rule.enthalpy_limit": self.enthalpy_limit,
            "rule.dew_point_limit": self.dew_point_limit,
            "rule.high_limit": self.high_limit,
            "damper.precool": self.precool,
        }
        nested = [_nested(key, entry) for key, entry in given.items() if entry is not None]
        if self.setpoint is not None:
            # A set point given alone is one constant set point.
            nested.insert(0, {"schedule": {"cooling_unoccupied": None}})
        overrides = merged(*nested, *map(_setting, self.set_ or []))
        told = read_case_file(self.case) if self.case else {}
        where = str(self.case or "options")
        return make_case(told, overrides, preset=self.building, units=self.system, where=where)

    def open_weather(self) -> Weather:
        """The weather asked for, of the years asked for."""
        from freecool.units import parse
        from freecool.weather import open_weather

        elevation_m = None if self.elevation is None else parse(self.elevation, "length", self.system, "--elevation")
        return open_weather(
            self.weather,
            allow_gaps=self.allow_gaps,
            years=year_span(self.years),
            offline=self.offline,
            latitude=self.latitude,
            longitude=self.longitude,
            elevation_m=elevation_m,
            utc_offset_h=self.utc_offset,
        )

    def answer(self, result: Any, text: Callable[[Any, System], str]) -> None:
        """Print a result as JSON or as text, and write its report where asked."""
        if self.report is not None:
            from freecool.show.report import report_html

            write_page(report_html(result, self.system), self.report)
        if self.as_json:
            typer.echo(json.dumps(result.to_dict(), indent=2, allow_nan=False))
            return
        if self.weather is None:
            typer.echo("No weather was given, so this is the built-in demo: an invented climate.\n")
        typer.echo(text(result, self.system))


def _with_asked(function: Callable[..., None]) -> Callable[..., None]:
    """A command that takes the fields of `Asked` and then its own options."""
    hints = get_type_hints(Asked, include_extras=True)
    fields = dataclasses.fields(Asked)
    own = list(inspect.signature(function, eval_str=True).parameters.values())[1:]

    def command(**given: Any) -> None:
        asked = Asked(**{field.name: given.pop(field.name) for field in fields})
        function(asked, **given)

    shared = [
        inspect.Parameter(
            field.name, inspect.Parameter.KEYWORD_ONLY, default=field.default, annotation=hints[field.name]
        )
        for field in fields
    ]
    parameters = [*shared, *(parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY) for parameter in own)]
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    command.__doc__, command.__name__ = function.__doc__, function.__name__
    return command


def _version(asked: bool) -> None:
    if asked:
        from freecool import __version__

        typer.echo(f"freecool {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


@app.command()
@_with_asked
def value(
    asked: Asked,
    hourly: Annotated[Path | None, _option("Write the hourly table to this .csv or .parquet file.")] = None,
) -> None:
    """What a damper with first-stage free cooling is worth on a building in a climate."""
    if hourly is not None:
        check_table_name(hourly)
    case, weather = asked.make_case(), asked.open_weather()
    _say_if_first_run(asked)
    from freecool.estimate import estimate
    from freecool.show.terminal import answer_text

    answer = estimate(case, weather)
    if hourly is not None:
        write_table(answer.hourly, hourly)
    asked.answer(answer, answer_text)
    if hourly is not None and not asked.as_json:
        typer.echo(f"\nHourly table written to {hourly}.")


@app.command()
@_with_asked
def pick(
    asked: Asked,
    first: Annotated[str, _option("Smallest differential to try.", "--from")] = "0F",
    last: Annotated[str, _option("Largest differential to try.", "--to")] = "20F",
    step: Annotated[str, _option("Step between them.")] = "1F",
    draws: Annotated[int, _option("Sensor errors drawn for each differential.", min=0, max=10_000)] = 100,
    seed: Annotated[int, _option("The same seed gives the same answer.", min=0)] = 0,
    humidity_ceiling: Annotated[
        float, _option("Hours a year indoors above 60 % RH that the damper may add.", min=0.0)
    ] = 250.0,
    table: Annotated[Path | None, _option("Write the table to this .csv or .parquet file.")] = None,
    sheet: Annotated[Path | None, _option("Write a commissioning sheet to this .html file.")] = None,
    outdoor: Annotated[str, _option("Outdoor air on the day of the sheet's test.")] = "55F",
    return_air: Annotated[str | None, _option("Return air that day; the set point unless given.", "--return")] = None,
) -> None:
    """Which differential to set, and why."""
    from freecool.units import parse

    if table is not None:
        check_table_name(table)
    low, high, by = (
        parse(text, "difference", asked.system, name)
        for text, name in ((first, "--from"), (last, "--to"), (step, "--step"))
    )
    if not 0.0 <= low <= high or by <= 0.0 or (high - low) / by > 400:
        raise CaseError(
            f"--from {first} --to {last} --step {step}: expected 0 or more, rising, in at most 400 steps, "
            "such as --from 0F --to 20F --step 1F."
        )
    tried = [low + by * index for index in range(int((high - low) / by + 1e-6) + 1)]
    case, weather = asked.make_case(), asked.open_weather()
    _say_if_first_run(asked)
    from freecool.differential import sweep_differential
    from freecool.show.tables import pick_text

    with _progress("Trying differentials") as progress:
        sweep = sweep_differential(
            case, weather, tried, draws=draws, seed=seed, humidity_ceiling_hours=humidity_ceiling, progress=progress
        )
    if table is not None:
        write_table(sweep.table, table)
    if sheet is not None:
        from freecool.commissioning import commissioning
        from freecool.show.sheet import sheet_html

        picked = sweep.picked_case()
        back = (
            case.schedule.cooling if return_air is None else parse(return_air, "temperature", asked.system, "--return")
        )
        pressure = float(weather.frame["pressure_pa"].mean())
        day = commissioning(picked, parse(outdoor, "temperature", asked.system, "--outdoor"), back, pressure)
        write_page(sheet_html(sweep, day, asked.system), sheet)
    asked.answer(sweep, pick_text)


@app.command()
@_with_asked
def compare(
    asked: Asked,
    draws: Annotated[int, _option("Sensor errors drawn for each rule and setting.", min=0, max=10_000)] = 100,
    seed: Annotated[int, _option("The same seed gives the same answer.", min=0)] = 0,
    table: Annotated[Path | None, _option("Write the table to this .csv or .parquet file.")] = None,
) -> None:
    """The named rules side by side: dry bulb or enthalpy, with honest sensors."""
    if table is not None:
        check_table_name(table)
    case, weather = asked.make_case(), asked.open_weather()
    _say_if_first_run(asked)
    from freecool.rules_compared import compare_rules
    from freecool.show.tables import compare_text

    with _progress("Comparing rules") as progress:
        compared = compare_rules(case, weather, draws=draws, seed=seed, progress=progress)
    if table is not None:
        write_table(compared.table, table)
    asked.answer(compared, compare_text)


@app.command(name="sheet-check")
def sheet_check(
    outdoor: Annotated[str, _option("Outdoor air as read, such as 55F.")],
    return_air: Annotated[str, _option("Return air as read, such as 75F.", "--return")],
    closed: Annotated[str | None, _option("Mixed air as read with the damper closed.")] = None,
    half: Annotated[str | None, _option("Mixed air as read with the damper half open.")] = None,
    full: Annotated[str | None, _option("Mixed air as read with the damper fully open.")] = None,
    case: Annotated[
        Path | None, _option("Case file (.toml), for the damper's share and the sensors' tolerance.")
    ] = None,
    units: Annotated[str, _option("ip or si; a bare number takes its unit.")] = "ip",
) -> None:
    """What the readings on a commissioning sheet say: damper leaking, stuck, or a sensor off."""
    from freecool.commissioning import POSITIONS, check_readings
    from freecool.units import parse

    asked = Asked(case=case, units=units)

    def degrees(text: str, name: str) -> float:
        return parse(text, "temperature", asked.system, name)

    given = dict(zip(POSITIONS, (closed, half, full), strict=True))
    read = [(position, degrees(text, f"--{position}")) for position, text in given.items() if text is not None]
    if not read:
        raise CaseError("No mixed-air reading was given: give at least one of --closed, --half and --full.")
    findings = check_readings(asked.make_case(), degrees(outdoor, "--outdoor"), degrees(return_air, "--return"), read)
    for finding in findings:
        typer.echo(finding.text)
    if any(finding.code != "as_expected" for finding in findings):
        raise typer.Exit(1)


def _nested(key: str, entry: Any) -> dict[str, Any]:
    for piece in reversed(key.split(".")):
        entry = {piece: entry}
    return dict(entry)


def _setting(text: str) -> dict[str, Any]:
    key, equals, entry = text.partition("=")
    if not equals or not key.strip():
        raise CaseError(f"--set is {text!r}: expected KEY=VALUE, such as building.floor_area=2000ft2.")
    words: dict[str, Any] = {"true": True, "false": False, "none": None}
    return _nested(key.strip(), words.get(entry.strip().lower(), entry.strip()))


def _say_if_first_run(asked: Asked) -> None:
    from freecool.compiled import cache_folder

    if not asked.as_json and not any(Path(cache_folder()).rglob("*run_year*.nbi")):
        typer.echo("First run: compiling the year loop, under a minute; later runs start at once.", err=True)


@contextmanager
def _progress(what: str) -> Iterator[Progress]:
    """A bar on standard error where a person watches, else nothing; an interrupt cancels."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed:,.0f} of {task.total:,.0f}"))
    with Progress(
        *columns, TimeRemainingColumn(), console=console, transient=True, disable=not console.is_terminal
    ) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def write_table(table: pd.DataFrame, path: Path) -> None:
    """Write a table to a .csv or .parquet file, whole or not at all.

    Raises
    ------
    FreecoolError
        Another ending, or a place that cannot be written.
    """
    check_table_name(path)
    with _whole_file(path) as name:
        if path.suffix.lower() == ".csv":
            table.to_csv(name, float_format="%.6g")
        else:
            table.to_parquet(name)


def write_page(page: str, path: Path) -> None:
    """Write an HTML page to a file, whole or not at all."""
    with _whole_file(path) as name:
        Path(name).write_text(page, encoding="utf-8")


def check_table_name(path: Path) -> None:
    """Refuse a table's name that ends neither in .csv nor in .parquet."""
    if path.suffix.lower() not in (".csv", ".parquet"):
        ending = path.suffix or "without an ending"
        raise FreecoolError(f"{path}: the table can be written as .csv or .parquet, not {ending!r}.")


@contextmanager
def _whole_file(path: Path) -> Iterator[str]:
    """A temporary name beside path, renamed to it when all went well."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        os.close(handle)
        # A temporary file is its owner's alone; what it becomes is an ordinary file.
        os.chmod(name, 0o644)
        try:
            yield name
            os.replace(name, path)
        finally:
            if os.path.exists(name):
                os.unlink(name)
    except OSError as error:
        raise FreecoolError(
            f"{path}: cannot be written ({error.strerror or error}); choose another folder or free space."
        ) from None


def main() -> None:
    """Run the command line; a user's mistake ends in one sentence and exit code 2."""
    # One short answer and out: collecting garbage while libraries load costs a tenth of the time.
    gc.disable()
    try:
        app()
    except FreecoolError as error:
        typer.echo(f"freecool: {error}", err=True)
        sys.exit(2)


if __name__ == "__main__":
    main()
