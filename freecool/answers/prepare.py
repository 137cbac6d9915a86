"""Case and Weather become arrays: the only place where pandas meets the physics."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from freecool.answers.floor import ground_temperature, inside_elements, lowest_floor, plan_sides
from freecool.answers.mapped import mapped_unit
from freecool.answers.rules import limits_of
from freecool.cases.model import Case
from freecool.cases.sections import Building, UnitCase, layers
from freecool.core import air
from freecool.core.errors import CaseError
from freecool.physics.cooling_unit import (
    RATING_INDOOR_C,
    RATING_WET_BULB_C,
    SINGLE_SPEED,
    TWO_STAGE,
    VARIABLE_SPEED,
    CoolingUnit,
    rated_unit,
)
from freecool.physics.damper import Damper, Fan
from freecool.physics.glass import Glass, glass_of
from freecool.physics.ground import OUTSIDE_FILM, Exchange, Swing, swing_of
from freecool.physics.re_evaporation import re_evaporation_of
from freecool.physics.rule import Limits
from freecool.physics.year import Hours, Zone
from freecool.physics.zone import (
    INSIDE_FILM,
    Element,
    Network,
    element_network,
    five_resistance_network,
    merge,
    modes_of,
    sky_loss_w,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from freecool.weather import PlaneSun, Weather

    FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
    IntArray = np.ndarray[tuple[int, ...], np.dtype[np.integer[Any]]]
    BoolArray = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

# ISO 52016-1:2017 annex B: solar absorptance of intermediate colours.
ABSORPTANCE = 0.6
# ISO 52016-1:2017 table B.17: air and furniture [J/K per m2 of floor].
FURNITURE_J_M2K = 10_000.0
# ISO 13789:2017 annex: inside convection [W/m2K] of walls and windows, of roofs (heat upward).
WALL_CONVECTION, ROOF_CONVECTION = 2.5, 5.0
WALL_SKY, ROOF_SKY = 0.5, 1.0
# A window that conducts better than its films keeps this resistance [m2K/W]; our own choice.
LEAST_GLASS_M2K_W = 0.01
KINDS = {"single-speed": SINGLE_SPEED, "two-stage": TWO_STAGE, "variable-speed": VARIABLE_SPEED}
INFRARED = "horizontal_infrared_w_m2"
SIDES = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}
# Ordinary room air, for the weight of it; our own choice.
ROOM_C, ROOM_W = 22.0, 0.009


class Glazed(NamedTuple):
    """The windows of a facade."""

    azimuth_deg: float
    admitting_m2: float
    """Area times solar heat gain coefficient at normal incidence and what shading lets pass."""
    glass: Glass


class Envelope(NamedTuple):
    """A building as elements and glass."""

    elements: list[Element]
    glass: tuple[Glazed, ...]
    """By facade."""
    floor_m2: float
    volume_m3: float
    exchange: Exchange | None
    """Of the lowest floor with the ground, where it has one."""


class Prepared(NamedTuple):
    """Everything a run needs, in SI."""

    zone: Zone
    make_second: Callable[[], Zone]
    """Makes `second`, which few answers need."""
    unit: CoolingUnit
    fan: Fan
    damper: Damper
    limits: Limits

    @property
    def second(self) -> Zone:
        """The same building on the second network, for the model-form band."""
        return self.make_second()

    @property
    def mean_pressure_pa(self) -> float:
        """Of the site, over the year [Pa]."""
        return float(self.zone.hours.pressure_pa.mean())

    @property
    def no_damper(self) -> Damper:
        """The building without one: what the fan brings at least stays."""
        return self.damper._replace(fitted=False)


def envelope(building: Building) -> Envelope:
    """Elements and glass of a box-shaped building.

    Parameters
    ----------
    building : Building
        Of a case.

    Returns
    -------
    Envelope
        Its elements are merged.
    """
    elements, glass = [], []
    for azimuth, gross, share in _facades(building):
        window = gross * share
        elements.append(_opaque(building, "wall", gross - window, (90.0, azimuth)))
        if window > 0.0:
            elements.append(_window(building, window))
            admitting = window * building.window_g * building.shading
            glass.append(Glazed(azimuth, admitting, glass_of(building.glass)))
    elements.append(_opaque(building, "roof", building.floor_area / building.storeys, (0.0, 180.0)))
    floor, exchange = lowest_floor(building)
    elements.append(floor)
    elements += inside_elements(building, elements)
    volume = building.floor_area * building.ceiling_height
    return Envelope(merge(elements), tuple(glass), building.floor_area, volume, exchange)


def _facades(building: Building) -> Iterator[tuple[float, float, float]]:
    """Azimuth [deg], area [m2] and glazing share [0-1] of each side of a box."""
    long_side, short_side = plan_sides(building)
    height = building.storeys * building.ceiling_height
    for side, azimuth in SIDES.items():
        width = long_side if side in ("north", "south") else short_side
        turned = (azimuth + building.long_side_azimuth - 180.0) % 360.0
        yield turned, height * width, getattr(building.glazing, side)


def _opaque(building: Building, part: Literal["wall", "roof"], area_m2: float, facing: tuple[float, float]) -> Element:
    """A wall or roof, given its area and its tilt and azimuth [deg]; only what stands in outdoor air takes sun."""
    layer = layers(building, part)
    convection, sky = (WALL_CONVECTION, WALL_SKY) if part == "wall" else (ROOF_CONVECTION, ROOF_SKY)
    sunlit = ((*facing, area_m2 * ABSORPTANCE),) if layer.boundary == "air" else ()
    return Element(area_m2, layer.resistance, layer.capacity, layer.mass, convection, sky, layer.boundary, sunlit)


def _window(building: Building, area_m2: float) -> Element:
    """A window without its surface films, which the network adds."""
    resistance = max(1.0 / building.window_u - INSIDE_FILM - OUTSIDE_FILM, LEAST_GLASS_M2K_W)
    return Element(area_m2, resistance, 0.0, "none", WALL_CONVECTION, WALL_SKY)


class Clock(NamedTuple):
    """What clocks show at the start of each hour (hours,)."""

    month: IntArray
    """0 to 11."""
    day_of_week: IntArray
    """0, Monday, to 6."""
    hour: IntArray
    """0 to 23."""


class Outdoors(NamedTuple):
    """What a weather alone makes, by hour, whatever the building."""

    dry_bulb_c: FloatArray
    dew_point_c: FloatArray
    humidity_ratio: FloatArray
    pressure_pa: FloatArray
    density_kg_m3: FloatArray
    heat_j_kgk: FloatArray
    horizontal_infrared_w_m2: FloatArray | None
    """Where the weather tells it, with NaN."""
    sun_on: Callable[[float, float], PlaneSun]
    """Sun on (tilt [deg], azimuth [deg])."""
    year_angle: FloatArray
    """How far into the year [rad]."""
    swing: Swing
    """Of the dry bulb over the year."""
    clocks: dict[str, Clock]
    """By time zone, as far as they were asked for."""


# Many buildings stand in one weather: it is made ready once, for as long as the weather itself is kept.
_OUTDOORS: WeakKeyDictionary[Weather, Outdoors] = WeakKeyDictionary()
DAYS_PER_YEAR = 365.25
# Clock against weather: files round their offsets to whole hours, and some give that of the sun; our own choice.
MOST_ZONE_ERROR_H = 1.0
# Of sunlit planes kept with it: a box has five.
PLANES_KEPT = 10


def outdoors_of(weather: Weather) -> Outdoors:
    """The air states and the sun of a weather, given the weather.

    Parameters
    ----------
    weather : Weather
        Used for as many buildings as one likes.

    Returns
    -------
    Outdoors
        Made once for a weather.
    """
    from freecool.weather import Sun, hour_means

    if weather not in _OUTDOORS:
        frame, means = weather.frame, hour_means(weather)
        outdoor, dew, pressure = (means[name] for name in ("dry_bulb_c", "dew_point_c", "pressure_pa"))
        w = air.humidity_ratio_from_dew_point(dew, pressure)
        days = frame.index.day_of_year + frame.index.hour / 24.0  # type: ignore[attr-defined]
        year_angle = 2.0 * math.pi * (days.to_numpy(float) - 1.0) / DAYS_PER_YEAR
        _OUTDOORS[weather] = Outdoors(
            outdoor,
            dew,
            w,
            pressure,
            air.dry_air_density(outdoor, w, pressure),
            air.heat_capacity(w),
            frame[INFRARED].to_numpy(float) if INFRARED in frame else None,
            lru_cache(PLANES_KEPT)(Sun(weather).parts),
            year_angle,
            swing_of(outdoor, year_angle),
            {},
        )
    return _OUTDOORS[weather]


def prepare(case: Case, weather: Weather) -> Prepared:
    """All that a run needs, given a case and a weather.

    Parameters
    ----------
    case : Case
        The building and its plant.
    weather : Weather
        Its hours.

    Returns
    -------
    Prepared
        Two zones, unit, fan, damper and rule.

    Raises
    ------
    CaseError
        The unit's rated point is impossible.
    """
    outdoors, house = outdoors_of(weather), envelope(case.building)
    clock = _clock(case, weather, outdoors)
    occupied = _occupied(case, clock)
    hours = _hours(case, weather, house, outdoors, occupied, clock)
    gains = case.building.floor_area * np.where(occupied, case.gains.occupied, case.gains.unoccupied)
    ground_c = ground_temperature(house.exchange, case.schedule, outdoors.swing, outdoors.year_angle)
    drives = drive_inputs(house.elements, house.glass, outdoors, gains, ground_c)
    mean_pressure = float(outdoors.pressure_pa.mean())
    store = _moisture_store(case, house, mean_pressure)
    by_elements = element_network(house.elements, FURNITURE_J_M2K * house.floor_m2)
    return Prepared(
        _zone(by_elements, drives, hours, store),
        lambda: _zone(five_resistance_network(house.elements, house.floor_m2), drives, hours, store),
        _unit(case),
        _fan(case),
        _damper(case),
        limits_of(case.rule, mean_pressure, case.site.climate_zone),
    )


def _hours(
    case: Case, weather: Weather, house: Envelope, outdoors: Outdoors, occupied: BoolArray, clock: Clock
) -> Hours:
    """What drives the zone by hour, but for the inputs of its network."""
    schedule, building = case.schedule, case.building
    ventilation = np.where(occupied, case.ventilation.flow * building.floor_area, 0.0)
    continuous = case.fan.mode == "continuous"
    return Hours(
        input_k=np.empty((0, 0)),
        outdoor_c=outdoors.dry_bulb_c,
        outdoor_w=outdoors.humidity_ratio,
        outdoor_dew_c=outdoors.dew_point_c,
        pressure_pa=outdoors.pressure_pa,
        density_kg_m3=outdoors.density_kg_m3,
        heat_j_kgk=outdoors.heat_j_kgk,
        air_change_kg_s=(building.infiltration_ach * house.volume_m3 / 3600.0 + ventilation) * outdoors.density_kg_m3,
        ventilation_m3_s=ventilation,
        window_kg_s=building.windows_open_ach * house.volume_m3 / 3600.0 * outdoors.density_kg_m3,
        moisture_kg_s=np.where(occupied, case.gains.moisture, case.gains.moisture_unoccupied),
        cool_c=np.where(occupied, schedule.cooling, schedule.cooling_unoccupied or schedule.cooling),
        heat_c=np.where(occupied, schedule.heating, schedule.heating_unoccupied or schedule.heating),
        continuous=occupied.astype(float) if continuous else np.zeros(occupied.size),
        occupied=occupied,
        price=_prices(case, clock),
        year=_year_index(weather),
    )


def _zone(network: Network, drives: FloatArray, hours: Hours, store_kg: float) -> Zone:
    """A zone on a network, given the network's inputs by hour."""
    modes = modes_of(network)
    # A loop, not a library of threads: for so small a product they wait longer than they work.
    return Zone(modes, hours._replace(input_k=np.einsum("hi,mi->hm", drives, modes.G)), store_kg)


