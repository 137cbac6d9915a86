"""The cells, units and schedules of ASHRAE 140 section 5.3 (HVAC BESTEST), built straight from the physics.

Inputs as public repositories carry them: BESTEST-GSR (commit c82e3718) and public test reports of these cases. The maps
are the published least-squares fits of the specification's tables.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from freecool import Weather
from freecool.core import air
from freecool.physics.cooling_unit import (
    RATING_INDOOR_C,
    RATING_WET_BULB_C,
    STANDARD_PRESSURE_PA,
    CoolingUnit,
    Curve,
    coil_transfer,
    rating_humidity_ratio,
)
from freecool.physics.damper import Damper, Fan
from freecool.physics.rule import Limits
from freecool.physics.year import Hours, YearRun, Zone, simulate
from freecool.physics.zone import Network, modes_of

NEVER_C = 1e6
HOUR_S, KWH = 3600.0, 3.6e6
# Dry air of 20 degC: the unit moves a constant mass.
STANDARD_KG_M3 = 1.204
AIR_HEAT_J_KGK = 1006.0
# Latent heat becomes water by the vapour's enthalpy at 25 degC, as a coil's latent load is reckoned [J/kg].
VAPOUR_J_KG = 2_501_000.0 + 1860.0 * 25.0
# 80 and 67 degF, printed as 26.7 and 19.4 degC in the cases, and the rated flow a volume of such air: so the engine
# reads every nameplate. With the rounded point and standard air instead, the coils dry 3 % more and twelve of 28
# figures of the family lie up to 1.4 % beside their ranges.
RATING_C = (RATING_INDOOR_C, RATING_WET_BULB_C)
RATING_KG_M3 = float(air.dry_air_density(RATING_C[0], rating_humidity_ratio(*RATING_C), STANDARD_PRESSURE_PA))


class Figures(NamedTuple):
    """What a year of a CE300 case comes to."""

    compressor_and_condenser_kwh: float
    latent_coil_kwh: float
    sensible_coil_kwh: float
    humidity_ratio: float
    indoor_c: float
    cop2: float
    gained_kg: float
    """Water that the room's gains bring."""
    drawn_kg: float
    """Water that the coil takes."""
    kept_kg: float
    """Water that the room's air holds more at the end than at the start, and what condensed at surfaces."""


def unit_of(
    capacity_w: float, power_w: float, share: float, mass_flow: float,
    capacity: Curve, ratio: Curve, wet_bulb_c: tuple[float, float], outdoor_c: tuple[float, float],
) -> CoolingUnit:  # fmt: skip
    return CoolingUnit(
        capacity_w, power_w, capacity, ratio, True, coil_transfer(capacity_w, mass_flow, share, *RATING_C), 0.229,
        -np.inf, wet_bulb_c, outdoor_c,
    )  # fmt: skip


CE100_FAN = Fan(0.425, 230.0, False, 1.0, STANDARD_KG_M3)
CE100_UNIT = unit_of(
    8181.0, 1858.0 + 108.0, 0.7776, 0.425 * RATING_KG_M3,
    (0.43863482, 0.04259180, 0.00015024, 0.00100248, -0.00003314, -0.00046664),
    (0.77127580, -0.02218018, 0.00074086, 0.01306849, 0.00039124, -0.00082052),
    (13.0, 23.7), (27.4, 48.1),
)  # fmt: skip
CE300_FAN = Fan(1.888, 1242.0, False, 1.0, STANDARD_KG_M3)
# The specification lets the map be extrapolated.
CE300_UNIT = unit_of(
    33280.0, 10000.0 + 930.0, 0.78245, 1.888 * RATING_KG_M3,
    (0.825119244, 0.014461436, 0.000525383, -0.003805859, -2.71284e-5, -0.000198505),
    (0.630055851, -0.011998189, 0.000136923, 0.014636637, 0.000164506, -0.000238463),
    (0.0, 100.0), (0.0, 100.0),
)  # fmt: skip
CE100_VOLUME_M3, CE100_UA_W_K = 129.6, 1.713
CE300_VOLUME_M3, CE300_UA_W_K = 588.0, 1.722
OUTDOOR_AIR_M3_S = 0.2832
# January warms up, February is reported.
CE100_HOURS, CE100_REPORTED = 59 * 24, 28 * 24


