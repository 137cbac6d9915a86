"""The page of climates: what is picked, and which rule wins, on open weather files, beside published guidance.

``python docs/build/climates.py [FOLDER ...]`` prints it. Without a folder it takes the three files that pvlib
carries and those in ``tests/weather``.
"""

from __future__ import annotations

import gzip
import math
import sys
import tempfile
import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from freecool.answers.comparison import RulesCompared, compare_rules
from freecool.answers.estimate import Estimate, estimate
from freecool.answers.pick import DifferentialSweep, sweep_differential
from freecool.answers.results import Outcome, RuleResult
from freecool.answers.sweep import make_baseline, outcomes
from freecool.cases.model import make_case
from freecool.cases.rules import FIXED_DRY_BULB_F, NO_DIFFERENTIAL_DRY_BULB, RULES
from freecool.core.units import convert, format_quantity, parse
from freecool.physics.rule import Limits
from freecool.weather import Weather, open_weather
from freecool.weather.climate_zone import thermal_zone

KEPT = Path(__file__).parents[2] / "tests" / "weather"
DRAWS = 40
HOUSE, OFFICE = "detached-house-light", "small-office"
# The set-point differential is our own addition; the others are the rules of the standards.
STANDARD_RULES = tuple(name for name in RULES if name != "differential")
# The fixed dry-bulb limits that ASHRAE 90.1-2016 table 6.5.1.1.3 knows [degF].
DRY_BULB_F = tuple(sorted(set(FIXED_DRY_BULB_F.values())))
# Two rules whose saving differs by less than this share are alike; our own threshold.
ALIKE_SHARE = 0.02
# California Title 24-2016: differential dry bulb by California climate zone, off above return air less this [degF];
# the 2 degF from memory.
CALIFORNIA_F = dict.fromkeys((1, 3, 5, *range(11, 17)), 0) | dict.fromkeys((2, 4, 10), 2)
CALIFORNIA_F |= dict.fromkeys((6, 8, 9), 4) | {7: 6}
# PNNL-SA-86706, building re-tuning guide: where dry bulb is used in a humid climate, this far below return air [degF].
PNNL_F = (5, 10)
# Every differential below return air that is run: California's, PNNL's, and all between.
BELOW_RETURN_F = tuple(range(11))
SHOWN_F = sorted({*CALIFORNIA_F.values(), *PNNL_F})


INTRO = """# Climates

<!-- Written by `python docs/build/climates.py > docs/climates.md`; change that file, not this page. -->

What Freecool picks, and which rule saves most, on open typical-year weather; beside what others have published.
The buildings are the presets `{house}` (fan *auto*) and `{office}` (fan *continuous*), unchanged.
kWh are net of the fan, a year. *p10* is what nine of ten installations reach when sensors err within their tolerance
({draws} drawn errors). Humidity risk goes by published clauses; all is explained in [how-it-works.md](how-it-works.md).

An estimate, not a design, and one building each: an answer for another building is a command away.

## The weather

The zone's number follows from the file's degree days. Its letter is that of the place in ASHRAE 169's list (from
memory): it rests on rainfall, which weather files do not carry reliably.
"""
VALUES = """
## What it is worth

`freecool value`: the verdict as it is told, what else could be set that keeps the place dry, and what 8 of 10 buildings
like it save with what was asked, by what the case does not tell. The house is asked with its preset's differential of
5 °F; the office, whose zone is given, with the rule that the energy code lists there.
"""
PICKS = """
## What is picked

The differential is below the set point. *Without the veto* is what would be picked if moisture did not matter.
"""
RULES_TEXT = """
## Which rule

`{office}`, `freecool compare`: the rule that saves most under sensor error, each as published for the zone,
moisture left aside; then each tuned to the best setting that keeps the place dry.
"""
LIMITS = """
## Beside ASHRAE 90.1: fixed dry bulb

`{office}`. The limit of ASHRAE 90.1-2016 table 6.5.1.1.3 for the zone, and our best limit from 55 to 75 °F that
keeps the place dry. *Differential dry bulb* is outdoor air below return air; the table does not allow it in 1A to 4A.
"""
BELOW_RETURN = """
## Beside California and PNNL: a differential below return air

`{office}`, p10 in kWh at the differentials below return air that are published: California Title 24-2016 by its
own climate zones (0 °F in zones 1, 3, 5, 11–16; 2 °F in 2, 4, 10, from memory; 4 °F in 6, 8, 9; 6 °F in 7), and 5 to
10 °F in the PNNL re-tuning guide (PNNL-SA-86706: dry bulb is not advised in humid climates; if used, 5 to 10 °F below
return air). A `!` marks a high humidity risk.
"""
TAYLOR_CHENG = """
## Beside Taylor and Cheng

Taylor and Cheng (ASHRAE Journal, November 2010) find that with real sensor error a fixed dry-bulb limit does best in
most climates. Here in `{office}`, the five rules of the standards under sensor error: each as published for the
zone, then fixed dry bulb at the best of 65, 70 and 75 °F; moisture left aside. The last two columns let moisture veto.
"""
AGREE = """
## Where we agree

"""
DIFFER = """
## Where we differ, and why

"""


