"""One fault, worded by each door: Python, the command line, the page, the JSON interface, a row of a batch."""

from __future__ import annotations

import csv
import html
import pickle
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_cli import freecool
from web_serving import Serving, serving

from freecool import make_case, open_weather
from freecool.batch import run_batch
from freecool.cases.wording import column_wording, key_wording, label_wording, option_wording
from freecool.core.errors import CaseError, WeatherError, Wording, python_wording, worded
from freecool.weather.save import save_weather

YEARS = "leave {} out."
GAPS = "or allow gaps ({})"
PLACE = "or give {}"
NAME_OPTIONS = {"vocabulary.py", "wording.py"}
LEAVE_OUT = "states its own place: leave out {}"


@pytest.fixture(scope="module")
def server() -> Iterator[Serving]:
    with serving() as running:
        yield running


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A year with 60 missing hours, and one that does not say its place, both invented."""
    folder = tmp_path_factory.mktemp("faulty")
    save_weather(open_weather("demo:mixed-inland"), folder / "whole.csv")
    lines = (folder / "whole.csv").read_text("utf-8").splitlines()
    start = next(row for row, line in enumerate(lines) if line.startswith("time,"))
    emptied = [line[:16] + "," * line.count(",") for line in lines[start + 1000 : start + 1060]]
    (folder / "gap.csv").write_text("\n".join([*lines[: start + 1000], *emptied, *lines[start + 1060 :]]))
    (folder / "nowhere.csv").write_text("\n".join(lines[start:]))
    return folder


def said_in_python(path: str, **more: object) -> str:
    with pytest.raises(WeatherError) as caught:
        open_weather(path, **more)  # type: ignore[arg-type]
    return str(caught.value)


def said_by_command(*words: str) -> str:
    run = freecool("value", *words)
    assert run.code == 2
    return " ".join(run.errors.split())


def said_of_row(folder: Path, **cells: str) -> str:
    sites = folder / "sites.csv"
    sites.write_text(",".join(["name", *cells]) + "\n" + ",".join(["Site", *cells.values()]) + "\n")
    run_batch(sites, folder / "results.csv", workers=1, overwrite=True)
    with (folder / "results.csv").open(encoding="utf-8-sig", newline="") as file:
        return next(csv.DictReader(file))["error"]


def said_on_page(server: Serving, path: str, **params: str) -> str:
    answer = server.client.get(path, params=params, headers={"accept": "text/html"})
    assert answer.status_code == 422
    return html.unescape(answer.text)


def test_years_of_a_typical_year(server: Serving, tmp_path: Path) -> None:
    source = "demo:high-desert"
    assert YEARS.format("years") in said_in_python(source, years=(2019, 2019))
    assert YEARS.format("--years") in said_by_command(source, "--years", "2019")
    assert YEARS.format("years") in server.refusal(server.post("/api/value", {"weather": source, "years": "2019"}))
    label = "“Years of a record of real years”"
    assert YEARS.format(label) in said_on_page(server, "/value", weather=source, years="2019")
    assert YEARS.format("years") in said_of_row(tmp_path, weather=source, years="2019")


def test_a_gap_that_is_too_long(server: Serving, folder: Path, tmp_path: Path) -> None:
    path = folder / "gap.csv"
    assert GAPS.format("allow_gaps=True") in said_in_python(str(path))
    assert GAPS.format("--allow-gaps") in said_by_command(str(path))
    assert GAPS.format("allow_gaps=true") in server.refusal(server.send_file(path.read_bytes()))
    sent = server.client.post("/weather", files={"file": ("x.csv", path.read_bytes())}, headers={"accept": "text/html"})
    assert GAPS.format("“Fill gaps longer than 48 h too”") in html.unescape(sent.text)
    assert GAPS.format("--allow-gaps") in said_of_row(tmp_path, weather=str(path))
    # What each door says to do helps.
    assert open_weather(path, allow_gaps=True).quality.filled_hours == 60


def test_a_file_that_does_not_say_its_place(server: Serving, folder: Path, tmp_path: Path) -> None:
    path = folder / "nowhere.csv"
    place = {"latitude": 40.0, "longitude": -90.0, "utc_offset_h": -6.0}
    assert PLACE.format("latitude, longitude, utc_offset_h") in said_in_python(str(path))
    assert PLACE.format("--latitude, --longitude, --utc-offset") in said_by_command(str(path))
    assert PLACE.format("latitude, longitude, utc_offset") in server.refusal(server.send_file(path.read_bytes()))
    assert PLACE.format("latitude, longitude, utc_offset") in said_of_row(tmp_path, weather=str(path))
    assert open_weather(path, **place).location.utc_offset_h == -6.0  # type: ignore[arg-type]


def test_a_place_that_is_told_twice(server: Serving, tmp_path: Path) -> None:
    source = "demo:high-desert"
    assert LEAVE_OUT.format("elevation_m") in said_in_python(source, elevation_m=100.0)
    assert LEAVE_OUT.format("--elevation") in said_by_command(source, "--elevation", "100ft")
    assert LEAVE_OUT.format("elevation") in said_of_row(tmp_path, weather=source, elevation="100ft")


def test_a_set_point_that_no_room_has(server: Serving, tmp_path: Path) -> None:
    fault = "{} is '750F': 750 °F"
    with pytest.raises(CaseError) as caught:
        make_case({"schedule": {"cooling": "750F"}})
    assert fault.format("schedule.cooling") in str(caught.value)
    weather = "demo:high-desert"
    assert fault.format("--setpoint") in said_by_command(weather, "--setpoint", "750F")
    assert fault.format("schedule.cooling") in said_by_command(weather, "--set", "schedule.cooling=750F")
    assert fault.format("setpoint") in said_of_row(tmp_path, weather=weather, setpoint="750F")
    assert fault.format("schedule.cooling") in said_of_row(tmp_path, weather=weather, **{"schedule.cooling": "750F"})
    body = {"weather": weather, "case": {"schedule": {"cooling": "750F"}}}
    assert fault.format("schedule.cooling") in server.refusal(server.post("/api/value", body))
    page = said_on_page(server, "/value", weather=weather, **{"schedule.cooling": "750F"})
    assert fault.format("“Cooling set point”") in page


def test_labels_are_those_of_the_page(server: Serving) -> None:
    page = html.unescape(server.client.get("/value", params={"weather": "demo:high-desert"}).text)
    named = ("years", "latitude", "longitude", "elevation_m", "utc_offset_h", "allow_gaps", "stations_near")
    labels = [label_wording(name, None).strip("“”") for name in named]
    assert [label for label in labels if label not in page] == []


@pytest.mark.parametrize(
    ("wording", "offline", "stations_near"),
    [
        (python_wording, "offline=True", "stations_near"),
        (option_wording, "--offline", "'freecool weather find LAT LON'"),
        (label_wording, "--offline on the command line", "“Find a weather station”"),
        (key_wording, "--offline on the command line", "/api/stations"),
        (column_wording, "--offline", "'freecool weather find LAT LON'"),
    ],
)
def test_what_has_another_name_at_each_door(wording: Wording, offline: str, stations_near: str) -> None:
    error = WeatherError("use {offline}, {stations_near}", offline=True, stations_near=None)
    assert worded(error, wording) == f"use {offline}, {stations_near}"


def test_braces_of_a_users_file_stay_as_they_are() -> None:
    error = WeatherError("row 1 is '{0} {x} {'; leave {years} out", years=None)
    assert str(error) == "row 1 is '{0} {x} {'; leave years out"
    assert str(WeatherError("{years}")) == "{years}"


def test_errors_pass_between_processes_with_their_parameters() -> None:
    error = pickle.loads(pickle.dumps(WeatherError("leave {years} out", years=None)))
    assert isinstance(error, WeatherError)
    assert worded(error, option_wording) == "leave --years out"
    assert worded(error, python_wording) == str(error)


def test_no_error_below_the_doors_names_an_option() -> None:
    import freecool

    house = Path(freecool.__file__).parent
    files = [path for room in ("core", "weather", "cases", "physics") for path in (house / room).rglob("*.py")]
    naming = [
        f"{path.relative_to(house)}: {line.strip()}"
        for path in files
        for line in path.read_text("utf-8").splitlines()
        if re.search(r"--[a-z]", line) and path.name not in NAME_OPTIONS
    ]
    assert naming == []
