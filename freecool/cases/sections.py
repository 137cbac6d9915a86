"""The sections of a case, each validated and in SI, with its defaults."""

from __future__ import annotations

import datetime
import itertools
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator, model_validator
from pydantic_core import PydanticCustomError

from freecool.cases.fields import fields_of
from freecool.cases.logo import MOST_TEXT, redrawn
from freecool.cases.presets import CONSTRUCTIONS, GLASS, GROUND, WINDOWS
from freecool.cases.quantity import Quantity, read_span
from freecool.cases.rules import RULES
from freecool.cases.unit_map import nameplate_of, unit_map_of
from freecool.core.errors import CaseError, short
from freecool.core.units import format_quantity, parse

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
# Places where ASHRAE 169 has a zone: 0A ... 8, with moisture letters up to zone 6.
CLIMATE_ZONES = (
    "0A", "0B", "1A", "1B", "2A", "2B", "3A", "3B", "3C", "4A", "4B", "4C", "5A", "5B", "5C", "6A", "6B", "7", "8",
)  # fmt: skip


# What a control is set to, our own bounds: none of a usual limit in °C is one in °F, nor the other way.
HighLimit = Annotated[float, Quantity("temperature", "40F", "100F")]
LowLimit = Annotated[float, Quantity("temperature", "-40F", "70F")]
DewPointLimit = Annotated[float, Quantity("temperature", "30F", "75F")]
Lockout = Annotated[float, Quantity("temperature", "-20F", "75F")]
Span = Annotated[str, Field(max_length=200)]
MOST_PERIODS = 300
"""Of a tariff: each hour of a day in each month; our own bound."""
NO_CONTROL = r"^[^\x00-\x1f\x7f-\x9f]*$"
SetPoint = Annotated[float, Quantity("temperature", "10C", "35C")]
Ground = Literal["slab", "suspended", "basement", "outdoors", "indoors"]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Part(BaseModel):
    """A base for the sections of a case: frozen, a wrong key is an error, and a truth is no number."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    @field_validator("*", mode="before")
    @classmethod
    def _no_truth_for_a_number(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, bool) and fields_of(cls)[str(info.field_name)].kind in ("number", "integer"):
            raise PydanticCustomError("number", "no number")
        return value


class Layers(Part):
    """An opaque part as its layers' sums."""

    resistance: Annotated[float, Field(gt=0.01, le=60.0, description="sum of the layers, films apart [m2K/W]")]
    capacity: Annotated[float, Field(ge=1000.0, le=2e6, description="sum of the layers [J/m2K]")]
    mass: Literal["I", "E", "IE", "D", "M"] = Field(description="where the capacity sits, ISO 52016-1 table B.11")
    boundary: Literal["air", "ground"] = Field("air", description="what is outside it")


class Glazing(Part):
    """Share of each facade that is window."""

    north: Annotated[float, Field(ge=0, le=0.95)] = Field(description="window share of the facade facing north")
    east: Annotated[float, Field(ge=0, le=0.95)] = Field(description="window share of the facade facing east")
    south: Annotated[float, Field(ge=0, le=0.95)] = Field(description="window share of the facade facing south")
    west: Annotated[float, Field(ge=0, le=0.95)] = Field(description="window share of the facade facing west")


