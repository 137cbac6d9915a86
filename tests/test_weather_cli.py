"""`freecool weather`: find, show, save, typical, as a person types them."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest
from station_server import STATIONS, serve, share_compiled
from typer.testing import CliRunner

from freecool import make_case, open_weather
from freecool.answers.estimate import estimate
from freecool.answers.typical import COMPARED_PRESETS
from freecool.cli.weather import weather_app
from freecool.core.errors import FreecoolError
from freecool.weather.describe import describe
from freecool.weather.save import save_weather

if TYPE_CHECKING:
    from conftest import Outside


# Run in a process of its own, so that the client reads its settings from the environment as it does for a user.


@pytest.fixture(scope="module")
def typed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., subprocess.CompletedProcess[str]]]:
    state, server = serve(tmp_path_factory.mktemp("server"))
    folder = tmp_path_factory.mktemp("kept")
    share_compiled(folder)
    kept = {"FREECOOL_CACHE_DIR": str(folder)}

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "freecool", *words],
            env=os.environ | state.environment | kept,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    yield run
    server.shutdown()


@pytest.fixture(scope="module")
def ask(typed: Callable[..., subprocess.CompletedProcess[str]]) -> Callable[..., subprocess.CompletedProcess[str]]:
    return lambda *words: typed("weather", *words)


def test_the_readme_leads_from_the_installation_to_an_answer_for_a_town_in_two_commands(typed: Any) -> None:
    readme = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
    blocks = [block.splitlines() for block in re.findall(r"^```sh\n(.*?)^```$", readme, re.MULTILINE | re.DOTALL)]
    (install, command) = next(lines for lines in blocks if any("near:" in line for line in lines))
    assert install == "pip install ."
    _, *words = shlex.split(command)
    told = typed(*words, "--years", "2023")
    assert told.returncode == 0, told.stderr
    assert "Greensboro, NC (Guilford County)" in told.stdout
    assert re.search(r"^  Net saved +[\d,]+ kWh", told.stdout, re.MULTILINE)


@pytest.mark.parametrize("words", [("Greensboro NC",), ("Greensboro,", "NC"), ("27401",)])
def test_find_takes_a_town_or_a_zip_code_too(words: tuple[str, ...], ask: Any) -> None:
    told = ask("find", *words)
    assert told.returncode == 0, told.stderr
    assert told.stdout.startswith("Greensboro, NC (Guilford County): 36.")
    assert "Oxbow Field (invented)" in told.stdout
    near = json.loads(ask("find", *words, "--json").stdout)
    assert near["place"]["time_zone"] == "America/New_York"
    assert near["stations"][0]["id"] == "99001"


def test_find_tells_a_place_offline_before_any_list_was_fetched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FREECOOL_CACHE_DIR", str(tmp_path))
    told = CliRunner().invoke(weather_app, ["find", "Greensboro NC", "--offline"])
    assert (told.exit_code, told.output.splitlines()[0][:31]) == (0, "Greensboro, NC (Guilford County")
    assert "run once without --offline" in told.output
    found = json.loads(CliRunner().invoke(weather_app, ["find", "Lyon, France", "--offline", "--json"]).output)
    assert (found["place"]["name"], found["stations"]) == ("Lyon, France", [])
    with pytest.raises(FreecoolError, match="not fetched before"):
        CliRunner().invoke(weather_app, ["find", "36.07,-79.79", "--offline"], catch_exceptions=False)


def test_find_names_every_town_of_a_name(ask: Any) -> None:
    told = ask("find", "Greensboro")
    assert (told.returncode, told.stdout) == (2, "")
    assert "Greensboro, VT (Orleans County)" in told.stderr


def test_find_lists_stations_with_a_negative_longitude(ask: Any) -> None:
    told = ask("find", "36.07", "-79.79", "--elevation", "1000ft")
    assert told.returncode == 0, told.stderr
    lines = told.stdout.splitlines()
    assert lines[0].split() == ["station", "distance", "elevation", "site", "above", "years", "temp.", "humid.", "name"]
    # 270 m is 886 ft, so a site at 1,000 ft lies 114 ft above; 3.5 km is 2 miles.
    assert lines[1].split()[:9] == ["99001", "2", "mi", "886", "ft", "114", "ft", "1990-2026", "99%"]
    assert lines[2].startswith("99002")
    assert "station:99001" in lines[-1]


def test_find_as_json(ask: Any) -> None:
    told = json.loads(ask("find", "36.07", "-79.79", "--json").stdout)["stations"]
    assert [row["id"] for row in told] == [STATIONS[0].id, STATIONS[1].id]
    # Great circle on a sphere of 6371 km, by hand: 0.03 deg of latitude and 0.01 deg of longitude at 36 deg.
    assert told[0]["distance_m"] == pytest.approx(6_371_000 * np.radians(np.hypot(0.03, 0.01 * 0.8084)), rel=1e-3)
    assert told[0]["temperature_completeness"] == 0.99
    assert told[0]["humidity_completeness"] == 0.97


@pytest.mark.long
def test_show_save_and_typical_of_a_station(ask: Any, tmp_path: Path) -> None:
    shown = ask("show", "near:36.07,-79.79", "--years", "2021-2023")
    assert shown.returncode == 0, shown.stderr
    for words in (
        "3 years: 2021, 2022, 2023",
        "CC BY 4.0",
        "Hours a year by dry bulb",
        "above 60 °F",
        "UTC-5 h",
        "Jul",
    ):
        assert words in shown.stdout
    saved = ask("save", "near:36.07,-79.79", str(tmp_path / "years.csv"), "--years", "2021-2023", "--offline")
    assert saved.returncode == 0, saved.stderr
    assert "26,280 hours" in saved.stdout
    back = open_weather(tmp_path / "years.csv")
    assert back.years == (2021, 2022, 2023)
    assert "CC BY 4.0" in back.attribution
    made = ask("typical", str(tmp_path / "years.csv"), str(tmp_path / "typical.csv"))
    assert made.returncode == 0, made.stderr
    assert "ISO 15927-4" in made.stdout
    assert "of the best 3 the one nearest the mean wind speed" in " ".join(made.stdout.split())
    assert "CC BY 4.0" in made.stdout
    # The table says what the Python interface says.
    typical, years = (open_weather(tmp_path / name) for name in ("typical.csv", "years.csv"))
    for preset in COMPARED_PRESETS:
        answers = [estimate(make_case(preset=preset), weather).energy.net_kwh_saved for weather in (typical, years)]
        row = next(line.split() for line in made.stdout.splitlines() if line.split()[:1] == [preset])
        assert row[1:3] == [f"{net + 0.0:,.0f}" for net in answers]
    assert open_weather(tmp_path / "typical.csv").hours == 8760


def test_mistakes_are_one_sentence(ask: Any) -> None:
    told = ask("show", "station:00000")
    assert told.returncode == 2
    assert told.stderr.startswith("freecool: station '00000' is not in the list")
    assert len(told.stderr.strip().splitlines()) == 1


def test_show_a_demo_says_it_is_invented() -> None:
    told = CliRunner().invoke(weather_app, ["show", "demo:humid-coast"])
    assert told.exit_code == 0
    assert "INVENTED climate, typical year" in told.stdout


def test_json_of_show_counts_every_hour() -> None:
    told = json.loads(CliRunner().invoke(weather_app, ["show", "demo:high-desert", "--json"]).stdout)
    assert sum(bin_["hours"] for bin_ in told["dry_bulb_bins"]) == pytest.approx(8760)
    assert [month["month"] for month in told["months"]] == list(range(1, 13))
    assert told["warnings"][0]["code"] == "invented_weather"


def test_hours_of_a_published_file(pvlib_weather: Callable[[str], Path], outside: Outside) -> None:
    told = describe(open_weather(pvlib_weather("723170TYA.CSV")))
    source = "723170TYA.CSV as pandas reads it"
    table = pd.read_csv(pvlib_weather("723170TYA.CSV"), skiprows=1)
    dew_f, dry_f = table["Dew-point (C)"] * 1.8 + 32, table["Dry-bulb (C)"] * 1.8 + 32
    outside("Greensboro hours with dew point > 60 °F", source, 3010, dict(told.dew_point_hours)[60.0], 0)
    assert dict(told.dew_point_hours)[60.0] == (dew_f > 60 + 1e-9).sum()
    between = sum(bin_.hours for bin_ in told.bins if 45 <= bin_.from_f < 70)
    # 45 to 70 °F: the design's count includes 70 °F itself, bins do not.
    outside("Greensboro hours in 45-70 °F", source, 4067 - int(np.isclose(dry_f, 70.0).sum()), between, 0)


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_what_is_saved_reads_back_the_same(pvlib_weather: Callable[[str], Path], tmp_path: Path, name: str) -> None:
    weather = open_weather(pvlib_weather(name))
    save_weather(weather, tmp_path / "saved.csv")
    back = open_weather(tmp_path / "saved.csv")
    np.testing.assert_allclose(back.frame.to_numpy(), weather.frame.to_numpy(), atol=1e-6, rtol=0)
    assert back.frame.index.equals(weather.frame.index)
    assert back.location == weather.location
    assert back.attribution == weather.attribution
    assert back.notices == ()
    assert [path.name for path in tmp_path.iterdir()] == ["saved.csv"]


def test_nothing_is_left_where_saving_fails(tmp_path: Path) -> None:
    weather = open_weather("demo:high-desert")
    with pytest.raises(FreecoolError, match="cannot be written"):
        save_weather(weather, tmp_path / "no such folder" / "saved.csv")
    (tmp_path / "folder").mkdir()
    with pytest.raises(FreecoolError, match="is a folder, which would be replaced"):
        save_weather(weather, tmp_path / "folder")
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_saved_weather_keeps_its_cautions(tmp_path: Path) -> None:
    weather = open_weather("demo:humid-coast")
    save_weather(weather, tmp_path / "saved.csv")
    back = open_weather(tmp_path / "saved.csv")
    assert back.invented
    assert back.notices == weather.notices
    assert back.attribution == weather.attribution
    save_weather(back, tmp_path / "again.csv")
    assert open_weather(tmp_path / "again.csv").notices == weather.notices