def _moisture_store(case: Case, house: Envelope, pressure_pa: float) -> float:
    """Water that the air and the contents of a building hold for a humidity ratio of 1 [kg]."""
    room_density = float(air.dry_air_density(ROOM_C, ROOM_W, pressure_pa))
    return case.humidity.capacity_multiplier * room_density * house.volume_m3


def drive_inputs(
    elements: list[Element],
    glass: tuple[Glazed, ...],
    outdoors: Outdoors,
    internal_gain_w: FloatArray,
    ground_c: FloatArray | None = None,
) -> FloatArray:
    """The inputs of a network by hour, given weather and gains.

    Parameters
    ----------
    elements : list of Element
        Merged, in the network's order.
    glass : tuple of Glazed
        Vertical windows.
    outdoors : Outdoors
        Of the weather.
    internal_gain_w : ndarray
        Internal gains (hours,) [W].
    ground_c : ndarray, optional
        From `freecool.answers.floor.ground_temperature` (hours,), else the mean outdoors [degC].

    Returns
    -------
    ndarray
        (hours, inputs), the columns those of `freecool.physics.zone.element_network`.
    """
    outdoor_c, sun_on = outdoors.dry_bulb_c, outdoors.sun_on
    columns = [
        outdoor_c,
        np.full(outdoor_c.size, outdoor_c.mean()) if ground_c is None else ground_c,
        internal_gain_w,
        sum((_admitted_w(windows, sun_on) for windows in glass), np.zeros(outdoor_c.size)),
    ]
    for element in elements:
        absorbed = -sky_loss_w(element, outdoor_c, outdoors.horizontal_infrared_w_m2)
        for tilt, azimuth, area in element.absorbing:
            absorbed = absorbed + area * sun_on(tilt, azimuth).total()
        columns.append(absorbed)
    return np.column_stack(columns)


