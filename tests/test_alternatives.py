"""What else could be set: every line is an answer that can be asked for by its own options."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from test_cli import freecool

from freecool.answers.alternatives import DIFFERENTIALS_K, _settings
from freecool.answers.estimate import estimate
from freecool.answers.rules import is_code_changeover, limits_of
from freecool.cases.model import make_case
from freecool.show.text import else_lines
from freecool.weather import open_weather

CASES = [
    ("demo:high-desert", "detached-house-medium", ()),
    ("demo:humid-coast", "small-office", ("--zone", "2A")),
    ("demo:mixed-inland", "equipment-room", ()),
]


@pytest.mark.parametrize(("place", "preset", "more"), CASES)
def test_each_is_what_its_options_answer(place: str, preset: str, more: tuple[str, ...]) -> None:
    """Two ways to one number: the line's own, and the whole answer to its options."""
    asked = ("value", place, "--building", preset, *more)
    others = json.loads(freecool(*asked, "--json").output)["alternatives"]
    lines = [*others["by_kind"], *others["would_help"]]
    assert len(lines) > 2
    for line in lines:
        again = json.loads(freecool(*asked, *shlex.split(line["options"]), "--json").output)
        assert again["energy"]["net_kwh_saved"] == pytest.approx(line["net_kwh_saved"], abs=1e-6), line["options"]
        assert again["money"]["saved_per_year"] == pytest.approx(line["saved_per_year"], abs=1e-6)
        assert again["humidity"]["risk"] == line["risk"]


@pytest.mark.parametrize(("place", "preset"), [(place, preset) for place, preset, _ in CASES])
def test_the_best_keeps_dry_saves_and_no_line_but_precooling_beats_it_by_much(place: str, preset: str) -> None:
    others = estimate(make_case(preset=preset), open_weather(place)).alternatives
    assert others.best is not None
    assert others.best.net_kwh_saved > 0.0
    assert {line.risk for line in others.by_kind} == {"low"}
    settings = [line for line in others.by_kind if line.kind != "precool"]
    assert max(line.saved_per_year for line in settings) * 0.98 <= others.best.saved_per_year
    assert 40 <= others.tried <= 100


def test_nothing_is_finer_than_the_sensors() -> None:
    """A differential within the sensor's own error is no setting: none below 4 °F with sensors of ± 4 °F."""
    case = make_case({"sensors": {"dry_bulb_error": "4F"}}, preset="small-office")
    others = estimate(case, open_weather("demo:high-desert")).alternatives
    assert "differential of 4 °F" in next(line.words for line in others.by_kind if line.kind == "differential")
    fine = estimate(make_case(preset="small-office"), open_weather("demo:high-desert")).alternatives
    assert "differential of 2 °F" in next(line.words for line in fine.by_kind if line.kind == "differential")
    assert DIFFERENTIALS_K["ip"][0] == DIFFERENTIALS_K["si"][0] == 0.0


def test_who_reads_si_gets_whole_and_half_kelvin() -> None:
    case = make_case(preset="small-office", units="si")
    others = estimate(case, open_weather("demo:humid-coast")).alternatives
    told = " ".join(f"{line.words} {line.options}" for line in (*others.by_kind, *others.would_help))
    assert "°F" not in told
    assert not re.search(r"\dF\b", told)
    for number in re.findall(r"--differential ([\d.]+)K", told):
        assert (2.0 * float(number)).is_integer()


def test_every_high_limit_tried_is_one_of_summer() -> None:
    """Limits are kept in °C: one read as °F would never open."""
    nowhere: Any = None
    tried = [one.rule.high_limit for one in _settings(make_case(), nowhere, 101_325.0)]
    assert [round(limit * 1.8 + 32.0) for limit in tried if limit is not None] == [60, 65, 70]


@pytest.mark.parametrize("zone", ["2A", "4A", "5A", "3B"])
def test_where_the_code_binds_the_best_is_one_that_it_lists(zone: str) -> None:
    """ASHRAE 90.1-2016 table 6.5.1.1.3: the best is listed, unless none that saves nine tenths as much is."""
    case = make_case({"site": {"climate_zone": zone}}, preset="small-office")
    answer = estimate(case, open_weather("demo:mixed-inland"))
    best = answer.alternatives.best
    assert best is not None
    asked = shlex.split(best.options)
    given = dict(zip(asked[::2], asked[1::2], strict=True))
    rule = make_case(
        {
            "rule": {
                "name": given.get("--rule", "differential"),
                "high_limit": given.get("--high-limit"),
                "dew_point_limit": given.get("--dew-point-limit"),
            }
        }
    ).rule
    assert is_code_changeover(limits_of(rule, 101_325.0, zone), zone)


def test_a_thriftier_fan_is_not_told_where_the_fan_runs_anyway(tmp_path: Path) -> None:
    office = estimate(make_case(preset="small-office"), open_weather("demo:high-desert")).alternatives
    house = estimate(make_case(), open_weather("demo:high-desert")).alternatives
    assert "fan" not in {line.kind for line in office.would_help}
    assert "fan" in {line.kind for line in house.would_help}
    thrifty = make_case({"fan": {"power": "0.2 W/cfm"}, "damper": {"outdoor_share": 1.0}})
    assert estimate(thrifty, open_weather("demo:high-desert")).alternatives.would_help == ()


def test_lines_end_in_their_options() -> None:
    answer = estimate(make_case(), open_weather("demo:high-desert"))
    for line, shorter in zip(else_lines(answer, options=True), else_lines(answer, options=False), strict=True):
        assert line.startswith(shorter)
        assert line.endswith(")")
        assert " kWh, " in line
        assert "--" in line


def test_the_result_does_not_depend_on_threads(shared_weather: Callable[[str], Path]) -> None:
    weather: Any = open_weather(str(shared_weather("722040TYA_MelbourneFL_TMY3.csv")))
    one, two = (estimate(make_case(preset="shop"), weather, workers=workers).alternatives for workers in (1, 2))
    assert one == two
