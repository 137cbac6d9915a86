"""Performance maps: from CSV to unit, against curves and published cases; each damage is refused in words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import hvac_cells
import numpy as np
import pytest
from hvac_cells import CE300_FAN, CE300_UNIT, run_ce100
from scipy.interpolate import RegularGridInterpolator

from freecool.answers.estimate import estimate
from freecool.answers.prepare import prepare
from freecool.cases.case_file import read_case_file
from freecool.cases.model import Case, make_case
from freecool.cases.unit_map import unit_map_of
from freecool.core.errors import CaseError
from freecool.core.units import CFM_M3_S, TON_W
from freecool.physics.cooling_unit import CoolingUnit, capacity_and_power, coil_transfer, rated_unit
from freecool.weather import open_weather

EXAMPLE = Path(__file__).parents[1] / "examples" / "invented-7.5-ton.csv"
TEXT = EXAMPLE.read_text("utf-8")


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


@pytest.mark.parametrize("rule", ["edge", "extrapolate"])
def test_beyond_the_map_its_rule_holds(rule: str) -> None:
    found = unit_map_of(TEXT)
    unit = prepare(mapped(TEXT, 3000 * CFM_M3_S, beyond_map=rule), open_weather("demo:mixed-inland")).unit
    y0, y1 = found.outdoor_c[:2]
    low, next_low = found.capacity_w[1][:2]
    expected = low if rule == "edge" else low + (low - next_low) * 5.0 / (y1 - y0)
    assert capacity_and_power(unit, found.wet_bulb_c[1], y0 - 5.0)[0] == pytest.approx(expected)


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
    "fan": (lambda text: text.replace("without indoor", "and"), "power is 'and fan'"),
    "net without fan": (lambda text: text.replace("figures: gross", "figures: net"), "0 lines say indoor_fan"),
    "no unit": (lambda text: text.replace("capacity_btu_h", "capacity"), "0 columns of capacity"),
    "no number": (lambda text: text.replace("92400", "much"), "line 21, capacity_btu_h is 'much'"),
    "infinite": (lambda text: text.replace("92400", "inf"), "line 21, capacity_btu_h is 'inf'"),
    "short": (lambda text: text.replace(",92400", ""), "line 21 has 4 cells, expected 5"),
    "twice": (lambda text: text + "67,95,92400,68400,7.02\n", "line 31 tells the node"),
    "a hole": (lambda text: text.replace("67,95,92400,68400,7.02\n", ""), "19.4 °C wet bulb and 35.0 °C outdoors"),
    "falls": (lambda text: text.replace("92400", "80400"), "capacity falls with the wet bulb"),
    "rises": (lambda text: text.replace("92400", "99400"), "capacity rises with the outdoor temperature"),
    "sensible": (lambda text: text.replace("68400", "98400"), "sensible capacity 28838 W is above"),
    "watts for kilowatts": (lambda text: text.replace("power_kw", "power_w"), "expected 1 to 15 W/W"),
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


def test_a_case_file_names_its_map_and_the_answer_tells_it(tmp_path: Path) -> None:
    case = make_case(read_case_file(EXAMPLE.with_suffix(".toml")))
    assert case.unit.capacity == pytest.approx(7.5 * TON_W, rel=0.02)
    answer = estimate(case, open_weather("demo:mixed-inland"))
    assert "invented-7.5-ton.csv, 57 °F to 72 °F entering wet bulb" in " ".join(str(answer).split())
    [told] = [notice for notice in answer.warnings if notice.code == "outside_map"]
    assert "hours a year the compressor runs outside the performance map" in told.text
    for map_file, words in (("missing.csv", "no such performance map"), (".", "not a regular file")):
        (tmp_path / "case.toml").write_text(f'[unit]\nmap_file = "{map_file}"\n', encoding="utf-8")
        with pytest.raises(CaseError, match=words):
            read_case_file(tmp_path / "case.toml")
    with pytest.raises(CaseError, match="map_file"):
        make_case({"unit": {"map_file": str(EXAMPLE)}})
