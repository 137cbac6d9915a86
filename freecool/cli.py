"""The command line: words in, words out; knows no physics."""

from __future__ import annotations

import gc
import json
import os
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from freecool.errors import CaseError, FreecoolError

if TYPE_CHECKING:
    import pandas as pd

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


@app.command(no_args_is_help=False)
def value(
    weather: Annotated[
        str | None,
        typer.Argument(
            help="An EPW, TMY3 or plain CSV file, or demo:NAME (high-desert, humid-coast, mixed-inland). "
            "Left out: an invented demo climate, and the answer says so."
        ),
    ] = None,
    case: Annotated[Path | None, typer.Option(help="Case file (.toml); see docs/case-file.md.")] = None,
    building: Annotated[
        str | None,
        typer.Option(
            help="Preset to start from: detached-house-light, -medium, -heavy, small-office, shop, equipment-room."
        ),
    ] = None,
    setpoint: Annotated[str | None, typer.Option(help="Cooling set point, constant, such as 75F.")] = None,
    differential: Annotated[
        str | None, typer.Option(help="How far outdoor air must be below the reference, such as 5F.")
    ] = None,
    rule: Annotated[
        str | None,
        typer.Option(
            help="differential, return-differential, fixed-dry-bulb, fixed-enthalpy, differential-enthalpy, dew-point."
        ),
    ] = None,
    flow: Annotated[str | None, typer.Option(help="Supply air, such as 1200cfm.")] = None,
    fan: Annotated[str | None, typer.Option(help="Fan power by flow, such as 0.365W/cfm.")] = None,
    price: Annotated[float | None, typer.Option(help="Electricity price per kWh.")] = None,
    installed_cost: Annotated[float | None, typer.Option(help="Damper, controls and labour, for the payback.")] = None,
    enthalpy_limit: Annotated[
        str | None, typer.Option(help="Besides the rule: outdoor enthalpy at most, such as '28 Btu/lb'.")
    ] = None,
    dew_point_limit: Annotated[
        str | None, typer.Option(help="Besides the rule: outdoor dew point at most, such as 55F.")
    ] = None,
    high_limit: Annotated[
        str | None, typer.Option(help="Besides the rule: outdoor dry bulb at most, such as 65F.")
    ] = None,
    precool: Annotated[
        str | None, typer.Option(help="How far below set point free cooling may go on after a warm day, such as 2F.")
    ] = None,
    zone: Annotated[str | None, typer.Option(help="ASHRAE 169 climate zone, such as 4A.")] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option(
            "--set", metavar="KEY=VALUE", help="Any other value of the case, such as building.floor_area=2000ft2."
        ),
    ] = None,
    years: Annotated[str | None, typer.Option(help="Of a record of real years: such as 2015-2024.")] = None,
    latitude: Annotated[float | None, typer.Option(help="Of a plain CSV that does not say it, degrees north.")] = None,
    longitude: Annotated[float | None, typer.Option(help="Of a plain CSV, degrees east (west is negative).")] = None,
    elevation: Annotated[str | None, typer.Option(help="Of a plain CSV, such as 5000ft.")] = None,
    utc_offset: Annotated[
        float | None, typer.Option(help="Of a plain CSV: hours of standard time from UTC, such as -7.")
    ] = None,
    allow_gaps: Annotated[bool, typer.Option("--allow-gaps", help="Fill gaps longer than 48 h too.")] = False,
    units: Annotated[str, typer.Option(help="ip (°F, cfm, tons) or si; a bare number takes its unit.")] = "ip",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")] = False,
    hourly: Annotated[Path | None, typer.Option(help="Write the hourly table to this .csv or .parquet file.")] = None,
) -> None:
    """What a damper with first-stage free cooling is worth on a building in a climate."""
    if units not in ("ip", "si"):
        raise CaseError(f"--units is {units!r}: expected ip or si.")
    from freecool.case import make_case, merged, read_case_file

    if hourly is not None:
        check_table_name(hourly)
    told = read_case_file(case) if case else {}
    given = {
        "schedule.cooling": setpoint,
        "rule.differential": differential,
        "rule.name": rule,
        "fan.flow": flow,
        "fan.power": fan,
        "money.price": price,
        "money.installed_cost": installed_cost,
        "site.climate_zone": zone,
        "rule.enthalpy_limit": enthalpy_limit,
        "rule.dew_point_limit": dew_point_limit,
        "rule.high_limit": high_limit,
        "damper.precool": precool,
    }
    nested = [_nested(key, entry) for key, entry in given.items() if entry is not None]
    overrides = merged(*nested, *map(_setting, set_ or []))
    if setpoint is not None:
        # A set point given alone is one constant set point.
        overrides = merged({"schedule": {"cooling_unoccupied": None}}, overrides)
    resolved = make_case(
        told, overrides, preset=building, units="si" if units == "si" else "ip", where=str(case or "options")
    )
    where = _weather(weather, allow_gaps, years, latitude, longitude, elevation, utc_offset, units)
    if not as_json:
        _say_if_first_run()
    from freecool.estimate import estimate

    answer = estimate(resolved, where)
    if hourly is not None:
        write_table(answer.hourly, hourly)
    if as_json:
        typer.echo(json.dumps(answer.to_dict(), indent=2, allow_nan=False))
        return
    from freecool.show.terminal import answer_text

    if weather is None:
        typer.echo("No weather was given, so this is the built-in demo: an invented climate.\n")
    typer.echo(answer_text(answer, "si" if units == "si" else "ip"))
    if hourly is not None:
        typer.echo(f"\nHourly table written to {hourly}.")


def _weather(
    source: str | None,
    allow_gaps: bool,
    years: str | None,
    latitude: float | None,
    longitude: float | None,
    elevation: str | None,
    utc_offset: float | None,
    units: str,
) -> Weather:
    from freecool.units import parse
    from freecool.weather import open_weather
    from freecool.weather.years import only_years

    elevation_m = (
        None if elevation is None else parse(elevation, "length", "si" if units == "si" else "ip", "--elevation")
    )
    found = open_weather(
        source,
        allow_gaps=allow_gaps,
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation_m,
        utc_offset_h=utc_offset,
    )
    if years is None:
        return found
    ends = years.split("-")
    if len(ends) > 2 or not all(end.isdigit() and len(end) == 4 for end in ends):
        raise CaseError(f"--years is {years!r}: expected one year or a span, such as 2015-2024.")
    return only_years(found, int(ends[0]), int(ends[-1]))


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


def _say_if_first_run() -> None:
    from freecool.compiled import cache_folder

    if not any(Path(cache_folder()).rglob("*run_year*.nbi")):
        typer.echo("First run: compiling the year loop, under a minute; later runs start at once.", err=True)


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


def check_table_name(path: Path) -> None:
    """Refuse a table's name that ends neither in .csv nor in .parquet."""
    if path.suffix.lower() not in (".csv", ".parquet"):
        ending = path.suffix or "without an ending"
        raise FreecoolError(f"{path}: the table can be written as .csv or .parquet, not {ending!r}.")


@contextmanager
def _whole_file(path: Path) -> Any:
    """A temporary name beside path, renamed to it when all went well."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        os.close(handle)
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
