"""Bills made for tests: as a CSV, and as a Green Button file with tiers and a changeover of clocks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from freecool.bills.model import Bill, Bills, bills_of

DENVER = ZoneInfo("America/Denver")
# Of Denver in the standard's words: -7 h, one hour more from the second Sunday of March to the first of November, at 2.
CLOCK = (
    "<LocalTimeParameters><dstEndRule>B40E2000</dstEndRule><dstOffset>3600</dstOffset>"
    "<dstStartRule>360E2000</dstStartRule><tzOffset>-25200</tzOffset></LocalTimeParameters>"
)
READING_TYPE = (
    "<ReadingType><accumulationBehaviour>4</accumulationBehaviour><commodity>1</commodity>"
    "<flowDirection>{flow}</flowDirection><powerOfTenMultiplier>{power}</powerOfTenMultiplier><uom>{uom}</uom>"
    "</ReadingType>"
)
# A dozen meter readings a year, unevenly apart.
READ_ON = (0, 29, 61, 91, 120, 152, 182, 213, 244, 273, 305, 334, 365)


def reading(start_s: int, duration_s: int, value: float, *, tier: int = 0, quality: int | None = None) -> str:
    """An IntervalReading."""
    told = "" if quality is None else f"<ReadingQuality><quality>{quality}</quality></ReadingQuality>"
    tiers = f"<consumptionTier>{tier}</consumptionTier>" if tier else ""
    return (
        f"<IntervalReading><cost>12</cost>{told}<timePeriod><duration>{duration_s}</duration><start>{start_s}</start>"
        f"</timePeriod><value>{value!r}</value>{tiers}</IntervalReading>"
    )


def green_button(
    series: Sequence[tuple[Iterable[str], dict[str, object]]], clock: str = CLOCK, services: Sequence[int] = (0,)
) -> str:
    """A feed of one series or more, each with its reading type."""

    def entry(content: str, own: str, up: str = "", related: Sequence[str] = ()) -> str:
        links = "".join(f'<link rel="related" href="{link}"/>' for link in related)
        return (
            f'<entry><link rel="self" href="{own}"/><link rel="up" href="{up}"/>{links}'
            f'<content><x xmlns="http://naesb.org/espi">{content}</x></content></entry>'
        )

    parts = [entry(clock, "/clock")]
    for number, service in enumerate(services):
        category = f"<UsagePoint><ServiceCategory><kind>{service}</kind></ServiceCategory></UsagePoint>"
        parts.append(entry(category, f"/usage/{number}"))
    parts.append(entry("<Customer><name>A. Nonymous</name><accountId>4711-0815</accountId></Customer>", "/customer"))
    for number, (readings, kind) in enumerate(series):
        meaning = {"flow": 1, "power": 0, "uom": 72} | kind
        blocks, type_ = f"/meter/{number}/block", f"/type/{number}"
        parts.append(entry("<MeterReading/>", f"/meter/{number}", related=(blocks, type_)))
        parts.append(entry(READING_TYPE.format(**meaning), type_))
        parts.append(entry(f"<IntervalBlock>{''.join(readings)}</IntervalBlock>", f"{blocks}/1", blocks))
    return f'<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom">{"".join(parts)}</feed>'


def quarter_hours(first: date, days: int, watt_hours: Callable[[date], int]) -> list[str]:
    """Readings of 15 minutes, by the clock of Denver, a third of each in a second tier, given what each day uses."""
    found = []
    for number in range(days):
        day = first + timedelta(days=number)
        start, end = (int(datetime(one.year, one.month, one.day, tzinfo=DENVER).timestamp()) for one in
                      (day, day + timedelta(days=1)))  # fmt: skip
        each = watt_hours(day) / ((end - start) // 900)
        for second in range(start, end, 900):
            found += [reading(second, 900, each * 2 / 3, tier=1), reading(second, 900, each / 3, tier=2)]
    return found


def monthly_bills(daily_kwh: NDArray[np.float64], factors: Sequence[float] = (1.0,) * 12, year: int = 2018) -> Bills:
    """Twelve bills of a year's daily use, each times a factor."""
    first = date(year, 1, 1)
    return bills_of(
        "made",
        "CSV",
        [
            Bill(
                start=first + timedelta(days=start),
                end=first + timedelta(days=end),
                kwh=float(daily_kwh[start:end].sum()) * factor,
            )
            for start, end, factor in zip(READ_ON, READ_ON[1:], factors, strict=False)
        ],
    )
