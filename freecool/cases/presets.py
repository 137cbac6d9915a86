"""Buildings to start from, and where each of their numbers comes from.

Written in the language of a case file, so every value can be overridden there.
"""

from __future__ import annotations

from typing import Any, Literal

DEFAULT_PRESET = "detached-house-medium"

PRACTICE = "common practice, no source"
HENDERSON = "model of Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996; default in common use, from memory"

# Each construction: resistance [m2K/W] and areal heat capacity [J/m2K] of wall, roof and floor, and of half of what is
# inside (partitions, floors between storeys), as sums of layers, and the ISO 52016-1 class that says where it sits.
CONSTRUCTIONS: dict[str, dict[str, dict[str, Any]]] = {
    "light": {  # timber frame, insulated cavity, boards both sides; suspended timber floor over a crawl space
        "wall": {"resistance": 2.3, "capacity": 17_000.0, "mass": "D"},
        "roof": {"resistance": 5.3, "capacity": 18_000.0, "mass": "IE"},
        "floor": {"resistance": 3.3, "capacity": 19_500.0, "mass": "I", "boundary": "air"},
        "inside": {"resistance": 0.1, "capacity": 12_000.0, "mass": "I"},  # boards on studs and joists
    },
    "medium": {  # brick veneer on insulated frame; covered concrete slab on ground
        "wall": {"resistance": 2.3, "capacity": 90_000.0, "mass": "D"},
        "roof": {"resistance": 5.3, "capacity": 18_000.0, "mass": "IE"},
        "floor": {"resistance": 0.2, "capacity": 180_000.0, "mass": "I", "boundary": "ground"},
        "inside": {"resistance": 0.1, "capacity": 12_000.0, "mass": "I"},  # boards on studs and joists
    },
    "heavy": {  # block inside, insulation outside; slab on ground; concrete ceiling under insulation
        "wall": {"resistance": 2.3, "capacity": 160_000.0, "mass": "I"},
        "roof": {"resistance": 5.3, "capacity": 160_000.0, "mass": "I"},
        "floor": {"resistance": 0.2, "capacity": 220_000.0, "mass": "I", "boundary": "ground"},
        "inside": {"resistance": 0.05, "capacity": 70_000.0, "mass": "I"},  # plastered block of 4 in
    },
}
GROUND: dict[str, Literal["slab", "suspended"]] = {"light": "suspended", "medium": "slab", "heavy": "slab"}
"""What is under the lowest floor of each construction, unless a case tells it."""

# Each kind of glass as a whole window, frame and all.
GLASS: dict[str, dict[str, Any]] = {
    "single": {"window_u": "0.95 Btu/hft2F", "window_g": 0.64},
    "clear-double": {"window_u": "0.55 Btu/hft2F", "window_g": 0.56},
    "low-e-double": {"window_u": "0.35 Btu/hft2F", "window_g": 0.40},
    "triple": {"window_u": "0.25 Btu/hft2F", "window_g": 0.30},
}

WINDOWS: dict[str, float] = {"never": 0.0, "some": 1.0, "always": 3.0}
"""Air changes an hour through open windows by people's habit; common practice, no source: 3 with windows open on two
sides, 1 with few of them open or on some evenings only."""

_HOUSE: dict[str, Any] = {
    "building": {
        "use": "dwelling",
        "floor_area": "1800 ft2",
        "storeys": 2,
        "ceiling_height": "8 ft",
        "aspect": 1.5,
        "long_side_azimuth": 180.0,
        "glazing": {"north": 0.12, "east": 0.12, "south": 0.18, "west": 0.12},
        "glass": "low-e-double",
        "shading": 0.7,
        "inside_faces": 4.5,
        "infiltration_ach": 0.35,
        "windows": "never",
    },
    "gains": {
        "occupied": "0.45 W/ft2",
        "unoccupied": "0.45 W/ft2",
        "moisture": "8 kg/day",
        "moisture_unoccupied": "8 kg/day",
    },
    "schedule": {"occupied_hours": "0-24", "occupied_days": "mon-sun", "cooling": "75F", "heating": "68F"},
    "ventilation": {"flow": "0 cfm/ft2"},
    "unit": {"capacity": "3 ton", "eer": "12 Btu/Wh", "sensible_heat_ratio": 0.75, "degradation": 0.15},
    "fan": {"flow": "1200 cfm", "power": "0.365 W/cfm", "mode": "auto"},
    "damper": {"outdoor_share": 0.85},
}

# The medium house with other compressors; the full stage and the flow are those of the single-speed one.
_STAGED: dict[str, dict[str, Any]] = {
    "two-stage": {
        "unit": {"compressor": "two-stage", "low_capacity": "2.16 ton", "low_eer": "13.2 Btu/Wh", "low_flow": 0.86},
        "fan": {"variable": True},
    },
    "variable-speed": {
        "unit": {
            "compressor": "variable-speed",
            "low_capacity": "1.08 ton",
            "low_eer": "16.5 Btu/Wh",
            "middle_capacity": "1.8 ton",
            "middle_eer": "15 Btu/Wh",
            "low_flow": 0.42,
        },
        "fan": {"variable": True},
    },
}

