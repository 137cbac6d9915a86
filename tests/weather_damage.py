"""A library of damage to a whole year of weather, and how each form of a file writes it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from freecool.core import air
from freecool.weather import Weather

Random = np.random.Generator
FORMS = ("csv_c", "csv_f", "csv_rh", "csv_bare", "epw")
"""°C with dew point; °F with dew point; °C with relative humidity; °C without pressure or sun; EPW."""
MARKS = (-99.0, -99.9, -88.8, -999.0, 999.0, 999.9, 9999.0, -9999.0)
SUN = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")


@dataclass
class File:
    """A file about to be written: its columns in its units, its times, its place."""

    form: str
    columns: dict[str, np.ndarray]
    times: pd.DatetimeIndex
    place: dict[str, float]
    texts: dict[tuple[int, str], str] = field(default_factory=dict)
    """Cells that are no numbers, by row and column."""

    @property
    def air(self) -> tuple[str, str]:
        """The columns of dry bulb and of humidity."""
        names = list(self.columns)
        return names[0], names[1]

    def take(self, rows: np.ndarray) -> None:
        """Keep these rows, in this order."""
        self.times = self.times[rows]
        self.columns = {name: values[rows] for name, values in self.columns.items()}

    def written(self) -> str:
        """The text of the file."""
        return _epw(self) if self.form == "epw" else _csv(self)


def file_of(weather: Weather, form: str) -> File:
    """An undamaged file, given a weather and the form."""
    frame = weather.frame
    dry, dew, pressure = (frame[name].to_numpy(copy=True) for name in ("dry_bulb_c", "dew_point_c", "pressure_pa"))
    if form == "csv_f":
        columns = {"dry_bulb_f": dry * 1.8 + 32.0, "dew_point_f": dew * 1.8 + 32.0}
    elif form == "csv_rh":
        ratio = air.humidity_ratio_from_dew_point(dew, pressure)
        humid = np.clip(100.0 * air.relative_humidity(dry, ratio, pressure), 1.0, 100.0)
        columns = {"dry_bulb_c": dry, "relative_humidity_percent": humid}
    else:
        columns = {"dry_bulb_c": dry, "dew_point_c": dew}
    if form != "csv_bare":
        columns |= {"pressure_pa": pressure} | {name: frame[name].to_numpy(copy=True) for name in SUN}
    location = weather.location
    place = {name: getattr(location, name) for name in ("latitude", "longitude", "elevation_m", "utc_offset_h")}
    return File(form, columns, pd.DatetimeIndex(frame.index).tz_localize(None), place)


def _csv(file: File) -> str:
    head = "".join(f"# {name}: {value:g}\n" for name, value in file.place.items()) + "# air_at: end\n"
    rows = [file.times.strftime("%Y-%m-%d %H:%M").tolist()]
    for name, values in file.columns.items():
        cells = ["" if value != value else f"{value:.2f}" for value in values.tolist()]
        for (row, column), text in file.texts.items():
            if column == name:
                cells[row] = text
        rows.append(cells)
    return head + ",".join(["time", *file.columns]) + "\n" + "\n".join(map(",".join, zip(*rows, strict=True))) + "\n"


def _epw(file: File) -> str:
    place = file.place
    head = (
        f"LOCATION,Town,XX,XX,TMY3,000000,{place['latitude']:g},{place['longitude']:g},{place['utc_offset_h']:g},"
        f"{place['elevation_m']:g}\n" + "COMMENTS\n" * 7
    )
    cells = [
        [f"{value:.2f}" for value in np.nan_to_num(values, nan=9999.0).tolist()] for values in file.columns.values()
    ]
    for (row, column), text in file.texts.items():
        cells[list(file.columns).index(column)][row] = text
    years = np.where(file.times.month % 2 == 0, 1988, 1995).tolist()
    return head + "\n".join(
        f"{year},{time.month},{time.day},{time.hour + 1},60,A,{dry},{dew},50,{pressure},0,0,9999,{ghi},{dni},{dhi}"
        + ",0,0,0,0,0,0,5,5"
        for year, time, dry, dew, pressure, ghi, dni, dhi in zip(years, file.times, *cells, strict=True)
    )


Damage = Callable[[Random, File], str]


@dataclass(frozen=True)
class Kind:
    """One kind of damage."""

    name: str
    damage: Damage
    forms: tuple[str, ...] = FORMS
    unseen: str = ""
    """Why no reader can see it."""


KINDS: list[Kind] = []
CSV = tuple(form for form in FORMS if form != "epw")
LIT = tuple(form for form in FORMS if form != "csv_bare")


def kind(forms: Sequence[str] = FORMS, unseen: str = "") -> Callable[[Damage], Damage]:
    """Enter a damage into the library."""

    def enter(damage: Damage) -> Damage:
        KINDS.append(Kind(damage.__name__, damage, tuple(forms), unseen))
        return damage

    return enter


def per_degree(file: File, column: str) -> float:
    return 1.8 if column.endswith("_f") else 1.0


def some(random: Random, file: File, share: float) -> np.ndarray:
    """Rows, scattered or in short runs."""
    count = len(file.times)
    if random.random() < 0.5:
        return np.flatnonzero(random.random(count) < share)
    starts = random.integers(0, count - 30, max(int(share * count / 12), 1))
    return np.unique((starts[:, None] + np.arange(random.integers(2, 24))).ravel())


# Missing.


@kind()
def marks_in_air(random: Random, file: File) -> str:
    column, mark, share = random.choice(file.air), random.choice(MARKS), random.uniform(0.002, 0.2)
    rows = some(random, file, share)
    file.columns[column][rows] = mark
    return f"{mark:g} in {column}, {len(rows)} rows"


@kind(LIT)
def marks_elsewhere(random: Random, file: File) -> str:
    column, mark = random.choice(["pressure_pa", *SUN]), random.choice(MARKS)
    rows = some(random, file, random.uniform(0.002, 0.1))
    file.columns[column][rows] = mark
    return f"{mark:g} in {column}, {len(rows)} rows"


@kind()
def blanks(random: Random, file: File) -> str:
    column = random.choice(file.air)
    rows = some(random, file, random.uniform(0.002, 0.4))
    file.columns[column][rows] = np.nan
    return f"{column} empty in {len(rows)} rows"


@kind()
def a_long_gap(random: Random, file: File) -> str:
    first, length = random.integers(0, 8_000), random.integers(10, 3_000)
    for column in file.air:
        file.columns[column][first : first + length] = np.nan
    return f"{length} h empty"


@kind(CSV)
def rows_lost(random: Random, file: File) -> str:
    kept = np.setdiff1d(np.arange(len(file.times)), some(random, file, random.uniform(0.001, 0.2)))
    lost = len(file.times) - len(kept)
    file.take(kept)
    return f"{lost} rows lost"


# Order.


@kind(CSV)
def rows_shuffled(random: Random, file: File) -> str:
    file.take(random.permutation(len(file.times)))
    return "rows shuffled with their times"


@kind()
def values_shuffled(random: Random, file: File) -> str:
    order = random.permutation(len(file.times))
    file.columns = {name: values[order] for name, values in file.columns.items()}
    return "values shuffled under their times"


@kind()
def values_reversed(random: Random, file: File) -> str:
    file.columns = {name: values[::-1].copy() for name, values in file.columns.items()}
    return "the year backwards"


@kind(CSV)
def rows_doubled(random: Random, file: File) -> str:
    rows = some(random, file, 0.05)
    file.take(np.sort(np.concatenate((np.arange(len(file.times)), rows))))
    if random.random() < 0.5:
        doubled = np.flatnonzero(file.times.duplicated())
        file.columns[file.air[0]][doubled] += 1.0
        return "rows doubled with other values"
    return "rows doubled"


@kind()
def months_rotated(random: Random, file: File) -> str:
    hours = int(random.integers(90, 275)) * 24
    file.columns = {name: np.roll(values, hours) for name, values in file.columns.items()}
    return f"the year begun {hours // 24} days off"


# Units.


@kind(("csv_f",))
def celsius_under_fahrenheit(random: Random, file: File) -> str:
    chosen = [file.air, file.air[:1], file.air[1:]][random.integers(3)]
    for column in chosen:
        file.columns[column] = (file.columns[column] - 32.0) / 1.8
    return f"°C in {', '.join(chosen)}"


@kind(("csv_c", "csv_bare", "epw"))
def fahrenheit_under_celsius(random: Random, file: File) -> str:
    chosen = [file.air, file.air[:1], file.air[1:]][random.integers(3)]
    for column in chosen:
        file.columns[column] = file.columns[column] * 1.8 + 32.0
    return f"°F in {', '.join(chosen)}"


@kind(("csv_c", "csv_bare", "epw"))
def converted_twice(random: Random, file: File) -> str:
    chosen = [file.air, file.air[:1], file.air[1:]][random.integers(3)]
    for column in chosen:
        file.columns[column] = (file.columns[column] - 32.0) / 1.8
    return f"converted twice: {', '.join(chosen)}"


@kind(("csv_c", "csv_f", "csv_bare", "epw"))
def unit_changes_within(random: Random, file: File) -> str:
    hour = random.integers(500, 8_200)
    for column in file.air:
        values = file.columns[column]
        values[hour:] = (values[hour:] - 32.0) / 1.8
    return f"another unit from row {hour}"


@kind(("csv_rh",))
def humidity_as_fraction(random: Random, file: File) -> str:
    file.columns["relative_humidity_percent"] /= 100.0
    return "a fraction under percent"


@kind(LIT)
def pressure_in_another_unit(random: Random, file: File) -> str:
    scale = random.choice([0.01, 0.001, 1 / 3386.39])
    file.columns["pressure_pa"] *= scale
    return f"pressure x {scale:.3g}"


@kind(LIT)
def sun_in_another_unit(random: Random, file: File) -> str:
    scale = random.choice([0.001, 3.6, 0.317, 0.0861, 0.2778])
    for column in SUN:
        file.columns[column] *= scale
    return f"sunshine x {scale:g}"


@kind()
def columns_exchanged(random: Random, file: File) -> str:
    pairs = [file.air] + ([(file.air[0], "ghi_w_m2"), ("ghi_w_m2", "dni_w_m2")] if "ghi_w_m2" in file.columns else [])
    first, second = pairs[random.integers(len(pairs))]
    file.columns[first], file.columns[second] = file.columns[second], file.columns[first]
    return f"{first} and {second} exchanged"


# Clock and place.


def _rolled(file: File, hours: int, columns: Sequence[str]) -> None:
    for column in columns:
        file.columns[column] = np.roll(file.columns[column], hours)


@kind(LIT)
def clock_shifted(random: Random, file: File) -> str:
    hours = int(random.choice([h for h in range(-12, 13) if h]))
    _rolled(file, hours, list(file.columns))
    return f"all values {hours:+d} h"


@kind(("csv_bare",))
def clock_far_off_without_sun(random: Random, file: File) -> str:
    hours = int(random.choice([-12, -10, -8, -6, 6, 8, 10]))
    _rolled(file, hours, list(file.columns))
    return f"all values {hours:+d} h, no sunshine told"


@kind(LIT)
def air_shifted(random: Random, file: File) -> str:
    hours = int(random.choice([-12, -9, -6, 6, 9]))
    _rolled(file, hours, file.air)
    return f"air {hours:+d} h against the sun"


@kind(("csv_c", "csv_f", "csv_rh", "epw"))
def daylight_saving_filled(random: Random, file: File) -> str:
    first, last = 24 * (31 + 28 + 10) + 2, 24 * (304 + 3) + 1
    for values in file.columns.values():
        values[first + 1 : last + 1] = values[first:last].copy()
    return "daylight saving, its hours filled"


@kind(CSV)
def daylight_saving_written(random: Random, file: File) -> str:
    year = random.choice([2018, 2019, 2021])
    naive = pd.date_range(f"{year}-01-01", periods=8_760, freq="h")
    file.times = naive.tz_localize("Etc/GMT+5").tz_convert("America/New_York").tz_localize(None)
    return f"clock times of {year} with daylight saving"


@kind()
def wrong_offset(random: Random, file: File) -> str:
    true = file.place["utc_offset_h"]
    file.place["utc_offset_h"] = float(random.choice([-true, 0.0, true + 3.0, true - 2.0, true + 6.0]))
    return f"UTC offset {file.place['utc_offset_h']:g} for {true:g}"


@kind()
def wrong_coordinates(random: Random, file: File) -> str:
    which = random.integers(4)
    latitude, longitude = file.place["latitude"], file.place["longitude"]
    latitude, longitude = [
        (-latitude, longitude), (latitude, -longitude), (longitude, latitude), (0.0, 0.0)
    ][which]  # fmt: skip
    file.place |= {"latitude": latitude, "longitude": longitude}
    return f"placed at {latitude:g}, {longitude:g}"


@kind(LIT)
def wrong_elevation(random: Random, file: File) -> str:
    file.place["elevation_m"] += float(random.choice([-1, 1])) * random.uniform(600.0, 3_000.0)
    file.place["elevation_m"] = max(file.place["elevation_m"], -440.0)
    return f"elevation {file.place['elevation_m']:.0f} m"


# What no air does.


@kind()
def spikes(random: Random, file: File) -> str:
    column, count = file.air[0], int(random.integers(1, 300))
    size = random.uniform(15.0, 60.0) * random.choice([-1.0, 1.0]) * per_degree(file, column)
    file.columns[column][random.integers(2, 8_750, count)] += size
    return f"{count} spikes of {size:.0f} in {column}"


@kind()
def a_spell_at_another_level(random: Random, file: File) -> str:
    column, hours, first = file.air[0], int(random.integers(4, 400)), int(random.integers(100, 8_000))
    size = random.uniform(25.0, 60.0) * random.choice([-1.0, 1.0]) * per_degree(file, column)
    file.columns[column][first : first + hours] += size
    return f"{hours} h of {column} off by {size:.0f}"


@kind()
def a_step(random: Random, file: File) -> str:
    hour = random.integers(500, 8_200)
    size = random.uniform(25.0, 50.0) * random.choice([-1.0, 1.0])
    for column in file.air[:1] if file.form == "csv_rh" else file.air:
        file.columns[column][hour:] += size * per_degree(file, column)
    return f"{size:.0f} K off from row {hour}"


@kind()
def stuck(random: Random, file: File) -> str:
    column, hours, first = random.choice(file.air), int(random.integers(60, 3_000)), int(random.integers(0, 5_700))
    if file.form == "csv_rh":
        column = file.air[0]
    file.columns[column][first : first + hours] = file.columns[column][first]
    return f"{column} stands still for {hours} h"


@kind()
def daily_means(random: Random, file: File) -> str:
    file.columns = {name: np.repeat(values.reshape(-1, 24).mean(axis=1), 24) for name, values in file.columns.items()}
    return "daily means"


@kind()
def heavy_noise(random: Random, file: File) -> str:
    column, size = file.air[0], random.uniform(2.5, 8.0)
    file.columns[column] = file.columns[column] + random.normal(0.0, size, 8_760) * per_degree(file, column)
    return f"noise of {size:.1f} K in {column}"


@kind()
def decimal_points_lost(random: Random, file: File) -> str:
    column = file.air[0]
    rows = some(random, file, random.uniform(0.0005, 0.01))
    file.columns[column][rows] *= 10.0
    return f"{column} ten times too large in {len(rows)} rows"


@kind()
def text_in_cells(random: Random, file: File) -> str:
    column = random.choice(file.air)
    text = str(random.choice(["n/a", "", "#REF!", "12,5", "ERR", "--", "1e9", "inf", "-"]))
    rows = random.integers(0, 8_759, random.integers(1, 50))
    file.texts |= {
        (int(row), str(column)): text.replace(",", "") if file.form == "epw" else f'"{text}"' for row in rows
    }
    return f"'{text}' in {column}, {len(set(rows.tolist()))} rows"


# What no reader can see.


@kind(unseen="a sensor that reads a few kelvin off all year is a place that is so warm")
def biased(random: Random, file: File) -> str:
    column, size = file.air[0], random.uniform(1.0, 4.0) * random.choice([-1.0, 1.0])
    file.columns[column] = file.columns[column] + size * per_degree(file, column)
    return f"{column} {size:+.1f} K all year"


@kind(unseen="a slow drift is a season")
def drifting(random: Random, file: File) -> str:
    column, size = file.air[0], random.uniform(2.0, 6.0) * random.choice([-1.0, 1.0])
    file.columns[column] = file.columns[column] + np.linspace(0.0, size, 8_760) * per_degree(file, column)
    return f"{column} drifts by {size:+.1f} K"


@kind(unseen="a gain somewhat wrong is another climate")
def scaled(random: Random, file: File) -> str:
    column, scale = file.air[0], random.uniform(0.85, 1.15)
    middle = float(np.mean(file.columns[column]))
    file.columns[column] = middle + (file.columns[column] - middle) * scale
    return f"{column} swings by {scale:.2f}"


@kind(("csv_bare",), unseen="without pressure nothing tells a wrong elevation")
def wrong_elevation_without_pressure(random: Random, file: File) -> str:
    file.place["elevation_m"] += random.uniform(300.0, 1_500.0)
    return f"elevation {file.place['elevation_m']:.0f} m, no pressure told"


@kind(("csv_bare",), unseen="without sunshine a few hours are within what coasts and plains differ by")
def clock_somewhat_off_without_sun(random: Random, file: File) -> str:
    hours = int(random.choice([-3, -2, -1, 1, 2, 3, 4]))
    _rolled(file, hours, list(file.columns))
    return f"all values {hours:+d} h, no sunshine told"


@kind(unseen="noise as small as true gusts")
def light_noise(random: Random, file: File) -> str:
    column, size = file.air[0], random.uniform(0.2, 1.5)
    file.columns[column] = file.columns[column] + random.normal(0.0, size, 8_760) * per_degree(file, column)
    return f"noise of {size:.1f} K in {column}"


@kind(LIT, unseen="a pyranometer off by a quarter is another haze")
def sun_scaled(random: Random, file: File) -> str:
    scale = random.uniform(0.75, 1.25)
    for column in SUN:
        file.columns[column] *= scale
    return f"sunshine x {scale:.2f}"


@kind(unseen="a day copied is a day that may have been")
def days_copied(random: Random, file: File) -> str:
    day, other, days = *random.integers(5, 350, 2), random.integers(1, 10)
    for values in file.columns.values():
        values[other * 24 : (other + days) * 24] = values[day * 24 : (day + days) * 24].copy()
    return f"{days} days copied from day {day} to day {other}"
