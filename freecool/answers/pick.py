"""The differential to set: swept, judged by what sensors leave of it, with reasons."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, ClassVar

from freecool.answers.blocks import answer_blocks
from freecool.answers.break_even import break_even_of
from freecool.answers.contract import (
    LeftOff,
    NetBand,
    PickAnswer,
    PickInputs,
    Sentence,
    WeatherBlock,
    candidate_answer,
    proposal_answer,
)
from freecool.answers.mapped import map_notices, resolved_map
from freecool.answers.notices import code_notice
from freecool.answers.proposals import CodeRule, best_with_limit, codes_own
from freecool.answers.real_years import year_by_year, years_sentence
from freecool.answers.results import (
    Blocks,
    Candidate,
    LimitedCandidate,
    Outcome,
    Setting,
    SettingKind,
    Variation,
)
from freecool.answers.rules import listed_by_code
from freecool.answers.runs import run_pair, simulate
from freecool.answers.scenarios import Progress, run_jobs
from freecool.answers.settings import DIFFERENTIALS_K, SearchSettings
from freecool.answers.sweep import Baseline, make_baseline, outcomes
from freecool.answers.verdict import is_worth_it, share_text
from freecool.cases.model import Case
from freecool.cases.rules import CODE_RULE, RULES
from freecool.cases.sections import RuleCase
from freecool.core.errors import CaseError, Notice
from freecool.core.presentation import Presented
from freecool.core.units import System, format_money, format_quantity, option_text, parse
from freecool.physics.rule import Limits
from freecool.physics.year import YearRun

if TYPE_CHECKING:
    from threading import Event

    import pandas as pd

    from freecool.weather import Weather

PRECOOL_K = tuple(parse(degrees, "difference") for degrees in range(6))
FAN_SHARES = (1.0, 0.8, 0.6, 0.4)
# Within this share of the best a larger differential wins where it spares something worth it: so much of the compressor
# energy avoided in fan energy, or so many hours with the damper open in damp air; our own.
FLAT_SHARE = 0.95
SPARED_FAN_SHARE, SPARED_DAMP_HOURS = 0.05, 10.0


@dataclass(frozen=True, kw_only=True, repr=False)
class DifferentialSweep(Presented):
    """The answer to "which differential do I set here?".

    Attributes
    ----------
    case : Case
    weather : Weather
    candidates : tuple of Candidate
        In rising order of differential.
    best : Candidate or None
        None: leave it off.
    best_ignoring_humidity : Candidate
        The one that would be picked if moisture did not matter.
    flat_k : tuple of float
        Differentials within 5 % of the best under sensor error [K]; empty when none saves.
    proposal : LimitedCandidate or None
        The best differential with a dew-point limit; None where none saves and keeps dry.
    choices : tuple of Setting
        Settings to choose from, the simplest first.
    break_even_differential_k : float
        By the closed form [K].
    peak_differential_k : float
        Where the exact net saving peaks in the sweep [K].
    model_band : tuple of float
        Net kWh at `best` (else at `best_ignoring_humidity`) on the two zone networks.
    precool, fan : tuple of Variation
        Precool depth [K] and share of the fan's power, at `best` (else at `best_ignoring_humidity`); none of a fan that
        runs anyway.
    setting : str
        What to set, alone: how a technician's sheet begins.
    sentence : str
        The same with what it saves.
    reasons : tuple of str
    warnings : tuple of Notice
    """

    job: ClassVar[str] = "pick"

    case: Case
    weather: Weather
    candidates: tuple[Candidate, ...]
    best: Candidate | None
    best_ignoring_humidity: Candidate
    flat_k: tuple[float, ...]
    proposal: LimitedCandidate | None
    choices: tuple[Setting, ...]
    break_even_differential_k: float
    peak_differential_k: float
    model_band: tuple[float, float]
    precool: tuple[Variation, ...]
    fan: tuple[Variation, ...]
    setting: str
    sentence: str
    reasons: tuple[str, ...]
    warnings: tuple[Notice, ...]
    settings: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a differential: hours, kWh, money, moisture, and the spread under sensor error."""
        import pandas as pd

        rows = [
            {
                "differential_k": c.differential_k,
                "permitted_hours": c.outcome.hours.permitted,
                "damp_hours": c.outcome.hours.damp,
                **c.outcome.energy.to_dict(),
                "saved_per_year": c.outcome.money.saved_per_year,
                "net_kwh_p10": c.outcome.net_kwh_p10,
                "net_kwh_p90": c.outcome.net_kwh_p90,
                "saved_p10": c.outcome.saved_p10,
                "rh_over_60_hours_added": c.outcome.humidity.rh_over_60_hours_added,
                "clause_hours_added": c.outcome.humidity.clause_hours_added,
                "risk": c.outcome.humidity.risk,
                "risk_p90": c.outcome.risk_p90,
                "worst_risk": c.outcome.worst_risk,
            }
            for c in self.candidates
        ]
        return pd.DataFrame(rows).set_index("differential_k")

    def picked_case(self) -> Case:
        """The case with the picked differential in its rule.

        Returns
        -------
        Case
            Unchanged where it is to be left off.
        """
        if self.best is None:
            return self.case
        rule = self.case.rule.model_copy(update={"differential": self.best.differential_k})
        return self.case.model_copy(update={"rule": rule})

    def to_dict(self) -> dict[str, Any]:
        """The contract of ``freecool pick --json``.

        Returns
        -------
        dict
            JSON-ready, as `freecool.answers.contract.PickAnswer` tells.
        """
        from freecool.core.version import __version__

        ignoring_humidity_k = self.best_ignoring_humidity.differential_k
        return PickAnswer(
            freecool=__version__,
            verdict=Sentence(text=self.sentence),
            weather=WeatherBlock(**self.weather.to_dict()),
            inputs=PickInputs(
                building=self.case.preset, **self.settings, case=self.case.to_dict(), unit_map=resolved_map(self.case)
            ),
            candidates=tuple(map(candidate_answer, self.candidates)),
            best=LeftOff(differential_k=None) if self.best is None else candidate_answer(self.best),
            best_ignoring_humidity_differential_k=ignoring_humidity_k,
            keenest_differential_k=ignoring_humidity_k,
            flat_differentials_k=self.flat_k,
            proposal=None if self.proposal is None else proposal_answer(self.proposal),
            choices=self.choices,
            break_even_differential_k=self.break_even_differential_k,
            peak_differential_k=self.peak_differential_k,
            model_band=NetBand(net_kwh_saved=self.model_band),
            precool_k=self.precool,
            fan_power_share=self.fan,
            reasons=self.reasons,
            warnings=self.warnings,
        ).to_dict()