def _admitted_w(windows: Glazed, sun_on: Callable[[float, float], PlaneSun]) -> FloatArray:
    """Sun through the windows of a facade by hour [W]."""
    return windows.admitting_m2 * windows.glass.admitted(*sun_on(90.0, windows.azimuth_deg))


def _unit(case: Case) -> CoolingUnit:
    unit = case.unit
    try:
        rated = mapped_unit(unit) if unit.map else _rated(unit)
    except ValueError as error:
        raise CaseError(f"unit: {error}.") from None
    if not unit.re_evaporation:
        return rated
    return rated._replace(
        re_evaporation=re_evaporation_of(
            rated.capacity_w * (1.0 - unit.sensible_heat_ratio),
            RATING_INDOOR_C - RATING_WET_BULB_C,
            unit.drip_time,
            unit.evaporation_ratio,
            unit.cycling_rate,
            unit.start_time,
        )
    )


def _rated(unit: UnitCase) -> CoolingUnit:
    """The unit of a nameplate."""
    mild = (unit.mild_capacity, unit.mild_eer) if unit.mild_capacity and unit.mild_eer else None
    low = (unit.low_capacity, unit.low_eer) if unit.low_capacity and unit.low_eer else None
    middle = (unit.middle_capacity, unit.middle_eer) if unit.middle_capacity and unit.middle_eer else None
    return rated_unit(
        unit.capacity,
        unit.eer,
        unit.sensible_heat_ratio,
        unit.degradation,
        -math.inf if unit.lockout is None else unit.lockout,
        mild,
        KINDS[unit.compressor],
        low,
        unit.low_flow or (unit.low_capacity or unit.capacity) / unit.capacity,
        middle,
    )


