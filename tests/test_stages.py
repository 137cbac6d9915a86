"""Two-stage and variable-speed compressors against the rating standard's bins, their nameplates and their limits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from reference_year import full_coil, slowed
from test_unit import BINS, FAN_W, FLOW_M3_S, SEA_LEVEL_PA, TABLE, celsius, run, unit

from freecool.answers.break_even import break_even_differential
from freecool.answers.estimate import estimate
from freecool.answers.prepare import prepare
from freecool.cases.model import make_case
from freecool.core import air
from freecool.core.errors import CaseError
from freecool.core.units import BTU_H_W, TON_W
from freecool.physics.cooling_unit import (
    DEW_POINT_START_C,
    SINGLE_SPEED,
    TWO_STAGE,
    VARIABLE_SPEED,
    WET_BULB_START_C,
    CoolingUnit,
    low_stage,
)
from freecool.physics.damper import Fan
from freecool.physics.hour import CompressorStage, DamperStage, Hour, ZoneAir, compressor_stage
from freecool.physics.year import YearRun, run_year, simulate
from freecool.weather import Weather, open_weather

LOW, MIDDLE = (1.3 * TON_W, 15.0 * BTU_H_W), (2.0 * TON_W, 14.0 * BTU_H_W)
TWO = unit(kind=TWO_STAGE, low_point=LOW, low_flow=0.6)
VARIABLE = unit(kind=VARIABLE_SPEED, low_point=LOW, low_flow=0.6)
THREE_POINTS = unit(kind=VARIABLE_SPEED, low_point=LOW, low_flow=0.6, middle_point=MIDDLE)
KINDS = {"two-stage": TWO, "variable-speed": VARIABLE, "variable-speed, three points": THREE_POINTS}
ROOM_C = celsius(80.0)
# So dry that nothing condenses: then a need of sensible heat is a need of the rating standard's total heat.
DRY = 0.003


def hour_of(outdoor_f: float, w: float, continuous: float = 0.0) -> Hour:
    t = celsius(outdoor_f)
    return Hour(
        t, w, SEA_LEVEL_PA, float(air.dry_air_density(t, w, SEA_LEVEL_PA)), float(air.heat_capacity(w)), 0.0, 0.0, 0.0,
        0.0, ROOM_C, 0.0, continuous,
    )  # fmt: skip


def staged(
    machine: CoolingUnit, need_w: float, outdoor_f: float, w: float = DRY, fan_w: float = FAN_W, opened: bool = False
) -> CompressorStage:
    """The compressor in an hour of a room at 80 °F."""
    response = 0.001
    floating = ZoneAir(ROOM_C + response * need_w, response, 0.0, 0.0, 0.0)
    damped = DamperStage(floating, float(opened), float(opened), 0.0, 0.0, ROOM_C)
    fan = Fan(FLOW_M3_S, FAN_W, True, 0.4)
    hour = hour_of(outdoor_f, w)
    stage: CompressorStage = compressor_stage(
        damped, machine, fan, fan_w, hour, 0.0, w, TABLE, WET_BULB_START_C, DEW_POINT_START_C
    )
    return stage


def points(machine: CoolingUnit, outdoor_f: float, fan_w: float) -> list[tuple[float, float]]:
    """Net capacity and whole-unit power [W] at the low and the high stage, in dry air and by bisection."""
    found = []
    for stage, part in ((slowed(machine), machine.low_flow), (machine, 1.0)):
        density = float(air.dry_air_density(celsius(outdoor_f), DRY, SEA_LEVEL_PA))
        kg_s = part * FLOW_M3_S * density * (celsius(outdoor_f) + 273.15) / (ROOM_C + 273.15)
        sensible, power, *_ = full_coil(stage, kg_s, ROOM_C, DRY, celsius(outdoor_f), SEA_LEVEL_PA)
        of_fan = fan_w * part**2.5
        found.append((sensible - of_fan, power + of_fan))
    return found


def seasonal(
    machine: CoolingUnit, fan_w: float, between: Callable[[float, tuple[float, float], tuple[float, float]], float]
) -> tuple[float, float]:
    """Cooling over energy [Btu/Wh] in all bins: by the standard's equations, and by ours.

    10 CFR 430 subpart B appendix M1 section 4.1, AHRI 210/240 (from memory): the building's load is a line from 65 degF
    to the rated capacity over 1.1 at 95 degF; below the low capacity the unit cycles, above the high one it runs.
    """
    rated_w = points(machine, 95.0, fan_w)[1][0]
    cooling = energy = ours = 0.0
    for outdoor_f, hours in BINS.items():
        load = (outdoor_f - 65.0) / 30.0 * rated_w / 1.1
        low, high = points(machine, outdoor_f, fan_w)
        if load <= low[0]:
            ratio = load / low[0]
            power = ratio * low[1] / (1.0 - machine.degradation * (1.0 - ratio))
        elif load < high[0]:
            power = between(load, low, high)
        else:
            load, power = high
        cooling, energy = cooling + hours * load, energy + hours * power
        stage = staged(machine, load, outdoor_f, fan_w=fan_w)
        ours += hours * (stage.power_w + stage.fan_w)
    return cooling / energy / BTU_H_W, cooling / ours / BTU_H_W


def alternating(load: float, low: tuple[float, float], high: tuple[float, float]) -> float:
    """Two capacities share the hours of a bin, no loss by starts: appendix M1 section 4.1.3.2 (from memory)."""
    low_part = (high[0] - load) / (high[0] - low[0])
    return low_part * low[1] + (1.0 - low_part) * high[1]


def settled(load: float, low: tuple[float, float], high: tuple[float, float]) -> float:
    """Efficiency is a line in capacity: appendix M1 section 4.1.4.2 (from memory)."""
    first, last = low[0] / low[1], high[0] / high[1]
    return load / (first + (last - first) * (load - low[0]) / (high[0] - low[0]))


def test_seasonal_efficiency_of_two_stages_is_that_of_the_bin_method(outside: Any) -> None:
    by_hand, ours = seasonal(TWO, FAN_W, alternating)
    outside("SEER by bins, two stages [Btu/Wh]", "10 CFR 430 B appendix M1 4.1.3, from memory", by_hand, ours, 1e-5)
    assert ours > 1.05 * seasonal(unit(), FAN_W, alternating)[1]


def test_seasonal_efficiency_of_variable_speed_is_that_of_the_bin_method(outside: Any) -> None:
    """Ours counts the fan apart, by its own law: with the fan inside the line the standard differs by under 1 %."""
    by_hand, ours = seasonal(VARIABLE, 0.0, settled)
    outside(
        "SEER by bins, variable speed, without fan [Btu/Wh]", "10 CFR 430 B appendix M1 4.1.4, from memory", by_hand,
        ours, 1e-5,
    )  # fmt: skip
    by_hand, ours = seasonal(VARIABLE, FAN_W, settled)
    outside(
        "SEER by bins, variable speed [Btu/Wh]", "10 CFR 430 B appendix M1 4.1.4, from memory", by_hand, ours,
        0.01 * by_hand,
    )  # fmt: skip
    assert ours > seasonal(TWO, FAN_W, alternating)[1]


def test_the_low_point_is_met() -> None:
    coil = run(low_stage(TWO), flow_m3_s=0.6 * FLOW_M3_S)
    of_fan = FAN_W * 0.6**2.5
    assert (coil.total_w - of_fan) / TON_W == pytest.approx(1.3, abs=1e-5)
    assert (coil.total_w - of_fan) / (coil.power_w + of_fan) / BTU_H_W == pytest.approx(15.0, abs=1e-5)


def test_the_middle_point_is_met() -> None:
    """In air in which the curves stand at their rating point: nothing condenses at a wet bulb of 67 °F in hot air."""
    machine = THREE_POINTS._replace(capacity_curve=(1.0, *5 * (0.0,)), power_curve=(1.0, *5 * (0.0,)))
    stage = staged(machine, MIDDLE[0], 95.0)
    assert MIDDLE[0] / (stage.power_w + stage.fan_w) / BTU_H_W == pytest.approx(14.0, abs=1e-6)
    line = staged(
        VARIABLE._replace(capacity_curve=machine.capacity_curve, power_curve=machine.power_curve), MIDDLE[0], 95.0
    )
    assert line.power_w != pytest.approx(stage.power_w, rel=1e-3)


@pytest.mark.parametrize("w", [DRY, 0.0112])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("opened", [False, True])
def test_power_rises_with_the_need_without_a_jump(kind: Any, w: float, opened: bool) -> None:
    needs = np.arange(50.0, 14_000.0, 5.0)
    fan_w = 0.0 if opened else FAN_W
    stages = [staged(KINDS[kind], need, 88.0, w, fan_w, opened) for need in needs]
    stages = [stage for stage, need in zip(stages, needs, strict=True) if abs(stage.cooling_w - need) < 1e-6]
    whole = np.array([stage.power_w + stage.fan_w for stage in stages])
    assert (np.diff(whole) >= -1e-9).all()
    # 5 W more of need never cost more than 5 W more of power: efficiency stays above 1.
    assert np.diff(whole).max() < 5.0
    assert (np.diff([stage.coil_kg_s * (w - stage.coil_w) for stage in stages]) > -1e-9).all()
    # It goes on and off, then settles between, until it cannot hold the need.
    time = np.array([stage.run_time for stage in stages])
    assert time[0] < 0.1
    assert min((time < 1.0).sum(), (time == 1.0).sum()) > 300
    assert len(stages) < needs.size


@pytest.mark.parametrize("kind", KINDS)
def test_heat_from_the_coil_is_heat_from_the_room_and_the_fan(kind: Any) -> None:
    """In dry air, where the coil's heat is known at any speed: a line between both ends."""
    low, high = points(KINDS[kind], 88.0, FAN_W)
    low_fan_w = FAN_W * 0.6**2.5
    for need in np.linspace(low[0] + 1.0, high[0] - 1.0, 20):
        stage = staged(KINDS[kind], need, 88.0)
        total = need + stage.fan_w
        place = (total - low[0] - low_fan_w) / (high[0] + FAN_W - low[0] - low_fan_w)
        expected = (
            low_fan_w + place * (FAN_W - low_fan_w) if kind == "two-stage" else FAN_W * (0.6 + 0.4 * place) ** 2.5
        )
        assert stage.fan_w == pytest.approx(expected, rel=1e-6)
        assert stage.cooling_w == pytest.approx(need, rel=1e-12)


