"""The compiled loop against the slow reference, and the laws that a year must keep."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from reference_year import Room, reference_year, room_of
from stress import amount

from freecool.answers.floor import ground_temperature
from freecool.answers.prepare import FURNITURE_J_M2K, Glazed, Prepared, drive_inputs, envelope, outdoors_of, prepare
from freecool.cases.model import Case, make_case
from freecool.core.units import parse
from freecool.physics.glass import glass_of
from freecool.physics.rule import Limits
from freecool.physics.year import NO_DAMPER, HourRun, Hours, YearRun, Zone, simulate
from freecool.physics.zone import Element, element_network, five_resistance_network, merge, modes_of
from freecool.weather import PlaneSun, Weather, open_weather

GREENSBORO = "723170TYA.CSV"
HOUR_S = 3600.0
MAP = (Path(__file__).parents[1] / "examples" / "invented-7.5-ton.csv").read_text("utf-8")
SPAN = amount(800, 1500)
SPRING = slice(2400, 2400 + SPAN)
WINTER = slice(0, 1500)
SUMMER = slice(4400, 4400 + SPAN)


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(pvlib_weather(GREENSBORO)))


class Baseline(NamedTuple):
    """A prepared case, its span of hours, and the same zone with every node."""

    prepared: Prepared
    zone: Zone
    room: Room
    drives: np.ndarray


def baseline(case: Case, weather: Weather, span: slice) -> Baseline:
    prepared = prepare(case, weather)
    house = envelope(case.building)
    index = weather.frame.index
    occupied = index.hour.isin(case.schedule.hours()) & index.day_of_week.isin(case.schedule.days())  # type: ignore[attr-defined]
    gains = case.building.floor_area * np.where(occupied, case.gains.occupied, case.gains.unoccupied)
    at = outdoors_of(weather)
    ground_c = ground_temperature(house.exchange, case.schedule, at.swing, at.year_angle)
    drives = drive_inputs(house.elements, house.glass, at, gains, ground_c)
    hours = Hours(*(column[span] for column in prepared.zone.hours))  # type: ignore[arg-type]
    room = room_of(house.elements, FURNITURE_J_M2K * house.floor_m2)
    return Baseline(prepared, prepared.zone._replace(hours=hours), room, drives[span])


def no_warm_up(baseline: Baseline, base: YearRun | None = None, **changed: Any) -> YearRun:
    prepared = baseline.prepared
    damper, limits = changed.get("damper", prepared.damper), changed.get("limits", prepared.limits)
    return simulate(baseline.zone, prepared.unit, prepared.fan, damper, limits, base, hourly=True, warm_up=False)


CONFIGURATIONS: dict[str, tuple[str, slice, dict[str, Any], dict[str, Any]]] = {
    "light": ("detached-house-light", SPRING, {}, {}),
    "non-integrated": ("detached-house-light", SPRING, {"damper": {"integrated": False}}, {}),
    "heavy, summer": ("detached-house-heavy", SUMMER, {}, {}),
    "office": ("small-office", SPRING, {}, {}),
    "office, summer": ("small-office", SUMMER, {}, {}),
    "office, no re-evaporation": ("small-office", SUMMER, {"unit": {"re_evaporation": False}}, {}),
    "office, a slowly dripping coil": (
        "small-office",
        SUMMER,
        {"unit": {"drip_time": 2000.0, "evaporation_ratio": 0.6, "cycling_rate": 4.0, "start_time": 90.0}},
        {},
    ),
    "office, winter": ("small-office", WINTER, {"damper": {"mixed_air_minimum": "60F"}}, {}),
    "shop": ("shop", SUMMER, {"rule": {"name": "fixed-enthalpy"}}, {}),
    "mixed-air limit": ("equipment-room", WINTER, {}, {}),
    "mixed-air limit and compressor": (
        "equipment-room",
        WINTER,
        {"fan": {"flow": "350 cfm"}, "damper": {"mixed_air_minimum": "58F"}},
        {},
    ),
    "precool": ("detached-house-medium", SPRING, {"damper": {"precool": "2K"}}, {}),
    "offset": ("detached-house-light", SPRING, {"damper": {"second_stage_offset": "2F"}}, {}),
    "variable fan": ("detached-house-light", SPRING, {"fan": {"variable": True}}, {}),
    "return air": ("detached-house-light", SPRING, {"rule": {"name": "return-differential", "differential": "2F"}}, {}),
    "hysteresis": ("detached-house-light", SPRING, {"rule": {"reset": "3F"}}, {}),
    "differential enthalpy": (
        "detached-house-light",
        SPRING,
        {"rule": {"name": "differential-enthalpy"}},
        {"outdoor_error_k": -0.8, "outdoor_error_rh": 0.03, "return_error_k": 1.1, "return_error_rh": -0.04},
    ),
    "dew point": ("detached-house-light", SPRING, {"rule": {"name": "dew-point"}}, {}),
    "windows": ("detached-house-light", SPRING, {"building": {"windows_open_ach": 1.0}}, {}),
    "basement": ("detached-house-medium", SPRING, {"building": {"ground": "basement"}}, {}),
    "upper floor": ("small-office", SPRING, {"building": {"ground": "indoors"}}, {}),
    "edge insulation": ("detached-house-heavy", SPRING, {"building": {"edge_insulation": "10hft2F/Btu"}}, {}),
    "a hall on piers": ("shop", SPRING, {"building": {"ground": "outdoors", "inside_faces": 0}}, {}),
    "leakage": ("small-office", SUMMER, {"damper": {"leakage": 0.1}}, {}),
    "leakage, automatic fan": ("detached-house-light", SPRING, {"damper": {"leakage": 0.1}}, {}),
    "share": ("detached-house-light", SPRING, {"damper": {"outdoor_share": 0.7}}, {}),
    "relief fan": ("detached-house-light", SPRING, {"damper": {"outdoor_share": 0.8, "relief_fan": "0.2 W/cfm"}}, {}),
    "relief fan of an office": (
        "small-office",
        SPRING,
        {"damper": {"outdoor_share": 0.9, "relief_fan": "0.25 W/cfm", "integrated": False}},
        {},
    ),
    "minimum": ("detached-house-light", SPRING, {"damper": {"outdoor_share": 0.85, "minimum_share": 0.15}}, {}),
    "minimum and relief fan": (
        "small-office",
        SUMMER,
        {"damper": {"outdoor_share": 0.9, "minimum_share": 0.2, "relief_fan": "0.3 W/cfm", "leakage": 0.05}},
        {},
    ),
    "minimum, leakage, a variable fan and precooling": (
        "detached-house-variable-speed",
        SPRING,
        {
            "damper": {
                "outdoor_share": 0.8,
                "minimum_share": 0.1,
                "leakage": 0.2,
                "relief_fan": "0.15 W/cfm",
                "precool": "3F",
            }
        },
        {},
    ),
    "minimum against the mixed-air limit": (
        "equipment-room",
        WINTER,
        {
            "damper": {
                "outdoor_share": 0.9,
                "minimum_share": 0.45,
                "relief_fan": "0.2 W/cfm",
                "mixed_air_minimum": "60F",
            }
        },
        {},
    ),
    "two rating points": ("detached-house-light", SUMMER, {"unit": {"mild_capacity": "3.2 ton", "mild_eer": 14.5}}, {}),
    "two stages": ("detached-house-two-stage", SUMMER, {}, {}),
    "two stages and the damper": ("detached-house-two-stage", SPRING, {"unit": {"low_capacity": "1 ton"}}, {}),
    "two stages in an office": (
        "small-office",
        SPRING,
        {"unit": {"compressor": "two-stage", "low_capacity": "6 ton", "low_eer": 12.5}},
        {},
    ),
    "variable speed": ("detached-house-variable-speed", SUMMER, {}, {}),
    "variable speed and the damper": (
        "detached-house-variable-speed",
        SPRING,
        {"unit": {"low_capacity": "0.8 ton", "capacity": "2.1 ton"}, "fan": {"flow": "840 cfm"}},
        {},
    ),
    "variable speed and a fan of one": ("detached-house-variable-speed", SPRING, {"fan": {"variable": False}}, {}),
    "variable speed of two points": (
        "detached-house-variable-speed",
        SPRING,
        {"unit": {"middle_capacity": None, "middle_eer": None}},
        {},
    ),
    "a performance map": ("shop", SUMMER, {"unit": {"map": MAP}, "fan": {"flow": "3000 cfm"}}, {}),
    "a performance map that is left": (
        "shop",
        SPRING,
        {"unit": {"map": MAP}, "fan": {"flow": "3000 cfm"}},
        {},
    ),
    "lock-out": ("detached-house-light", SPRING, {"unit": {"lockout": "70F"}}, {}),
}


def agree(ours: YearRun, slow: dict[str, np.ndarray]) -> None:
    """Every hour and every total within a millionth of the largest."""
    for name, expected in slow.items():
        got = ours.called.astype(float) if name == "called" else ours.column(name)
        np.testing.assert_allclose(got, expected, rtol=0.0, atol=1e-6 * max(np.abs(expected).max(), 1e-9), err_msg=name)
    for total, column, factor in (
        ("compressor_j", "compressor_w", HOUR_S),
        ("fan_j", "fan_w", HOUR_S),
        ("heating_j", "heating_w", HOUR_S),
        ("cooling_j", "cooling_w", HOUR_S),
        ("permitted", "permitted", 1.0),
        ("free_cooling", "damper", 1.0),
        ("moisture_in_kg", "moisture_in_kg", 1.0),
        ("moisture_coil_kg", "moisture_coil_kg", 1.0),
    ):
        assert ours.total(total)[0] == pytest.approx(factor * slow[column].sum(), rel=1e-6, abs=1e-6), total


@pytest.mark.parametrize("name", CONFIGURATIONS)
def test_agrees_with_the_slow_reference(name: Any, greensboro: Any) -> None:
    preset, span, told, errors = CONFIGURATIONS[name]
    at = baseline(make_case(told, preset=preset), greensboro, span)
    limits = at.prepared.limits._replace(**errors)
    prepared = at.prepared
    ours = no_warm_up(at, limits=limits)
    slow = reference_year(
        at.room, at.drives, at.zone.hours, at.zone.store_kg, prepared.unit, prepared.fan, prepared.damper, limits
    )
    assert slow["damper"].max() > 0.0, "the damper never opens: nothing is compared"
    agree(ours, slow)


def test_a_whole_year_agrees_with_the_slow_reference(greensboro: Any) -> None:
    at = baseline(make_case(preset="detached-house-light"), greensboro, slice(None))
    slow = reference_year(
        at.room,
        at.drives,
        at.zone.hours,
        at.zone.store_kg,
        at.prepared.unit,
        at.prepared.fan,
        at.prepared.damper,
        at.prepared.limits,
    )
    without = reference_year(at.room, at.drives, at.zone.hours, at.zone.store_kg, at.prepared.unit, at.prepared.fan)
    base = no_warm_up(at, damper=NO_DAMPER)
    ours = no_warm_up(at, base)
    agree(ours, slow)
    agree(base, without)
    # The words of the design: coincident is permitted and a call without the damper; carried is a call gone.
    call, permitted = without["called"] > 0.0, slow["permitted"] > 0.0
    assert ours.total("cooling")[0] == call.sum() > 0
    assert ours.total("coincident")[0] == (call & permitted).sum() > 0
    assert ours.total("carried")[0] == (call & (slow["called"] == 0.0)).sum() > 0
    assert (
        ours.total("damp")[0]
        == ((slow["damper"] > 0.0) & (at.zone.hours.outdoor_dew_c > parse("60F", "temperature"))).sum()
    )
    assert ours.total("damper_open")[0] == (slow["damper"] > 0.0).sum()


@pytest.mark.parametrize(
    "name",
    [
        "light",
        "office",
        "upper floor",
        "basement",
        "office, winter",
        "mixed-air limit",
        "precool",
        "windows",
        "leakage",
        "minimum",
        "minimum and relief fan",
        "minimum against the mixed-air limit",
        "two stages and the damper",
        "variable speed",
    ],
)
def test_heat_balance_closes_every_hour(name: str, greensboro: Any) -> None:
    """Storage change is what the boundaries, the gains and the reported flows bring, the air held at the kernel's."""
    preset, span, told, _ = CONFIGURATIONS[name]
    at = baseline(make_case(told, preset=preset), greensboro, span)
    year = no_warm_up(at)
    capacity, conductance, inputs = at.room
    to_air = (
        year.column("sensible_to_air_w")
        + year.column("extra_air_w")
        - year.column("extra_air_w_k") * year.column("indoor_c")
    )
    implicit = np.linalg.inv((np.diag(capacity / HOUR_S) + conductance)[:-1, :-1])
    x = np.full(capacity.size, 20.0)
    residuals, largest = [], 0.0
    for t, brought, u in zip(year.column("indoor_c"), to_air, at.drives, strict=True):
        driven = inputs @ u
        known = capacity / HOUR_S * x + driven
        y = np.append(implicit @ (known[:-1] - conductance[:-1, -1] * t), t)
        stored = (capacity * (y - x)).sum() / HOUR_S
        # What is left of the row sums are the films to the outside.
        crossing = (driven - conductance.sum(axis=1) * y).sum()
        residuals.append(stored - crossing - brought)
        largest = max(largest, abs(stored), abs(crossing), abs(brought))
        x = y
    assert np.abs(residuals).max() < 1e-6 * largest