_HOUSES: dict[str, dict[str, Any]] = {
    f"detached-house-{weight}": {**_HOUSE, "building": {**_HOUSE["building"], "construction": weight}}
    for weight in CONSTRUCTIONS
}
_HOUSES |= {
    f"detached-house-{kind}": {
        **_HOUSES["detached-house-medium"],
        "unit": {**_HOUSE["unit"], **told["unit"]},
        "fan": {**_HOUSE["fan"], **told["fan"]},
    }
    for kind, told in _STAGED.items()
}

PRESETS: dict[str, dict[str, Any]] = _HOUSES | {
    "small-office": {
        "building": {
            "use": "commercial",
            "floor_area": "5000 ft2",
            "storeys": 1,
            "ceiling_height": "10 ft",
            "aspect": 1.5,
            "long_side_azimuth": 180.0,
            "glazing": {"north": 0.2, "east": 0.2, "south": 0.25, "west": 0.2},
            "glass": "low-e-double",
            "window_u": "0.45 Btu/hft2F",
            "window_g": 0.38,
            "shading": 0.8,
            "construction": "medium",
            "inside_faces": 4.5,
            "infiltration_ach": 0.2,
            "windows": "never",
        },
        "gains": {
            "occupied": "1.8 W/ft2",
            "unoccupied": "0.3 W/ft2",
            "moisture": "30 kg/day",
            "moisture_unoccupied": "0 kg/day",
        },
        "schedule": {
            "occupied_hours": "7-18",
            "occupied_days": "mon-fri",
            "cooling": "75F",
            "heating": "70F",
            "cooling_unoccupied": "82F",
            "heating_unoccupied": "62F",
        },
        "ventilation": {"flow": "0.085 cfm/ft2"},
        "unit": {"capacity": "12.5 ton", "eer": "11.2 Btu/Wh", "sensible_heat_ratio": 0.75, "degradation": 0.15},
        "fan": {"flow": "5000 cfm", "power": "0.45 W/cfm", "mode": "continuous"},
        "damper": {"outdoor_share": 0.9},
    },
    "shop": {
        "building": {
            "use": "commercial",
            "floor_area": "3000 ft2",
            "storeys": 1,
            "ceiling_height": "12 ft",
            "aspect": 1.5,
            "long_side_azimuth": 180.0,
            "glazing": {"north": 0.0, "east": 0.05, "south": 0.45, "west": 0.05},
            "glass": "low-e-double",
            "window_u": "0.45 Btu/hft2F",
            "window_g": 0.38,
            "shading": 0.7,
            "construction": "medium",
            "inside_faces": 3.5,
            "infiltration_ach": 0.3,
            "windows": "never",
        },
        "gains": {
            "occupied": "2.2 W/ft2",
            "unoccupied": "0.3 W/ft2",
            "moisture": "40 kg/day",
            "moisture_unoccupied": "0 kg/day",
        },
        "schedule": {
            "occupied_hours": "9-21",
            "occupied_days": "mon-sun",
            "cooling": "75F",
            "heating": "68F",
            "cooling_unoccupied": "82F",
            "heating_unoccupied": "60F",
        },
        "ventilation": {"flow": "0.23 cfm/ft2"},
        "unit": {"capacity": "10 ton", "eer": "11.2 Btu/Wh", "sensible_heat_ratio": 0.75, "degradation": 0.15},
        "fan": {"flow": "4000 cfm", "power": "0.45 W/cfm", "mode": "continuous"},
        "damper": {"outdoor_share": 0.9},
    },
    "equipment-room": {
        "building": {
            "use": "equipment",
            "floor_area": "300 ft2",
            "storeys": 1,
            "ceiling_height": "9 ft",
            "aspect": 1.0,
            "long_side_azimuth": 180.0,
            "glazing": {"north": 0.0, "east": 0.0, "south": 0.0, "west": 0.0},
            "glass": "low-e-double",
            "window_u": "0.45 Btu/hft2F",
            "window_g": 0.38,
            "shading": 1.0,
            "construction": "medium",
            "inside_faces": 4.5,
            "infiltration_ach": 0.1,
            "windows": "never",
        },
        "gains": {
            "occupied": "15 W/ft2",
            "unoccupied": "15 W/ft2",
            "moisture": "0 kg/day",
            "moisture_unoccupied": "0 kg/day",
        },
        "schedule": {"occupied_hours": "0-24", "occupied_days": "mon-sun", "cooling": "75F", "heating": "55F"},
        "ventilation": {"flow": "0 cfm/ft2"},
        "unit": {"capacity": "2 ton", "eer": "12 Btu/Wh", "sensible_heat_ratio": 0.78, "degradation": 0.15},
        "fan": {"flow": "800 cfm", "power": "0.365 W/cfm", "mode": "auto"},
        "damper": {"outdoor_share": 0.9},
    },
}

