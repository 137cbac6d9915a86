"""What the page of limits says is what is said; what is strange, long or hostile gets one short sentence."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from test_cli import DESERT, freecool, write_year

from freecool.cases.model import make_case
from freecool.core.errors import CONTROL, MOST_CHARACTERS

PAGE = Path(__file__).parents[1] / "docs" / "limits.md"
SAID = re.findall(r"^\| `(--[^`]+)` \| `([^`]+)` \|$", PAGE.read_text("utf-8"), flags=re.MULTILINE)


@pytest.mark.parametrize(("options", "sentence"), SAID)
def test_an_option_out_of_its_range_is_refused_as_the_page_says(options: str, sentence: str) -> None:
    run = freecool("value", DESERT, *shlex.split(options))
    assert (run.code, run.output) == (2, "")
    assert sentence in run.errors


def test_the_page_tells_some() -> None:
    assert len(SAID) >= 5


DEEP = "a=" + "[" * 3000 + "]" * 3000
STRANGE = {
    "nested too deep": (DEEP, "lie too deep in one another"),
    "a date in the year 0": ("[money]\nprice=0000-01-01", "not valid TOML"),
    "a number of too many digits": ("[money]\nprice=" + "9" * 5000, "not valid TOML: Exceeds the limit"),
    "a number of many digits": ("[building]\nstoreys=" + "9" * 400, "999…, expected a whole number, 1 to 20"),
    "a hexadecimal number of many digits": ("[fan]\nflow=0x" + "f" * 5000, "fan.flow is too large a number: expected"),
    "a count of many digits": (
        "[building]\nstoreys=0x" + "f" * 5000,
        "storeys is too large a number, expected a whole",
    ),
    "a long text for a number": ('[fan]\nflow="' + "9" * 500_000 + '"', "999…: expected a number with a unit"),
    "a long word": ('[fan]\nmode="' + "x" * 500_000 + '"', "xxx…, expected one of auto, continuous"),
    "a long preset": ('preset="' + "x" * 500_000 + '"', "xxx… is not a building preset"),
    "a long key": ("x" * 500_000 + "=1", "xxx is not a key"),
    "many hours": ('[schedule]\noccupied_hours="' + "1-2," * 100 + '1-2"', "has 403 characters, expected at most 200"),
    "many keys": ("\n".join(f"k{number}=1" for number in range(5_000)), "; and 4,990 more faults."),
    "many prices": ("[[money.tariff]]\nprice=0.1\n" * 301, "money.tariff has 301 entries, expected at most 300"),
    "many wrong prices": ("[[money.tariff]]\nprice=-1\n" * 300, "; and 290 more faults."),
    "a key that clears the screen": ('"\\u001b[2J"=1', "\\u001b[2J is not a key"),
    "a name that clears the screen": ('name="\\u001b[2J"', "name is '\\x1b[2J', expected text without control char"),
    "a currency of a bell": ('[money]\ncurrency="\\u0007"', "money.currency is '\\x07', expected text without control"),
    "a clock of many letters": ('[schedule]\ntime_zone="../../etc/hosts"', "expected a name of the IANA time zone"),
}


@pytest.mark.parametrize("name", STRANGE)
def test_a_strange_case_file_gets_one_short_sentence(name: str, tmp_path: Path) -> None:
    text, said = STRANGE[name]
    case = tmp_path / "case.toml"
    case.write_text(text)
    run = freecool("value", DESERT, "--case", str(case))
    assert (run.code, run.output) == (2, "")
    assert said in run.errors
    assert len(run.errors) <= MOST_CHARACTERS + 20
    assert run.errors.count("\n") == 1
    assert not CONTROL.search(run.errors)


def test_a_tariff_of_every_hour_and_month_is_taken() -> None:
    months = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
    tariff = [{"months": month, "hours": str(hour), "price": 0.1} for month in months for hour in range(24)]
    assert len(make_case({"money": {"tariff": tariff}}).money.tariff) == 288


def test_a_control_character_in_an_option_is_refused() -> None:
    run = freecool("value", DESERT, "--\x1b[31m")
    assert (run.code, run.errors) == (2, "freecool: '--\\x1b[31m' holds a control character: type it anew, without.\n")


def test_a_station_name_cannot_command_the_terminal(tmp_path: Path) -> None:
    year = write_year(tmp_path / "year.csv", "dry_bulb_c", 15.0, 8.0)
    # The escape of seven bits makes a file binary; that of eight is a letter.
    year.write_text("# name: \x9b2JTown\n" + year.read_text())
    for words in (("value", str(year)), ("weather", "show", str(year)), ("value", str(year), "--json")):
        run = freecool(*words)
        assert run.code == 0, run.errors
        assert not CONTROL.search(run.output + run.errors)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the full device is Linux's")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--version", "freecool: The answer cannot be printed (No space left on device)"),
        ("--help", "freecool: Standard output cannot be read or written (No space left on device)"),
    ],
)
def test_a_full_standard_output_is_said_in_a_sentence(words: str, said: str) -> None:
    with Path("/dev/full").open("wb") as full:
        run = subprocess.run([sys.executable, "-m", "freecool", words], stdout=full, stderr=subprocess.PIPE, text=True)
    assert run.returncode == 2
    assert run.stderr.startswith(said)
    assert run.stderr.count("\n") == 1


@pytest.mark.skipif(os.name != "posix", reason="a shell that closes it")
def test_a_closed_standard_output_is_said_in_a_sentence() -> None:
    words = [sys.executable, "-m", "freecool", "--version"]
    run = subprocess.run(["sh", "-c", '"$@" >&-', "sh", *words], stderr=subprocess.PIPE, text=True)
    assert run.returncode == 2
    assert run.stderr.startswith("freecool: Standard output is closed")
    assert run.stderr.count("\n") == 1
