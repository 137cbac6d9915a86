"""Performance maps: from CSV to unit, against curves and published cases; each damage is refused in words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from urllib.parse import parse_qsl

import hvac_cells
import numpy as np
import pandas as pd
import pytest
from hvac_cells import CE300_FAN, CE300_UNIT, run_ce100
from scipy.interpolate import RegularGridInterpolator
from test_cli import freecool

from freecool.answers import runs
from freecool.answers.estimate import estimate
from freecool.answers.jobs import JOBS
from freecool.answers.prepare import prepare
from freecool.answers.settings import SearchSettings
from freecool.cases.case_file import read_case_file
from freecool.cases.model import Case, make_case
from freecool.cases.unit_map import unit_map_of
from freecool.core.air import saturation_table
from freecool.core.errors import CaseError
from freecool.core.units import CFM_M3_S, TON_W
from freecool.physics.cooling_unit import (
    DEW_POINT_START_C,
    STANDARD_PRESSURE_PA,
    CoolingUnit,
    capacity_and_power,
    coil_transfer,
    rated_unit,
    rating_humidity_ratio,
    run_coil,
    table_mass_flow,
)
from freecool.weather import open_weather
from freecool.web.form import form_values
from freecool.web.link import Link, canonical, case_of, case_toml, read_link
from freecool.web.weather_store import WeatherStore

EXAMPLE = Path(__file__).parents[1] / "examples" / "invented-7.5-ton.csv"
TEXT = EXAMPLE.read_text("utf-8")
ANSWERS = Path(runs.__file__).parent


def table_text(unit: CoolingUnit, wet_bulbs: np.ndarray, outdoors: np.ndarray, share: float, flow_m3_s: float) -> str:
    """A unit of curves as a table in SI; of the sensible share, only that at the rating point is read."""
    lines = [
        "# figures: gross", "# power: without indoor fan", f"# entering_dry_bulb_c: {(80 - 32) / 1.8!r}",
        f"# flow_m3_s: {flow_m3_s!r}", "entering_wet_bulb_c,outdoor_c,capacity_w,sensible_w,power_w",
    ]  # fmt: skip
    for x in map(float, wet_bulbs):
        for y in map(float, outdoors):
            total, power = map(float, capacity_and_power(unit, x, y))
            lines.append(f"{x!r},{y!r},{total!r},{total * share!r},{power!r}")
    return "\n".join(lines)


def mapped(text: str, flow_m3_s: float, **told: object) -> Case:
    return make_case({"unit": {"map": text, **told}, "fan": {"flow": f"{flow_m3_s} m3/s"}})


def test_reads_linearly_between_the_nodes_as_another_library() -> None:
    found = unit_map_of(TEXT)
    unit = prepare(mapped(TEXT, 3000 * CFM_M3_S), open_weather("demo:mixed-inland")).unit
    nodes = found.wet_bulb_c, found.outdoor_c
    rng = np.random.default_rng(1)
    for x, y in zip(rng.uniform(nodes[0][0], nodes[0][-1], 200), rng.uniform(18.4, 46.0, 200), strict=True):
        got = capacity_and_power(unit, x, y)
        for value, grid in zip(got, (found.capacity_w, found.power_w), strict=True):
            assert value == pytest.approx(float(RegularGridInterpolator(nodes, np.array(grid))((x, y))), rel=1e-12)


@pytest.mark.parametrize("rule", ["hold", "refuse"])
def test_beyond_the_map_its_edge_holds(rule: str) -> None:
    found = unit_map_of(TEXT)
    unit = prepare(mapped(TEXT, 3000 * CFM_M3_S, beyond_map=rule), open_weather("demo:mixed-inland")).unit
    (x0, *_, x1), (y0, *_, y1) = found.wet_bulb_c, found.outdoor_c
    for x, y, i, j in ((x0 - 3.0, y0 - 5.0, 0, 0), (x1 + 3.0, y1 + 5.0, -1, -1), (x0, y1 + 9.0, 0, -1)):
        expected = found.capacity_w[i][j], found.power_w[i][j]
        assert capacity_and_power(unit, x, y) == pytest.approx(expected)


# Entering dry bulb and wet bulb, outdoors [°F], whether the table (57 to 72, 65 to 115 °F) is left.
OUTSIDE = (
    (80.0, 67.0, 95.0, False),
    (80.0, 67.0, 64.0, True),
    (80.0, 67.0, 116.0, True),
    (80.0, 73.0, 95.0, True),
    (68.0, 56.0, 95.0, True),
    # Nothing condenses: the coil works as at the onset of it, about 58 °F.
    (80.0, 54.0, 95.0, False),
)


@pytest.mark.parametrize(("dry_bulb_f", "wet_bulb_f", "outdoor_f", "expected"), OUTSIDE)
def test_a_coil_tells_whether_it_leaves_the_table(
    dry_bulb_f: float, wet_bulb_f: float, outdoor_f: float, expected: bool
) -> None:
    unit = prepare(mapped(TEXT, 3000 * CFM_M3_S), open_weather("demo:mixed-inland")).unit
    t, x, y = ((degrees - 32.0) / 1.8 for degrees in (dry_bulb_f, wet_bulb_f, outdoor_f))
    coil = run_coil(
        unit, saturation_table(), table_mass_flow(t, 3000 * CFM_M3_S), t, rating_humidity_ratio(t, x), y,
        STANDARD_PRESSURE_PA, x, DEW_POINT_START_C,
    )  # fmt: skip
    assert bool(coil.outside_table) is expected


def widened(text: str) -> str:
    """The example with 25 and 79 °F wet bulb beside it, so that it is left by the outdoor temperature alone."""
    ends = []
    for line in text.splitlines():
        if line.startswith(("57,", "72,")):
            x, *rest = line.split(",")
            ends.append(",".join(["25" if x == "57" else "79", *rest]))
    return text + "\n".join(ends) + "\n"


def test_hours_outside_are_counted_hour_by_hour() -> None:
    case = make_case({"unit": {"map": widened(TEXT)}, "fan": {"flow": "3000 cfm"}}, preset="shop")
    answer = estimate(case, open_weather("demo:mixed-inland"))
    outdoor_c = answer.hourly["outdoor_dry_bulb_c"].to_numpy()
    beyond = (outdoor_c < (65 - 32) / 1.8) | (outdoor_c > (115 - 32) / 1.8)
    for run in answer.pair:
        running = run.column("run_time") > 0.0
        assert run.total("outside_table")[0] == (running & beyond).sum()
    assert answer.pair.without.total("outside_table")[0] > 100.0
    [told] = [notice.text for notice in answer.warnings if notice.code == "outside_map"]
    without, fitted = (f"{run.total('outside_table')[0]:,.0f}" for run in answer.pair)
    assert told.startswith(f"In {without} hours a year without the damper, and in {fitted} with it")


def test_a_unit_without_a_map_is_never_outside() -> None:
    answer = estimate(make_case(), open_weather("demo:mixed-inland"))
    assert [float(run.total("outside_table")[0]) for run in answer.pair] == [0.0, 0.0]
    assert "unit_map" not in answer.to_dict()["inputs"]


@pytest.mark.parametrize("job", JOBS)
def test_every_job_refuses_to_leave_a_map_that_says_so_and_counts_where_its_edge_holds(job: str) -> None:
    weather, few = open_weather("demo:mixed-inland"), SearchSettings(draws=0, differentials_k=(0.0, 3.0))
    with pytest.raises(CaseError, match=r"^unit.map: the compressor runs outside the performance map in [\d,]+ hours"):
        JOBS[job].run(mapped(TEXT, 3000 * CFM_M3_S, beyond_map="refuse"), weather, few)
    answer = JOBS[job].run(mapped(TEXT, 3000 * CFM_M3_S), weather, few)
    assert [notice.code for notice in answer.warnings if "map" in notice.code] == ["outside_map"]


def test_no_answer_runs_a_year_that_could_leave_a_map_unseen() -> None:
    """By their imports: the physics' own run is named in one place."""
    named = [path.name for path in sorted(ANSWERS.glob("*.py")) if "year.simulate" in path.read_text("utf-8")]
    assert named == ["runs.py"]
    imports = re.compile(r"from freecool\.physics\.year import [^\n]*\bsimulate\b")
    assert not [path.name for path in ANSWERS.glob("*.py") if imports.search(path.read_text("utf-8"))]


