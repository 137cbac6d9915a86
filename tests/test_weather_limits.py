"""What docs/limits.md says of weather is what is said: each sentence as printed, from a real year so damaged.

``python tests/test_weather_limits.py`` prints the tables of that page.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from weather_damage import KINDS, SUN, File, file_of

from freecool.cases.wording import option_wording
from freecool.core.errors import WeatherError, worded
from freecool.weather import Weather, open_weather

PAGE = Path(__file__).parents[1] / "docs" / "limits.md"
Change = Callable[[File], object]


def column(name: str, change: Callable[[np.ndarray], np.ndarray]) -> Change:
    return lambda file: file.columns.update({name: change(file.columns[name].copy())})


def both(change: Callable[[np.ndarray], np.ndarray]) -> Change:
    return lambda file: file.columns.update({name: change(file.columns[name].copy()) for name in file.air})


def every(change: Callable[[np.ndarray], np.ndarray]) -> Change:
    return lambda file: file.columns.update({name: change(values.copy()) for name, values in file.columns.items()})


def where(first: int, end: int, value: float, step: int = 1) -> Callable[[np.ndarray], np.ndarray]:
    def change(values: np.ndarray) -> np.ndarray:
        values[first:end:step] = value
        return values

    return change


def added(first: int, end: int, size: float, step: int = 1) -> Callable[[np.ndarray], np.ndarray]:
    def change(values: np.ndarray) -> np.ndarray:
        values[first:end:step] += size
        return values

    return change


def celsius(values: np.ndarray) -> np.ndarray:
    return (values - 32.0) / 1.8


def summer_time(values: np.ndarray) -> np.ndarray:
    first, last = 24 * (31 + 28 + 10) + 2, 24 * (304 + 3) + 1
    values[first + 1 : last + 1] = values[first:last].copy()
    return values


def other_dry_bulb(file: File) -> None:
    file.columns["dry_bulb_f"] = file.columns["dry_bulb_c"] * 1.8 + 34.0


def clock_of_new_york(file: File) -> None:
    standard = file.times.tz_localize("Etc/GMT+5")
    file.times = standard.tz_convert("America/New_York").tz_localize(None)


def exchanged(one: str, other: str) -> Change:
    return lambda file: file.columns.update({one: file.columns[other], other: file.columns[one]})


def placed(**place: float) -> Change:
    return lambda file: file.place.update(place)


def rows(order: Callable[[np.ndarray], np.ndarray]) -> Change:
    return lambda file: file.take(order(np.arange(len(file.times))))


NOISE = np.random.default_rng(1).normal(0.0, 3.0, 8_760)
REFUSED: tuple[tuple[str, str, Change], ...] = (
    ("°C under °F", "csv_f", both(celsius)),
    ("dew point alone in °C under °F", "csv_f", column("dew_point_f", celsius)),
    ("°C that was converted twice", "csv_c", both(celsius)),
    ("°F in °C", "csv_c", column("dry_bulb_c", lambda t: t * 1.8 + 32.0)),
    ("another unit from July on", "csv_c", both(lambda t: np.where(np.arange(8_760) < 4_344, t, celsius(t)))),
    ("two columns that disagree", "csv_c", other_dry_bulb),
    ("dry bulb and dew point exchanged", "csv_c", exchanged("dry_bulb_c", "dew_point_c")),
    ("a step that stays", "csv_rh", column("dry_bulb_c", added(4_344, 8_760, -30.0))),
    ("hundreds of leaps", "csv_c", column("dry_bulb_c", added(10, 8_700, -40.0, 25))),
    ("a sensor that stands still for a month", "csv_c", column("dry_bulb_c", where(4_344, 5_064, 21.0))),
    ("noise", "csv_rh", column("dry_bulb_c", lambda t: t + NOISE)),
    ("daily means", "csv_c", every(lambda v: np.repeat(v.reshape(-1, 24).mean(axis=1), 24))),
    ("two days and more without a value", "csv_c", column("dry_bulb_c", where(4_344, 4_400, np.nan))),
    ("a year mostly missing", "csv_c", column("dry_bulb_c", where(700, 8_700, np.nan))),
    ("the UTC offset with the wrong sign", "csv_c", placed(utc_offset_h=5.0)),
    ("times of the place told as UTC", "csv_c", placed(utc_offset_h=0.0)),
    ("times in UTC told as the place's", "csv_c", every(lambda v: np.roll(v, 5))),
    ("latitude and longitude exchanged", "csv_c", placed(latitude=-79.95, longitude=36.1)),
    ("the latitude with the wrong sign", "csv_c", placed(latitude=-36.1)),
    ("half a day off", "csv_c", every(lambda v: np.roll(v, 12))),
    ("half a day off, without sunshine", "csv_bare", every(lambda v: np.roll(v, 12))),
    ("daylight saving", "csv_c", clock_of_new_york),
    ("daylight saving, its hours filled", "csv_c", every(summer_time)),
    ("irradiances exchanged", "csv_c", exchanged("ghi_w_m2", "dni_w_m2")),
    ("sunshine in Btu/(h·ft²)", "csv_c", lambda file: [column(name, lambda v: v * 0.317)(file) for name in SUN]),
    ("sea-level pressure", "csv_c", placed(elevation_m=1_500.0)),
)  # fmt: skip
REPAIRED: tuple[tuple[str, str, Change], ...] = (
    ("missing marks", "csv_f", column("dry_bulb_f", where(5, 8_760, -99.0, 10))),
    ("leaps and their return", "csv_c", column("dry_bulb_c", added(4_000, 4_400, -40.0, 100))),
    ("a sensor that stands still for two days", "csv_c", column("dry_bulb_c", where(4_344, 4_390, 21.0))),
    ("short gaps", "csv_c", column("dry_bulb_c", where(4_344, 4_374, np.nan))),
    ("dew point a little above dry bulb", "csv_c", column("dew_point_c", lambda t: t + 0.1)),
    ("rows out of order", "csv_c", rows(lambda order: np.roll(order, 100))),
    ("rows twice", "csv_c", rows(lambda order: np.sort(np.concatenate((order, order[50:80]))))),
)
WARNED: tuple[tuple[str, str, Change], ...] = (
    ("an hour off the sun", "csv_c", every(lambda v: np.roll(v, 1))),
    ("an hour off the zone", "csv_bare", placed(utc_offset_h=-4.0)),
    ("warmest at an odd hour", "csv_bare", every(lambda v: np.roll(v, 3))),
    ("pressure at odds with the elevation", "epw", placed(elevation_m=1_000.0)),
)


@pytest.fixture(scope="module")
def year(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(pvlib_weather("723170TYA.CSV"))


def said(year: Weather, form: str, change: Change) -> str:
    """What is said of a damaged year beyond what is said of the sound one."""
    file = file_of(year, form)
    change(file)
    try:
        found = _read(file)
    except WeatherError as error:
        return worded(error, option_wording)
    before = _said_of_sound(year, form)
    told = [*(notice.text for notice in found.notices), *found.quality.notes]
    return next(text for text in told if text not in before)


@cache
def _said_of_sound(year: Weather, form: str) -> frozenset[str]:
    known = _read(file_of(year, form))
    return frozenset((*(notice.text for notice in known.notices), *known.quality.notes))


def _read(file: File) -> Weather:
    with TemporaryDirectory() as folder:
        path = Path(folder) / ("year.epw" if file.form == "epw" else "year.csv")
        path.write_text(file.written(), encoding="utf-8")
        return open_weather(path)


def row(what: str, sentence: str) -> str:
    return f"| {what} | `{sentence}` |"


@pytest.mark.parametrize(
    ("what", "form", "change"),
    [pytest.param(*one, id=f"{one[0][:40]}-{one[1]}") for one in (*REFUSED, *REPAIRED, *WARNED)],
)
def test_the_page_says_what_is_said(what: str, form: str, change: Change, year: Weather) -> None:
    assert row(what, said(year, form, change)) in PAGE.read_text("utf-8").splitlines()


def test_the_page_tells_what_no_reader_sees() -> None:
    page = " ".join(PAGE.read_text("utf-8").split())
    for kind in KINDS:
        assert kind.unseen in page, kind.name


def main() -> None:
    import pvlib

    weather = open_weather(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV")
    for title, cases in (("Refused", REFUSED), ("Repaired and counted", REPAIRED), ("Warned of", WARNED)):
        print(f"\n### {title}\n\n| what | what is said |\n| --- | --- |")
        for what, form, change in cases:
            print(row(what, said(weather, form, change)))
    print("\n".join(sorted({f"- {kind.unseen}" for kind in KINDS if kind.unseen})))


if __name__ == "__main__":
    main()
