"""A case: what a person tells about a building and its controls, complete, validated, in SI."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, Field, PrivateAttr, ValidationError, model_validator

from freecool.cases.faults import case_error, meant
from freecool.cases.fields import CaseField, fields_of, values_of
from freecool.cases.options import merged
from freecool.cases.presets import DEFAULT_PRESET, PRESETS
from freecool.cases.rules import CODE_RULE
from freecool.cases.sections import (
    NO_CONTROL,
    Building,
    DamperCase,
    FanCase,
    Gains,
    Humidity,
    Money,
    Part,
    Quote,
    RuleCase,
    Schedule,
    Sensors,
    SiteCase,
    UnitCase,
    Ventilation,
)
from freecool.cases.vocabulary import MONEY_UNITS, SECTIONS
from freecool.core.errors import CaseError, short
from freecool.core.units import CFM_M3_S, TON_W, System, format_quantity, format_rounded, with_currency


class Case(Part):
    """A building with its unit, fan, damper, rule and money, validated, in SI."""

    name: Annotated[str, Field(max_length=300, pattern=NO_CONTROL)] = Field(
        "", description="what to call it on the answer"
    )
    preset: str = Field(DEFAULT_PRESET, description="the building it started from")
    building: Building
    gains: Gains
    schedule: Schedule
    ventilation: Ventilation
    unit: UnitCase
    fan: FanCase
    damper: DamperCase = DamperCase()
    rule: RuleCase = RuleCase()
    humidity: Humidity = Humidity()
    sensors: Sensors = Sensors()
    money: Money = Money()
    site: SiteCase = SiteCase()
    quote: Quote = Quote()
    _units: System = PrivateAttr("ip")

    def model_post_init(self, context: Any) -> None:
        """Keep whose units the person who told the case reads.

        Parameters
        ----------
        context : dict or None
            As `make_case` gives it to validation.
        """
        self._units = (context or {}).get("units", "ip")

    def __eq__(self, other: object) -> bool:
        """Whether another tells the same building and controls, in whoever's units."""
        return isinstance(other, Case) and self.__dict__ == other.__dict__

    __hash__ = Part.__hash__

    @property
    def code_zone(self) -> str | None:
        """The climate zone in which the energy code's changeovers bind it; None without one, or where they do not."""
        return self.site.climate_zone if self.building.use == "commercial" else None

    @property
    def units(self) -> System:
        """Whose units sentences about it are in."""
        return self._units

    @model_validator(mode="after")
    def _fits(self) -> Case:
        per_ton = self.fan.flow / self.unit.capacity
        if not 130 <= per_ton / (CFM_M3_S / TON_W) <= 1000:
            raise ValueError(
                f"the fan moves {format_quantity(self.fan.flow, 'flow')} for "
                f"{format_quantity(self.unit.capacity, 'power')} of cooling: "
                "expected 130 to 1,000 cfm a ton; give {fan.flow} and {unit.capacity} that belong together"
            )
        return self

    def to_dict(self) -> dict[str, Any]:
        """The resolved case in SI.

        Returns
        -------
        dict
            Nested as a case file; each quantity's key ends in its unit.
        """
        return _with_units(self)

    def shown(self, units: System = "ip") -> list[tuple[str, list[tuple[str, str]]]]:
        """Every value that is set and that numbers rest on, given a unit system.

        Parameters
        ----------
        units : {"ip", "si"}
            For the texts.

        Returns
        -------
        list of tuple
            Of each table its title, and (label, text) of its values, as a person writes them.
        """
        groups = []
        for table, title in SECTIONS.items():
            fields = [field for field in case_fields().values() if field.table == table and table != "quote"]
            rows = [(field.label, text) for field in fields for text in shown_texts(self, field, units)]
            if rows:
                groups.append((title, rows))
        return groups


def case_fields() -> dict[str, CaseField]:
    """Every single value and list of a case.

    Returns
    -------
    dict
        A `CaseField` by dotted key, in the order of a case file.
    """
    return values_of(Case)


