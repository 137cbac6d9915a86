"""A building fitted to bills: its cooling is theirs, what moved stays in its range, and refusals leave the answer."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from made_bills import monthly_bills
from test_cli import freecool

from freecool import Bills, Estimate, estimate, fit_to_bills, make_case, open_weather, read_bills
from freecool.answers.contract import json_schema
from freecool.answers.fit_bills import _likely
from freecool.answers.fitted import BillsBlock
from freecool.answers.prepare import prepare
from freecool.answers.runs import run_pair
from freecool.answers.uncertainty import INPUTS, Drawn, not_told, varied

EXAMPLE = Path(__file__).parents[1] / "examples" / "invented-bills.csv"


@pytest.fixture(scope="module")
def house(shared_weather: Callable[[str], Path]) -> Estimate:
    return estimate(make_case(), open_weather(shared_weather("724839TYA_Sacramento_TMY3.csv")))


@pytest.fixture(scope="module")
def invented() -> Bills:
    return read_bills(EXAMPLE)


def held_against(answer: Estimate, bills: Bills) -> BillsBlock:
    block = fit_to_bills(answer, bills).bills
    assert block is not None
    return block


def test_the_fitted_building_takes_what_the_bills_tell_and_moves_within_its_ranges(
    house: Estimate, invented: Bills
) -> None:
    block = held_against(house, invented)
    assert block.fitted is not None
    assert block.cooling.cooling_kwh is not None
    energy = house.energy
    assert block.told_cooling_kwh == pytest.approx(energy.compressor_kwh_without + energy.fan_kwh_without)
    assert block.fitted.cooling_kwh == pytest.approx(block.cooling.cooling_kwh, rel=0.02)
    ranges = {
        one.key: (one.low, one.high) for one in INPUTS if one.key in {moved.input for moved in block.fitted.moved}
    }
    assert len(block.fitted.moved) >= 3
    for moved in block.fitted.moved:
        low, high = ranges[moved.input]
        assert low <= moved.factor <= high
        # Less cooling: less heat within, or a better unit or wall.
        assert (moved.factor < 1.0) == (moved.input in ("gains.occupied", "building.shading"))
    # The same by the public way: the building with what moved, run anew.
    inputs = [next(one for one in not_told(house.case) if one.key == moved.input) for moved in block.fitted.moved]
    places = [
        (moved.factor - one.low) / (one.high - one.low) for one, moved in zip(inputs, block.fitted.moved, strict=True)
    ]
    again = estimate(varied(house.case, inputs, places), house.weather).energy
    assert again.net_kwh_saved == pytest.approx(block.fitted.net_kwh_saved, abs=2.0)
    assert again.compressor_kwh_without + again.fan_kwh_without == pytest.approx(block.fitted.cooling_kwh, rel=0.01)


def test_bills_of_the_building_as_told_move_nothing_much(house: Estimate) -> None:
    prepared = prepare(house.case, house.weather)
    run = run_pair(prepared, prepared.zone, hourly=True).without
    daily = (run.column("compressor_w") + run.column("fan_w")).reshape(365, 24).sum(axis=1) / 1000.0
    block = held_against(house, monthly_bills(18.0 + daily))
    assert block.fitted is not None
    assert all(abs(moved.factor - 1.0) < 0.03 for moved in block.fitted.moved)
    assert block.fitted.net_kwh_saved == pytest.approx(house.energy.net_kwh_saved, abs=3.0)


def test_what_is_told_does_not_move(house: Estimate, invented: Bills) -> None:
    told = make_case({"gains": {"occupied": "3.9W/m2"}, "unit": {"eer": 12.5}})
    block = held_against(estimate(told, house.weather), invented)
    assert block.fitted is not None
    assert {moved.input for moved in block.fitted.moved} <= {
        "building.shading", "building.infiltration_ach", "building.wall",
    }  # fmt: skip


@pytest.mark.parametrize(("factor", "told"), [(8.0, "so that none is fitted"), (0.0, "as told")])
def test_bills_that_no_building_like_it_meets_fit_none(
    factor: float, told: str, house: Estimate, invented: Bills
) -> None:
    # Eight times the cooling over the same base load, or none.
    periods = tuple(
        replace(one, kwh=15.6 * one.days + factor * max(one.kwh - 15.6 * one.days, 0.0)) for one in invented.periods
    )
    block = held_against(house, replace(invented, periods=periods))
    assert (block.fitted, block.likely_net_kwh) == (None, None)
    assert told in block.sentences[-1]


def test_buildings_count_by_how_well_they_agree() -> None:
    # Hand-worked: of ten alike pairs those at the target count alone, 0 to 9 kWh, whose middle is 4.5.
    near = [Drawn(float(net), 0.0, 1000.0) for net in range(10)]
    far = [Drawn(100.0 + net, 0.0, 2000.0) for net in range(10)]
    found = _likely([*far, *near], 1000.0, 100.0)
    assert found is not None
    assert (found.low, found.middle, found.high) == pytest.approx((0.5, 4.5, 8.5))
    # Seven are too few to tell a spread.
    assert _likely([*far, *near[:7]], 1000.0, 100.0) is None


def test_the_fit_does_not_depend_on_threads(house: Estimate, invented: Bills) -> None:
    assert fit_to_bills(house, invented, workers=1).bills == fit_to_bills(house, invented, workers=3).bills


def test_the_command_holds_bills_against_its_answer(tmp_path: Path) -> None:
    report = tmp_path / "report.html"
    run = freecool("value", "demo:high-desert", "--bills", str(EXAMPLE), "--report", str(report))
    text = " ".join(run.output.split())
    assert "By the bills - Cooling takes 1,195 kWh a year by these bills" in text
    assert "not of the bills' dates" in text
    assert "Of buildings like it that agree with these bills 8 of 10 save" in text
    assert "Cooling takes 1,195 kWh a year by these bills" in report.read_text("utf-8").replace(
        "\N{NO-BREAK SPACE}", " "
    )
    answer = json.loads(freecool("value", "demo:high-desert", "--bills", str(EXAMPLE), "--json").output)
    assert list(Draft202012Validator(json_schema("value")).iter_errors(answer)) == []
    assert np.isclose(answer["bills"]["fitted"]["cooling_kwh"], answer["bills"]["cooling"]["cooling_kwh"], rtol=0.02)
    assert "bills" not in json.loads(freecool("value", "demo:high-desert", "--json").output)


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("none.csv", None, "none.csv cannot be read"),
        ("bills.csv", "start,end\n", "kwh is not there"),
        (
            "bills.xml",
            '<feed xmlns="http://naesb.org/espi"><entry><ReadingType><uom>72</uom></ReadingType></entry><entry>'
            "<IntervalBlock><IntervalReading><timePeriod><duration>900</duration><start>0</start></timePeriod>"
            "<value>5</value></IntervalReading></IntervalBlock></entry></feed>",
            "--set schedule.time_zone",
        ),
    ],
)
def test_bills_that_cannot_be_read_end_in_a_sentence(name: str, text: str | None, told: str, tmp_path: Path) -> None:
    if text is not None:
        (tmp_path / name).write_text(text)
    run = freecool("value", "demo:high-desert", "--bills", str(tmp_path / name))
    assert (run.code, run.output) == (2, "")
    assert told in run.errors


def test_no_output_replaces_the_bills(tmp_path: Path) -> None:
    bills = tmp_path / "bills.csv"
    bills.write_bytes(EXAMPLE.read_bytes())
    run = freecool("value", "demo:high-desert", "--bills", str(bills), "--hourly", str(bills))
    assert run.code == 2
    assert bills.read_bytes() == EXAMPLE.read_bytes()
