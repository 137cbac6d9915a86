"""When the damper may open: published changeover points, sensor slack, hysteresis, sensor errors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from freecool.answers.rules import is_code_changeover, limits_of
from freecool.cases.rules import FIXED_DRY_BULB_F, RULES, enthalpy_limit
from freecool.cases.sections import RuleCase
from freecool.core import air
from freecool.core.units import convert, parse
from freecool.physics.rule import Limits, dry_bulb_hours, permits

if TYPE_CHECKING:
    from conftest import Outside


SEA_LEVEL_PA = 101_325.0
ROOM_F = 75.0
GRAINS_PER_LB = 7000.0


def celsius(fahrenheit: float) -> float:
    return parse(f"{fahrenheit} F", "temperature")


def btu_lb(dry_bulb_c: float, w: float) -> float:
    return convert(float(air.enthalpy(dry_bulb_c, w)), "specific_enthalpy", "Btu/lb")


def opens(
    limits: Limits,
    dry_bulb_f: float,
    w: float,
    *,
    was_open: bool = True,
    return_f: float = ROOM_F,
    return_w: float | None = None,
    p: float = SEA_LEVEL_PA,
) -> bool:
    """Whether the rule opens to outdoor air, in a 75 degF room whose return air is at 50 % RH unless told."""
    t, return_c = celsius(dry_bulb_f), celsius(return_f)
    if return_w is None:
        return_w = float(air.humidity_ratio_from_relative_humidity(return_c, 0.5, p))
    return bool(
        permits(
            limits,
            air.saturation_table(),
            was_open,
            t,
            w,
            celsius(ROOM_F),
            return_c,
            return_w,
            p,
        )
    )


def named(name: str, differential: str = "0F", **told: str) -> Limits:
    return limits_of(RuleCase(name=name, differential=differential, **told), SEA_LEVEL_PA)


RULES_TO_TRY = [named(name) for name in RULES]
BARE_ENTHALPY = Limits(enthalpy_max_j_kg=parse("28 Btu/lb", "specific_enthalpy"))
# ASHRAE 140 section 11 weather points: dry bulb, dew point [degF].
MILD, HOT, DRY_WARM, MUGGY = (59.9, 26.6), (80.4, 71.8), (76.8, 36.3), (73.4, 69.6)


def at_dew_point(dew_point_f: float) -> float:
    return float(air.humidity_ratio_from_dew_point(celsius(dew_point_f), SEA_LEVEL_PA))


@pytest.mark.parametrize("limits", [*RULES_TO_TRY, BARE_ENTHALPY], ids=[*RULES, "bare enthalpy"])
def test_mild_air_opens_every_rule_and_hot_air_none(limits: Any) -> None:
    assert opens(limits, MILD[0], at_dew_point(MILD[1]))
    assert not opens(limits, HOT[0], at_dew_point(HOT[1]))


@pytest.mark.parametrize("limits", RULES_TO_TRY, ids=RULES)
def test_warm_dry_air_opens_a_bare_enthalpy_limit_only(limits: Any, outside: Outside) -> None:
    w = at_dew_point(DRY_WARM[1])
    outside("enthalpy at 76.8/36.3 °F [Btu/lb]", "ASHRAE 140 section 11 point", 23.35, btu_lb(celsius(76.8), w), 0.03)
    assert opens(BARE_ENTHALPY, DRY_WARM[0], w)
    assert not opens(limits, DRY_WARM[0], w)


def test_muggy_air_opens_a_dry_bulb_rule_only(outside: Outside) -> None:
    w = at_dew_point(MUGGY[1])
    outside("enthalpy at 73.4/69.6 °F [Btu/lb]", "ASHRAE 140 section 11 point", 34.63, btu_lb(celsius(73.4), w), 0.05)
    assert opens(named("differential"), MUGGY[0], w)
    assert opens(named("fixed-dry-bulb"), MUGGY[0], w)
    for shut in (
        named("differential", "5F"),
        named("fixed-enthalpy"),
        named("differential-enthalpy"),
        named("dew-point"),
        BARE_ENTHALPY,
    ):
        assert not opens(shut, MUGGY[0], w)


def test_return_air_example(outside: Outside) -> None:
    """Return air 76 °F with 68 gr/lb, outdoor air 78 °F with 60: warmer outside, yet less enthalpy."""
    inside, out = 68.0 / GRAINS_PER_LB, 60.0 / GRAINS_PER_LB
    source = "0.240 t + W (1061 + 0.444 t), ASHRAE Fundamentals (2017) ch. 1 eq. 30 (IP)"
    outside("enthalpy at 76 °F, 68 gr/lb [Btu/lb]", source, 28.87, btu_lb(celsius(76.0), inside), 0.02)
    outside("enthalpy at 78 °F, 60 gr/lb [Btu/lb]", source, 28.11, btu_lb(celsius(78.0), out), 0.02)
    here = {"return_f": 76.0, "return_w": inside}
    assert opens(Limits(enthalpy_below_return_j_kg=0.0), 78.0, out, **here)  # type: ignore[arg-type]
    assert not opens(Limits(enthalpy_below_return_j_kg=parse("1 Btu/lb", "enthalpy_difference")), 78.0, out, **here)  # type: ignore[arg-type]
    assert not opens(named("differential-enthalpy"), 78.0, out, **here)  # type: ignore[arg-type]
    assert not opens(named("return-differential"), 78.0, out, **here)  # type: ignore[arg-type]


def test_enthalpy_trap(outside: Outside) -> None:
    """Inch-pound enthalpy is zero at 0 °F, SI at 0 °C."""
    told = RuleCase(name="fixed-enthalpy", enthalpy_limit="28 Btu/lb")
    got = limits_of(told, SEA_LEVEL_PA).enthalpy_max_j_kg / 1e3
    outside("28 Btu/lb in SI [kJ/kg]", "28 Btu/lb is 75 °F, 50 % RH, less rounding; datum 0.240 x 32", 47.25, got, 0.05)
    outside("28 Btu/lb in SI [kJ/kg]", "California Title 24 writes 47 kJ/kg, from memory", 47.0, got, 0.5)


def test_enthalpy_limit_at_altitude(outside: Outside) -> None:
    pressure = float(air.pressure_at_elevation(parse("6000 ft", "length")))
    source = "ASHRAE 90.1-2010 table 6.5.1.1.3B, note"
    outside(
        "fixed enthalpy limit, 6,000 ft [Btu/lb]",
        source,
        30.7,
        convert(enthalpy_limit(pressure), "specific_enthalpy", "Btu/lb"),
        0.05,
    )
    outside(
        "fixed enthalpy limit, sea level [Btu/lb]",
        source,
        28.0,
        convert(enthalpy_limit(SEA_LEVEL_PA), "specific_enthalpy", "Btu/lb"),
        0.15,
    )


@pytest.mark.parametrize(
    "name", ["differential", "return-differential", "fixed-dry-bulb", "fixed-enthalpy", "dew-point"]
)
def test_a_reading_on_the_limit_opens_and_a_tenth_above_does_not(name: str) -> None:
    limits = named(name, "5F")
    on = ROOM_F - 5.0 if "differential" in name else 75.0
    dry = at_dew_point(30.0)
    assert opens(limits, on, dry)
    assert opens(limits, on + 1e-10, dry)
    assert not opens(limits, on + 0.1, dry)


def test_low_limit_and_dew_point_limit() -> None:
    limits = named("differential", low_limit="40F", dew_point_limit="55F")
    assert opens(limits, 40.0, at_dew_point(30.0))
    assert not opens(limits, 39.9, at_dew_point(30.0))
    assert opens(limits, 60.0, at_dew_point(55.0) * 0.9999)
    assert not opens(limits, 60.0, at_dew_point(55.2))


def test_hysteresis() -> None:
    """Once shut at 70 °F it opens again at 68 °F, and stays open to 70 °F."""
    limits, dry = named("differential", "5F", reset="2F"), at_dew_point(30.0)
    assert opens(limits, 69.0, dry, was_open=True)
    assert not opens(limits, 69.0, dry, was_open=False)
    assert opens(limits, 68.0, dry, was_open=False)
    fixed = named("fixed-dry-bulb", reset="2F")
    assert opens(fixed, 74.0, dry, was_open=True)
    assert not opens(fixed, 74.0, dry, was_open=False)


def test_return_sensor_errors(outside: Outside) -> None:
    """A return sensor 2 °F and 4 % RH high lets in 2.08 Btu/lb more."""
    error = {"return_error_k": parse("2 F", "difference"), "return_error_rh": 0.04}
    limits = Limits(enthalpy_below_return_j_kg=0.0, **error)  # type: ignore[arg-type]
    room = celsius(ROOM_F)
    rh = np.linspace(0.0, 1.0, 2001)
    w = air.humidity_ratio_from_relative_humidity(room, rh[1:], SEA_LEVEL_PA)
    let_in = [value for value in w if opens(limits, ROOM_F, float(value))]
    half = float(air.humidity_ratio_from_relative_humidity(room, 0.5, SEA_LEVEL_PA))
    outside(
        "+2 °F and +4 % RH at 75 °F, 50 % RH [Btu/lb]",
        "arithmetic of eq. 30; error set Taylor & Cheng (2010)",
        2.08,
        btu_lb(room, max(let_in)) - btu_lb(room, half),
        0.02,
    )
    assert opens(Limits(differential_k=0.0, from_return_air=True, return_error_k=1.0), ROOM_F + 1.7, half)
    assert not opens(Limits(differential_k=0.0, from_return_air=True, return_error_k=1.0), ROOM_F + 1.9, half)


@pytest.mark.parametrize(("rh", "dew_point_f"), [(0.8, 60.1), (1.0, 62.3)])
def test_an_enthalpy_limit_is_no_humidity_limit(rh: float, dew_point_f: float, outside: Outside) -> None:
    """The dampest air that 28 Btu/lb lets in, along a line of equal relative humidity."""
    dry_bulb = np.linspace(55.0, 75.0, 20_001)
    t = (dry_bulb - 32.0) / 1.8
    w = air.humidity_ratio_from_relative_humidity(t, rh, SEA_LEVEL_PA)
    inside = air.enthalpy(t, w) <= BARE_ENTHALPY.enthalpy_max_j_kg
    last = int(np.flatnonzero(inside)[-1])
    assert opens(BARE_ENTHALPY, dry_bulb[last], float(w[last]))
    assert not opens(BARE_ENTHALPY, dry_bulb[last + 1], float(w[last + 1]))
    dew = convert(float(air.dew_point_from_humidity_ratio(w[last], SEA_LEVEL_PA)), "temperature", "F")
    outside(
        f"dew point at 28 Btu/lb, {rh:.0%} RH [°F]", "psychrometric chart, ASHRAE Fundamentals", dew_point_f, dew, 0.1
    )


# ASHRAE 90.1-2016 table 6.5.1.1.3, fixed dry bulb.
@pytest.mark.parametrize(
    ("zone", "fahrenheit"), [("3B", 75.0), ("7", 75.0), ("5A", 70.0), ("6A", 70.0), ("4A", 65.0), ("1A", 65.0)]
)
def test_fixed_dry_bulb_follows_the_climate_zone(zone: str, fahrenheit: float) -> None:
    limits = limits_of(RuleCase(name="fixed-dry-bulb"), SEA_LEVEL_PA, zone)
    assert limits.dry_bulb_max_c == pytest.approx(celsius(fahrenheit))
    assert is_code_changeover(limits, zone)
    assert not is_code_changeover(limits._replace(dry_bulb_max_c=celsius(fahrenheit + 1.0)), zone)


@pytest.mark.parametrize("zone", list(FIXED_DRY_BULB_F))
def test_a_differential_is_no_code_changeover_in_warm_humid_zones(zone: Any) -> None:
    """ASHRAE 90.1-2016 table 6.5.1.1.3: all zones but 1A 2A 3A 4A."""
    assert is_code_changeover(named("return-differential"), zone) == (zone not in ("0A", "1A", "2A", "3A", "4A"))
    assert is_code_changeover(named("differential-enthalpy"), zone)


def test_an_explicit_limit_replaces_the_named_one() -> None:
    limits = named("fixed-dry-bulb", high_limit="68F")
    assert limits.dry_bulb_max_c == pytest.approx(20.0)


DRY_BULB_RULES = {
    "differential": Limits(differential_k=2.0),
    "differential, sensor high": Limits(differential_k=2.0, outdoor_error_k=0.7),
    "fixed": Limits(dry_bulb_max_c=21.0, outdoor_error_k=-0.3),
    "fixed with a low limit": Limits(dry_bulb_max_c=21.0, dry_bulb_min_c=10.0),
}


@pytest.mark.parametrize("name", DRY_BULB_RULES)
def test_hours_known_beforehand_are_those_that_open_one_by_one(name: Any) -> None:
    limits, table = DRY_BULB_RULES[name], air.saturation_table()
    outdoor = np.round(np.arange(-5.0, 35.0, 0.1), 1)
    set_point = np.where(np.arange(outdoor.size) % 2 == 0, 24.0, 27.0)
    known = dry_bulb_hours(limits, outdoor, set_point)
    one_by_one = [
        permits(limits, table, True, t, 0.008, cool, cool, 0.008, 101_325.0)
        for t, cool in zip(outdoor, set_point, strict=True)
    ]
    assert known is not None
    assert known.tolist() == one_by_one
    assert 0 < known.sum() < known.size


@pytest.mark.parametrize(
    "limits",
    [
        Limits(differential_k=1.0, from_return_air=True),
        Limits(differential_k=1.0, reset_k=0.5),
        Limits(dew_point_max_c=13.0),
        Limits(enthalpy_max_j_kg=47_000.0),
        Limits(enthalpy_below_return_j_kg=0.0),
    ],
)
def test_hours_are_not_known_beforehand_of_a_rule_that_reads_more(limits: Any) -> None:
    assert dry_bulb_hours(limits, np.array([10.0]), np.array([24.0])) is None