@pytest.mark.parametrize(
    "name",
    [
        "light", "office", "precool", "non-integrated", "variable fan", "two stages and the damper",
        "variable speed and the damper", "leakage", "relief fan", "relief fan of an office", "minimum",
        "minimum and relief fan",
    ],
)  # fmt: skip
def test_water_balance_closes_every_hour(name: str, greensboro: Any) -> None:
    """Without windows, where the standing air change is known: a fan on call draws by the run time before."""
    preset, span, told, _ = CONFIGURATIONS[name]
    at = baseline(make_case(told, preset=preset), greensboro, span)
    year, hours, store = no_warm_up(at), at.zone.hours, at.zone.store_kg
    after = year.column("humidity_ratio")
    before = np.concatenate(([hours.outdoor_w[0]], after[:-1]))
    brought = (
        hours.moisture_kg_s * HOUR_S
        + year.column("moisture_in_kg")
        - year.column("moisture_coil_kg")
        - year.column("condensate_kg")
    )
    damper, fan = at.prepared.damper, at.prepared.fan
    least_m3_s = max(damper.minimum_share, damper.leakage) * fan.flow_m3_s
    last_run = np.concatenate(([0.0], year.column("run_time")[:-1]))
    drawn_m3_s = np.maximum(least_m3_s - hours.ventilation_m3_s * hours.continuous, 0.0)
    drawn_kg_s = drawn_m3_s * hours.density_kg_m3 * np.maximum(hours.continuous, last_run)
    air_change_kg_s = hours.air_change_kg_s + drawn_kg_s
    standing = air_change_kg_s * HOUR_S
    mean = hours.outdoor_w - (store * (after - before) - brought) / standing
    excess = year.column("condensate_kg") / store
    assert (mean >= np.minimum(before, after + excess) - 1e-9).all()
    assert (mean <= np.maximum(before, after + excess) + 1e-9).all()
    # Damper shut and no coil: the mean is known from a fine integration in ten thousand steps.
    quiet = (year.column("damper") == 0.0) & (year.column("run_time") == 0.0)
    assert quiet.sum() > 100
    w, total, steps = before[quiet].copy(), np.zeros(quiet.sum()), 10_000
    for _ in range(steps):
        rate = (air_change_kg_s * hours.outdoor_w + hours.moisture_kg_s)[quiet] - air_change_kg_s[quiet] * w
        middle = w + rate / store * HOUR_S / steps / 2.0
        w += (rate - air_change_kg_s[quiet] * (middle - w)) / store * HOUR_S / steps
        total += middle
    np.testing.assert_allclose(mean[quiet], total / steps, rtol=1e-6)


