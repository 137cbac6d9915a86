"""What open windows do on the evenings that a damper works in: in a home they cost nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from freecool.answers.prepare import prepare
from freecool.answers.real_years import count_years
from freecool.answers.results import OpenWindows
from freecool.answers.runs import Pair, run_pair
from freecool.cases.presets import WINDOWS
from freecool.core.errors import Notice

if TYPE_CHECKING:
    from freecool.cases.model import Case
    from freecool.physics.year import YearRun
    from freecool.weather import Weather

OPEN_ACH = WINDOWS["always"]
J_PER_KWH = 3.6e6
# Less rounds to nothing.
LEAST_KWH = 0.5
# Of what the damper saves with windows shut: less than this share left beside open ones is little; our own choice.
LITTLE_LEFT = 0.25


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


def windows_do_the_same(windows: OpenWindows | None, net_kwh_saved: float) -> bool:
    """Whether people who open windows need no damper, given what both save.

    Parameters
    ----------
    windows : OpenWindows or None
        As `open_windows` gives it.
    net_kwh_saved : float
        By the damper with windows shut [kWh/year].

    Returns
    -------
    bool
        True where windows alone save as much and leave little for the damper.
    """
    if windows is None or windows.net_kwh_saved < LEAST_KWH:
        return False
    left = windows.damper_net_kwh_saved
    return windows.net_kwh_saved >= net_kwh_saved and left < max(LEAST_KWH, LITTLE_LEFT * net_kwh_saved)


def windows_sentence(windows: OpenWindows | None, net_kwh_saved: float) -> str:
    """What the verdict adds of windows, given what both save.

    Parameters
    ----------
    windows : OpenWindows or None
        As `open_windows` gives it.
    net_kwh_saved : float
        By the damper with windows shut [kWh/year].

    Returns
    -------
    str
        A sentence, empty where windows do not do the same.
    """
    if windows is None or not windows_do_the_same(windows, net_kwh_saved):
        return ""
    left = windows.damper_net_kwh_saved
    beside = f"{left:,.0f} kWh" if left >= LEAST_KWH else "nothing"
    return (
        f"Open the windows instead: on cool evenings they save {windows.net_kwh_saved:,.0f} kWh a year without a fan, "
        f"and the damper beside them saves {beside}."
    )


def windows_notices(case: Case, windows: OpenWindows | None) -> list[Notice]:
    """What a reader must be told of windows, given the case and what they save.

    Parameters
    ----------
    case : Case
        Of any building.
    windows : OpenWindows or None
        As `open_windows` gives it.

    Returns
    -------
    list of Notice
        At most one.
    """
    changes = case.building.windows_open_ach
    if changes > 0.0:
        opened = f"on cool evenings, at {changes:g} air changes an hour, with and without the damper"
        text = f"People open windows here {opened}: what is told is what the damper saves beside them."
        return [Notice("windows_open", text)]
    if windows is None:
        return []
    when = f"Windows are taken as shut: open on cool evenings, at {windows.air_changes_h:g} air changes an hour"
    if windows.net_kwh_saved < LEAST_KWH:
        return [Notice("windows_shut", f"{when}, they would save nothing here.")]
    left = windows.damper_net_kwh_saved
    beside = f"{left:,.0f} kWh" if left >= LEAST_KWH else "nothing"
    return [
        Notice(
            "windows_shut",
            f"{when}, they would save {windows.net_kwh_saved:,.0f} kWh a year without a fan, and the damper beside "
            f"them {beside}. See to safety, noise and rain before you leave them open.",
        )
    ]
