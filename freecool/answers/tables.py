"""Tables of an estimate: by month and by outdoor temperature; each adds up to the year."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from freecool.answers.prepare import outdoors_of
from freecool.answers.real_years import count_years
from freecool.answers.results import IndoorHumidity, Month
from freecool.core.units import parse

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from freecool.answers.runs import Pair
    from freecool.weather import Weather

W_PER_KW = 1000.0
# The bins of the trade are 5 °F wide and begin at whole fives: common practice, no source.
BIN_F = 5
BIN_K = parse(BIN_F, "difference")
BIN_ZERO_C = parse("0F", "temperature")
# Two ways to one edge differ in the last digits.
EDGE = 1e-9
SUMS = {
    "hours": "hours [h/year]",
    "permitted_hours": "the rule lets the damper open [h/year]",
    "free_cooling_hours": "damper hours at full flow; a half-used hour counts half [h/year]",
    "cooling_hours": "the building without the damper calls for cooling [h/year]",
    "coil_load_kwh_without": "sensible heat that the compressor takes from the room, no damper [kWh/year]",
    "coil_load_kwh_with": "the same with the damper [kWh/year]",
    "compressor_kwh_without": "electricity of compressor and condenser fan, no damper [kWh/year]",
    "compressor_kwh_avoided": "without less with the damper [kWh/year]",
    "fan_kwh_added": "indoor and relief fan, with the damper less without [kWh/year]",
    "net_kwh_saved": "compressor avoided less fan added [kWh/year]",
}
"""What months and bins add up, as means over the years."""
EDGES = {
    "outdoor_from_f": "the bin's lower edge of the outdoor dry bulb [°F]",
    "outdoor_to_f": "its upper edge [°F]",
    "outdoor_from_c": "its lower edge [°C]",
    "outdoor_to_c": "its upper edge [°C]",
    "mean_dew_point_c": "outdoors, mean of its hours [°C]",
}
"""What tells the bins, beside their sums."""
NOT_BY_MONTH = ("hours", "coil_load_kwh_without", "coil_load_kwh_with")


def monthly_table(weather: Weather, pair: Pair) -> pd.DataFrame:
    """Month by month: hours and kWh as means over the years, given a weather and both runs.

    Parameters
    ----------
    weather : Weather
        Whole years.
    pair : Pair
        With their hours kept.

    Returns
    -------
    pandas.DataFrame
        Indexed by the month's number.
    """
    found = _by_hour(pair).drop(columns=list(NOT_BY_MONTH))
    return found.groupby(weather.frame.index.month.rename("month")).sum() / count_years(weather)  # type: ignore[attr-defined]


def months_of(monthly: pd.DataFrame) -> tuple[Month, ...]:
    """The months as records, given `monthly_table`.

    Parameters
    ----------
    monthly : pandas.DataFrame
        Indexed by the month's number.

    Returns
    -------
    tuple of Month
        In the order of the year.
    """
    months = monthly.reset_index().to_dict("records")
    return tuple(Month(**{f"{name}": value for name, value in month.items()}) for month in months)


def bin_table(weather: Weather, pair: Pair) -> pd.DataFrame:
    """By outdoor temperature in bins of 5 °F: hours, load, damper and kWh a year, given a weather and both runs.

    Parameters
    ----------
    weather : Weather
        Whole years.
    pair : Pair
        With their hours kept.

    Returns
    -------
    pandas.DataFrame
        Indexed by the bin's lower edge [degF], the coldest first.
    """
    import pandas as pd

    found, outdoors = _by_hour(pair), outdoors_of(weather)
    number = np.floor((outdoors.dry_bulb_c - BIN_ZERO_C) / BIN_K + EDGE).astype(int)
    sums = found.groupby(number).sum() / count_years(weather)
    filled = np.unique(number)
    edges = pd.DataFrame(
        {
            "outdoor_to_f": BIN_F * (filled + 1),
            "outdoor_from_c": BIN_ZERO_C + BIN_K * filled,
            "outdoor_to_c": BIN_ZERO_C + BIN_K * (filled + 1),
            "mean_dew_point_c": pd.Series(outdoors.dew_point_c).groupby(number).mean().to_numpy(),
        },
        index=filled,
    )
    table = pd.concat([edges, sums], axis=1).set_axis(BIN_F * filled).rename_axis("outdoor_from_f")
    table.attrs["attribution"] = weather.attribution
    table.attrs["columns"] = EDGES | SUMS
    return table


def indoor_humidity(pair: Pair, occupied: NDArray[np.bool_]) -> IndoorHumidity:
    """How humid it is indoors in occupied hours, given both runs and which hours those are.

    Parameters
    ----------
    pair : Pair
        With their hours kept.
    occupied : ndarray of bool
        (hours,).

    Returns
    -------
    IndoorHumidity
        Of all hours where none is occupied.
    """
    counted = occupied if occupied.any() else np.ones_like(occupied)
    found: dict[str, float] = {}
    for name, run in (("without", pair.without), ("with", pair.fitted)):
        rh = run.column("relative_humidity")[counted]
        p10, p90 = np.percentile(rh, (10, 90))
        found |= {f"mean_rh_{name}": float(rh.mean()), f"p10_rh_{name}": float(p10), f"p90_rh_{name}": float(p90)}
    return IndoorHumidity(**found)


def _by_hour(pair: Pair) -> pd.DataFrame:
    """What months and bins add up, a row an hour."""
    import pandas as pd

    without, fitted = pair
    avoided = (without.column("compressor_w") - fitted.column("compressor_w")) / W_PER_KW
    fan = (fitted.column("fan_w") - without.column("fan_w")) / W_PER_KW
    return pd.DataFrame(
        {
            "hours": np.ones(avoided.size),
            "permitted_hours": fitted.column("permitted"),
            "free_cooling_hours": fitted.column("damper"),
            "cooling_hours": without.called.astype(float),
            "coil_load_kwh_without": without.column("cooling_w") / W_PER_KW,
            "coil_load_kwh_with": fitted.column("cooling_w") / W_PER_KW,
            "compressor_kwh_without": without.column("compressor_w") / W_PER_KW,
            "compressor_kwh_avoided": avoided,
            "fan_kwh_added": fan,
            "net_kwh_saved": avoided - fan,
        }
    )