def test_a_rule_that_never_opens_leaves_the_building_alone(greensboro: Any) -> None:
    at = baseline(make_case(preset="small-office"), greensboro, slice(None))
    without = no_warm_up(at, damper=NO_DAMPER)
    shut = no_warm_up(at, without, limits=Limits(differential_k=math.inf))
    np.testing.assert_array_equal(shut.hourly, without.hourly)


@pytest.mark.parametrize("preset", ["detached-house-light", "small-office"])
def test_a_relief_fan_adds_its_power_by_the_air_above_the_minimum_and_nothing_else(
    preset: str, greensboro: Any
) -> None:
    told = {"outdoor_share": 0.9, "minimum_share": 0.2, "mixed_air_minimum": "35F"}
    plain = baseline(make_case({"damper": told}, preset=preset), greensboro, SPRING)
    relieved = baseline(make_case({"damper": {**told, "relief_fan": "0.25 W/cfm"}}, preset=preset), greensboro, SPRING)
    without, year = no_warm_up(plain), no_warm_up(relieved)
    for name in set(HourRun._fields) - {"fan_w"}:
        np.testing.assert_array_equal(year.column(name), without.column(name), err_msg=name)
    # No hour of this spring meets the low limit of 35 degF; the office's ventilation is less than the minimum.
    expected = year.column("damper") * 0.7 * plain.prepared.fan.flow_m3_s * parse("0.25 W/cfm", "fan_power")
    np.testing.assert_allclose(year.column("fan_w") - without.column("fan_w"), expected, rtol=0.0, atol=1e-9)
    assert expected.max() > 100.0


