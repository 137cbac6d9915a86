"""The differential to set: its closed form, its sweep, its judgement, and when the answer is none."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from made_weather import made_weather

from freecool.answers.blocks import answer_blocks
from freecool.answers.choice import FLAT_SHARE, SPARED_DAMP_HOURS, SPARED_FAN_SHARE, choose
from freecool.answers.estimate import estimate
from freecool.answers.pick import DifferentialSweep, sweep_differential
from freecool.answers.prepare import prepare
from freecool.answers.results import Candidate
from freecool.answers.sweep import make_baseline
from freecool.cases.model import Case, make_case
from freecool.core.cancel import Cancelled
from freecool.core.errors import CaseError
from freecool.core.units import convert, parse
from freecool.physics.damper import Damper, Fan
from freecool.physics.year import simulate
from freecool.weather import Weather, open_weather

if TYPE_CHECKING:
    from conftest import Outside


SACRAMENTO = "724839TYA_Sacramento_TMY3.csv"
MELBOURNE = "722040TYA_MelbourneFL_TMY3.csv"
GREENSBORO = "723170TYA.CSV"
LIGHT = "detached-house-light"
DRAWS = 5
TEN = [degrees / 1.8 for degrees in range(11)]
FANS = (0.2, 0.365, 0.5)
BLOCKS = ("hours", "energy", "humidity", "money")


def kelvin(fahrenheit: float) -> float:
    return parse(f"{fahrenheit} F", "difference")


def sweep(case: Case, weather: Weather, **options: Any) -> DifferentialSweep:
    return sweep_differential(case, weather, **{"draws": DRAWS, **options})


def acceptable(candidate: Candidate, ceiling: float) -> bool:
    """What the humidity ceiling lets pass, said apart from the product's own judgement."""
    humidity = candidate.outcome.humidity
    added = humidity.rh_over_60_hours_with - humidity.rh_over_60_hours_without
    return "high" not in (humidity.risk, candidate.outcome.risk_p90) and added <= ceiling


@pytest.fixture(scope="module")
def sacramento(shared_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(shared_weather(SACRAMENTO)))


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(pvlib_weather(GREENSBORO)))


@pytest.fixture(scope="module")
def house(sacramento: Any) -> DifferentialSweep:
    return sweep(make_case(preset=LIGHT), sacramento)


@pytest.fixture(scope="module")
def office(sacramento: Any) -> DifferentialSweep:
    """Its fan runs anyway, so that its saving is flat near the best."""
    return sweep(make_case(preset="small-office"), sacramento)


@pytest.fixture(scope="module")
def humid(shared_weather: Callable[[str], Path]) -> DifferentialSweep:
    return sweep(make_case(), open_weather(str(shared_weather(MELBOURNE))))


STEP_F = 0.5
SET_POINT_C = parse("75F", "temperature")
PART = {"resistance": 60.0, "capacity": 1000.0, "mass": "I", "boundary": "ground"}


def constant_load(fan_w_cfm: float, moisture_kg_day: float) -> Case:
    """A room without envelope or leakage, 280 W of gains, and a unit whose efficiency never changes."""
    return make_case(
        preset="equipment-room",
        overrides={
            "building": {
                "floor_area": "50 ft2", "infiltration_ach": 0.0, "wall": PART, "roof": PART, "floor": PART,
            },
            "gains": {
                "occupied": "60 W/m2", "unoccupied": "60 W/m2",
                "moisture": f"{moisture_kg_day} kg/day", "moisture_unoccupied": f"{moisture_kg_day} kg/day",
            },
            "unit": {
                "capacity": "2 ton", "mild_capacity": "2 ton", "eer": "12 Btu/Wh", "mild_eer": "12 Btu/Wh",
                "degradation": 0.0,
            },
            "fan": {"power": f"{fan_w_cfm} W/cfm", "mode": "auto"},
            "damper": {"outdoor_share": 1.0},
        },
    )  # fmt: skip


