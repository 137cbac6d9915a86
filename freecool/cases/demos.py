"""Three invented jobs to try: a building with something to decide, for each of the three who ask."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Demo:
    """An invented building in an invented climate.

    Attributes
    ----------
    words : str
        What it is.
    weather : str
        As `freecool.open_weather` takes it.
    case : dict
        As `freecool.make_case` takes it.
    """

    words: str
    weather: str
    case: dict[str, Any]


DEMOS: dict[str, Demo] = {
    "house": Demo(
        words="an invented house of an older unit, with people at home all day",
        weather="demo:high-desert",
        case={
            "name": "Alder Court 3 (invented)",
            "preset": "detached-house-light",
            "building": {"infiltration_ach": 0.25},
            "gains": {"occupied": "8 W/m2", "unoccupied": "6 W/m2"},
            "unit": {"eer": "9 Btu/Wh"},
            "money": {"price": 0.22, "installed_cost": 450},
        },
    ),
    "office": Demo(
        words="an invented office where summers are warm and damp",
        weather="demo:mixed-inland",
        case={
            "name": "Tern Street Library (invented)",
            "preset": "small-office",
            "money": {"price": 0.17, "installed_cost": 900},
            "site": {"climate_zone": "5A"},
        },
    ),
    "equipment-room": Demo(
        words="an invented room of telephone racks, warm all year",
        weather="demo:mixed-inland",
        case={
            "name": "Oxbow telephone hut (invented)",
            "preset": "equipment-room",
            "money": {"price": 0.17, "installed_cost": 1900},
        },
    ),
}
"""By name; what is not told is the preset's."""
DEFAULT_DEMO = "house"
