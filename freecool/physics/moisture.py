"""Indoor humidity: one exact exponential step over all streams of an hour."""

from __future__ import annotations

import math
from typing import NamedTuple

from freecool.core.air import MOLAR_RATIO
from freecool.core.compiled import kernel


class MoistureHour(NamedTuple):
    """How an hour left the room's air."""

    humidity_ratio: float
    """At the hour's end [kg/kg]."""
    mean: float
    """Over the hour [kg/kg]."""
    condensate_kg: float
    """Booked at surfaces, above saturation."""


@kernel()
def moisture_hour(w, conductance_kg_s, source_kg_s, store_kg, step_s, saturation_pa, p):
    """The `MoistureHour` of ``store dw/dt = source - conductance w`` from w, in air that saturates as told at p [Pa].

    `conductance_kg_s` is the sum of all streams, `source_kg_s` the water they and the room's gains bring.
    """
    k = conductance_kg_s * step_s / store_kg
    if k > 1e-9:
        level = source_kg_s / conductance_kg_s
        decay = math.exp(-k)
        after = level + (w - level) * decay
        mean = level + (w - level) * (1.0 - decay) / k
    else:
        after = w + source_kg_s * step_s / store_kg
        mean = 0.5 * (w + after)
    condensate = 0.0
    if after * (p - saturation_pa) > MOLAR_RATIO * saturation_pa:
        limit = MOLAR_RATIO * saturation_pa / (p - saturation_pa)
        condensate = store_kg * (after - limit)
        after = limit
    return MoistureHour(after, mean, condensate)