class Place(NamedTuple):
    """Where a weather file is from: ASHRAE 169 climate zone of the county (from memory), California's own zone."""

    name: str
    zone: str
    california: int | None = None


PLACES = {
    "12839.tm2": Place("Miami FL", "1A"),
    "722040TYA_MelbourneFL_TMY3.csv": Place("Melbourne FL", "2A"),
    "USA_GA_Atlanta-Hartsfield-Jackson.Intl.AP.722190_TMY3.epw": Place("Atlanta GA", "3A"),
    "724839TYA_Sacramento_TMY3.csv": Place("Sacramento CA", "3B", 12),
    "723170TYA.CSV": Place("Greensboro NC", "4A"),
    "723650TYA_Albuquerque_TMY3.csv": Place("Albuquerque NM", "4B"),
    "USA_IL_Chicago.OHare.Intl.AP.725300_TMY3.epw": Place("Chicago IL", "5A"),
    "USA_CO_Denver.Intl.AP.725650_TMY3.epw": Place("Denver CO", "5B"),
    "724666TYA_GoldenNREL_TMY3.csv": Place("Golden CO", "5B"),
    "703165TY.csv": Place("Sand Point AK", "7"),
}


class Climate(NamedTuple):
    """A weather file and everything that was asked of it."""

    file: str
    place: Place | None
    weather: Weather
    worth: dict[str, Estimate]
    """By preset."""
    house: DifferentialSweep
    office: DifferentialSweep
    below_return: DifferentialSweep
    compared: RulesCompared
    dry_bulb: tuple[Outcome, ...]
    """Fixed dry bulb in the office at each of `DRY_BULB_F`."""

    @property
    def name(self) -> str:
        """The place, as short as it is known."""
        return self.place.name if self.place else self.weather.location.name

    def rule(self, name: str) -> RuleResult:
        """A rule's result in the office."""
        return self.compared.rules[list(RULES).index(name)]

    @property
    def best_dry_bulb(self) -> tuple[float, Outcome]:
        """Of `DRY_BULB_F` the limit that saves most under sensor error, moisture left aside, and what it brings."""
        return max(zip(DRY_BULB_F, self.dry_bulb, strict=True), key=lambda pair: pair[1].score)

    @property
    def dry_bulb_wins(self) -> bool:
        """Whether fixed dry bulb at its best limit is alike to, or better than, every other rule as published."""
        best = _best_published(self)
        return self.best_dry_bulb[1].net_kwh_p10 >= best - ALIKE_SHARE * abs(best)


def default_files(folder: Path) -> list[Path]:
    """The weather files of `PLACES` in its order: pvlib's own, and those of the tests, decompressed into a folder."""
    import pvlib

    for kept in KEPT.glob("*.gz"):
        (folder / kept.stem).write_bytes(gzip.decompress(kept.read_bytes()))
    carried = Path(pvlib.__file__).parent / "data"
    return [next(path for path in (carried / name, folder / name) if path.is_file()) for name in PLACES]


def files_in(folder: Path) -> list[Path]:
    """The weather files of a folder, by name."""
    return sorted(path for path in folder.glob("*") if path.suffix.lower() in (".epw", ".csv", ".tm2"))


