"""Fan and damper: what outdoor air an open damper brings, how warm, and what the fan uses for it."""

from __future__ import annotations

from typing import NamedTuple

from freecool.core.air import KELVIN
from freecool.core.compiled import kernel

# Closer than this to the target, supply air is no use and the flow that holds it has no bound.
LEAST_DRIVE_K = 1e-6


class Fan(NamedTuple):
    """The indoor fan of the unit."""

    flow_m3_s: float
    """Supply air at full flow [m3/s]."""
    watts: float
    """Power at full flow [W]."""
    variable: bool
    """Variable speed: watts follow flow^2.5."""
    least_flow: float
    """Its lowest share of full flow."""
    standard_kg_m3: float = 0.0
    """Density of dry air that it moves, whatever the air: a constant mass flow; 0: it moves a constant volume."""


class Damper(NamedTuple):
    """An outdoor-air damper and what its control does besides the rule."""

    fitted: bool
    """Whether there is one."""
    share: float
    """Outdoor share of supply air, fully open."""
    leakage: float
    """Outdoor share when shut and the fan runs."""
    mixed_min_c: float
    """Colder outdoor air is mixed with return air to this."""
    integrated: bool
    """The compressor may run while it is open; else one or the other."""
    precool_k: float
    """After a call the damper may cool this far below the cooling set point."""
    offset_k: float
    """The compressor holds this much above set point while the rule permits."""
    caution_dew_c: float
    """A damper open above this outdoor dew point makes a damp hour."""
    minimum_share: float = 0.0
    """Least outdoor share while the fan runs, fitted or not."""
    relief_w_m3_s: float = 0.0
    """Power of the relief fan by the outdoor air above the minimum that an open damper brings [W per m3/s]."""


class Stream(NamedTuple):
    """Outdoor air that the open damper adds, at full flow."""

    conductance_w_k: float
    supply_c: float
    """With all of the fan's heat in it."""
    outdoor_kg_s: float
    """The outdoor part of it, dry air."""
    outdoor_share: float
    """Of all air through the fan."""


@kernel(inline=True)
def fan_density(fan, density_kg_m3, outdoor_c, through_c):
    """Density of dry air that the fan moves, given the outdoor air's and the temperature of what goes through it.

    Parameters
    ----------
    fan : Fan
        Of a constant volume or a constant mass.
    density_kg_m3 : float
        Dry air in outdoor air [kg/m3].
    outdoor_c, through_c : float
        Of outdoor air, and of the air through the fan [degC].

    Returns
    -------
    float
        The fan's own where it moves a constant mass [kg/m3].
    """
    if fan.standard_kg_m3 > 0.0:
        return fan.standard_kg_m3
    return density_kg_m3 * (outdoor_c + KELVIN) / (through_c + KELVIN)


@kernel()
def damper_stream(damper, fan, fan_heat_w, ventilation_m3_s, outdoor_c, target_c, density, heat):
    """The outdoor air that the damper adds at full flow, given what it shall hold.

    Parameters
    ----------
    damper : Damper
        Fully open, but for the mixed-air low limit.
    fan : Fan
        Its flow is the supply air.
    fan_heat_w : float
        Heat of a fan that runs on call [W].
    ventilation_m3_s : float
        Outdoor air that the fan brings already [m3/s].
    outdoor_c : float
        Outdoor dry bulb [degC].
    target_c : float
        Temperature that the room is held at, so that of return air [degC].
    density : float
        Dry air in outdoor air [kg/m3].
    heat : float
        Heat capacity of outdoor air [J/(K kg)].

    Returns
    -------
    Stream
        Colder outdoor air is mixed with return air up to the low limit, down to the minimum share.
    """
    share = damper.share
    mixed = share * outdoor_c + (1.0 - share) * target_c
    limited = not (mixed >= damper.mixed_min_c or outdoor_c >= damper.mixed_min_c or target_c <= damper.mixed_min_c)
    if limited:
        least = damper.minimum_share * outdoor_c + (1.0 - damper.minimum_share) * target_c
        if least <= damper.mixed_min_c:
            share, mixed, limited = damper.minimum_share, least, False
    if not limited:
        flow = share * fan.flow_m3_s - ventilation_m3_s
        supply = outdoor_c
        density = fan_density(fan, density, outdoor_c, mixed)
        outdoor_kg_s = flow * density
    else:
        # The damper holds the mixture at its limit: all of the supply air is at that temperature, and
        # what ventilation already brings is taken out again.
        flow = fan.flow_m3_s - ventilation_m3_s
        supply = (fan.flow_m3_s * damper.mixed_min_c - ventilation_m3_s * outdoor_c) / max(flow, 1e-12)
        density = fan_density(fan, density, outdoor_c, damper.mixed_min_c)
        share = (target_c - damper.mixed_min_c) / (target_c - outdoor_c)
        outdoor_kg_s = max(share * fan.flow_m3_s - ventilation_m3_s, 0.0) * density
    if flow <= 0.0:
        return Stream(0.0, outdoor_c, 0.0, 0.0)
    conductance = flow * density * heat
    share = max(share, ventilation_m3_s / fan.flow_m3_s)
    return Stream(conductance, supply + fan_heat_w / conductance, outdoor_kg_s, share)


