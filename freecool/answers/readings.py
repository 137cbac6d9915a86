"""Readings judged: what air temperatures, read at a damper's positions, say of damper and sensors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from freecool.answers.cause_words import percent, words_of
from freecool.answers.causes import STREAMS, Air, Code, Explanation, Judge, Stream
from freecool.answers.mixing import LEAST_SPREAD_K, POSITIONS, Position, commanded_shares, fan_rise_k, mixed_air_error_k
from freecool.core.errors import CaseError
from freecool.core.record import Record, meaning
from freecool.core.units import System, format_both, format_least, format_near, format_quantity

if TYPE_CHECKING:
    from freecool.cases.model import Case

# What a thermometer in an air stream can show; our own choice.
READABLE_C = (-40.0, 60.0)
SEA_LEVEL_PA = 101_325.0

WHERE: dict[Position, str] = {"closed": "shut", "half": "half open", "full": "fully open"}

Word = Literal["in order", "not in order", "cannot be told"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """What was read at one damper position, the compressor off; None: not read.

    Attributes
    ----------
    position : {"closed", "half", "full"}
    outdoor_c, return_c : float or None
        Not read here: as read at the other positions [degC].
    mixed_c, supply_c : float or None
        One of them is needed [degC].
    """

    position: Position
    outdoor_c: float | None = None
    return_c: float | None = None
    mixed_c: float | None = None
    supply_c: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding(Record):
    """What the readings of one position say, taken as they are."""

    position: Position = field(metadata=meaning("`closed`, `half` or `full`"))
    outdoor_share: float | None = field(
        metadata=meaning("of supply air by the mixing equation; null: outdoor and return air are too close", "0-1")
    )
    share_error: float | None = field(metadata=meaning("how far sensors within tolerance may put it off", "0-1"))
    asked_share: float = field(metadata=meaning("what the command asks for", "0-1"))
    expected_mixed_c: float = field(metadata=meaning("mixed air of a damper in order", "°C"))
    code: Literal["as_expected", "more", "less", "outside", "too_close"] = field(
        metadata=meaning("`as_expected`, `more` or `less` outdoor air, `outside` what can mix, or `too_close` to tell")
    )
    text: str = field(metadata=meaning("the same in a sentence"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Cause(Record):
    """One fault that explains the readings."""

    code: Code = field(
        metadata=meaning(
            "`leaks`, `opens_short`, `moves_in_part`, `stuck`, `reversed`, `swapped`, `sensor_off`, `brings_more` or "
            "`unexplained`"
        )
    )
    sensors: tuple[Stream, ...] = field(
        metadata=meaning("that are off or swapped: `outdoor`, `return`, `mixed`, `supply`")
    )
    off_k: float | None = field(metadata=meaning("reading less true value of a sensor that is off, else null", "K"))
    text: str = field(metadata=meaning("the cause in a sentence"))
    check: str = field(metadata=meaning("what to check next"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Unseen(Record):
    """The largest faults that these readings would not show; null: they would show none of the kind."""

    leak_share: float | None = field(metadata=meaning("of supply air, damper shut", "0-1"))
    outdoor_k: float | None = field(metadata=meaning("outdoor sensor off", "K"))
    return_k: float | None = field(metadata=meaning("return sensor off", "K"))
    mixed_k: float | None = field(metadata=meaning("mixed-air sensor off", "K"))


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetCheck(Record):
    """What the readings on a commissioning sheet say."""

    word: Word = field(metadata=meaning("`in order`, `not in order` or `cannot be told`"))
    text: str = field(metadata=meaning("the whole in a sentence"))
    causes: tuple[Cause, ...] = field(
        metadata=meaning("every single fault that explains the readings, the likeliest first")
    )
    positions: tuple[Finding, ...] = field(metadata=meaning("a position each"))
    unseen: Unseen = field(metadata=meaning("the largest faults that would not show"))


def check_readings(case: Case, readings: Sequence[Reading], pressure_pa: float = SEA_LEVEL_PA) -> SheetCheck:
    """What readings say about damper and sensors, given a case, the readings and the pressure.

    Parameters
    ----------
    case : Case
        Its damper, fan, sensors and set points count.
    readings : sequence of Reading
        One a position.
    pressure_pa : float, optional
        Of the site, for the fan's heat [Pa].

    Returns
    -------
    SheetCheck
        One line for all, the causes that fit, and each position.

    Raises
    ------
    CaseError
        A reading that no air here has, a position told twice, or too little read.

    Examples
    --------
    >>> from freecool.cases.model import make_case
    >>> closed = Reading(position="closed", outdoor_c=12.8, return_c=23.9, mixed_c=20.0)
    >>> check = check_readings(make_case(), [closed, Reading(position="full", mixed_c=14.5)])
    >>> check.word, [cause.code for cause in check.causes]
    ('not in order', ['leaks', 'sensor_off'])
    """
    airs = _completed(readings)
    wanted, sensor, units = commanded_shares(case), case.sensors.dry_bulb_error, case.units
    return_c = sum(air.return_c for air in airs) / len(airs)
    judge = Judge(
        airs=tuple(airs),
        wanted=wanted,
        sensor_k=sensor,
        fan_rise_k=fan_rise_k(case, return_c, pressure_pa),
        rooms_c=(case.schedule.heating, case.schedule.cooling),
    )
    # Closer than this closed and open cannot be told apart, whatever is read.
    needed = max(LEAST_SPREAD_K, 2.0 * mixed_air_error_k(0.5, sensor) / (wanted["full"] - wanted["closed"]))
    told = [air for air in airs if abs(air.return_c - air.outdoor_c) >= needed]
    positions = tuple(_finding(air, judge, needed, units) for air in airs)
    if not told:
        spread = max(abs(air.return_c - air.outdoor_c) for air in airs)
        text = (
            f"Outdoor and return air are within {format_quantity(spread, 'difference', units)}; test with at least "
            f"{format_least(needed, 'difference', units)} between them."
        )
        return SheetCheck(word="cannot be told", text=text, causes=(), positions=positions, unseen=_unseen(judge, ()))
    unseen = _unseen(judge, told)
    if judge.fits(judge.as_expected()):
        text = f"Damper and sensors are as expected{_only(airs)}. {_unseen_text(unseen, units)}"
        return SheetCheck(word="in order", text=text, causes=(), positions=positions, unseen=unseen)
    found = judge.faults() or [Explanation(code="unexplained", shares=wanted)]
    causes = tuple(_cause(one, judge, units) for one in found)
    # A damper that brings more than its preset says is no fault.
    word: Word = "in order" if causes[0].code == "brings_more" else "not in order"
    return SheetCheck(word=word, text=_overall(causes), causes=causes, positions=positions, unseen=unseen)


def check_readable(value_c: float, what: str) -> None:
    """Refuse what no thermometer in an air stream shows, given it and what it is.

    Parameters
    ----------
    value_c : float
        As read [degC].
    what : str
        Begins the sentence.

    Raises
    ------
    CaseError
        Out of what is readable.
    """
    if not READABLE_C[0] <= value_c <= READABLE_C[1]:
        low, high = (format_both(bound, "temperature") for bound in READABLE_C)
        raise CaseError(
            f"{what} was read as {format_both(value_c, 'temperature')}, expected {low} to {high}: read it again, or "
            "give its unit."
        )


def _completed(readings: Sequence[Reading]) -> list[Air]:
    """What was read, each position with outdoor and return air; what was not read there is as at the others."""
    seen = [reading.position for reading in readings]
    twice = next((position for position in POSITIONS if seen.count(position) > 1), None)
    if twice is not None:
        raise CaseError(f"The position {twice} was told twice: expected one set of readings for it.")
    for reading in readings:
        for stream in STREAMS:
            value = getattr(reading, f"{stream}_c")
            if value is not None:
                check_readable(value, f"{reading.position}: {stream} air")
    usual = {}
    for stream in ("outdoor", "return"):
        values = [value for reading in readings if (value := getattr(reading, f"{stream}_c")) is not None]
        if not values:
            raise CaseError(f"No {stream} air was read: it is needed at one damper position at least.")
        usual[stream] = sum(values) / len(values)
    airs = [
        Air(
            reading.position,
            usual["outdoor"] if reading.outdoor_c is None else reading.outdoor_c,
            usual["return"] if reading.return_c is None else reading.return_c,
            reading.mixed_c,
            reading.supply_c,
        )
        for reading in readings
        if reading.mixed_c is not None or reading.supply_c is not None
    ]
    if not airs:
        raise CaseError("No mixed or supply air was read: one of them is needed at one damper position at least.")
    return airs


def _finding(air: Air, judge: Judge, needed_k: float, units: System) -> Finding:
    asked, spread = judge.wanted[air.position], abs(air.return_c - air.outdoor_c)
    expected = air.return_c + asked * (air.outdoor_c - air.return_c)
    if spread < needed_k:
        text = f"{air.position}: outdoor and return air are too close to tell."
        return Finding(
            position=air.position, outdoor_share=None, share_error=None, asked_share=asked, expected_mixed_c=expected,
            code="too_close", text=text,
        )  # fmt: skip
    share = judge.share_read(air)
    error = mixed_air_error_k(share, judge.sensor_k) / spread
    band = judge.band_k(asked, spread) / spread
    words = (
        f"{air.position}: outdoor share {percent(share)} by the mixing equation, {percent(asked)} asked, give or "
        f"take {percent(error)}"
    )
    code: Literal["as_expected", "more", "less", "outside"] = "as_expected"
    ending = "as expected."
    if not -band <= share <= 1.0 + band:
        beyond = format_quantity(spread * max(-share, share - 1.0), "difference", units)
        code, ending = "outside", f"mixed air is {beyond} outside outdoor and return air, where it cannot lie."
    elif abs(share - asked) > band * (1.0 + 1e-9):
        code = "more" if share > asked else "less"
        ending = f"{code} outdoor air than asked."
    return Finding(
        position=air.position, outdoor_share=share, share_error=error, asked_share=asked, expected_mixed_c=expected,
        code=code, text=f"{words}: {ending}",
    )  # fmt: skip


def _cause(one: Explanation, judge: Judge, units: System) -> Cause:
    text, check = words_of(one, judge, units)
    sensors = tuple(stream for stream in STREAMS if stream in (one.stream, one.other))
    off = one.off_k if one.code == "sensor_off" else None
    return Cause(code=one.code, sensors=sensors, off_k=off, text=f"{text[0].upper()}{text[1:]}.", check=check)


def _overall(causes: Sequence[Cause]) -> str:
    first, more = causes[0].text, len(causes) - 1
    if causes[0].code == "brings_more":
        return f"{first} Or: {causes[1].text[0].lower()}{causes[1].text[1:]}" if more else first
    if not more:
        return first
    return f"Most likely: {first[0].lower()}{first[1:]} {more} more {'cause fits' if more == 1 else 'causes fit'} too."


def _only(airs: Sequence[Air]) -> str:
    """Where was read, if not both ends of the travel."""
    read = {air.position for air in airs}
    if {"closed", "full"} <= read:
        return ""
    where = " and ".join(WHERE[position] for position in POSITIONS if position in read)
    return f" {where}" + ("; whether the damper moves was not read" if len(read) == 1 else ", where it was read")


def _unseen(judge: Judge, airs: Sequence[Air]) -> Unseen:
    """The smallest of each fault that some reading of mixed air would have shown."""
    least: dict[str, float] = {}
    for air in airs:
        share, spread = judge.wanted[air.position], abs(air.return_c - air.outdoor_c)
        band = judge.band_k(share, spread)
        for kind, part in (("outdoor", share), ("return", 1.0 - share), ("mixed", float(air.mixed_c is not None))):
            if part > 0.0:
                least[kind] = min(least.get(kind, math.inf), band / part)
        if air.position == "closed":
            least["leak"] = band / spread
    return Unseen(
        leak_share=least.get("leak"), outdoor_k=least.get("outdoor"), return_k=least.get("return"),
        mixed_k=least.get("mixed"),
    )  # fmt: skip


def _unseen_text(unseen: Unseen, units: System) -> str:
    parts = [] if unseen.leak_share is None else [f"a leak under {percent(unseen.leak_share)}"]
    for sensor, off in (
        ("an outdoor", unseen.outdoor_k),
        ("a return", unseen.return_k),
        ("a mixed-air", unseen.mixed_k),
    ):
        if off is not None:
            parts.append(f"{sensor} sensor off by less than {format_near(off, 'difference', units)}")
    return f"Too small to show here: {', '.join(parts)}."
