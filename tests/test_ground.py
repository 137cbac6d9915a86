"""The ground: ISO 13370:2017 against published tables, closed forms and a transient solved finely."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from freecool.answers.floor import ground_temperature, inside_elements, lowest_floor
from freecool.answers.prepare import envelope
from freecool.cases.model import make_case
from freecool.physics.ground import (
    FLOOR_FILM,
    OUTSIDE_FILM,
    SOILS,
    YEAR_S,
    Basement,
    Edge,
    Exchange,
    Plan,
    Soil,
    Space,
    Swing,
    basement_ceiling,
    basement_floor_transmittance,
    edge_gain,
    ground_flow,
    slab_on_ground,
    suspended_floor,
    swing_of,
    virtual_ground_c,
    wave,
)
from freecool.physics.zone import Element, element_network, five_resistance_network

if TYPE_CHECKING:
    from conftest import Outside

# Tables C1 to C5 of the British approved documents, made with BS EN ISO 13370: clay, walls of 0.3 m. Figures have two
# decimals, which is the tolerance. Read from a public copy; C4's floor, height, wind and shelter are not told
# there: of the usual ones these alone give all its forty figures.
SOURCE = "Approved Document tables C1-C5 after BS EN ISO 13370"
ROUNDING = 0.0051
CLAY, SAND = SOILS["clay"], SOILS["sand"]
PERIMETER_OVER_AREA = [0.05 * step for step in range(1, 21)]
SOLID_R = (0.0, 0.5, 1.0, 1.5, 2.0)
SOLID = [
    (0.13, 0.11, 0.10, 0.09, 0.08), (0.22, 0.18, 0.16, 0.14, 0.13), (0.30, 0.24, 0.21, 0.18, 0.17),
    (0.37, 0.29, 0.25, 0.22, 0.19), (0.44, 0.34, 0.28, 0.24, 0.22), (0.49, 0.38, 0.31, 0.27, 0.23),
    (0.55, 0.41, 0.34, 0.29, 0.25), (0.60, 0.44, 0.36, 0.30, 0.26), (0.65, 0.47, 0.38, 0.32, 0.27),
    (0.70, 0.50, 0.40, 0.33, 0.28), (0.74, 0.52, 0.41, 0.34, 0.28), (0.78, 0.55, 0.43, 0.35, 0.29),
    (0.82, 0.57, 0.44, 0.35, 0.30), (0.86, 0.59, 0.45, 0.36, 0.30), (0.89, 0.61, 0.46, 0.37, 0.31),
    (0.93, 0.62, 0.47, 0.37, 0.32), (0.96, 0.64, 0.47, 0.38, 0.32), (0.99, 0.65, 0.48, 0.39, 0.32),
    (1.02, 0.66, 0.49, 0.39, 0.33), (1.05, 0.68, 0.50, 0.40, 0.33),
]  # fmt: skip
# Uninsulated suspended floors, openings of 0.0015 and 0.003 m2/m.
SUSPENDED = [
    (0.15, 0.15), (0.25, 0.26), (0.33, 0.35), (0.40, 0.42), (0.46, 0.48), (0.51, 0.53), (0.55, 0.58), (0.59, 0.62),
    (0.63, 0.66), (0.66, 0.70), (0.69, 0.73), (0.72, 0.76), (0.75, 0.79), (0.77, 0.81), (0.80, 0.84), (0.82, 0.86),
    (0.84, 0.88), (0.86, 0.90), (0.88, 0.92), (0.89, 0.93),
]  # fmt: skip
# Upright edge insulation of 0.5, 1, 1.5 and 2 m2K/W, by depth [m]: linear transmittance, sign changed [W/mK].
EDGES = {
    0.25: (0.13, 0.18, 0.21, 0.22),
    0.5: (0.20, 0.27, 0.32, 0.34),
    0.75: (0.23, 0.33, 0.39, 0.42),
    1.0: (0.26, 0.37, 0.43, 0.48),
}
# Uninsulated basement floors, depth 0.5, 1, 1.5, 2, 2.5 m, by perimeter over area.
BASEMENT_FLOORS = {
    0.1: (0.20, 0.19, 0.18, 0.17, 0.16), 0.2: (0.34, 0.31, 0.29, 0.27, 0.26), 0.3: (0.44, 0.41, 0.38, 0.35, 0.33),
    0.4: (0.53, 0.48, 0.44, 0.41, 0.38), 0.5: (0.61, 0.55, 0.50, 0.46, 0.43), 0.6: (0.68, 0.61, 0.55, 0.50, 0.46),
    0.7: (0.74, 0.65, 0.59, 0.53, 0.49), 0.8: (0.79, 0.70, 0.62, 0.56, 0.51), 0.9: (0.84, 0.73, 0.65, 0.58, 0.53),
    1.0: (0.89, 0.77, 0.68, 0.60, 0.54),
}  # fmt: skip


def plan(ratio: float, resistance: float = 0.0, soil: Soil = CLAY) -> Plan:
    return Plan(100.0, 100.0 * ratio, resistance, soil, 0.3)


def judge(outside: Outside, what: str, pairs: list[tuple[float, float]]) -> None:
    """Every figure of a table within its rounding: the row of the page tells the largest difference."""
    worst = max(pairs, key=lambda pair: abs(pair[0] - pair[1]))
    outside.within(f"{what}: farthest from its figure", SOURCE, worst[1] - ROUNDING, worst[1] + ROUNDING, worst[0])


def test_slab_transmittance(outside: Outside) -> None:
    pairs = [
        (slab_on_ground(plan(ratio, resistance)).transmittance_w_m2k, published)
        for ratio, row in zip(PERIMETER_OVER_AREA, SOLID, strict=True)
        for resistance, published in zip(SOLID_R, row, strict=True)
    ]
    judge(outside, "100 slabs on ground W/m2K", pairs)


def test_edge_insulation(outside: Outside) -> None:
    bare = 0.3 + CLAY.conductivity_w_mk * (FLOOR_FILM + OUTSIDE_FILM)
    pairs = [
        (edge_gain(Edge(resistance, depth), bare, CLAY), published)
        for depth, row in EDGES.items()
        for resistance, published in zip((0.5, 1.0, 1.5, 2.0), row, strict=True)
    ]
    judge(outside, "16 insulated edges W/mK", pairs)
    # By perimeter, and so twice by B'.
    insulated = slab_on_ground(plan(0.5), Edge(1.0, 0.5)).transmittance_w_m2k
    gained = 0.5 * edge_gain(Edge(1.0, 0.5), bare, CLAY)
    assert slab_on_ground(plan(0.5)).transmittance_w_m2k - insulated == pytest.approx(gained)


def test_suspended_floor_transmittance(outside: Outside) -> None:
    pairs = [
        (suspended_floor(plan(ratio, 0.2), Space(0.3, 1.7, openings, 3.0, 0.05)).transmittance_w_m2k, published)
        for ratio, row in zip(PERIMETER_OVER_AREA, SUSPENDED, strict=True)
        for openings, published in zip((0.0015, 0.003), row, strict=True)
    ]
    judge(outside, "40 suspended floors W/m2K", pairs)


def test_basement_floor_transmittance(outside: Outside) -> None:
    pairs = [
        (basement_floor_transmittance(plan(ratio), depth), published)
        for ratio, row in BASEMENT_FLOORS.items()
        for depth, published in zip((0.5, 1.0, 1.5, 2.0, 2.5), row, strict=True)
    ]
    judge(outside, "50 basement floors W/m2K", pairs)


def test_penetration_depths(outside: Outside) -> None:
    """ISO 13370:2017 table H.1 (from memory): 2.2, 3.2 and 4.2 m."""
    for name, published in (("clay", 2.2), ("sand", 3.2), ("rock", 4.2)):
        got = SOILS[name].penetration_m
        outside.within(
            f"a year's swing in {name}, m",
            "ISO 13370:2017 table H.1 (from memory)",
            published - 0.05,
            published + 0.05,
            got,
        )


def fine_soil_swing(resistance: float, soil: Soil) -> complex:
    """Heat flow into deep soil behind a resistance by 1 K of yearly wave indoors, in thousands of time steps."""
    step_m, cells, steps = 0.05, 600, 1460
    step_s = YEAR_S / steps
    conductance = np.full(cells + 1, soil.conductivity_w_mk / step_m)
    conductance[0] = 1.0 / (resistance + 0.5 * step_m / soil.conductivity_w_mk)
    conductance[-1] = 0.0
    stored = soil.capacity_j_m3k * step_m / step_s
    matrix = np.diag(stored + 0.5 * (conductance[:-1] + conductance[1:]))
    matrix -= 0.5 * (np.diag(conductance[1:-1], 1) + np.diag(conductance[1:-1], -1))
    inverse = np.linalg.inv(matrix)
    back = 2.0 * stored * np.eye(cells) - matrix
    forward, into = inverse @ back, inverse[:, 0] * conductance[0]
    angle = 2.0 * math.pi * (np.arange(float(steps)) + 0.5) / steps
    x, flows = np.zeros(cells), np.zeros(steps)
    for _ in range(6):
        for i in range(steps):
            before = x[0]
            x = forward @ x + into * math.cos(angle[i])
            flows[i] = conductance[0] * (math.cos(angle[i]) - 0.5 * (before + x[0]))
    return complex(2.0 * (flows * np.exp(-1j * angle)).mean())


@pytest.mark.parametrize("floor_m2k_w", [0.0, 0.2, 2.0])
def test_swing_indoors_is_that_of_deep_soil(floor_m2k_w: float) -> None:
    """Amplitude within 1 % and phase within half a day of one-dimensional soil behind the same resistance."""
    at = plan(0.4, floor_m2k_w, SAND)
    exchange = slab_on_ground(at)
    # The walls' thickness counts as soil without capacity, as does the film outdoors.
    resistance = FLOOR_FILM + floor_m2k_w + OUTSIDE_FILM + at.wall_m / SAND.conductivity_w_mk
    fine = fine_soil_swing(resistance, SAND)
    assert exchange.inside_w_m2k == pytest.approx(abs(fine), rel=0.01)
    assert exchange.inside_lead == pytest.approx(np.angle(fine), abs=math.pi / 365.0)


def exchanges() -> dict[str, Exchange]:
    at = plan(0.4, 0.3, SAND)
    return {
        "slab": slab_on_ground(at),
        "edge": slab_on_ground(at, Edge(1.76, 0.61)),
        "suspended": suspended_floor(at, Space(0.5, 1.7, 0.016, 4.0, 0.05)),
        "basement": basement_ceiling(at, Basement(1.8, 0.4, 0.1, 1.7, 0.3)),
    }


MIDDLES = 2.0 * math.pi * (np.arange(12.0) + 0.5) / 12.0


@pytest.mark.parametrize("name", exchanges())
def test_virtual_temperature_draws_the_flow(name: str) -> None:
    """Through the floor's transmittance every month's flow; over the year its steady part and no more."""
    exchange = exchanges()[name]
    outdoors, indoors = Swing(9.0, 12.0, 3.4), Swing(22.0, 1.5, 3.4)
    virtual = virtual_ground_c(exchange, outdoors, indoors, MIDDLES)
    flow = ground_flow(exchange, outdoors, indoors, MIDDLES)
    through = exchange.transmittance_w_m2k * (wave(indoors, MIDDLES) - virtual)
    np.testing.assert_allclose(through, flow, rtol=1e-12)
    assert flow.mean() == pytest.approx(exchange.transmittance_w_m2k * (22.0 - 9.0), rel=1e-12)
    assert virtual.mean() == pytest.approx(9.0, abs=1e-9)
    assert np.ptp(virtual) > 3.0
    beneath = exchange.beneath
    assert FLOOR_FILM + 0.3 + beneath.soil_m2k_w + beneath.virtual_m2k_w == pytest.approx(
        1.0 / exchange.transmittance_w_m2k, rel=1e-12
    )


def test_monthly_flows_written_out() -> None:
    """ISO 13370:2017 annex C and H by hand: a slab of 10 by 10 m on sand, walls 0.3 m, floor 0.2 m2K/W.

    d = 0.3 + 2 (0.17 + 0.2 + 0.04) = 1.12 m; B' = 5 m; U = 4 / (15.708 + 1.12) ln(15.708 / 1.12 + 1) = 0.6440;
    delta = 3.166 m; H_pi = 100 2 / 1.12 sqrt(2 / ((1 + 2.827)^2 + 1)) = 63.8; H_pe = 0.37 40 2 ln(3.827) = 39.7 W/K;
    alpha = 1.5 - 12 / 2 pi atan(1.12 / 4.286) = 1.012 months; beta = 1.5 - 0.42 ln(3.827) = 0.936 months.
    """
    exchange = slab_on_ground(Plan(100.0, 40.0, 0.2, SAND, 0.3))
    assert exchange.transmittance_w_m2k == pytest.approx(0.6440, abs=2e-4)
    assert 100.0 * exchange.inside_w_m2k == pytest.approx(63.8, abs=0.1)
    assert 100.0 * exchange.outside_w_m2k == pytest.approx(39.7, abs=0.1)
    assert exchange.inside_lead * 6.0 / math.pi == pytest.approx(1.012, abs=2e-3)
    assert exchange.outside_lag * 6.0 / math.pi == pytest.approx(0.936, abs=2e-3)
    # Coldest in January (tau = 1), 10 +- 11 degC outdoors and 21 +- 2 degC indoors, in W for each month m.
    months = np.arange(1.0, 13.0)
    by_hand = (
        64.40 * 11.0
        - 63.8 * 2.0 * np.cos(2 * np.pi * (months - 1 + 1.012) / 12)
        + 39.7 * 11.0 * np.cos(2 * np.pi * (months - 1 - 0.936) / 12)
    )
    july = math.pi
    got = 100.0 * ground_flow(exchange, Swing(10.0, 11.0, july), Swing(21.0, 2.0, july), 2 * np.pi * (months - 1) / 12)
    np.testing.assert_allclose(got, by_hand, atol=2.0)


def test_edge_insulation_calms_the_swing_outdoors() -> None:
    bare, little, much = (
        slab_on_ground(plan(0.4, 0.2, SAND), Edge(r, 0.61) if r else None).outside_w_m2k for r in (0.0, 0.5, 5.0)
    )
    assert bare > little > much > 0.4 * bare


@pytest.mark.parametrize("mass_class", ["I", "E", "IE", "D", "M"])
@pytest.mark.parametrize("name", exchanges())
def test_steady_floor(name: str, mass_class: Any) -> None:
    """A lone floor, heated at 500 W: the air is warmer than the ground by the heat times the resistances in a row."""
    beneath = exchanges()[name].beneath
    floor = Element(40.0, 0.3, 180_000.0, mass_class, 0.7, 0.0, "ground", beneath=beneath)
    network = element_network([floor], 1e5)
    u = np.array([-40.0, 12.0, 0.0, 0.0, 0.0])
    x = np.linalg.solve(np.eye(network.c.size) - network.F, network.G @ u + network.c * 500.0)
    rise = 500.0 / 40.0 * (1.0 / 0.7 + 0.3 + beneath.soil_m2k_w + beneath.virtual_m2k_w)
    assert x[-1] == pytest.approx(12.0 + rise, abs=1e-8)
    assert network.capacity_j_k.sum() == pytest.approx(1e5 + 40.0 * (180_000.0 + beneath.soil_j_m2k))


def test_second_network_has_the_same_floor() -> None:
    """5R1C: the opaque parts lose as much to air and ground as ISO 13370 says, and the soil is no mass of theirs."""
    exchange = exchanges()["slab"]
    floor = Element(40.0, 0.3, 180_000.0, "I", 0.7, 0.0, "ground", beneath=exchange.beneath)
    inside = Element(90.0, 0.1, 12_000.0, "I", 2.5, 0.0, "none")
    network = five_resistance_network([floor, inside], 40.0)
    u = np.array([-40.0, 12.0, 0.0, 0.0, 0.0, 0.0])
    steady = np.linalg.solve(np.eye(2) - network.F, network.G @ u + network.c * 500.0)
    to_ground = 40.0 * exchange.transmittance_w_m2k
    faces = 3.45 * 4.5 * 40.0
    assert steady[-1] == pytest.approx(12.0 + 500.0 * (1.0 / to_ground + 1.0 / faces), abs=1e-8)
    assert network.capacity_j_k[0] == 40.0 * 180_000.0 + 90.0 * 12_000.0


@pytest.mark.parametrize("second", [False, True])
def test_no_heat_passes_what_is_inside(second: bool) -> None:
    """Half a partition stores, and ends as warm as the room: a room of partitions and one wall loses by the wall."""
    wall = Element(30.0, 2.0, 50_000.0, "I", 2.5, 0.0)
    inside = Element(80.0, 0.1, 12_000.0, "I", 2.5, 0.0, "none")
    losses = []
    for elements in ([wall], [wall, inside]):
        network = five_resistance_network(elements, 40.0) if second else element_network(elements, 1e5)
        u = np.zeros(network.G.shape[1])
        steady = np.linalg.solve(np.eye(network.c.size) - network.F, network.c * 100.0 + network.G @ u)
        losses.append((steady[-1], network.capacity_j_k.sum()))
    assert losses[1][1] - losses[0][1] == pytest.approx(80.0 * 12_000.0)
    # With more faces the room's heat reaches the wall by radiation too.
    low = 0.0 if second else 100.0 / 30.0 / (2.5 + 5.13)
    assert low < losses[1][0] <= losses[0][0] + 1e-9


def test_swing_of_a_wave_with_days() -> None:
    angle = 2.0 * math.pi * np.arange(8760.0) / 8760.0
    found = swing_of(9.0 + 12.5 * np.cos(angle - 3.5) + 6.0 * np.cos(365.0 * angle), angle)
    assert found == pytest.approx((9.0, 12.5, 3.5 - 2.0 * math.pi), abs=1e-9) or found == pytest.approx(
        (9.0, 12.5, 3.5), abs=1e-9
    )


def building(**told: Any) -> Any:
    return make_case(overrides={"building": told})


def test_each_ground_of_a_case() -> None:
    floors = {name: lowest_floor(building(ground=name).building)
              for name in ("slab", "suspended", "basement", "outdoors", "indoors")}  # fmt: skip
    assert {name: floor.element.boundary for name, floor in floors.items()} == {
        "slab": "ground", "suspended": "ground", "basement": "ground", "outdoors": "air", "indoors": "none",
    }  # fmt: skip
    assert floors["outdoors"].exchange is floors["indoors"].exchange is None
    u = {name: floor.exchange.transmittance_w_m2k for name, floor in floors.items() if floor.exchange}
    bare_floor = 1.0 / (FLOOR_FILM + OUTSIDE_FILM + 0.2)
    assert u["slab"] < u["basement"] < u["suspended"] < bare_floor
    insulated = lowest_floor(building(edge_insulation="10 hft2F/Btu").building).exchange
    assert insulated is not None
    assert insulated.transmittance_w_m2k < u["slab"]


def test_ground_without_a_word_follows_the_construction_or_the_floor() -> None:
    layers = {"resistance": 2.0, "capacity": 50_000.0, "mass": "I"}
    for told, expected in (
        ({"construction": "light"}, "suspended"),
        ({"construction": "heavy"}, "slab"),
        ({"floor": layers | {"boundary": "ground"}}, "slab"),
        ({"floor": layers}, "outdoors"),
        ({"floor": layers, "ground": "basement"}, "basement"),
    ):
        assert lowest_floor(building(**told).building) == lowest_floor(building(**told | {"ground": expected}).building)


def test_inside_faces_make_up_the_ratio() -> None:
    """ISO 13790:2008 7.2.2: all inside faces are 4.5 times the floor."""
    case = building()
    elements = envelope(case.building).elements
    assert sum(e.area_m2 for e in elements) == pytest.approx(4.5 * case.building.floor_area)
    assert [e.boundary for e in elements].count("none") == 1
    assert inside_elements(building(inside_faces=0).building, elements[:2]) == []


def test_ground_is_warmest_after_the_air() -> None:
    case, angle = building(), 2.0 * math.pi * np.arange(365.0) / 365.0
    exchange = lowest_floor(case.building).exchange
    assert exchange is not None
    outdoors = Swing(10.0, 12.0, math.pi)
    ground = ground_temperature(exchange, case.schedule, outdoors, angle)
    assert ground.mean() == pytest.approx(10.0, abs=1e-6)
    assert 180 < int(ground.argmax()) < 250


def test_no_year_outdoors_no_year_in_the_ground() -> None:
    case, angle = building(), 2.0 * math.pi * np.arange(365.0) / 365.0
    for ground in ("slab", "indoors"):
        exchange = lowest_floor(building(ground=ground).building).exchange
        steady = ground_temperature(exchange, case.schedule, Swing(14.0, 0.0, 0.0), angle)
        np.testing.assert_allclose(steady, 14.0, rtol=1e-12)
