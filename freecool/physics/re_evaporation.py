"""Water on the coil goes back into the air while the compressor is off and the fan runs on."""

from __future__ import annotations

import math
from typing import NamedTuple

from freecool.core.compiled import kernel

# The search for the load ratio ends at this step, within these.
LOAD_RATIO_ERROR = 1e-13
LOAD_RATIO_STEPS = 50


class ReEvaporation(NamedTuple):
    """What a wet coil holds and how it dries, from a unit's rating point."""

    held_j: float
    """Heat of the water that the coil holds when it drips: time to drip times rated latent capacity; 0: none [J]."""
    evaporation_w_k: float
    """Heat of evaporation when the compressor stops, by wet-bulb depression of the air [W/K]."""
    cycles_h: float
    """Starts at half run time, the highest rate [1/h]."""
    start_s: float
    """Time constant of latent capacity after a start [s]."""


NO_RE_EVAPORATION = ReEvaporation(0.0, 0.0, 1.0, 1.0)


def re_evaporation_of(
    latent_w: float, depression_k: float, drip_s: float, evaporation_ratio: float, cycles_h: float, start_s: float
) -> ReEvaporation:
    """A `ReEvaporation`, given the four parameters of the published model at a rating point.

    Parameters
    ----------
    latent_w : float
        Latent capacity there [W].
    depression_k : float
        Dry bulb less wet bulb of the entering air there [K].
    drip_s : float
        Nominal time from a dry coil to dripping, at that capacity [s].
    evaporation_ratio : float
        Evaporation when the compressor stops over that capacity [-].
    cycles_h : float
        Highest cycling rate [1/h].
    start_s : float
        Time constant of latent capacity after a start [s].

    Returns
    -------
    ReEvaporation
        Water held is the coil's own; evaporation follows the wet-bulb depression. So time and ratio scale with the
        rated latent capacity over the hour's, as published.
    """
    return ReEvaporation(drip_s * latent_w, evaporation_ratio * latent_w / depression_k, cycles_h, start_s)


@kernel(inline=True)
def latent_share(wet, latent_w, depression_k, run_time):
    """The share of latent capacity that is left of a cycle, given the share of the time that the compressor runs.

    Parameters
    ----------
    wet : ReEvaporation
        What the coil holds.
    latent_w : float
        Latent capacity at full run, above 0 [W].
    depression_k : float
        Dry bulb less wet bulb of the entering air [K].
    run_time : float
        Above 0 [-].

    Returns
    -------
    float
        1 at full run, 0 where all that condenses evaporates again [-].

    Notes
    -----
    A thermostat's cycle is ``ton = 3600 / (4 N (1 - X))``, ``toff = 3600 / (4 N X)``. Latent capacity rises after a
    start as ``1 - exp(-t / tau)``; evaporation falls linearly to zero as the water held, W, goes: from E it takes
    ``E toff - (E toff)2 / (4 W)``, at most W. What is left is the difference. The published form writes the same
    balance through the time t0 at which the coil drips again, ``(ton - t0) / (ton - tau (1 - exp(-ton / tau)))``.

    References
    ----------
    Henderson and Rengarajan, A model to predict the latent capacity of air conditioners and heat pumps at part-load
    conditions with constant fan operation, ASHRAE Transactions 102(1), 1996, pp. 266-274: its abstract was read, its
    equations are from memory.
    """
    if run_time >= 1.0:
        return 1.0
    on_s = 900.0 / (wet.cycles_h * (1.0 - run_time))
    off_s = 900.0 / (wet.cycles_h * run_time)
    condensed_j = latent_w * (on_s - wet.start_s * (1.0 - math.exp(-on_s / wet.start_s)))
    # At twice the water over the first rate nothing is left to evaporate.
    gone = min(wet.evaporation_w_k * max(depression_k, 0.0) * off_s / (2.0 * wet.held_j), 1.0)
    return max(1.0 - wet.held_j * gone * (2.0 - gone) / condensed_j, 0.0)


@kernel(inline=True)
def run_time_of(load_ratio, degradation):
    """The share of an hour that a compressor runs, given its load ratio and Cd.

    Parameters
    ----------
    load_ratio : float
        Need over capacity [-].
    degradation : float
        Cd [-].

    Returns
    -------
    float
        ``PLR / (1 - Cd (1 - PLR))``, AHRI 210/240 [-].
    """
    return load_ratio / (1.0 - degradation * (1.0 - load_ratio))


@kernel()
def settled_load(wet, latent_w, depression_k, capacity_w, need_w, degradation):
    """Load ratio and latent share that belong together, given the coil at full run and the need.

    Parameters
    ----------
    wet : ReEvaporation
        What the coil holds.
    latent_w : float
        Latent capacity at full run [W].
    depression_k : float
        Dry bulb less wet bulb of the entering air [K].
    capacity_w : float
        Sensible capacity at full run [W].
    need_w : float
        Sensible, at most the capacity [W].
    degradation : float
        Cd of the part-load factor [-].

    Returns
    -------
    tuple of float
        Need over ``S + (1 - share) L``, and the share: total capacity stays, evaporation cools the air. By the secant
        rule from the load ratio without evaporation.
    """
    load_ratio = need_w / capacity_w
    if not (wet.held_j > 0.0 and latent_w > 0.0) or load_ratio >= 1.0:
        return load_ratio, 1.0
    share = latent_share(wet, latent_w, depression_k, run_time_of(load_ratio, degradation))
    error = need_w / (capacity_w + (1.0 - share) * latent_w) - load_ratio
    slope = -1.0
    for _ in range(LOAD_RATIO_STEPS):
        step = -error / slope
        if abs(step) < LOAD_RATIO_ERROR:
            break
        load_ratio += step
        share = latent_share(wet, latent_w, depression_k, run_time_of(load_ratio, degradation))
        before, error = error, need_w / (capacity_w + (1.0 - share) * latent_w) - load_ratio
        slope = min((error - before) / step, -0.1)
    return load_ratio, share
