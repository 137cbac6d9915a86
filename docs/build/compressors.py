"""The page of compressors: what a damper saves on one building with single-speed, two-stage and variable-speed units.

``python docs/build/compressors.py > docs/compressors.md`` writes it.
"""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

from freecool.answers.estimate import Estimate, estimate
from freecool.cases.model import make_case
from freecool.core.units import convert
from freecool.weather import Weather, open_weather

SACRAMENTO = "724839TYA_Sacramento_TMY3.csv"
KEPT = Path(__file__).parents[2] / "tests" / "weather"


class Variant(NamedTuple):
    """A building with a unit, as a row of the table."""

    building: str
    compressor: str
    preset: str
    told: dict[str, Any]


# The office has no staged presets: its low and middle points stand to the full one as those of the houses do.
VARIANTS = (
    Variant("house", "single-speed, fan of one speed", "detached-house-medium", {}),
    Variant("house", "single-speed", "detached-house-medium", {"fan": {"variable": True}}),
    Variant("house", "two-stage", "detached-house-two-stage", {}),
    Variant("house", "variable-speed", "detached-house-variable-speed", {}),
    Variant("office", "single-speed", "small-office", {}),
    Variant(
        "office",
        "two-stage",
        "small-office",
        {"unit": {"compressor": "two-stage", "low_capacity": "9 ton", "low_eer": 12.3, "low_flow": 0.86}},
    ),
    Variant(
        "office",
        "variable-speed",
        "small-office",
        {
            "unit": {
                "compressor": "variable-speed", "low_capacity": "4.5 ton", "low_eer": 15.4,
                "middle_capacity": "7.5 ton", "middle_eer": 14, "low_flow": 0.42,
            }
        },
    ),
)  # fmt: skip

INTRO = """# Two-stage and variable-speed units

<!-- Written by `python docs/build/compressors.py > docs/compressors.md`; change that file, not this page. -->

With a damper, outdoor air is the first stage of cooling, the low stage or a low speed the second, and full capacity the
third. The better a unit is at part load, the less a damper saves: outdoor air carries the mild hours, and those are the
ones in which such a unit does best.

## What it changes

Presets `detached-house-medium`, `detached-house-two-stage` and `detached-house-variable-speed`, which differ in nothing
but the unit and its fan, and `small-office` with units in the same proportions; typical year of Sacramento CA (TMY3
724839), 5 °F below set point. kWh a year.

"""
HEAD = """| building | unit | compressor without | compressor avoided | fan added | net saved | net share | break-even |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""
WHY = """
- **Compressor kWh avoided fall** from single-speed to variable-speed, by a tenth to a quarter: the same hours are
  carried, but each would have cost less. A two-stage unit lies between them; in the house it avoids nearly as much as
  one of a single speed. Such a unit takes less for the same heat: its coils are large for its low stage, and
  it starts and stops less.
- **The break-even rises**: a damper's fan earns its keep only at a greater differential, against the low stage. Set the
  differential for the unit that is there.
- **In a house the fan weighs as much as the compressor.** A damper that runs a fan of one speed gives most of what it
  avoids back; one that asks a fan of variable speed for a part of its flow gives back a tenth. With a
  variable-speed unit the fan hardly runs without the damper, so that the damper's fan costs something again.
- **In an office the fan runs anyway** and keeps its full flow; only the compressor changes. A low stage at full flow
  dries little, with and without the damper: look at the humidity block.

Proportions of the low and middle points are common practice, no source; those of capacity and flow from
NREL/TP-5500-56354 (from memory). Give your own unit's.

## What to tell

From the unit's performance table (product data, cooling), at 95 °F outdoors and 80/67 °F indoors, whole unit with fan:

```toml
[unit]
capacity = "3 ton"              # high stage or highest speed
eer = "12 Btu/Wh"
compressor = "two-stage"        # or "variable-speed"; without it "single-speed"
low_capacity = "2.16 ton"       # low stage or lowest speed
low_eer = "13.2 Btu/Wh"
low_flow = 0.86                 # its air flow over the full one; without it that of the capacities
# middle_capacity, middle_eer   # a third rated speed of a variable-speed unit

[fan]
variable = true                 # the fan follows the stage, watts by flow^2.5
```

**A heat pump** cools as an air conditioner does: tell its cooling capacity and its EER at 95 °F, not HSPF, COP or
capacity at 47 °F. Its heating is counted as heat, as everywhere: with `money.fuel_price` the price of electricity and
`money.fuel_efficiency` its seasonal COP, added heat enters the money.

**EER, EER2, SEER, SEER2.** EER is one point, and the one that is asked for. EER2 is the same point against the duct
pressure of the test method since 2023, and about 4 % lower (11.7 where EER is 12.2 in the federal minimum of the
Southwest, from memory); it rests on the fan and the ducts of the test, so none is computed from the other. Where only
EER2 is known, tell it as `eer`: compressor kWh are then some 5 % high. SEER and SEER2 are seasons, not points, and say
nothing of 95 °F: find the EER in the product data.

How it is computed: [how-it-works.md](how-it-works.md#compressor-unit).
"""


def kept_weather(folder: Path) -> Weather:
    """The typical year of Sacramento, given a folder to unpack it in."""
    path = folder / SACRAMENTO
    path.write_bytes(gzip.decompress((KEPT / f"{SACRAMENTO}.gz").read_bytes()))
    return open_weather(str(path))


def compressors_page(weather: Weather) -> str:
    """The page, given the weather of its table."""
    rows = [_row(variant, estimate(make_case(variant.told, preset=variant.preset), weather)) for variant in VARIANTS]
    return INTRO + HEAD + "\n".join(rows) + "\n" + WHY


def _row(variant: Variant, answer: Estimate) -> str:
    energy = answer.energy
    break_even_f = convert(answer.break_even_differential_k, "difference", "F")
    cells = (
        variant.building, variant.compressor, f"{energy.compressor_kwh_without:,.0f}",
        f"{energy.compressor_kwh_avoided:,.0f}", f"{round(energy.fan_kwh_added):,}", f"{energy.net_kwh_saved:,.0f}",
        f"{energy.net_percent:.1f} %", f"{break_even_f:.1f} °F",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(compressors_page(kept_weather(Path(folder))), end="")