def run_climate(path: str | Path, draws: int = DRAWS) -> Climate:
    """Everything that the page tells of one weather file."""
    file = Path(path).name
    place, weather = PLACES.get(file), open_weather(path)
    site = {"climate_zone": place.zone} if place else {}
    office = make_case({"site": site}, preset=OFFICE)
    from_return = make_case({"site": site, "rule": {"name": "return-differential"}}, preset=OFFICE)
    steps = [parse(degrees, "difference") for degrees in BELOW_RETURN_F]
    limits = [Limits(dry_bulb_max_c=parse(degrees, "temperature")) for degrees in DRY_BULB_F]
    return Climate(
        file,
        place,
        weather,
        {HOUSE: estimate(make_case(preset=HOUSE), weather), OFFICE: estimate(office, weather)},
        sweep_differential(make_case(preset=HOUSE), weather, draws=draws),
        sweep_differential(office, weather, draws=draws),
        sweep_differential(from_return, weather, steps, draws=draws),
        compare_rules(office, weather, draws=draws),
        tuple(outcomes(make_baseline(office, weather, draws, seed=0), limits)),
    )


def climates_page(files: Sequence[str | Path], draws: int = DRAWS) -> str:
    """The page of climates as Markdown, given weather files and how many sensor errors to draw."""
    climates = [run_climate(file, draws) for file in files]
    houses, offices = ([getattr(climate, kind) for climate in climates] for kind in ("house", "office"))
    return "".join(
        [
            INTRO.format(house=HOUSE, office=OFFICE, draws=draws),
            _table(("place", "file", "zone number by degree days", "ASHRAE 169"), map(_weather_row, climates)),
            VALUES,
            *(
                f"\n### What it is worth: {preset}\n"
                + _table(
                    ("place", "verdict", "what else keeps it dry", "net kWh", "risk", "buildings like it, net kWh"),
                    [_value_row(climate, climate.worth[preset]) for climate in climates],
                )
                for preset in (HOUSE, OFFICE)
            ),
            PICKS,
            *(
                f"\n### {preset}\n"
                + _table(
                    ("place", "break-even", "pick", "net kWh", "p10", "risk", "without the veto", "net kWh", "risk"),
                    map(_pick_row, climates, sweeps),
                )
                for preset, sweeps in ((HOUSE, houses), (OFFICE, offices))
            ),
            RULES_TEXT.format(office=OFFICE),
            _table(("place", "as published", "net kWh", "p10", "risk", "tuned and dry", "net kWh", "p10", "risk"),
                   map(_rule_row, climates)),
            LIMITS.format(office=OFFICE),
            _table(("place", "90.1 limit", "net kWh", "p10", "risk", "best and dry", "net kWh", "p10", "risk",
                    "differential dry bulb, risk"), map(_limit_row, climates)),
            BELOW_RETURN.format(office=OFFICE),
            _table(("place", *(f"{degrees} °F" for degrees in SHOWN_F), "California's", "picked"),
                   map(_below_return_row, climates)),
            TAYLOR_CHENG.format(office=OFFICE),
            _table(("place", "most as published", "p10", "fixed dry bulb", "p10", "most of the dry", "p10"),
                   map(_winner_row, climates)),
            AGREE + _bullets(_agreements(climates)),
            DIFFER + _bullets(_differences(climates)),
        ]
    )  # fmt: skip


def _weather_row(climate: Climate) -> tuple[str, ...]:
    zone = climate.place.zone if climate.place else "not claimed"
    return climate.name, f"`{climate.file}`", thermal_zone(climate.weather), zone


def _value_row(climate: Climate, answer: Estimate) -> tuple[str, ...]:
    best, reach = answer.alternatives.best, answer.likely_band.net_kwh_saved
    other = ("none that was tried", "", "") if best is None else (best.words, _kwh(best.net_kwh_saved), best.risk)
    return climate.name, answer.sentence, *other, f"{_kwh(reach.low)} to {_kwh(reach.high)}"


def _pick_row(climate: Climate, sweep: DifferentialSweep) -> tuple[str, ...]:
    best, best_ignoring_humidity = sweep.best, sweep.best_ignoring_humidity
    pick = ("leave it off", "", "", "")
    if best is not None:
        pick = (format_quantity(best.differential_k, "difference"), *_saving(best.outcome), best.outcome.humidity.risk)
    return (
        climate.name,
        format_quantity(sweep.break_even_differential_k, "difference"),
        *pick,
        format_quantity(best_ignoring_humidity.differential_k, "difference"),
        _kwh(best_ignoring_humidity.outcome.energy.net_kwh_saved),
        best_ignoring_humidity.outcome.humidity.risk,
    )


