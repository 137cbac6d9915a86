"""Case files that are written tell what was told, and read back to the same case."""

from __future__ import annotations

import dataclasses
import shlex
import tomllib
from pathlib import Path
from typing import Any

import pytest
from test_cli import answer, freecool

from freecool.cases.case_file import case_text, read_case_file, read_case_text
from freecool.cases.model import make_case
from freecool.cli.request import Request
from freecool.core.units import System

REPOSITORY = Path(__file__).parents[1]
SYSTEMS: tuple[System, ...] = ("ip", "si")
TARIFF = [{"months": "jun-sep", "days": "mon-fri", "hours": "16-21", "price": 0.38}, {"hours": "22-6", "price": 0.09}]


@pytest.mark.parametrize(
    ("told", "units", "lines"),
    [
        ({}, "ip", ['preset = "detached-house-medium"']),
        ({"fan": {"flow": 900}}, "ip", ["[fan]", 'flow = "900cfm" # supply air']),
        ({"fan": {"flow": "0.5"}}, "si", ['flow = "0.5m3/s" # supply air']),
        ({"schedule": {"cooling": "75 F"}}, "si", ['cooling = "75 F" # cooling set point']),
        # "None" is a word of the file: the preset's own set point of empty hours is cleared.
        (
            {"preset": "small-office", "schedule": {"cooling_unoccupied": None}},
            "ip",
            ['cooling_unoccupied = "none" # cooling set point while unoccupied'],
        ),
        ({"damper": {"integrated": "false"}}, "ip", ["integrated = false #"]),
        ({"money": {"price": "0.2", "currency": "EUR"}}, "ip", ["price = 0.2 # electricity, per kWh [EUR/kWh]"]),
        ({"money": {"tariff": TARIFF}}, "ip", ["tariff = ["]),
        ({"building": {"glazing": {"south": 0.3}, "aspect": 1.5}}, "ip", ["[building.glazing]", "south = 0.3 #"]),
        ({"name": 'Corner "house" # 3\\4'}, "ip", ["name = "]),
    ],
)
def test_what_is_written_is_what_was_told_and_reads_back(told: dict[str, Any], units: Any, lines: list[str]) -> None:
    case = make_case(told, units=units)
    text = case_text(told, case)
    for line in lines:
        assert line in text
    # Whoever reads it: each quantity has its unit.
    for reader in SYSTEMS:
        assert make_case(read_case_text(text.encode(), "the text"), units=reader) == case
    assert keys(tomllib.loads(text)) == keys({"preset": "", **told})


def keys(tables: dict[str, Any], before: str = "") -> set[str]:
    """Dotted keys of nested tables."""
    below = [keys(value, f"{before}{name}.") for name, value in tables.items() if isinstance(value, dict)]
    return {f"{before}{name}" for name, value in tables.items() if not isinstance(value, dict)}.union(*below)


def test_options_a_case_file_and_a_performance_map_are_saved_as_one_file(tmp_path: Path) -> None:
    path = tmp_path / "all.toml"
    case_file = REPOSITORY / "examples" / "invented-7.5-ton.toml"
    request = Request(weather="demo:high-desert", case=case_file, setpoint="76", set_=["damper.leakage=0.1"], save=path)
    case = request.make_case()
    again = request.save_case("value", case)
    assert again.words() == f"demo:high-desert --case {shlex.quote(str(path))}"
    assert again.make_case() == case == make_case(read_case_file(path))
    assert path.read_text("utf-8").splitlines()[1] == f"# freecool value {again.words()}"


def test_a_saved_case_answers_as_it_was_asked(tmp_path: Path) -> None:
    path = tmp_path / "office.toml"
    asked = ("--demo", "office", "--setpoint", "24", "--units", "si")
    run = freecool("value", *asked, "--save", str(path))
    assert run.code == 0, run.errors
    assert f"freecool pick demo:mixed-inland --case {path} --units si" in run.output
    assert answer("demo:mixed-inland", "--case", str(path), "--units", "si") == answer(*asked)


def test_a_file_that_is_there_is_kept_unless_told(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text("mine")
    refused = freecool("value", "--save", str(path))
    assert (refused.code, refused.output) == (2, "")
    assert (
        refused.errors == f"freecool: {path}: there is such a file; choose another name, or --overwrite replaces it.\n"
    )
    assert path.read_text() == "mine"
    request = Request(save=path)
    dataclasses.replace(request, overwrite=True).check_saving()
    assert freecool("value", "--save", str(tmp_path / "no" / "house.toml")).code == 2
