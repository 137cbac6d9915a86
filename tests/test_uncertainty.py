"""Buildings like the case's: what is drawn, that each draw is complete, and that honest variants lie within."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.runs import run_pair
from freecool.answers.uncertainty import INPUTS, Doubt, doubt_of, latin_hypercube, not_told, varied
from freecool.cases.model import Case, case_fields, make_case
from freecool.weather import Weather, open_weather
from freecool.weather.years import whole_years

REPOSITORY = Path(__file__).parents[1]
PRESETS: tuple[Any, ...] = ("detached-house-light", "detached-house-medium", "small-office", "shop", "equipment-room")


@pytest.fixture(scope="module")
def weather() -> Weather:
    return whole_years(open_weather("demo:mixed-inland"))


@pytest.fixture(scope="module")
def office(weather: Weather) -> Doubt:
    return doubt_of(make_case(preset="small-office"), weather)


@given(draws=st.integers(1, 50), dimensions=st.integers(1, 8), seed=st.integers(0, 2**31))
def test_every_axis_is_filled_evenly(draws: int, dimensions: int, seed: int) -> None:
    points = latin_hypercube(draws, dimensions, seed)
    assert points.shape == (draws, dimensions)
    parts = np.floor(points * draws).astype(int)
    assert (np.sort(parts, axis=0) == np.arange(draws)[:, None]).all()
    assert (latin_hypercube(draws, dimensions, seed) == points).all()


@pytest.mark.parametrize("one", INPUTS, ids=lambda one: f"{one.key}-{one.uses[0]}")
def test_ranges_are_of_real_keys_and_hold_the_preset(one: Any) -> None:
    """Relative ones hold 1; the others hold what the presets of their uses say."""
    assert one.key in case_fields() or one.key == "building.wall"
    assert one.low < one.high
    assert one.source
    if one.relative:
        assert one.low < 1.0 < one.high
    elif not one.key.endswith("soil"):
        section, name = one.key.split(".")
        for case in (make_case(preset=preset) for preset in PRESETS):
            if case.building.use in one.uses:
                assert one.low <= getattr(getattr(case, section), name) <= one.high


def value_of(case: Case, key: str) -> Any:
    part: Any = case
    for name in key.split("."):
        part = getattr(part, name, None)
    return part


@pytest.mark.parametrize("preset", PRESETS)
@pytest.mark.parametrize("place", [0.0, 0.5, 1.0])
def test_buildings_drawn_are_within_what_a_case_may_say(preset: Any, place: float) -> None:
    case = make_case(preset=preset)
    unknowns = not_told(case)
    like = varied(case, unknowns, [place] * len(unknowns))
    for key, field in case_fields().items():
        if field.bounds is not None and isinstance(value := value_of(like, key), float):
            nothing = field.bounds.or_zero and value == 0.0
            assert nothing or field.bounds.least <= value <= field.bounds.most, key
    for one in unknowns:
        if one.relative and one.key not in ("building.wall", "building.shading", "building.window_g"):
            section, name = one.key.split(".")
            before, after = (getattr(getattr(which, section), name) for which in (case, like))
            assert after == pytest.approx(before * (one.low + (one.high - one.low) * place))


@pytest.mark.parametrize(
    ("told", "key"),
    [
        ({"gains": {"occupied": "1.0 W/ft2"}}, "gains.occupied"),
        ({"damper": {"outdoor_share": 0.8}}, "damper.outdoor_share"),
        ({"building": {"construction": "heavy"}}, "building.wall"),
        ({"building": {"ground": "suspended"}}, "building.edge_insulation"),
        ({"building": {"ground": "suspended"}}, "building.soil"),
        ({"unit": {"eer": "14 Btu/Wh"}}, "unit.eer"),
        ({"unit": {"capacity": "10 ton"}}, "unit.capacity"),
        ({"fan": {"flow": "4000 cfm"}}, "unit.capacity"),
    ],
)
def test_what_is_told_or_does_not_matter_is_not_drawn(told: dict[str, Any], key: str) -> None:
    preset: Any = "small-office"
    assert key in {one.key for one in not_told(make_case(preset=preset))}
    assert key not in {one.key for one in not_told(make_case(told, preset=preset))}


def test_telling_what_moves_it_most_narrows_it(office: Doubt, weather: Weather) -> None:
    told = {"gains": {"occupied": "1.81 W/ft2"}, "damper": {"outdoor_share": 0.91}, "unit": {"eer": "11.3 Btu/Wh"}}
    told |= {"building": {"window_g": 0.381, "shading": 0.81, "infiltration_ach": 0.21}, "fan": {"flow": "5001 cfm"}}
    sure = doubt_of(make_case(told, preset="small-office"), weather).band
    exact = told | {"sensors": {"dry_bulb_error": "0F", "humidity_error_percent": 0.0}}
    surest = doubt_of(make_case(exact, preset="small-office"), weather).band
    wide, narrow, narrowest = (band.net_kwh_saved.high - band.net_kwh_saved.low for band in (office.band, sure, surest))
    assert narrowest < narrow < wide
    assert "gains.occupied" in {mover.input for mover in office.movers[:3]}
    spans = [abs(mover.net_kwh_high - mover.net_kwh_low) for mover in office.movers]
    assert spans == sorted(spans, reverse=True)
    assert len(sure.inputs) < len(office.band.inputs)


def test_same_answer_whatever_the_threads(office: Doubt, weather: Weather) -> None:
    assert doubt_of(make_case(preset="small-office"), weather, workers=1) == office
    assert doubt_of(make_case(preset="small-office"), weather, workers=3) == office


def test_the_band_is_that_of_complete_answers(office: Doubt, weather: Weather) -> None:
    """Every draw worked out again by the public way: case, prepared, two runs, on the model that its point names."""
    from freecool.answers.prepare import prepare
    from freecool.answers.sensors import SensorError
    from freecool.physics.year import simulate

    case = make_case(preset="small-office")
    unknowns = not_told(case)
    points = latin_hypercube(64, len(unknowns) + 5, 0)
    tolerance = np.array([case.sensors.dry_bulb_error, case.sensors.humidity_error_percent / 100.0] * 2)
    found = []
    for point in points:
        prepared = prepare(varied(case, unknowns, point[: len(unknowns)]), weather)
        model, errors = point[len(unknowns)], tolerance * (2.0 * point[-4:] - 1.0)
        zone = prepared.zone if model < 0.5 else prepared.second
        without = run_pair(prepared, zone).without
        limits = SensorError(*map(float, errors)).on(prepared.limits)
        fitted = simulate(zone, prepared.unit, prepared.fan, prepared.damper, limits, base=without)
        kwh = sum(without.total(name).sum() - fitted.total(name).sum() for name in ("compressor_j", "fan_j")) / 3.6e6
        found.append(kwh)
    reach = office.band.net_kwh_saved
    assert (reach.low, reach.middle, reach.high) == pytest.approx(tuple(np.percentile(found, (10, 50, 90))), rel=1e-9)
    assert office.band.draws == 64
    shares = points[:, : len(unknowns)]
    for mover in office.movers:
        column = shares[:, [one.key for one in unknowns].index(mover.input)]
        assert mover.net_kwh_low == pytest.approx(np.mean(np.array(found)[column < 1 / 3]))
        assert mover.net_kwh_high == pytest.approx(np.mean(np.array(found)[column > 2 / 3]))


def test_the_size_of_the_unit_moves_its_fan_and_its_other_stages() -> None:
    preset: Any = "detached-house-variable-speed"
    case = make_case(preset=preset)
    (size,) = [one for one in not_told(case) if one.key == "unit.capacity"]
    small = varied(case, [size], [0.0])
    for section, name in (("unit", "capacity"), ("unit", "low_capacity"), ("unit", "middle_capacity"), ("fan", "flow")):
        before, after = (getattr(getattr(which, section), name) for which in (case, small))
        assert after == pytest.approx(0.6 * before)
    assert small.unit.eer == case.unit.eer


SLABS: tuple[dict[str, Any], ...] = (
    {},
    {"edge_insulation": "5 hft2F/Btu"},
    {"edge_insulation": "8 hft2F/Btu"},
    {"edge_insulation": "10 hft2F/Btu"},
    {"soil": "clay"},
    {"soil": "rock"},
    {"soil": "rock", "edge_insulation": "8 hft2F/Btu"},
)


@pytest.mark.parametrize("place", ["USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw", "723650TYA_Albuquerque_TMY3.csv"])
def test_every_honest_slab_lies_inside_the_band(place: str, shared_weather: Callable[[str], Path]) -> None:
    """The printed band of the two models alone was missed by every better slab."""
    there = whole_years(open_weather(shared_weather(place)))
    band = doubt_of(make_case(preset="small-office"), there).band.net_kwh_saved
    for slab in SLABS:
        answer = estimate(make_case({"building": slab}, preset="small-office"), there)
        assert band.low <= answer.energy.net_kwh_saved <= band.high, slab
        assert band.low <= answer.model_band["net_kwh_saved"][0], slab


def test_a_record_of_years_is_drawn_less_often(shared_weather: Callable[[str], Path]) -> None:
    one = open_weather(shared_weather("723650TYA_Albuquerque_TMY3.csv"))
    assert doubt_of(make_case(), whole_years(one)).band.draws == 64
    years = three_years(one)
    assert doubt_of(make_case(), years).band.draws == 24


def three_years(one: Weather) -> Weather:
    import pandas as pd

    frames = []
    for year in (2001, 2002, 2003):
        index = pd.date_range(f"{year}-01-01", periods=8760, freq="h", tz=one.frame.index.tz)  # type: ignore[attr-defined]
        frames.append(one.frame.set_axis(index))
    return replace(one, frame=pd.concat(frames), years=(2001, 2002, 2003), typical=False)


def test_an_answer_tells_it_in_every_form(weather: Weather) -> None:
    answer: Estimate = estimate(make_case(preset="small-office"), weather)
    told = answer.to_dict()
    reach = told["likely_band"]["net_kwh_saved"]
    assert reach["low"] <= reach["middle"] <= reach["high"]
    assert {mover["words"] for mover in told["moved_by"]} == set(told["likely_band"]["inputs"])
    text = " ".join(repr(answer).split())
    assert f"{reach['low']:,.0f} to {reach['high']:,.0f} kWh" in text
    assert "buildings like it save" in answer.sentence


def test_the_docs_list_every_input_with_its_range() -> None:
    page = (REPOSITORY / "docs" / "how-it-works.md").read_text("utf-8")
    section = page.split("## Buildings like it")[1].split("\n## ")[0]
    rows = [line for line in section.splitlines() if line.startswith("| ") and "`" in line]
    assert len(rows) == len(INPUTS)
    for one, row in zip(INPUTS, rows, strict=True):
        assert f"{one.words} (`{one.key}`)" in row
        assert one.source in row
        if not one.key.endswith("soil"):
            assert f"{'times ' if one.relative else ''}{one.low:g} to {one.high:g}" in row
