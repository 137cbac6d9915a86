"""The command line: what it says, what it writes, and how it refuses."""

from __future__ import annotations

import contextlib
import gc
import io
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest

from freecool.cases.demos import DEMOS
from freecool.cases.model import make_case
from freecool.cli.app import main
from freecool.cli.output import say
from freecool.cli.request import Request
from freecool.core.version import __version__

DESERT = "demo:high-desert"


class Run(NamedTuple):
    """What a command said."""

    code: int
    output: str
    errors: str


def freecool(*arguments: str) -> Run:
    """The command line's true door, run in this process."""
    output, errors = io.StringIO(), io.StringIO()
    before = sys.argv
    sys.argv = ["freecool", *arguments]
    code: object = 0
    try:
        with contextlib.redirect_stdout(output), contextlib.redirect_stderr(errors):
            main()
    except SystemExit as stop:
        code = stop.code or 0
    finally:
        sys.argv = before
        # A command that ends at once turns collection off.
        gc.enable()
    return Run(int(str(code)), output.getvalue(), errors.getvalue())


def answer(*arguments: str) -> dict[str, Any]:
    """The JSON answer of ``freecool value``."""
    run = freecool("value", *arguments, "--json")
    assert run.code == 0, run.errors
    return json.loads(run.output)  # type: ignore[no-any-return]


def refused(*arguments: str) -> str:
    """The one sentence with which ``freecool value`` refuses."""
    run = freecool("value", *arguments)
    assert run.code == 2
    assert run.output == ""
    lines = [line for line in run.errors.splitlines() if not line.startswith("First run: ")]
    assert len(lines) == 1
    assert lines[0].startswith("freecool: ")
    return lines[0].removeprefix("freecool: ")


def write_year(path: Path, heading: str, dry_bulb: float, swing: float) -> Path:
    """A plain CSV of 2023, dry bulb swinging about a mean as the sun does, half as humid as it can be."""
    times = pd.date_range("2023-01-01", periods=8760, freq="h")
    values = dry_bulb - swing * np.cos((times.hour - 3) * (2 * np.pi / 24))
    rows = [f"{time:%Y-%m-%d %H:%M},{value:.1f},50" for time, value in zip(times, values, strict=True)]
    place = "# latitude: 40\n# longitude: -100\n# elevation_m: 500\n# utc_offset_h: -7\n"
    path.write_text(f"{place}time,{heading},relative_humidity_percent\n" + "\n".join(rows) + "\n")
    return path


def test_help_lists_value_and_version_is_told() -> None:
    assert "value" in freecool("--help").output
    assert freecool("--version") == Run(0, f"freecool {__version__}\n", "")


def test_without_weather_it_says_invented_demo() -> None:
    run = freecool("value")
    assert run.code == 0
    first = run.output.splitlines()[0]
    assert "demo" in first
    assert "invented" in first
    assert answer()["weather"]["invented"] is True


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_has_something_to_decide_and_asks_the_other_questions_of_itself(name: str) -> None:
    run = freecool("value", "--demo", name)
    assert run.code == 0
    assert all(f"--demo {other}" in run.output.replace("\n", " ") for other in DEMOS)
    _, following = run.output.split("Next, with this case")
    assert following.split("\n  ")[1:] == [f"freecool pick --demo {name}", f"freecool compare --demo {name}\n"]
    told = answer("--demo", name)
    assert told["verdict"]["answer"] != "no"
    assert told["money"]["saved_per_year"] > 2 * make_case().money.least_saving
    assert told["inputs"]["case"]["name"].endswith("(invented)")


def test_without_any_word_of_building_and_weather_it_is_the_first_demo() -> None:
    house = make_case(DEMOS["house"].case)
    assert Request().make_case() == Request(demo="house").make_case() == house
    assert Request().open_weather().source == DEMOS["house"].weather
    assert Request(price=0.3).make_case().name == house.name
    # A building told is that building, and in a weather told is the usual house.
    assert Request(building="shop").make_case() == make_case(preset="shop")
    assert Request(weather=DESERT).make_case() == make_case()


