"""`freecool weather`: find stations, describe a source, save it, make a typical year of it."""

from __future__ import annotations

import json
from calendar import month_abbr
from dataclasses import asdict, dataclass
from pathlib import Path
from textwrap import indent
from typing import TYPE_CHECKING, Annotated, Any

import typer

from freecool.cases.options import is_file
from freecool.cli.output import say
from freecool.cli.shared_options import with_fields
from freecool.core.atomic_file import check_places
from freecool.core.errors import CaseError

if TYPE_CHECKING:
    from freecool.core.units import System
    from freecool.weather import Weather
    from freecool.weather.describe import Description
    from freecool.weather.station import Station
    from freecool.weather.station_list import Inventory

weather_app = typer.Typer(help="Weather: find stations, describe a source, save it.", no_args_is_help=True)

Offline = Annotated[bool, typer.Option("--offline", help="Use only what was fetched before.")]
Elevation = Annotated[str | None, typer.Option(help="Of the building, such as 900ft.")]
Units = Annotated[str, typer.Option(help="ip (°F, ft) or si.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]
File = Annotated[Path, typer.Argument(help="CSV file to write.")]
BAR_WIDTH = 40
STATIONS_SHOWN = 15
UNLISTED = "The list of stations was not fetched before: run once without --offline, and the nearest are told too."


@dataclass(frozen=True)
class WeatherRequest:
    """A source of weather, and what of it."""

    source: Annotated[str, typer.Argument(help="A weather file, station:ID, near:TOWN or LAT,LON, or demo:NAME.")]
    years: Annotated[str | None, typer.Option(help="First and last year, such as 2015-2024.")] = None
    elevation: Elevation = None
    offline: Offline = False
    refresh: Annotated[bool, typer.Option("--refresh", help="Fetch the station's years again.")] = False
    allow_gaps: Annotated[bool, typer.Option("--allow-gaps", help="Fill gaps longer than 48 h too.")] = False
    units: Units = "ip"

    @property
    def system(self) -> System:
        """The unit system asked for."""
        return _system(self.units)

    def check_place(self, file: Path) -> None:
        """Refuse to write where nothing can be written, or over the source."""
        check_places(file, inputs=[Path(self.source)] if is_file(self.source) else ())

    def open_weather(self) -> Weather:
        """The weather asked for, of the years asked for."""
        from freecool.weather import open_weather
        from freecool.weather.years import year_span

        return open_weather(
            self.source,
            years=year_span(self.years),
            elevation_m=_elevation_m(self.elevation, self.system),
            offline=self.offline,
            refresh=self.refresh,
            allow_gaps=self.allow_gaps,
        )


# Negative longitudes must not read as options.
@weather_app.command(context_settings={"ignore_unknown_options": True})
def find(
    place: Annotated[
        list[str],
        typer.Argument(
            help='A town with its state or country, such as "Greensboro NC" or "Lyon, France", a ZIP code, or latitude '
            "and longitude."
        ),
    ],
    elevation: Elevation = None,
    offline: Offline = False,
    units: Units = "ip",
    as_json: AsJson = False,
) -> None:
    """Stations near a place: distance, elevation, years and completeness."""
    from freecool.core.units import true_minus
    from freecool.weather.readers.stations import place_of
    from freecool.weather.station_list import inventories, list_is_kept, stations_near

    where = place_of(" ".join(place))
    system = _system(units)
    elevation_m = _elevation_m(elevation, system)
    # A place by its name is an answer by itself.
    listed = not (offline and where.name) or list_is_kept()
    near = stations_near(where.latitude, where.longitude, offline=offline)[:STATIONS_SHOWN] if listed else []
    by_id = inventories(near, offline=offline) if listed else {}
    if as_json:
        rows = [_station_dict(station, by_id[station.id], elevation_m) for station in near]
        say(json.dumps({"place": asdict(where), "stations": rows}, indent=2, allow_nan=False))
        return
    if where.name:
        zone = f", {where.time_zone} time" if where.time_zone else ""
        say(f"{where.name} ({where.county}): {where.latitude:g}, {where.longitude:g}{zone}\n")
    say(true_minus(_stations_text(near, by_id, elevation_m, system)) if listed else UNLISTED)


@weather_app.command()
@with_fields(WeatherRequest)
def show(request: WeatherRequest, as_json: AsJson = False) -> None:
    """What is in a source: hours, repairs, months, dry-bulb bins, damp hours, whose data they are."""
    from freecool.core.units import true_minus
    from freecool.weather.describe import describe

    described = describe(request.open_weather())
    if as_json:
        say(json.dumps(described.to_dict(), indent=2, allow_nan=False))
    else:
        say(true_minus(_description_text(described, request.system)))


@weather_app.command()
@with_fields(WeatherRequest)
def save(request: WeatherRequest, file: File) -> None:
    """Write a source as a clean CSV that reads back the same."""
    from freecool.show.text import wrap
    from freecool.weather.save import save_weather

    request.check_place(file)
    weather = request.open_weather()
    save_weather(weather, file)
    say(f"{weather.hours:,} hours of {weather.location.name} written to {file}.")
    if weather.attribution:
        say(wrap(weather.attribution))


@weather_app.command()
@with_fields(WeatherRequest)
def typical(request: WeatherRequest, file: File) -> None:
    """Write a typical year made from the real years of a source, by ISO 15927-4, and compare its answer with theirs."""
    from freecool.answers.typical import COMPARED_PRESETS, compare_typical
    from freecool.core.units import true_minus
    from freecool.show.tables import text_table
    from freecool.show.text import wrap
    from freecool.weather.save import save_weather
    from freecool.weather.typical import typical_year

    request.check_place(file)
    years = request.open_weather()
    made = typical_year(years)
    save_weather(made, file)
    rows = [
        (row.preset, *(f"{number + 0.0:,.0f}" for number in (row.typical_year, row.mean_of_years)),
         f"{row.p10 + 0.0:,.0f} to {row.p90 + 0.0:,.0f}")
        for row in (compare_typical(preset, made, years) for preset in COMPARED_PRESETS)
    ]  # fmt: skip
    heads = ("net kWh a year", "typical year", "mean of the years", "10th to 90th percentile")
    table = indent(text_table(heads, rows), "  ")
    say(true_minus(f"{wrap(made.notices[-1].text)}\n\n{table}\n"))
    if made.attribution:
        say(wrap(made.attribution))
    say(f"Written to {file}.")


def _system(units: str) -> System:
    if units not in ("ip", "si"):
        raise CaseError(f"--units is {units!r}: expected ip or si.")
    return "si" if units == "si" else "ip"


def _elevation_m(text: str | None, system: System) -> float | None:
    from freecool.cases.quantity import ELEVATION

    return None if text is None else ELEVATION.told(text, system, "--elevation")


def _station_dict(station: Station, inventory: Inventory, elevation_m: float | None) -> dict[str, Any]:
    return {
        **asdict(station),
        "above_station_m": None if elevation_m is None else elevation_m - station.elevation_m,
        "first_year": inventory.first_year,
        "last_year": inventory.last_year,
        "temperature_completeness": inventory.temperature,
        "humidity_completeness": inventory.humidity,
    }


def _stations_text(near: list[Station], by_id: dict[str, Inventory], elevation_m: float | None, system: System) -> str:
    from freecool.core.units import format_quantity
    from freecool.show.tables import text_table
    from freecool.show.text import WIDTH

    head = ["station", "distance", "elevation", "years", "temp.", "humid.", "name"]
    if elevation_m is not None:
        head.insert(3, "site above")
    rows = []
    for station in near:
        stock = by_id[station.id]
        span = "unknown" if stock.first_year is None else f"{stock.first_year}-{stock.last_year}"
        row = [
            station.id,
            f"{station.distance_m / 1609.344:.0f} mi" if system == "ip" else f"{station.distance_m / 1000:.0f} km",
            format_quantity(station.elevation_m, "length", system, 0),
            span,
            *("?" if share is None else f"{share:.0%}" for share in (stock.temperature, stock.humidity)),
            station.name,
        ]
        if elevation_m is not None:
            row.insert(3, format_quantity(elevation_m - station.elevation_m, "length", system, 0))
        rows.append(row)
    lines = [line[:WIDTH] for line in text_table(head, rows, left=(0, len(head) - 1)).splitlines()]
    use = (
        f"Use one with station:{near[0].id}; completeness is the list's own figure, "
        "each year is judged again when used."
    )
    return "\n".join([*lines, "", use])


def _description_text(described: Description, system: System) -> str:
    from freecool.core.units import format_quantity
    from freecool.show.tables import text_table
    from freecool.show.text import bullets, wrap

    weather, location = described.weather, described.weather.location
    years = "typical year" if weather.typical else f"{len(weather.years)} years: {', '.join(map(str, weather.years))}"
    facts = [
        ("Weather", f"{location.name}, {'INVENTED climate' if weather.invented else weather.kind}, {years}"),
        ("Place", f"{location.latitude:.2f}, {location.longitude:.2f}, "
         f"{format_quantity(location.elevation_m, 'length', system, 0)}, "
         f"standard time UTC{location.utc_offset_h:+g} h"),
        ("Hours", f"{weather.hours:,}; filled {weather.quality.filled_hours:,}, dew point clipped in "
         f"{weather.quality.clipped_hours:,}"),
    ]  # fmt: skip
    if weather.attribution:
        facts.append(("Data", weather.attribution))
    months = [
        (
            month_abbr[month.month],
            *(format_quantity(value, "temperature", system) for value in (month.dry_bulb_c, month.dew_point_c)),
            f"{month.daily_global_wh_m2:,.0f} Wh/m²",
        )
        for month in described.months
    ]
    months_table = indent(text_table(("month", "dry bulb", "dew point", "sunshine a day"), months), "  ")
    most = max(bin_.hours for bin_ in described.bins)
    bins = [
        f"  {bin_.from_f:>4.0f} to {bin_.to_f:>3.0f} °F  {bin_.hours:>6,.0f}  "
        f"{'#' * round(BAR_WIDTH * bin_.hours / most)}".rstrip()
        for bin_ in described.bins
    ]
    damp = [f"  above {limit:.0f} °F  {hours:>6,.0f}" for limit, hours in described.dew_point_hours]
    parts = [
        "\n".join(wrap(value, f"  {name:<9} ", " " * 12) for name, value in facts),
        "Monthly means\n" + months_table,
        "Hours a year by dry bulb\n" + "\n".join(bins),
        "Hours a year by dew point\n" + "\n".join(damp),
    ]
    if weather.notices:
        parts.append("Notices\n" + bullets([notice.text for notice in weather.notices], "!"))
    return "\n\n".join(parts)
