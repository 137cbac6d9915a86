"""One zone's hours written slowly and plainly, to check the compiled loop against.

Every node of the ISO 52016-1 network is kept and each hour solved as a linear system; heat flows that hold a
temperature are unknowns of that system; wet bulb and apparatus dew point are bisected.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from freecool.core.air import saturation_table
from freecool.physics.cooling_unit import SINGLE_SPEED, TWO_STAGE, CoolingUnit
from freecool.physics.damper import Damper, Fan
from freecool.physics.rule import Limits
from freecool.physics.year import NO_DAMPER, Hours
from freecool.physics.zone import Element

HOUR_S = 3600.0
KELVIN = 273.15
START_C = 20.0
NO_LIMITS = Limits()
# ISO 52016-1:2017: capacity by node (table B.11), conductances between nodes times R (eq. 43-45), films (table 25).
NODES = {
    "I": (0.0, 0.0, 0.0, 0.0, 1.0),
    "E": (1.0, 0.0, 0.0, 0.0, 0.0),
    "IE": (0.5, 0.0, 0.0, 0.0, 0.5),
    "D": (0.125, 0.25, 0.25, 0.25, 0.125),
    "M": (0.0, 0.0, 1.0, 0.0, 0.0),
}
ON_SOIL = {"I": (0, 0, 1.0), "E": (1.0, 0, 0), "IE": (0.5, 0, 0.5), "D": (0.25, 0.5, 0.25), "M": (0, 1.0, 0)}
LINKS = (6.0, 3.0, 3.0, 6.0)
OUTSIDE_FILM, INSIDE_RADIATION = 20.0 + 4.14, 5.13
INTERNAL_TO_AIR, WINDOW_TO_AIR = 0.4, 0.1
COLUMNS = ("indoor_c", "humidity_ratio", "compressor_w", "fan_w", "heating_w", "cooling_w", "permitted", "damper",
           "run_time", "condensate_kg", "moisture_in_kg", "moisture_coil_kg", "called")  # fmt: skip


class Room(NamedTuple):
    """All nodes of a zone, the air last: capacity [J/K], conductance [W/K], columns that inputs heat nodes by."""

    capacity: np.ndarray
    conductance: np.ndarray
    inputs: np.ndarray

    def solve(self, x: Any, u: Any, extra_w_k: float = 0.0, heat_w: float = 0.0) -> np.ndarray:
        """Temperatures at the hour's end, with heat to the air and extra air to 0 degC."""
        matrix = np.diag(self.capacity / HOUR_S) + self.conductance
        matrix[-1, -1] += extra_w_k
        known = self.capacity / HOUR_S * x + self.inputs @ u
        known[-1] += heat_w
        return np.linalg.solve(matrix, known)

    def heat_to_hold(self, x: Any, u: Any, target_c: float, extra_w_k: float = 0.0, heat_w: float = 0.0) -> float:
        """Heat to the air that makes it target_c at the hour's end [W]: one more unknown, one more equation."""
        size = self.capacity.size
        matrix = np.zeros((size + 1, size + 1))
        matrix[:size, :size] = np.diag(self.capacity / HOUR_S) + self.conductance
        matrix[size - 1, size - 1] += extra_w_k
        matrix[size - 1, size] = -1.0
        matrix[size, size - 1] = 1.0
        known = np.append(self.capacity / HOUR_S * x + self.inputs @ u, target_c)
        known[size - 1] += heat_w
        return float(np.linalg.solve(matrix, known)[size])


