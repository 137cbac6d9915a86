"""Many sites: the same answers as one by one, bad rows told and passed over, and nothing lost on the way."""

from __future__ import annotations

import csv
import json
import re
import shutil
import sqlite3
import subprocess
import sys
import tracemalloc
import zlib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet
import pytest
from test_cli import freecool, write_year

from freecool.batch import BatchSettings, run_batch
from freecool.batch.columns import COLUMNS
from freecool.batch.ledger import DATABASE, Ledger, ledger_folder, read_inputs
from freecool.batch.results import write_results
from freecool.batch.sites import case_keys
from freecool.batch.workers import cores
from freecool.cases.options import OPTION_KEYS
from freecool.core.errors import BatchError
from freecool.core.version import __version__

REPOSITORY = Path(__file__).parents[1]
DESERT = "demo:high-desert"
# A row that is answered without a year being run: a flow in °F.
BAD_FLOW = "75F"


def write_list(path: Path, header: str, *rows: str) -> Path:
    """A list of sites, given its header and rows."""
    path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return path


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def batch(sites: Path, out: Path, *arguments: str) -> list[dict[str, str]]:
    """The rows that ``freecool batch`` writes."""
    # A worker takes longer to begin than a short list to answer.
    run = freecool("batch", str(sites), "--out", str(out), "--workers", "1", *arguments)
    assert run.code == 0, run.errors
    return rows_of(out)


def refused(*arguments: object) -> str:
    """The one sentence with which ``freecool batch`` refuses."""
    run = freecool("batch", *map(str, arguments))
    assert (run.code, run.output) == (2, "")
    assert run.errors.count("\n") == 1
    return run.errors.removeprefix("freecool: ").rstrip("\n")


def at(answer: dict[str, Any], place: str) -> object:
    """A figure of a JSON answer, given its place."""
    for name in place.split("."):
        answer = answer[name]
    return answer


def check_row(row: dict[str, str], answer: dict[str, Any], job: str) -> int:
    """Compare a row with a JSON answer, figure by figure; how many were compared."""
    answer["rules"] = {rule["name"]: rule for rule in answer.get("rules", ())}
    compared = 0
    for column in COLUMNS[job][3:]:  # type: ignore[index]
        try:
            expected = at(answer, column.name)
        except (KeyError, TypeError):
            continue
        if isinstance(expected, list):
            continue
        compared += 1
        if column.kind == "number" and expected is not None:
            assert float(row[column.name]) == expected, column.name
        elif column.kind == "flag" and expected is not None:
            assert row[column.name] == str(expected).lower(), column.name
        else:
            assert row[column.name] == (expected or ""), column.name
    return compared


SITES = [
    ("Inn", DESERT, "", "", "", "", ""),
    ("Shop, corner", "demo:humid-coast", "shop", "3000 cfm", "4B", "", "0.22"),
    ("Closet", "demo:mixed-inland", "equipment-room", "", "", "6F", ""),
]
OPTIONS = ("preset", "fan.flow", "site.climate_zone", "rule.differential", "money.price")


def test_each_row_is_what_value_answers(tmp_path: Path) -> None:
    columns = ("name", "weather", *OPTIONS)
    lines = [",".join(f'"{cell}"' for cell in site) for site in SITES]
    rows = batch(write_list(tmp_path / "sites.csv", ",".join(columns), *lines), tmp_path / "results.csv")
    assert [(row["name"], row["weather"], row["error"]) for row in rows] == [(*site[:2], "") for site in SITES]
    for site, row in zip(SITES, rows, strict=True):
        told = [
            word
            for key, cell in zip(OPTIONS, site[2:], strict=True)
            if cell
            for word in (("--building", cell) if key == "preset" else ("--set", f"{key}={cell}"))
        ]
        answer = json.loads(freecool("value", site[1], *told, "--json").output)
        assert check_row(row, answer, "value") > 45
        assert row["warnings"] == "; ".join(notice["code"] for notice in answer["warnings"])
        low, high = answer["model_band"]["net_kwh_saved"]
        assert (float(row["model_band.net_kwh_saved.low"]), float(row["model_band.net_kwh_saved.high"])) == (low, high)
        # 1 K is 1.8 °F.
        kelvin = answer["break_even_differential_k"]
        assert float(row["break_even_differential_f"]) == pytest.approx(1.8 * kelvin, rel=1e-11)