def _fan(case: Case) -> Fan:
    fan = case.fan
    return Fan(fan.flow, fan.flow * fan.power, fan.variable, fan.least_flow)


def _damper(case: Case) -> Damper:
    damper = case.damper
    return Damper(
        True,
        damper.outdoor_share,
        damper.leakage,
        damper.mixed_air_minimum,
        damper.integrated,
        damper.precool,
        damper.second_stage_offset,
        case.humidity.caution_dew_point,
        damper.minimum_share,
        damper.relief_fan,
    )


def clock_of(case: Case, weather: Weather) -> pd.DatetimeIndex:
    """Starts of the hours as the clocks of a place show them, given case and weather.

    Parameters
    ----------
    case : Case
        With or without a time zone.
    weather : Weather
        In standard time.

    Returns
    -------
    pandas.DatetimeIndex
        Standard time all year where the case names no zone (hours,).

    Raises
    ------
    CaseError
        The zone is not the weather's.
    """
    index, zone = pd.DatetimeIndex(weather.frame.index), case.schedule.zone()
    if zone is None:
        return index
    clock = index.tz_convert(zone)
    offsets = clock.tz_localize(None) - index.tz_convert("UTC").tz_localize(None)
    standard_h = float(offsets.min() / pd.Timedelta(hours=1))
    if abs(standard_h - weather.location.utc_offset_h) > MOST_ZONE_ERROR_H:
        raise CaseError(
            f"schedule.time_zone is {case.schedule.time_zone!r}, {standard_h:+g} h from UTC in standard time, and the "
            f"weather is at {weather.location.utc_offset_h:+g} h: give the zone of the place, or leave it out."
        )
    return clock


def _clock(case: Case, weather: Weather, outdoors: Outdoors) -> Clock:
    """The clock of a case, made once for a weather and a time zone."""
    name = case.schedule.time_zone
    if name not in outdoors.clocks:
        starts = clock_of(case, weather)
        shown = (starts.month - 1, starts.day_of_week, starts.hour)
        outdoors.clocks[name] = Clock(*(part.to_numpy() for part in shown))
    return outdoors.clocks[name]


def _among(values: IntArray, chosen: Collection[int], count: int) -> BoolArray:
    """Whether each of values from 0 to count - 1 is among those chosen."""
    is_chosen = np.zeros(count, dtype=bool)
    is_chosen[list(chosen)] = True
    return is_chosen[values]


def _occupied(case: Case, clock: Clock) -> BoolArray:
    hours, days = case.schedule.hours(), case.schedule.days()
    return _among(clock.hour, hours, 24) & _among(clock.day_of_week, days, 7)


def _prices(case: Case, clock: Clock) -> FloatArray:
    """Electricity price by hour, per kWh: the first tariff period that covers an hour, else the flat price."""
    price = np.full(clock.hour.size, case.money.price)
    for period in reversed(case.money.tariff):
        months, days, hours = period.when()
        covered = _among(clock.month, months, 12) & _among(clock.day_of_week, days, 7) & _among(clock.hour, hours, 24)
        price[covered] = period.price
    return price


def _year_index(weather: Weather) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    if weather.typical or not weather.years:
        return np.zeros(weather.hours, dtype=np.int64)
    year = weather.frame.index.year.to_numpy()  # type: ignore[attr-defined]
    years = np.array(weather.years)
    # A stray hour outside the named years counts with the nearest of them.
    index: np.ndarray[tuple[int], np.dtype[np.int64]] = np.clip(np.searchsorted(years, year), 0, years.size - 1)
    return index
