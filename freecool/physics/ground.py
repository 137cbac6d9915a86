"""What a lowest floor exchanges with the ground and the air beneath it: ISO 13370:2017.

Clause and table numbers are from memory; the equations are checked in tests/test_ground.py.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# ISO 6946:2017 table 7: surface resistances, heat flowing down, and outside [m2K/W].
FLOOR_FILM = 0.17
OUTSIDE_FILM = 0.04
# ISO 52016-1:2017 6.5.8.2: so much soil takes part in an hour's changes [m].
SOIL_DEPTH_M = 0.5
YEAR_S = 3.15e7
# ISO 13370:2017 annex H: how much of the outdoor swing reaches the floor's edge.
EDGE_SWING = 0.37
# The virtual layer keeps this much where a floor is narrower than the equations are made for; our own choice.
LEAST_VIRTUAL_M2K_W = 0.05
LEAST_EDGE_SHARE = 0.2
# A foam board's conductivity [W/mK]; common practice, no source.
EDGE_BOARD_W_MK = 0.035


class Soil(NamedTuple):
    """Conductivity and volumetric heat capacity of a ground."""

    conductivity_w_mk: float
    capacity_j_m3k: float

    @property
    def penetration_m(self) -> float:
        """How deep a year's swing goes, ISO 13370:2017 eq. (H.1) [m]."""
        return math.sqrt(YEAR_S * self.conductivity_w_mk / (math.pi * self.capacity_j_m3k))


SOILS = {"clay": Soil(1.5, 3.0e6), "sand": Soil(2.0, 2.0e6), "rock": Soil(3.5, 2.0e6)}
"""ISO 13370:2017 table 7 (from memory): clay or silt; sand or gravel, to be taken where none is known; rock."""


class Beneath(NamedTuple):
    """What is beneath a floor's layers, down to a temperature of the ground."""

    virtual_m2k_w: float
    """Of a layer without capacity, to the virtual temperature."""
    soil_m2k_w: float = 0.0
    """Of the soil next to the floor."""
    soil_j_m2k: float = 0.0
    """And its capacity."""


class Exchange(NamedTuple):
    """A floor's heat flow to the ground: its yearly mean and its yearly swing."""

    transmittance_w_m2k: float
    """Of the yearly mean, by area of the floor."""
    inside_w_m2k: float
    """Heat flow amplitude by amplitude indoors, H_pi by area."""
    outside_w_m2k: float
    """By amplitude outdoors, H_pe by area."""
    inside_lead: float
    """How far the flow is ahead of the temperature indoors [rad of a year]."""
    outside_lag: float
    """How far it is behind the temperature outdoors [rad of a year]."""
    beneath: Beneath


class Swing(NamedTuple):
    """A year's temperature as a mean and one wave."""

    mean_c: float
    amplitude_k: float
    warmest: float
    """When [rad of a year from its beginning]."""


class Plan(NamedTuple):
    """A lowest floor's shape, layers and ground."""

    area_m2: float
    perimeter_m: float
    resistance_m2k_w: float
    """Of the floor's layers, films apart."""
    soil: Soil
    wall_m: float
    """Thickness of the walls around it."""


class Edge(NamedTuple):
    """Insulation that stands upright around a slab."""

    resistance_m2k_w: float
    depth_m: float


class Space(NamedTuple):
    """The space beneath a suspended floor."""

    height_m: float
    """Of the floor above the ground outside."""
    wall_w_m2k: float
    """Transmittance of the walls around it."""
    openings_m2_m: float
    """Ventilation openings by perimeter."""
    wind_m_s: float
    """Yearly mean at 10 m."""
    shielding: float
    """ISO 13370:2017 table 8: 0.02 sheltered, 0.05 average, 0.10 exposed."""


class Basement(NamedTuple):
    """An unheated basement."""

    depth_m: float
    """Of its floor below the ground outside."""
    height_m: float
    """Of the floor above it over the ground outside."""
    wall_m2k_w: float
    """Resistance of its walls below ground."""
    wall_w_m2k: float
    """Transmittance of its walls above ground."""
    changes_per_h: float