def test_a_minimum_below_the_ventilation_is_none(greensboro: Any) -> None:
    """120 of 800 cfm come through a fan that always runs: 15 %."""
    told = {"fan": {"mode": "continuous"}, "ventilation": {"flow": "0.4 cfm/ft2"}}
    plain, less, more = (
        baseline(make_case({**told, "damper": {"minimum_share": least}}, preset="equipment-room"), greensboro, SPRING)
        for least in (0.0, 0.1, 0.2)
    )
    for damper in (plain.prepared.damper, plain.prepared.no_damper):
        same = [
            no_warm_up(at, damper=damper._replace(minimum_share=least)) for at, least in ((plain, 0.0), (less, 0.1))
        ]
        np.testing.assert_array_equal(same[0].hourly, same[1].hourly)
    base, drawn = (no_warm_up(at, damper=at.prepared.no_damper) for at in (plain, more))
    # 40 cfm more, in the run without the damper too.
    extra = drawn.column("extra_air_w_k") - base.column("extra_air_w_k")
    hours = plain.zone.hours
    np.testing.assert_allclose(extra, parse("40cfm", "flow") * hours.density_kg_m3 * hours.heat_j_kgk, rtol=1e-9)


@pytest.mark.parametrize("preset", ["detached-house-light", "small-office"])
def test_a_minimum_share_is_in_both_runs(preset: str, greensboro: Any) -> None:
    at = baseline(make_case({"damper": {"minimum_share": 0.2}}, preset=preset), greensboro, SUMMER)
    without = no_warm_up(at, damper=at.prepared.no_damper)
    shut = no_warm_up(at, without, limits=Limits(differential_k=math.inf))
    np.testing.assert_array_equal(shut.hourly, without.hourly)
    none = no_warm_up(at, damper=NO_DAMPER)
    assert without.total("compressor_j")[0] != pytest.approx(none.total("compressor_j")[0], rel=0.01)


