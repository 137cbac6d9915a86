"""Will it make the place damp, or too dry? What published clauses say of two complete runs."""

from __future__ import annotations

from typing import Literal, NamedTuple

Risk = Literal["low", "watch", "high"]
RISKS: tuple[Risk, ...] = ("low", "watch", "high")
"""In rising order."""
Use = Literal["dwelling", "commercial", "equipment"]

# ASHRAE 160-2009: 30-day mean surface RH below 80 %, taken here at the room's air.
MOULD_MEAN_RH = 0.8
# Shares of the occupied hours that the damper adds, from which humidity is to be watched, and is high; our own.
WATCH_SHARE, HIGH_SHARE = 0.02, 0.08
# The clauses that hours are counted by, and what those hours are; 62.1-2016 from memory.
DEW_POINT_CLAUSE = "ASHRAE 62.1-2022 5.12"
ROOM_RH_CLAUSE = "ASHRAE 62.1-2016 5.9.1"
MOULD_CLAUSE = "ASHRAE 160-2009 4.6"
COUNTED = {
    DEW_POINT_CLAUSE: "hours a year with an indoor dew point above 60 °F (16 °C) while outdoor air is above it too",
    ROOM_RH_CLAUSE: "occupied hours a year above 65 % relative humidity indoors",
}


class HumidityYear(NamedTuple):
    """One run's indoor humidity, as a year's mean."""

    occupied_hours: float
    damp_hours: float
    """By `DEW_POINT_CLAUSE`, beyond the model's own error of 1 °F."""
    over_65_rh_hours: float
    """By `ROOM_RH_CLAUSE`, beyond the model's own error of 2 % RH."""
    worst_30_day_rh: float


class Damp(NamedTuple):
    """What the clauses say of a damper."""

    risk: Risk
    reason: str
    clause: str
    """That the risk rests on."""
    hours_without: float
    hours_with: float
    """Counted by that clause [h/year]; 0 of the mould clause, which is a mean."""


def humidity_risk(use: Use, without: HumidityYear, fitted: HumidityYear) -> Damp:
    """How damp a damper makes a building, given its use and the runs without and with the damper.

    Parameters
    ----------
    use : {"dwelling", "commercial", "equipment"}
        The clause of dew points is one of mechanically cooled buildings that are no dwellings.
    without, fitted : HumidityYear
        Of two complete runs.

    Returns
    -------
    Damp
        Low under 2 % of the occupied hours added, watch to 8 %, high beyond, by the clause that is worse; high too
        where only the run with the damper passes a 30-day mean of 80 %.

    Notes
    -----
    ASHRAE 62.1-2022 5.12: indoor dew point at most 60 degF while it is above that outdoors; unoccupied hours at 65 %
    relative humidity or less do not count. ASHRAE 62.1-2016 5.9.1: occupied spaces at most 65 %. ASHRAE 160-2009 4.6:
    30-day mean at surfaces below 80 %. The shares are our own.
    """
    if fitted.worst_30_day_rh > MOULD_MEAN_RH >= without.worst_30_day_rh:
        reason = (
            f"the dampest 30 days average {_percent(fitted.worst_30_day_rh)} relative humidity indoors with the damper "
            f"and {_percent(without.worst_30_day_rh)} without: above 80 % mould grows on surfaces ({MOULD_CLAUSE})"
        )
        return Damp("high", reason, MOULD_CLAUSE, 0.0, 0.0)
    by_clause = {ROOM_RH_CLAUSE: (without.over_65_rh_hours, fitted.over_65_rh_hours)}
    if use != "dwelling":
        by_clause = {DEW_POINT_CLAUSE: (without.damp_hours, fitted.damp_hours)} | by_clause
    clause = max(by_clause, key=lambda name: by_clause[name][1] - by_clause[name][0])
    before, after = by_clause[clause]
    share = (after - before) / fitted.occupied_hours if fitted.occupied_hours > 0.0 else 0.0
    risk: Risk = "high" if share > HIGH_SHARE else "watch" if share >= WATCH_SHARE else "low"
    return Damp(risk, _reason(clause, after - before, share, risk), clause, before, after)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _reason(clause: str, added: float, share: float, risk: Risk) -> str:
    counted = COUNTED[clause]
    if abs(added) < 0.5:
        return f"the damper adds no {counted} ({clause})"
    if added < 0.0:
        return f"the damper spares {-added:,.0f} {counted} ({clause})"
    limit = HIGH_SHARE if risk == "high" else WATCH_SHARE
    size = f"{_percent(share)} of the occupied ones, {'limit' if risk != 'low' else 'under'} {_percent(limit)}"
    return f"the damper adds {added:,.0f} {counted}, {size} ({clause})"
