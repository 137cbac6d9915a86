"""The JSON answers: one record a job, whose fields are its keys; the schema and the key tables are read from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from freecool.answers.fitted import BillsBlock
from freecool.answers.quotes import OtherQuote
from freecool.answers.results import (
    Alternatives,
    Band,
    Candidate,
    EnergyBlock,
    HoursBlock,
    HumidityBlock,
    IndoorHumidity,
    LikelyBand,
    LimitedCandidate,
    MapBlock,
    Month,
    Mover,
    OpenWindows,
    Outcome,
    RuleResult,
    Setting,
    Spread,
    Variation,
    Verdict,
    Worth,
)
from freecool.core.errors import Notice
from freecool.core.record import Record, meaning


@dataclass(frozen=True, kw_only=True, slots=True)
class WeatherBlock(Record):
    """Where the weather came from, and what was repaired."""

    source: str = field(metadata=meaning("as asked for"))
    kind: str = field(metadata=meaning("of file"))
    name: str = field(metadata=meaning("station or place"))
    latitude: float = field(metadata=meaning("north positive", "degrees"))
    longitude: float = field(metadata=meaning("east positive", "degrees"))
    elevation_m: float = field(metadata=meaning("above sea level", "m"))
    hours: int = field(metadata=meaning("in the record", "h"))
    years: tuple[int, ...] = field(metadata=meaning("calendar years; empty: a typical year"))
    filled_hours: int = field(metadata=meaning("with a missing value that was filled", "h"))
    clipped_hours: int = field(metadata=meaning("whose dew point stood above the dry bulb", "h"))
    repairs: tuple[str, ...] = field(metadata=meaning("a sentence each"))
    invented: bool = field(metadata=meaning("a demonstration, measured nowhere"))
    attribution: str = field(metadata=meaning("owner and licence of the data, where known"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Sentence(Record):
    """The verdict in words."""

    text: str = field(metadata=meaning("the answer in a sentence"))


@dataclass(frozen=True, kw_only=True, slots=True)
class ValueVerdict(Sentence):
    """The verdict."""

    answer: Verdict = field(metadata=meaning("`yes`, `hardly` or `no`"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Inputs(Record):
    """What was understood."""

    building: str = field(metadata=meaning("the preset it started from"))
    case: dict[str, Any] = field(metadata=meaning("every resolved value in SI, see [case-file.md](case-file.md)"))
    unit_map: MapBlock | None = field(default=None, metadata=meaning("the performance map as read, where there is one"))


@dataclass(frozen=True, kw_only=True, slots=True)
class ValueInputs(Inputs):
    """Also the few that matter first."""

    rule: str = field(metadata=meaning("its name"))
    setpoint_c: float = field(metadata=meaning("cooling set point", "°C"))
    differential_k: float = field(metadata=meaning("of the rule", "K"))
    flow_m3_s: float = field(metadata=meaning("supply air", "m³/s"))
    fan_w_per_m3_s: float = field(metadata=meaning("fan power by flow", "W/(m³/s)"))
    price_per_kwh: float = field(metadata=meaning("of electricity", "money/kWh"))


@dataclass(frozen=True, kw_only=True, slots=True)
class CompareInputs(Inputs):
    """Also how sensor errors were drawn."""

    draws: int = field(metadata=meaning("sensor errors drawn"))
    seed: int = field(metadata=meaning("they were drawn from"))


@dataclass(frozen=True, kw_only=True, slots=True)
class PickInputs(CompareInputs):
    """Also the humidity ceiling."""

    humidity_ceiling_hours: float = field(metadata=meaning("added above 60 % RH that are borne", "h/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class NetBand(Record):
    """Low and high over both building models."""

    net_kwh_saved: Band = field(metadata=meaning("low and high over both building models", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class ModelBand(NetBand):
    """Also of the compressor alone."""

    compressor_kwh_avoided: Band = field(metadata=meaning("low and high over both building models", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer(Record):
    """What every answer begins with."""

    freecool: str = field(metadata=meaning("version"))
    verdict: Sentence = field(metadata=meaning("the answer in short"))
    weather: WeatherBlock = field(metadata=meaning("where it came from, what was repaired"))
    inputs: Inputs = field(metadata=meaning("what was understood"))


@dataclass(frozen=True, kw_only=True, slots=True)
class ValueAnswer(Answer):
    """What ``freecool value --json`` prints."""

    verdict: ValueVerdict = field(metadata=meaning("the answer in short"))
    inputs: ValueInputs = field(metadata=meaning("what was understood"))
    hours: HoursBlock = field(metadata=meaning("see [how-it-works.md](how-it-works.md#words)"))
    energy: EnergyBlock = field(metadata=meaning("of compressor, fan and heating"))
    humidity: HumidityBlock = field(metadata=meaning("indoors"))
    indoor_humidity: IndoorHumidity = field(metadata=meaning("its distribution, not only hours past a limit"))
    money: Worth = field(metadata=meaning("what it is worth"))
    break_even_differential_k: float = field(
        metadata=meaning("see [how-it-works.md](how-it-works.md#break-even-differential)", "K")
    )
    model_band: ModelBand = field(metadata=meaning("how far two building models differ"))
    likely_band: LikelyBand = field(metadata=meaning("what buildings like this one save"))
    moved_by: tuple[Mover, ...] = field(metadata=meaning("what the answer rests on, the most first"))
    alternatives: Alternatives = field(metadata=meaning("what else would save here"))
    monthly: tuple[Month, ...] = field(metadata=meaning("the year by months"))
    warnings: tuple[Notice, ...] = field(metadata=meaning("what a reader must know"))
    open_windows: OpenWindows | None = field(
        default=None, metadata=meaning("of a home whose case says nothing of windows, else left out")
    )
    spread: Spread | None = field(default=None, metadata=meaning("with two or more real years, else left out"))
    against: tuple[OtherQuote, ...] | None = field(
        default=None, metadata=meaning("other quotes set beside it with `--against`, else left out")
    )
    bills: BillsBlock | None = field(default=None, metadata=meaning("with bills, else left out"))


@dataclass(frozen=True, kw_only=True, slots=True)
class CandidateAnswer(Outcome):
    """A differential and what it brings."""

    differential_k: float = field(metadata=meaning("below set point or return air", "K"))


@dataclass(frozen=True, kw_only=True, slots=True)
class ProposalAnswer(CandidateAnswer):
    """A differential with a dew-point limit."""

    dew_point_limit_c: float = field(metadata=meaning("outdoors at most", "°C"))


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOff(Record):
    """Leave it off."""

    differential_k: None = field(metadata=meaning("null: leave it off"))


@dataclass(frozen=True, kw_only=True, slots=True)
class PickAnswer(Answer):
    """What ``freecool pick --json`` prints."""

    inputs: PickInputs = field(metadata=meaning("what was understood"))
    candidates: tuple[CandidateAnswer, ...] = field(metadata=meaning("a differential each"))
    best: CandidateAnswer | LeftOff = field(
        metadata=meaning("the candidate to set; its `differential_k` alone, and null, where it is to be left off")
    )
    best_ignoring_humidity_differential_k: float = field(
        metadata=meaning("what would be picked if moisture did not matter", "K")
    )
    keenest_differential_k: float = field(
        metadata=meaning("the same by its older name, `best_ignoring_humidity_differential_k`", "K")
    )
    flat_differentials_k: tuple[float, ...] = field(
        metadata=meaning("within 5 % of the best and not ruled out by moisture; empty when it is to be left off", "K")
    )
    proposal: ProposalAnswer | None = field(
        metadata=meaning("the best differential with a dew-point limit; null: none that was tried saves and keeps dry")
    )
    choices: tuple[Setting, ...] = field(metadata=meaning("settings to choose from, the simplest first"))
    break_even_differential_k: float = field(metadata=meaning("by the closed form", "K"))
    peak_differential_k: float = field(metadata=meaning("where net kWh peaks with exact sensors", "K"))
    model_band: NetBand = field(
        metadata=meaning("how far two building models differ at `best`, else at the best ignoring humidity")
    )
    precool_k: tuple[Variation, ...] = field(metadata=meaning("precool depths"))
    fan_power_share: tuple[Variation, ...] = field(
        metadata=meaning("shares of the fan's power; empty where it runs anyway")
    )
    reasons: tuple[str, ...] = field(metadata=meaning("a sentence each"))
    warnings: tuple[Notice, ...] = field(metadata=meaning("what a reader must know"))


@dataclass(frozen=True, kw_only=True, slots=True)
class TunedAnswer(Outcome):
    """A rule at its own best setting."""

    setting: str = field(metadata=meaning("what is tuned, in words"))
    value_si: float = field(metadata=meaning("the best setting", "SI"))
    dimension: str = field(metadata=meaning("of that value"))
    code_changeover: bool | None = field(
        metadata=meaning("listed by ASHRAE 90.1-2016; null: no zone given, or no commercial building")
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class Net(Record):
    """Net kWh alone."""

    net_kwh_saved: float = field(metadata=meaning("at the published limit", "kWh/year"))


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleAnswer(Outcome):
    """One named rule, at its published limit."""

    name: str = field(metadata=meaning("of the rule"))
    value_si: float = field(metadata=meaning("the limit it ran with, of the same setting that is tuned", "SI"))
    tuned: TunedAnswer = field(metadata=meaning("at its best setting that keeps the place dry, if one does"))
    sensor_in_the_sun: Net = field(metadata=meaning("the outdoor sensor reads high"))
    humidity_drifted: Net = field(metadata=meaning("the humidity sensor reads high"))
    code_changeover: bool | None = field(
        metadata=meaning("listed by ASHRAE 90.1-2016; null: no zone given, or no commercial building")
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class CompareAnswer(Answer):
    """What ``freecool compare --json`` prints."""

    inputs: CompareInputs = field(metadata=meaning("what was understood"))
    climate_zone: str | None = field(metadata=meaning("ASHRAE 169, as given; null: not claimed"))
    thermal_zone: str = field(metadata=meaning("the zone's number by the weather's degree days"))
    rules: tuple[RuleAnswer, ...] = field(metadata=meaning("a rule each, at its published limit"))
    answers: tuple[str, ...] = field(metadata=meaning("a sentence each"))
    warnings: tuple[Notice, ...] = field(metadata=meaning("what a reader must know"))


ANSWERS: dict[str, type[Answer]] = {"value": ValueAnswer, "pick": PickAnswer, "compare": CompareAnswer}
"""The JSON answer of each job."""


def candidate_answer(candidate: Candidate) -> CandidateAnswer:
    """A candidate as its JSON record, given it.

    Parameters
    ----------
    candidate : Candidate
        Of a sweep.

    Returns
    -------
    CandidateAnswer
        Its outcome spread out beside its differential.
    """
    return CandidateAnswer(differential_k=candidate.differential_k, **candidate.outcome.parts())


def proposal_answer(candidate: LimitedCandidate) -> ProposalAnswer:
    """A proposal as its JSON record, given it.

    Parameters
    ----------
    candidate : LimitedCandidate
        With its dew-point limit.

    Returns
    -------
    ProposalAnswer
        The candidate's record and the limit.
    """
    return ProposalAnswer(dew_point_limit_c=candidate.dew_point_limit_c, **candidate_answer(candidate).parts())


def rule_answer(rule: RuleResult) -> RuleAnswer:
    """A rule of a comparison as its JSON record, given it.

    Parameters
    ----------
    rule : RuleResult
        Of a comparison.

    Returns
    -------
    RuleAnswer
        As published, with the tuned rule inside it.
    """
    return RuleAnswer(
        name=rule.name,
        value_si=rule.published_value,
        **rule.published.parts(),
        tuned=TunedAnswer(
            setting=rule.tuned_setting,
            value_si=rule.tuned_value,
            dimension=rule.tuned_dimension,
            code_changeover=rule.tuned_code_changeover,
            **rule.tuned.parts(),
        ),
        sensor_in_the_sun=Net(net_kwh_saved=rule.in_the_sun.energy.net_kwh_saved),
        humidity_drifted=Net(net_kwh_saved=rule.drifted.energy.net_kwh_saved),
        code_changeover=rule.code_changeover,
    )


def json_schema(job: str) -> dict[str, Any]:
    """The JSON schema of a job's answer, given the job's name.

    Parameters
    ----------
    job : {"value", "pick", "compare"}

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.

    Raises
    ------
    KeyError
        No job of that name.

    Examples
    --------
    >>> sorted(json_schema("value")["properties"])[:3]
    ['against', 'alternatives', 'bills']
    """
    from pydantic import TypeAdapter

    return TypeAdapter(ANSWERS[job]).json_schema()
