"""Whole years damaged in every kind: refused, or the undamaged answer, or named in the quality account.

``python tests/test_weather_damage.py 500 [seed]`` prints the table of that many mutants.
"""

from __future__ import annotations

import gzip
import sys
import tempfile
import time
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pvlib
import pytest
from stress import amount
from weather_damage import KINDS, Kind, file_of

from freecool import make_case
from freecool.answers.blocks import answer_blocks
from freecool.answers.prepare import prepare
from freecool.answers.runs import run_pair
from freecool.core.errors import FreecoolError
from freecool.weather import Weather, open_weather

CARRIED = ("723170TYA.CSV", "703165TY.csv", "12839.tm2")
KEPT = (
    "724666TYA_GoldenNREL_TMY3.csv",
    "724839TYA_Sacramento_TMY3.csv",
    "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw",
)
TOLERANCE = 0.05
"""Of the kWh avoided in a small office, and `SLACK_KWH` on top: what filling and rounding may move (our own limit)."""
SLACK_KWH = 5.0
LONGEST_S = 30.0
"""Our own limit for reading one year; it takes a fifth of a second."""
OFFICE = make_case(preset="small-office")


class Outcome(NamedTuple):
    """What became of one mutant."""

    verdict: str
    """"refused", "same", "named", "silent" or "broken"."""
    text: str


class Known(NamedTuple):
    """An undamaged file: its answer, and what is said of it."""

    avoided: float
    net: float
    codes: frozenset[str]
    notes: tuple[str, ...]


def answer(weather: Weather) -> tuple[float, float]:
    """Compressor kWh avoided and net kWh in the small office."""
    prepared = prepare(OFFICE, weather)
    pair = run_pair(prepared, prepared.zone)
    energy = answer_blocks(OFFICE, weather, pair.without.totals, pair.fitted.totals).energy
    return energy.compressor_kwh_avoided, energy.net_kwh_saved


@cache
def year(name: str) -> Weather:
    if name in CARRIED:
        return open_weather(Path(pvlib.__file__).parent / "data" / name)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(gzip.decompress((Path(__file__).parent / "weather" / f"{name}.gz").read_bytes()))
        return open_weather(path)


def read(text: str, form: str) -> Weather:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / ("a.epw" if form == "epw" else "a.csv")
        path.write_text(text, encoding="utf-8")
        return open_weather(path, allow_gaps=True)


@cache
def undamaged(name: str, form: str) -> Known:
    weather = read(file_of(year(name), form).written(), form)
    codes = frozenset(notice.code for notice in weather.notices)
    return Known(*answer(weather), codes, weather.quality.notes)


def tried(kind: Kind, seed: int, names: tuple[str, ...]) -> Outcome:
    """What becomes of one mutant, given its kind and seed."""
    random = np.random.default_rng(seed)
    name, form = str(random.choice(names)), str(random.choice(kind.forms))
    file = file_of(year(name), form)
    what = f"{kind.name} seed {seed}: {name} as {form}, {kind.damage(random, file)}"
    known = undamaged(name, form)
    started = time.perf_counter()
    try:
        weather = read(file.written(), form)
    except FreecoolError as error:
        sound = "\n" not in str(error) and len(str(error)) < 2_000
        return Outcome("refused" if sound else "broken", f"{what} -> {error}")
    except Exception as error:
        return Outcome("broken", f"{what} -> {error!r}")
    if time.perf_counter() - started > LONGEST_S:
        return Outcome("broken", f"{what} -> {time.perf_counter() - started:.0f} s")
    _, net = answer(weather)
    told = {notice.code for notice in weather.notices} - known.codes
    text = f"{what} -> {net:.0f} for {known.net:.0f} kWh, {', '.join(sorted(told)) or 'nothing said'}"
    if abs(net - known.net) <= TOLERANCE * abs(known.avoided) + SLACK_KWH:
        return Outcome("same", text)
    return Outcome("named" if told or weather.quality.notes != known.notes else "silent", text)


@pytest.mark.parametrize("kind", amount(KINDS[::4], KINDS), ids=lambda kind: kind.name)
def test_damage_is_refused_harmless_or_named(kind: Kind) -> None:
    outcome = tried(kind, 1, CARRIED)
    wrong = {"broken"} if kind.unseen else {"broken", "silent"}
    assert outcome.verdict not in wrong, outcome.text


def test_a_silent_error_would_be_seen() -> None:
    # What no reader sees stands for what one forgot.
    elevation = next(kind for kind in KINDS if kind.name == "wrong_elevation_without_pressure")
    assert tried(elevation, 1, CARRIED[:1]).verdict == "silent"


def table(mutants: int, seed: int) -> None:
    """Print what became of many mutants, kind by kind."""
    counted: dict[str, Counter[str]] = defaultdict(Counter)
    for number in range(mutants):
        kind = KINDS[number % len(KINDS)]
        outcome = tried(kind, seed + number, CARRIED + KEPT)
        counted[kind.name][outcome.verdict] += 1
        if outcome.verdict == "broken" or (outcome.verdict == "silent" and not kind.unseen):
            print(f"{outcome.verdict}: {outcome.text}", flush=True)
    verdicts = ("refused", "same", "named", "silent", "broken")
    print(f"\n| kind | {' | '.join(verdicts)} |\n| --- |{' ---: |' * len(verdicts)}")
    for kind in sorted(KINDS, key=lambda kind: bool(kind.unseen)):
        counts = " | ".join(str(counted[kind.name][verdict]) for verdict in verdicts)
        print(f"| {kind.name}{' (unseen)' if kind.unseen else ''} | {counts} |")


if __name__ == "__main__":
    table(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