@kernel()
def part_flow(fan, stream, fan_heat_w, target_c, need_w):
    """The share of full flow that brings a need, given the stream at full flow.

    Parameters
    ----------
    fan : Fan
        On and off, or of variable speed.
    stream : Stream
        At full flow.
    fan_heat_w : float
        Heat of a fan that runs on call, at full flow [W].
    target_c : float
        Temperature of the room [degC].
    need_w : float
        Cooling need [W].

    Returns
    -------
    tuple of float
        Share of full flow [0-1], fan power over its full power [0-1] and supply temperature [degC].

    Notes
    -----
    A fan of variable speed takes ``flow ** 2.5``: common practice, no source.
    """
    full = stream.conductance_w_k * (target_c - stream.supply_c)
    if full <= 0.0:
        return 0.0, 0.0, stream.supply_c
    f = min(1.0, need_w / full)
    if not fan.variable or f >= 1.0:
        return f, f, stream.supply_c
    # Two passes settle it: the fan's heat is a small part of the supply temperature.
    outdoor = stream.supply_c - fan_heat_w / stream.conductance_w_k
    supply = stream.supply_c
    for _ in range(2):
        speed = max(f, fan.least_flow)
        supply = outdoor + fan_heat_w * speed**1.5 / stream.conductance_w_k
        f = min(1.0, need_w / (stream.conductance_w_k * (target_c - supply)))
    speed = max(f, fan.least_flow)
    return f, f * speed**1.5, supply


@kernel(inline=True)
def shut_inflow(damper, fan, ventilation_m3_s):
    """Outdoor air that a fan draws with the damper shut, ventilation through it apart [m3/s].

    Parameters
    ----------
    damper : Damper
        Its minimum share, and its leakage where it is fitted.
    fan : Fan
        Its full flow and power.
    ventilation_m3_s : float
        Outdoor air that the fan brings anyway [m3/s].

    Returns
    -------
    float
        The greater of both, less what the fan brings anyway [m3/s].
    """
    share = max(damper.minimum_share, damper.leakage) if damper.fitted else damper.minimum_share
    return max(share * fan.flow_m3_s - ventilation_m3_s, 0.0)


@kernel(inline=True)
def relief_watts(damper, fan, outdoor_share, ventilation_m3_s):
    """Power of the relief fan while the damper is open at full flow [W], given the outdoor share then.

    Parameters
    ----------
    damper : Damper
        Its minimum share and relief fan.
    fan : Fan
        Its full flow.
    outdoor_share : float
        Of all air through the fan [-].
    ventilation_m3_s : float
        Outdoor air that the fan brings anyway, which finds its way out without it [m3/s].

    Returns
    -------
    float
        Its heat leaves with the air [W].
    """
    least_m3_s = max(damper.minimum_share * fan.flow_m3_s, ventilation_m3_s)
    return damper.relief_w_m3_s * max(outdoor_share * fan.flow_m3_s - least_m3_s, 0.0)
