"""A unit by its performance map: its machine, what an answer tells of the map, and what a reader must know of it."""

from __future__ import annotations

import math

import numpy as np

from freecool.answers.results import MapBlock
from freecool.cases.model import Case
from freecool.cases.sections import UnitCase
from freecool.cases.unit_map import UnitMap, unit_map_of
from freecool.core.errors import Notice
from freecool.core.units import format_both
from freecool.physics.cooling_unit import CoolingUnit, coil_sensible, tabulated_unit

# Above this share of the capacity the coil's sensible part is told not to be the map's; our own threshold.
SENSIBLE_SHARE = 0.05
# Makers correct capacity for another flow than the table's beyond about this share; common practice, no source.
FLOW_SHARE = 0.1


def mapped_unit(unit: UnitCase) -> CoolingUnit:
    """The machine of a unit with a performance map, given the unit.

    Parameters
    ----------
    unit : UnitCase
        With a map.

    Returns
    -------
    CoolingUnit
        Of a single speed.

    Raises
    ------
    ValueError
        The map's sensible share at the rating point is that of no coil.
    """
    found = unit_map_of(unit.map)
    return tabulated_unit(
        np.array(found.wet_bulb_c),
        np.array(found.outdoor_c),
        np.array(found.capacity_w),
        np.array(found.sensible_w),
        np.array(found.power_w),
        found.entering_dry_bulb_c,
        found.flow_m3_s,
        unit.degradation,
        -math.inf if unit.lockout is None else unit.lockout,
        unit.beyond_map == "refuse",
    )


def resolved_map(case: Case) -> MapBlock | None:
    """The performance map of a case as it was read, given the case.

    Parameters
    ----------
    case : Case
        Its unit counts.

    Returns
    -------
    MapBlock or None
        None without a map.
    """
    if not case.unit.map:
        return None
    found = unit_map_of(case.unit.map)
    coil_w = _coil_w(case.unit, found)
    return MapBlock(
        source=found.source,
        basis=found.basis,
        entering_dry_bulb_c=found.entering_dry_bulb_c,
        flow_m3_s=found.flow_m3_s,
        wet_bulb_range_c=(found.wet_bulb_c[0], found.wet_bulb_c[-1]),
        outdoor_range_c=(found.outdoor_c[0], found.outdoor_c[-1]),
        beyond_map=case.unit.beyond_map,
        wet_bulb_c=found.wet_bulb_c,
        outdoor_c=found.outdoor_c,
        capacity_w=found.capacity_w,
        sensible_w=found.sensible_w,
        power_w=found.power_w,
        coil_sensible_w=tuple(tuple(map(float, row)) for row in coil_w),
        sensible_gap_percent=100.0 * float(np.abs(_gap(found, coil_w)).max()),
    )


def map_notices(case: Case, outside_without: float, outside_with: float | None = None) -> list[Notice]:
    """What a reader must know of a performance map, given the case and how often its unit works outside.

    Parameters
    ----------
    case : Case
        Its map, fan and what holds beyond the map.
    outside_without, outside_with : float
        Hours with the compressor outside the map, without and with the damper; the latter where it is known [h/year].

    Returns
    -------
    list of Notice
        Empty without a map.
    """
    if not case.unit.map:
        return []
    found, notices = unit_map_of(case.unit.map), list[Notice]()
    if outside_without or outside_with:
        fitted = "" if outside_with is None else f", and in {outside_with:,.0f} with it"
        notices.append(
            Notice(
                "outside_map",
                f"In {outside_without:,.0f} hours a year without the damper{fitted} the compressor runs outside the "
                "performance map, whose edge then holds: give a map that reaches further if they are many.",
            )
        )
    gap = _gap(found, _coil_w(case.unit, found))
    i, j = np.unravel_index(np.argmax(np.abs(gap)), gap.shape)
    if abs(gap[i, j]) > SENSIBLE_SHARE:
        notices.append(
            Notice(
                "map_sensible",
                "The coil is that of the map's sensible capacity at 67 °F (19.4 °C) wet bulb and 95 °F (35 °C) "
                f"outdoors; at {format_both(found.wet_bulb_c[i], 'temperature')} wet bulb and "
                f"{format_both(found.outdoor_c[j], 'temperature')} outdoors it makes {100.0 * abs(gap[i, j]):.0f} % of "
                f"the capacity {'more' if gap[i, j] > 0.0 else 'less'} sensible than the map says.",
            )
        )
    if abs(case.fan.flow / found.flow_m3_s - 1.0) > FLOW_SHARE:
        notices.append(
            Notice(
                "map_flow",
                f"The performance map is of {format_both(found.flow_m3_s, 'flow')}, the fan moves "
                f"{format_both(case.fan.flow, 'flow')}: its capacity and power are taken as they stand.",
            )
        )
    return notices


def _coil_w(unit: UnitCase, found: UnitMap) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """What the coil makes sensible at each node of its map [W]."""
    return coil_sensible(mapped_unit(unit), found.entering_dry_bulb_c, found.flow_m3_s)


def _gap(
    found: UnitMap, coil_w: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Sensible capacity of the coil less the map's, over the map's capacity [-]."""
    gap: np.ndarray[tuple[int, ...], np.dtype[np.float64]] = (coil_w - found.sensible_w) / found.capacity_w
    return gap
