"""The fields of a case as a form shows them: label, unit, choices, default and source, from the case's own classes."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from functools import cache
from typing import Any, Literal, NamedTuple, get_args, get_origin

from freecool.cases.model import Case, Part, TariffPeriod, make_case
from freecool.cases.presets import SOURCES
from freecool.cases.quantity import Quantity
from freecool.core.units import DIMENSIONS, System, convert, format_quantity

Kind = Literal["quantity", "number", "choice", "text", "tariff"]

# The few numbers that matter, in the order of a quote.
FIRST = {
    "building.floor_area": "Floor area",
    "schedule.cooling": "Cooling set point",
    "rule.differential": "Differential",
    "fan.flow": "Air flow",
    "fan.power": "Fan power",
    "unit.capacity": "Unit size",
    "unit.eer": "Unit efficiency",
    "money.price": "Electricity price",
    "money.installed_cost": "Installed cost",
}
# Where the class's own words lean on their neighbours.
LABELS = {
    "name": "Name on the answer",
    "building.use": "Use",
    "building.construction": "Construction",
    "building.ceiling_height": "Ceiling height",
    "building.long_side_azimuth": "Direction of a long side",
    "building.window_g": "Window solar heat gain coefficient",
    "building.infiltration_ach": "Leakage, air changes an hour",
    "building.windows_open_ach": "Open windows, air changes an hour",
    "gains.occupied": "Heat while occupied",
    "gains.unoccupied": "Heat while unoccupied",
    "gains.moisture": "Water while occupied",
    "gains.moisture_unoccupied": "Water while unoccupied",
    "schedule.occupied_hours": "Occupied hours",
    "schedule.occupied_days": "Occupied days",
    "ventilation.flow": "Outdoor air while occupied",
    "unit.sensible_heat_ratio": "Sensible share at 95 °F outdoors",
    "unit.mild_capacity": "Capacity at 82 °F outdoors",
    "unit.mild_eer": "Efficiency at 82 °F outdoors",
    "fan.mode": "Mode",
    "fan.variable": "Variable speed",
    "damper.precool": "Precool below set point",
    "damper.second_stage_offset": "Second stage above set point",
    "rule.name": "Name of the rule",
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
    "money.fuel_price": "Heating fuel",
    "money.fuel_efficiency": "Heat out over fuel in",
    "site.climate_zone": "Climate zone",
}
SECTIONS = {
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
}
# Digits that a form shows; what is left as shown keeps its exact value, see `question.read_link`.
SHOWN_DIGITS = 5


class Field(NamedTuple):
    """One value of a case."""

    key: str
    label: str
    words: str
    kind: Kind
    dimension: str | None
    choices: tuple[str, ...]
    source: str

    @property
    def section(self) -> str:
        """The table of the case file it stands in, empty at the top level."""
        return self.key.rpartition(".")[0].partition(".")[0]

    def value(self, case: Case) -> Any:
        """Its value in a case; None where a part is left out."""
        found: Any = case
        for piece in self.key.split("."):
            found = getattr(found, piece, None)
        return found

    def text(self, case: Case, units: System) -> str:
        """Its value in a case as an input shows it, without a unit."""
        value = self.value(case)
        if value is None:
            return ""
        if self.kind == "tariff":
            return "\n".join(f"{period.months} {period.days} {period.hours} {period.price:g}" for period in value)
        if isinstance(value, bool):
            return "true" if value else "false"
        if self.dimension is None:
            return f"{value:.10g}" if isinstance(value, float) else str(value)
        digits = float(f"{convert(value, self.dimension, self.unit(units)):.{SHOWN_DIGITS}g}")
        return f"{digits:.10f}".rstrip("0").rstrip(".")

    def unit(self, units: System) -> str:
        """The unit of a bare number, as the case reads it."""
        if self.dimension is None:
            return ""
        kind = DIMENSIONS[self.dimension]
        return kind.ip if units == "ip" else kind.si

    def shown_unit(self, case: Case, units: System) -> str:
        """The unit as it stands beside the input."""
        if self.dimension is not None:
            return format_quantity(0.0, self.dimension, units).partition(" ")[2]
        if self.key in ("money.price", "money.fuel_price"):
            return f"{case.money.currency}/kWh"
        return case.money.currency if self.key in ("money.installed_cost", "money.upkeep") else ""


@cache
def case_fields() -> dict[str, Field]:
    """Every field of a case by its key, in the order of its classes; the preset itself apart."""
    return {field.key: field for field in _fields(Case, "") if field.key != "preset"}


@cache
def preset_case(preset: str) -> Case:
    """The case that a preset alone makes."""
    return make_case(preset=preset)


def _fields(part: type[Part], place: str) -> Iterator[Field]:
    for name, info in part.model_fields.items():
        key = f"{place}{name}"
        pieces = [*_pieces(info.annotation), *info.metadata]
        inner = next((p for p in pieces if inspect.isclass(p) and issubclass(p, Part)), None)
        if inner is not None and inner is not TariffPeriod:
            yield from _fields(inner, f"{key}.")
            continue
        quantity = next((p for p in pieces if isinstance(p, Quantity)), None)
        choices: tuple[str, ...] = next((get_args(p) for p in pieces if get_origin(p) is Literal), ())
        kind: Kind = "text"
        if inner is TariffPeriod:
            kind = "tariff"
        elif bool in pieces:
            kind, choices = "choice", ("true", "false")
        elif choices:
            kind = "choice"
        elif quantity is not None:
            kind = "quantity"
        elif float in pieces or int in pieces:
            kind = "number"
        words = (info.description or f"window share of the facade facing {name}").replace("`", "")
        if place in ("building.wall.", "building.roof.", "building.floor."):
            words = f"own {place.split('.')[1]}: {words}"
        source = SOURCES.get(key, SOURCES.get(place.rstrip("."), ""))
        dimension = quantity.dimension if quantity is not None else None
        label = FIRST.get(key) or LABELS.get(key) or words[0].upper() + words[1:]
        yield Field(key, label, words, kind, dimension, choices, source)


def _pieces(annotation: Any) -> Iterator[Any]:
    """An annotation and everything that it is made of."""
    yield annotation
    if get_origin(annotation) is not Literal:
        for argument in (*get_args(annotation), *getattr(annotation, "__metadata__", ())):
            yield from _pieces(argument)


def case_changes_schema() -> dict[str, Any]:
    """JSON schema of what may be changed in a case: the tables of a case file, every key optional."""
    schema: dict[str, Any] = {
        "type": "object", "additionalProperties": False, "properties": {},
        "description": "What differs from the preset, as the tables of a case file; see docs/case-file.md.",
    }  # fmt: skip
    for field in case_fields().values():
        *tables, name = field.key.split(".")
        place = schema
        for table in tables:
            place = place["properties"].setdefault(
                table, {"type": "object", "additionalProperties": False, "properties": {}}
            )
        place["properties"][name] = {**_schema_of(field), "description": field.words}
    return schema


def _schema_of(field: Field) -> dict[str, Any]:
    if field.kind == "quantity":
        kinds = [{"type": kind} for kind in ("string", "number", "null")]
        return {"anyOf": kinds, "examples": [f"1 {field.unit('ip')}"]}
    if field.kind == "number":
        return {"type": ["number", "null"]}
    if field.choices == ("true", "false"):
        return {"type": "boolean"}
    if field.kind == "choice":
        return {"anyOf": [{"type": "string", "enum": list(field.choices)}, {"type": "null"}]}
    if field.kind == "tariff":
        return {"type": "array", "maxItems": 100, "items": {"type": "object"}}
    return {"type": "string"}
