"""The verdict: worth it, hardly or don't, and what to set instead, in a few sentences."""

from __future__ import annotations

from collections.abc import Sequence

from freecool.answers.results import Alternative, Alternatives, Blocks, LikelyBand, Mover, Verdict
from freecool.cases.model import Case
from freecool.core.units import format_money, format_quantity

# An alternative that saves so much more than what was asked is told; our own.
MUCH_BETTER = 1.1


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


def verdict_of(
    case: Case, found: Blocks, others: Alternatives, band: LikelyBand, movers: Sequence[Mover] = ()
) -> tuple[Verdict, str, str]:
    """The verdict, its sentence and what to set instead, given a case, what a damper brings and what else could be set.

    Parameters
    ----------
    case : Case
        Its money counts.
    found : Blocks
        Of two complete runs.
    others : Alternatives
        Of the same building.
    band : LikelyBand
        What buildings like it save: worth it is only what is so at its low end.
    movers : sequence of Mover
        What the answer rests on, the most first.

    Returns
    -------
    tuple
        (verdict of what was asked, its sentence, what to set instead: empty where nothing is better).
    """
    if found.hours.cooling == 0.0:
        return "no", "Don't: this building never calls for cooling here.", ""
    answer, text = _judged(case, found, band, movers)
    best = others.best
    if found.humidity.risk == "high" and best is None:
        text = f"Don't, it gets damp: {found.humidity.reason}."
        return "no", text, "No setting that was tried saves and keeps the place dry."
    if answer == "yes":
        return answer, text, _better(found, best)
    if best is not None and _beats(case, best, found):
        instead = f"Not with {_asked(case)}: {best.words} saves {_amount(case, best)}."
        return answer, instead, f"As asked: {text[0].lower()}{text[1:]}"
    return answer, text, _instead(case, found, others)


def is_worth_it(case: Case, net_kwh_saved: float, saved_per_year: float) -> bool:
    """Whether a saving is worth a damper, given a case and what is saved in a year.

    Parameters
    ----------
    case : Case
        Its money counts.
    net_kwh_saved : float
        [kWh/year].
    saved_per_year : float
        [money/year].

    Returns
    -------
    bool
        True from the least saving that the case asks for, repaid within the damper's life where a cost is told.
    """
    cost = case.money.installed_cost
    repaid = cost is None or cost <= saved_per_year * case.money.life_years
    return net_kwh_saved > 0.0 and saved_per_year >= max(case.money.least_saving, SOMETHING) and repaid


def _beats(case: Case, best: Alternative, found: Blocks) -> bool:
    """Whether a setting is worth it, and much better than what was asked."""
    worth = is_worth_it(case, best.net_kwh_saved, best.saved_per_year)
    return worth and best.net_kwh_saved >= MUCH_BETTER * found.energy.net_kwh_saved


# Less money a year is none.
SOMETHING = 0.01


def _judged(case: Case, found: Blocks, band: LikelyBand, movers: Sequence[Mover]) -> tuple[Verdict, str]:
    """The verdict of what was asked, and why in a sentence."""
    energy, money = found.energy, found.money
    net, currency = energy.net_kwh_saved, case.money.currency
    likely = f"; buildings like it {band_text(band)}"
    rests = f"{likely}, which rests most on {movers[0].words}" if movers else likely
    share = f"{share_text(energy.cooling_percent)} of the cooling electricity"
    saves = f"it saves {net:,.0f} kWh and {format_money(money.saved_per_year, currency)} a year, {share}"
    if net <= 0.0:
        spends = f"free cooling here spends {-net:,.0f} kWh a year more than it saves"
        return "no", f"Don't: {spends if net < -LEAST_KWH else 'free cooling saves nothing here'}{rests}."
    if money.saved_per_year <= 0.0:
        return "no", (
            f"Don't: it saves {net:,.0f} kWh a year, but upkeep and added heating cost more than the money{rests}."
        )
    if money.payback_years is not None and money.payback_years > case.money.life_years:
        return "no", f"Don't, it never pays back within its life: {saves}{rests}."
    if not is_worth_it(case, net, money.saved_per_year):
        least = f"less than the {format_money(case.money.least_saving, currency)} a year that make it worth its while"
        return "hardly", f"Hardly worth it, {least}: {saves}{rests}."
    if not is_worth_it(case, band.net_kwh_saved.low, band.saved_per_year.low):
        first = f", find out first about {movers[0].words}" if movers else ""
        return "hardly", f"Perhaps worth it{first}: {saves}{likely}."
    condition = (
        f" if it can be fitted for less than {format_money(money.worth_up_to, currency)}"
        if money.payback_years is None
        else f", paid back in {money.payback_years:,.1f} years"
    )
    return "yes", f"Worth it{condition}: {saves}{likely}."


def band_text(band: LikelyBand) -> str:
    """What buildings like this one save, in words.

    Parameters
    ----------
    band : LikelyBand
        Of an answer.

    Returns
    -------
    str
        Such as "save 90 to 260 kWh".
    """
    reach = band.net_kwh_saved
    low, high = (f"{round(end) + 0.0:,.0f}" for end in (reach.low, reach.high))
    return f"save {low} kWh" if low == high else f"save {low} to {high} kWh"


def _better(found: Blocks, best: Alternative | None) -> str:
    """What to set instead where the asked is worth it: something drier, or much better."""
    risk = found.humidity.risk
    if risk != "low":
        damper = f"But it gets {'damp' if risk == 'high' else 'damper'}: {found.humidity.reason}."
        dry = "" if best is None else f" {_capital(best.words)} keeps it dry and saves {best.net_kwh_saved:,.0f} kWh."
        return damper + dry
    if best is not None and best.net_kwh_saved >= MUCH_BETTER * found.energy.net_kwh_saved:
        return f"{_capital(best.words)} would save {best.net_kwh_saved:,.0f} kWh."
    return ""


def _instead(case: Case, found: Blocks, others: Alternatives) -> str:
    """What to do instead where no setting is worth it."""
    best, told = others.best, []
    if found.humidity.risk == "high":
        told.append(f"And it gets damp: {found.humidity.reason}.")
    if best is not None and best.net_kwh_saved >= max(MUCH_BETTER * found.energy.net_kwh_saved, LEAST_KWH):
        told.append(f"The best setting here, {best.words}, saves {_amount(case, best)}.")
    elif best is None:
        told.append("No setting that was tried saves and keeps the place dry.")
    helps = [one for one in others.would_help if is_worth_it(case, one.net_kwh_saved, one.saved_per_year)]
    told += [f"With {one.words}, it would save {_amount(case, one)}." for one in helps[:1]]
    return " ".join(told)


# Fewer kWh a year are told as none.
LEAST_KWH = 0.5


def _asked(case: Case) -> str:
    rule = case.rule
    if rule.name in ("differential", "return-differential"):
        return f"a differential of {format_quantity(rule.differential, 'difference', case.units)}"
    return f"the rule {rule.name}"


def _amount(case: Case, one: Alternative) -> str:
    return f"{one.net_kwh_saved:,.0f} kWh and {format_money(one.saved_per_year, case.money.currency)} a year"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