def room_of(elements: list[Element], air_capacity_j_k: float) -> Room:
    """Every node of the ISO 52016-1:2017 hourly network, given elements and capacity of the air."""
    counts = [2 if e.mass_class == "none" else 5 for e in elements]
    size = sum(counts) + 1
    capacity, conductance = np.zeros(size), np.zeros((size, size))
    inputs = np.zeros((size, 4 + len(elements)))
    first = np.concatenate(([0], np.cumsum(counts)))[:-1]
    inner = first + np.array(counts) - 1
    whole_area = sum(e.area_m2 for e in elements)

    def link(i: int, j: int, w_k: float) -> None:
        for a, b in ((i, j), (j, i)):
            conductance[a, a] += w_k
            conductance[a, b] -= w_k

    for k, e in enumerate(elements):
        if e.mass_class == "none":
            link(first[k], inner[k], e.area_m2 / e.resistance_m2k_w)
        else:
            resistances = [e.resistance_m2k_w / part for part in LINKS]
            capacities = [share * e.capacity_j_m2k for share in NODES[e.mass_class]]
            if e.beneath is not None and e.beneath.soil_j_m2k > 0.0:
                # ISO 52016-1:2017 6.5.8.2: soil at node 2, the floor's own layers in four quarters above it.
                soil, floor = e.beneath.soil_m2k_w, e.resistance_m2k_w
                resistances = [soil / 2.0, soil / 2.0 + floor / 4.0, floor / 2.0, floor / 4.0]
                capacities = [0.0, e.beneath.soil_j_m2k, *(share * e.capacity_j_m2k for share in ON_SOIL[e.mass_class])]
            for n in range(4):
                link(first[k] + n, first[k] + n + 1, e.area_m2 / resistances[n])
            for n in range(5):
                capacity[first[k] + n] = capacities[n] * e.area_m2
        if e.boundary == "none":
            film = 0.0
        elif e.boundary == "ground":
            # The ground touches the outer face, or what is beneath it, without a film worth the name.
            film = (1000.0 if e.beneath is None else 1.0 / e.beneath.virtual_m2k_w) * e.area_m2
        else:
            film = OUTSIDE_FILM * e.area_m2
        conductance[first[k], first[k]] += film
        inputs[first[k], 1 if e.boundary == "ground" else 0] += film
        inputs[first[k], 4 + k] = 1.0
        link(inner[k], size - 1, e.inside_convection_w_m2k * e.area_m2)
        for other in range(k + 1, len(elements)):
            link(inner[k], inner[other], INSIDE_RADIATION * e.area_m2 * elements[other].area_m2 / whole_area)
        inputs[inner[k], 2] = (1.0 - INTERNAL_TO_AIR) * e.area_m2 / whole_area
        inputs[inner[k], 3] = (1.0 - WINDOW_TO_AIR) * e.area_m2 / whole_area
    inputs[size - 1, 2], inputs[size - 1, 3] = INTERNAL_TO_AIR, WINDOW_TO_AIR
    capacity[size - 1] = air_capacity_j_k
    return Room(capacity, conductance, inputs)


TABLE = saturation_table()
TABLE_C = TABLE.start_c + np.arange(TABLE.pressure_pa.size) / TABLE.per_k


def saturation_pa(t: float) -> float:
    return float(np.interp(t, TABLE_C, TABLE.pressure_pa))


def saturated_w(t: float, p: float) -> float:
    return 0.621945 * saturation_pa(t) / (p - saturation_pa(t))


def enthalpy(t: float, w: float) -> float:
    """ASHRAE Fundamentals (2017) ch. 1 eq. 30 [J/kg]."""
    return 1006.0 * t + w * (2_501_000.0 + 1860.0 * t)


def bisect(function: Any, low: float, high: float) -> float:
    """Root of a rising function."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def wet_bulb(t: float, w: float, p: float) -> float:
    """ASHRAE Fundamentals (2017) ch. 1 eq. 33 [degC]."""

    def error(wet: float) -> float:
        top = (2501.0 - 2.326 * wet) * saturated_w(wet, p) - 1.006 * (t - wet)
        return top / (2501.0 + 1.86 * t - 4.186 * wet) - w

    return bisect(error, -40.0, t)


def full_unit(unit: CoolingUnit, wet_bulb_c: float, outdoor_c: float) -> tuple[float, float]:
    """Gross capacity and power [W] at full run, by the unit's curves or table within their ranges."""
    if outdoor_c < unit.lockout_c:
        return 0.0, 0.0
    x, y = np.clip(wet_bulb_c, *unit.wet_bulb_range_c), np.clip(outdoor_c, *unit.outdoor_range_c)
    if unit.performance is not None:
        wet_bulbs, outdoors = unit.performance.wet_bulb_c, unit.performance.outdoor_c
        both = np.dstack((unit.capacity_w * unit.performance.capacity, unit.power_w * unit.performance.power))
        at = np.clip(wet_bulb_c, wet_bulbs[0], wet_bulbs[-1]), np.clip(outdoor_c, outdoors[0], outdoors[-1])
        capacity_w, power_w = RegularGridInterpolator((wet_bulbs, outdoors), both)(at)
        return float(capacity_w), float(power_w)
    terms = np.array([1.0, x, x * x, y, y * y, x * y])
    capacity = float(terms @ unit.capacity_curve)
    power = unit.power_w * float(terms @ unit.power_curve) * (capacity if unit.power_times_capacity else 1.0)
    return unit.capacity_w * capacity, power


