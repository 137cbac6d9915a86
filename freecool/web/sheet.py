"""The sheet on the page: what its link holds beside the case, and what its readings say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from urllib.parse import urlencode

from freecool.answers.commissioning import TEST_DAY, Commissioning, commissioning
from freecool.answers.mixing import POSITIONS, Position
from freecool.answers.readings import Reading, check_readable, check_readings
from freecool.cases.model import Case
from freecool.cases.wording import label_wording
from freecool.core.errors import CaseError, FreecoolError, worded
from freecool.core.units import DIMENSIONS, System, convert, format_quantity, option_text, parse, true_minus
from freecool.web.link import Link, canonical, case_of

TITLES: dict[Position, str] = {"closed": "Damper closed", "half": "Half open", "full": "Fully open"}
AIRS = {"outdoor": "Outdoor", "return": "Return", "mixed": "Mixed", "supply": "Supply"}
ABOUT = {
    "customer": "Customer",
    "address": "Address",
    "place": "Unit and its place",
    "day": "Date and time",
    "technician": "Technician, licence",
}
READ = tuple(f"{position}.{air}" for position in POSITIONS for air in AIRS)
# What the damper must do, and what else is measured: by its number on the sheet, of which a sheet has fewer than these.
MOST_LINES = 20
LINES = tuple(f"{kind}.{number}" for kind in ("seen", "measured") for number in range(MOST_LINES))
OWN = frozenset({*ABOUT, *READ, *LINES, "notes"})
LONGEST = 1_000
# A test day is this much colder than the rooms at least.
COLDER_K = parse("20F", "difference")


@dataclass(frozen=True, kw_only=True)
class Said:
    """What the readings say so far."""

    word: str
    text: str
    causes: tuple[Any, ...] = ()
    positions: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)

    @property
    def slug(self) -> str:
        """The word as a class of the page's style."""
        return self.word.replace(" ", "-")


def split(params: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
    """(what a query says of the sheet, what it says of the case).

    Raises
    ------
    CaseError
        A text too long.
    """
    texts = {key: text.strip().replace("\r\n", "\n") for key, text in params.items() if key in OWN and text.strip()}
    long = next((key for key, text in texts.items() if len(text) > LONGEST), None)
    if long is not None:
        raise CaseError(f"{long} has {len(texts[long]):,} characters, expected at most {LONGEST:,}.")
    return texts, {key: text for key, text in params.items() if key not in OWN}


def query_of(texts: Mapping[str, str], link: Link, case: Case) -> str:
    """The query that says the same in the fewest words."""
    own = urlencode([(key, texts[key]) for key in (*ABOUT, *READ, *LINES, "notes") if key in texts], safe=":/,")
    return "&".join(part for part in (canonical(link, case), own) if part)


def picked_query(link: Link, sweep: Any) -> str:
    """The link to the sheet of a pick: its case with the differential that is to be set."""
    if sweep.best is None:
        return canonical(link, sweep.case)
    picked = option_text(sweep.best.differential_k, "difference", link.units)
    chosen = replace(link, settings={**link.settings, "rule.differential": picked}, search={})
    return canonical(chosen, case_of(chosen))


def in_units(texts: Mapping[str, str], before: System, after: System) -> dict[str, str]:
    """The sheet's texts with its readings in another system, as far as they can be read."""
    unit, told = DIMENSIONS["temperature"].unit(after), dict(texts)
    for key in READ:
        if key in texts:
            try:
                value = convert(_degrees(texts[key], before, key), "temperature", unit)
            except FreecoolError:
                continue
            told[key] = f"{value:.1f}".removesuffix(".0")
    return told


def day_of(case: Case, pressure_pa: float) -> Commissioning:
    """What to expect on a day like that of the paper sheet: return air at set point, outdoor air colder."""
    return_c = case.schedule.cooling
    outdoor_c = min(parse(TEST_DAY[case.units], "temperature"), return_c - COLDER_K)
    return commissioning(case, outdoor_c, return_c, pressure_pa)


def judged(texts: Mapping[str, str], case: Case, pressure_pa: float) -> Said:
    """What the readings say, as far as they are filled in."""
    read: dict[str, float] = {}
    faults: dict[str, str] = {}
    for key in READ:
        if key in texts:
            position, _, air = key.partition(".")
            what = f"“{TITLES[position]}, {AIRS[air].lower()} air”"  # type: ignore[index]
            try:
                read[key] = _degrees(texts[key], case.units, what)
                check_readable(read[key], what)
            except FreecoolError as error:
                faults[key] = worded(error, label_wording)
    if faults:
        return Said(word="cannot be read", text=" ".join(faults.values()), faults=faults)
    if not read:
        return Said(word="not read yet", text="What the readings say stands here as they are filled in.")
    readings = [
        Reading(position=position, **{f"{air}_c": read.get(f"{position}.{air}") for air in AIRS})
        for position in POSITIONS
    ]
    try:
        check = check_readings(case, readings, pressure_pa)
    except CaseError as error:
        return Said(word="not read yet", text=worded(error, label_wording))
    positions: dict[str, str] = {
        finding.position: true_minus(
            f"{_capital(finding.text.partition(': ')[2])} Mixed air of "
            f"{format_quantity(finding.expected_mixed_c, 'temperature', case.units)} was expected."
        )
        for finding in check.positions
    }
    return Said(word=check.word, text=check.text, causes=check.causes, positions=positions)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _degrees(text: str, units: System, what: str) -> float:
    # A keypad of many countries has a comma.
    return parse(text.replace(",", ".").replace("−", "-"), "temperature", units, what)
