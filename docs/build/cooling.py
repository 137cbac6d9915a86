"""The page of cooling by preset: what a year of cooling takes without a damper, beside public surveys.

``python docs/build/cooling.py > docs/cooling.md`` writes it, on the weather of `climates.py`.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from climates import PLACES, default_files

from freecool.answers.blocks import answer_blocks
from freecool.answers.prepare import prepare
from freecool.answers.results import EnergyBlock
from freecool.answers.runs import run_pair
from freecool.cases.model import Case, make_case
from freecool.core.units import TON_W, convert
from freecool.physics.year import NO_DAMPER, simulate
from freecool.weather import Weather, open_weather

J_PER_KWH = 3.6e6
# The design hours: this share of the occupied ones, and so many at least.
DESIGN_SHARE, LEAST_HOURS = 0.004, 10
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
TODAY = """
## Heat from lights and devices, older stock and today's

`small-office` has 1.8 W/ft² while occupied, as in standing stock; with the lights and devices of today it is nearer
1.0 (both common practice, no source). Then there is less to cool, and outdoor air carries less of it. Net kWh are
those of a damper at the preset's differential of 5 °F.

| place | cooling at 1.8 W/ft² | net saved | cooling at 1.0 W/ft² | net saved |
| --- | --- | --- | --- | --- |
"""
SIZED = """
## Tons by climate

Presets have one unit everywhere, as it is found: 3 tons in a house, 12.5 in the office, 400 to 600 ft² a ton.
Handbooks size it by the design hour. Here: the mean sensible load of the hottest 0.4 % of the occupied hours in the
file (at least ten), held to the set point, over the unit's sensible heat ratio, up to the next half ton, with 400 cfm
a ton; residential practice goes up to 115 % of the load (ACCA Manual S, from memory). Net kWh at the preset's
differential, with the preset's unit and with the one sized.

| place | house, tons | net, preset | net, sized | office, tons | net, preset | net, sized |
| --- | --- | --- | --- | --- | --- | --- |
"""
SO_SIZED = """
What is found is larger than what is sized. A house hardly feels it: a smaller fan runs longer at fewer watts. An
office with the sized unit saves a quarter to nearly a half less, for its fan moves less air, and air is what cools.
So the size is among what differs between [buildings like it](how-it-works.md#buildings-like-it); tell the nameplate
(`unit.capacity` with `fan.flow`).
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
    places = [(PLACES[file.name].name, open_weather(file)) for file in files]
    rows = ("".join(f"{row(*place)}\n" for place in places) for row in (cooling_row, today_row, sized_row))
    heads = (INTRO, TODAY, SIZED)
    return "".join(head + lines for head, lines in zip(heads, rows, strict=True)) + SO_SIZED + BESIDE


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


def today_row(place: str, weather: Weather) -> str:
    """A line of the table of heat gains."""
    cells = [place]
    for gains in ("1.8 W/ft2", "1.0 W/ft2"):
        energy = energy_of(make_case({"gains": {"occupied": gains}}, preset=OFFICE), weather)
        cells += [f"{energy.compressor_kwh_without:,.0f}", kwh(energy.net_kwh_saved)]
    return f"| {' | '.join(cells)} |"


def sized_row(place: str, weather: Weather) -> str:
    """A line of the table of sizes."""
    cells = [place]
    for preset in (HOUSE, OFFICE):
        tons = sized_tons(make_case(preset=preset), weather)
        sized = make_case({"unit": {"capacity": f"{tons} ton"}, "fan": {"flow": f"{400 * tons} cfm"}}, preset=preset)
        nets = (kwh(energy_of(case, weather).net_kwh_saved) for case in (make_case(preset=preset), sized))
        cells += [f"{tons:g}", *nets]
    return f"| {' | '.join(cells)} |"


def sized_tons(case: Case, weather: Weather) -> float:
    """Nominal tons of a unit that carries the design hours of a weather file."""
    # A unit of any size, so that the room is held in every hour; the fan stays, and so does its heat.
    ample = case.model_copy(update={"unit": case.unit.model_copy(update={"capacity": 4.0 * case.unit.capacity})})
    prepared = prepare(ample, weather)
    hours = prepared.zone.hours
    load_w = simulate(prepared.zone, prepared.unit, prepared.fan, NO_DAMPER, hourly=True).column("cooling_w")
    occupied = np.flatnonzero(hours.occupied)
    count = max(round(DESIGN_SHARE * occupied.size), LEAST_HOURS)
    hottest = occupied[np.argsort(hours.outdoor_c[occupied])[-count:]]
    tons = float(load_w[hottest].mean()) / case.unit.sensible_heat_ratio / TON_W
    return max(math.ceil(2.0 * tons) / 2.0, 1.0)


def energy_of(case: Case, weather: Weather) -> EnergyBlock:
    """What a damper brings to a case."""
    prepared = prepare(case, weather)
    pair = run_pair(prepared, prepared.zone)
    return answer_blocks(case, weather, pair.without.totals, pair.fitted.totals).energy


def kwh(value: float) -> str:
    """Whole kWh, with a minus that does not break."""
    return f"{round(value) + 0.0:,.0f}".replace("-", "−")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(cooling_page(default_files(Path(folder))), end="")