def full_coil(unit: CoolingUnit, kg_s: float, t: float, w: float, outdoor_c: float, p: float) -> tuple[float, ...]:
    """Sensible [W], power [W], bypass factor, apparatus humidity ratio (0 when dry), total [W] of a coil in full."""
    total, power = full_unit(unit, wet_bulb(t, w, p), outdoor_c)
    bypass = math.exp(-unit.transfer_kg_s / kg_s)
    h = enthalpy(t, w)
    h_dew = h - total / (kg_s * (1.0 - bypass))
    dew = bisect(lambda at: enthalpy(at, saturated_w(at, p)) - h_dew, -70.0, 60.0)
    w_dew = saturated_w(dew, p)
    if total == 0.0:
        return total, power, bypass, 0.0, total
    if w <= w_dew:
        # Nothing condenses: the coil works as in air so humid that it just would.
        def error(at: float) -> float:
            humid = saturated_w(at, p)
            total = full_unit(unit, wet_bulb(t, humid, p), outdoor_c)[0]
            return total - kg_s * (1.0 - bypass) * (enthalpy(t, humid) - enthalpy(at, humid))

        onset_w = saturated_w(bisect(error, -40.0, t), p)
        total, power = full_unit(unit, wet_bulb(t, onset_w, p), outdoor_c)
        return total, power, bypass, 0.0, total
    return total * (enthalpy(t, w_dew) - h_dew) / (h - h_dew), power, bypass, w_dew, total


def slowed(unit: CoolingUnit) -> CoolingUnit:
    """The unit as if its low stage were all of it."""
    return unit._replace(capacity_w=unit.capacity_w * unit.low_capacity, power_w=unit.power_w * unit.low_power)


def latent_left(unit: CoolingUnit, latent_w: float, depression_k: float, run: float) -> float:
    """Share of latent capacity left of a cycle: when the coil drips again after a start, and what drips until it ends.

    Henderson and Rengarajan, ASHRAE Transactions 102(1), 1996; equations from memory.
    """
    wet = unit.re_evaporation
    if run >= 1.0:
        return 1.0
    on, off, tau = 900.0 / wet.cycles_h / (1.0 - run), 900.0 / wet.cycles_h / run, wet.start_s
    drip_s, ratio = wet.held_j / latent_w, wet.evaporation_w_k * max(depression_k, 0.0) / latent_w
    off = min(off, 2.0 * drip_s / ratio) if ratio > 0.0 else off
    gone_s = ratio * off - (ratio * off) ** 2 / (4.0 * drip_s)
    wet_again = bisect(lambda t: t - tau * (1.0 - math.exp(-t / tau)) - gone_s, 0.0, gone_s + tau)
    if wet_again >= on:
        return 0.0
    dripped = on - wet_again + tau * (math.exp(-on / tau) - math.exp(-wet_again / tau))
    return dripped / (on + tau * (math.exp(-on / tau) - 1.0))


def with_evaporation(
    unit: CoolingUnit, capacity_w: float, latent_w: float, depression_k: float, need_w: float
) -> tuple[float, float]:
    """Load ratio and latent share that bring a need where water goes back into the air, bisected."""

    def share_at(part: float) -> float:
        return latent_left(unit, latent_w, depression_k, part / (1.0 - unit.degradation * (1.0 - part)))

    def brought(part: float) -> float:
        return part * (capacity_w + (1.0 - share_at(part)) * latent_w) - need_w

    part = bisect(brought, 1e-9, 1.0)
    return part, share_at(part)


