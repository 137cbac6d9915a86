"""The page of cooling by preset: what a year of cooling takes without a damper, beside public surveys.

``python docs/build/cooling.py > docs/cooling.md`` writes it, on the weather of `climates.py`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from climates import PLACES, default_files

from freecool.answers.prepare import prepare
from freecool.cases.model import make_case
from freecool.core.units import convert
from freecool.physics.year import NO_DAMPER, simulate
from freecool.weather import Weather, open_weather

J_PER_KWH = 3.6e6
HOUSE, OFFICE, SHOP = "detached-house-medium", "small-office", "shop"

INTRO = """# Cooling by preset

<!-- Written by `python docs/build/cooling.py > docs/cooling.md`; change that file, not this page. -->

What a year of cooling takes without a damper, by preset and climate, beside what surveys found. A damper can save no
more than there is: a preset that cools too much saves too much.

kWh a year of the compressor with its condenser fan; for the house with the indoor fan, which runs on call alone. The
presets are `detached-house-medium`, `small-office` and `shop`, unchanged.

| place | house | a square foot | office | a square foot | shop | a square foot |
| --- | --- | --- | --- | --- | --- | --- |
"""
BESIDE = """
## What surveys found

| what | figure | source |
| --- | --- | --- |
| homes, air conditioning, mean of all | 265 USD a year, some 2,100 kWh | EIA, RECS 2015, as told on 23 July 2018 |
| homes, hot-humid climate | 525 USD, some 4,200 kWh | the same |
| homes, mixed-humid climate | 262 USD, some 2,100 kWh | the same |
| homes, marine climate | 60 USD, some 500 kWh | the same |
| commercial buildings, cooling, hot or very hot climate | 14.2 kBtu/ft², 4.2 kWh/ft² | EIA, CBECS 2018, as reported |
| commercial buildings, cooling, cold or very cold climate | 2.3 kBtu/ft², 0.7 kWh/ft² | the same |
| commercial buildings of 1,001 to 5,000 ft², cooling, 2003 | 2.0 kWh/ft² | EIA, CBECS 2003, table E6 |

kWh of homes are money over 12.65 cents a kWh, the mean of 2015 (from memory). All homes are counted, those without air
conditioning and those with one cooled room too, and of all sizes.

The house stands where homes of its climate do. Office and shop take less than the surveys' means of their climates:
their glass, their unit and their outdoor air are those of codes, and most buildings are older and many run all week. So
what they save is no more than most would, but for their heat from lights and devices, which is that of older stock:
tell yours (`gains.occupied`).
"""


def cooling_page(files: Iterable[Path]) -> str:
    """The page, given weather files of `climates.PLACES`."""
    return INTRO + "".join(f"{cooling_row(PLACES[file.name].name, open_weather(file))}\n" for file in files) + BESIDE


def cooling_row(place: str, weather: Weather) -> str:
    """A line of the table, given the place's name and its weather."""
    cells = [place]
    for preset in (HOUSE, OFFICE, SHOP):
        case = make_case(preset=preset)
        prepared = prepare(case, weather)
        year = simulate(prepared.zone, prepared.unit, prepared.fan, NO_DAMPER)
        joules = float(year.total("compressor_j")[0] + (year.total("fan_j")[0] if preset == HOUSE else 0.0))
        square_feet = convert(case.building.floor_area, "area", "ft2")
        cells += [f"{joules / J_PER_KWH:,.0f}", f"{joules / J_PER_KWH / square_feet:.1f}"]
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(cooling_page(default_files(Path(folder))), end="")