def test_a_demo_runs_in_a_weather_of_ones_own() -> None:
    request = Request(weather="demo:humid-coast", demo="office", price=0.4)
    assert request.open_weather().source == "demo:humid-coast"
    assert request.make_case() == make_case(DEMOS["office"].case, {"money": {"price": 0.4}})


def test_what_is_no_demo_is_refused(tmp_path: Path) -> None:
    assert freecool("value", "--demo", "barn").errors.strip() == (
        "freecool: --demo is 'barn': expected one of house, office, equipment-room."
    )
    file = tmp_path / "any.toml"
    file.write_text("")
    both = freecool("value", "--demo", "house", "--case", str(file))
    assert (both.code, both.errors.strip()) == (2, "freecool: --demo and --case both tell a building: give one.")


def test_with_weather_it_does_not_say_that_none_was_given(shared_weather: Callable[[str], Path]) -> None:
    run = freecool("value", str(shared_weather("USA_CO_Golden-NREL.724666_TMY3.epw")))
    assert run.code == 0
    assert "No weather was given" not in run.output
    assert "INVENTED" not in run.output


def test_the_answer_carries_its_cautions() -> None:
    output = freecool("value", DESERT).output
    for words in ("An estimate, not a design", "licensed technicians", "combustion-appliance draft", "mould"):
        assert words in output


def test_negative_numbers_have_a_true_minus_where_the_terminal_has_one() -> None:
    losing = ("value", DESERT, "--fan", "1W/cfm")
    text = freecool(*losing).output
    assert re.search(r"^  Net saved +−\d+ kWh", text, re.MULTILINE)
    assert re.search(r"(?<![\w.,-])-\d", text) is None
    without = io.TextIOWrapper(io.BytesIO(), encoding="cp1252", newline="\n")
    with contextlib.redirect_stdout(without):
        say("−5 °F")
    without.flush()
    assert without.buffer.getvalue() == "-5 °F\n".encode("cp1252")


def test_json_is_one_object_and_nothing_else() -> None:
    run = freecool("value", "--json")
    assert run.errors == ""
    assert isinstance(json.loads(run.output), dict)
    assert (run.output[0], run.output.rstrip()[-1]) == ("{", "}")


def test_text_and_json_tell_the_same() -> None:
    energy = answer(DESERT)["energy"]
    output = freecool("value", DESERT).output
    assert f"{energy['net_kwh_saved']:,.0f} kWh" in output
    assert f"of {energy['compressor_kwh_without']:,.0f}" in output


def test_hourly_tables_round_trip(tmp_path: Path) -> None:
    csv, parquet = tmp_path / "hours.csv", tmp_path / "hours.parquet"
    told = answer(DESERT, "--hourly", str(csv))
    answer(DESERT, "--hourly", str(parquet))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["hours.csv", "hours.csv-metadata.json", "hours.parquet"]
    # A plain reader needs no word; whose weather it is and what columns mean stand beside, and in the metadata.
    text, table = pd.read_csv(csv, index_col="time", parse_dates=True), pd.read_parquet(parquet)
    beside = json.loads((tmp_path / "hours.csv-metadata.json").read_text("utf-8"))
    assert beside["dc:rights"] == table.attrs["attribution"] == "Invented for Freecool; measured nowhere."
    assert [column["titles"] for column in beside["tableSchema"]["columns"]] == ["time", *text.columns]
    assert {column["dc:description"] for column in beside["tableSchema"]["columns"]} == {
        *table.attrs["columns"].values()
    }
    assert len(text) == len(table) == 8760
    assert list(text.columns) == list(table.columns)
    for column in ("indoor_c_with", "compressor_w_without", "damper_share"):
        # Six significant digits in the text.
        assert text[column].to_numpy() == pytest.approx(table[column].to_numpy(), rel=1e-5, abs=1e-9)
    kwh = (table["compressor_w_without"] - table["compressor_w_with"]).sum() / 1000.0
    assert kwh == pytest.approx(told["energy"]["compressor_kwh_avoided"], rel=1e-9)
    assert table["permitted"].sum() == told["hours"]["permitted"]