def characteristic_dimension(area_m2: float, perimeter_m: float) -> float:
    """Area over half the perimeter [m], ISO 13370:2017 eq. (2), given both.

    Parameters
    ----------
    area_m2, perimeter_m : float
        Of the floor.

    Returns
    -------
    float
        B'.

    Examples
    --------
    >>> characteristic_dimension(100.0, 40.0)
    5.0
    """
    return area_m2 / (0.5 * perimeter_m)


def ground_transmittance(dimension_m: float, thickness_m: float, soil: Soil) -> float:
    """Transmittance of ground beneath a floor, given B', the equivalent thickness of what is on it and the soil.

    Parameters
    ----------
    dimension_m, thickness_m : float
        B' and d [m].
    soil : Soil
        Its conductivity counts.

    Returns
    -------
    float
        U [W/m2K].

    References
    ----------
    ISO 13370:2017, eq. (3) and (4).
    """
    if thickness_m < dimension_m:
        stretched = math.pi * dimension_m
        return 2.0 * soil.conductivity_w_mk / (stretched + thickness_m) * math.log(stretched / thickness_m + 1.0)
    return soil.conductivity_w_mk / (0.457 * dimension_m + thickness_m)


def edge_gain(edge: Edge, thickness_m: float, soil: Soil) -> float:
    """What upright edge insulation takes off the heat flow by perimeter, given it, the slab's d and the soil.

    Parameters
    ----------
    edge : Edge
        Resistance and depth.
    thickness_m : float
        Equivalent thickness of the slab [m].
    soil : Soil
        Its conductivity counts.

    Returns
    -------
    float
        The linear transmittance with its sign changed [W/mK].

    References
    ----------
    ISO 13370:2017, annex D: eq. (D.4) and (D.6).
    """
    conductivity, added = soil.conductivity_w_mk, _added_thickness(edge, soil)
    without = math.log(2.0 * edge.depth_m / thickness_m + 1.0)
    return conductivity / math.pi * (without - math.log(2.0 * edge.depth_m / (thickness_m + added) + 1.0))


def _added_thickness(edge: Edge, soil: Soil) -> float:
    """Equivalent thickness of edge insulation in the soil's place [m]."""
    return edge.resistance_m2k_w * (soil.conductivity_w_mk - EDGE_BOARD_W_MK)


def slab_on_ground(plan: Plan, edge: Edge | None = None) -> Exchange:
    """The exchange of a slab on ground, given its plan and its edge insulation.

    Parameters
    ----------
    plan : Plan
        The floor.
    edge : Edge, optional
        Insulation upright around it.

    Returns
    -------
    Exchange
        With half a metre of soil beneath.

    References
    ----------
    ISO 13370:2017, 7.1, annexes D, F and H.4 to H.5.
    """
    soil, depth = plan.soil, plan.soil.penetration_m
    thickness = plan.wall_m + soil.conductivity_w_mk * (FLOOR_FILM + plan.resistance_m2k_w + OUTSIDE_FILM)
    dimension = characteristic_dimension(plan.area_m2, plan.perimeter_m)
    transmittance = ground_transmittance(dimension, thickness, soil)
    at_edge = math.log(depth / thickness + 1.0)
    if edge is not None:
        gained = 2.0 * edge_gain(edge, thickness, soil) / dimension
        transmittance = max(transmittance - gained, LEAST_EDGE_SHARE * transmittance)
        passed = math.exp(-2.0 * edge.depth_m / depth)
        behind = math.log(depth / (thickness + _added_thickness(edge, soil)) + 1.0)
        at_edge = (1.0 - passed) * behind + passed * at_edge
    soil_m2k_w = SOIL_DEPTH_M / soil.conductivity_w_mk
    return Exchange(
        transmittance,
        soil.conductivity_w_mk / thickness * math.sqrt(2.0 / ((1.0 + depth / thickness) ** 2 + 1.0)),
        EDGE_SWING * plan.perimeter_m * soil.conductivity_w_mk * at_edge / plan.area_m2,
        math.pi / 4.0 - math.atan(thickness / (thickness + depth)),
        _months(1.5 - 0.42 * math.log(depth / thickness + 1.0)),
        _beneath(transmittance, plan.resistance_m2k_w, soil_m2k_w, SOIL_DEPTH_M * soil.capacity_j_m3k),
    )


