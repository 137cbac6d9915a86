"""The arithmetic of a scenario-year and nothing else: what no arrangement of the same method can go below.

Every operation that an hour of `freecool.physics.year` cannot do without is done here once, on the same zone's arrays
and in the same order of dependence: the parts of the air temperature and the humidity ratio go from hour to hour, a
search step needs the step before it. docs/performance.md counts them. Left out is what is not arithmetic: the rule,
the choice between kinds of hours (they come sorted, so that no branch is guessed wrong), heating, options that are
off, guards, hour counts, the hourly table.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numba
import numpy as np


class Work(NamedTuple):
    """How much of each kind a year holds."""

    hours: int
    both_hours: int
    """Coil and damper; these come first."""
    coil_hours: int
    """With those; these come next."""
    damper_hours: int
    """With those; the ones without a coil come last before the quiet hours."""
    search_steps: int
    """Newton steps of all coil hours, wet bulb and apparatus dew point together."""
    settling_steps: int
    """Looks at what a continuous fan takes back from the coil, in all coil hours."""


@numba.njit(nogil=True, error_model="numpy")
def do_only_the_arithmetic(
    keep: Any,
    push: Any,
    response: Any,
    forced: Any,
    weather: Any,
    pressure: Any,
    curves: Any,
    totals: Any,
    x: Any,
    work: Any,
) -> Any:
    """A year's counted operations on a zone's own arrays; `weather` is (hours, 8), `totals` a row of 12."""
    start, per_k, molar = -80.0, 20.0, 0.621945
    size, last = keep.size, pressure.size - 2
    humidity = np.empty(work.hours)
    mean = 0.0
    w = 0.008
    wet_bulb, dew_point = 16.0, 9.0
    steps = work.search_steps / max(2 * work.coil_hours, 1)
    dampers_end = work.coil_hours + work.damper_hours - work.both_hours
    longer = int((steps - int(steps)) * work.coil_hours)
    settling = work.settling_steps / max(work.coil_hours, 1)
    settling_longer = work.settling_steps - int(settling) * work.coil_hours
    for i in range(work.hours):
        outdoor, outdoor_w, p, density = weather[i, 0], weather[i, 1], weather[i, 2], weather[i, 3]
        heat, air_kg_s, vapour_kg_s, price = weather[i, 4], weather[i, 5], weather[i, 6], weather[i, 7]
        # The air without a call: one addition a mode, 1 division.
        a = forced[i, size]
        for m in range(size):
            a += x[m]
        extra = air_kg_s * heat
        extra_heat = extra * outdoor
        damping = 1.0 / (1.0 + response * extra)
        r = response * damping
        a = (a + response * extra_heat) * damping
        flows = air_kg_s
        source = air_kg_s * outdoor_w + vapour_kg_s
        heating = (20.0 - a) / r
        t, power, fan_w, added, cooled = a, 0.0, 0.0, 0.0, 0.0
        if i < work.both_hours or work.coil_hours <= i < dampers_end:
            # The damper's stream: 5 divisions.
            flow = density * (outdoor + 273.15) / (a + 273.15)
            conductance = flow * heat
            supply = outdoor + 400.0 / conductance
            need = (a - 24.0) / r
            added = min(need / (conductance * (24.0 - supply)), 1.0)
            extra += added * conductance
            extra_heat += added * conductance * supply
            more = 1.0 / (1.0 + r * added * conductance)
            t = (a + r * added * conductance * supply) * more
            r = r * more
            flows += added * flow
            source += added * flow * outdoor_w
            fan_w += 400.0 * added
        if i < work.coil_hours:
            # The coil: searches, two surfaces, 1 exponential, 9 divisions.
            mass_flow = 0.6 * density * (outdoor + 273.15) / (t + 273.15)
            h = 1006.0 * 24.0 + w * (2_501_000.0 + 1860.0 * 24.0)
            count = int(steps) + (i < longer)
            heat_w = 1006.0 + w * 4186.0
            for _ in range(count):
                place = (wet_bulb - start) * per_k
                k = min(max(int(place), 0), last)
                low = pressure[k]
                slope = pressure[k + 1] - low
                e = low + (place - k) * slope
                slope *= per_k
                dry = p - e
                short = heat_w * wet_bulb - h
                latent = 2_501_000.0 - 2326.0 * wet_bulb
                error = short * dry + molar * e * latent
                wet_bulb -= error / (heat_w * dry - short * slope + molar * (slope * latent - e * 2326.0))
            b, o = 1.8 * wet_bulb + 32.0, 1.8 * outdoor + 32.0
            c = curves
            capacity = c[0] + c[1] * b + c[2] * b * b + c[3] * o + c[4] * o * o + c[5] * b * o
            ratio = c[6] + c[7] * b + c[8] * b * b + c[9] * o + c[10] * o * o + c[11] * b * o
            total = 10_000.0 * capacity
            bypass = math.exp(-1.5 / mass_flow)
            h_adp = h - total / (mass_flow * (1.0 - bypass))
            for _ in range(count):
                place = (dew_point - start) * per_k
                k = min(max(int(place), 0), last)
                low = pressure[k]
                slope = pressure[k + 1] - low
                e = low + (place - k) * slope
                slope *= per_k
                dry = p - e
                short = 1006.0 * dew_point - h_adp
                latent = 2_501_000.0 + 1860.0 * dew_point
                error = short * dry + molar * e * latent
                dew_point -= error / (1006.0 * dry - short * slope + molar * (slope * latent + e * 1860.0))
            place = (dew_point - start) * per_k
            k = min(max(int(place), 0), last)
            low = pressure[k]
            e = low + (place - k) * (pressure[k + 1] - low)
            dew_w = molar * e / (p - e)
            sensible = total * (1006.0 * 24.0 + dew_w * 2_545_640.0 - h_adp) / (h - h_adp)
            leaving = 24.0 - sensible / (mass_flow * (1006.0 + 1860.0 * w))
            cooled = min(max((t - 24.0) / r, 0.0), sensible)
            load = cooled / sensible
            run = load / (1.0 - 0.2 * (1.0 - load))
            kept, off_by, slope, latent = 1.0, 0.0, -1.0, 0.25 * total
            for _ in range(int(settling) + (i < settling_longer)):
                # What is left of a cycle's water: 1 exponential, 7 divisions.
                run = min(max(run, 0.05), 0.95)
                on_s, off_s = 300.0 / (1.0 - run), 300.0 / run
                condensed = latent * (on_s - 45.0 * (1.0 - math.exp(on_s * -0.022)))
                gone = min((24.0 - wet_bulb) * off_s * 1e-4, 1.0)
                kept = max(1.0 - 1e6 * gone * (2.0 - gone) / condensed, 0.0)
                before, off_by = off_by, cooled / (sensible + (1.0 - kept) * latent) - load
                step = 1e-12 - off_by / slope
                load += step
                slope = min((off_by - before) / step, -0.1)
                run = load / (1.0 - 0.2 * (1.0 - load))
            power = 3_000.0 * capacity * ratio * run
            fan_w += 400.0 * run
            coil_kg_s = run * kept * mass_flow * (1.0 - bypass)
            flows += coil_kg_s
            source += coil_kg_s * dew_w
            t -= r * cooled
            totals[8] += leaving
        # Moisture: 1 exponential, 3 divisions; saturation at the room's temperature: 1 reading.
        k_step = flows * (3600.0 / 4000.0)
        level = source / flows
        decay = math.exp(-k_step)
        average = level + (w - level) * (1.0 - decay) / k_step
        w = level + (w - level) * decay
        place = (t - start) * per_k
        k = min(max(int(place), 0), last)
        low = pressure[k]
        e = low + (place - k) * (pressure[k + 1] - low)
        rh = p * w / ((molar + w) * e)
        # The thirty days' mean.
        humidity[i] = rh
        mean += rh
        if i >= 720:
            mean -= humidity[i - 720]
        totals[0] = max(totals[0], mean)
        # The next hour's parts: 2 multiplications and 2 additions a mode.
        flow_to_air = extra_heat - extra * t - cooled + 1e-3 * heating
        for m in range(size):
            x[m] = keep[m] * x[m] + (forced[i, m] + push[m] * flow_to_air)
        totals[1] += power
        totals[2] += fan_w
        totals[3] += (power + fan_w) * price
        totals[4] += heating
        totals[9] += cooled
        totals[5] += added
        totals[6] += flows * (average - w)
        totals[7] += added * (outdoor_w - average)
    return w