def _rule_row(climate: Climate) -> tuple[str, ...]:
    rules = climate.compared.rules
    published = max(rules, key=lambda rule: rule.published.score)
    dry = [rule for rule in rules if not rule.tuned.damp()]
    tuned = max(dry, key=lambda rule: rule.tuned.score) if dry else None
    row = (climate.name, published.name, *_saving(published.published), published.published.humidity.risk)
    if tuned is None:
        return (*row, "none stays dry", "", "", "")
    setting = f"{tuned.name} at {format_quantity(tuned.tuned_value, tuned.tuned_dimension)}"
    return (*row, setting, *_saving(tuned.tuned), tuned.tuned.humidity.risk)


def _limit_row(climate: Climate) -> tuple[str, ...]:
    rule = climate.rule("fixed-dry-bulb")
    limit = FIXED_DRY_BULB_F.get(climate.place.zone, 75.0) if climate.place else 75.0
    listed = climate.place is not None and climate.place.zone not in NO_DIFFERENTIAL_DRY_BULB
    differential = climate.rule("return-differential").published.humidity.risk
    return (
        climate.name,
        f"{limit:.0f} °F",
        *_saving(rule.published),
        rule.published.humidity.risk,
        format_quantity(rule.tuned_value, rule.tuned_dimension),
        *_saving(rule.tuned),
        rule.tuned.humidity.risk,
        f"{differential}, {'allowed' if listed else 'not allowed' if climate.place else 'zone unknown'}",
    )


def _below_return_row(climate: Climate) -> tuple[str, ...]:
    california = climate.place.california if climate.place else None
    told = "" if california is None else f"zone {california}: {CALIFORNIA_F[california]} °F"
    best = climate.below_return.best
    found = [climate.below_return.candidates[degrees].outcome for degrees in SHOWN_F]
    cells = [_kwh(outcome.net_kwh_p10) + " !" * (outcome.humidity.risk == "high") for outcome in found]
    return (
        climate.name,
        *cells,
        told,
        "leave it off" if best is None else format_quantity(best.differential_k, "difference"),
    )


def _winner_row(climate: Climate) -> tuple[str, ...]:
    degrees, dry_bulb = climate.best_dry_bulb
    best, winners = _winners([(name, climate.rule(name).published) for name in STANDARD_RULES])
    dry = [(name, climate.rule(name).published) for name in STANDARD_RULES]
    dry = [(name, outcome) for name, outcome in dry if not outcome.damp()]
    kept, keepers = _winners(dry) if dry else ("", "none")
    return climate.name, winners, best, f"at {degrees:.0f} °F", _kwh(dry_bulb.net_kwh_p10), keepers, kept


def _winners(rules: Sequence[tuple[str, Outcome]]) -> tuple[str, str]:
    """(p10, names of the rules that reach it to the kWh)."""
    best = _kwh(max(outcome.net_kwh_p10 for _, outcome in rules))
    names = [name for name, outcome in rules if _kwh(outcome.net_kwh_p10) == best]
    return best, "all alike" if len(names) == len(STANDARD_RULES) else ", ".join(names)


def _agreements(climates: Sequence[Climate]) -> list[str]:
    count = len(climates)
    known = [climate for climate in climates if climate.place]
    humid = [climate for climate in known if climate.place and climate.place.zone in NO_DIFFERENTIAL_DRY_BULB]
    dry = [climate for climate in known if climate not in humid]
    damp, damp_elsewhere = ([c for c in group if _damp(c, "return-differential")] for group in (humid, dry))
    texts = [
        "Taylor and Cheng: with its limit chosen for the climate and moisture left aside, fixed dry bulb does best "
        f"under sensor error, or comes within {ALIKE_SHARE * 100:.0f} % of the best rule as published, in "
        f"{sum(c.dry_bulb_wins for c in climates)} of {count} places. A rule with two sensors adds their errors.",
        "ASHRAE 90.1 does not allow differential dry bulb in zones 1A to 4A. Here its humidity risk is high in "
        f"{len(damp)} of {len(humid)} places there, and in {len(damp_elsewhere)} of {len(dry)} places elsewhere.",
        "ASHRAE 90.1: the fixed dry-bulb limit lies within 2 °F of our best limit that keeps the place dry in "
        f"{sum(_limit_agrees(c) for c in known)} of {len(known)} places.",
        f"PNNL: of the humid places, 1A to 4A, {sum(_in_pnnl(c.below_return) for c in humid)} of {len(humid)} get a "
        f"pick for the office of {PNNL_F[0]} to {PNNL_F[1]} °F below return air. In the house, whose fan is paid for, "
        f"{sum(_in_pnnl(c.house) for c in climates)} of {count} picks lie there too, below the set point.",
    ]
    for climate in known:
        if climate.place and climate.place.california is not None and climate.below_return.best is not None:
            zone, best = climate.place.california, climate.below_return.best
            published = climate.below_return.candidates[CALIFORNIA_F[zone]].outcome
            texts.append(
                f"California: {climate.name} is in its climate zone {zone}, differential {CALIFORNIA_F[zone]} °F. That "
                f"reaches {_kwh(published.net_kwh_p10)} kWh under sensor error; our pick, "
                f"{format_quantity(best.differential_k, 'difference')}, {_kwh(best.outcome.net_kwh_p10)}."
            )
    return texts