# One value for each option of the command line that sets a key of the case.
OPTION_CELLS = {
    "building": "small-office",
    "setpoint": "74F",
    "differential": "6F",
    "rule": "fixed-dry-bulb",
    "flow": "2100cfm",
    "fan": "0.4W/cfm",
    "price": "0.21",
    "installed_cost": "1500",
    "zone": "5B",
    "enthalpy_limit": "27 Btu/lb",
    "dew_point_limit": "52F",
    "high_limit": "68F",
    "precool": "1F",
    "windows": "some",
    "customer": "Anyone",
    "quote_number": "Q-1",
    "quote_date": "2026-03-14",
}


def test_a_column_named_as_an_option_means_what_the_option_means(tmp_path: Path) -> None:
    assert set(OPTION_KEYS) == {*OPTION_CELLS, "climate_zone"}
    header, row = ",".join(OPTION_CELLS), ",".join(OPTION_CELLS.values())
    rows = batch(write_list(tmp_path / "sites.csv", f"name,weather,{header}", f",{DESERT},{row}"), tmp_path / "r.csv")
    words = [word for name, cell in OPTION_CELLS.items() for word in (f"--{name.replace('_', '-')}", cell)]
    answer = json.loads(freecool("value", DESERT, *words, "--json").output)
    assert answer["inputs"]["case"]["schedule"]["cooling_unoccupied_c"] is None
    assert rows[0]["error"] == ""
    assert check_row(rows[0], answer, "value") > 45


def test_a_set_point_is_constant_unless_the_unoccupied_one_is_given_too(tmp_path: Path) -> None:
    header = "name,weather,building,setpoint,schedule.cooling_unoccupied"
    lines = [f"A,{DESERT},small-office,{setpoint},{unoccupied}" for setpoint, unoccupied in
             (("75F", ""), ("75F", "85F"), ("", ""))]  # fmt: skip
    rows = batch(write_list(tmp_path / "sites.csv", header, *lines), tmp_path / "r.csv")
    preset = ("--building", "small-office")
    given = (("--setpoint", "75F"), ("--setpoint", "75F", "--set", "schedule.cooling_unoccupied=85F"), ())
    for row, words in zip(rows, given, strict=True):
        check_row(row, json.loads(freecool("value", DESERT, *preset, *words, "--json").output), "value")
    assert len({row["energy.compressor_kwh_without"] for row in rows}) == 3


