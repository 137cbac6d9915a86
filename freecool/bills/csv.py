"""Bills from a plain CSV: start, end, kwh and, where it is known, estimated."""

from __future__ import annotations

import csv
import difflib
import math
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from freecool.bills.model import Bill, Bills, bills_of
from freecool.core.errors import BillsError

NEEDED, OPTIONAL = ("start", "end", "kwh"), ("estimated",)
TRUTHS = {"yes": True, "no": False, "": False}
FAULTS_NAMED = 5


def read_csv(text: str, name: str) -> Bills:
    """Bills, given the text of a CSV and the file's name.

    Dates are those of the meter's readings, so that one bill ends on the day on which the next begins; where most bills
    begin on the day after the one before ends, the end counts as its last day.

    Parameters
    ----------
    text : str
        With a header; lines that begin with # before it are comments.
    name : str
        For messages.

    Returns
    -------
    Bills
        In order of time.

    Raises
    ------
    BillsError
        With all faults of the file in one message.
    """
    lines = text.splitlines()
    head = next((row for row, line in enumerate(lines) if line.strip() and not line.startswith("#")), len(lines))
    try:
        rows = [(head + number, row) for number, row in enumerate(csv.reader(lines[head:]), 1) if any(row)]
    except csv.Error as error:
        raise BillsError(f"{name} is no readable CSV ({error}): export it again with commas.") from None
    if not rows:
        raise BillsError(f"{name} is empty, expected a header {','.join(NEEDED)} and a row a bill.")
    titles = [title.strip().lower() for title in rows[0][1]]
    _check_header(name, rows[0][0], titles)
    found, faults = [], []
    for number, row in rows[1:]:
        told = dict(zip(titles, (cell.strip() for cell in row), strict=False))
        wrong = _fault(told)
        if wrong or len(row) != len(titles):
            faults.append(f"row {number}: {wrong or f'{len(row)} fields, expected {len(titles)} as in the header'}")
        else:
            start, end = date.fromisoformat(told["start"]), date.fromisoformat(told["end"])
            estimated = TRUTHS[told.get("estimated", "").lower()]
            found.append(Bill(start=start, end=end, kwh=float(told["kwh"]), estimated=estimated))
    if faults:
        more = f"; and {len(faults) - FAULTS_NAMED} more faults" if len(faults) > FAULTS_NAMED else ""
        raise BillsError(f"{name} {'; '.join(faults[:FAULTS_NAMED])}{more}.")
    return bills_of(name, "CSV", _with_days_after(found))


def _check_header(name: str, number: int, titles: Sequence[str]) -> None:
    lacking = [title for title in NEEDED if titles.count(title) != 1]
    if not lacking:
        return
    unknown = [title for title in titles if title not in (*NEEDED, *OPTIONAL)]
    close = next((hit for title in lacking for hit in difflib.get_close_matches(title, unknown, 1, 0.5)), "")
    hint = f"rename {close!r}" if close else "add it"
    raise BillsError(
        f"{name} row {number}: the header is {','.join(titles)[:60]!r}, expected the columns {', '.join(NEEDED)} once "
        f"each, separated by commas; {', '.join(lacking)} is not there: {hint}."
    )


def _fault(told: dict[str, str]) -> str:
    for column in ("start", "end"):
        try:
            date.fromisoformat(told.get(column, ""))
        except ValueError:
            return f"{column} is {told.get(column, '')[:30]!r}, expected a date such as 2024-07-15"
    try:
        kwh = float(told.get("kwh", ""))
    except ValueError:
        kwh = math.nan
    if not math.isfinite(kwh):
        return f"kwh is {told.get('kwh', '')[:30]!r}, expected a number such as 1234.5"
    if told.get("estimated", "").lower() not in TRUTHS:
        return f"estimated is {told['estimated'][:30]!r}, expected yes, no or nothing"
    return ""


def _with_days_after(periods: Sequence[Bill]) -> list[Bill]:
    """The bills with the day after their last as their end, whichever of both the file tells."""
    ordered = sorted(periods, key=lambda bill: bill.start)
    gaps = [(other.start - one.end).days for one, other in pairwise(ordered)]
    if gaps.count(1) <= gaps.count(0) and all(bill.start < bill.end for bill in ordered):
        return ordered
    day = timedelta(days=1)
    return [Bill(start=bill.start, end=bill.end + day, kwh=bill.kwh, estimated=bill.estimated) for bill in ordered]