def ramp(dew_point_c: float) -> Weather:
    """Dry bulb between the set point and 14 degF below it, each differential for equally many hours."""
    below = np.abs(np.arange(8760) / 1000.0 % 2.0 - 1.0)
    return made_weather(SET_POINT_C - kelvin(14.0) * below, dew_point_c)


def fine_sweep(case: Case, weather: Weather) -> DifferentialSweep:
    return sweep(case, weather, differentials_k=[kelvin(step * STEP_F) for step in range(25)], draws=0)


@pytest.mark.parametrize("fan_w_cfm", FANS)
def test_a_dry_coil_breaks_even_where_the_handbook_says(fan_w_cfm: Any, outside: Outside) -> None:
    """With a dry coil the sensible efficiency is the whole EER of 12, as in w (EER + 3.412) / 1.08."""
    swept = fine_sweep(constant_load(fan_w_cfm, 0.0), ramp(-15.0))
    expected = fan_w_cfm * (12.0 + 3.412) / 1.08
    source = "1.08 cfm degF, 3.412 Btu/Wh (ASHRAE)"
    got = convert(swept.peak_differential_k, "difference", "F")
    outside(f"net saving peaks, dry coil, {fan_w_cfm} W/cfm [degF]", source, expected, got, STEP_F)


@pytest.mark.parametrize("fan_w_cfm", FANS)
def test_the_closed_form_is_where_the_sweeps_net_saving_peaks(fan_w_cfm: Any) -> None:
    """In a room that stays near the closed form's 50 % RH."""
    case, weather = constant_load(fan_w_cfm, 2.0), ramp(12.8)
    assert estimate(case, weather).hourly["relative_humidity_percent_with"].between(45.0, 55.0).all()
    swept = fine_sweep(case, weather)
    step = kelvin(STEP_F)
    # The peak is inside the sweep, and the load is smaller than the first stage there.
    assert step < swept.peak_differential_k < swept.candidates[-1].differential_k - step
    first_stage_w = 1.2 * 1006.0 * case.fan.flow * (swept.peak_differential_k - kelvin(3.0 * fan_w_cfm))
    assert case.gains.occupied * case.building.floor_area < first_stage_w
    assert abs(swept.break_even_differential_k - swept.peak_differential_k) <= step + 1e-9


def test_marginal_net_changes_sign_only_at_the_peak() -> None:
    """A peak, not a wobble: net saving rises up to it and falls after it."""
    swept = fine_sweep(constant_load(0.365, 2.0), ramp(12.8))
    # Below 1 degF the fan's own heat leaves nothing to cool with, and the damper stays shut.
    net = swept.table["net_kwh_saved"].to_numpy()[2:]
    top = int(net.argmax())
    assert (np.diff(net[: top + 1]) > 0.0).all()
    assert (np.diff(net[top:]) < 0.0).all()


@pytest.mark.parametrize(("place", "preset"), [("sacramento", LIGHT), ("greensboro", "detached-house-medium")])
def test_a_hungrier_fan_asks_for_a_larger_differential(place: str, preset: Any, request: pytest.FixtureRequest) -> None:
    weather = request.getfixturevalue(place)
    answers = [sweep(make_case(preset=preset, overrides={"fan": {"power": f"{fan} W/cfm"}}), weather) for fan in FANS]
    break_even = [answer.break_even_differential_k for answer in answers]
    assert break_even[0] < break_even[1] < break_even[2]
    assert all(answer.best for answer in answers)
    picks = [answer.best.differential_k for answer in answers]  # type: ignore[union-attr]
    assert picks == sorted(picks)
    peaks = [answer.peak_differential_k for answer in answers]
    assert peaks[0] < peaks[2]


def test_a_fan_that_runs_anyway_has_no_break_even(sacramento: Any) -> None:
    assert sweep(make_case(preset="small-office"), sacramento, draws=0).break_even_differential_k == 0.0


