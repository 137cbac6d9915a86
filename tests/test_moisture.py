"""The exact moisture step against brute force and its own conservation law."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.core import air
from freecool.core.air import read_saturation
from freecool.physics.moisture import moisture_hour

SEA_LEVEL_PA = 101_325.0
STORE_KG, HOUR_S = 6_000.0, 3600.0
TABLE = air.saturation_table()


def step(
    w: float, streams: list[tuple[float, float]], gain_kg_s: float, store_kg: float = STORE_KG, t: float = 24.0
) -> Any:
    """An hour of streams, each (mass flow [kg/s], humidity ratio it brings)."""
    flow = sum(kg_s for kg_s, _ in streams)
    brought = sum(kg_s * ratio for kg_s, ratio in streams) + gain_kg_s
    return moisture_hour(w, flow, brought, store_kg, HOUR_S, read_saturation(TABLE, t)[0], SEA_LEVEL_PA)


@pytest.mark.parametrize(
    ("streams", "gain", "store"),
    [
        ([(0.05, 0.004)], 1e-4, STORE_KG),
        ([(0.05, 0.015), (0.6, 0.008)], 1e-4, STORE_KG),
        ([(0.7, 0.012), (0.5, 0.007)], 3e-4, 400.0),  # streams renew the store many times in the hour
        ([], 2e-4, STORE_KG),
    ],
)
def test_agrees_with_fine_steps(streams: Any, gain: float, store: Any) -> None:
    w, mean, steps = 0.009, 0.0, 200_000
    start = w
    for _ in range(steps):
        rate = sum(kg_s * (ratio - w) for kg_s, ratio in streams) + gain
        mean += w / steps
        w += rate / store * HOUR_S / steps
    got = step(start, streams, gain, store)
    assert got.humidity_ratio == pytest.approx(w, rel=1e-4)
    assert got.mean == pytest.approx(mean, rel=1e-4)
    assert got.condensate_kg == 0.0


@given(
    w=st.floats(0.001, 0.018),
    outdoor=st.floats(0.0005, 0.025),
    coil=st.floats(0.004, 0.012),
    gain=st.floats(0.0, 0.003),
    infiltration=st.floats(0.0, 2.0),
    coil_kg_s=st.floats(0.0, 3.0),
    store=st.floats(50.0, 50_000.0),
    t=st.floats(5.0, 35.0),
)
def test_water_is_conserved(
    w: Any, outdoor: Any, coil: Any, gain: Any, infiltration: Any, coil_kg_s: Any, store: Any, t: Any
) -> None:
    got = step(w, [(infiltration, outdoor), (coil_kg_s, coil)], gain, store, t)
    came = (infiltration * (outdoor - got.mean) + coil_kg_s * (coil - got.mean) + gain) * HOUR_S
    stored = store * (got.humidity_ratio - w)
    # Where the streams hardly stir the store, the mean is taken as the middle.
    assert stored + got.condensate_kg == pytest.approx(came, rel=1e-6, abs=2e-9 * store)
    assert got.condensate_kg >= 0.0


def test_excess_over_saturation_is_booked() -> None:
    """Handbook: air at 20 °C holds 14.76 g/kg (ideal gas 14.69); what is more condenses."""
    got = step(0.0145, [], 1e-3, t=20.0)
    limit = float(air.humidity_ratio_from_relative_humidity(20.0, 1.0, SEA_LEVEL_PA))
    assert got.humidity_ratio == pytest.approx(limit, rel=1e-5)
    assert got.condensate_kg == pytest.approx(STORE_KG * (0.0145 - limit) + 3.6, rel=1e-3)


def test_still_air_keeps_its_water() -> None:
    assert step(0.009, [], 0.0) == (0.009, 0.009, 0.0)


def test_hand_worked_hour() -> None:
    """1 kg/s through a store of 3,600 kg for an hour is one air change: 1 - 1/e of the way."""
    got = step(0.010, [(1.0, 0.005)], 0.0, store_kg=3_600.0)
    assert got.humidity_ratio == pytest.approx(0.005 + 0.005 * 0.36787944, rel=1e-8)
    assert got.mean == pytest.approx(0.005 + 0.005 * 0.63212056, rel=1e-8)