class Between(NamedTuple):
    """A compressor between its low and its high stage: power [W], the coil's stream [kg/s] and dew point, fan share."""

    power_w: float
    coil_kg_s: float
    w_dew: float
    of_fan: float


def between(
    unit: CoolingUnit, need_w: float, fan_w: float, part: float, low: tuple[float, ...], high: tuple[float, ...]
) -> Between:
    """What brings a need between both stages, each as `full_coil` tells it, the fan's heat off and its air added."""
    low_w, low_power, low_bypass, low_dew, low_total, low_kg_s = low
    high_w, high_power, high_bypass, high_dew, high_total, high_kg_s = high

    def fan_at(x: float) -> float:
        if unit.kind == TWO_STAGE:
            return (1.0 - x) * float(part**2.5) + x
        return float((1.0 - x + x / part) ** 2.5 * part**2.5)

    def brought(x: float) -> float:
        coil = (1.0 - x) * (low_w + fan_w * float(part**2.5)) + x * (high_w + fan_w)
        return coil - fan_w * fan_at(x) - need_w

    x = bisect(brought, 0.0, 1.0)
    power = (1.0 - x) * low_power + x * high_power
    if unit.kind != TWO_STAGE:
        total = (1.0 - x) * low_total + x * high_total
        rated = [(low_total, low_total / low_power), (high_total, high_total / high_power)]
        if unit.middle_capacity < 1.0:
            middle = unit.middle_capacity * high_total
            rated.insert(1, (middle, middle / (unit.middle_power * high_power)))
        power = total / float(np.interp(total, [at for at, _ in rated], [efficiency for _, efficiency in rated]))
    streams = [
        (share * kg_s * (1.0 - bypass), dew)
        for share, kg_s, bypass, dew in (
            (1.0 - x, low_kg_s, low_bypass, low_dew),
            (x, high_kg_s, high_bypass, high_dew),
        )
        if dew > 0.0
    ]
    kg_s = sum(stream for stream, _ in streams)
    return Between(power, kg_s, sum(stream * dew for stream, dew in streams) / kg_s if kg_s else 0.0, fan_at(x))


def opens(limits: Limits, was_open: bool, at: Hours, i: int, cool: float, return_c: float, return_w: float) -> bool:
    """Whether every limit is kept by what the sensors say."""
    reset = 0.0 if was_open else limits.reset_k
    said_return_c = return_c + limits.return_error_k
    reference = said_return_c if limits.from_return_air else cool
    p = at.pressure_pa[i]
    rh = p * return_w / ((0.621945 + return_w) * saturation_pa(return_c)) + limits.return_error_rh
    vapour = min(max(rh, 0.0), 1.0) * saturation_pa(said_return_c)
    said_return_j_kg = enthalpy(said_return_c, 0.621945 * vapour / (p - vapour))
    t, w = at.outdoor_c[i], at.outdoor_w[i]
    said_c = t + limits.outdoor_error_k
    rh = p * w / ((0.621945 + w) * saturation_pa(t)) + limits.outdoor_error_rh
    vapour = min(max(rh, 0.0), 1.0) * saturation_pa(said_c)
    said_j_kg = enthalpy(said_c, 0.621945 * vapour / (p - vapour))
    kelvin, joule = 1e-9, 1e-3
    return bool(
        said_c <= reference - limits.differential_k - reset + kelvin
        and said_c <= limits.dry_bulb_max_c - reset + kelvin
        and said_c >= limits.dry_bulb_min_c - kelvin
        and vapour <= saturation_pa(min(limits.dew_point_max_c, 99.0) + kelvin)
        and said_j_kg <= limits.enthalpy_max_j_kg + joule
        and said_j_kg <= said_return_j_kg - limits.enthalpy_below_return_j_kg + joule
    )