# Where the numbers come from, by case key; shown in docs/case-file.md.
SOURCES: dict[str, str] = {
    "building.floor_area": PRACTICE,
    "building.storeys": PRACTICE,
    "building.ceiling_height": PRACTICE,
    "building.aspect": PRACTICE,
    "building.glazing": "house: about 15 % of wall, common practice, no source; shop: one glazed front, same",
    "building.glass": "what is put in today; common practice, no source",
    "building.window_u": "by glass: single and clear double IECC 2021 table R303.1.3(1), frames not of metal; low-e "
    "double near its table R402.1.3 for mixed climates (all from memory); triple common practice, no source. Office, "
    "shop and equipment room: low-e double in metal frames, common practice, no source",
    "building.window_g": "by glass: single and clear double ASHRAE Fundamentals (2017) ch. 15 table 10, operable, "
    "frames not of metal; low-e double near IECC 2021 table R402.1.3, SHGC 0.40 (all from memory); triple common "
    "practice, no source",
    "building.shading": "curtains, eaves and trees together; common practice, no source "
    "(ANSI/RESNET/ICC 301 uses 0.70 in summer, from memory)",
    "building.ground": "common practice, no source",
    "building.edge_insulation": "slabs of the standing stock have none; common practice, no source. IECC 2021 asks "
    "for 10 hft2F/Btu from zone 4 on (from memory)",
    "building.soil": "sand or gravel, to be taken where the ground is not known: ISO 13370:2017 (from memory)",
    "building.inside_faces": "ISO 13790:2008 7.2.2: 4.5; open floors of shops 3.5, common practice, no source",
    "building.construction": "sums of layers, listed at the end of docs/case-file.md; common practice, no source",
    "building.infiltration_ach": PRACTICE,
    "building.windows": "never: windows stay shut where people cool by machine; common practice, no source. Where "
    "people do open them on cool evenings the damper is worth less: tell it",
    "building.windows_open_ach": "by habit: never 0, some 1, always 3, windows open on two sides; common practice, no "
    "source",
    "gains.occupied": "house: near ANSI/RESNET/ICC 301 (from memory); office and shop: lights, plugs and people by "
    "common practice, no source",
    "gains.moisture": "house: below the design values of ASHRAE 160-2009 table 4.3.2 (12 to 15 kg/day, from memory), "
    "as an average day; others: people only, common practice, no source",
    "schedule.cooling": PRACTICE,
    "schedule.heating": PRACTICE,
    "ventilation.flow": "ASHRAE 62.1 table 6-1: office 5 cfm a person and 0.06 cfm/ft2 at 5 people, shop 7.5 and 0.12 "
    "at 15 people a 1,000 ft2 (from memory); house: none beyond infiltration",
    "unit.capacity": "400 to 600 ft2 a ton; common practice, no source",
    "unit.eer": "near the federal minimum of recent years (from memory)",
    "unit.sensible_heat_ratio": PRACTICE,
    "unit.degradation": "common practice for a modern unit, no source; AHRI 210/240 default is 0.25 or 0.20",
    "unit.low_capacity": "two-stage 0.72, variable-speed 0.36 of the full stage's: NREL/TP-5500-56354 (from memory)",
    "unit.low_eer": "10 % and 38 % above the full stage's; common practice, no source",
    "unit.middle_capacity": PRACTICE,
    "unit.middle_eer": PRACTICE,
    "unit.re_evaporation": HENDERSON,
    "unit.drip_time": HENDERSON,
    "unit.evaporation_ratio": HENDERSON,
    "unit.cycling_rate": HENDERSON,
    "unit.start_time": HENDERSON,
    "unit.low_flow": "two-stage 0.86, variable-speed 0.42: NREL/TP-5500-56354 (from memory)",
    "fan.flow": "400 cfm a ton; common practice, no source",
    "fan.power": "AHRI 210/240 default 365 W/1000 cfm; commercial 0.45 W/cfm common practice, no source",
    "damper.outdoor_share": "a damper and duct fitted to a unit seldom bring all: house 0.85, office, shop and "
    "equipment room 0.9; common practice, no source. The readings of the commissioning sheet tell it",
    "damper.leakage": "0: shuts tight; common practice, no source",
    "damper.minimum_share": "0: outdoor air as ventilation.flow tells it; common practice, no source",
    "damper.relief_fan": "0: a barometric relief damper or the building's leaks let the air out; common practice, no "
    "source",
    "damper.mixed_air_minimum": "50 degF; common practice, no source",
    "rule.differential": "5 degF below set point; common practice, no source",
    "humidity.capacity_multiplier": "10 to 25 in building simulation practice; 15, common practice, no source",
    "humidity.caution_dew_point": "60 degF, the indoor limit of ASHRAE 62.1-2022 5.12",
    "sensors.dry_bulb_error": "ASHRAE 90.1 and California Title 24 acceptance, 2 degF (from memory)",
    "sensors.humidity_error_percent": "ASHRAE 90.1 and California Title 24 acceptance, 5 % RH (from memory)",
    "sensors.humidity_sensor_years": "common practice, no source",
    "money.price": "an example, not a fact: give your own",
    "money.least_saving": "our own: less does not pay for looking after a damper",
    "money.fuel_price": "none given: the heat that free cooling adds is then counted in kWh and left out of the money",
}
