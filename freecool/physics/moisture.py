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
    """The room's humidity ratio after an hour of constant streams, given it before.

    Parameters
    ----------
    w : float
        Humidity ratio at the start [kg/kg].
    conductance_kg_s : float
        Sum of all air streams, dry air [kg/s].
    source_kg_s : float
        Water that they and the room's gains bring [kg/s].
    store_kg : float
        Water that the zone holds for a humidity ratio of 1 [kg].
    step_s : float
        Length of the step [s].
    saturation_pa : float
        Saturation pressure at the room's temperature [Pa].
    p : float
        Air pressure [Pa].

    Returns
    -------
    MoistureHour
        The exact solution of ``store dw/dt = source - conductance w``; what is above saturation condenses.

    References
    ----------
    Humidity ratio at saturation: ASHRAE Handbook - Fundamentals (2017), chapter 1, eq. 21.
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