def test_precedence_is_option_then_case_then_preset(tmp_path: Path) -> None:
    file = tmp_path / "case.toml"
    file.write_text('preset = "small-office"\n[fan]\npower = "0.6 W/cfm"\n[money]\nprice = 0.2\n')
    preset = answer(DESERT, "--building", "small-office")["inputs"]
    case = answer(DESERT, "--case", str(file))["inputs"]
    option = answer(DESERT, "--case", str(file), "--fan", "0.3W/cfm")["inputs"]
    cfm = 0.3048**3 / 60.0
    assert [told["fan_w_per_m3_s"] * cfm for told in (preset, case, option)] == pytest.approx([0.45, 0.6, 0.3])
    assert [told["price_per_kwh"] for told in (preset, case, option)] == [0.15, 0.2, 0.2]
    assert answer(DESERT, "--case", str(file), "--building", "shop")["inputs"]["building"] == "shop"


def test_set_reaches_any_key_and_an_option_of_its_own_may_be_cleared(tmp_path: Path) -> None:
    told = answer(DESERT, "--set", "building.floor_area=100m2", "--set", "damper.integrated=false")["inputs"]["case"]
    assert told["building"]["floor_area_m2"] == pytest.approx(100.0)
    assert told["damper"]["integrated"] is False
    office = answer(DESERT, "--building", "small-office", "--set", "schedule.cooling_unoccupied=none")["inputs"]["case"]
    assert office["schedule"]["cooling_unoccupied_c"] is None


def test_setpoint_alone_is_constant() -> None:
    office = answer(DESERT, "--building", "small-office", "--setpoint", "74F")["inputs"]["case"]["schedule"]
    assert office["cooling_c"] == pytest.approx((74 - 32) / 1.8)
    assert office["cooling_unoccupied_c"] is None


def test_si_units_read_a_bare_number_and_echo_it() -> None:
    run = freecool("value", DESERT, "--units", "si", "--setpoint", "24", "--differential", "3")
    assert "cools to 24 °C" in run.output
    assert "outdoor air at least 3 K below the set point" in run.output
    assert " cfm" not in run.output
    ip = freecool("value", DESERT, "--setpoint", "76", "--differential", "4")
    assert "cools to 76 °F" in ip.output
    assert "outdoor air at least 4 °F below the set point" in ip.output


def test_an_answer_does_not_depend_on_the_units_it_was_asked_in() -> None:
    ip = answer(DESERT, "--setpoint", "75.2F", "--differential", "5.4F")
    si = answer(DESERT, "--units", "si", "--setpoint", "24", "--differential", "3")
    assert ip["energy"]["net_kwh_saved"] == pytest.approx(si["energy"]["net_kwh_saved"], rel=1e-6)


def test_a_missing_file_is_named() -> None:
    text = refused("no-such-file.epw")
    assert "no-such-file.epw" in text
    assert "no such file" in text


def test_a_text_that_is_no_weather_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "letter.txt"
    file.write_text("Dear customer,\nthank you.\n")
    text = refused(str(file))
    assert "letter.txt" in text
    assert "EPW" in text


