"""Will it make the place damp? The risk scale, from two complete runs."""

from __future__ import annotations

from typing import Literal, NamedTuple

from freecool.core.thresholds import HIGH_HOURS, WATCH_HOURS

Risk = Literal["low", "watch", "high"]


# ASHRAE 160-2009: 30-day mean surface RH below 80 %, taken here at the room's air.
MOULD_MEAN_RH = 0.8
# Our own scale: hours a year that the damper adds above 60 degF indoor dew point (ASHRAE 62.1-2022 5.12).
DEW_POINT_HOURS = 50.0


class HumidityYear(NamedTuple):
    """One run's indoor humidity, as a year's mean."""

    over_60_rh_hours: float
    over_60_dew_point_hours: float
    worst_30_day_rh: float


def humidity_risk(without: HumidityYear, with_damper: HumidityYear) -> tuple[Risk, str]:
    """(risk, reason in a sentence), given the runs without and with the damper.

    Parameters
    ----------
    without, with_damper : HumidityYear
        Of two complete runs.

    Returns
    -------
    tuple
        (risk, reason).

    Notes
    -----
    Own scale: low under 50 added hours above 60 % RH, watch to 250, high beyond; high too when only the run with
    the damper passes a 30-day mean of 80 %, or adds more than 50 hours above 60 degF dew point.
    """
    added = with_damper.over_60_rh_hours - without.over_60_rh_hours
    added_dew = with_damper.over_60_dew_point_hours - without.over_60_dew_point_hours
    if with_damper.worst_30_day_rh > MOULD_MEAN_RH >= without.worst_30_day_rh:
        return "high", (
            f"the dampest 30 days average {with_damper.worst_30_day_rh:.0%} relative humidity indoors with the damper, "
            f"{without.worst_30_day_rh:.0%} without: above 80 % mould grows on surfaces"
        )
    if added_dew > DEW_POINT_HOURS:
        return "high", f"the damper adds {added_dew:,.0f} hours a year with an indoor dew point above 60 °F (16 °C)"
    hours = f"the damper adds {added:,.0f} hours a year above 60 % relative humidity indoors"
    if added > HIGH_HOURS:
        return "high", hours
    if added >= WATCH_HOURS:
        return "watch", hours
    if added < 0.0:
        return "low", f"the damper takes {-added:,.0f} hours a year above 60 % relative humidity away"
    return "low", hours