def sweep_differential(
    case: Case,
    weather: Weather,
    differentials_k: Sequence[float] = DIFFERENTIALS_K,
    *,
    draws: int = SearchSettings.draws,
    seed: int = 0,
    humidity_ceiling_hours: float = SearchSettings.humidity_ceiling_hours,
    workers: int | None = None,
    progress: Progress | None = None,
    cancel: Event | None = None,
) -> DifferentialSweep:
    """The differential to set on a building in a climate, with reasons.

    Parameters
    ----------
    case : Case
        Its rule must have a differential: "differential" or "return-differential"; the former stands in for a rule that
        the energy code lists and nobody has told.
    weather : Weather
        Of a typical year or real years.
    differentials_k : sequence of float
        To try [K].
    draws : int
        Sensor errors drawn for each differential.
    seed : int
        The same seed gives the same answer.
    humidity_ceiling_hours : float
        Hours a year above 60 % RH that the damper may add.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.
    progress : callable, optional
        Called with (done, all) as the work goes on.
    cancel : threading.Event, optional
        Stops the work when set.

    Returns
    -------
    DifferentialSweep
        The best by the 10th percentile of money saved over sensor errors; within 5 % of it a larger differential that
        spares fan energy or damp hours; nothing that makes the place damp.

    Raises
    ------
    CaseError
        A rule without a differential, or none to try.
    """
    case = _with_differential(case)
    _check(case, differentials_k)
    baseline = make_baseline(case, weather, draws, seed)
    limits = baseline.prepared.limits
    tried = sorted(set(differentials_k))
    rules = [limits._replace(differential_k=difference) for difference in tried]
    found = outcomes(baseline, rules, workers=workers, progress=progress, cancel=cancel)
    candidates = tuple(
        Candidate(differential_k=difference, outcome=outcome) for difference, outcome in zip(tried, found, strict=True)
    )
    listed = [limited.differential_k for limited in rules if listed_by_code(case, limited)]
    choice = choose(candidates, humidity_ceiling_hours, listed)
    proposal = best_with_limit(baseline, tried, humidity_ceiling_hours, workers, cancel)
    own = codes_own(baseline, humidity_ceiling_hours, workers, cancel)
    break_even = break_even_of(case, baseline.prepared)
    band, precool, fan = _variations(baseline, choice.varied_at, workers, cancel)
    reasons = _reasons(candidates, choice, proposal, break_even, humidity_ceiling_hours, case.units)
    return DifferentialSweep(
        case=case,
        weather=baseline.weather,
        candidates=candidates,
        best=choice.best,
        best_ignoring_humidity=choice.best_ignoring_humidity,
        flat_k=choice.flat_k,
        proposal=proposal,
        choices=tuple(_choices(baseline, choice, proposal, own)),
        break_even_differential_k=break_even,
        peak_differential_k=_peak(candidates).differential_k,
        model_band=band,
        precool=precool,
        fan=fan,
        setting=_setting(case, limits, choice.best),
        sentence=_sentence(case, limits, choice, proposal, own, humidity_ceiling_hours),
        reasons=(*reasons, *_years(baseline, choice.best)),
        warnings=(
            *baseline.weather.notices,
            *code_notice(case, limits),
            *map_notices(case, baseline.hours_outside_map),
        ),
        settings={"draws": draws, "seed": seed, "humidity_ceiling_hours": humidity_ceiling_hours},
    )