def test_a_map_that_reaches_everywhere_is_not_refused() -> None:
    """The rows of 65 °F outdoors said of -40 °F, those of 115 °F of 130 °F."""
    wide = widened(TEXT).replace(",65,", ",-40,").replace(",115,", ",130,")
    answer = estimate(mapped(wide, 3000 * CFM_M3_S, beyond_map="refuse"), open_weather("demo:mixed-inland"))
    assert not [notice for notice in answer.warnings if notice.code == "outside_map"]


def test_the_resolved_map_is_in_every_answer() -> None:
    told = estimate(mapped(TEXT, 3000 * CFM_M3_S), open_weather("demo:mixed-inland")).to_dict()["inputs"]["unit_map"]
    found = unit_map_of(TEXT)
    assert told["wet_bulb_range_c"] == pytest.approx([(57 - 32) / 1.8, (72 - 32) / 1.8])
    assert told["outdoor_range_c"] == pytest.approx([(65 - 32) / 1.8, (115 - 32) / 1.8])
    assert (told["beyond_map"], told["basis"]) == ("hold", "gross, power without indoor fan")
    for name in ("capacity_w", "sensible_w", "power_w"):
        np.testing.assert_array_equal(told[name], getattr(found, name))
    gap = (np.array(told["coil_sensible_w"]) - told["sensible_w"]) / np.array(told["capacity_w"])
    assert told["sensible_gap_percent"] == pytest.approx(100.0 * np.abs(gap).max())
    # The coil is set by the map's figure at the rating point: 67 and 95 °F.
    assert gap[2, 3] == pytest.approx(0.0, abs=1e-6)