def test_sacramento_names_a_differential_and_reasons(house: Any, office: Any) -> None:
    assert house.best is not None
    assert house.best.outcome.energy.net_kwh_saved > 0.0
    picked = convert(house.best.differential_k, "difference", "F")
    assert house.sentence.startswith(
        f"Differential {picked:.0f} °F: the damper opens at {75.0 - picked:.0f} °F outdoors or colder. It saves"
    )
    text = " ".join(house.reasons)
    for words in ("break-even", "peaks", "sensor error"):
        assert words in text
    assert "within 5 %" in " ".join(office.reasons)
    assert house.sentence in " ".join(repr(house).split())


@pytest.mark.parametrize("place", [0, 5, 9])
def test_candidates_are_what_value_says(place: int, house: Any, sacramento: Any) -> None:
    """The very same numbers as ``freecool value`` at that differential, block by block."""
    told, alone = house.to_dict()["candidates"][place], value_at(house.candidates[place], sacramento)
    for block in BLOCKS:
        for name, expected in alone[block].items():
            if isinstance(expected, float):
                assert told[block][name] == pytest.approx(expected, rel=1e-9, abs=1e-9), name


def test_candidates_have_the_blocks_of_value(house: Any, sacramento: Any) -> None:
    """The contract says the same blocks: no key less, and words as they are."""
    told, alone = house.to_dict()["candidates"][5], value_at(house.candidates[5], sacramento)
    for block in BLOCKS:
        assert set(alone[block]) <= set(told[block]), block
        for name, expected in alone[block].items():
            if not isinstance(expected, float):
                assert told[block][name] == expected, name


def value_at(candidate: Candidate, weather: Weather) -> dict[str, Any]:
    case = make_case(preset=LIGHT, overrides={"rule": {"differential": f"{candidate.differential_k} K"}})
    return estimate(case, weather).to_dict()


def test_the_json_contract(house: Any) -> None:
    told = json.loads(json.dumps(house.to_dict(), allow_nan=False))
    contract = {"candidates", "best", "break_even_differential_k", "reasons"}
    assert contract | {"freecool", "weather", "inputs", "warnings"} <= set(told)
    assert [c["differential_k"] for c in told["candidates"]] == pytest.approx([kelvin(f) for f in range(21)])
    assert told["best"] in told["candidates"]
    assert told["break_even_differential_k"] == pytest.approx(house.break_even_differential_k)
    assert told["inputs"]["case"]["building"]["floor_area_m2"] > 0.0


def test_the_table_is_the_candidates(house: Any) -> None:
    table = house.table
    assert list(table.index) == [c.differential_k for c in house.candidates]
    assert (table["net_kwh_p10"] <= table["net_kwh_p90"]).all()
    assert (table["permitted_hours"].diff().dropna() <= 0.0).all()
    assert table["compressor_kwh_avoided"].sub(table["fan_kwh_added"]).to_numpy() == pytest.approx(
        table["net_kwh_saved"].to_numpy()
    )


def test_within_five_percent_a_larger_one_that_spares_something(house: Any, humid: Any, office: Any) -> None:
    """The pick and the flat region, worked out again from the candidates."""
    for swept in (house, humid, office):
        ceiling = swept.settings["humidity_ceiling_hours"]
        able = [c for c in swept.candidates if acceptable(c, ceiling)]
        top = max(c.outcome.saved_p10 for c in able)
        near = [c for c in able if c.outcome.saved_p10 >= 0.95 * top]
        best = next(c.outcome for c in near if c.outcome.saved_p10 == top)
        spares = [
            c.differential_k
            for c in near
            if best.energy.fan_kwh_added - c.outcome.energy.fan_kwh_added >= 0.05 * best.energy.compressor_kwh_avoided
            or best.hours.damp - c.outcome.hours.damp >= 10.0
        ]
        assert (FLAT_SHARE, SPARED_FAN_SHARE, SPARED_DAMP_HOURS) == (0.95, 0.05, 10.0)
        assert swept.best is not None
        assert swept.best.differential_k == max(spares, default=swept.best.differential_k)
        assert swept.best.outcome.saved_p10 == top or swept.best.differential_k in spares
        assert list(swept.flat_k) == [c.differential_k for c in near]
    assert len(office.flat_k) > 1


