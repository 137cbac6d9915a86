"""What open windows do on the evenings that a damper works in: in a home they cost nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from freecool.answers.prepare import prepare
from freecool.answers.real_years import count_years
from freecool.answers.results import OpenWindows
from freecool.answers.runs import Pair, run_pair
from freecool.core.errors import Notice

if TYPE_CHECKING:
    from freecool.cases.model import Case
    from freecool.physics.year import YearRun
    from freecool.weather import Weather

# Air changes an hour through a house with windows open on two sides; common practice, no source.
OPEN_ACH = 3.0
J_PER_KWH = 3.6e6


def open_windows(case: Case, weather: Weather, shut: Pair) -> OpenWindows | None:
    """What open windows save, given a case, its weather and its runs with windows shut.

    Parameters
    ----------
    case : Case
        Of any building.
    weather : Weather
        Whole years.
    shut : Pair
        Its runs.

    Returns
    -------
    OpenWindows or None
        None where nobody lives there, or the case says how far windows are opened.
    """
    building = case.building
    if building.use != "dwelling" or building.windows_open_ach > 0.0:
        return None
    opened_case = case.model_copy(update={"building": building.model_copy(update={"windows_open_ach": OPEN_ACH})})
    prepared = prepare(opened_case, weather)
    opened = run_pair(prepared, prepared.zone)
    years = count_years(weather)
    return OpenWindows(
        air_changes_h=OPEN_ACH,
        net_kwh_saved=(_kwh(shut.without) - _kwh(opened.without)) / years,
        damper_net_kwh_saved=(_kwh(opened.without) - _kwh(opened.fitted)) / years,
    )


def _kwh(year: YearRun) -> float:
    return float((year.total("compressor_j") + year.total("fan_j")).sum()) / J_PER_KWH


def windows_notices(windows: OpenWindows | None, net_kwh_saved: float) -> list[Notice]:
    """What a reader must be told of windows, given what they save and what the damper saves with windows shut.

    Parameters
    ----------
    windows : OpenWindows or None
        As `open_windows` gives it.
    net_kwh_saved : float
        By the damper [kWh/year].

    Returns
    -------
    list of Notice
        At most one.
    """
    if windows is None:
        return []
    alone = windows.net_kwh_saved
    beside = f"{windows.damper_net_kwh_saved:,.0f} kWh" if windows.damper_net_kwh_saved >= 0.5 else "nothing"
    when = f"on cool evenings, at {windows.air_changes_h:g} air changes an hour"
    if alone < 0.5:
        text = f"Windows are taken as shut; open {when} they would save nothing here."
    elif alone >= net_kwh_saved:
        text = (
            f"Open the windows instead, where safety, noise and rain allow: {when}, they save {alone:,.0f} kWh a year "
            f"without a fan, and the damper beside them saves {beside}."
        )
    else:
        text = (
            f"Windows are taken as shut: open {when}, they would save {alone:,.0f} kWh a year without a fan, and the "
            f"damper beside them {beside}."
        )
    return [Notice("windows_shut", text)]