def suspended_floor(plan: Plan, space: Space) -> Exchange:
    """The exchange of a floor over a ventilated space, given its plan and the space.

    Parameters
    ----------
    plan : Plan
        The floor.
    space : Space
        Beneath it.

    Returns
    -------
    Exchange
        Without soil next to the floor, and without shifts in time.

    References
    ----------
    ISO 13370:2017, 7.2 and H.6.
    """
    soil, depth = plan.soil, plan.soil.penetration_m
    thickness = plan.wall_m + soil.conductivity_w_mk * (FLOOR_FILM + OUTSIDE_FILM)
    dimension = characteristic_dimension(plan.area_m2, plan.perimeter_m)
    floor = 1.0 / (2.0 * FLOOR_FILM + plan.resistance_m2k_w)
    wind = 1450.0 * space.openings_m2_m * space.wind_m_s * space.shielding / dimension
    outside = 2.0 * space.height_m * space.wall_w_m2k / dimension + wind
    transmittance = 1.0 / (1.0 / floor + 1.0 / (ground_transmittance(dimension, thickness, soil) + outside))
    into_soil = soil.conductivity_w_mk / depth
    edge = EDGE_SWING * plan.perimeter_m * soil.conductivity_w_mk * math.log(depth / thickness + 1.0) / plan.area_m2
    return Exchange(
        transmittance,
        1.0 / (1.0 / floor + 1.0 / (into_soil + outside)),
        floor * (edge + outside) / (into_soil + outside + floor),
        0.0,
        0.0,
        _beneath(transmittance, plan.resistance_m2k_w),
    )


def basement_floor_transmittance(plan: Plan, depth_m: float) -> float:
    """Transmittance of a basement's own floor, given its plan and its depth.

    Parameters
    ----------
    plan : Plan
        With the resistance of the basement's floor.
    depth_m : float
        Below the ground outside [m].

    Returns
    -------
    float
        U [W/m2K].

    References
    ----------
    ISO 13370:2017, 7.3: eq. (12) and (13).
    """
    thickness = plan.wall_m + plan.soil.conductivity_w_mk * (FLOOR_FILM + plan.resistance_m2k_w + OUTSIDE_FILM)
    dimension = characteristic_dimension(plan.area_m2, plan.perimeter_m)
    return ground_transmittance(dimension, thickness + 0.5 * depth_m, plan.soil)


def basement_ceiling(plan: Plan, basement: Basement) -> Exchange:
    """The exchange of a floor over an unheated basement, given its plan and the basement.

    Parameters
    ----------
    plan : Plan
        The floor above the basement.
    basement : Basement
        Its own floor has no insulation.

    Returns
    -------
    Exchange
        Without soil next to the floor.

    References
    ----------
    ISO 13370:2017, 7.4 and H.8.
    """
    soil, depth = plan.soil, plan.soil.penetration_m
    conductivity, z, area = soil.conductivity_w_mk, basement.depth_m, plan.area_m2
    thickness = plan.wall_m + conductivity * (FLOOR_FILM + OUTSIDE_FILM)
    wall = max(conductivity * (FLOOR_FILM + basement.wall_m2k_w + OUTSIDE_FILM), thickness)
    below = basement_floor_transmittance(plan._replace(resistance_m2k_w=0.0), z)
    beside = 2.0 * conductivity / (math.pi * z) * (1.0 + 0.5 * thickness / (thickness + z)) * math.log(z / wall + 1.0)
    # Heat capacity of air by volume, as the standard has it: 0.33 Wh/m3K.
    air = 0.33 * basement.changes_per_h * (z + basement.height_m)
    above = basement.height_m * plan.perimeter_m * basement.wall_w_m2k / area + air
    floor = 1.0 / (2.0 * FLOOR_FILM + plan.resistance_m2k_w)
    transmittance = 1.0 / (1.0 / floor + 1.0 / (below + z * plan.perimeter_m / area * beside + above))
    into_soil = (1.0 + z * plan.perimeter_m / area) * conductivity / depth
    edge = EDGE_SWING * plan.perimeter_m / area * conductivity * math.log(depth / thickness + 1.0)
    return Exchange(
        transmittance,
        1.0 / (1.0 / floor + 1.0 / (into_soil + above)),
        floor * (edge * (2.0 - math.exp(-z / depth)) + above) / (into_soil + above + floor),
        0.0,
        _months(1.0),
        _beneath(transmittance, plan.resistance_m2k_w),
    )


