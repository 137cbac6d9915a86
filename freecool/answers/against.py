"""Two or three quotes side by side: other cases answered on the same weather, and what differs in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from freecool.answers.estimate import Estimate, estimate
from freecool.answers.quotes import Difference, OtherQuote
from freecool.cases.model import Case, case_fields, shown_texts
from freecool.core.errors import CaseError

if TYPE_CHECKING:
    from freecool.weather import Weather

MOST_OTHERS = 2
"""A table of more does not fit a page; our own bound."""


def compare_quotes(case: Case, weather: Weather, others: Sequence[Case], *, workers: int | None = None) -> Estimate:
    """What a damper is worth, with one or two other cases on the same weather beside it.

    Parameters
    ----------
    case : Case
        Which the answer is about.
    weather : Weather
        Of a typical year or real years.
    others : sequence of Case
        One or two, each complete in itself.
    workers : int, optional
        Threads; one a core unless given. The result does not depend on it.

    Returns
    -------
    Estimate
        Of `case`, as `estimate` gives it, with `against` filled.

    Raises
    ------
    CaseError
        None, or more than two.

    Examples
    --------
    >>> from freecool import make_case, open_weather
    >>> thrifty = make_case({"name": "Thrifty fan", "fan": {"power": "0.2W/cfm"}})
    >>> answer = compare_quotes(make_case(), open_weather("demo:high-desert"), [thrifty])
    >>> other = answer.against[0]
    >>> [(each.label, each.here, each.there) for each in other.differs]
    [('Fan power', '0.365 W/cfm', '0.2 W/cfm')]
    >>> other.net_kwh_saved > answer.energy.net_kwh_saved
    True
    """
    if not 1 <= len(others) <= MOST_OTHERS:
        raise CaseError(f"{len(others)} other quotes were given, expected one or two.")
    names = [_name(place, other, (case, *others)) for place, other in enumerate(others, start=2)]
    beside = (
        _beside(case, estimate(other, weather, workers=workers), name)
        for other, name in zip(others, names, strict=True)
    )
    return replace(estimate(case, weather, workers=workers), against=tuple(beside))


def differences(case: Case, other: Case) -> Iterator[Difference]:
    """The values in which another case differs, given both; names and whose offer it is apart.

    Parameters
    ----------
    case : Case
        Of the answer.
    other : Case
        Of another quote.

    Yields
    ------
    Difference
        A value each, in the order of a case file.
    """
    for key, field in case_fields().items():
        if key != "name" and field.table != "quote" and field.value(case) != field.value(other):
            here, there = ("; ".join(shown_texts(one, field, case.units)) for one in (case, other))
            yield Difference(key=key, label=field.label, here=here, there=there)


def _name(place: int, other: Case, all_cases: Sequence[Case]) -> str:
    told = other.name or other.preset
    alike = sum((one.name or one.preset) == told for one in all_cases)
    return told if alike == 1 else f"{told} ({place})"


def _beside(case: Case, other: Estimate, name: str) -> OtherQuote:
    return OtherQuote(
        name=name,
        verdict=other.verdict,
        text=other.sentence,
        differs=tuple(differences(case, other.case)),
        net_kwh_saved=other.energy.net_kwh_saved,
        likely_net_kwh_saved=other.likely_band.net_kwh_saved,
        saved_per_year=other.money.saved_per_year,
        risk=other.humidity.risk,
        clause_hours_added=other.humidity.clause_hours_added,
        case=other.case.to_dict(),
    )
