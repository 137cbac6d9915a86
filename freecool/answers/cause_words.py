"""A fault of damper or sensors in words: what it is, how large it looks, and what to check next."""

from __future__ import annotations

from freecool.answers.causes import Explanation, Judge
from freecool.core.units import System, format_near, parse

# Supply air this far from where it should be is not a sensor's error alone; our own.
HEAT_OR_COOLING_K = parse("8F", "difference")
# Common practice, no source.
CHECKS = {
    "brings_more": "Set damper.outdoor_share of the case to what is read.",
    "leaks": "Command it shut and look at the blades: travel, seals, linkage, the actuator's stop.",
    "opens_short": "Command it open and look at the blades: travel, linkage, the actuator's stop; then hood and duct.",
    "moves_in_part": "Look at linkage and actuator while it moves from stop to stop.",
    "stuck": "Look at shaft and actuator while it is commanded: power, signal, the clamp on the shaft, an obstacle.",
    "reversed": "Look at the blades as it is commanded; then the actuator's direction and the control signal, by its "
    "instructions.",
    "swapped": "Warm one sensor by hand and see which reading moves; then the wires, and the columns of the sheet.",
    "unexplained": "Wait until readings are steady and read all four again at each position; check sensors first, the "
    "damper after.",
}
CHECKS_OF_SENSOR = {
    "outdoor": "Put a thermometer beside it, in the shade: sun, exhaust air and a warm wall read high.",
    "return": "Put a thermometer beside it, in the return duct ahead of the damper.",
    "mixed": "Read mixed air at several points across the duct: one point may lie in one stream.",
    "supply": "Put a thermometer beside it, past the fan.",
}
NAMES = {"mixed": "mixed-air"}
HEAT_OR_COOLING_CHECK = "Lock compressor and heat out, wait ten minutes, and read again; then the supply sensor."


def words_of(explanation: Explanation, judge: Judge, units: System) -> tuple[str, str]:
    """What a fault is and what to check next, given it, the readings it explains and a unit system.

    Parameters
    ----------
    explanation : Explanation
        Of a size that fits.
    judge : Judge
        Of the readings.
    units : {"ip", "si"}
        Of what is shown.

    Returns
    -------
    tuple of str
        A phrase that can begin a sentence or follow a colon, and a sentence.
    """
    code, shares, wanted = explanation.code, explanation.shares, judge.wanted
    shut, full = percent(shares["closed"]), percent(shares["full"])
    asked_shut, asked_full = percent(wanted["closed"]), percent(wanted["full"])
    if code == "sensor_off":
        return _sensor_words(explanation, units)
    told = {
        "brings_more": f"the damper brings more than was told, about {full} outdoor air fully open where {asked_full} "
        "was told",
        "leaks": f"the damper leaks or does not close, about {shut} outdoor air where {asked_shut} was asked",
        "opens_short": f"the damper does not open fully or its duct is blocked, about {full} outdoor air where "
        f"{asked_full} was asked",
        "moves_in_part": f"the damper moves through part of its travel, from about {shut} to {full} outdoor air",
        "stuck": f"the damper is stuck {_where(explanation, judge)}, whatever is commanded",
        "reversed": "the damper moves the wrong way, open where shut is asked and shut where open is asked",
        "swapped": f"{explanation.stream} and {explanation.other} air are swapped, in the wiring of the sensors or on "
        "the sheet",
        "unexplained": "no single fault explains these readings",
    }
    return told[code], CHECKS[code]


def _sensor_words(explanation: Explanation, units: System) -> tuple[str, str]:
    off, stream = explanation.off_k, explanation.stream
    size = format_near(abs(off), "difference", units)
    if stream == "supply" and abs(off) >= HEAT_OR_COOLING_K:
        what, colder = ("compressor", "colder") if off < 0.0 else ("heat", "warmer")
        return (
            f"the {what} ran, or the supply sensor is off: supply air reads about {size} {colder} than mixed air and "
            "the fan make it"
        ), HEAT_OR_COOLING_CHECK
    aside = ", or sits where air does not mix" if stream == "mixed" else ""
    return (
        f"the {NAMES.get(stream, stream)} sensor reads about {size} too {'high' if off > 0.0 else 'low'}{aside}",
        CHECKS_OF_SENSOR[stream],
    )


def _where(explanation: Explanation, judge: Judge) -> str:
    share, wanted = explanation.shares["closed"], judge.wanted
    shut, full = wanted["closed"], wanted["full"]
    third = (full - shut) / 3.0
    if share < shut + third / 2.0:
        return "shut"
    return "open" if share > full - third / 2.0 else f"at about {percent(share)} outdoor air"


def percent(share: float) -> str:
    """A share in percent, given it.

    Parameters
    ----------
    share : float
        [-].

    Returns
    -------
    str
        Whole, and never minus nothing.
    """
    return f"{round(100.0 * share) + 0.0:.0f} %"