def test_a_percentile_not_the_lucky_best(house: Any) -> None:
    """Spread is ordered, sensor error costs something, and without draws there is no spread."""
    for candidate in house.candidates:
        outcome = candidate.outcome
        assert outcome.net_kwh_p10 <= outcome.net_kwh_p50 <= outcome.net_kwh_p90
    spread = [c.outcome.net_kwh_p90 - c.outcome.net_kwh_p10 for c in house.candidates]
    assert max(spread) > 1.0


def test_without_draws_the_spread_is_the_exact_run(sacramento: Any) -> None:
    for candidate in sweep(make_case(preset=LIGHT), sacramento, draws=0).candidates:
        outcome = candidate.outcome
        net = outcome.energy.net_kwh_saved
        assert (outcome.net_kwh_p10, outcome.net_kwh_p50, outcome.net_kwh_p90) == (net, net, net)


@pytest.fixture(scope="module")
def thrifty(shared_weather: Callable[[str], Path]) -> DifferentialSweep:
    """With so thrifty a fan small differentials save most, and bring the coast's damp in."""
    case = thrifty_house({})
    return sweep(case, open_weather(str(shared_weather(MELBOURNE))))


def thrifty_house(rule: dict[str, str]) -> Case:
    return make_case(preset=LIGHT, overrides={"fan": {"power": "0.05 W/cfm"}, "rule": rule})


def test_what_makes_the_place_damp_is_ruled_out_with_its_own_reason(thrifty: Any) -> None:
    by_differential = {c.differential_k: c for c in thrifty.candidates}
    assert by_differential[thrifty.peak_differential_k].outcome.humidity.risk == "high"
    out = thrifty.best_ignoring_humidity
    assert out.outcome.damp()
    assert thrifty.best.differential_k > out.differential_k
    text = " ".join(thrifty.reasons)
    assert "is ruled out by moisture" in text
    assert out.outcome.humidity.reason in text
    assert "limit 8 %" in text
    assert "ceiling" not in text


def test_the_best_with_a_dew_point_limit_is_worked_out_beside(thrifty: Any) -> None:
    proposal = thrifty.proposal
    told = thrifty.to_dict()["proposal"]
    assert told["dew_point_limit_c"] == proposal.dew_point_limit_c
    rule = {"differential": f"{proposal.differential_k} K", "dew_point_limit": f"{proposal.dew_point_limit_c} C"}
    alone = estimate(thrifty_house(rule), thrifty.weather)
    assert proposal.outcome.energy.net_kwh_saved == pytest.approx(alone.energy.net_kwh_saved, rel=1e-9)
    assert proposal.outcome.humidity.reason == alone.humidity.reason
    assert not proposal.outcome.damp()
    (choice,) = [one for one in thrifty.choices if one.kind == "best with a dew-point limit"]
    assert choice.net_kwh_saved == pytest.approx(proposal.outcome.energy.net_kwh_saved)
    assert "--dew-point-limit" in choice.options


def test_no_setting_of_the_whole_grid_does_better(thrifty: Any) -> None:
    """With exact sensors: a coarse look at everything beside the staged search."""
    case, weather = thrifty.case, thrifty.weather
    exact = sweep(case, weather, draws=0).proposal
    assert exact is not None
    p = prepare(case, weather)
    without = simulate(p.zone, p.unit, p.fan, p.no_damper)
    for limit_f in (45, 50, 55, 60, 65):
        for degrees in range(0, 21, 2):
            tried = p.limits._replace(differential_k=kelvin(degrees), dew_point_max_c=parse(limit_f, "temperature"))
            fitted = simulate(p.zone, p.unit, p.fan, p.damper, tried, base=without)
            found = answer_blocks(case, weather, without.totals, fitted.totals)
            if found.humidity.risk != "high":
                assert found.money.saved_per_year <= exact.outcome.money.saved_per_year + 1e-6