def _with_differential(case: Case) -> Case:
    """The case with the set-point differential in place of the rule that it has because the energy code lists it."""
    if case.code_zone is not None and case.rule == RuleCase(name=CODE_RULE):
        return case.model_copy(update={"rule": RuleCase(name="differential")})
    return case


def _check(case: Case, differentials_k: Sequence[float]) -> None:
    if not RULES[case.rule.name].takes_differential:
        takes = " or ".join(rule.name for rule in RULES.values() if rule.takes_differential)
        raise CaseError(
            f"The rule is {case.rule.name!r}, which has no differential to pick: use {takes}, or compare rules."
        )
    if not differentials_k:
        raise CaseError("No differential was given to try: give at least one.")


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Which of the candidates is to be set.

    Attributes
    ----------
    best : Candidate or None
        None: leave it off.
    best_ignoring_humidity : Candidate
    flat_k : tuple of float
        Differentials within 5 % of the best that keep the place dry [K]; empty when it is to be left off.
    """

    best: Candidate | None
    best_ignoring_humidity: Candidate
    flat_k: tuple[float, ...]

    @property
    def varied_at(self) -> Candidate:
        """What is varied: the pick, or what would be picked if moisture did not matter."""
        return self.best or self.best_ignoring_humidity


def choose(candidates: Sequence[Candidate], humidity_ceiling_hours: float, listed_k: Container[float] = ()) -> Choice:
    """The candidate to set, given all in rising order, and added hours above 60 % RH that are borne [h/year].

    Parameters
    ----------
    candidates : sequence of Candidate
        In rising order of differential.
    humidity_ceiling_hours : float
        [h/year].
    listed_k : container of float
        Differentials at which the energy code lists the rule [K].

    Returns
    -------
    Choice
        Of those that keep the place dry the best under sensor error; within 5 % of it one that the code lists, and a
        larger one that spares fan energy or damp hours; none where it saves nothing.
    """
    dry = [candidate for candidate in candidates if not candidate.outcome.damp(humidity_ceiling_hours)]
    best = _thriftiest(dry, listed_k) if dry else None
    if best is not None and (best.outcome.score <= 0.0 or best.outcome.energy.net_kwh_saved <= 0.0):
        best = None
    return Choice(
        best=best,
        best_ignoring_humidity=_thriftiest(candidates, listed_k),
        flat_k=() if best is None else tuple(c.differential_k for c in dry if _near(c, best_of(dry))),
    )


def _peak(candidates: Sequence[Candidate]) -> Candidate:
    """Where the exact net saving peaks."""
    return max(candidates, key=lambda candidate: candidate.outcome.energy.net_kwh_saved)


def _variations(
    baseline: Baseline, chosen: Candidate, workers: int | None, cancel: Event | None
) -> tuple[tuple[float, float], tuple[Variation, ...], tuple[Variation, ...]]:
    """(net kWh on both networks, precool depths, shares of the fan's power) at a candidate."""
    # A fan that runs anyway costs the same without the damper.
    shares = FAN_SHARES if baseline.case.fan.mode == "auto" else ()
    second, *varied = run_jobs(
        [
            partial(_on_second_network, baseline, chosen),
            *(partial(_with_precool, baseline, chosen, depth) for depth in PRECOOL_K),
            *(partial(_with_fan_share, baseline, chosen, share) for share in shares),
        ],
        workers=workers,
        cancel=cancel,
    )
    one, other = chosen.outcome.energy.net_kwh_saved, second.net_kwh_saved
    return (min(one, other), max(one, other)), tuple(varied[: len(PRECOOL_K)]), tuple(varied[len(PRECOOL_K) :])


def best_of(candidates: Sequence[Candidate]) -> Candidate:
    """The candidate whose 10th percentile of money saved over sensor errors is highest.

    Parameters
    ----------
    candidates : sequence of Candidate
        At least one.

    Returns
    -------
    Candidate
        The first of equal ones.
    """
    return max(candidates, key=lambda candidate: candidate.outcome.score)


def _near(candidate: Candidate, best: Candidate) -> bool:
    return candidate.outcome.score >= FLAT_SHARE * best.outcome.score > 0.0


def _thriftiest(candidates: Sequence[Candidate], listed_k: Container[float]) -> Candidate:
    """The best; near it rather one that the code lists, and a larger one that spares something worth it."""
    near = [candidate for candidate in candidates if _near(candidate, best_of(candidates))]
    listed = [candidate for candidate in near if candidate.differential_k in listed_k]
    best = best_of(listed or near or candidates)
    spares = [candidate for candidate in listed or near if _spares(candidate, best)]
    return max(spares, key=lambda candidate: candidate.differential_k) if spares else best


def _spares(candidate: Candidate, best: Candidate) -> bool:
    """Whether a candidate has fewer fan kWh or damp hours than the best, by so much that it counts."""
    outcome, other = candidate.outcome, best.outcome
    fan = other.energy.fan_kwh_added - outcome.energy.fan_kwh_added
    damp = other.hours.damp - outcome.hours.damp
    return fan >= SPARED_FAN_SHARE * other.energy.compressor_kwh_avoided > 0.0 or damp >= SPARED_DAMP_HOURS


def _limits(baseline: Baseline, candidate: Candidate) -> Limits:
    return baseline.prepared.limits._replace(differential_k=candidate.differential_k)


def _years(baseline: Baseline, best: Candidate | None) -> tuple[str, ...]:
    """What the pick reaches in most of the real years, with exact sensors."""
    if best is None:
        return ()
    p = baseline.prepared
    fitted = simulate(p.zone, p.unit, p.fan, p.damper, _limits(baseline, best), base=baseline.base)
    by_year = year_by_year(baseline.case, baseline.base, fitted, baseline.weather)
    sentence = years_sentence(by_year, "the pick")
    return (sentence.removesuffix(".") + ", with exact sensors.",) if sentence else ()


def _on_second_network(baseline: Baseline, chosen: Candidate) -> Variation:
    prepared = baseline.prepared._replace(limits=_limits(baseline, chosen))
    return _variation(baseline, chosen.differential_k, *run_pair(prepared, prepared.second))


def _with_precool(baseline: Baseline, chosen: Candidate, depth_k: float) -> Variation:
    prepared = baseline.prepared
    if depth_k == prepared.damper.precool_k:
        return _as_swept(chosen, depth_k)
    damper = prepared.damper._replace(precool_k=depth_k)
    fitted = simulate(prepared.zone, prepared.unit, prepared.fan, damper, _limits(baseline, chosen), base=baseline.base)
    return _variation(baseline, depth_k, baseline.base, fitted)


def _with_fan_share(baseline: Baseline, chosen: Candidate, share: float) -> Variation:
    prepared = baseline.prepared
    if share == 1.0:
        return _as_swept(chosen, share)
    fan = prepared.fan._replace(watts=share * prepared.fan.watts)
    without = simulate(prepared.zone, prepared.unit, fan, prepared.no_damper)
    fitted = simulate(prepared.zone, prepared.unit, fan, prepared.damper, _limits(baseline, chosen), base=without)
    return _variation(baseline, share, without, fitted)


def _as_swept(chosen: Candidate, value: float) -> Variation:
    """The variation that changes nothing: the sweep has run it."""
    return _as_variation(chosen.outcome, value)


def _variation(baseline: Baseline, value: float, without: YearRun, fitted: YearRun) -> Variation:
    return _as_variation(answer_blocks(baseline.case, baseline.weather, without.totals, fitted.totals), value)


def _as_variation(found: Blocks, value: float) -> Variation:
    return Variation(
        value=value,
        net_kwh_saved=found.energy.net_kwh_saved,
        saved_per_year=found.money.saved_per_year,
        rh_over_60_hours_added=found.humidity.rh_over_60_hours_added,
        risk=found.humidity.risk,
    )


def _choices(
    baseline: Baseline, choice: Choice, proposal: LimitedCandidate | None, own: CodeRule | None
) -> Iterator[Setting]:
    """What a technician can choose from, the simplest first."""
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
            listed_by_code(case, _limits(baseline, best)),
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


def _sentence(
    case: Case,
    limits: Limits,
    choice: Choice,
    proposal: LimitedCandidate | None,
    own: CodeRule | None,
    ceiling: float,
) -> str:
    best = choice.best
    if best is None:
        return f"{_why_off(choice, ceiling)}{_instead(case, proposal)}"
    energy, money = best.outcome.energy, best.outcome.money
    small = (
        "" if is_worth_it(case, energy.net_kwh_saved, money.saved_per_year) else ", hardly worth fitting a damper for"
    )
    text = (
        f"{_setting(case, limits, best)} It saves {energy.net_kwh_saved:,.0f} kWh and "
        f"{format_money(money.saved_per_year, money.currency)} a year, "
        f"{share_text(energy.cooling_percent)} of the cooling electricity{small}."
    )
    if own is not None and not listed_by_code(case, limits._replace(differential_k=best.differential_k)):
        zone = case.site.climate_zone
        saves = f"saves {own.outcome.energy.net_kwh_saved:,.0f} kWh"
        text += f" The energy code lists another rule for zone {zone}: {own.words}, which {saves}."
    return text


def _setting(case: Case, limits: Limits, best: Candidate | None) -> str:
    """What to set, and nothing else."""
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


def _reasons(
    candidates: Sequence[Candidate],
    choice: Choice,
    proposal: LimitedCandidate | None,
    break_even: float,
    ceiling: float,
    units: System,
) -> tuple[str, ...]:
    peak, best, ignoring_humidity = _peak(candidates), choice.best, choice.best_ignoring_humidity
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


def _flat_reason(candidates: Sequence[Candidate], choice: Choice, best: Candidate, units: System) -> list[str]:
    """Why this one of those that save about as much."""
    if len(choice.flat_k) < 2:
        return []
    first, last = (_degrees(differential_k, units) for differential_k in (choice.flat_k[0], choice.flat_k[-1]))
    within = f"From {first} to {last} the saving stays within 5 % of the best"
    top = best_of([candidate for candidate in candidates if candidate.differential_k in choice.flat_k])
    if not _spares(best, top):
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