def test_the_gap_between_coil_and_map_is_told_from_5_percent_on() -> None:
    """A node of 62 °F wet bulb whose sensible capacity is told 10 % of the capacity less."""
    weather = open_weather("demo:mixed-inland")
    few = TEXT.replace("62,95,86800,82200", "62,95,86800,73520")
    assert few != TEXT
    [notice] = [n for n in estimate(mapped(few, 3000 * CFM_M3_S), weather).warnings if n.code == "map_sensible"]
    assert "at 62 °F (16.7 °C) wet bulb and 95 °F (35 °C) outdoors it makes 12 % of the capacity more" in notice.text


@pytest.mark.parametrize(("cfm", "told"), [(2710, False), (2690, True), (3290, False), (3310, True)])
def test_a_fan_of_another_flow_than_the_map_is_told(cfm: float, told: bool) -> None:
    answer = estimate(mapped(TEXT, cfm * CFM_M3_S), open_weather("demo:mixed-inland"))
    assert ("map_flow" in [notice.code for notice in answer.warnings]) is told


def test_the_built_in_curves_as_a_fine_table_give_their_own_answer() -> None:
    """Nodes 0.8 K and 2.2 K apart; written before the run: within 0.1 % of the compressor's energy avoided."""
    flow = 1200.0 * CFM_M3_S
    unit = rated_unit(3.0 * TON_W, 12.0 / 3.412141633, 0.75, 0.15)
    wet_bulbs = np.linspace(*unit.wet_bulb_range_c, 12)
    outdoors = np.linspace(*unit.outdoor_range_c, 14)
    # The rating point is a node.
    wet_bulbs, outdoors = np.sort([*wet_bulbs, (67 - 32) / 1.8]), np.sort([*outdoors, 35.0])
    case = mapped(table_text(unit, wet_bulbs, outdoors, 0.75, flow), flow, degradation=0.15)
    weather = open_weather("demo:mixed-inland")
    ours, built_in = estimate(case, weather), estimate(make_case(), weather)
    assert case.unit.capacity == pytest.approx(3.0 * TON_W, rel=1e-6)
    assert ours.energy.compressor_kwh_avoided == pytest.approx(built_in.energy.compressor_kwh_avoided, rel=1e-3)
    assert ours.break_even_differential_k == pytest.approx(built_in.break_even_differential_k, rel=1e-3)