def test_nine_of_ten_keep_to_the_risk_told(humid: Any) -> None:
    """Every drawn error run again, one by one: the risks differ, and one in ten at most lies above the one told."""
    order = ("low", "watch", "high")
    baseline = make_baseline(humid.case, humid.weather, 20, seed=0)
    p, base = baseline.prepared, baseline.base
    tried = [kelvin(degrees) for degrees in (4, 5, 6, 7)]
    told = sweep(humid.case, humid.weather, differentials_k=tried, draws=20).candidates
    differing = 0
    for candidate in told:
        limits = p.limits._replace(differential_k=candidate.differential_k)
        runs = [simulate(p.zone, p.unit, p.fan, p.damper, error.on(limits), base=base) for error in baseline.errors]
        found = [answer_blocks(humid.case, humid.weather, base.totals, run.totals).humidity.risk for run in runs]
        above = [risk for risk in found if order.index(risk) > order.index(candidate.outcome.risk_p90)]
        beside = [risk for risk in found if order.index(risk) >= order.index(candidate.outcome.risk_p90)]
        assert len(above) <= 2 < len(beside)
        assert candidate.outcome.worst_risk == max((*found, candidate.outcome.humidity.risk), key=order.index)
        differing += len(set(found)) > 1
    assert differing


def test_the_codes_own_rule_stands_beside_where_a_zone_is_given(sacramento: Any) -> None:
    case = make_case(preset="small-office", overrides={"site": {"climate_zone": "3A"}})
    swept = sweep(case, sacramento)
    (own,) = [one for one in swept.choices if one.kind == "the code's own"]
    assert own.code_changeover is True
    assert own.options.startswith("--rule ")
    # Zone 3A does not list a differential: the headline says what it lists.
    assert "The energy code lists another rule for zone 3A" in swept.sentence
    assert own.words in swept.sentence
    none = sweep(make_case(preset="small-office"), sacramento)
    assert [one.kind for one in none.choices if one.kind == "the code's own"] == []
    assert "energy code" not in none.sentence


def test_near_the_best_the_listed_one_wins(office: Any) -> None:
    near = office.flat_k
    assert len(near) > 1
    plain = choose(office.candidates, 8784.0)
    for differential_k in near:
        assert choose(office.candidates, 8784.0, [differential_k]).best.differential_k == differential_k  # type: ignore[union-attr]
    assert plain.best is office.best


def test_the_edge_of_what_was_tried_is_told(house: Any, sacramento: Any) -> None:
    few = [d for d in (c.differential_k for c in house.candidates) if d < house.best.differential_k]
    below = sweep(make_case(preset=LIGHT), sacramento, differentials_k=few, draws=0)
    assert "is the largest that was tried" in " ".join(below.reasons)
    assert "that was tried" not in " ".join(house.reasons)


def test_a_fan_that_runs_anyway_has_no_variations_of_its_power(office: Any) -> None:
    assert office.fan == ()
    assert "Fan power at" not in repr(office)


def test_a_lower_ceiling_overrules_and_never_picks_smaller(greensboro: Any) -> None:
    # With water carried back from the coil an office is damp without the damper too, which then adds few hours.
    case = make_case({"unit": {"re_evaporation": False}}, preset="small-office")
    picks = []
    for ceiling in (250.0, 60.0, 10.0):
        swept = sweep(case, greensboro, humidity_ceiling_hours=ceiling)
        assert swept.best_ignoring_humidity.outcome.damp(ceiling)
        assert [d for d in swept.flat_k if not acceptable(next_to(swept, d), ceiling)] == []
        assert swept.best is None or acceptable(swept.best, ceiling)
        picks.append(float("inf") if swept.best is None else swept.best.differential_k)
    assert picks == sorted(picks)
    assert picks[0] < picks[-1]


