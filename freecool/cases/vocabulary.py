"""One vocabulary: what people read, type and parse for the same thing.

The labels of a case's values stand here, and what is told beside the case: weather, and how a sweep goes about it.
Options that set a value of the case are in `freecool.cases.options`; units, bounds and sources in its classes.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class RunQuantity:
    """What is told beside the case, and its name at every door.

    Attributes
    ----------
    label : str
        On the page.
    option : str
        Of the command line.
    request : str
        Key of the JSON interface, and of a link; empty where it takes none.
    column : str
        Of a list of sites; empty where it takes none.
    answer : str
        Where a JSON answer tells it; empty where it does not.
    unit : str
        Empty for what has none.
    """

    label: str
    option: str
    request: str = ""
    column: str = ""
    answer: str = ""
    unit: str = ""


WEATHER_SCHEMES = ("demo", "station", "near")
"""Beginnings of the weather sources that are no files."""

RUN_QUANTITIES: dict[str, RunQuantity] = {
    "weather": RunQuantity(
        label="Weather", option="WEATHER", request="weather", column="weather", answer="weather.source"
    ),
    "years": RunQuantity(
        label="Years of a record of real years", option="--years", request="years", column="years",
        answer="weather.years",
    ),
    "latitude": RunQuantity(
        label="Latitude, north positive", option="--latitude", request="latitude", column="latitude",
        answer="weather.latitude", unit="degrees",
    ),
    "longitude": RunQuantity(
        label="Longitude, west negative", option="--longitude", request="longitude", column="longitude",
        answer="weather.longitude", unit="degrees",
    ),
    "elevation": RunQuantity(
        label="Elevation, such as 900ft", option="--elevation", request="elevation", column="elevation",
        answer="weather.elevation_m", unit="ft, m",
    ),
    "utc_offset": RunQuantity(
        label="Hours of standard time from UTC", option="--utc-offset", request="utc_offset", column="utc_offset",
        unit="h",
    ),
    "allow_gaps": RunQuantity(label="Fill gaps longer than 48 h too", option="--allow-gaps", request="allow_gaps"),
    "units": RunQuantity(label="Units", option="--units", request="units"),
    "from": RunQuantity(
        label="Smallest differential tried", option="--from", request="from", answer="candidates.differential_k",
        unit="F, K",
    ),
    "to": RunQuantity(
        label="Largest differential tried", option="--to", request="to", answer="candidates.differential_k", unit="F, K"
    ),
    "step": RunQuantity(label="Step between them", option="--step", request="step", unit="F, K"),
    "draws": RunQuantity(label="Sensor errors drawn", option="--draws", request="draws", answer="inputs.draws"),
    "seed": RunQuantity(label="Seed of the draw", option="--seed", request="seed", answer="inputs.seed"),
    "humidity_ceiling": RunQuantity(
        label="Most added hours above 60 % RH indoors", option="--humidity-ceiling", request="humidity_ceiling",
        answer="inputs.humidity_ceiling_hours", unit="h/year",
    ),
    "outdoor": RunQuantity(label="Outdoor air on the day", option="--outdoor", request="outdoor", unit="F, C"),
    "return": RunQuantity(label="Return air on the day", option="--return", request="return", unit="F, C"),
}  # fmt: skip
"""What is told beside the case, by its name in a link."""

LABELS: dict[str, str] = {
    "building.floor_area": "Floor area",
    "schedule.cooling": "Cooling set point",
    "rule.differential": "Differential",
    "fan.flow": "Supply air flow",
    "fan.power": "Fan power",
    "unit.capacity": "Cooling capacity",
    "unit.eer": "Unit efficiency",
    "money.price": "Electricity price",
    "money.installed_cost": "Installed cost",
    "name": "Name on the answer",
    "preset": "Building",
    "building.use": "Use",
    "building.construction": "Construction",
    "building.ground": "Under the lowest floor",
    "building.edge_insulation": "Edge insulation of the slab",
    "building.soil": "Ground",
    "building.inside_faces": "All faces inside, times the floor",
    "building.ceiling_height": "Ceiling height",
    "building.long_side_azimuth": "Direction of a long side",
    "building.glass": "Glass",
    "building.window_u": "Window U-factor",
    "building.window_g": "Window solar heat gain coefficient",
    "building.infiltration_ach": "Leakage, air changes an hour",
    "building.windows": "Do people open windows on cool evenings?",
    "building.windows_open_ach": "Open windows, air changes an hour",
    "gains.occupied": "Heat while occupied",
    "gains.unoccupied": "Heat while unoccupied",
    "gains.moisture": "Water while occupied",
    "gains.moisture_unoccupied": "Water while unoccupied",
    "schedule.occupied_hours": "Occupied hours",
    "schedule.occupied_days": "Occupied days",
    "schedule.time_zone": "Clock that people follow",
    "ventilation.flow": "Outdoor air while occupied",
    "unit.sensible_heat_ratio": "Sensible share at 95 °F outdoors",
    "unit.mild_capacity": "Capacity at 82 °F outdoors",
    "unit.mild_eer": "Efficiency at 82 °F outdoors",
    "unit.compressor": "Compressor",
    "unit.low_capacity": "Capacity of the low stage",
    "unit.low_eer": "Efficiency of the low stage",
    "unit.middle_capacity": "Capacity of a middle speed",
    "unit.middle_eer": "Efficiency of a middle speed",
    "unit.low_flow": "Share of full flow at the low stage",
    "unit.map": "Performance map",
    "unit.beyond_map": "Beyond the map",
    "unit.re_evaporation": "Re-evaporation from the coil",
    "unit.drip_time": "Time until the coil drips [s]",
    "unit.evaporation_ratio": "First evaporation over latent capacity",
    "unit.cycling_rate": "Highest cycling rate [1/h]",
    "unit.start_time": "Time constant of latent capacity [s]",
    "fan.mode": "Mode",
    "fan.variable": "Variable speed",
    "damper.minimum_share": "Minimum outdoor share of supply",
    "damper.relief_fan": "Relief fan power",
    "damper.precool": "Precool below set point",
    "damper.second_stage_offset": "Second stage above set point",
    "rule.name": "Rule",
    "humidity.capacity_multiplier": "Moisture capacity multiplier",
    "humidity.caution_dew_point": "Caution dew point outdoors",
    "sensors.dry_bulb_error": "Dry-bulb sensor, plus or minus",
    "sensors.humidity_error_percent": "Humidity sensor, plus or minus",
    "sensors.humidity_sensor_cost": "Extra cost of reading humidity",
    "sensors.humidity_sensor_years": "Years between sensor replacements",
    "money.tariff": "Prices by time",
    "money.emission_factor": "CO2 of electricity, kg per kWh",
    "money.currency": "Currency",
    "money.discount_rate": "Discount rate, as a fraction",
    "money.escalation": "Yearly rise of prices, as a fraction",
    "money.least_saving": "Least saving a year that is worth it",
    "money.fuel_price": "Heating fuel price",
    "money.fuel_efficiency": "Heat out over fuel in",
    "site.climate_zone": "Climate zone",
    "quote.name": "Your name",
    "quote.address": "Your address",
    "quote.logo": "Your logo",
    "quote.customer": "Customer",
    "quote.number": "Number of the quote",
    "quote.date": "Date of the quote",
}
"""Names of a case's values on the form and in words, where the description of the value does not make one."""

MONEY_UNITS: dict[str, str] = {
    "money.price": "money/kWh",
    "money.fuel_price": "money/kWh",
    "money.installed_cost": "money",
    "money.upkeep": "money",
    "money.least_saving": "money",
    "sensors.humidity_sensor_cost": "money",
}
"""What is told in the case's currency, and by what."""

SECTIONS: dict[str, str] = {
    "": "Name",
    "building": "Building",
    "gains": "People and things inside",
    "schedule": "Hours and set points",
    "ventilation": "Fresh air",
    "unit": "Cooling unit",
    "fan": "Fan",
    "damper": "Damper",
    "rule": "Rule",
    "humidity": "Humidity",
    "sensors": "Sensors",
    "money": "Money",
    "site": "Place",
    "quote": "Quote",
}
"""What the tables of a case are called, in the order in which they are shown."""
