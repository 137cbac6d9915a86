"""The runs of answers: complete years, refused where they leave a performance map that says so."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from freecool.core.errors import CaseError
from freecool.core.units import format_both
from freecool.physics import year
from freecool.physics.cooling_unit import CoolingUnit
from freecool.physics.damper import Damper, Fan
from freecool.physics.rule import Limits
from freecool.physics.year import NO_DAMPER, NO_LIMITS, YearRun, Zone

if TYPE_CHECKING:
    from freecool.answers.prepare import Prepared
    from freecool.physics.performance_table import FloatArray


class Pair(NamedTuple):
    """One building without and with the damper."""

    without: YearRun
    fitted: YearRun


# What `help` tells of them.
Pair.without.__doc__ = "The run without the damper."
Pair.fitted.__doc__ = "The run with it, from the same state."


def simulate(
    zone: Zone,
    unit: CoolingUnit,
    fan: Fan,
    damper: Damper = NO_DAMPER,
    limits: Limits = NO_LIMITS,
    base: YearRun | None = None,
    hourly: bool = False,
) -> YearRun:
    """A complete run, within the unit's performance map where it must be, as `freecool.physics.year.simulate`.

    Parameters
    ----------
    zone : Zone
        Its modes, drives and moisture store.
    unit : CoolingUnit
        The compressor.
    fan : Fan
        Its full flow and power.
    damper : Damper
        `NO_DAMPER` or `Damper.fitted` false for the building without it.
    limits : Limits
        The rule.
    base : YearRun, optional
        The run without the damper.
    hourly : bool
        Keep the hourly table.

    Returns
    -------
    YearRun
        Counted after a first year of warming up.

    Raises
    ------
    CaseError
        The map refuses to be left, and the compressor runs outside it.
    """
    run = year.simulate(zone, unit, fan, damper, limits, base, hourly)
    outside, nodes = run.total("outside_table").sum(), unit.performance
    if nodes is not None and nodes.refuses and outside > 0.0:
        raise CaseError(
            f"unit.map: the compressor runs outside the performance map in {outside:,.0f} hours of "
            f"{zone.hours.outdoor_c.size:,}; it reaches from {_ends(nodes.wet_bulb_c)} entering wet bulb and from "
            f'{_ends(nodes.outdoor_c)} outdoors: give a map that reaches further, or unit.beyond_map = "hold" to keep '
            "to its edge."
        )
    return run


def run_pair(prepared: Prepared, zone: Zone, hourly: bool = False) -> Pair:
    """One zone without and with the damper, given what `prepare` made.

    Parameters
    ----------
    prepared : Prepared
        Unit, fan, damper and limits.
    zone : Zone
        On either network.
    hourly : bool
        Whether every hour is kept.

    Returns
    -------
    Pair
        Two complete runs on the same weather.
    """
    without = simulate(zone, prepared.unit, prepared.fan, prepared.no_damper, hourly=hourly)
    fitted = simulate(
        zone, prepared.unit, prepared.fan, prepared.damper, prepared.limits, base=without, hourly=hourly
    )  # fmt: skip
    return Pair(without, fitted)


def _ends(nodes: FloatArray) -> str:
    return f"{format_both(float(nodes[0]), 'temperature')} to {format_both(float(nodes[-1]), 'temperature')}"