@pytest.mark.parametrize("preset", ["detached-house-light", "small-office"])
def test_permitted_hours_never_rise_with_the_differential(preset: str, greensboro: Any) -> None:
    at = baseline(make_case(preset=preset), greensboro, slice(None))
    permitted = [
        no_warm_up(at, limits=Limits(differential_k=parse(f"{degrees} F", "difference"))).total("permitted")[0]
        for degrees in np.arange(0.0, 20.5, 0.5)
    ]
    assert permitted == sorted(permitted, reverse=True)
    assert permitted[0] > permitted[-1] > 0.0


def test_merging_equal_elements_changes_nothing(greensboro: Weather) -> None:
    def wall(area: float, azimuth: float) -> Element:
        return Element(area, 2.3, 90_000.0, "D", 2.5, 0.5, "air", ((90.0, azimuth, 0.6 * area),))

    def window(area: float) -> Element:
        return Element(area, 0.4, 0.0, "none", 2.5, 0.5)

    apart = [
        wall(30.0, 0.0),
        window(4.0),
        wall(22.0, 90.0),
        window(3.0),
        wall(28.0, 180.0),
        window(7.0),
        Element(90.0, 5.3, 18_000.0, "IE", 5.0, 1.0, "air", ((0.0, 180.0, 54.0),)),
        Element(90.0, 1.8, 180_000.0, "I", 0.7, 0.0, "ground"),
    ]
    joined = merge(apart)
    assert len(joined) == 4
    random = np.random.default_rng(1)
    outdoor, hours = random.uniform(-10.0, 35.0, 1000), 1000
    gains = random.uniform(0.0, 3000.0, hours)
    near, elsewhere, incidence = (random.uniform(0.0, top, (3, hours)) for top in (600.0, 200.0, 90.0))
    suns = {azimuth: PlaneSun(near[i], elsewhere[i], incidence[i]) for i, azimuth in enumerate((0.0, 90.0, 180.0))}
    outdoors = outdoors_of(greensboro)._replace(
        dry_bulb_c=outdoor,
        horizontal_infrared_w_m2=random.uniform(200.0, 400.0, hours),
        sun_on=lambda _, azimuth: suns[azimuth],
    )
    glass = (Glazed(180.0, 4.0, glass_of("clear-double")),)
    temperatures = []
    for elements in (apart, joined):
        network = element_network(elements, 900_000.0)
        drives = drive_inputs(elements, glass, outdoors, gains)
        x = np.full(network.c.size, 20.0)
        rows = []
        for u in drives:
            x = network.F @ x + network.G @ u + network.c * 500.0
            rows.append(x[-1])
        temperatures.append(rows)
    np.testing.assert_allclose(temperatures[0], temperatures[1], rtol=0.0, atol=1e-9)


