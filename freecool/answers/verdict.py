"""The verdict: worth it, hardly or don't, in a sentence."""

from __future__ import annotations

from freecool.answers.results import Blocks, Verdict
from freecool.cases.model import Case
from freecool.core.thresholds import WORTHWHILE_PERCENT


def share_text(percent: float) -> str:
    """A saving in words, given its share of the cooling electricity.

    Parameters
    ----------
    percent : float
        [%].

    Returns
    -------
    str
        Never "0 %" of what is saved.
    """
    return "under 1 %" if 0.0 < percent < 0.5 else f"{percent:.0f} %"


def verdict_of(case: Case, found: Blocks) -> tuple[Verdict, str]:
    """The verdict and its sentence, given a case and what a damper brings.

    Parameters
    ----------
    case : Case
        Its money counts.
    found : Blocks
        Of two complete runs.

    Returns
    -------
    tuple
        (verdict, sentence).
    """
    hours, energy, humidity, money = found.hours, found.energy, found.humidity, found.money
    net, percent = energy.net_kwh_saved, energy.net_percent
    amount = f"{net:,.0f} kWh and {money.saved_per_year:,.0f} {case.money.currency} a year"
    if hours.cooling == 0.0:
        return "no", "Don't: this building never calls for cooling here."
    if net <= 0.0:
        return "no", (
            f"Don't: free cooling here spends {-net:,.0f} kWh a year more than it saves."
            if net < -0.5
            else "Don't: free cooling saves nothing here."
        )
    if humidity.risk == "high":
        return "no", f"Don't, not with this rule: it would save {amount}, but the place gets damp."
    if money.saved_per_year <= 0.0:
        return "no", f"Don't: it saves {net:,.0f} kWh a year, but upkeep and added heating cost more than that."
    if money.payback_years is not None and money.payback_years > case.money.life_years:
        return (
            "no",
            f"Don't: it saves {amount}, and would pay back in {money.payback_years:,.0f} years, beyond its life.",
        )
    share = share_text(percent)
    if percent < WORTHWHILE_PERCENT:
        return "hardly", f"Hardly worth it: it saves {amount}, {share} of the cooling electricity."
    caution = " Watch the humidity." if humidity.risk == "watch" else ""
    condition = (
        f" if it can be fitted for less than {money.worth_up_to:,.0f} {case.money.currency}"
        if money.payback_years is None
        else f", paid back in {money.payback_years:,.1f} years"
    )
    return "yes", f"Worth it{condition}: it saves {amount}, {share} of the cooling electricity.{caution}"
