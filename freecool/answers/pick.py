"""The differential to set: swept, judged by what sensors leave of it, with reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, ClassVar

from freecool.answers.blocks import answer_blocks
from freecool.answers.break_even import break_even_of
from freecool.answers.choice import choose, peak_of
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
from freecool.answers.pick_words import choices_of, equal_rows_reason, reasons_of, sentence_of, setting_of
from freecool.answers.proposals import best_with_limit, codes_own
from freecool.answers.real_years import year_by_year, years_sentence
from freecool.answers.results import (
    Blocks,
    Candidate,
    LimitedCandidate,
    Setting,
    Variation,
)
from freecool.answers.rules import listed_by_code
from freecool.answers.runs import run_pair, simulate
from freecool.answers.scenarios import Progress, run_jobs
from freecool.answers.settings import DIFFERENTIALS_K, SearchSettings
from freecool.answers.sweep import Baseline, make_baseline, outcomes
from freecool.cases.model import Case
from freecool.cases.rules import CODE_RULE, RULES
from freecool.cases.sections import RuleCase
from freecool.core.errors import CaseError, Notice
from freecool.core.presentation import Presented
from freecool.core.units import parse
from freecool.physics.rule import Limits
from freecool.physics.year import YearRun

if TYPE_CHECKING:
    from threading import Event

    import pandas as pd

    from freecool.weather import Weather

PRECOOL_K = tuple(parse(degrees, "difference") for degrees in range(6))
FAN_SHARES = (1.0, 0.8, 0.6, 0.4)


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
    dry_bulb_c = baseline.weather.frame["dry_bulb_c"].to_numpy(float)
    reasons = reasons_of(candidates, choice, proposal, break_even, humidity_ceiling_hours, case.units)
    return DifferentialSweep(
        case=case,
        weather=baseline.weather,
        candidates=candidates,
        best=choice.best,
        best_ignoring_humidity=choice.best_ignoring_humidity,
        flat_k=choice.flat_k,
        proposal=proposal,
        choices=tuple(choices_of(baseline, choice, proposal, own)),
        break_even_differential_k=break_even,
        peak_differential_k=peak_of(candidates).differential_k,
        model_band=band,
        precool=precool,
        fan=fan,
        setting=setting_of(case, limits, choice.best),
        sentence=sentence_of(case, limits, choice, proposal, own, humidity_ceiling_hours),
        reasons=(*reasons, *equal_rows_reason(dry_bulb_c, candidates, case.units), *_years(baseline, choice.best)),
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
