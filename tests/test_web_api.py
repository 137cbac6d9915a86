"""The JSON interface: the command line's own objects, and how it refuses."""

from __future__ import annotations

import json
import re
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pandas as pd
import pytest
from station_server import invented_hours
from test_cli import freecool
from web_serving import Held, serving

from freecool import make_case
from freecool.answers.jobs import JOBS
from freecool.web.security import HEADERS
from freecool.web.services import AnswerService

FEW = {"pick": ("--draws", "3"), "compare": ("--draws", "1"), "value": ()}
FEW_JSON = {"pick": {"draws": 3}, "compare": {"draws": 1}, "value": {}}


@pytest.fixture(scope="module")
def server() -> Iterator[Any]:
    with serving() as running:
        yield running


def command(job: str, path: Any, *arguments: str) -> dict[str, Any]:
    run = freecool(job, str(path), *FEW[job], *arguments, "--json")
    assert run.code == 0, run.errors
    return json.loads(run.output)  # type: ignore[no-any-return]


def alike(answer: dict[str, Any], printed: dict[str, Any], weather: str) -> None:
    """The same object, but for where each found the file."""
    assert answer["weather"].pop("source") == weather
    printed["weather"].pop("source")
    assert answer == printed
    # The order of keys too: it is the same text.
    assert json.dumps(answer) == json.dumps(printed)


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("name", ["723170TYA.CSV", pytest.param("12839.tm2", marks=pytest.mark.long)])
def test_an_answer_is_what_the_command_prints_on_real_weather(
    server: Any, pvlib_weather: Callable[[str], Path], job: Any, name: str
) -> None:
    path = pvlib_weather(name)
    weather = server.send_file(path.read_bytes()).json()["weather"]
    case = {"building": {"floor_area": "4200 ft2"}, "money": {"price": 0.21, "installed_cost": 1900}}
    answer = server.post(f"/api/{job}", {"weather": weather, "preset": "small-office", "case": case, **FEW_JSON[job]})
    assert answer.status_code == 200, answer.text[:300]
    printed = command(
        job, path, "--building", "small-office", "--set", "building.floor_area=4200ft2", "--price", "0.21",
        "--installed-cost", "1900",
    )  # fmt: skip
    alike(answer.json(), printed, weather)


def test_a_bare_number_takes_the_unit_asked_for(server: Any) -> None:
    case = {"schedule": {"cooling": 24}, "fan": {"flow": 0.55}}
    answer = server.post("/api/value", {"weather": "demo:high-desert", "units": "si", "case": case}).json()
    options = ("--units", "si", "--set", "schedule.cooling=24", "--flow", "0.55")
    assert answer == json.loads(freecool("value", "demo:high-desert", *options, "--json").output)


def test_nothing_asked_is_the_usual_house_in_the_usual_demo(server: Any) -> None:
    answer = server.post("/api/value", {}).json()
    assert answer == json.loads(freecool("value", "demo:mixed-inland", "--json").output)
    assert answer["weather"]["invented"] is True


def test_years_of_a_record_and_the_place_of_a_plain_csv(server: Any, tmp_path: Path) -> None:
    path = tmp_path / "field.csv"
    # Stations tell UTC, a plain CSV local standard time.
    hours = pd.concat(invented_hours("99001", year) for year in (2019, 2020, 2021, 2022)).shift(-6, freq="h")
    hours = hours.loc["2019":"2021"]
    hours.index.name = "time"
    columns = {"temp": "dry_bulb_c", "rhum": "relative_humidity_percent", "pres": "pressure_hpa"}
    hours[list(columns)].rename(columns=columns).to_csv(path)
    lone = server.send_file(path.read_bytes(), "field.csv")
    assert lone.status_code == 422
    assert "latitude" in server.refusal(lone)
    place = {"latitude": "40", "longitude": "-88", "elevation": "700ft", "utc_offset": "-6"}
    held = server.send_file(path.read_bytes(), "field.csv", **place).json()
    assert held["years"] == [2019, 2020, 2021]
    assert held["name"] == "field"
    answer = server.post("/api/value", {"weather": held["weather"], "years": "2020-2021"}).json()
    run = freecool(
        "value", str(path), "--latitude", "40", "--longitude", "-88", "--elevation", "700ft", "--utc-offset", "-6",
        "--years", "2020-2021", "--json",
    )  # fmt: skip
    printed = json.loads(run.output)
    assert [year["year"] for year in answer["spread"]["years"]] == [2020, 2021]
    alike(answer, printed, held["weather"])