def shown_texts(case: Case, field: CaseField, units: System) -> list[str]:
    """A value as a person writes it, given its case, its field and a unit system.

    Parameters
    ----------
    case : Case
        Whose value.
    field : CaseField
        Which value.
    units : {"ip", "si"}
        For the text.

    Returns
    -------
    list of str
        One, none where it is not set; of a list a text an item.
    """
    value, currency = field.value(case), case.money.currency
    if value is None or value == "":
        return []
    if field.kind == "list":
        return [
            f"{each.months}, {each.days}, {each.hours} h: {with_currency(f'{each.price:g}', currency)} a kWh"
            for each in value
        ]
    if field.dimension:
        return [format_rounded(value, field.dimension, units)]
    if field.key in MONEY_UNITS:
        per = " a kWh" if MONEY_UNITS[field.key].endswith("/kWh") else ""
        return [with_currency(f"{value:,.10g}", currency) + per]
    if field.kind == "flag":
        return ["yes" if value else "no"]
    if field.kind == "number":
        return [f"{value:,.4g}"]
    # Of a whole table, its first line.
    first, more, _ = f"{value}".partition("\n")
    return [f"{first} …" if more else first]


def _with_units(part: BaseModel) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for field in fields_of(type(part)).values():
        value = getattr(part, field.name)
        if field.kind == "list":
            value = [_with_units(entry) for entry in value]
        elif field.kind == "section" and value is not None:
            value = _with_units(value)
        found[field.json_key] = value
    return found


def _start(preset: str, told: dict[str, Any]) -> dict[str, Any]:
    """What a preset says, given its name and what else is told: another glass brings its own window."""
    start = PRESETS[preset]
    building = told.get("building")
    if not isinstance(building, dict) or building.get("glass") in (None, start["building"]["glass"]):
        return start
    kept = {key: value for key, value in start["building"].items() if key not in ("window_u", "window_g")}
    return {**start, "building": kept}


def _with_rule(told: dict[str, Any]) -> dict[str, Any]:
    """What is told; of a commercial building in a zone and no rule, with one that the energy code lists there."""
    building, site, rule = (told.get(section) or {} for section in ("building", "site", "rule"))
    tables = all(isinstance(section, dict) for section in (building, site, rule))
    if not tables or building.get("use") != "commercial" or not site.get("climate_zone"):
        return told
    return told if {"name", "differential"} & set(rule) else {**told, "rule": {**rule, "name": CODE_RULE}}


def make_case(
    tables: dict[str, Any] | None = None,
    overrides: dict[str, Any] | None = None,
    *,
    preset: str | None = None,
    units: System = "ip",
    where: str = "case",
) -> Case:
    """A complete `Case`, given what a case file tells and what options override.

    Parameters
    ----------
    tables : dict, optional
        As a case file's; may name a preset.
    overrides : dict, optional
        As `tables`, and stronger.
    preset : str, optional
        Stronger than one that `tables` or `overrides` name.
    units : {"ip", "si"}
        Whose unit a bare number takes.
    where : str
        Where `tables` came from, for error messages; empty where a form shows them at their fields.

    Returns
    -------
    Case
        What overrides say, else tables, else the preset; without a rule or a differential a commercial building with a
        climate zone has the rule that the energy code lists there.

    Raises
    ------
    CaseError
        All faults in one message.
    """
    tables = dict(tables or {})
    overrides = dict(overrides or {})
    told = (preset, overrides.get("preset"), tables.get("preset"), DEFAULT_PRESET)
    named = next(name for name in told if name is not None)
    if not isinstance(named, str) or named not in PRESETS:
        raise CaseError(
            f"{where or 'form'}: {short(named)} is not a building preset{meant(str(named), PRESETS)}; "
            f"use {', '.join(PRESETS)}."
        )
    for key, value in tables.items():
        field = fields_of(Case).get(key)
        if field is not None and field.kind == "section" and not isinstance(value, dict):
            raise CaseError(f"{where}: {key} is {short(value)}, expected a table [{key}] of values.")
    data = _with_rule(merged(_start(str(named), merged(tables, overrides)), tables, overrides, {"preset": named}))
    try:
        return Case.model_validate(data, context={"units": units})
    except ValidationError as error:
        raise case_error(error, Case, where) from None