class Building(Part):
    """Envelope."""

    use: Literal["dwelling", "commercial", "equipment"] = Field(description="decides which code cautions apply")
    floor_area: Annotated[float, Quantity("area", "50ft2", "500000ft2")] = Field(description="conditioned floor area")
    storeys: Annotated[int, Field(ge=1, le=20)] = Field(description="storeys")
    ceiling_height: Annotated[float, Quantity("length", "6ft", "40ft")] = Field(description="floor to ceiling")
    aspect: Annotated[float, Field(ge=1, le=10)] = Field(description="length of the plan over its width")
    long_side_azimuth: Annotated[float, Field(ge=0, lt=360)] = Field(
        description="which way a long side faces, degrees clockwise from north"
    )
    glazing: Glazing = Field(description="share of window by facade; turned with the building")
    glass: Literal[tuple(GLASS)] = Field(  # type: ignore[valid-type]
        description="kind of glass: how sun comes through by angle, and window_u and window_g where they are not told"
    )
    window_u: Annotated[float, Quantity("transmittance", "0.3W/m2K", "7W/m2K")] = Field(
        description="window transmittance"
    )
    window_g: Share = Field(description="window solar heat gain coefficient at normal incidence")
    shading: Share = Field(description="share of the sun that shading lets pass")
    construction: Literal["light", "medium", "heavy"] = Field(description="layers of wall, roof and floor")
    wall: Layers | None = Field(None, description="own layers in place of the construction's")
    roof: Layers | None = Field(None, description="own layers in place of the construction's")
    floor: Layers | None = Field(None, description="own layers in place of the construction's")
    ground: Ground | None = Field(
        None,
        description="what is under the lowest floor: a slab on the ground, a crawl space (suspended), an unheated "
        "basement, outdoor air, or heated and cooled rooms (indoors); without it a crawl space under light "
        "construction, else a slab",
    )
    edge_insulation: Annotated[float, Quantity("resistance", "0m2K/W", "10m2K/W")] = Field(
        "0hft2F/Btu", validate_default=True, description="insulation around the edge of a slab, 2 ft deep"
    )
    soil: Literal["clay", "sand", "rock"] = Field("sand", description="the ground: clay or silt, sand or gravel, rock")
    inside_faces: Annotated[float, Field(ge=0, le=12)] = Field(
        description="area of all faces that the air inside touches, partitions and floors between storeys too, by "
        "floor area; 0 is an empty box"
    )
    infiltration_ach: Annotated[float, Field(ge=0, le=10)] = Field(description="leakage, air changes an hour")
    windows: Literal[tuple(WINDOWS)] = Field(  # type: ignore[valid-type]
        description="whether people open windows on cool evenings; tells windows_open_ach where it is not told"
    )
    windows_open_ach: Annotated[float, Field(ge=0, le=30)] = Field(
        description="air changes an hour that open windows bring when it is warm inside and cooler outside"
    )

    @model_validator(mode="before")
    @classmethod
    def _window(cls, told: Any) -> Any:
        """What is told, and of the window what its glass tells."""
        glass = told.get("glass") if isinstance(told, dict) else None
        return {**GLASS[glass], **told} if isinstance(glass, str) and glass in GLASS else told

    @model_validator(mode="before")
    @classmethod
    def _habit(cls, told: Any) -> Any:
        """What is told, and of open windows what people's habit tells."""
        if not isinstance(told, dict) or told.get("windows_open_ach") is not None:
            return told
        habit = told.get("windows")
        return {**told, "windows_open_ach": WINDOWS[habit]} if isinstance(habit, str) and habit in WINDOWS else told


class Gains(Part):
    """Heat and water that people and things give off."""

    occupied: Annotated[float, Quantity("power_density", "0W/m2", "2000W/m2")] = Field(
        description="heat while occupied"
    )
    unoccupied: Annotated[float, Quantity("power_density", "0W/m2", "2000W/m2")] = Field(description="heat otherwise")
    moisture: Annotated[float, Quantity("moisture_rate", "0kg/day", "2000kg/day")] = Field(
        description="water while occupied, as a daily rate"
    )
    moisture_unoccupied: Annotated[float, Quantity("moisture_rate", "0kg/day", "2000kg/day")] = Field(
        description="water otherwise"
    )


class Schedule(Part):
    """When people are there, and what the thermostat holds."""

    occupied_hours: Span = Field(description='such as "7-18"; "22-6" goes through the night; "0-24" is always')
    occupied_days: Span = Field(description='such as "mon-fri" or "mon,wed,sat"')
    time_zone: Span = Field(
        "",
        description='whose clock people and tariff follow, with its daylight saving, such as "America/Denver" '
        "(IANA time zone database); empty: standard time all year",
    )
    cooling: SetPoint = Field(description="cooling set point")
    heating: SetPoint = Field(description="heating set point")
    cooling_unoccupied: SetPoint | None = Field(None, description="cooling set point while unoccupied")
    heating_unoccupied: Annotated[float, Quantity("temperature", "5C", "35C")] | None = Field(
        None, description="heating set point while unoccupied"
    )

    @model_validator(mode="after")
    def _apart(self) -> Schedule:
        self.hours()
        self.days()
        self.zone()
        for cool, warm in (
            (self.cooling, self.heating),
            (self.cooling_unoccupied or self.cooling, self.heating_unoccupied or self.heating),
        ):
            if warm > cool - 1.0:
                raise ValueError(
                    f"{{schedule.heating}} is {format_quantity(warm, 'temperature')} and {{schedule.cooling}} "
                    f"{format_quantity(cool, 'temperature')}: heating must be at least 2 °F (1 K) lower"
                )
        return self

    def hours(self) -> frozenset[int]:
        """The hours of the day that count as occupied.

        Returns
        -------
        frozenset of int
            0 for the hour that begins at midnight, to 23.
        """
        return read_span(self.occupied_hours, [str(hour) for hour in range(25)], "occupied_hours", wrap=24)

    def days(self) -> frozenset[int]:
        """The days of the week that count as occupied.

        Returns
        -------
        frozenset of int
            0 for Monday, to 6.
        """
        return read_span(self.occupied_days, list(DAYS), "occupied_days", wrap=None)

    def zone(self) -> ZoneInfo | None:
        """The time zone whose clock people follow.

        Returns
        -------
        zoneinfo.ZoneInfo or None
            None for standard time all year.

        Raises
        ------
        ValueError
            There is no such zone.
        """
        if not self.time_zone:
            return None
        try:
            return ZoneInfo(self.time_zone)
        except (ValueError, OSError, ZoneInfoNotFoundError):
            raise ValueError(
                f"time_zone is {short(self.time_zone)}: expected a name of the IANA time zone database, such as "
                '"America/Denver" or "Europe/Berlin"'
            ) from None