def lines_of(server: Any, job: str, body: dict[str, Any]) -> list[dict[str, Any]]:
    with server.client.stream("POST", f"/api/{job}", json=body, headers={"accept": "application/x-ndjson"}) as answer:
        assert answer.headers["content-type"].startswith("application/x-ndjson")
        return [json.loads(line) for line in answer.iter_lines()]


@pytest.mark.parametrize("job", JOBS)
def test_lines_end_in_the_same_answer(server: Any, job: Any) -> None:
    body = {"weather": "demo:mixed-inland", "case": {"name": f"lines of {job}"}, **FEW_JSON[job]}
    *steps, last = lines_of(server, job, body)
    assert list(last) == ["result"]
    assert last["result"] == server.post(f"/api/{job}", body).json()
    done = [step["progress"] for step in steps]
    assert done == sorted(done)
    if job != "value":
        assert done[-1][0] == done[-1][1] > 1


def test_a_late_refusal_is_the_last_line(server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from freecool.core.errors import WeatherError

    def fail(job: Any, question: Any, tell: Any, cancel: Any) -> None:
        time.sleep(1.0)
        raise WeatherError("The weather has gone.")

    monkeypatch.setattr(server.service, "_compute", fail)
    *steps, last = lines_of(server, "value", {"case": {"name": "late"}})
    assert steps
    assert last == {"error": "The weather has gone."}


def wait_until(condition: Any) -> bool:
    """Whether a condition came true within ten seconds."""
    for _ in range(200):
        if condition():
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("accept", ["application/x-ndjson", "application/json"])
def test_a_client_that_goes_away_frees_the_worker(accept: str) -> None:
    service = AnswerService(threads=1, waiting=0)
    held = Held()
    service._compute = held  # type: ignore[assignment, method-assign]
    with serving(service) as server:
        body = {"weather": "demo:high-desert"}
        timeout = httpx.Timeout(300, read=1.0)
        # A stream is closed by its reader, a plain request by its reader's patience.
        with httpx.Client(base_url=server.address, timeout=timeout) as client:
            if accept == "application/json":
                with pytest.raises(httpx.ReadTimeout):
                    client.post("/api/pick", json=body)
            else:
                with client.stream("POST", "/api/pick", json=body, headers={"accept": accept}) as answer:
                    assert json.loads(next(answer.iter_lines())) == {"progress": [0, 0]}
        assert wait_until(lambda: service.work.taken == 0)
        assert held.cancelled == [True]
        del service._compute
        assert server.post("/api/value", body).status_code == 200


def test_a_real_sweep_stops_when_its_client_goes_away() -> None:
    service = AnswerService(threads=1, waiting=0)
    outcomes: list[str] = []
    true_compute = service._compute

    def compute(*told: Any) -> Any:
        try:
            result = true_compute(*told)
        except Exception as error:
            outcomes.append(type(error).__name__)
            raise
        outcomes.append("done")
        return result

    service._compute = compute  # type: ignore[assignment, method-assign]
    with serving(service) as server:
        headers = {"accept": "application/x-ndjson"}
        body = {"weather": "demo:mixed-inland", "draws": 500}
        with server.client.stream("POST", "/api/compare", json=body, headers=headers) as answer:
            for line in answer.iter_lines():
                done, total = json.loads(line)["progress"]
                if done:
                    assert done < total
                    break
        assert wait_until(lambda: service.work.taken == 0)
        assert outcomes == ["Cancelled"]


def test_a_full_queue_says_so_and_takes_more_when_there_is_room() -> None:
    service = AnswerService(threads=1, waiting=1)
    held = Held()
    service._compute = held  # type: ignore[assignment, method-assign]
    with serving(service) as server:
        answers: list[int] = []

        def ask(name: str) -> None:
            with httpx.Client(base_url=server.address, timeout=300) as client:
                answers.append(client.post("/api/value", json={"case": {"name": name}}).status_code)

        waiting = [threading.Thread(target=ask, args=(name,)) for name in ("one", "two")]
        for thread in waiting:
            thread.start()
        assert wait_until(lambda: service.work.taken == 2)
        refused = server.post("/api/value", {"case": {"name": "three"}})
        assert refused.status_code == 429
        assert "try again" in server.refusal(refused)
        assert refused.headers["retry-after"].isdigit()
        page = server.client.get("/answer/value?weather=demo:high-desert")
        assert page.status_code == 429
        held.let_go.set()
        for thread in waiting:
            thread.join()
        del service._compute
        assert server.post("/api/value", {"case": {"name": "four"}}).status_code == 200


def test_a_computation_past_its_time_is_cancelled() -> None:
    service = AnswerService(threads=1, waiting=5, seconds=0.3)
    with serving(service) as server:
        refused = server.post("/api/compare", {"weather": "demo:mixed-inland", "draws": 500})
        assert refused.status_code == 503
        assert "longer than 0.3 s and was cancelled" in server.refusal(refused)
        *_, last = lines_of(server, "compare", {"weather": "demo:mixed-inland", "draws": 500})
        assert "was cancelled" in last["error"]
        assert wait_until(lambda: service.work.taken == 0)


@pytest.mark.parametrize(
    ("job", "body", "words"),
    [
        ("value", {"case": {"schedule": {"cooling": "750F"}}}, "schedule.cooling is '750F'"),
        ("value", {"case": {"building": {"flor_area": 1}}}, "did you mean 'floor_area'?"),
        ("value", {"case": {"building": None}}, "building is none"),
        ("value", {"case": {"preset": ["shop"]}}, "preset"),
        ("value", {"case": {"fan": {"flow": [1]}}}, "fan.flow is [1]"),
        ("value", {"case": []}, "case is []"),
        ("value", {"preset": "house"}, "'house' is not a building preset"),
        ("value", {"units": "metric"}, "units"),
        ("value", {"years": "all", "weather": "demo:high-desert"}, "expected one year or a span"),
        ("value", {"years": "2019", "weather": "demo:high-desert"}, "is a typical year"),
        ("value", {"weather": "demo:low-desert"}, "low-desert"),
        ("value", {"rubbish": 1}, "rubbish"),
        ("pick", {"from": "5F", "to": "1F"}, "from 5F to 1F step 1F"),
        ("pick", {"step": "0F"}, "step 0F"),
        ("pick", {"to": "40F", "step": "0.1F"}, "at most 100 steps"),
        ("pick", {"draws": 501}, "draws"),
        ("pick", {"draws": True}, "draws"),
        ("pick", {"case": {"rule": {"name": "dew-point"}}}, "has no differential to pick"),
        ("compare", {"seed": -1}, "seed"),
    ],
)
def test_a_mistake_is_one_sentence(server: Any, job: str, body: Any, words: str) -> None:
    answer = server.post(f"/api/{job}", body)
    assert answer.status_code == 422, answer.text[:300]
    assert words in server.refusal(answer)


@pytest.mark.parametrize(
    "weather",
    ["/etc/passwd", "weather.epw", "../x.epw", "file:///etc/passwd", "C:\\x.epw", "upload:../../etc/passwd", "", " ",
     "demo:../../x", "station:../x", "near:file", "http://127.0.0.1/", "\x00"],
)  # fmt: skip
def test_a_path_is_never_opened_for_a_client(server: Any, weather: str, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[object] = []
    monkeypatch.setattr("freecool.weather.source.read_text_file", lambda path: opened.append(path))
    for answer in (
        server.post("/api/value", {"weather": weather}),
        server.client.get("/answer/value", params={"weather": weather or "x"}),
    ):
        assert answer.status_code == 422
        assert server.refusal(answer)
    assert opened == []


def test_what_is_not_there(server: Any) -> None:
    unknown = f"upload:{'0' * 32}"
    for answer in (
        server.post("/api/value", {"weather": unknown}),
        server.client.get(f"/answer/value?weather={unknown}"),
        server.client.get(f"/download/value/report.html?weather={unknown}"),
    ):
        assert answer.status_code == 404
        assert server.refusal(answer) == "The weather file is not held here any more: choose the file again."
    for path in ("/api/nothing", "/nothing", "/answer/nothing", "/download/value/x.csv", "/static/nothing.css"):
        assert server.client.get(path).status_code == 404
    assert server.client.get("/api/value").status_code == 405
    assert server.client.post("/api/value", content=b"{").status_code in (400, 422)
    assert server.client.post("/api/value", content=b"[" * 100_000).status_code in (400, 422)


def test_stations_near_a_place_through_the_real_client(server: Any, station_server: Any) -> None:
    answer = server.client.get("/api/stations?latitude=36.07&longitude=-79.79")
    assert answer.status_code == 200
    assert answer.json()["place"]["name"] == ""
    found = answer.json()["stations"]
    by_name = server.client.get("/api/stations?place=Greensboro%2C+NC").json()
    assert by_name["place"]["county"] == "Guilford County"
    assert [station["id"] for station in by_name["stations"]] == [station["id"] for station in found]
    assert server.client.get("/api/places?text=greensb").json()["places"][0] == "Greensboro, NC"
    assert server.client.get("/api/places?text=gr").json() == {"places": []}
    several = server.client.get("/stations?place=Greensboro", headers={"Accept": "application/json"})
    assert (several.status_code, "add the state" in several.json()["error"]) == (422, True)
    assert "No place was given" in server.refusal(server.client.get("/api/stations"))
    assert [station["id"] for station in found] == ["99001", "99002"]
    printed = json.loads(freecool("weather", "find", "36.07", "-79.79", "--json").output)["stations"]
    assert [{key: row[key] for key in found[0]} for row in printed] == found
    page = server.client.get("/stations?latitude=36.07&longitude=-79.79&link=preset%3Dshop").text
    assert 'href="/value?weather=station:99001&amp;preset=shop"' in page
    assert server.client.get("/api/stations?latitude=91&longitude=0").status_code == 422


def test_station_weather_is_fetched_and_equals_the_commands(server: Any, station_server: Any) -> None:
    answer = server.post("/api/value", {"weather": "station:99001", "years": "2022-2023"})
    assert answer.status_code == 200, answer.text[:300]
    asked = len(station_server.asked)
    printed = json.loads(freecool("value", "station:99001", "--years", "2022-2023", "--json").output)
    assert answer.json() == printed
    server.post("/api/value", {"weather": "station:99001", "years": "2022-2023", "case": {"name": "again"}})
    assert len(station_server.asked) == asked


def test_a_network_that_fails_is_one_sentence(server: Any, station_server: Any) -> None:
    station_server.list_fault = "500"
    answer = server.client.get("/api/stations?latitude=36.07&longitude=-79.79")
    assert answer.status_code == 422
    assert "list of weather stations" in server.refusal(answer)


def test_every_answer_carries_the_headers_that_bind_the_page(server: Any) -> None:
    answers = [
        server.client.get("/pick"),
        server.client.get("/static/page.js"),
        server.client.get("/nothing"),
        server.client.get("/api/openapi.json"),
        server.post("/api/value", {}),
        server.post("/api/value", {"units": "x"}),
        server.client.get("/", headers={"host": "elsewhere.example"}),
    ]
    for answer in answers:
        for name, value in HEADERS:
            assert answer.headers[name.decode()] == value.decode()
    policy = answers[0].headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_a_case_of_the_interface_is_a_case_file_s_tables(server: Any) -> None:
    case = {"name": "Corner house", "building": {"floor_area": "2100 ft2"}, "unit": {"eer": 10.5}}
    answer = server.post("/api/value", {"case": case}).json()
    assert answer["inputs"]["case"] == json.loads(json.dumps(make_case(case).to_dict()))


def test_the_example_of_the_page_gives_what_its_command_prints(server: Any) -> None:
    page = (Path(__file__).parents[1] / "docs" / "web.md").read_text("utf-8")
    path, body = re.search(r"curl -s http://127\.0\.0\.1:8642(/api/\w+) .*?-d '(.*?)'", page, re.DOTALL).groups()  # type: ignore[union-attr]
    command = re.search(r"^freecool (value .* --json)$", page, re.MULTILINE)[1]  # type: ignore[index]
    answer = server.client.post(path, content=body, headers={"content-type": "application/json"})
    assert answer.json() == json.loads(freecool(*command.split()).output)