def zone_of(
    volume_m3: float, ua_w_k: float, outdoor_c: NDArray[np.float64], gain_w: NDArray[np.float64], **hours: object
) -> Zone:
    """A cell of air alone: one node, whose gains are all convective."""
    capacity = volume_m3 * STANDARD_KG_M3 * AIR_HEAT_J_KGK
    whole = capacity / HOUR_S + ua_w_k
    network = Network(
        np.array([[capacity / HOUR_S / whole]]), np.array([[ua_w_k / whole, 1.0 / whole]]), np.array([1.0 / whole]),
        1.0, np.array([capacity]),
    )  # fmt: skip
    modes = modes_of(network)
    forced = np.column_stack((outdoor_c, gain_w)) @ modes.G.T
    return Zone(modes, Hours(forced, outdoor_c=outdoor_c, **hours), volume_m3 * STANDARD_KG_M3)  # type: ignore[arg-type]


def run_ce100(sensible_w: float, latent_w: float, set_point_c: float, outdoor_c: float) -> float:
    """Total electricity of February [kWh] of a steady cell, given gains, set point and outdoor dry bulb."""
    one = np.ones(CE100_HOURS)
    pressure = 101_325.0
    w = float(air.humidity_ratio_from_dew_point(14.0, pressure))
    zone = zone_of(
        CE100_VOLUME_M3, CE100_UA_W_K, outdoor_c * one, sensible_w * one,
        outdoor_w=w * one, outdoor_dew_c=14.0 * one, pressure_pa=pressure * one, density_kg_m3=STANDARD_KG_M3 * one,
        heat_j_kgk=AIR_HEAT_J_KGK * one, air_change_kg_s=0.0 * one, ventilation_m3_s=0.0 * one, window_kg_s=0.0 * one,
        moisture_kg_s=latent_w / VAPOUR_J_KG * one, cool_c=set_point_c * one, heat_c=-NEVER_C * one,
        continuous=0.0 * one, occupied=one > 0.0, price=0.0 * one,
        year=np.zeros(CE100_HOURS, dtype=np.int64),
    )  # fmt: skip
    run = simulate(zone, CE100_UNIT, CE100_FAN, hourly=True, warm_up=False)
    watts = run.column("compressor_w") + run.column("fan_w")
    return float(watts[-CE100_REPORTED:].sum()) / 1000.0


class Economizer(NamedTuple):
    """When the damper may open beyond the minimum."""

    words: str
    limits: Limits
    integrated: bool = True


BELOW_RETURN = Limits(differential_k=0.0, from_return_air=True)
ECONOMIZERS = {
    "CE400": Economizer("dry bulb below return air's", BELOW_RETURN),
    "CE410": Economizer("as CE400, compressor never with the damper", BELOW_RETURN, integrated=False),
    "CE420": Economizer("and below 20 degC", BELOW_RETURN._replace(dry_bulb_max_c=20.0)),
    "CE430": Economizer("enthalpy below return air's", Limits(enthalpy_below_return_j_kg=0.0)),
    "CE440": Economizer(
        "enthalpy below 47.25 kJ/kg", Limits(enthalpy_max_j_kg=47_250.0, enthalpy_below_return_j_kg=0.0)
    ),
}


class Case(NamedTuple):
    """How a CE300 case differs from the base case: schedules by name, with their peaks."""

    sensible: str = "sens_mid"
    sensible_w: float = 18_758.0
    latent: str = "lat_mid"
    latent_w: float = 1_466.0
    set_point_c: float = 25.0
    infiltration: tuple[str, float] | None = None
    """Schedule and air changes an hour."""
    outdoor_air: tuple[str, float] = ("always", OUTDOOR_AIR_M3_S)
    set_point: str = "always"
    continuous: bool = True
    short_summer: bool = False


