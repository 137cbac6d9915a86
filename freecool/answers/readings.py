"""Readings judged: what mixed air, read at a damper's positions, says of damper and sensors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from freecool.answers.mixing import LEAST_SPREAD_K, Position, commanded_shares, share_error, share_of
from freecool.core.errors import CaseError
from freecool.core.units import format_both, format_quantity

if TYPE_CHECKING:
    from freecool.cases.model import Case

# What a thermometer in an air stream can show; our own choice.
READABLE_C = (-40.0, 60.0)
# A damper within this share of what was asked is as good as these readings can tell; common practice, no source.
SHARE_TOLERANCE = 0.10

Code = Literal["as_expected", "leaking", "stuck", "short", "sensor_off", "impossible", "too_close"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """What one reading says.

    Attributes
    ----------
    position : {"closed", "half", "full"}
    outdoor_share : float
        By the mixing equation; not a number where it cannot be told [-].
    share_error : float
        How far the sensors alone may put it off [-].
    code : str
        What is found, in one word.
    text : str
        The same in a sentence.
    """

    position: Position
    outdoor_share: float
    share_error: float
    code: Code
    text: str


def check_readings(
    case: Case, outdoor_c: float, return_c: float, mixed_c: Sequence[tuple[Position, float]]
) -> tuple[Finding, ...]:
    """What readings of mixed air say about the damper, given a case, the day's air and the readings.

    Parameters
    ----------
    case : Case
        Its damper and sensors count.
    outdoor_c, return_c : float
        Read at the same time [degC].
    mixed_c : sequence of tuple
        (position, mixed dry bulb [degC]).

    Returns
    -------
    tuple of Finding
        One for each reading, and judged by the sensors' own tolerance.

    Raises
    ------
    CaseError
        A reading that no air here has.
    """
    for stream, reading in (("outdoor", outdoor_c), ("return", return_c), *mixed_c):
        if not READABLE_C[0] <= reading <= READABLE_C[1]:
            low, high = (format_both(bound, "temperature") for bound in READABLE_C)
            raise CaseError(
                f"{stream} air was read as {format_both(reading, 'temperature')}, expected {low} to {high}: read it "
                "again, or give its unit."
            )
    sensor = case.sensors.dry_bulb_error
    wanted = commanded_shares(case)
    if abs(return_c - outdoor_c) < LEAST_SPREAD_K:
        return tuple(
            _found(position, math.nan, math.inf, "too_close", (
                f"{position}: outdoor and return air are within "
                f"{format_quantity(abs(return_c - outdoor_c), 'difference')}; test with at least "
                f"{format_quantity(LEAST_SPREAD_K, 'difference')} between them."
            ))
            for position, _ in mixed_c
        )  # fmt: skip
    shares = {position: share_of(outdoor_c, return_c, mixed) for position, mixed in mixed_c}
    shared_error = _shared_error(shares, wanted, share_error(outdoor_c, return_c, 0.5, sensor))
    if shared_error is not None:
        off = shared_error * (outdoor_c - return_c)
        way = "high" if off > 0.0 else "low"
        return tuple(
            _found(position, share, share_error(outdoor_c, return_c, share, sensor), "sensor_off", (
                f"{position}: mixed air reads {format_quantity(abs(off), 'difference')} too {way} at every position: "
                "the mixed-air sensor is off by so much, or sits where air does not mix."
            ))
            for position, share in shares.items()
        )  # fmt: skip
    stuck = len(shares) > 1 and max(shares.values()) - min(shares.values()) <= SHARE_TOLERANCE
    return tuple(
        _finding(position, share, wanted[position], share_error(outdoor_c, return_c, share, sensor), stuck,
                 abs(return_c - outdoor_c))
        for position, share in shares.items()
    )  # fmt: skip


def _shared_error(shares: dict[Position, float], wanted: dict[Position, float], error: float) -> float | None:
    """By how much all shares miss what was asked alike; None where they do not, or by no more than sensors allow.

    A damper cannot miss alike fully open and closed: one end stops it. A mixed-air sensor does.
    """
    if not {"closed", "full"} <= set(shares):
        return None
    misses = [share - wanted[position] for position, share in shares.items()]
    mean = sum(misses) / len(misses)
    alike = max(misses) - min(misses) <= SHARE_TOLERANCE
    return mean if alike and abs(mean) > max(error, SHARE_TOLERANCE) else None


def _finding(position: Position, share: float, wanted: float, error: float, stuck: bool, spread_k: float) -> Finding:
    band = max(error, SHARE_TOLERANCE)
    said = (
        f"{position}: outdoor share {round(100 * share)} % by the mixing equation, {100 * wanted:.0f} % asked, "
        f"give or take {100 * error:.0f} %"
    )
    if not -band <= share <= 1.0 + band:
        beyond = spread_k * max(-share, share - 1.0)
        return _found(
            position, share, error, "impossible",
            f"{said}; mixed air reads {format_quantity(beyond, 'difference')} outside outdoor and return air, where it "
            "cannot lie: a sensor is off by so much, or sits where air does not mix.",
        )  # fmt: skip
    if abs(share - wanted) <= band:
        return _found(position, share, error, "as_expected", f"{said}: as expected.")
    if stuck:
        return _found(
            position, share, error, "stuck", f"{said}; the share does not follow the command: the damper is stuck."
        )
    if share > wanted and position == "full":
        text = f"{said}: it brings more than was told; set damper.outdoor_share to what is read."
        return _found(position, share, error, "as_expected", text)
    if share > wanted:
        return _found(position, share, error, "leaking", f"{said}; the damper leaks or does not close that far.")
    return _found(
        position, share, error, "short", f"{said}; the damper does not open that far, or its duct is blocked."
    )


def _found(position: Position, share: float, error: float, code: Code, text: str) -> Finding:
    return Finding(position=position, outdoor_share=share, share_error=error, code=code, text=text)
