"""What every command can be told, once for all of them."""

from __future__ import annotations

import dataclasses
import json
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from freecool.cases.demos import DEFAULT_DEMO, DEMOS, Demo
from freecool.cases.options import OPTION_KEYS, case_overrides, is_file, merged, nested, setting
from freecool.cases.rules import RULES
from freecool.cases.wording import case_wording
from freecool.cli.output import say
from freecool.cli.shared_options import with_fields
from freecool.core.errors import CaseError, worded
from freecool.core.presentation import presentation_of
from freecool.show.files import write_page, write_report

if TYPE_CHECKING:
    from freecool.cases.model import Case
    from freecool.core.units import System
    from freecool.weather import Weather

SAVED = "# A case file of Freecool: what was told; what it leaves out is its preset's."


def option(help_text: str, *names: str, **more: Any) -> Any:
    """An option of a command, given its help and, where they differ from its parameter, its names."""
    return typer.Option(*names, help=help_text, **more)


@dataclasses.dataclass(frozen=True)
class Request:
    """What every command can be told: weather, building, rule, price, and how to answer."""

    weather: Annotated[
        str | None,
        typer.Argument(
            help="An EPW, TMY3 or plain CSV file, station:ID, near:TOWN (or a ZIP code, or LAT,LON), or "
            "demo:NAME (high-desert, humid-coast, "
            "mixed-inland). "
            "Left out: the demo's, invented, and the answer says so."
        ),
    ] = None
    case: Annotated[Path | None, option("Case file (.toml); see docs/case-file.md.")] = None
    demo: Annotated[
        str | None,
        option(f"An invented job to try: {', '.join(DEMOS)}. Without weather, case and building: {DEFAULT_DEMO}."),
    ] = None
    building: Annotated[
        str | None,
        option("Preset to start from: detached-house-light, -medium, -heavy, small-office, shop, equipment-room."),
    ] = None
    setpoint: Annotated[str | None, option("Cooling set point, constant, such as 75F.")] = None
    differential: Annotated[str | None, option("How far outdoor air must be below the reference, such as 5F.")] = None
    rule: Annotated[
        str | None,
        option(f"{', '.join(RULES)}."),
    ] = None
    flow: Annotated[str | None, option("Supply air, such as 1200cfm.")] = None
    fan: Annotated[str | None, option("Fan power by flow, such as 0.365W/cfm.")] = None
    price: Annotated[float | None, option("Electricity price per kWh.")] = None
    installed_cost: Annotated[float | None, option("Damper, controls and labour, for the payback.")] = None
    enthalpy_limit: Annotated[
        str | None, option("Besides the rule: outdoor enthalpy at most, such as '28 Btu/lb'.")
    ] = None
    dew_point_limit: Annotated[str | None, option("Besides the rule: outdoor dew point at most, such as 55F.")] = None
    high_limit: Annotated[str | None, option("Besides the rule: outdoor dry bulb at most, such as 65F.")] = None
    precool: Annotated[
        str | None, option("How far below set point free cooling may go on after a warm day, such as 2F.")
    ] = None
    windows: Annotated[str | None, option("Do people open windows on cool evenings: never, some or always.")] = None
    zone: Annotated[str | None, option("ASHRAE 169 climate zone, such as 4A.", "--zone", "--climate-zone")] = None
    set_: Annotated[
        list[str] | None,
        option("Any other value of the case, such as building.floor_area=2000ft2.", "--set", metavar="KEY=VALUE"),
    ] = None
    years: Annotated[str | None, option("Of a station or a record of real years: such as 2015-2024.")] = None
    latitude: Annotated[float | None, option("Of a plain CSV that does not say it, degrees north.")] = None
    longitude: Annotated[float | None, option("Of a plain CSV, degrees east (west is negative).")] = None
    elevation: Annotated[str | None, option("Of a plain CSV, or of the building, such as 5000ft.")] = None
    utc_offset: Annotated[float | None, option("Of a plain CSV: hours of standard time from UTC, such as -7.")] = None
    allow_gaps: Annotated[bool, option("Fill gaps longer than 48 h too.", "--allow-gaps")] = False
    offline: Annotated[bool, option("Station weather: use only what was fetched before.", "--offline")] = False
    refresh: Annotated[bool, option("Station weather: fetch its years again.", "--refresh")] = False
    units: Annotated[str, option("ip (°F, cfm, tons) or si; a bare number takes its unit.")] = "ip"
    as_json: Annotated[bool, option("One JSON object on standard output.", "--json")] = False
    save: Annotated[Path | None, option("Write what was told of the case to this .toml file.")] = None
    overwrite: Annotated[bool, option("Let --save replace a file.", "--overwrite")] = False
    report: Annotated[Path | None, option("Write a page to hand over to this .html or .pdf file.")] = None
    customer: Annotated[str | None, option("For whom the report is.")] = None
    quote_number: Annotated[str | None, option("Number of the quote, on the report.")] = None
    quote_date: Annotated[str | None, option("Date of the quote, on the report.")] = None
    logo: Annotated[Path | None, option("Logo on the report: a PNG, JPEG, GIF or WebP file.")] = None

    @property
    def system(self) -> System:
        """The unit system asked for."""
        if self.units not in ("ip", "si"):
            raise CaseError(f"--units is {self.units!r}: expected ip or si.")
        return "si" if self.units == "si" else "ip"

    @property
    def tried(self) -> Demo | None:
        """The invented job that is asked about: the one named, or the usual one where nothing tells another."""
        if self.demo is None:
            told = (self.weather, self.case, self.building)
            return DEMOS[DEFAULT_DEMO] if told == (None, None, None) else None
        if self.demo not in DEMOS:
            raise CaseError(f"--demo is {self.demo!r}: expected one of {', '.join(DEMOS)}.")
        if self.case is not None:
            raise CaseError("--demo and --case both tell a building: give one.")
        return DEMOS[self.demo]

    def files(self) -> list[Path]:
        """What is read: the case file with the files it names, the weather where it is a file, the logo."""
        from freecool.cases.case_file import files_of_case

        weather = [] if self.weather is None or not is_file(self.weather) else [Path(self.weather)]
        logo = [] if self.logo is None else [self.logo]
        return [*(files_of_case(self.case) if self.case else ()), *weather, *logo]

    def told(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """What the case file or the demo tells of the case, and what the options do."""
        from freecool.cases.case_file import read_case_file
        from freecool.cases.logo import read_logo

        tried = self.tried
        tables = tried.case if tried else read_case_file(self.case) if self.case else {}
        logo = {} if self.logo is None else nested("quote.logo", read_logo(self.logo))
        return tables, merged(case_overrides(self._given()), *map(setting, self.set_ or []), logo)

    def make_case(self) -> Case:
        """The resolved case: options over case file or demo over preset."""
        from freecool.cases.model import make_case

        tables, overrides = self.told()
        try:
            return make_case(tables, overrides, units=self.system, where=str(self.case or "options"))
        except CaseError as error:
            # --set is stronger than the option of the same key.
            settings = {text.partition("=")[0].strip() for text in self.set_ or []}
            options = [name for name in self._given() if OPTION_KEYS[name] not in settings]
            raise CaseError(worded(error, case_wording(options, "--"))) from None

    def other_case(self, path: Path) -> Case:
        """The case of another file, to which the options of this one say nothing."""
        from freecool.cases.case_file import read_case_file
        from freecool.cases.model import make_case

        return make_case(read_case_file(path), units=self.system, where=str(path))

    def _given(self) -> dict[str, Any]:
        """The options of the case that are told, by name."""
        return {name: value for name, value in vars(self).items() if name in OPTION_KEYS and value is not None}

    def check_saving(self) -> None:
        """Refuse to save where a file is, unless it may be replaced."""
        if self.save is not None and self.save.exists() and not self.overwrite:
            raise CaseError(f"{self.save}: there is such a file; choose another name, or --overwrite replaces it.")

    def save_case(self, command: str, case: Case) -> Request:
        """What asks about the same case from its file, which is written, given the name of the command."""
        from freecool.cases.case_file import case_text

        assert self.save is not None
        cleared: dict[str, Any] = dict.fromkeys([*self._given(), "set_", "demo", "logo"])
        weather = self.tried.weather if self.weather is None and self.tried else self.weather
        again = dataclasses.replace(self, **cleared, case=self.save, weather=weather)
        head = f"{SAVED}\n# freecool {command} {again.words()}\n\n"
        write_page(head + case_text(merged(*self.told()), case), self.save)
        return again

    def open_weather(self) -> Weather:
        """The weather asked for, of the years asked for."""
        from freecool.cases.quantity import ELEVATION
        from freecool.weather import open_weather
        from freecool.weather.years import year_span

        elevation_m = None if self.elevation is None else ELEVATION.told(self.elevation, self.system, "--elevation")
        return open_weather(
            self.tried.weather if self.weather is None and self.tried else self.weather,
            allow_gaps=self.allow_gaps,
            years=year_span(self.years),
            offline=self.offline,
            refresh=self.refresh,
            latitude=self.latitude,
            longitude=self.longitude,
            elevation_m=elevation_m,
            utc_offset_h=self.utc_offset,
        )

    def words(self, without: tuple[str, ...] = ()) -> str:
        """What asks the same of another command, given names of what is left out."""
        told: list[str] = []
        for item in dataclasses.fields(self):
            value = getattr(self, item.name)
            if item.name in ("as_json", "report", "save", "overwrite", *without) or value == item.default:
                continue
            name = f"--{item.name.rstrip('_').replace('_', '-')}"
            if item.name == "weather":
                told.append(value)
            elif isinstance(value, list):
                told += [word for entry in value for word in (name, entry)]
            else:
                told += [name] if value is True else [name, str(value)]
        return shlex.join(told)

    def _what_is_invented(self) -> str:
        if self.tried is None:
            return "No weather was given, so this is in a built-in demo: an invented climate."
        others = ", ".join(f"--demo {name}" for name, demo in DEMOS.items() if demo is not self.tried)
        return f"A demo: {self.tried.words}, in an invented climate. Others: {others}."

    def answer(self, result: Any) -> None:
        """Print a result as JSON or as text, and write its report where asked."""
        if self.report is not None:
            write_report(result, self.report, self.system)
        if self.as_json:
            say(json.dumps(result.to_dict(), indent=2, allow_nan=False))
            return
        if self.weather is None:
            from freecool.show.text import wrap

            say(f"{wrap(self._what_is_invented())}\n")
        say(presentation_of(result.job).text(result, self.system))


with_request = with_fields(Request)
"""A command that takes the fields of `Request` and then its own options."""
