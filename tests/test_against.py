"""Two or three quotes side by side: each as it answers alone, and every difference named, at every door."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import html5lib
import jsonschema
import pytest
from test_cli import DESERT, freecool

from freecool import estimate, make_case, open_weather
from freecool.answers.against import compare_quotes, differences
from freecool.answers.contract import json_schema
from freecool.cases.model import Case
from freecool.core.errors import CaseError
from freecool.core.units import format_money

THRIFTY = 'name = "Thrifty fan"\n[fan]\npower = "0.2 W/cfm"\n[money]\ninstalled_cost = 1400\n'
WARMER = 'name = "Warmer"\n[schedule]\ncooling = "78F"\n[money]\ninstalled_cost = 900\n[quote]\ncustomer = "Pat"\n'


def cases() -> list[Case]:
    money = {"installed_cost": 900}
    return [
        make_case({"name": "Plain", "money": money}),
        make_case({"name": "Thrifty fan", "fan": {"power": "0.2W/cfm"}, "money": {"installed_cost": 1400}}),
        make_case({"name": "Warmer", "schedule": {"cooling": "78F"}, "money": money, "quote": {"customer": "Pat"}}),
    ]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Text, JSON and report of a case with two others beside it."""
    folder = tmp_path_factory.mktemp("quotes")
    for name, text in (("thrifty", THRIFTY), ("warmer", WARMER)):
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    words = [DESERT, "--set", "name=Plain", "--installed-cost", "900"]
    words += [word for name in ("thrifty", "warmer") for word in ("--against", str(folder / f"{name}.toml"))]
    run = freecool("value", *words, "--report", str(folder / "report.html"))
    assert run.code == 0, run.errors
    data = json.loads(freecool("value", *words, "--json").output)
    return {"text": run.output, "json": data, "page": (folder / "report.html").read_text("utf-8")}


def test_each_quote_answers_as_it_does_alone(told: dict[str, Any]) -> None:
    weather = open_weather(DESERT)
    for other, case in zip(told["json"]["against"], cases()[1:], strict=True):
        alone = estimate(case, weather).to_dict()
        assert other["name"] == case.name
        assert (other["verdict"], other["text"]) == (alone["verdict"]["answer"], alone["verdict"]["text"])
        assert other["net_kwh_saved"] == alone["energy"]["net_kwh_saved"]
        assert other["likely_net_kwh_saved"] == alone["likely_band"]["net_kwh_saved"]
        assert other["saved_per_year"] == alone["money"]["saved_per_year"]
        assert (other["risk"], other["clause_hours_added"]) == (
            alone["humidity"]["risk"],
            alone["humidity"]["clause_hours_with"] - alone["humidity"]["clause_hours_without"],
        )
        assert other["case"] == json.loads(json.dumps(alone["inputs"]["case"]))
    jsonschema.validate(told["json"], json_schema("value"))


def test_every_difference_is_named_and_nothing_else(told: dict[str, Any]) -> None:
    thrifty, warmer = ([tuple(each.values()) for each in other["differs"]] for other in told["json"]["against"])
    assert thrifty == [
        ("fan.power", "Fan power", "0.365 W/cfm", "0.2 W/cfm"),
        ("money.installed_cost", "Installed cost", "$900", "$1,400"),
    ]
    assert warmer == [("schedule.cooling", "Cooling set point", "75 °F", "78 °F")]
    # A value that one of them does not set, and a list.
    case = cases()[0]
    other = make_case({"rule": {"high_limit": "65F"}, "money": {"tariff": [{"hours": "16-21", "price": 0.3}]}})
    assert [(each.key, each.here, each.there) for each in differences(case, other)] == [
        ("rule.high_limit", "", "65 °F"),
        ("money.tariff", "", "jan-dec, mon-sun, 16-21 h: $0.3 a kWh"),
        ("money.installed_cost", "$900", ""),
    ]


def rows_of(page: str) -> dict[str, list[str]]:
    tree = html5lib.parse(page, namespaceHTMLElements=False)
    rows = [[cell.text or "" for cell in row if cell.tag in ("td", "th")] for row in tree.iter("tr")]
    return {row[0]: row[1:] for row in rows}


def test_text_and_report_have_the_table(told: dict[str, Any]) -> None:
    data = told["json"]
    quotes = [
        (data["verdict"]["text"], data["energy"]["net_kwh_saved"], data["money"]["saved_per_year"]),
        *((each["text"], each["net_kwh_saved"], each["saved_per_year"]) for each in data["against"]),
    ]
    rows = rows_of(told["page"])
    assert rows[""] == ["Plain", "Thrifty fan", "Warmer"]
    assert rows["Fan power"] == ["0.365 W/cfm", "0.2 W/cfm", "0.365 W/cfm"]
    assert rows["Cooling set point"] == ["75 °F", "75 °F", "78 °F"]
    assert rows["Net saved"] == [f"{kwh:,.0f} kWh" for _, kwh, _ in quotes]
    assert rows["Money saved"] == [format_money(money, "USD") for _, _, money in quotes]
    for word, (sentence, _, _) in zip(rows["Verdict"], quotes, strict=True):
        assert sentence.startswith(word)
    assert rows["Humidity risk"] == ["low"] * 3
    # The same in the terminal, a line a row.
    lines = [line.split("  ") for line in told["text"].partition("Quotes side by side\n")[2].splitlines()]
    printed = {
        cells[0]: cells[1:] for cells in ([cell.strip() for cell in line if cell.strip()] for line in lines) if cells
    }
    for name in ("Fan power", "Net saved", "Money saved", "Buildings like it"):
        assert printed[name] == rows[name], name


def test_the_quotes_stand_on_the_page_that_is_handed_over(told: dict[str, Any]) -> None:
    assert "Quotes side by side" in told["page"].partition("Annex, for the engineer")[0]
    assert "Quotes side by side" not in told["page"].partition("Annex, for the engineer")[2]


def test_quotes_of_one_name_are_told_apart_and_three_others_refused() -> None:
    weather, case = open_weather(DESERT), make_case()
    answer = compare_quotes(case, weather, [make_case({"unit": {"eer": 14}}), make_case({"unit": {"eer": 10}})])
    assert [other.name for other in answer.against] == ["detached-house-medium (2)", "detached-house-medium (3)"]
    for others in ([], [case] * 3):
        with pytest.raises(CaseError, match="expected one or two"):
            compare_quotes(case, weather, others)


def test_a_fault_of_another_case_names_its_file(tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text("[fan]\npower = 'much'\n", encoding="utf-8")
    run = freecool("value", DESERT, "--against", str(other))
    assert run.code == 2
    assert f"{other}: fan.power is 'much'" in run.errors
    assert freecool("pick", DESERT, "--against", str(other)).code == 2