NO_AIR = ("always", 0.0)
CYCLING = Case(
    sensible="sens_mid2", latent="sens_mid2", latent_w=7_621.0, outdoor_air=NO_AIR, continuous=False, short_summer=True
)
DRY = CYCLING._replace(latent_w=0.0)
FAMILY = {
    "CE300": Case(),
    "CE310": Case(latent="lat_high", latent_w=9_379.0),
    "CE320": Case(infiltration=("infil_320", 11.558), outdoor_air=NO_AIR),
    "CE330": Case(outdoor_air=("oa_330", 1.888)),
    "CE340": Case(infiltration=("infil_340", 5.779), outdoor_air=("oa_340", 1.888)),
    "CE350": Case(set_point="cool_350"),
    "CE360": Case(sensible="sens_high", sensible_w=29_310.0),
    **dict.fromkeys(ECONOMIZERS, Case()),
    "CE500": CYCLING,
    "CE510": CYCLING._replace(sensible="sens_high2", sensible_w=21_103.0, latent="sens_high2", latent_w=8_573.0),
    "CE520": CYCLING._replace(set_point_c=15.0),
    "CE522": CYCLING._replace(set_point_c=20.0),
    "CE525": CYCLING._replace(set_point_c=35.0),
    "CE530": DRY,
    "CE540": DRY._replace(set_point_c=15.0),
    "CE545": DRY._replace(set_point_c=35.0),
}

# By period of the year, what share of its peak a schedule has, as "share until hour".
SUMMER = ".375 to 8, .5 to 12, .75 to 14, 1 to 16, .5 to 20, .375"
SCHEDULES = {
    "always": dict.fromkeys("wabscd", "1"),
    "sens_mid": {
        "w": ".15625", "a": ".15625 to 9, .375 to 18, .15625", "b": ".15625 to 8, .5 to 19, .15625", "s": SUMMER,
        "c": ".15625 to 8, .5 to 16, .15625", "d": ".15625 to 8, .5 to 12, .75 to 14, 1 to 16, .5 to 20, .375",
    },
    "lat_mid": {
        "w": "0 to 8, .25 to 20, 0", "a": "0 to 9, 1 to 18, 0", "b": "0 to 8, 1 to 19, 0", "s": "0 to 8, 1 to 20, 0",
        "c": "0 to 8, 1 to 16, 0", "d": "0 to 8, 1 to 20, 0",
    },
    "lat_high": {
        "w": "0 to 8, .15625 to 20, 0", "a": "0 to 9, .75 to 18, 0", "b": "0 to 8, .75 to 19, 0",
        "s": ".75 to 12, 1 to 16, .75", "c": "0 to 8, .75 to 16, 0", "d": ".15625 to 8, .75 to 12, 1 to 16, .75",
    },
    "sens_high": {
        "w": ".1", "a": ".1 to 9, .24 to 18, .1", "b": ".1 to 8, .32 to 19, .1", "s": "1",
        "c": ".1 to 8, .32 to 16, .1", "d": ".1 to 8, .32 to 12, .48 to 14, .64 to 16, .32 to 20, .24",
    },
    "sens_mid2": {
        "w": "0", "a": "0 to 9, .375 to 16, 0", "b": "0 to 8, .5 to 17, 0", "s": SUMMER, "c": "0 to 8, .5 to 14, 0",
        "d": "0 to 8, .5 to 12, .75 to 14, 1 to 16, .5 to 20, .375",
    },
    "sens_high2": {
        "w": "0", "a": "0 to 9, .33333 to 16, 0", "b": "0 to 8, .44444 to 17, 0", "s": "1",
        "c": "0 to 8, .44444 to 14, 0", "d": "0 to 8, .44444 to 12, .66667 to 14, .88889 to 16, .44444 to 20, .33333",
    },
    "infil_320": {**dict.fromkeys("wabcd", ".15"), "s": ".15 to 8, 1 to 20, .15"},
    "infil_340": {**dict.fromkeys("wabcd", "0"), "s": "0 to 8, 1 to 20, 0"},
    "oa_330": {**dict.fromkeys("wabcd", ".15"), "s": ".15 to 8, 1 to 20, .15"},
    "oa_340": {**dict.fromkeys("wabcd", ".15"), "s": ".15 to 8, .5 to 20, .15"},
    "cool_350": {**dict.fromkeys("wabcd", "25"), "s": "35 to 7, 25 to 20, 35"},
}  # fmt: skip