class Ventilation(Part):
    """Fresh air while occupied."""

    flow: Annotated[float, Quantity("flow_density", "0cfm/ft2", "5cfm/ft2")] = Field(
        description="outdoor air while occupied, by floor area"
    )


class UnitCase(Part):
    """Nameplate of the cooling unit."""

    capacity: Annotated[float, Quantity("power", "0.5ton", "500ton")] = Field(
        description="net cooling capacity at 95 °F outdoors"
    )
    eer: Annotated[float, Quantity("efficiency", "5 Btu/Wh", "25 Btu/Wh")] = Field(
        description="whole-unit efficiency there"
    )
    sensible_heat_ratio: Annotated[float, Field(ge=0.6, le=0.79)] = Field(description="sensible share there")
    degradation: Annotated[float, Field(ge=0, le=0.5)] = Field(description="part-load degradation coefficient Cd")
    lockout: Lockout | None = Field(None, description="no compressor below this outdoor temperature")
    mild_capacity: Annotated[float, Quantity("power", "0.5ton", "500ton")] | None = Field(
        None, description="capacity at 82 °F outdoors; with mild_eer a line replaces the curves"
    )
    mild_eer: Annotated[float, Quantity("efficiency", "5 Btu/Wh", "30 Btu/Wh")] | None = Field(
        None, description="efficiency at 82 °F"
    )
    compressor: Literal["single-speed", "two-stage", "variable-speed"] = Field(
        "single-speed", description="how the compressor meets less than its full capacity"
    )
    low_capacity: Annotated[float, Quantity("power", "0.1ton", "500ton")] | None = Field(
        None, description="net cooling capacity of the low stage or lowest speed at 95 °F outdoors"
    )
    low_eer: Annotated[float, Quantity("efficiency", "5 Btu/Wh", "40 Btu/Wh")] | None = Field(
        None, description="whole-unit efficiency of the low stage or lowest speed there"
    )
    middle_capacity: Annotated[float, Quantity("power", "0.1ton", "500ton")] | None = Field(
        None, description="net cooling capacity of a third rated speed between them there"
    )
    middle_eer: Annotated[float, Quantity("efficiency", "5 Btu/Wh", "40 Btu/Wh")] | None = Field(
        None, description="whole-unit efficiency of that third speed"
    )
    low_flow: Annotated[float, Field(ge=0.1, le=1)] | None = Field(
        None,
        description="share of full flow at which the low stage is rated, and which a fan of variable speed takes when "
        "it runs for the compressor alone; without it the share of the capacities",
    )
    map: Annotated[str, Field(max_length=20_000)] = Field(
        "",
        description="performance map as the text of a CSV table, in place of capacity, eer and sensible_heat_ratio; a "
        "case file may name the table's file instead, as `map_file`",
    )
    beyond_map: Literal["hold", "refuse"] = Field(
        "hold", description="beyond the map's range its edge holds, or an answer that goes there is refused"
    )
    # Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996; the four defaults in common use are from memory.
    re_evaporation: bool = Field(
        True, description="while a continuous fan runs on, water on the coil goes back into the air"
    )
    drip_time: Annotated[float, Field(ge=1, le=3600)] = Field(
        1000.0, description="time from a dry coil to dripping at rated latent capacity [s]"
    )
    evaporation_ratio: Annotated[float, Field(ge=0, le=5)] = Field(
        1.5, description="evaporation when the compressor stops over rated latent capacity"
    )
    cycling_rate: Annotated[float, Field(ge=0.5, le=10)] = Field(
        3.0, description="compressor starts an hour at half run time, the highest rate"
    )
    start_time: Annotated[float, Field(ge=1, le=300)] = Field(
        45.0, description="time constant of latent capacity after a start [s]"
    )

    @model_validator(mode="before")
    @classmethod
    def _rated_by_map(cls, told: Any) -> Any:
        """The nameplate that a map's rating point makes stands in place of any other."""
        if not isinstance(told, dict) or not isinstance(told.get("map"), str) or not told["map"]:
            return told
        try:
            return told | nameplate_of(unit_map_of(told["map"], where="map"))
        except CaseError as error:
            raise ValueError(str(error)) from None

    @model_validator(mode="after")
    def _mapped(self) -> UnitCase:
        if self.map and (self.compressor != "single-speed" or self.mild_capacity):
            raise ValueError(
                "map is of a unit of a single speed and needs no mild_capacity and mild_eer: leave them out"
            )
        return self

    @model_validator(mode="after")
    def _mild(self) -> UnitCase:
        for name, least, most in (("capacity", 0.8, 1.5), ("eer", 0.8, 2.5)):
            mild, rated = getattr(self, f"mild_{name}"), getattr(self, name)
            kind = "power" if name == "capacity" else "efficiency"
            if mild is not None and not least <= mild / rated <= most:
                raise ValueError(
                    f"mild_{name} is {format_quantity(mild, kind)} and {name} {format_quantity(rated, kind)}: expected "
                    f"{least:g} to {most:g} times as much at 82 °F as at 95 °F outdoors; give figures of one unit"
                )
        return self

    @model_validator(mode="after")
    def _both(self) -> UnitCase:
        for name in ("mild", "low", "middle"):
            if (getattr(self, f"{name}_capacity") is None) != (getattr(self, f"{name}_eer") is None):
                raise ValueError(f"{name}_capacity and {name}_eer go together: give both or neither")
        return self

    @model_validator(mode="after")
    def _stages(self) -> UnitCase:
        if self.compressor == "single-speed":
            if self.low_capacity or self.middle_capacity or self.low_flow:
                raise ValueError(
                    "low_capacity, low_eer, low_flow, middle_capacity and middle_eer belong to a compressor with a low "
                    'stage: set compressor to "two-stage" or "variable-speed", or leave them out'
                )
            return self
        if not self.low_capacity or not self.low_eer:
            raise ValueError(f"a {self.compressor} compressor needs low_capacity and low_eer: give both")
        if self.middle_capacity and self.compressor == "two-stage":
            raise ValueError(
                'middle_capacity and middle_eer belong to a compressor of "variable-speed": leave them out'
            )
        points = [("low", self.low_capacity, self.low_eer), ("full", self.capacity, self.eer)]
        if self.middle_capacity and self.middle_eer:
            points.insert(1, ("middle", self.middle_capacity, self.middle_eer))
        for (less, little, its_eer), (more, much, more_eer) in itertools.pairwise(points):
            if little >= much or little / its_eer >= much / more_eer:
                raise ValueError(
                    f"the {less} capacity is {format_quantity(little, 'power')} for {little / its_eer:.0f} W and the "
                    f"{more} one {format_quantity(much, 'power')} for {much / more_eer:.0f} W: expected less of "
                    f"both at the {less} one; give capacities and efficiencies that belong together"
                )
        return self