def next_to(swept: DifferentialSweep, differential_k: float) -> Candidate:
    return next(c for c in swept.candidates if c.differential_k == differential_k)


def test_a_thriftier_fan_and_no_precool_are_the_plain_pick(house: Any) -> None:
    net = house.best.outcome.energy.net_kwh_saved
    assert house.precool[0].value == 0.0
    assert house.precool[0].net_kwh_saved == pytest.approx(net, rel=1e-9)
    assert house.fan[0].value == 1.0
    assert house.fan[0].net_kwh_saved == pytest.approx(net, rel=1e-9)
    assert [v.value for v in house.precool] == pytest.approx([kelvin(f) for f in range(6)])
    less = [v.net_kwh_saved for v in house.fan]
    assert less == sorted(less)
    low, high = house.model_band
    assert low <= net <= high


def test_a_fan_that_eats_everything_is_left_off(sacramento: Any) -> None:
    case = make_case(preset=LIGHT, overrides={"fan": {"power": "2 W/cfm"}})
    swept = sweep(case, sacramento, differentials_k=TEN)
    assert max(c.outcome.energy.net_kwh_saved for c in swept.candidates) <= 0.0
    assert swept.best is None
    assert swept.flat_k == ()
    assert swept.sentence.startswith("Leave it off")
    assert json.loads(json.dumps(swept.to_dict(), allow_nan=False))["best"] == {"differential_k": None}
    assert "Leave it off" in repr(swept)


def test_upkeep_beyond_the_saving_is_left_off_for_that_reason(sacramento: Any) -> None:
    """It saves energy and keeps dry: what speaks against it is money, and the answer must say so."""
    swept = sweep(make_case(preset=LIGHT, overrides={"money": {"upkeep": 500.0}}), sacramento, draws=0)
    assert swept.best_ignoring_humidity.outcome.humidity.risk != "high"
    assert swept.best is None
    assert swept.sentence.startswith("Leave it off")
    assert "damp" not in swept.sentence


def test_where_electricity_is_free_energy_decides(sacramento: Any, house: Any) -> None:
    free = sweep(make_case(preset=LIGHT, overrides={"money": {"price": 0.0}}), sacramento)
    assert free.best is not None
    assert free.best.differential_k == house.best.differential_k


def test_same_seed_same_answer_whatever_the_threads(sacramento: Any, house: Any) -> None:
    first = house.to_dict()
    for workers in (1, 3):
        assert sweep(make_case(preset=LIGHT), sacramento, workers=workers).to_dict() == first
    other = sweep(make_case(preset=LIGHT), sacramento, seed=1).to_dict()
    assert [c["net_kwh_p10"] for c in other["candidates"]] != [c["net_kwh_p10"] for c in first["candidates"]]
    assert [c["energy"] for c in other["candidates"]] == [c["energy"] for c in first["candidates"]]


def test_progress_and_cancel_reach_the_sweep(sacramento: Any) -> None:
    told: list[tuple[int, int]] = []
    swept = sweep(make_case(), sacramento, draws=1, progress=lambda *done: told.append(done))
    assert told[-1] == (2 * len(swept.candidates),) * 2
    cancel = Event()
    cancel.set()
    with pytest.raises(Cancelled):
        sweep(make_case(), sacramento, cancel=cancel)