class Stage(NamedTuple):
    """What the open damper adds at full flow: conductance, outdoor air, supply before and with all the fan's heat."""

    w_k: float
    outdoor_kg_s: float
    outdoor_share: float
    """Of all air through the fan."""
    before_c: float
    supply_c: float


def first_stage(
    damper: Damper, fan: Fan, fan_heat_w: float, counted_m3_s: float, outdoor_c: float, room_c: float,
    outdoor_density: float, cp: float,
) -> Stage:  # fmt: skip
    """What the open damper adds to `counted_m3_s` of ventilation.

    The supply is never colder than the low limit, unless the minimum share makes it so.
    """
    share, limit_c = damper.share, damper.mixed_min_c
    limited = share * outdoor_c + (1.0 - share) * room_c < limit_c and outdoor_c < limit_c < room_c
    if limited and (room_c - limit_c) / (room_c - outdoor_c) <= damper.minimum_share:
        # What the limit lets in is less than the minimum: the damper stays there.
        share, limited = damper.minimum_share, False
    mixed_c = share * outdoor_c + (1.0 - share) * room_c
    flow_m3_s, before_c = share * fan.flow_m3_s - counted_m3_s, outdoor_c
    outdoor_m3_s = flow_m3_s
    if limited:
        # All supply air is at the limit however warm the room gets; ventilation at outdoor_c is already part of it.
        mixed_c = limit_c
        flow_m3_s = fan.flow_m3_s - counted_m3_s
        before_c = (fan.flow_m3_s * mixed_c - counted_m3_s * outdoor_c) / flow_m3_s if flow_m3_s > 0.0 else mixed_c
        share = (room_c - mixed_c) / (room_c - outdoor_c)
        outdoor_m3_s = max(share * fan.flow_m3_s - counted_m3_s, 0.0)
    if flow_m3_s <= 0.0:
        return Stage(0.0, 0.0, 0.0, outdoor_c, outdoor_c)
    density = outdoor_density * (outdoor_c + KELVIN) / (mixed_c + KELVIN)
    density = fan.standard_kg_m3 or density
    w_k = flow_m3_s * density * cp
    share = max(share, counted_m3_s / fan.flow_m3_s)
    return Stage(w_k, outdoor_m3_s * density, share, before_c, before_c + fan_heat_w / w_k)