def test_hvac_bestest_maps_as_csv_give_the_units_of_the_cases(monkeypatch: pytest.MonkeyPatch) -> None:
    weather = open_weather("demo:mixed-inland")
    for unit, flow, share, outdoors in (
        (hvac_cells.CE100_UNIT, 0.425, 0.7776, np.linspace(27.4, 48.1, 14)),
        (CE300_UNIT, CE300_FAN.flow_m3_s, 0.78245, np.linspace(20.0, 48.0, 14)),
    ):
        outdoors = np.sort([*outdoors, 35.0])
        wet_bulbs = np.sort([*np.linspace(13.0, 23.7, 12), (67 - 32) / 1.8])
        got = prepare(mapped(table_text(unit, wet_bulbs, outdoors, share, flow), flow), weather).unit
        # The published fits are not quite 1 at the rating point; a map's capacity there is what it says.
        gross = capacity_and_power(unit, hvac_cells.RATING_C[1], 35.0)[0]
        transfer = coil_transfer(gross, flow * hvac_cells.RATING_KG_M3, share, *hvac_cells.RATING_C)
        assert got.transfer_kg_s == pytest.approx(transfer, rel=1e-6)
        for x, y in ((14.3, 29.4), (17.0, 41.7), (22.2, 46.1)):
            assert capacity_and_power(got, x, y) == pytest.approx(capacity_and_power(unit, x, y), rel=1e-3)
        if unit is hvac_cells.CE100_UNIT:
            before = run_ce100(5400.0, 0.0, 22.2, 46.1)
            monkeypatch.setattr(hvac_cells, "CE100_UNIT", got._replace(degradation=unit.degradation))
            assert run_ce100(5400.0, 0.0, 22.2, 46.1) == pytest.approx(before, rel=2e-3)


def test_tables_in_fahrenheit_and_celsius_net_and_gross_read_alike() -> None:
    found = unit_map_of(TEXT)
    fan_w = 1000.0
    lines = [
        "# figures: net", "# power: with indoor fan", f"# entering_dry_bulb_c: {found.entering_dry_bulb_c!r}",
        f"# flow_m3_s: {found.flow_m3_s!r}", f"# indoor_fan_w: {fan_w}",
        "outdoor_c,power_w,entering_wet_bulb_c,sensible_kw,capacity_kw",
    ]  # fmt: skip
    for i, x in enumerate(found.wet_bulb_c):
        for j, y in enumerate(found.outdoor_c):
            values = (grid[i][j] for grid in (found.power_w, found.sensible_w, found.capacity_w))
            power, sensible, total = values
            lines.append(f"{y!r},{power + fan_w!r},{x!r},{(sensible - fan_w) / 1e3!r},{(total - fan_w) / 1e3!r}")
    other = unit_map_of("\n".join(lines))
    for name in ("wet_bulb_c", "outdoor_c", "capacity_w", "sensible_w", "power_w"):
        np.testing.assert_allclose(getattr(other, name), getattr(found, name), rtol=1e-12)


