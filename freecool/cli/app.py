"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import Annotated

import typer

from freecool.cli.batch import batch
from freecool.cli.output import progress_bar
from freecool.cli.request import Request, option, with_request
from freecool.cli.serve import serve
from freecool.cli.weather import weather_app
from freecool.core.errors import CaseError, FreecoolError
from freecool.show.files import check_places, check_table_name, write_page, write_table

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
app.command()(serve)
app.command()(batch)


def _version(asked: bool) -> None:
    if asked:
        from freecool.core.version import __version__

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
@with_request
def value(
    request: Request,
    hourly: Annotated[Path | None, option("Write the hourly table to this .csv or .parquet file.")] = None,
) -> None:
    """What a damper with first-stage free cooling is worth on a building in a climate."""
    check_table_name(hourly)
    check_places(hourly, request.report)
    case, weather = request.make_case(), request.open_weather()
    _say_if_first_run(request)
    from freecool.answers.estimate import estimate
    from freecool.show.text import answer_text

    answer = estimate(case, weather)
    if hourly is not None:
        write_table(answer.hourly, hourly)
    request.answer(answer, answer_text)
    if hourly is not None and not request.as_json:
        typer.echo(f"\nHourly table written to {hourly}.")


@app.command()
@with_request
def pick(
    request: Request,
    first: Annotated[str, option("Smallest differential to try.", "--from")] = "0F",
    last: Annotated[str, option("Largest differential to try.", "--to")] = "20F",
    step: Annotated[str, option("Step between them.")] = "1F",
    draws: Annotated[int, option("Sensor errors drawn for each differential.", min=0, max=10_000)] = 100,
    seed: Annotated[int, option("The same seed gives the same answer.", min=0)] = 0,
    humidity_ceiling: Annotated[
        float, option("Hours a year indoors above 60 % RH that the damper may add.", min=0.0)
    ] = 250.0,
    table: Annotated[Path | None, option("Write the table to this .csv or .parquet file.")] = None,
    sheet: Annotated[Path | None, option("Write a commissioning sheet to this .html file.")] = None,
    outdoor: Annotated[str, option("Outdoor air on the day of the sheet's test.")] = "55F",
    return_air: Annotated[str | None, option("Return air that day; the set point unless given.", "--return")] = None,
) -> None:
    """Which differential to set, and why."""
    from freecool.core.units import parse

    check_table_name(table)
    check_places(table, sheet, request.report)
    low, high, by = (
        parse(text, "difference", request.system, name)
        for text, name in ((first, "--from"), (last, "--to"), (step, "--step"))
    )
    if not 0.0 <= low <= high or by <= 0.0 or (high - low) / by > 400:
        raise CaseError(
            f"--from {first} --to {last} --step {step}: expected 0 or more, rising, in at most 400 steps, "
            "such as --from 0F --to 20F --step 1F."
        )
    tried = [low + by * index for index in range(int((high - low) / by + 1e-6) + 1)]
    case, weather = request.make_case(), request.open_weather()
    _say_if_first_run(request)
    from freecool.answers.pick import sweep_differential
    from freecool.show.tables import pick_text

    with progress_bar("Trying differentials") as progress:
        sweep = sweep_differential(
            case, weather, tried, draws=draws, seed=seed, humidity_ceiling_hours=humidity_ceiling, progress=progress
        )
    if table is not None:
        write_table(sweep.table, table)
    if sheet is not None:
        from freecool.answers.commissioning import commissioning
        from freecool.show.sheet import sheet_html

        picked = sweep.picked_case()
        back = (
            case.schedule.cooling
            if return_air is None
            else parse(return_air, "temperature", request.system, "--return")
        )
        pressure = float(weather.frame["pressure_pa"].mean())
        day = commissioning(picked, parse(outdoor, "temperature", request.system, "--outdoor"), back, pressure)
        write_page(sheet_html(sweep, day, request.system), sheet)
    request.answer(sweep, pick_text)


@app.command()
@with_request
def compare(
    request: Request,
    draws: Annotated[int, option("Sensor errors drawn for each rule and setting.", min=0, max=10_000)] = 100,
    seed: Annotated[int, option("The same seed gives the same answer.", min=0)] = 0,
    table: Annotated[Path | None, option("Write the table to this .csv or .parquet file.")] = None,
) -> None:
    """The named rules side by side: dry bulb or enthalpy, with honest sensors."""
    check_table_name(table)
    check_places(table, request.report)
    case, weather = request.make_case(), request.open_weather()
    _say_if_first_run(request)
    from freecool.answers.comparison import compare_rules
    from freecool.show.tables import compare_text

    with progress_bar("Comparing rules") as progress:
        compared = compare_rules(case, weather, draws=draws, seed=seed, progress=progress)
    if table is not None:
        write_table(compared.table, table)
    request.answer(compared, compare_text)


@app.command(name="sheet-check")
def sheet_check(
    outdoor: Annotated[str, option("Outdoor air as read, such as 55F.")],
    return_air: Annotated[str, option("Return air as read, such as 75F.", "--return")],
    closed: Annotated[str | None, option("Mixed air as read with the damper closed.")] = None,
    half: Annotated[str | None, option("Mixed air as read with the damper half open.")] = None,
    full: Annotated[str | None, option("Mixed air as read with the damper fully open.")] = None,
    case: Annotated[
        Path | None, option("Case file (.toml), for the damper's share and the sensors' tolerance.")
    ] = None,
    units: Annotated[str, option("ip or si; a bare number takes its unit.")] = "ip",
) -> None:
    """What the readings on a commissioning sheet say: damper leaking, stuck, or a sensor off."""
    from freecool.answers.commissioning import POSITIONS, check_readings
    from freecool.core.units import parse

    request = Request(case=case, units=units)

    def degrees(text: str, name: str) -> float:
        return parse(text, "temperature", request.system, name)

    given = dict(zip(POSITIONS, (closed, half, full), strict=True))
    read = [(position, degrees(text, f"--{position}")) for position, text in given.items() if text is not None]
    if not read:
        raise CaseError("No mixed-air reading was given: give at least one of --closed, --half and --full.")
    findings = check_readings(request.make_case(), degrees(outdoor, "--outdoor"), degrees(return_air, "--return"), read)
    for finding in findings:
        typer.echo(finding.text)
    if any(finding.code != "as_expected" for finding in findings):
        raise typer.Exit(1)


def _say_if_first_run(request: Request) -> None:
    from freecool.core.compiled import cache_folder

    if not request.as_json and not any(Path(cache_folder()).rglob("*run_year*.nbi")):
        typer.echo("First run: compiling the year loop, under a minute; later runs start at once.", err=True)


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