@pytest.mark.parametrize("which", ["elements", "5R1C"])
def test_modes_are_the_network(which: str) -> None:
    """The diagonal form that the loop steps gives the matrices' own temperatures."""
    house = envelope(make_case(preset="detached-house-heavy").building)
    by_elements = which == "elements"
    network = (
        element_network(house.elements, 2e6) if by_elements else five_resistance_network(house.elements, house.floor_m2)
    )
    modes = modes_of(network)
    random = np.random.default_rng(3)
    x, parts = np.full(network.c.size, 20.0), 20.0 * modes.uniform
    for _ in range(2000):
        u = np.concatenate((random.uniform(-20.0, 40.0, 2), random.uniform(-500.0, 9000.0, network.G.shape[1] - 2)))
        heat = random.uniform(-9000.0, 9000.0)
        y = network.F @ x + network.G @ u + network.c * heat
        drives = modes.G @ u
        assert parts.sum() + drives[-1] + modes.response * heat == pytest.approx(y[-1], abs=1e-9)
        parts = modes.keep * parts + drives[:-1] + modes.push * heat
        x = x + (y - x) / network.implicitness


def test_second_network_is_iso_13790_annex_c_written_out() -> None:
    """ISO 13790:2008 annex C, eq. (C.1) to (C.11), an hour at a time, with heating or cooling heat to the air."""
    floor, area, window_area = 120.0, 300.0, 20.0
    opaque = Element(area, 2.5, 120_000.0, "I", 2.5, 0.5)
    window = Element(window_area, 0.35, 0.0, "none", 2.5, 0.5)
    network = five_resistance_network([opaque, window], floor)
    # ISO 6946: surface resistances 0.13 and 0.04 m2K/W.
    Hop, Hw = area / (2.5 + 0.17), window_area / (0.35 + 0.17)
    Cm, Am, At = area * 120_000.0, area, 4.5 * floor
    Hms, His = 9.1 * Am, 3.45 * At
    Hem = 1.0 / (1.0 / Hop - 1.0 / Hms)
    Tm = 20.0
    x = np.array([20.0, 20.0])
    random = np.random.default_rng(2)
    for _ in range(500):
        Te, Tsup, Hve = random.uniform(-10.0, 35.0), random.uniform(5.0, 30.0), random.choice([0.0, 40.0, 900.0])
        Pint, Psol, Q = random.uniform(0.0, 3000.0), random.uniform(0.0, 5000.0), random.uniform(-6000.0, 6000.0)
        B = 0.5 * Pint + Psol
        Pair, Pm, Ps = 0.5 * Pint, Am / At * B, (1.0 - Am / At - Hw / (9.1 * At)) * B
        H1 = Hve * His / (Hve + His)
        H2 = H1 + Hw
        H3 = 1.0 / (1.0 / H2 + 1.0 / Hms)
        # Without the division by Hve of (C.5), which fails at zero flow.
        supply = His * (Pair + Q + Hve * Tsup) / (Hve + His)
        Pmt = Pm + Hem * Te + H3 * (Ps + Hw * Te + supply) / H2
        after = (Tm * (Cm / 3600.0 - 0.5 * (H3 + Hem)) + Pmt) / (Cm / 3600.0 + 0.5 * (H3 + Hem))
        mean = 0.5 * (Tm + after)
        surface = (Hms * mean + Ps + Hw * Te + supply) / (Hms + Hw + H1)
        Ta = (His * surface + Hve * Tsup + Pair + Q) / (His + Hve)

        u = np.array([Te, 99.0, Pint, Psol, 0.0, 0.0])
        y = network.F @ x + network.G @ u
        r = network.c[-1]
        got = (y[-1] + r * (Hve * Tsup + Q)) / (1.0 + r * Hve)
        y = y + network.c * (Q + Hve * (Tsup - got))
        x = x + (y - x) / network.implicitness
        assert got == pytest.approx(Ta, abs=1e-9)
        assert x[0] == pytest.approx(after, abs=1e-9)
        Tm = after


def test_two_equal_years_give_equal_totals(greensboro: Any) -> None:
    prepared = prepare(make_case(preset="detached-house-heavy"), greensboro)
    once = prepared.zone.hours
    twice = Hours(*(np.concatenate((column, column)) for column in once))  # type: ignore[arg-type]
    twice = twice._replace(year=np.repeat([0, 1], 8760))
    year = simulate(prepared.zone._replace(hours=twice), prepared.unit, prepared.fan, prepared.damper, prepared.limits)
    single = simulate(prepared.zone, prepared.unit, prepared.fan, prepared.damper, prepared.limits)
    for name in ("compressor_j", "fan_j", "heating_j", "permitted", "free_cooling", "moisture_coil_kg", "humid"):
        first, second = year.total(name)
        assert first > 0.0
        assert first == pytest.approx(second, rel=1e-4), name
        assert first == single.total(name)[0], name
