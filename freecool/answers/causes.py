"""What could explain readings of a damper: every fault tried on them, and those that fit in order of likelihood."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple, get_args

from freecool.answers.mixing import POSITIONS, Position, mixed_air_error_k, share_of
from freecool.core.units import parse

# A damper within this share of what was asked is as good as these readings can tell; common practice, no source.
SHARE_TOLERANCE = 0.10
# What a thermometer's last digit hides, however good it is; our own.
DIGIT_K = parse("0.1F", "difference")
# How far a sensor that still works may be off, and how far a running compressor or heat moves supply air; our own.
MOST_OFF_K = parse("15F", "difference")
MOST_SUPPLY_OFF_K = parse("60F", "difference")
# A damper that misses more of its travel than this is stuck; our own.
MOST_MISSED = 0.8
# Steps in which a fault's size is looked for: a hundredth of supply air, a quarter of a degree.
STEPS = 100
STEP_OFF_K = parse("0.25F", "difference")
# Three sensors that err to the same side at once put mixed air off by twice the tolerance of one; the band, which adds
# them as independent errors, is sqrt(1.5) of it half open.
ALL_AT_ONCE = 2.0 / math.sqrt(1.5)
# Outdoor and return air change by less than this from one position to the next; our own.
STEADY_K = parse("4F", "difference")
# What each more of these costs a fault in likelihood, as its logarithm: a sensor off by so much, a damper that misses
# its whole travel, return air so far past the rooms it comes from; our own.
OFF_K, OFF_COST = parse("10F", "difference"), 1.0
TRAVEL_COST = 2.0
ROOM_K, ROOM_COST = parse("10F", "difference"), 1.0

Stream = Literal["outdoor", "return", "mixed", "supply"]
STREAMS: tuple[Stream, ...] = get_args(Stream)
Code = Literal[
    "as_expected", "brings_more", "leaks", "opens_short", "moves_in_part", "stuck", "reversed", "swapped",
    "sensor_off", "unexplained",
]  # fmt: skip
# How seldom each is met, as the logarithm of odds; our own judgement of common practice, no source.
SELDOM: dict[Code, float] = {
    "as_expected": 0.0, "brings_more": 0.5, "leaks": 1.0, "opens_short": 1.2, "stuck": 1.5, "sensor_off": 1.5,
    "reversed": 1.8, "swapped": 2.2, "moves_in_part": 2.2,
}  # fmt: skip


class Air(NamedTuple):
    """What was read at one position, supply air and one of mixed and supply air perhaps left out [degC]."""

    position: Position
    outdoor_c: float
    return_c: float
    mixed_c: float | None
    supply_c: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Explanation:
    """One fault of one size, as it would look.

    Attributes
    ----------
    code : str
        What it is, in one word.
    shares : mapping of str to float
        Outdoor share of supply air at each position [-].
    stream : str
        Whose sensor is off, or one of two that are swapped; empty: none.
    other : str
        The other that is swapped; empty: none.
    off_k : float
        Reading less true value of that sensor [K].
    missed : float
        Share of the damper's travel that is missing [-].
    """

    code: Code
    shares: Mapping[Position, float]
    stream: Stream | Literal[""] = ""
    other: Stream | Literal[""] = ""
    off_k: float = 0.0
    missed: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Judge:
    """How well explanations fit readings.

    Attributes
    ----------
    airs : tuple of Air
        As read.
    wanted : mapping of str to float
        Outdoor share asked for at each position [-].
    sensor_k : float
        What each sensor may be off [K].
    fan_rise_k : float
        Supply less mixed air [K].
    rooms_c : tuple of float
        Least and most that rooms are held at [degC].
    """

    airs: tuple[Air, ...]
    wanted: Mapping[Position, float]
    sensor_k: float
    fan_rise_k: float
    rooms_c: tuple[float, float]

    @cached_property
    def read_shares(self) -> Mapping[Position, float]:
        """The outdoor share that each position's readings tell [-]."""
        return {air.position: self.share_read(air) for air in self.airs}

    def share_read(self, air: Air) -> float:
        """The outdoor share that a position's readings tell, by the mixing equation.

        Parameters
        ----------
        air : Air
            Of one position.

        Returns
        -------
        float
            By mixed air, else by supply air less the fan's heat; not a number where outdoor is return air [-].
        """
        mixed = air.mixed_c
        if mixed is None:
            assert air.supply_c is not None
            mixed = air.supply_c - self.fan_rise_k
        return math.nan if air.return_c == air.outdoor_c else share_of(air.outdoor_c, air.return_c, mixed)

    def band_k(self, share: float, spread_k: float) -> float:
        """How far mixed air may be from what is expected of it without a fault.

        Parameters
        ----------
        share : float
            The outdoor share [-].
        spread_k : float
            Between outdoor and return air [K].

        Returns
        -------
        float
            The larger of what three sensors within tolerance and a damper within its own make of it [K].
        """
        return max(mixed_air_error_k(share, self.sensor_k), SHARE_TOLERANCE * spread_k, DIGIT_K)

    def misses(self, explanation: Explanation) -> list[float]:
        """How far each reading of mixed and supply air is from an explanation.

        Parameters
        ----------
        explanation : Explanation
            A fault of some size.

        Returns
        -------
        list of float
            In bands: 1 is as far as sensors and damper may be off without a fault [-].
        """
        found = []
        for air in self.airs:
            true, share = _true(air, explanation), explanation.shares[air.position]
            mixed = true["return"] + share * (true["outdoor"] - true["return"])
            band = self.band_k(share, abs(true["return"] - true["outdoor"]))
            if air.mixed_c is not None:
                found.append((true["mixed"] - mixed) / band)
            if air.supply_c is not None:
                # The fan's heat is known to about half of it: its watts and flow are seldom both measured.
                band = math.hypot(band, 0.5 * self.fan_rise_k)
                found.append((true["supply"] - mixed - self.fan_rise_k) / band)
        return found

    def fits(self, explanation: Explanation, bands: float = 1.0) -> bool:
        """Whether every reading is as near to an explanation as sensors and damper allow.

        Parameters
        ----------
        explanation : Explanation
            A fault of some size.
        bands : float, optional
            How near that is [-].

        Returns
        -------
        bool
            With rounding's slack.
        """
        return max(map(abs, self.misses(explanation))) <= bands + 1e-9

    def unlikelihood(self, explanation: Explanation) -> float:
        """How unlikely an explanation is beside the others: a band is two standard deviations.

        Parameters
        ----------
        explanation : Explanation
            A fault of some size.

        Returns
        -------
        float
            Minus the logarithm of its odds, but for a constant [-].
        """
        true = [_true(air, explanation) for air in self.airs]
        return_c = sum(air["return"] for air in true) / len(true)
        beyond = max(self.rooms_c[0] - return_c, return_c - self.rooms_c[1], 0.0)
        return (
            SELDOM[explanation.code]
            + 2.0 * sum(miss**2 for miss in self.misses(explanation))
            + _unsteady([air["outdoor"] for air in true])
            + _unsteady([air["return"] for air in true])
            + OFF_COST * abs(explanation.off_k) / OFF_K
            + TRAVEL_COST * explanation.missed
            + ROOM_COST * beyond / ROOM_K
        )

    def as_expected(self) -> Explanation:
        """No fault.

        Returns
        -------
        Explanation
            Shares as asked for.
        """
        return Explanation(code="as_expected", shares=self.wanted)

    def faults(self) -> list[Explanation]:
        """Every fault that fits, each in the size that fits best.

        Returns
        -------
        list of Explanation
            The likeliest first; where none fits, those that do once all three sensors err to the same side.
        """
        return self._faults(1.0) or self._faults(ALL_AT_ONCE)

    def _faults(self, bands: float) -> list[Explanation]:
        best: dict[tuple[str, str, str, bool], tuple[float, Explanation]] = {}
        for one in (*self._of_the_damper(), *self._of_the_sensors()):
            if self.fits(one, bands):
                kind, cost = (one.code, one.stream, one.other, one.off_k > 0.0), self.unlikelihood(one)
                if kind not in best or cost < best[kind][0]:
                    best[kind] = cost, one
        named = {one.code for _, one in best.values()}
        # A damper that misses one end is no longer one that moves in part.
        return [
            one
            for _, one in sorted(best.values(), key=lambda pair: pair[0])
            if one.code != "moves_in_part" or not named & {"leaks", "opens_short"}
        ]

    def _of_the_damper(self) -> Iterator[Explanation]:
        shut, full = self.wanted["closed"], self.wanted["full"]
        for step in range(1, STEPS + 1):
            part = step / STEPS
            leak, less, more = shut + part * (full - shut), full - part * (full - shut), full + part * (1.0 - full)
            if part <= MOST_MISSED:
                yield Explanation(code="leaks", shares=self._between(leak, full), missed=part)
                yield Explanation(code="opens_short", shares=self._between(shut, less), missed=part)
            if more > full:
                yield Explanation(code="brings_more", shares=self._between(shut, more))
        for step in range(STEPS + 1):
            part = step / STEPS
            # One position alone does not tell whether the damper moves.
            missed = 0.0 if len(self.airs) > 1 else 0.5
            yield Explanation(code="stuck", shares=dict.fromkeys(POSITIONS, part), missed=missed)
            # The share of a damper fully open is a preset's: it may bring more.
            most = full + part * (1.0 - full)
            half = 0.5 * (shut + most)
            yield Explanation(code="reversed", shares=_shares(most, half, shut))
            for one, other in self._pairs():
                yield Explanation(code="swapped", shares=_shares(shut, half, most), stream=one, other=other)
        low, high = self.read_shares.get("closed", math.nan), self.read_shares.get("full", math.nan)
        if shut <= low < high - SHARE_TOLERANCE and high <= full:
            missed = 1.0 - (high - low) / (full - shut)
            yield Explanation(code="moves_in_part", shares=self._between(low, high), missed=missed)

    def _between(self, low: float, high: float) -> dict[Position, float]:
        """Shares of a damper that goes from one to another: half open it brings about what lies midway."""
        middle, wanted = 0.5 * (low + high), self.wanted["half"]
        read = self.read_shares.get("half", middle)
        half = min(max(read, min(middle, wanted)), max(middle, wanted))
        return _shares(low, min(max(half, low), high), high)

    def _of_the_sensors(self) -> Iterator[Explanation]:
        for stream in STREAMS:
            if any(_as_read(air)[stream] is not None for air in self.airs):
                steps = round((MOST_SUPPLY_OFF_K if stream == "supply" else MOST_OFF_K) / STEP_OFF_K)
                for off in (step * STEP_OFF_K for step in range(-steps, steps + 1)):
                    # Within its tolerance a sensor is as it should be.
                    if abs(off) > self.sensor_k:
                        yield Explanation(code="sensor_off", shares=self.wanted, stream=stream, off_k=off)

    def _pairs(self) -> list[tuple[Stream, Stream]]:
        """Streams that may have been taken for one another; supply air is too like mixed air to tell."""
        pairs: list[tuple[Stream, Stream]] = [("outdoor", "return"), ("outdoor", "mixed"), ("return", "mixed")]
        return pairs if all(air.mixed_c is not None for air in self.airs) else pairs[:1]


def _as_read(air: Air) -> dict[Stream, float | None]:
    return dict(zip(STREAMS, air[1:], strict=True))


def _true(air: Air, explanation: Explanation) -> dict[Stream, float]:
    """The air that a position had, were an explanation true [degC]; not a number where it was not read."""
    read = {stream: math.nan if value is None else value for stream, value in _as_read(air).items()}
    one, other = explanation.stream, explanation.other
    if one and other:
        read[one], read[other] = read[other], read[one]
    elif one:
        read[one] -= explanation.off_k
    return read


def _unsteady(temperatures: Sequence[float]) -> float:
    mean = sum(temperatures) / len(temperatures)
    return sum(((value - mean) / STEADY_K) ** 2 for value in temperatures)


def _shares(closed: float, half: float, full: float) -> dict[Position, float]:
    return dict(zip(POSITIONS, (closed, half, full), strict=True))