def _months(count: float) -> float:
    """Months as a part of a year [rad]."""
    return count * math.pi / 6.0


def _beneath(transmittance: float, floor_m2k_w: float, soil_m2k_w: float = 0.0, soil_j_m2k: float = 0.0) -> Beneath:
    """What makes a floor's resistance up to its transmittance. ISO 13370:2017 eq. (F.1)."""
    virtual = 1.0 / transmittance - FLOOR_FILM - floor_m2k_w - soil_m2k_w
    return Beneath(max(virtual, LEAST_VIRTUAL_M2K_W), soil_m2k_w, soil_j_m2k)


def swing_of(temperature_c: FloatArray, year_angle: FloatArray) -> Swing:
    """The mean and the yearly wave of a temperature, given it and when, by least squares.

    Parameters
    ----------
    temperature_c : ndarray
        (hours,) [degC].
    year_angle : ndarray
        (hours,) [rad of a year].

    Returns
    -------
    Swing
        The wave's mean is that of the whole years.
    """
    waves = np.column_stack((np.ones(year_angle.size), np.cos(year_angle), np.sin(year_angle)))
    mean, cosine, sine = np.linalg.lstsq(waves, temperature_c)[0]
    return Swing(float(mean), float(np.hypot(cosine, sine)), float(np.arctan2(sine, cosine)))


def wave(swing: Swing, year_angle: FloatArray) -> FloatArray:
    """The temperature that a swing stands for, given it and when.

    Parameters
    ----------
    swing : Swing
        A mean and one wave.
    year_angle : ndarray
        (hours,) [rad of a year].

    Returns
    -------
    ndarray
        (hours,) [degC].
    """
    temperature: FloatArray = swing.mean_c + swing.amplitude_k * np.cos(year_angle - swing.warmest)
    return temperature


def ground_flow(exchange: Exchange, outdoors: Swing, indoors: Swing, year_angle: FloatArray) -> FloatArray:
    """Heat flow from a floor to the ground by its area, given both swings and when.

    Parameters
    ----------
    exchange : Exchange
        Of the floor.
    outdoors, indoors : Swing
        Of the temperatures.
    year_angle : ndarray
        (hours,) [rad of a year].

    Returns
    -------
    ndarray
        (hours,) [W/m2].

    References
    ----------
    ISO 13370:2017, annex C: eq. (C.1), a month's number made continuous.
    """
    ahead = indoors._replace(mean_c=0.0, warmest=indoors.warmest - exchange.inside_lead)
    behind = outdoors._replace(mean_c=0.0, warmest=outdoors.warmest + exchange.outside_lag)
    return (
        exchange.transmittance_w_m2k * (indoors.mean_c - outdoors.mean_c)
        + exchange.inside_w_m2k * wave(ahead, year_angle)
        - exchange.outside_w_m2k * wave(behind, year_angle)
    )


def virtual_ground_c(exchange: Exchange, outdoors: Swing, indoors: Swing, year_angle: FloatArray) -> FloatArray:
    """Temperature beyond the virtual layer that draws the floor's heat flow, given both swings and when.

    Parameters
    ----------
    exchange : Exchange
        Of the floor.
    outdoors, indoors : Swing
        Of the temperatures.
    year_angle : ndarray
        (hours,) [rad of a year].

    Returns
    -------
    ndarray
        (hours,) [degC]; on average the mean outdoors, whatever the mean indoors.

    References
    ----------
    ISO 13370:2017, annex F: eq. (F.2).
    """
    flow = ground_flow(exchange, outdoors, indoors, year_angle)
    return wave(indoors, year_angle) - flow / exchange.transmittance_w_m2k