DAMAGE: dict[str, tuple[Callable[[str], str], str]] = {
    "basis": (lambda text: text.replace("# figures: gross\n", ""), "no line says figures"),
    "basis twice": (lambda text: "# figures: net\n" + text, "figures is 'net' and again 'gross'"),
    "fan": (lambda text: text.replace("without indoor", "and"), "power is 'and fan'"),
    "net without fan": (lambda text: text.replace("figures: gross", "figures: net"), "0 lines say indoor_fan"),
    "no unit": (lambda text: text.replace("capacity_btu_h", "capacity"), "0 columns of capacity"),
    "a column too many": (
        lambda text: text.replace("power_kw", "power_kw,entering_dry_bulb_f"),
        "column 'entering_dry_bulb_f' is not known",
    ),
    "a thousands comma": (lambda text: text.replace("flow_cfm: 3000", "flow_cfm: 3,000"), "flow_cfm is '3,000'"),
    "no number": (lambda text: text.replace("92400", "much"), "line 21, capacity_btu_h is 'much'"),
    "infinite": (lambda text: text.replace("92400", "inf"), "line 21, capacity_btu_h is 'inf'"),
    "short": (lambda text: text.replace(",92400", ""), "line 21 has 4 cells, expected 5"),
    "twice": (lambda text: text + "67,95,92400,68400,7.02\n", "line 31 tells the node"),
    "a hole": (lambda text: text.replace("67,95,92400,68400,7.02\n", ""), "19.4 °C wet bulb and 35.0 °C outdoors"),
    "no lines": (lambda text: text.partition("\n57,65")[0], "no line tells a node"),
    "empty": (lambda text: " ", "0 columns of capacity"),
    "one outdoor temperature": (
        lambda text: "\n".join(line for line in text.splitlines() if line[0] in "#e" or ",95," in line),
        "1 outdoor temperatures, expected 2 or more",
    ),
    "falls": (lambda text: text.replace("92400", "80400"), "capacity falls with the wet bulb"),
    "rises": (lambda text: text.replace("92400", "99400"), "capacity rises with the outdoor temperature"),
    "power falls": (lambda text: text.replace("8.00", "6.00"), "power falls with the outdoor temperature"),
    "sensible": (lambda text: text.replace("68400", "98400"), "sensible capacity 28838 W is above"),
    "watts for kilowatts": (lambda text: text.replace("power_kw", "power_w"), "expected 1 to 15 W/W"),
    "degrees of the other kind": (lambda text: text.replace("bulb_f,outdoor_f", "bulb_c,outdoor_c"), "is '57', in SI"),
    "too wet": (
        lambda text: text.replace("dry_bulb_f: 80", "dry_bulb_f: 70"),
        "22.2 °C is above the entering dry bulb",
    ),
    "no rating point": (
        lambda text: text.replace("\n67,", "\n66,").replace("\n72,", "\n66.5,"),
        "leave out the rating",
    ),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_table_is_refused_in_words(name: str) -> None:
    damage, words = DAMAGE[name]
    assert damage(TEXT) != TEXT
    with pytest.raises(CaseError) as refused:
        make_case({"unit": {"map": damage(TEXT)}})
    assert words in str(refused.value)


def test_all_faults_of_a_table_come_in_one_message() -> None:
    damaged = TEXT.replace("# figures: gross\n", "").replace("92400", "much").replace("68400", "98400")
    damaged = damaged.replace("57,65,95300", "57,65,-1").replace("72,115,91000,53100,9.15", "72,115,91000")
    with pytest.raises(CaseError) as refused:
        unit_map_of(damaged)
    for words in (
        "no line says figures", "line 6, capacity_btu_h is '-1'", "line 20, capacity_btu_h is 'much'",
        "line 29 has 3 cells",
    ):  # fmt: skip
        assert words in str(refused.value)
    # What a whole grid must be is told beside what could not be read of it.
    damaged = (
        TEXT.replace("92400", "much")
        .replace("86700", "1")
        .replace("62,105,82400,80600,7.96", "62,105,82400,99000,7.96")
    )
    with pytest.raises(CaseError, match=r"'much'.*sensible capacity 29014 W is above"):
        unit_map_of(damaged)


def test_a_table_from_a_spreadsheet_reads_alike() -> None:
    """Padded with commas, quoted where a comma stands in a line, with a mark of byte order and empty lines."""
    lines = [f'"{line}",,,,' if "," in line and line[0] == "#" else line for line in TEXT.splitlines()]
    padded = [f"{line},,,," if line.startswith("# ") else line for line in lines]
    assert unit_map_of("\ufeff" + "\r\n".join([*padded, ",,,,", ""])) == unit_map_of(TEXT)


def test_a_case_file_names_its_map_and_the_answer_tells_it(tmp_path: Path) -> None:
    case = make_case(read_case_file(EXAMPLE.with_suffix(".toml")))
    assert case.unit.capacity == pytest.approx(7.5 * TON_W, rel=0.02)
    answer = estimate(case, open_weather("demo:mixed-inland"))
    assert "invented-7.5-ton.csv, 57 °F to 72 °F entering wet bulb" in " ".join(str(answer).split())
    [told] = [notice for notice in answer.warnings if notice.code == "outside_map"]
    assert "the compressor runs outside the performance map" in told.text
    assert answer.to_dict()["inputs"]["unit_map"]["source"] == "invented-7.5-ton.csv"
    for map_file, words in (("missing.csv", "no such performance map"), (".", "it is a folder, expected a file")):
        (tmp_path / "case.toml").write_text(f'[unit]\nmap_file = "{map_file}"\n', encoding="utf-8")
        with pytest.raises(CaseError, match=words):
            read_case_file(tmp_path / "case.toml")
    with pytest.raises(CaseError, match="map_file"):
        make_case({"unit": {"map_file": str(EXAMPLE)}})


def test_a_form_a_link_and_its_case_file_carry_the_table() -> None:
    """A browser sends lines ended by CR and LF; the address, once read, says the same."""
    sent = {"unit.map": TEXT.replace("\n", "\r\n"), "fan.flow": "3000cfm", "preset": "shop"}
    link = read_link(sent)
    case = case_of(link)
    assert unit_map_of(case.unit.map) == unit_map_of(TEXT)
    again = read_link(dict(parse_qsl(canonical(link, case), keep_blank_values=True)))
    assert case_of(again) == case
    assert make_case(tomllib.loads(case_toml(link, case))) == case
    rows = {row["key"]: row for _, _, rows in _groups(link, case) for row in rows}
    assert rows["unit.map"]["kind"] == "lines"
    assert rows["unit.map"]["text"] == case.unit.map
    # What the form shows, sent back with another price, keeps the table.
    base = canonical(link, case)
    changed = read_link({"base": base, "unit.map": case.unit.map.replace("\n", "\r\n"), "money.price": "0.3"})
    assert case_of(changed).unit == case.unit


def _groups(link: Link, case: Case) -> list[tuple[str, str, list[dict[str, object]]]]:
    shown = form_values(JOBS["value"], link, case, canonical(link, case), WeatherStore())
    return shown["groups"]  # type: ignore[no-any-return]


def test_a_row_of_a_batch_whose_map_refuses_says_so(tmp_path: Path) -> None:
    """The case file beside the list names the table; one row holds the edge, the other refuses."""
    rows = "name,weather,unit.beyond_map\nHolds,demo:mixed-inland,hold\nRefuses,demo:mixed-inland,refuse\n"
    (tmp_path / "sites.csv").write_text(rows, encoding="utf-8")
    out, case_file = tmp_path / "out.csv", str(EXAMPLE.with_suffix(".toml"))
    freecool("batch", str(tmp_path / "sites.csv"), "--case", case_file, "--out", str(out), "--workers", "1")
    table = pd.read_csv(out).set_index("name")
    assert "outside_map" in str(table["warnings"]["Holds"])
    assert table["error"].isna().to_dict() == {"Holds": True, "Refuses": False}
    assert "unit.map: the compressor runs outside the performance map" in str(table["error"]["Refuses"])