def test_cancel_reaches_the_runs_after_the_sweep(sacramento: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The break-even is worked out between the sweep and its variations: cancelled there, no variation is run."""
    cancel = Event()

    def cancel_here(*_: Any) -> float:
        cancel.set()
        return 0.0

    monkeypatch.setattr("freecool.answers.pick.break_even_of", cancel_here)
    with pytest.raises(Cancelled):
        sweep(make_case(), sacramento, draws=0, cancel=cancel)


def test_variations_are_two_complete_runs_each(sacramento: Any) -> None:
    """Net kWh of every depth and fan share, run here one by one; the unchanged ones are taken from the sweep."""
    swept = sweep(make_case(preset=LIGHT), sacramento, draws=0)
    chosen = swept.best or swept.best_ignoring_humidity
    p = prepare(swept.case, swept.weather)
    limits = p.limits._replace(differential_k=chosen.differential_k)

    def net_kwh(fan: Fan, damper: Damper) -> float:
        without = simulate(p.zone, p.unit, fan)
        fitted = simulate(p.zone, p.unit, fan, damper, limits, base=without)
        return (
            sum(float((without.total(name) - fitted.total(name)).sum()) for name in ("compressor_j", "fan_j")) / 3.6e6
        )

    for variation in swept.precool:
        expected = net_kwh(p.fan, p.damper._replace(precool_k=variation.value))
        assert variation.net_kwh_saved == pytest.approx(expected, rel=1e-12)
    for variation in swept.fan:
        expected = net_kwh(p.fan._replace(watts=variation.value * p.fan.watts), p.damper)
        assert variation.net_kwh_saved == pytest.approx(expected, rel=1e-12)


def test_the_codes_rule_that_nobody_told_gives_way_to_the_differential(sacramento: Any) -> None:
    case = make_case(preset="small-office", overrides={"site": {"climate_zone": "3B"}})
    assert case.rule.name == "fixed-dry-bulb"
    swept = sweep(case, sacramento, differentials_k=TEN, draws=0)
    assert swept.case.rule.name == swept.to_dict()["inputs"]["case"]["rule"]["name"] == "differential"
    told = make_case(preset="small-office", overrides={"rule": {"name": "fixed-dry-bulb", "high_limit": "65F"}})
    with pytest.raises(CaseError, match="fixed-dry-bulb"):
        sweep(told, sacramento)


@pytest.mark.parametrize("rule", ["fixed-dry-bulb", "fixed-enthalpy", "differential-enthalpy", "dew-point"])
def test_a_rule_without_a_differential_is_refused(rule: str, sacramento: Any) -> None:
    with pytest.raises(CaseError, match=f"{rule}.*compare"):
        sweep(make_case(overrides={"rule": {"name": rule}}), sacramento)


def test_no_differential_to_try_is_refused(sacramento: Any) -> None:
    with pytest.raises(CaseError, match="at least one"):
        sweep(make_case(), sacramento, differentials_k=[])


def test_order_and_repeats_do_not_matter(sacramento: Any) -> None:
    mixed = sweep(make_case(), sacramento, differentials_k=[kelvin(5), 0.0, kelvin(5)], draws=0)
    assert [c.differential_k for c in mixed.candidates] == [0.0, kelvin(5)]


@pytest.mark.parametrize(("unit_k", "told"), [(1.0, "1.8 °F"), (5 / 9, "1 °F"), (0.1, "")])
def test_equal_rows_of_coarse_temperatures_are_explained(unit_k: float, told: str) -> None:
    fine = open_weather("demo:high-desert")
    steps = (fine.frame["dry_bulb_c"] / unit_k).round() * unit_k
    frame = fine.frame.assign(dry_bulb_c=steps, dew_point_c=fine.frame["dew_point_c"].clip(upper=steps))
    weather = dataclasses.replace(fine, frame=frame)
    # A quarter of a °F apart: more rows than temperatures, whose means of an hour lie half a step apart.
    sweep = sweep_differential(make_case(), weather, [0.25 * step * 5 / 9 for step in range(12, 20)], draws=0)
    words = [reason for reason in sweep.reasons if "steps of" in reason]
    assert len(words) == bool(told)
    assert all(f"in steps of {told}." in reason for reason in words)
    permitted = [candidate.outcome.hours.permitted for candidate in sweep.candidates]
    assert (len(set(permitted)) < len(permitted)) is bool(told)