@pytest.fixture(scope="module")
def sacramento(shared_weather: Any) -> Weather:
    return open_weather(str(shared_weather("724839TYA_Sacramento_TMY3.csv")))


def year_of(
    weather: Weather, preset: str, told: dict[str, Any] | None = None, machine: CoolingUnit | None = None
) -> YearRun:
    prepared = prepare(make_case(told, preset=preset), weather)
    base = simulate(prepared.zone, machine or prepared.unit, prepared.fan)
    return simulate(prepared.zone, machine or prepared.unit, prepared.fan, prepared.damper, prepared.limits, base, True)


@pytest.mark.parametrize("preset", ["detached-house-medium", "small-office"])
@pytest.mark.parametrize("kind", [TWO_STAGE, VARIABLE_SPEED])
def test_a_low_stage_like_the_high_one_is_a_single_speed(preset: str, kind: Any, sacramento: Weather) -> None:
    single = prepare(make_case(preset=preset), sacramento).unit
    assert single.kind == SINGLE_SPEED
    ours = year_of(sacramento, preset, machine=single._replace(kind=kind))
    expected = year_of(sacramento, preset, machine=single)
    assert expected.total("compressor_j")[0] > 1e9
    np.testing.assert_allclose(ours.totals, expected.totals, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(ours.hourly, expected.hourly, rtol=1e-9, atol=1e-9)


def test_the_low_stage_is_rated_at_the_flow_of_its_capacity_unless_told(sacramento: Weather) -> None:
    told: dict[str, Any] = {"compressor": "two-stage", "low_capacity": "2.1 ton", "low_eer": 13}
    assert prepare(
        make_case({"unit": told}, preset="detached-house-medium"), sacramento
    ).unit.low_flow == pytest.approx(0.7)
    told["low_flow"] = 0.8
    assert prepare(make_case({"unit": told}, preset="detached-house-medium"), sacramento).unit.low_flow == 0.8


@pytest.mark.parametrize("kind", ["two-stage", "variable-speed"])
@pytest.mark.parametrize("fan", [{"variable": False}, {"variable": True}])
def test_a_fan_of_one_speed_keeps_its_flow(kind: str, fan: dict[str, Any], sacramento: Weather) -> None:
    prepared = prepare(make_case({"fan": fan}, preset=f"detached-house-{kind}"), sacramento)
    year = simulate(prepared.zone, prepared.unit, prepared.fan, hourly=True)
    full = prepared.fan.watts * year.column("run_time")
    assert full.sum() > 1e4
    if fan["variable"]:
        assert (year.column("fan_w") <= full + 1e-9).all()
        assert year.column("fan_w").sum() < 0.95 * full.sum()
    else:
        np.testing.assert_allclose(year.column("fan_w"), full, rtol=1e-12)


@pytest.mark.parametrize("preset", ["detached-house-two-stage", "detached-house-variable-speed"])
def test_a_better_low_stage_takes_less_power(preset: str, sacramento: Weather) -> None:
    used = [
        year_of(sacramento, preset, {"unit": {"low_eer": eer, "middle_capacity": None, "middle_eer": None}}).total(
            "compressor_j"
        )[0]
        for eer in (12.5, 14.0, 16.0)
    ]
    assert used == sorted(used, reverse=True)
    assert used[-1] < 0.9 * used[0]


def test_an_answer_names_the_kind_of_compressor(sacramento: Weather) -> None:
    told = {
        kind: str(estimate(make_case(preset=f"detached-house-{kind}"), sacramento)) for kind in ("two-stage", "medium")
    }
    assert "EER 12, two-stage; fan" in told["two-stage"]
    assert "EER 12; fan" in told["medium"]


def test_free_cooling_comes_first_then_the_low_stage_then_the_high(sacramento: Weather) -> None:
    told = {
        "unit": {"low_capacity": "0.3 ton", "capacity": "2.1 ton"},
        "fan": {"flow": "300 cfm"},
        "gains": {"occupied": "2 W/ft2"},
    }
    year = year_of(sacramento, "detached-house-two-stage", told)
    opened, called, time = year.column("damper") > 0.0, year.called, year.column("run_time")
    alone, low_too, high_too = opened & ~called, opened & called & (time < 1.0), opened & called & (time == 1.0)
    assert min(alone.sum(), low_too.sum(), high_too.sum()) > 10
    # The compressor never runs beside a damper that has flow left.
    assert (year.column("damper")[opened & called] == 1.0).all()


def test_all_kinds_share_one_compiled_year(sacramento: Weather) -> None:
    year_of(sacramento, "detached-house-medium")
    # Other tests may have compiled it for arrays of theirs.
    before = len(run_year.signatures)
    for preset in ("detached-house-two-stage", "detached-house-variable-speed"):
        year_of(sacramento, preset)
    assert len(run_year.signatures) == before


def test_break_even_is_that_of_the_low_stage() -> None:
    fan = Fan(FLOW_M3_S, FAN_W, True, 0.4)
    single, two = (break_even_differential(m, fan, celsius(75.0), 1.0, False, SEA_LEVEL_PA) for m in (unit(), TWO))
    assert two > 1.1 * single


TWO_STAGES = {"compressor": "two-stage", "low_capacity": "2 ton", "low_eer": 13}
WRONG = {
    "low stage of a single speed": ({"low_capacity": "2 ton", "low_eer": 13}, "belong to a compressor with a low"),
    "low flow of a single speed": ({"low_flow": 0.8}, "belong to a compressor with a low"),
    "no low point": ({"compressor": "two-stage"}, "needs low_capacity and low_eer"),
    "half a low point": ({"compressor": "two-stage", "low_capacity": "2 ton"}, "go together"),
    "low above high": ({**TWO_STAGES, "low_capacity": "3.5 ton"}, "less of both"),
    "low stage with the power of the high": ({**TWO_STAGES, "low_capacity": "2.9 ton", "low_eer": 11}, "less of both"),
    "a middle of two stages": ({**TWO_STAGES, "middle_capacity": "2.5 ton", "middle_eer": 12}, "and middle_eer belong"),
    "a middle below the low": (
        {**TWO_STAGES, "compressor": "variable-speed", "middle_capacity": "1.5 ton", "middle_eer": 14},
        "less of both",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_stages_that_do_not_fit_are_refused(name: str) -> None:
    told, words = WRONG[name]
    with pytest.raises(CaseError, match=words):
        make_case({"unit": told}, preset="detached-house-medium")


def test_a_low_stage_without_power_for_its_compressor_is_refused(sacramento: Weather) -> None:
    told = {"compressor": "variable-speed", "low_capacity": "0.8 ton", "low_eer": 28, "low_flow": 1.0}
    with pytest.raises(CaseError, match="no power for the compressor"):
        prepare(make_case({"unit": told}, preset="detached-house-medium"), sacramento)