class FanCase(Part):
    """The indoor fan."""

    flow: Annotated[float, Quantity("flow", "20cfm", "200000cfm")] = Field(description="supply air")
    power: Annotated[float, Quantity("fan_power", "0.05W/cfm", "2W/cfm", zero="with unit")] = Field(
        description="fan power by flow"
    )
    mode: Literal["auto", "continuous"] = Field(description="continuous: runs while occupied, for ventilation")
    variable: bool = Field(False, description="variable speed: power follows flow^2.5")
    least_flow: Annotated[float, Field(ge=0.1, le=1)] = Field(0.4, description="lowest share of full flow")


class DamperCase(Part):
    """The outdoor-air damper."""

    outdoor_share: Annotated[float, Field(gt=0, le=1)] = Field(1.0, description="outdoor share of supply, fully open")
    leakage: Annotated[float, Field(ge=0, le=0.5)] = Field(0.0, description="outdoor share of supply, shut")
    minimum_share: Annotated[float, Field(ge=0, lt=1)] = Field(
        0.0, description="least outdoor share of supply while the fan runs, with and without the damper"
    )
    relief_fan: Annotated[float, Quantity("fan_power", "0.02W/cfm", "2W/cfm", zero="bare")] = Field(
        "0W/cfm",
        validate_default=True,
        description="power of a relief or exhaust fan by the outdoor air above the minimum that free cooling brings",
    )
    mixed_air_minimum: Annotated[float, Quantity("temperature", "35F", "70F")] = Field(
        "50F", validate_default=True, description="mixed-air low limit"
    )
    integrated: bool = Field(True, description="compressor may run with the damper open")
    precool: Annotated[float, Quantity("difference", "0F", "10F")] = Field(
        "0F", validate_default=True, description="how far below set point free cooling may go on after a warm day"
    )
    second_stage_offset: Annotated[float, Quantity("difference", "0F", "5F")] = Field(
        "0F", validate_default=True, description="compressor holds this much above set point while the rule permits"
    )

    @model_validator(mode="after")
    def _opens(self) -> DamperCase:
        for name in ("leakage", "minimum_share"):
            if (shut := getattr(self, name)) >= self.outdoor_share:
                raise ValueError(
                    f"{name} is {shut:g} and outdoor_share {self.outdoor_share:g}: expected an open damper to bring "
                    f"more outdoor air than a shut one; give a smaller {name} or a larger outdoor_share"
                )
        return self


