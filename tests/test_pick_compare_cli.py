"""``freecool pick`` and ``freecool compare`` through their door: contracts, tables, refusals."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from test_cli import DESERT, freecool

from freecool.cases.rules import RULES
from freecool.show.tables import text_table

FEW = ("--draws", "2")
ONE = ("--draws", "1")


def told(command: str, *arguments: str) -> dict[str, Any]:
    run = freecool(command, *arguments, "--json")
    assert run.code == 0, run.errors
    assert run.errors == ""
    return json.loads(run.output)  # type: ignore[no-any-return]


def refusal(command: str, *arguments: str) -> str:
    run = freecool(command, *arguments)
    assert (run.code, run.output) == (2, "")
    lines = [line for line in run.errors.splitlines() if not line.startswith("First run: ")]
    assert len(lines) == 1
    assert lines[0].startswith("freecool: ")
    return lines[0].removeprefix("freecool: ")


@pytest.fixture(scope="module")
def picked() -> dict[str, Any]:
    return told("pick", DESERT, *FEW)


@pytest.fixture(scope="module")
def compared() -> dict[str, Any]:
    return told("compare", DESERT, *FEW, "--building", "small-office", "--zone", "4A")


def test_help_lists_the_commands() -> None:
    output = freecool("--help").output
    assert "pick" in output
    assert "compare" in output


def test_pick_contract(picked: Any) -> None:
    assert [c["differential_k"] for c in picked["candidates"]] == pytest.approx([f / 1.8 for f in range(21)])
    for candidate in picked["candidates"]:
        assert {"hours", "energy", "humidity", "money"} <= set(candidate)
    assert "differential_k" in picked["best"]
    assert picked["break_even_differential_k"] > 0.0
    assert picked["reasons"]
    assert all(isinstance(reason, str) for reason in picked["reasons"])


def test_pick_leaves_off_as_null() -> None:
    run = freecool("pick", DESERT, *FEW, "--fan", "2W/cfm", "--to", "8F", "--json")
    assert '"differential_k": null' in run.output
    assert json.loads(run.output)["best"]["differential_k"] is None
    assert freecool("pick", DESERT, *FEW, "--fan", "2W/cfm", "--to", "8F").output.startswith("Leave it off")


def test_pick_agrees_with_value(picked: Any) -> None:
    alone = json.loads(freecool("value", DESERT, "--differential", "7F", "--json").output)
    net = picked["candidates"][7]["energy"]["net_kwh_saved"]
    assert net == pytest.approx(alone["energy"]["net_kwh_saved"], rel=1e-9)


def test_compare_contract(compared: Any) -> None:
    assert [rule["name"] for rule in compared["rules"]] == list(RULES)
    assert compared["climate_zone"] == "4A"
    flags = {rule["name"]: rule["code_changeover"] for rule in compared["rules"]}
    assert flags["return-differential"] is False
    assert flags["fixed-dry-bulb"] is True
    assert compared["answers"]


@pytest.mark.parametrize("command", ["pick", "compare"])
def test_the_same_seed_prints_the_same(command: str) -> None:
    first, again = (freecool(command, DESERT, *ONE, "--seed", "5", "--json").output for _ in range(2))
    assert first == again
    assert first != freecool(command, DESERT, *ONE, "--seed", "6", "--json").output


@pytest.mark.parametrize("command", ["pick", "compare"])
def test_text_says_the_answer_its_cautions_and_the_demo(command: str) -> None:
    output = freecool(command, *FEW).output
    assert "invented" in output.splitlines()[0]
    for words in ("An estimate, not a design", "licensed technicians", "combustion-appliance draft"):
        assert words in output


def test_the_range_is_what_was_asked() -> None:
    exact = ("pick", DESERT, "--draws", "0")
    some = told(*exact, "--from", "2F", "--to", "9F", "--step", "2F")
    assert [1.8 * c["differential_k"] for c in some["candidates"]] == pytest.approx([2, 4, 6, 8])
    metric = told(*exact, "--units", "si", "--from", "1", "--to", "2", "--step", "0.5")
    assert [c["differential_k"] for c in metric["candidates"]] == pytest.approx([1.0, 1.5, 2.0])
    one = told(*exact, "--from", "5F", "--to", "5F")
    assert len(one["candidates"]) == 1


@pytest.mark.parametrize(("command", "index", "rows"), [("pick", "differential_k", 21), ("compare", "rule", 6)])
def test_tables_round_trip(command: str, index: str, rows: int, tmp_path: Path) -> None:
    csv, parquet = tmp_path / "table.csv", tmp_path / "table.parquet"
    answer = told(command, DESERT, *FEW, "--table", str(csv))
    told(command, DESERT, *FEW, "--table", str(parquet))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["table.csv", "table.parquet"]
    text, table = pd.read_csv(csv, index_col=index), pd.read_parquet(parquet)
    assert table.index.name == index
    assert len(text) == len(table) == rows
    # Six significant digits in the text.
    written, kept = (each["net_kwh_saved"].to_numpy() for each in (text, table))
    assert written == pytest.approx(kept, rel=1e-5, abs=1e-9)
    entries = answer["candidates" if command == "pick" else "rules"]
    assert kept.tolist() == [entry["energy"]["net_kwh_saved"] for entry in entries]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--from", "warm"), ("--from", "warm")),
        (("--to", "5cfm"), ("--to", "5cfm")),
        (("--step", "0F"), ("--step 0F", "--step 1F")),
        (("--step", "-1F"), ("--step -1F",)),
        (("--from", "-2F"), ("--from -2F", "0 or more")),
        (("--from", "9F", "--to", "3F"), ("--from 9F --to 3F", "rising")),
        (("--step", "0.01F"), ("--step 0.01F", "400 steps")),
        (("--to", "nan"), ("--to", "nan")),
        (("--to", "inf"), ("--to", "inf")),
        (("--rule", "fixed-enthalpy"), ("fixed-enthalpy", "compare")),
        (("--table", "table.xls"), (".xls", ".csv or .parquet")),
    ],
    ids=lambda item: " ".join(item) if item and item[0].startswith("-") else "",
)
def test_a_mistake_in_pick_ends_in_one_sentence(arguments: Any, words: Any) -> None:
    text = refusal("pick", DESERT, *arguments)
    assert [word for word in words if word not in text] == []


@pytest.mark.parametrize("command", ["pick", "compare"])
def test_both_refuse_a_bad_table_and_place(command: str, tmp_path: Path) -> None:
    assert ".csv or .parquet" in refusal(command, DESERT, "--table", "rules.txt")
    target = tmp_path / "no-such-folder" / "table.csv"
    assert str(target) in refusal(command, DESERT, "--draws", "0", "--table", str(target))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["pick", "compare"])
@pytest.mark.parametrize("arguments", [("--draws", "-1"), ("--draws", "many"), ("--seed", "-3")], ids=" ".join)
def test_the_parser_refuses_numbers_out_of_range(command: str, arguments: Any) -> None:
    run = freecool(command, DESERT, *arguments)
    assert (run.code, run.output) == (2, "")
    assert arguments[0] in run.errors
    assert "Traceback" not in run.errors


@pytest.mark.parametrize("zone", ["0A", "0B"])
def test_the_hottest_zones_are_answered(zone: str) -> None:
    office = ("--building", "small-office", "--draws", "0", "--zone", zone)
    assert told("compare", DESERT, *office)["climate_zone"] == zone


@pytest.mark.parametrize("ceiling", ["-1", "nan"])
def test_a_humidity_ceiling_is_a_number_of_hours(ceiling: str) -> None:
    run = freecool("pick", DESERT, "--draws", "0", "--humidity-ceiling", ceiling, "--json")
    assert (run.code, run.output) == (2, "")
    assert "Traceback" not in run.errors


def test_a_table_keeps_every_character_of_its_cells() -> None:
    # What a terminal library might take for markup, an emoji, a link or too much for its width.
    name = "[bold]Bäckerei 東京[/] :smile: " * 12
    told = text_table(("name", "kWh", "[red]"), [(name, "1,234", "x"), ("b", "5", "")], left=(0, 2))
    head, first, second = told.splitlines()
    assert first == f"{name}  1,234  x"
    assert head.startswith("name ")
    assert head.endswith("kWh  [red]")
    assert second.split() == ["b", "5"]


@pytest.mark.parametrize("command", ["value", "pick", "compare"])
@pytest.mark.parametrize("place", ["demo:humid-coast", "demo:mixed-inland"])
def test_si_reaches_every_sentence(command: str, place: str) -> None:
    """No inch-pound unit but where both are told side by side."""
    draws = () if command == "value" else FEW
    run = freecool(command, place, *draws, "--building", "small-office", "--zone", "2A", "--units", "si")
    told = " ".join(run.output.split())
    both = re.sub(r"[\d.,-]+ (°F|Btu/lb|ton|ft²)( \(| wet bulb|\b[^.]{0,12}\()", "(", told)
    assert not re.findall(r"[^ ]* (?:°F|Btu/lb|ton|cfm)\b", both)


def test_an_si_sweep_steps_in_half_kelvin() -> None:
    found = told("pick", DESERT, *FEW, "--units", "si")["candidates"]
    assert [candidate["differential_k"] for candidate in found] == [step / 2.0 for step in range(21)]
    asked = told("pick", DESERT, *FEW, "--units", "si", "--to", "3K", "--step", "1K")["candidates"]
    assert [candidate["differential_k"] for candidate in asked] == [0.0, 1.0, 2.0, 3.0]


def test_the_last_lines_ask_the_other_questions_of_the_same_case() -> None:
    asked = (DESERT, "--building", "shop", "--price", "0.2", "--zone", "4B", "--rule", "fixed-enthalpy", "--offline")
    run = freecool("value", *asked, "--set", "building.storeys=2", "--set", "name=Two words")
    *_, head, pick, compare = run.output.splitlines()
    assert head == "Next, with this case"
    assert (pick.split()[1], compare.split()[1]) == ("pick", "compare")
    assert "--rule" not in pick
    case = told("value", *asked, "--set", "building.storeys=2", "--set", "name=Two words")["inputs"]["case"]
    assert told(*shlex.split(compare)[1:], *FEW)["inputs"]["case"] == case
    again = told(*shlex.split(pick)[1:], *FEW)["inputs"]["case"]
    assert again["rule"].pop("name") == "differential"
    assert {**again, "rule": None} == {**case, "rule": None}
    assert "Next" not in freecool("value", *asked, "--json").output