def reference_year(
    room: Room, drives: np.ndarray, hours: Hours, store_kg: float, unit: CoolingUnit, fan: Fan,
    damper: Damper = NO_DAMPER, limits: Limits = NO_LIMITS,
) -> dict[str, np.ndarray]:  # fmt: skip
    """Hourly columns of a run from 20 degC and the first hour's outdoor humidity, without warm-up."""
    count = hours.outdoor_c.size
    rows = {name: np.zeros(count) for name in COLUMNS}
    x = np.full(room.capacity.size, START_C)
    w = float(hours.outdoor_w[0])
    was_open, hours_since_call, last_run = True, 1000, 0.0
    for i in range(count):
        u = drives[i]
        outdoor, outdoor_w, p = hours.outdoor_c[i], hours.outdoor_w[i], hours.pressure_pa[i]
        density, cp = hours.density_kg_m3[i], hours.heat_j_kgk[i]
        cool, warm, always = hours.cool_c[i], hours.heat_c[i], hours.continuous[i]

        kg_s = hours.air_change_kg_s[i]
        standing_heat = fan.watts * always
        w_k, heat = kg_s * cp, kg_s * cp * outdoor + standing_heat
        a = room.solve(x, u, w_k, heat)[-1]
        return_c = min(max(a, warm), cool)
        permitted = damper.fitted and opens(limits, was_open, hours, i, cool, return_c, w)
        counted_m3_s = hours.ventilation_m3_s[i] * always
        # The relief fan takes what comes in above this.
        minimum_m3_s = max(damper.minimum_share * fan.flow_m3_s, counted_m3_s)
        # A shut damper leaks while the fan runs, whatever the rule says, and the minimum comes in without one too;
        # neither is a gain of opening it.
        shut_share = max(damper.leakage * damper.fitted, damper.minimum_share)
        leak_m3_s = max(shut_share * fan.flow_m3_s - counted_m3_s, 0.0)
        leak_kg_s = leak_m3_s * density * max(always, last_run)
        shut_m3_s = counted_m3_s + leak_m3_s
        counted_m3_s += leak_m3_s * max(always, last_run)
        kg_s, w_k, heat = kg_s + leak_kg_s, w_k + leak_kg_s * cp, heat + leak_kg_s * cp * outdoor
        a = room.solve(x, u, w_k, heat)[-1]
        if hours.window_kg_s[i] > 0.0 and a > cool and outdoor < cool - 1.0:
            holding = -room.heat_to_hold(x, u, cool, w_k, heat) / ((cool - outdoor) * cp)
            window = min(hours.window_kg_s[i], holding)
            kg_s, w_k, heat = kg_s + window, w_k + window * cp, heat + window * cp * outdoor
            a = cool if holding <= hours.window_kg_s[i] else room.solve(x, u, w_k, heat)[-1]

        auto_w = fan.watts * (1.0 - always)
        fan_w, run, flow, heating, cooled, compressor_w = standing_heat, 0.0, 0.0, 0.0, 0.0, 0.0
        damper_kg_s = coil_kg_s = coil_share = w_dew = 0.0
        called = False
        if a < warm:
            heating = room.heat_to_hold(x, u, warm, w_k, heat)
        else:
            hold, carried = cool, a <= cool
            if permitted:
                depth = damper.precool_k if hours_since_call <= 24 else 0.0
                targets = [max(cool - depth, warm + 1.0)] if depth > 0.0 and warm + 1.0 < cool else []
                hold = cool + damper.offset_k
                for target in [*targets, cool]:
                    stage = first_stage(damper, fan, auto_w, counted_m3_s, outdoor, target, density, cp)
                    if a <= target or stage.w_k * (target - stage.supply_c) <= 0.0:
                        continue
                    need = -room.heat_to_hold(x, u, target, w_k, heat)
                    supply, speed = stage.supply_c, 1.0
                    share = min(1.0, need / (stage.w_k * (target - supply)))
                    if fan.variable and share < 1.0:
                        for _ in range(2):
                            speed = max(share, fan.least_flow)
                            supply = stage.before_c + auto_w * speed**1.5 / stage.w_k
                            share = min(1.0, need / (stage.w_k * (target - supply)))
                        speed = max(share, fan.least_flow)
                    open_w_k = share * stage.w_k
                    after = room.solve(x, u, w_k + open_w_k, heat + open_w_k * supply)[-1]
                    enough = share < 1.0 or after <= hold
                    if enough or damper.integrated:
                        flow, carried, damper_kg_s = share, enough, share * stage.outdoor_kg_s
                        w_k, heat = w_k + open_w_k, heat + open_w_k * supply
                        relieved_m3_s = max(stage.outdoor_share * fan.flow_m3_s - minimum_m3_s, 0.0)
                        fan_w += auto_w * share * speed**1.5 + damper.relief_w_m3_s * relieved_m3_s * share
                    else:
                        carried = False
                    break
                else:
                    carried = a <= hold
            if not carried:
                called = True
                need = -room.heat_to_hold(x, u, hold, w_k, heat)
                coil_share = stage.outdoor_share if flow > 0.0 else min(shut_m3_s / fan.flow_m3_s, 1.0)
                own_w = auto_w if flow == 0.0 else 0.0

                def coil_in(
                    room_c: float, machine: CoolingUnit = unit, part: float = 1.0, share: float = coil_share,
                    w: float = w, i: int = i, own_w: float = own_w,
                ) -> tuple[float, ...]:  # fmt: skip
                    """Capacity left for the room, power, bypass, dew point's humidity and air of a coil at full run."""
                    t_in = share * hours.outdoor_c[i] + (1.0 - share) * room_c
                    w_in = share * hours.outdoor_w[i] + (1.0 - share) * w
                    warmer = (hours.outdoor_c[i] + KELVIN) / (t_in + KELVIN)
                    kg_s = part * fan.flow_m3_s * (fan.standard_kg_m3 or hours.density_kg_m3[i] * warmer)
                    sensible, *more = full_coil(machine, kg_s, t_in, w_in, hours.outdoor_c[i], hours.pressure_pa[i])
                    return sensible - own_w * part**2.5, *more, kg_s

                capacity, power, bypass, w_dew, coil_total, through_coil = coil_in(hold)
                if capacity > 0.0:
                    shared = None
                    if capacity < need:
                        # The room stays warmer, and the coil sees it so.
                        def too_warm(
                            room_c: float, x: Any = x, u: Any = u, w_k: float = w_k, heat: float = heat,
                            coil_in: Callable[[float], tuple[float, ...]] = coil_in,
                        ) -> float:  # fmt: skip
                            return room_c - float(room.solve(x, u, w_k, heat - coil_in(room_c)[0])[-1])

                        room_c = bisect(too_warm, hold, room.solve(x, u, w_k, heat)[-1])
                        capacity, power, bypass, w_dew, coil_total, through_coil = coil_in(room_c)
                        need = capacity
                    elif unit.kind != SINGLE_SPEED:
                        # The fan follows the stage where it runs for the compressor alone.
                        slows = fan.variable and flow == 0.0 and always == 0.0
                        part = max(unit.low_flow, fan.least_flow) if slows else 1.0
                        low = coil_in(hold, slowed(unit), part)
                        if 0.0 < low[0] < need:
                            shared = between(unit, need, own_w, part, low, coil_in(hold))
                        elif low[0] > 0.0:
                            capacity, power, bypass, w_dew, coil_total, through_coil = low
                            own_w *= part**2.5
                    cooled = need
                    if shared is not None:
                        run, compressor_w, coil_kg_s, w_dew = 1.0, shared.power_w, shared.coil_kg_s, shared.w_dew
                        fan_w += own_w * shared.of_fan
                    else:
                        part_load, latent_share = cooled / capacity, 1.0
                        latent = coil_total - capacity - own_w
                        if always > 0.0 and w_dew > 0.0 and part_load < 1.0 and unit.re_evaporation.held_j > 0.0:
                            t_in = coil_share * outdoor + (1.0 - coil_share) * hold
                            w_in = coil_share * outdoor_w + (1.0 - coil_share) * w
                            depression = t_in - wet_bulb(t_in, w_in, p)
                            part_load, latent_share = with_evaporation(unit, capacity, latent, depression, need)
                        run = part_load / (1.0 - unit.degradation * (1.0 - part_load))
                        compressor_w = power * run
                        fan_w += own_w * run
                        # The coil's loads follow the load, only its electricity the run time.
                        coil_kg_s = part_load * latent_share * through_coil * (1.0 - bypass) if w_dew > 0.0 else 0.0

        x = room.solve(x, u, w_k, heat + heating - cooled)
        t = x[-1]

        from_room = coil_kg_s * (1.0 - coil_share)
        outdoor_kg_s = kg_s + damper_kg_s
        streams = outdoor_kg_s + from_room
        brought = (
            outdoor_kg_s * outdoor_w - coil_kg_s * coil_share * (outdoor_w - w_dew) + from_room * w_dew
            + hours.moisture_kg_s[i]
        )  # fmt: skip
        rate = streams * HOUR_S / store_kg
        level = brought / streams
        w_after = level + (w - level) * math.exp(-rate)
        w_mean = level + (w - level) * (1.0 - math.exp(-rate)) / rate
        excess = max(w_after - saturated_w(t, p), 0.0)
        drawn = coil_kg_s * (coil_share * outdoor_w + (1.0 - coil_share) * w_mean - w_dew)
        w = w_after - excess

        values = (t, w, compressor_w, fan_w, heating, cooled, permitted, flow, run, store_kg * excess,
                  damper_kg_s * (outdoor_w - w_mean) * HOUR_S, drawn * HOUR_S, called)  # fmt: skip
        for name, value in zip(COLUMNS, values, strict=True):
            rows[name][i] = value
        was_open, last_run = permitted, run
        hours_since_call = 0 if called else hours_since_call + 1
    return rows