class RuleCase(Part):
    """When the damper may open."""

    name: Literal[tuple(RULES)] = Field("differential", description="the rule; see docs/how-it-works.md")  # type: ignore[valid-type]
    differential: Annotated[float, Quantity("difference", "0F", "40F")] = Field(
        "5F", validate_default=True, description="outdoor air at least this far below the reference"
    )
    high_limit: HighLimit | None = Field(None, description="outdoor dry bulb at most")
    low_limit: LowLimit | None = Field(None, description="outdoor dry bulb at least")
    enthalpy_limit: Annotated[float, Quantity("specific_enthalpy", "20 Btu/lb", "40 Btu/lb")] | None = Field(
        None, description="outdoor enthalpy at most"
    )
    enthalpy_margin: Annotated[float, Quantity("enthalpy_difference", "0 Btu/lb", "15 Btu/lb")] | None = Field(
        None, description="outdoor enthalpy at least this far below return air's"
    )
    dew_point_limit: DewPointLimit | None = Field(None, description="outdoor dew point at most")
    reset: Annotated[float, Quantity("difference", "0F", "10F")] = Field(
        "0F", validate_default=True, description="once shut, opens this much lower"
    )


class Humidity(Part):
    """Moisture in the building."""

    capacity_multiplier: Annotated[float, Field(ge=1, le=50)] = Field(
        15.0, description="how much more water contents hold than the air alone"
    )
    caution_dew_point: Annotated[float, Quantity("temperature", "40F", "75F")] = Field(
        "60F", validate_default=True, description="outdoor dew point that makes an open damper a damp hour"
    )


class TariffPeriod(Part):
    """A time at which electricity has a price of its own."""

    months: Span = Field("jan-dec", description='such as "jun-sep"')
    days: Span = Field("mon-sun", description='such as "mon-fri"')
    hours: Span = Field("0-24", description='such as "16-21"')
    price: Annotated[float, Field(ge=0, le=10)] = Field(description="electricity then, per kWh")

    @model_validator(mode="after")
    def _spans(self) -> TariffPeriod:
        self.when()
        return self

    def when(self) -> tuple[frozenset[int], frozenset[int], frozenset[int]]:
        """The months, days and hours that it covers.

        Returns
        -------
        tuple of frozenset of int
            Months from January 0, days from Monday 0, hours 0 to 23.
        """
        return (
            read_span(self.months, list(MONTHS), "months", wrap=None),
            read_span(self.days, list(DAYS), "days", wrap=None),
            read_span(self.hours, [str(hour) for hour in range(25)], "hours", wrap=24),
        )


