"""The one form every file of bills ends in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise

from freecool.core.errors import BillsError, Notice
from freecool.core.record import Record, meaning

LONGEST_PERIOD_DAYS = 100
"""Of one bill: a quarter and a late reading; our own."""
FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(2100, 1, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Bill(Record):
    """What one period used."""

    start: date = field(metadata=meaning("first day"))
    end: date = field(metadata=meaning("day after the last"))
    kwh: float = field(metadata=meaning("that came from the grid, less what went back where the file nets it", "kWh"))
    estimated: bool = field(default=False, metadata=meaning("not read from the meter"))

    @property
    def days(self) -> int:
        """How long it is [days]."""
        return (self.end - self.start).days


@dataclass(frozen=True, kw_only=True, slots=True)
class Bills(Record):
    """Bills in order of time, none of which overlap."""

    name: str = field(metadata=meaning("of the file"))
    kind: str = field(metadata=meaning("CSV or Green Button"))
    periods: tuple[Bill, ...] = field(metadata=meaning("the bills"))
    exports: bool = field(metadata=meaning("some electricity went back to the grid"))
    notices: tuple[Notice, ...] = field(metadata=meaning("what was left out on reading"))

    @property
    def days(self) -> int:
        """Days that are billed [days]."""
        return sum(bill.days for bill in self.periods)

    @property
    def kwh(self) -> float:
        """Of all periods [kWh]."""
        return sum(bill.kwh for bill in self.periods)


def bills_of(
    name: str, kind: str, periods: Sequence[Bill], exports: bool = False, notices: Sequence[Notice] = ()
) -> Bills:
    """Bills in order, given periods in any order.

    Parameters
    ----------
    name : str
        Of the file.
    kind : str
        "CSV" or "Green Button".
    periods : sequence of Bill
        As read.
    exports : bool
        Whether the file tells of electricity that went back; a negative period tells it too.
    notices : sequence of Notice
        What was left out on reading.

    Returns
    -------
    Bills
        In order of time.

    Raises
    ------
    BillsError
        No period, one that ends before it begins or lasts too long, a date that no bill has, or two that overlap.
    """
    if not periods:
        raise BillsError(f"{name} holds no billing period, expected a year of them: export it again.")
    faults = [fault for bill in periods if (fault := _fault(bill))]
    ordered = sorted(periods, key=lambda bill: bill.start)
    faults += [
        f"the bills from {one.start} and from {other.start} overlap: keep one of them"
        for one, other in pairwise(ordered)
        if other.start < one.end
    ]
    if faults:
        more = f"; and {len(faults) - 3} more faults" if len(faults) > 3 else ""
        raise BillsError(f"{name}: {'; '.join(faults[:3])}{more}.")
    return Bills(
        name=name,
        kind=kind,
        periods=tuple(ordered),
        exports=exports or any(bill.kwh < 0.0 for bill in ordered),
        notices=tuple(notices),
    )


def _fault(bill: Bill) -> str:
    if not FIRST_DAY <= bill.start < bill.end <= LAST_DAY:
        last = bill.end - timedelta(days=1)
        return f"a bill goes from {bill.start} to {last}, expected a first day and a later last one"
    if bill.days > LONGEST_PERIOD_DAYS:
        return (
            f"the bill from {bill.start} lasts {bill.days} days, expected at most {LONGEST_PERIOD_DAYS}: give each "
            "reading of the meter its row"
        )
    return ""