def test_a_weather_file_cut_at_half_is_refused(tmp_path: Path, shared_weather: Callable[[str], Path]) -> None:
    whole = shared_weather("USA_CO_Denver.Intl.AP.725650_TMY3.epw").read_bytes()
    file = tmp_path / "half.epw"
    file.write_bytes(whole[: len(whole) // 2])
    text = refused(str(file))
    assert "half.epw" in text
    assert "cut off" in text


def test_fahrenheit_declared_as_celsius_is_refused(tmp_path: Path) -> None:
    text = refused(str(write_year(tmp_path / "site.csv", "dry_bulb_c", 70.0, 10.0)))
    assert "row 6 (1 January 00:00)" in text
    assert "°F" in text
    assert "dry_bulb_f" in text


def test_the_same_file_declared_as_fahrenheit_is_read(tmp_path: Path) -> None:
    told = answer(str(write_year(tmp_path / "site.csv", "dry_bulb_f", 70.0, 10.0)))
    assert told["weather"]["hours"] == 8760
    assert told["weather"]["years"] == [2023]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--setpoint", "750"), ("--setpoint is '750'", "750 °F", "50 °F to 95 °F")),
        (("--setpoint", "75cfm"), ("75cfm", "not a unit of temperature")),
        (("--flow", "1200F"), ("1200F", "not a unit of flow")),
        (("--building", "detached-house"), ("detached-house", "did you mean 'detached-house-")),
        (("--rule", "enthalpy"), ("enthalpy", "fixed-enthalpy")),
        (("--set", "rubbish"), ("rubbish", "KEY=VALUE")),
        (("--set", "building.flor_area=1"), ("building.flor_area", "did you mean 'floor_area'?")),
        (("--set", "schedule.cooling=750"), ("schedule.cooling is '750'",)),
        (("--flow", "1cfm", "--set", "fan.flow=2cfm"), ("fan.flow is '2cfm'",)),
        (("--set", "fan.flow=10000cfm"), ("10,000 cfm", "3 ton")),
        (("--units", "metric"), ("metric", "ip or si")),
        (("--zone", "9Z"), ("9Z",)),
        (("--years", "soon"), ("soon", "2015-2024")),
        (("--years", "2015"), ("typical year",)),
        (("--case", "no-such-case.toml"), ("no-such-case.toml", "no such case file")),
        (("--hourly", "hours.xls"), (".xls", ".csv or .parquet")),
        (("demo:atlantis",), ("atlantis", "high-desert")),
        (("near:36.07",), ("latitude and longitude",)),
    ],
    ids=lambda item: " ".join(item) if item and item[0].startswith(("-", "demo", "near")) else "",
)
def test_a_mistake_ends_in_one_sentence(arguments: Any, words: Any) -> None:
    text = refused(*arguments)
    assert [word for word in words if word not in text] == []


def test_an_unknown_key_in_a_case_file_names_file_key_and_what_was_meant(tmp_path: Path) -> None:
    file = tmp_path / "bakery.toml"
    file.write_text('[money]\npirce = 0.2\n[fan]\nmode = "always"\n')
    text = refused("--case", str(file))
    # All faults of a file in one message.
    for word in ("bakery.toml", "money.pirce", "did you mean 'price'?", "fan.mode", "one of auto, continuous"):
        assert word in text


def test_a_case_file_that_is_no_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text("[building\n")
    assert "line 1" in refused("--case", str(file))


def test_a_place_that_cannot_be_written_is_refused_and_nothing_is_left(tmp_path: Path) -> None:
    target = tmp_path / "no-such-folder" / "hours.csv"
    assert str(target) in refused(DESERT, "--hourly", str(target))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("arguments", [("--nonsense",), ("--price", "cheap")], ids=" ".join)
def test_the_parser_refuses_without_a_traceback(arguments: Any) -> None:
    run = freecool("value", *arguments)
    assert (run.code, run.output) == (2, "")
    assert arguments[0] in run.errors
    assert "Traceback" not in run.errors


def test_a_new_process_refuses_without_a_traceback() -> None:
    import subprocess

    run = subprocess.run(
        [sys.executable, "-m", "freecool", "value", "--setpoint", "750"], capture_output=True, text=True, check=False
    )
    assert (run.returncode, run.stdout) == (2, "")
    assert run.stderr.count("\n") == 1
    assert "Traceback" not in run.stderr