class Sensors(Part):
    """How well the sensors of a rule read, and what a humidity sensor costs."""

    dry_bulb_error: Annotated[float, Quantity("difference", "0F", "10F")] = Field(
        parse("2F", "difference"), description="tolerance of a dry-bulb sensor, plus or minus"
    )
    humidity_error_percent: Annotated[float, Field(ge=0, le=30)] = Field(
        5.0, description="tolerance of a humidity sensor, plus or minus [% RH]"
    )
    humidity_sensor_cost: Annotated[float, Field(ge=0, le=1e5)] | None = Field(
        None, description="extra cost of a rule that reads humidity, each time its sensors are replaced"
    )
    humidity_sensor_years: Annotated[float, Field(gt=0, le=30)] = Field(5.0, description="years between replacements")


class Money(Part):
    """What things cost."""

    price: Annotated[float, Field(ge=0, le=10)] = Field(0.15, description="electricity, per kWh")
    tariff: Annotated[tuple[TariffPeriod, ...], Field(max_length=MOST_PERIODS)] = Field(
        (), description="prices by time, before `price`; the first that fits wins"
    )
    emission_factor: Annotated[float, Field(ge=0, le=5)] | None = Field(
        None, description="kg of CO2 per kWh of electricity, your own"
    )
    currency: Annotated[str, Field(min_length=1, max_length=8, pattern=NO_CONTROL)] = Field(
        "USD", description="name of the money"
    )
    installed_cost: Annotated[float, Field(ge=0, le=1e8)] | None = Field(
        None, description="damper, controls and labour"
    )
    upkeep: Annotated[float, Field(ge=0, le=1e7)] = Field(0.0, description="yearly upkeep")
    least_saving: Annotated[float, Field(ge=0, le=1e7)] = Field(
        25.0, description="yearly saving from which a damper is called worth it"
    )
    life_years: Annotated[int, Field(ge=1, le=60)] = Field(15, description="years it lasts")
    discount_rate: Annotated[float, Field(ge=0, le=0.5)] = Field(0.05, description="yearly, as a fraction")
    escalation: Annotated[float, Field(ge=-0.2, le=0.3)] = Field(
        0.0, description="yearly rise of prices, as a fraction"
    )
    fuel_price: Annotated[float, Field(ge=0, le=10)] | None = Field(None, description="heating fuel, per kWh of fuel")
    fuel_efficiency: Annotated[float, Field(gt=0, le=6)] = Field(0.8, description="heat out over fuel in")


class SiteCase(Part):
    """The place, where the weather does not say it."""

    climate_zone: Literal[CLIMATE_ZONES] | None = Field(None, description="ASHRAE 169 zone, such as 4A")  # type: ignore[valid-type]


class Quote(Part):
    """Whose offer the report is, and for whom; no number rests on it."""

    name: Annotated[str, Field(max_length=120)] = Field("", description="who offers, on top of the report")
    address: Annotated[str, Field(max_length=400)] = Field(
        "", description="address, telephone and licence of who offers; may have several lines"
    )
    logo: Annotated[str, Field(max_length=MOST_TEXT)] = Field(
        "",
        description="picture on top of the report, as base64; a case file names a PNG, JPEG, GIF or WebP file instead, "
        "as `logo_file`",
    )
    customer: Annotated[str, Field(max_length=400)] = Field(
        "", description="for whom the report is; may have several lines"
    )
    number: Annotated[str, Field(max_length=60)] = Field("", description="number of the offer")
    date: Annotated[str, Field(max_length=60)] = Field("", description='date of the offer, such as "2026-03-14"')

    @field_validator("date", mode="before")
    @classmethod
    def _written(cls, told: Any) -> Any:
        """A date of TOML as people write it."""
        return told.isoformat() if isinstance(told, datetime.date) else told

    @field_validator("logo")
    @classmethod
    def _redrawn(cls, told: str) -> str:
        return redrawn(told) if told else told


def layers(building: Building, part: Literal["wall", "roof", "floor"]) -> Layers:
    """The layers of a part of the building: its own, else its construction's.

    Parameters
    ----------
    building : Building
        Of a case.
    part : {"wall", "roof", "floor"}
        Which part.

    Returns
    -------
    Layers
        Sums of resistance [m2K/W] and capacity [J/m2K].
    """
    return getattr(building, part) or Layers(**CONSTRUCTIONS[building.construction][part])


def ground_of(building: Building) -> Ground:
    """What is under the lowest floor, given the building.

    Parameters
    ----------
    building : Building
        Of a case.

    Returns
    -------
    str
        As told, else as its own floor's boundary or its construction has it.
    """
    if building.ground is not None:
        return building.ground
    if building.floor is not None:
        return "slab" if building.floor.boundary == "ground" else "outdoors"
    return GROUND[building.construction]