@pytest.mark.parametrize("job", ["pick", "compare"])
def test_each_row_is_what_pick_and_compare_answer(job: str, tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather,preset,site.climate_zone", f"A,{DESERT},small-office,5B")
    (row,) = batch(sites, tmp_path / "results.csv", "--job", job, "--draws", "3", "--seed", "7")
    words = (DESERT, "--building", "small-office", "--zone", "5B", "--draws", "3", "--seed", "7", "--json")
    answer = json.loads(freecool(job, *words).output)
    assert check_row(row, answer, job) > 40
    if job == "pick":
        assert float(row["best.differential_f"]) == round(1.8 * answer["best"]["differential_k"], 9)
        assert row["reasons"] == " ".join(answer["reasons"])
    else:
        assert row["answers"] == " ".join(answer["answers"])
        assert row["rules.dew-point.code_changeover"] in ("true", "false")


def test_a_pick_that_says_leave_it_off_has_no_differential(tmp_path: Path) -> None:
    # Free electricity saves no money whatever is set: the damper's upkeep is all that is left.
    header = "name,weather,money.upkeep"
    (row,) = batch(
        write_list(tmp_path / "sites.csv", header, f"A,{DESERT},500"),
        tmp_path / "r.csv",
        "--job",
        "pick",
        "--draws",
        "0",
    )
    assert (row["error"], row["best.differential_f"], row["best.energy.net_kwh_saved"]) == ("", "", "")
    assert row["verdict.text"].startswith("Leave it off")


@pytest.mark.long
def test_parquet_and_csv_hold_the_same(tmp_path: Path) -> None:
    sites = write_list(
        tmp_path / "sites.csv",
        "name,weather,fan.flow",
        f"Inn,{DESERT},",
        f"Bad,{DESERT},{BAD_FLOW}",
        "Café,demo:humid-coast,",
    )
    batch(sites, tmp_path / "results.csv")
    run_batch(sites, tmp_path / "results.parquet", workers=1)
    table = pyarrow.parquet.read_table(tmp_path / "results.parquet")
    assert table.schema.field("energy.net_kwh_saved").type == "double"
    assert table.schema.field("weather.invented").type == "bool"
    pd.testing.assert_frame_equal(
        pd.read_csv(tmp_path / "results.csv").astype(object).where(lambda t: t.notna(), None),
        table.to_pandas().astype(object).where(lambda t: t.notna(), None),
        check_dtype=False,
    )
    assert table["name"].to_pylist() == ["Inn", "Bad", "Café"]


BAD_ROWS = {
    "Nowhere,missing.epw,,,": "missing.epw: there is no such file",
    "Empty,,,,": "weather is empty: give a weather file",
    f"Preset,{DESERT},small-ofice,,": "'small-ofice' is not a building preset (did you mean",
    f"Unit,{DESERT},,{BAD_FLOW},": "fan.flow is '75F': 'F' is not a unit of flow",
    f"Hot,{DESERT},,,750F": "schedule.cooling is '750F'",
    f"Short,{DESERT}": "has 2 cells, expected 5: put a cell that holds a comma in quotes.",
    "Broken,broken.csv,,,": "broken.csv",
    "Demo,demo:atlantis,,,": "demo 'atlantis' is unknown",
}


def test_a_bad_row_says_why_and_the_others_go_on(tmp_path: Path) -> None:
    (tmp_path / "broken.csv").write_text("time,dry_bulb_c\nyesterday,20\n")
    header = "name,weather,preset,fan.flow,schedule.cooling"
    sites = write_list(tmp_path / "sites.csv", header, f"Good,{DESERT},,,", *BAD_ROWS, f"Good,{DESERT},,,")
    run = freecool("batch", str(sites), "--out", str(tmp_path / "results.csv"))
    assert run.code == 0
    assert f"2 of {len(BAD_ROWS) + 2} sites answered" in run.output
    first, *bad, last = rows_of(tmp_path / "results.csv")
    for number, (row, (given, expected)) in enumerate(zip(bad, BAD_ROWS.items(), strict=True), start=3):
        assert row["name"] == given.split(",")[0]
        assert row["error"].startswith(f"sites.csv row {number}: {expected}")
        assert row["error"].count("sites.csv row") == 1
        assert {value for name, value in row.items() if name not in ("name", "weather", "error")} == {""}
    assert first["error"] == last["error"] == ""
    assert first == last
    assert float(first["energy.net_kwh_saved"]) > 0.0


BAD_LISTS = {
    "name,weather,flor_area": "flor_area is unknown (did you mean 'building.floor_area'?)",
    "name,weather,set_point": "set_point is unknown (did you mean 'setpoint'?)",
    "name,weather,setpoint,schedule.cooling": "setpoint and schedule.cooling set the same value (schedule.cooling): ",
    "name,weather,preset,building": "preset and building set the same value (preset): keep one",
    "name,weather,zone,climate_zone": "zone and climate_zone set the same value (site.climate_zone): keep one",
    "name,weather,fan.flw": "fan.flw is unknown (did you mean 'fan.flow'?)",
    "name,weather,money.tariff": "money.tariff is unknown",
    "name,weather,colour": "colour is unknown; expected name, weather",
    "name,preset": "weather is missing",
    "name,weather,preset,preset": "preset is told twice",
    "name,weather,": "one without a name is unknown",
    "name;weather;preset": "the columns are not parted by commas",
    'name,weather\nA,"demo:high-desert': "row 2: cannot be read as CSV",
    "name,weather\n": "holds no site below its header",
}


@pytest.mark.parametrize("text", BAD_LISTS)
def test_a_bad_list_is_refused_before_anything_runs(text: Any, tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", text)
    sentence = refused(sites, "--out", tmp_path / "results.csv")
    assert "sites.csv" in sentence
    assert BAD_LISTS[text] in sentence
    assert [path.name for path in tmp_path.iterdir()] == ["sites.csv"]


def test_a_list_that_is_no_utf8_or_not_there_is_refused(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_bytes("name,weather\nCafé,demo:high-desert\n".encode("cp1252"))
    assert "save it as CSV UTF-8" in refused(tmp_path / "sites.csv", "--out", tmp_path / "results.csv")
    assert "no such file" in refused(tmp_path / "other.csv", "--out", tmp_path / "results.csv")


def test_options_that_do_not_fit_are_refused(tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather", f"A,{DESERT}")
    assert "--job is 'guess': expected one of value, pick, compare" in refused(
        sites, "--out", "r.csv", "--job", "guess"
    )
    assert "can be written as .csv or .parquet" in refused(sites, "--out", tmp_path / "results.xlsx")
    assert "leave it out with --scheduler" in refused(
        sites, "--out", tmp_path / "r.csv", "--workers", "2", "--scheduler", "tcp://127.0.0.1:9"
    )
    (tmp_path / "case.toml").write_text("[fan]\nflow = '75F'\n")
    assert "fan.flow" in refused(sites, "--out", tmp_path / "r.csv", "--case", tmp_path / "case.toml")


def test_spreadsheet_leftovers_are_no_sites(tmp_path: Path) -> None:
    path = tmp_path / "sites.csv"
    path.write_bytes(f"\ufeffname,weather,preset\r\nA,{DESERT},\r\n,,\r\n\r\nB,demo:x,\r\n".encode())
    rows = batch(path, tmp_path / "results.csv")
    assert [row["name"] for row in rows] == ["A", "B"]
    # As a spreadsheet counts.
    assert rows[1]["error"].startswith("sites.csv row 5: ")


def test_a_cell_is_stronger_than_the_case_file_and_a_bare_number_takes_the_unit_asked_for(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text('preset = "shop"\n[fan]\nflow = "3000 cfm"\n[money]\nprice = 0.3\n')
    sites = write_list(tmp_path / "sites.csv", "name,weather,fan.flow", f"A,{DESERT},1.5", f"B,{DESERT},")
    first, second = batch(sites, tmp_path / "r.csv", "--case", str(tmp_path / "case.toml"), "--units", "si")
    assert float(first["inputs.flow_m3_s"]) == 1.5
    # 1 cfm is 0.3048³/60 m³/s, by definition.
    assert float(second["inputs.flow_m3_s"]) == pytest.approx(3000 * 0.3048**3 / 60, rel=1e-12)
    assert {row["inputs.building"] for row in (first, second)} == {"shop"}
    assert {float(row["inputs.price_per_kwh"]) for row in (first, second)} == {0.3}


def test_weather_is_found_beside_the_list_and_its_place_may_be_told(tmp_path: Path) -> None:
    folder = tmp_path / "lists"
    folder.mkdir()
    year = write_year(folder / "year.csv", "dry_bulb_c", 15.0, 8.0)
    text = year.read_text().split("\n", 4)[4]
    (folder / "bare.csv").write_text(text)
    header = "name,weather,latitude,longitude,elevation,utc_offset"
    sites = write_list(folder / "sites.csv", header, "A,year.csv,,,,", "B,bare.csv,40,-100,500m,-7", "C,bare.csv,,,,")
    told, given, without = batch(sites, tmp_path / "results.csv")
    assert told["error"] == given["error"] == ""
    assert {told[key] == given[key] for key in told if key.startswith("energy.")} == {True}
    assert "latitude" in without["error"]


def test_every_case_key_may_be_a_column() -> None:
    from freecool import make_case

    case = make_case()
    for key in case_keys():
        part = case
        for name in key.split(".")[:-1]:
            part = getattr(part, name)
            if part is None:
                break
        else:
            assert hasattr(part, key.split(".")[-1])
    assert {"preset", "fan.flow", "building.glazing.north", "building.wall.resistance"} <= set(case_keys())


class Stop(Exception):
    """Raised by a test to stop a batch midway."""


def stop_after(rows: int, sites: Path, out: Path, **more: object) -> Path:
    """A batch stopped after some rows; its ledger's folder."""

    def progress(done: int, total: int) -> None:
        if done >= rows:
            raise Stop

    with pytest.raises(Stop):
        run_batch(sites, out, progress=progress, workers=1, **more)  # type: ignore[arg-type]
    return ledger_folder(out)


def kept_rows(ledger: Path) -> dict[int, bytes]:
    """The answered rows of a ledger that nobody uses, by their number among the sites."""
    with closing(sqlite3.connect(ledger / DATABASE)) as database:
        return dict(database.execute("SELECT site, content FROM rows"))


def cut_off(ledger: Path, rows: int, sites: Path, out: Path) -> Path:
    """What lay on disk, at another place, when a batch had answered some rows: as after a sudden death."""

    def progress(done: int, total: int) -> None:
        if done == rows:
            shutil.copytree(ledger_folder(out), ledger)
            raise Stop

    with pytest.raises(Stop):
        run_batch(sites, out, progress=progress, workers=1)
    return ledger


@pytest.fixture(scope="module")
def stopped_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a list, a batch of it stopped after 9 of 40 rows, and what it comes to when it is not stopped."""
    folder = tmp_path_factory.mktemp("stopped")
    rows = [f'"Site {number}",{DESERT},{number}F' for number in range(40)]
    sites = write_list(folder / "sites.csv", "name,weather,fan.flow", *rows)
    run_batch(sites, folder / "whole.csv", workers=1)
    stop_after(9, sites, folder / "results.csv")
    return folder


@pytest.fixture
def stopped(stopped_once: Any, tmp_path: Path) -> Path:
    """A copy of that folder."""
    return Path(shutil.copytree(stopped_once, tmp_path / "stopped"))


def test_a_stopped_batch_is_not_begun_again_by_mistake(stopped: Any) -> None:
    sites, out = stopped / "sites.csv", stopped / "results.csv"
    assert "--resume goes on, --overwrite begins anew" in refused(sites, "--out", out)
    assert not out.exists()
    assert len(batch(sites, out, "--overwrite")) == 40
    assert not (stopped / "results.csv.part").exists()


def test_finished_results_are_not_overwritten_by_mistake(stopped: Any) -> None:
    sites, out = stopped / "sites.csv", stopped / "whole.csv"
    before = out.read_bytes()
    assert "is there already: name another output, or add --overwrite" in refused(sites, "--out", out)
    resumed = freecool("batch", str(sites), "--out", str(out), "--resume")
    assert (resumed.code, "nothing was done" in resumed.output) == (0, True)
    assert out.read_bytes() == before
    out.write_text("old")
    batch(sites, out, "--overwrite")
    assert out.read_bytes() == before


def replaced(file: str, old: bytes, new: bytes) -> Callable[[Path], None]:
    """A damage: some bytes of a file become others."""

    def damage(ledger: Path) -> None:
        content = (ledger / file).read_bytes()
        assert old in content
        (ledger / file).write_bytes(content.replace(old, new))

    return damage


def written(file: str, change: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    """A damage: the content of a file becomes another."""
    return lambda ledger: (ledger / file).write_bytes(change((ledger / file).read_bytes())) and None  # type: ignore[return-value]


LOG = f"{DATABASE}-wal"
DAMAGES = {
    "none": lambda ledger: None,
    "a record without its end": written(LOG, lambda log: log[:-7]),
    "half of the log": written(LOG, lambda log: log[: len(log) // 2]),
    "zeros as a power cut leaves them": written(LOG, lambda log: log[:-5_000] + bytes(5_000)),
    "garbage at the end": written(LOG, lambda log: log + b"#" * 300),
    "a damaged record amid the others": replaced(LOG, b'"Site 6"', b'"Site X"'),
    "no log": lambda ledger: (ledger / LOG).unlink(),
    "nothing": lambda ledger: [path.write_bytes(b"") for path in ledger.iterdir()],
}


# One damage of each kind for whoever clones: none, a torn end, a broken middle.
SHORT_OF_DAMAGES = {"none", "half of the log", "a damaged record amid the others"}


@pytest.mark.parametrize(
    "damage", [name if name in SHORT_OF_DAMAGES else pytest.param(name, marks=pytest.mark.long) for name in DAMAGES]
)
def test_a_torn_ledger_loses_no_row_and_doubles_none(damage: Any, stopped: Any, tmp_path: Path) -> None:
    ledger = cut_off(tmp_path / "cut.csv.part", 9, stopped / "sites.csv", tmp_path / "results.csv")
    assert (ledger / LOG).stat().st_size > 5_000
    DAMAGES[damage](ledger)  # type: ignore[no-untyped-call]
    out = tmp_path / "cut.csv"
    batch(stopped / "sites.csv", out, "--resume")
    assert out.read_bytes() == (stopped / "whole.csv").read_bytes()
    assert not ledger.exists()


def test_a_row_that_is_not_what_was_written_is_done_again(stopped: Any) -> None:
    ledger, out = stopped / "results.csv.part", stopped / "results.csv"
    replaced(DATABASE, b'"Site 3"', b'"Site X"')(ledger)
    batch(stopped / "sites.csv", out, "--resume")
    assert out.read_bytes() == (stopped / "whole.csv").read_bytes()


def answered(*values: object) -> bytes:
    """A row of `value` with these in its first columns."""
    return json.dumps([*values, *[None] * (len(COLUMNS["value"]) - len(values))]).encode()


@pytest.mark.parametrize(
    "content", [b"{}", b"5", b"[]", b"[1]", b"null", b"not json", answered("a", "b", []), answered(7)]
)
@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_row_of_another_shape_is_said_in_a_sentence(content: bytes, ending: str, tmp_path: Path) -> None:
    """As an editor of databases might leave it, its checksum too."""
    with Ledger(tmp_path / "out.csv.part", {"any": 1}, 2) as ledger:
        ledger.append(0, [None] * len(COLUMNS["value"]))
        row = (1, content, zlib.crc32(content, 1))
        ledger._database.execute("INSERT INTO rows VALUES (?, ?, ?)", row)
        with pytest.raises(BatchError, match=r"part holds a row that is none of this job .* --overwrite begins anew"):
            write_results(tmp_path / f"out{ending}", ledger, "value")
    assert not (tmp_path / f"out{ending}").exists()


@pytest.mark.parametrize("content", [None, 5, "text", b"torn"])
def test_a_row_that_is_no_text_is_done_again(content: Any, tmp_path: Path) -> None:
    with Ledger(tmp_path / "out.csv.part", {"any": 1}, 1) as ledger:
        ledger._database.execute("INSERT INTO rows VALUES (?, ?, ?)", (0, content, 1))
    with Ledger(tmp_path / "out.csv.part", {"any": 1}, 1) as again:
        assert again.done == 0


@pytest.mark.parametrize("content", ["5", "[1]", "no json", None])
def test_inputs_of_another_shape_are_said_in_a_sentence(content: Any, tmp_path: Path) -> None:
    folder = tmp_path / "out.csv.part"
    with Ledger(folder, {"any": 1}, 1) as ledger:
        ledger._database.execute("DROP TABLE inputs")
        ledger._database.execute("CREATE TABLE inputs (content)")
        ledger._database.execute("INSERT INTO inputs VALUES (?)", (content,))
    for read in (lambda: read_inputs(folder), lambda: Ledger(folder, {"any": 1}, 1)):
        with pytest.raises(BatchError, match=r"(cannot be read|was begun with other inputs)"):
            read()


def test_what_a_spreadsheet_would_run_has_an_apostrophe(tmp_path: Path) -> None:
    names = ["=1+1", "+1", "-1", "@now", "\tx", "plain", "a=b", "'quoted"]
    with Ledger(tmp_path / "out.csv.part", {"any": 1}, len(names)) as ledger:
        for place, name in enumerate(names):
            ledger.append(place, [name, *[None] * (len(COLUMNS["value"]) - 1)])
        write_results(tmp_path / "out.csv", ledger, "value")
        write_results(tmp_path / "out.parquet", ledger, "value")
    written = [row["name"] for row in rows_of(tmp_path / "out.csv")]
    assert written == ["'=1+1", "'+1", "'-1", "'@now", "'\tx", "plain", "a=b", "'quoted"]
    assert pd.read_parquet(tmp_path / "out.parquet")["name"].tolist() == names


def test_more_workers_than_cores_are_not_started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[int] = []
    monkeypatch.setattr("freecool.batch.run.worker_pool", lambda workers, scheduler: started.append(workers))
    sites = write_list(tmp_path / "sites.csv", "name,weather", f"A,{DESERT}")
    with pytest.raises(TypeError):
        freecool("batch", str(sites), "--out", str(tmp_path / "out.csv"), "--workers", "5000")
    assert started == [cores()]


def test_a_ledger_that_cannot_be_read_is_said_in_a_sentence(stopped: Any) -> None:
    sites, out = stopped / "sites.csv", stopped / "results.csv"
    written(DATABASE, lambda content: content[:1_000] + bytes(5_000))(stopped / "results.csv.part")
    assert re.search(r"rows\.sqlite cannot be read \(.*\): --overwrite begins anew", refused(sites, "--out", out))
    batch(sites, out, "--overwrite")
    assert out.read_bytes() == (stopped / "whole.csv").read_bytes()


def test_a_resumed_batch_does_no_row_twice(stopped: Any) -> None:
    ledger = stopped / "results.csv.part"
    before = kept_rows(ledger)
    assert len(before) >= 9
    stop_after(25, stopped / "sites.csv", stopped / "results.csv", resume=True)
    after = kept_rows(ledger)
    assert len(after) >= 25
    assert {site: after[site] for site in before} == before


def change_list(folder: Path) -> None:
    (folder / "sites.csv").write_text((folder / "sites.csv").read_text().replace("Site 3", "Site three"))


def change_weather(folder: Path) -> None:
    with (folder / "year.csv").open("a") as file:
        file.write("\n")


CHANGES = {
    "sites.csv": (change_list, BatchSettings()),
    "weather year.csv": (change_weather, BatchSettings()),
    "job was value, is pick": (None, BatchSettings(job="pick")),
    "units was ip, is si": (None, BatchSettings(units="si")),
    "told": (None, BatchSettings(told={"money": {"price": 0.2}})),
}


@pytest.mark.parametrize("named", CHANGES)
def test_a_batch_does_not_go_on_with_other_inputs(named: Any, tmp_path: Path) -> None:
    write_year(tmp_path / "year.csv", "dry_bulb_c", 15.0, 8.0)
    rows = [f"Site {number},year.csv,{number}F" for number in range(20)]
    sites = write_list(tmp_path / "sites.csv", "name,weather,fan.flow", *rows)
    out = tmp_path / "results.csv"
    ledger = stop_after(3, sites, out)
    kept = kept_rows(ledger)
    change, settings = CHANGES[named]
    if change is not None:
        change(tmp_path)
    with pytest.raises(BatchError, match=f"begun with other inputs: {re.escape(named)}"):
        run_batch(sites, out, settings, resume=True)
    assert kept_rows(ledger) == kept


def test_a_batch_of_another_version_does_not_go_on(stopped: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("freecool.batch.run.__version__", "9.9")
    sentence = refused(stopped / "sites.csv", "--out", stopped / "results.csv", "--resume")
    assert f"freecool was {__version__}, is 9.9" in sentence


def test_two_batches_do_not_share_a_ledger(tmp_path: Path) -> None:
    with Ledger(tmp_path / "r.csv.part", {"list": "1"}, 3), pytest.raises(BatchError, match="in use by another batch"):
        Ledger(tmp_path / "r.csv.part", {"list": "1"}, 3)
    with Ledger(tmp_path / "r.csv.part", {"list": "1"}, 3) as ledger:
        assert ledger.done == 0


def test_a_folder_that_is_no_ledger_is_left_alone(tmp_path: Path) -> None:
    sites = write_list(tmp_path / "sites.csv", "name,weather,fan.flow", f"A,{DESERT},{BAD_FLOW}")
    folder = tmp_path / "results.csv.part"
    folder.mkdir()
    (folder / "letter.txt").write_text("Dear customer")
    batch(sites, tmp_path / "results.csv", "--overwrite")
    assert (folder / "letter.txt").read_text() == "Dear customer"
    (folder / DATABASE).write_text("{" * 100)
    assert "rows.sqlite cannot be read" in refused(sites, "--out", tmp_path / "results.csv", "--resume")


# No file may grow beyond so many bytes: the system's own refusal, met as a full disk is.
LIMITED = """
import resource, sys
from freecool.cli.app import main
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv.pop(1)),) * 2)
main()
"""


# So that the ledger, and so that the results find no room.
@pytest.mark.parametrize(
    ("suffix", "rows", "limit", "reason"),
    [
        pytest.param(".csv", 0, 40_000, "disk I/O error", id="ledger", marks=pytest.mark.long),
        pytest.param(".parquet", 40, 12_000, ".*File too large", id="results"),
    ],
)
def test_a_full_disk_is_said_in_a_sentence_and_the_batch_goes_on_later(
    suffix: str, rows: int, limit: int, reason: str, stopped_once: Any, tmp_path: Path
) -> None:
    pytest.importorskip("resource", reason="no limits on the size of files on this system")
    sites, out = stopped_once / "sites.csv", tmp_path / f"results{suffix}"
    if rows:
        stop_after(rows, sites, out)
    command = [sys.executable, "-c", LIMITED, str(limit), "batch", str(sites), "--out", str(out), "--resume"]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert run.returncode == 2
    assert re.fullmatch(rf"freecool: .*cannot be written \({reason}\).*--resume\.\n", run.stderr)
    assert not out.exists()
    assert rows == 40 or 0 < len(kept_rows(ledger_folder(out))) < 40
    run_batch(sites, out, workers=1, resume=True)
    read = pd.read_csv if suffix == ".csv" else pd.read_parquet
    pd.testing.assert_series_equal(
        read(out)["error"], pd.read_csv(stopped_once / "whole.csv")["error"], check_dtype=False
    )


def peak_bytes(tmp_path: Path, rows: int) -> int:
    """Most memory that Python held in this process while a batch of rows ran."""
    lines = (f"Site {number},{DESERT},{BAD_FLOW}" for number in range(rows))
    sites = write_list(tmp_path / "sites.csv", "name,weather,fan.flow", *lines)
    tracemalloc.start()
    try:
        run_batch(sites, tmp_path / "results.csv", workers=1, overwrite=True)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.long
def test_memory_does_not_grow_with_the_list(tmp_path: Path) -> None:
    # The first run loads libraries. Full row groups in both, since two groups are what is held at once.
    peak_bytes(tmp_path, 10)
    few, many = 2_000, 6_000
    small, large = peak_bytes(tmp_path, few), peak_bytes(tmp_path, many)
    # One byte a row, and what chance leaves over.
    assert large - small < many - few + 100_000


@pytest.mark.long
def test_the_example_is_answered_as_the_page_shows(tmp_path: Path) -> None:
    page = (REPOSITORY / "docs" / "batch.md").read_text("utf-8")
    rows = batch(REPOSITORY / "examples" / "sites.csv", tmp_path / "results.csv")
    assert {row["error"] == "" for row in rows[:-1]} == {True}
    assert {row["weather.invented"] for row in rows[:-1]} == {"true"}
    for row in rows:
        assert "(invented)" in row["name"]
        assert " ".join((row["verdict.text"] or row["error"]).split()) in " ".join(page.split())


def test_every_column_and_exit_code_is_on_the_page() -> None:
    page = (REPOSITORY / "docs" / "batch.md").read_text("utf-8")
    names = {column.name for columns in COLUMNS.values() for column in columns}
    blocks = {name for name in names if f"`{name.rpartition('.')[0]}.*`" in page}
    rules = {name for name in names if f"`rules.NAME.{name.split('.', 2)[-1]}`" in page}
    assert sorted(name for name in names - blocks - rules if f"`{name}`" not in page) == []