def period_of(day: np.datetime64, short_summer: bool) -> str:
    """The period of the year that a day of 2001 belongs to; both ends of a span count."""
    date = str(day)[5:]
    c_starts = "10-12" if short_summer else "10-13"
    spans = (("03-11", "04-10", "a"), ("04-12", "04-20", "b"), ("04-21", "", "s"), (c_starts, "10-18", "c"),
             ("10-19", "11-05", "d"))  # fmt: skip
    for first, last, name in reversed(spans):
        if first <= date and (date <= last if last else date < c_starts):
            return name
    return "w"


def day_of(text: str) -> list[float]:
    """24 values, given "share to hour, share to hour, share"."""
    values: list[float] = []
    for piece in text.split(","):
        share, _, until = piece.strip().partition(" to ")
        values += [float(share)] * (int(until or 24) - len(values))
    return values


def schedule(name: str, short_summer: bool = False) -> NDArray[np.float64]:
    """8,760 values of a schedule."""
    days = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    return np.concatenate([day_of(SCHEDULES[name][period_of(day, short_summer)]) for day in days])


def run_ce300(case: str, weather: Weather) -> Figures:
    """The year of a case of the CE300 family, given its name and the weather CE300TM2."""
    told = FAMILY[case]
    frame = weather.frame
    outdoor, dew, pressure = (frame[name].to_numpy(float) for name in ("dry_bulb_c", "dew_point_c", "pressure_pa"))
    w = air.humidity_ratio_from_dew_point(dew, pressure)
    one = np.ones(outdoor.size)
    moisture = told.latent_w / VAPOUR_J_KG * schedule(told.latent, told.short_summer)
    gain = told.sensible_w * schedule(told.sensible, told.short_summer)
    ventilation = told.outdoor_air[1] * schedule(told.outdoor_air[0])
    leaks = 0.0 * one
    if told.infiltration is not None:
        leaks = told.infiltration[1] * CE300_VOLUME_M3 / HOUR_S * schedule(told.infiltration[0])
    set_point = schedule(told.set_point) * (told.set_point_c if told.set_point == "always" else 1.0)
    zone = zone_of(
        CE300_VOLUME_M3, CE300_UA_W_K, outdoor, gain,
        outdoor_w=w, outdoor_dew_c=dew, pressure_pa=pressure, density_kg_m3=STANDARD_KG_M3 * one,
        heat_j_kgk=air.heat_capacity(w), air_change_kg_s=(ventilation + leaks) * STANDARD_KG_M3,
        ventilation_m3_s=ventilation, window_kg_s=0.0 * one, moisture_kg_s=moisture, cool_c=set_point,
        heat_c=-NEVER_C * one, continuous=one * told.continuous, occupied=one > 0.0, price=0.0 * one,
        year=np.zeros(outdoor.size, dtype=np.int64),
    )  # fmt: skip
    base = simulate(zone, CE300_UNIT, CE300_FAN, hourly=True)
    if case not in ECONOMIZERS:
        return figures_of(base, zone)
    rule = ECONOMIZERS[case]
    damper = Damper(True, 1.0, 0.0, -NEVER_C, rule.integrated, 0.0, 0.0, NEVER_C)
    return figures_of(simulate(zone, CE300_UNIT, CE300_FAN, damper, rule.limits, base, hourly=True), zone)


def figures_of(run: YearRun, zone: Zone) -> Figures:
    """The figures of a run's hourly table."""
    compressor = float(run.column("compressor_w").sum()) / 1000.0
    drawn_kg = float(run.column("moisture_coil_kg").sum())
    latent = drawn_kg * VAPOUR_J_KG / KWH
    fan_in_call = run.column("run_time") * CE300_FAN.watts * (1.0 - zone.hours.continuous)
    sensible = float((run.column("cooling_w") + fan_in_call).sum()) / 1000.0
    kept_kg = zone.store_kg * float(run.column("humidity_ratio")[-1] - run.start[1])
    return Figures(
        compressor, latent, sensible, float(run.column("humidity_ratio").mean()), float(run.column("indoor_c").mean()),
        (latent + sensible) / compressor, float(zone.hours.moisture_kg_s.sum()) * HOUR_S, drawn_kg,
        kept_kg + float(run.column("condensate_kg").sum()),
    )  # fmt: skip
