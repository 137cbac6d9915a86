"""What a pick says: the setting, the sentence, the settings to choose from, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from freecool.answers.choice import Choice, best_of, peak_of, spares
from freecool.answers.proposals import CodeRule
from freecool.answers.results import Candidate, LimitedCandidate, Outcome, Setting, SettingKind
from freecool.answers.rules import listed_by_code
from freecool.answers.sweep import Baseline
from freecool.answers.verdict import is_worth_it, share_text
from freecool.cases.model import Case
from freecool.core.units import System, format_money, format_quantity, option_text, parse
from freecool.physics.rule import Limits

if TYPE_CHECKING:
    from freecool.physics.performance_table import FloatArray

# Files tell tenths of a degree; coarser ones whole °F or °C.
COARSE_K = parse("0.9F", "difference")


def choices_of(
    baseline: Baseline, choice: Choice, proposal: LimitedCandidate | None, own: CodeRule | None
) -> Iterator[Setting]:
    """What a technician can choose from, given what was judged.

    Parameters
    ----------
    baseline : Baseline
        The building in its weather.
    choice : Choice
        What was judged.
    proposal : LimitedCandidate or None
        With a dew-point limit.
    own : CodeRule or None
        The energy code's.

    Yields
    ------
    Setting
        The simplest first.
    """
    case, limits = baseline.case, baseline.prepared.limits

    def setting(kind: SettingKind, words: str, options: str, outcome: Outcome, listed: bool | None) -> Setting:
        return Setting(
            kind=kind,
            words=words,
            options=options,
            net_kwh_saved=outcome.energy.net_kwh_saved,
            net_kwh_p10=outcome.net_kwh_p10,
            saved_per_year=outcome.money.saved_per_year,
            risk=outcome.humidity.risk,
            code_changeover=listed,
        )

    if choice.best is not None:
        best = choice.best
        yield setting(
            "simplest control",
            f"differential {_degrees(best.differential_k, case.units)}",
            _differential_option(best, case.units),
            best.outcome,
            listed_by_code(case, limits._replace(differential_k=best.differential_k)),
        )
    if proposal is not None:
        limit, units = proposal.dew_point_limit_c, case.units
        yield setting(
            "best with a dew-point limit",
            f"differential {_degrees(proposal.differential_k, units)} with a {_limit(proposal, units)} dew-point limit",
            f"{_differential_option(proposal, units)} --dew-point-limit {option_text(limit, 'temperature', units)}",
            proposal.outcome,
            listed_by_code(case, limits._replace(differential_k=proposal.differential_k, dew_point_max_c=limit)),
        )
    if own is not None:
        yield setting("the code's own", own.words, own.options, own.outcome, True)


def _differential_option(candidate: Candidate, units: System) -> str:
    return f"--differential {option_text(candidate.differential_k, 'difference', units)}"


def _limit(proposal: LimitedCandidate, units: System) -> str:
    return format_quantity(proposal.dew_point_limit_c, "temperature", units)


def sentence_of(
    case: Case,
    limits: Limits,
    choice: Choice,
    proposal: LimitedCandidate | None,
    own: CodeRule | None,
    ceiling: float,
) -> str:
    """The answer in short: what to set, and what it saves.

    Parameters
    ----------
    case : Case
        Its set point, money and units count.
    limits : Limits
        That its rule means.
    choice : Choice
        What was judged.
    proposal : LimitedCandidate or None
        With a dew-point limit.
    own : CodeRule or None
        The energy code's.
    ceiling : float
        Added hours above 60 % RH that are borne [h/year].

    Returns
    -------
    str
        The energy code's own rule besides, where it does not list the pick.
    """
    best = choice.best
    if best is None:
        return f"{_why_off(choice, ceiling)}{_instead(case, proposal)}"
    energy, money = best.outcome.energy, best.outcome.money
    small = (
        "" if is_worth_it(case, energy.net_kwh_saved, money.saved_per_year) else ", hardly worth fitting a damper for"
    )
    text = (
        f"{setting_of(case, limits, best)} It saves {energy.net_kwh_saved:,.0f} kWh and "
        f"{format_money(money.saved_per_year, money.currency)} a year, "
        f"{share_text(energy.cooling_percent)} of the cooling electricity{small}."
    )
    if own is not None and not listed_by_code(case, limits._replace(differential_k=best.differential_k)):
        zone = case.site.climate_zone
        saves = f"saves {own.outcome.energy.net_kwh_saved:,.0f} kWh"
        text += f" The energy code lists another rule for zone {zone}: {own.words}, which {saves}."
    return text


def setting_of(case: Case, limits: Limits, best: Candidate | None) -> str:
    """What to set, and nothing else.

    Parameters
    ----------
    case : Case
        Its set point, money and units count.
    limits : Limits
        That its rule means.
    best : Candidate or None
        None: leave it off.

    Returns
    -------
    str
        A sentence.
    """
    if best is None:
        return "Free cooling off."
    return f"Differential {_degrees(best.differential_k, case.units)}: the damper opens {_opens(case, limits, best)}."


def _opens(case: Case, limits: Limits, best: Candidate) -> str:
    """Outdoor air that a differential lets in, in words."""
    if limits.from_return_air:
        return f"when it is at least {_degrees(best.differential_k, case.units)} colder outdoors than return air"
    warmest = min(case.schedule.cooling - best.differential_k, limits.dry_bulb_max_c)
    return f"at {format_quantity(warmest, 'temperature', case.units)} outdoors or colder"


def _why_off(choice: Choice, ceiling: float) -> str:
    outcome = choice.best_ignoring_humidity.outcome
    if outcome.energy.net_kwh_saved <= 0.0:
        return "Leave it off: no differential saves more than its fan uses here."
    if not outcome.damp(ceiling):
        return "Leave it off: what it saves, upkeep, added heating and sensor error eat up here."
    return "Leave it off: every differential that saves makes the place damp."


def _instead(case: Case, proposal: LimitedCandidate | None) -> str:
    if proposal is None:
        return ""
    energy, money = proposal.outcome.energy, proposal.outcome.money
    small = "" if is_worth_it(case, energy.net_kwh_saved, money.saved_per_year) else ", hardly worth it"
    return (
        f" With a {_limit(proposal, case.units)} dew-point limit a differential of "
        f"{_degrees(proposal.differential_k, case.units)} saves {energy.net_kwh_saved:,.0f} kWh and "
        f"{format_money(money.saved_per_year, money.currency)} a year{small}."
    )


def _degrees(difference_k: float, units: System) -> str:
    return format_quantity(difference_k, "difference", units)


def reasons_of(
    candidates: Sequence[Candidate],
    choice: Choice,
    proposal: LimitedCandidate | None,
    break_even: float,
    ceiling: float,
    units: System,
) -> tuple[str, ...]:
    """Why this differential.

    Parameters
    ----------
    candidates : sequence of Candidate
        In rising order of differential.
    choice : Choice
        What was judged.
    proposal : LimitedCandidate or None
        With a dew-point limit.
    break_even : float
        By the closed form [K].
    ceiling : float
        Added hours above 60 % RH that are borne [h/year].
    units : {"ip", "si"}
        Whose units are read.

    Returns
    -------
    tuple of str
        A sentence each.
    """
    peak, best, ignoring_humidity = peak_of(candidates), choice.best, choice.best_ignoring_humidity
    reasons = [
        f"The closed form puts break-even at {_degrees(break_even, units)}: closer to the reference, a fan watt cools "
        f"less than the compressor's, drying apart; with exact sensors the sweep's net saving peaks at "
        f"{_degrees(peak.differential_k, units)} with {peak.outcome.energy.net_kwh_saved:,.0f} kWh a year."
    ]
    if best is not None:
        outcome = best.outcome
        risks = f"; their humidity risk is {outcome.risk_p90} at most"
        if outcome.worst_risk != outcome.risk_p90:
            risks += f", {outcome.worst_risk} in the worst of all drawn"
        reasons.append(
            f"Under sensor error 9 of 10 installations at {_degrees(best.differential_k, units)} save at least "
            f"{outcome.net_kwh_p10:,.0f} kWh a year{risks}."
        )
        reasons += _flat_reason(candidates, choice, best, units)
        if best.differential_k != ignoring_humidity.differential_k:
            reasons.append(
                f"{_degrees(ignoring_humidity.differential_k, units)} would save "
                f"{ignoring_humidity.outcome.energy.net_kwh_saved:,.0f} kWh, and is ruled out by moisture."
            )
        reasons += _edge_reason(candidates, best, units)
    if ignoring_humidity.outcome.damp(ceiling):
        reasons.append(
            f"At {_degrees(ignoring_humidity.differential_k, units)} {_why_damp(ignoring_humidity, ceiling)}."
        )
    if proposal is not None:
        outcome = proposal.outcome
        reasons.append(
            f"With a {_limit(proposal, units)} dew-point limit {_degrees(proposal.differential_k, units)} saves "
            f"{outcome.energy.net_kwh_saved:,.0f} kWh a year, humidity risk {outcome.humidity.risk}."
        )
    return tuple(reasons)


def equal_rows_reason(dry_bulb_c: FloatArray, candidates: Sequence[Candidate], units: System) -> tuple[str, ...]:
    """That rows are equal since the weather's temperatures are coarse, where they are.

    Parameters
    ----------
    dry_bulb_c : ndarray
        Of the weather, hour by hour [degC].
    candidates : sequence of Candidate
        In rising order of differential.
    units : {"ip", "si"}
        Whose units are read.

    Returns
    -------
    tuple of str
        A sentence, or none.
    """
    told = np.unique(np.round(dry_bulb_c, 6))
    step = float(np.diff(told).min()) if told.size > 1 else 0.0
    hours = [candidate.outcome.hours for candidate in candidates]
    equal = any(one.permitted == other.permitted not in (0.0, one.period) for one, other in pairwise(hours))
    if step < COARSE_K or not equal:
        return ()
    return (
        f"Rows beside one another are equal where they let the damper open in the same hours: the weather tells "
        f"temperatures in steps of {_degrees(step, units)}.",
    )


def _flat_reason(candidates: Sequence[Candidate], choice: Choice, best: Candidate, units: System) -> list[str]:
    """Why this one of those that save about as much."""
    if len(choice.flat_k) < 2:
        return []
    first, last = (_degrees(differential_k, units) for differential_k in (choice.flat_k[0], choice.flat_k[-1]))
    within = f"From {first} to {last} the saving stays within 5 % of the best"
    top = best_of([candidate for candidate in candidates if candidate.differential_k in choice.flat_k])
    if not spares(best, top):
        return [f"{within}: a larger one spares neither fan nor damp hours worth naming."]
    fan = top.outcome.energy.fan_kwh_added - best.outcome.energy.fan_kwh_added
    damp = top.outcome.hours.damp - best.outcome.hours.damp
    return [
        f"{within}: {_degrees(best.differential_k, units)} spares {max(fan, 0.0):,.0f} kWh of fan and "
        f"{max(damp, 0.0):,.0f} hours open in damp air against {_degrees(top.differential_k, units)}."
    ]


def _edge_reason(candidates: Sequence[Candidate], best: Candidate, units: System) -> list[str]:
    """That the pick stands at the edge of what was tried, where it does; nothing is tried below 0."""
    side = "largest" if best is candidates[-1] else "smallest" if best is candidates[0] else ""
    if len(candidates) < 2 or not side or best.differential_k == 0.0:
        return []
    return [f"{_degrees(best.differential_k, units)} is the {side} that was tried: beyond it may be better."]


def _why_damp(candidate: Candidate, ceiling: float) -> str:
    """The limit that was broken, in words."""
    humidity, outcome = candidate.outcome.humidity, candidate.outcome
    if humidity.risk == "high":
        return f"the humidity risk is high: {humidity.reason}"
    if outcome.risk_p90 == "high":
        return f"the humidity risk is {humidity.risk}, and high under sensor error in more than 1 of 10 installations"
    return (
        f"the damper adds {humidity.rh_over_60_hours_added:,.0f} hours a year above 60 % relative humidity indoors, "
        f"the ceiling is {ceiling:,.0f}"
    )