def _differences(climates: Sequence[Climate]) -> list[str]:
    fixed = [c for c in climates if c.rule("fixed-dry-bulb").published.net_kwh_p10 >= _best_published(c)]
    reading = [c for c in climates if _dry_winner_reads_humidity(c)]
    small = [c for c in climates if c.below_return.best and not _in_pnnl(c.below_return)]
    damp, damp_enthalpy, damp_return = (
        _names(c for c in climates if _damp(c, rule))
        for rule in ("fixed-dry-bulb", "differential-enthalpy", "return-differential")
    )
    return [
        "Taylor and Cheng: at the 90.1 limit of the zone fixed dry bulb does best, or as well as any, in "
        f"{len(fixed)} of {len(climates)} places. The low limits of the humid zones give saving away to keep damp air "
        f"out. When moisture may veto, a rule that reads humidity does best in {_names(reading)}. Their study weighs "
        "energy, in an office of its own, with errors of ±2 °F and ±4 % RH (from memory); ours are ±2 °F and ±5 % RH, "
        "every error as likely as another.",
        "ASHRAE 90.1 limits energy, not moisture; its limits keep moisture out all the same. By the clauses the fixed "
        f"dry-bulb limit of the zone makes the risk high in {damp}; differential enthalpy, listed for every zone, in "
        f"{damp_enthalpy}; differential dry bulb in {damp_return}.",
        f"PNNL: outside 5 to 10 °F below return air lie the office picks of {_names(small)}. The office's fan runs "
        "anyway, so that every degree saves, and where it is dry nothing speaks against it; the guide's figure is "
        "meant for humid climates.",
        "California: its larger differentials, 2 to 6 °F, belong to other zones, the mild coast above all. No file "
        "here lies in one, so they are not compared.",
        "Our humidity is one well-mixed lump, and how large a share of damp hours is too large is our own: a place "
        "near a limit may fall on the other side of it in another model.",
    ]


def _best_published(climate: Climate) -> float:
    return max(climate.rule(name).published.net_kwh_p10 for name in STANDARD_RULES)


def _dry_winner_reads_humidity(climate: Climate) -> bool:
    kept = [r for r in map(climate.rule, STANDARD_RULES) if not r.published.damp()]
    return bool(kept) and RULES[max(kept, key=lambda rule: rule.published.score).name].reads_humidity


def _damp(climate: Climate, rule: str) -> bool:
    return climate.rule(rule).published.humidity.risk == "high"


def _limit_agrees(climate: Climate) -> bool:
    limit = FIXED_DRY_BULB_F.get(climate.place.zone, math.nan) if climate.place else math.nan
    return abs(convert(climate.rule("fixed-dry-bulb").tuned_value, "temperature", "F") - limit) < 2.0 + 1e-6


def _in_pnnl(sweep: DifferentialSweep) -> bool:
    low, high = PNNL_F
    return sweep.best is not None and low <= round(convert(sweep.best.differential_k, "difference", "F"), 6) <= high


def _names(climates: Iterable[Climate]) -> str:
    return ", ".join(climate.name for climate in climates) or "none"


def _saving(outcome: Outcome) -> tuple[str, str]:
    return _kwh(outcome.energy.net_kwh_saved), _kwh(outcome.net_kwh_p10)


def _kwh(value: float) -> str:
    return f"{round(value) + 0.0:,.0f}"


def _bullets(texts: Iterable[str]) -> str:
    return "".join(f"{textwrap.fill(text, 118, initial_indent='- ', subsequent_indent='  ')}\n" for text in texts)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n" + "".join("| " + " | ".join(line) + " |\n" for line in lines)


if __name__ == "__main__":
    told = [file for folder in sys.argv[1:] for file in files_in(Path(folder))]
    with tempfile.TemporaryDirectory() as unpacked:
        print(climates_page(told or default_files(Path(unpacked))), end="")
