"""A building's lowest floor and its inside faces as elements, and what the ground beneath it does by hour."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from freecool.cases.presets import CONSTRUCTIONS
from freecool.cases.sections import Building, Schedule, ground_of, layers
from freecool.physics.ground import (
    SOILS,
    Basement,
    Edge,
    Exchange,
    Plan,
    Space,
    Swing,
    basement_ceiling,
    slab_on_ground,
    suspended_floor,
    virtual_ground_c,
)
from freecool.physics.zone import Element

if TYPE_CHECKING:
    FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

# ISO 13789:2017 annex: inside convection of floors, heat downward; of upright faces [W/m2K].
FLOOR_CONVECTION, UPRIGHT_CONVECTION = 0.7, 2.5
# Thickness of walls [m]; common practice, no source.
WALL_M = 0.25
# Edge insulation goes down 2 ft, as IECC 2021 table R402.1.3 asks in zones 4 and 5 (from memory).
EDGE_DEPTH_M = 0.61
# A crawl space 0.5 m high within bare block walls, vents of 1/150 of the floor (IRC R408.1, from memory) at a perimeter
# of 0.4 m/m2, usual wind and shelter; common practice, no source.
CRAWL_SPACE = Space(0.5, 1.7, 0.016, 4.0, 0.05)
# A basement 1.8 m in the ground and 0.4 m above it within bare concrete walls; common practice, no source. Air change
# of ISO 13370:2017 7.4 (from memory).
BASEMENT = Basement(1.8, 0.4, 0.1, 1.7, 0.3)


class LowestFloor(NamedTuple):
    """An element, and its exchange with the ground where it has one."""

    element: Element
    exchange: Exchange | None


def plan_sides(building: Building) -> tuple[float, float]:
    """The long and the short side of a building's plan, given the building.

    Parameters
    ----------
    building : Building
        A box.

    Returns
    -------
    tuple of float
        [m].
    """
    plan = building.floor_area / building.storeys
    long_side = math.sqrt(plan * building.aspect)
    return long_side, plan / long_side


def lowest_floor(building: Building) -> LowestFloor:
    """The lowest floor of a building, given the building.

    Parameters
    ----------
    building : Building
        Of a case.

    Returns
    -------
    LowestFloor
        Above heated rooms no heat passes it; above outdoor air it has no exchange with the ground.
    """
    layer, long_short, ground = layers(building, "floor"), plan_sides(building), ground_of(building)
    area = long_short[0] * long_short[1]
    element = Element(area, layer.resistance, layer.capacity, layer.mass, FLOOR_CONVECTION, 0.0)
    if ground == "indoors":
        return LowestFloor(element._replace(boundary="none"), None)
    if ground == "outdoors":
        return LowestFloor(element, None)
    plan = Plan(area, 2.0 * sum(long_short), layer.resistance, SOILS[building.soil], WALL_M)
    if ground == "suspended":
        exchange = suspended_floor(plan, CRAWL_SPACE)
    elif ground == "basement":
        exchange = basement_ceiling(plan, BASEMENT)
    else:
        insulated = building.edge_insulation > 0.0
        exchange = slab_on_ground(plan, Edge(building.edge_insulation, EDGE_DEPTH_M) if insulated else None)
    return LowestFloor(element._replace(boundary="ground", beneath=exchange.beneath), exchange)


def inside_elements(building: Building, envelope: list[Element]) -> list[Element]:
    """Partitions, floors between storeys and furniture of a building, given it and the elements around it.

    Parameters
    ----------
    building : Building
        Its `inside_faces` tells how much of them there is.
    envelope : list of Element
        Whose inside faces are part of that.

    Returns
    -------
    list of Element
        None or one: a face of them all and what is behind it up to the middle, where no heat passes.
    """
    area = building.inside_faces * building.floor_area - sum(element.area_m2 for element in envelope)
    if area <= 0.0:
        return []
    half = CONSTRUCTIONS[building.construction]["inside"]
    inside = Element(area, half["resistance"], half["capacity"], half["mass"], UPRIGHT_CONVECTION, 0.0, "none")
    return [inside]


def ground_temperature(
    exchange: Exchange | None, schedule: Schedule, outdoors: Swing, year_angle: FloatArray
) -> FloatArray:
    """What is beyond a floor's virtual layer by hour, given the floor's exchange, the set points and the outdoor year.

    Parameters
    ----------
    exchange : Exchange or None
        Of the lowest floor.
    schedule : Schedule
        Indoors it is taken to be at the heating set point when it is coldest outdoors, at the cooling one when warmest;
        it swings no more than it does outdoors.
    outdoors : Swing
        Of the dry bulb.
    year_angle : ndarray
        (hours,) [rad of a year].

    Returns
    -------
    ndarray
        (hours,) [degC]; the mean outdoors where no floor meets the ground.
    """
    if exchange is None:
        return np.full(year_angle.size, outdoors.mean_c)
    middle, half = (schedule.cooling + schedule.heating) / 2.0, (schedule.cooling - schedule.heating) / 2.0
    return virtual_ground_c(
        exchange, outdoors, Swing(middle, min(half, outdoors.amplitude_k), outdoors.warmest), year_angle
    )
