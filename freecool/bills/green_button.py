"""Bills from the open Green Button format: NAESB REQ.21 ESPI, XML within an Atom feed.

Only readings, their type, the kind of service and the clock are read: no name, address or account. Codes are those of
the standard's schema (from memory).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, timedelta, tzinfo
from io import BytesIO
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from freecool.bills.espi_clock import EspiClock
from freecool.bills.model import Bill, Bills, bills_of
from freecool.core.errors import BillsError, Notice

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

ELECTRICITY, WATT_HOURS = "0", "72"
FORWARD, REVERSE, NET = "1", "19", "4"
DELTA = ("4", "0", "")
"""Accumulation: what each interval used, rather than a meter's standing; untold counts as that."""
ESTIMATED = {"8", "9", "10", "12"}
"""Qualities: by a reference day, by interpolation, questionable, projected."""
SHORTEST_DAY_S = 20 * 3_600
"""From here on a reading is a period of days; a day of clock change has 23 hours. Our own."""


class Reading(NamedTuple):
    """One reading as the file has it."""

    start_s: int
    """Since 1970 in UTC."""
    duration_s: int
    tier: str
    value: float
    estimated: bool


class _Feed:
    """What is kept of a feed while it is read."""

    def __init__(self) -> None:
        self.services: list[str] = []
        self.types: dict[str, dict[str, str]] = {}
        self.related: list[set[str]] = []
        self.blocks: dict[str, list[Reading]] = defaultdict(list)
        self.clock: EspiClock | None = None


def read_green_button(content: bytes, name: str, *, time_zone: str | None = None) -> Bills:
    """Bills, given the content of a Green Button file and its name.

    Tiers and times of use of one interval are added up; of several series of one meter the finest counts.

    Parameters
    ----------
    content : bytes
        XML; a document type or an entity is refused.
    name : str
        For messages.
    time_zone : str, optional
        IANA name, where the file does not tell its clock.

    Returns
    -------
    Bills
        A reading of days as it is, finer ones summed to whole days.

    Raises
    ------
    BillsError
        No such file, several meters, or no electricity in watt hours.
    """
    feed = _read_feed(content, name)
    meters = [kind for kind in feed.services if kind == ELECTRICITY]
    if len(meters) > 1:
        raise BillsError(f"{name} holds {len(meters)} electricity meters, expected one: export each by itself.")
    forward, exports = _series(feed, name)
    finest = min(forward, key=lambda one: min(reading.duration_s for reading in one))
    readings, notices = _added_up(finest, name)
    if len(forward) > 1:
        text = f"Of {len(forward)} series of this meter in {name} the one of the shortest intervals counts."
        notices.append(Notice("series_left_out", text))
    periods, more = _periods(readings, _clock(feed, readings, time_zone, name))
    return bills_of(name, "Green Button", periods, exports, [*notices, *more])


def _read_feed(content: bytes, name: str) -> _Feed:
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    feed, known = _Feed(), False
    try:
        for _, element in iterparse(BytesIO(content), forbid_dtd=True):
            known = known or "naesb.org/espi" in element.tag
            if _tag(element) == "entry":
                _keep(element, feed, name)
                element.clear()
    except DefusedXmlException:
        raise BillsError(
            f"{name} declares a document type or entities, which no Green Button file needs: export it again."
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        raise BillsError(f"{name} is no readable XML ({error}): export it again.") from None
    if not known:
        raise BillsError(f"{name} is no Green Button file: expected XML of http://naesb.org/espi.")
    return feed


def _keep(entry: Element, feed: _Feed, name: str) -> None:
    links: dict[str, list[str]] = defaultdict(list)
    for child in entry:
        if _tag(child) == "link":
            links[child.get("rel", "")].append(child.get("href", ""))
    own, above = "".join(links["self"][:1]), "".join(links["up"][:1])
    for part in entry.iter():
        kind = _tag(part)
        if kind == "ServiceCategory":
            feed.services.append(_texts(part).get("kind", ""))
        elif kind == "ReadingType":
            feed.types[own] = _texts(part)
        elif kind == "MeterReading":
            feed.related.append(set(links["related"]))
        elif kind == "LocalTimeParameters":
            feed.clock = EspiClock.of(_texts(part), name)
        elif kind == "IntervalBlock":
            feed.blocks[above] += (_reading(item, name) for item in part if _tag(item) == "IntervalReading")


def _reading(element: Element, name: str) -> Reading:
    told = _texts(element)
    period: dict[str, str] = {}
    estimated = False
    for child in element:
        if _tag(child) == "timePeriod":
            period = _texts(child)
        elif _tag(child) == "ReadingQuality":
            estimated = estimated or _texts(child).get("quality") in ESTIMATED
    try:
        start, duration, value = int(period["start"]), int(period["duration"]), float(told["value"])
        datetime.fromtimestamp(start + duration, UTC)
        if duration <= 0 or not math.isfinite(value):
            raise ValueError
    except (KeyError, ValueError, OverflowError, OSError):
        raise BillsError(
            f"{name}: an IntervalReading holds start {period.get('start', '')[:20]!r}, duration "
            f"{period.get('duration', '')[:20]!r} and value {told.get('value', '')[:20]!r}, expected whole seconds and "
            "a number: export it again."
        ) from None
    tier = f"{told.get('tou', '')}/{told.get('consumptionTier', '')}"
    return Reading(start, duration, tier, value, estimated)


def _series(feed: _Feed, name: str) -> tuple[list[list[Reading]], bool]:
    """Readings of electricity from the grid [Wh], a list a series, and whether some went back."""
    forward, exports, units = [], False, set()
    for place, readings in feed.blocks.items():
        kind = _type_of(place, feed, name)
        units.add(kind.get("uom", ""))
        if not readings or kind.get("uom") != WATT_HOURS or kind.get("accumulationBehaviour", "") not in DELTA:
            continue
        scale = 10.0 ** _power(kind.get("powerOfTenMultiplier", "0"), name)
        scaled = [reading._replace(value=scale * reading.value) for reading in readings]
        flow = kind.get("flowDirection", FORWARD)
        if flow == REVERSE:
            exports = exports or any(reading.value != 0.0 for reading in scaled)
        elif flow in (FORWARD, NET, "0"):
            forward.append(scaled)
    if not forward:
        found = f"units {', '.join(sorted(units))}" if units else "no readings"
        raise BillsError(
            f"{name} holds no electricity from the grid in watt hours by interval (uom 72, flowDirection 1; it has "
            f"{found}): export energy, not power or a meter's standing."
        )
    return forward, exports


def _power(text: str, name: str) -> int:
    try:
        power = int(text)
    except ValueError:
        power = 99
    if abs(power) > 12:
        raise BillsError(f"{name}: powerOfTenMultiplier is {text[:20]!r}, expected -12 to 12: export it again.")
    return power


def _type_of(place: str, feed: _Feed, name: str) -> dict[str, str]:
    """The reading type of blocks, by the links of their meter reading; the only one where there is but one."""
    linked = [kind for links in feed.related if place in links for own, kind in feed.types.items() if own in links]
    found = linked or list(feed.types.values())
    if len(found) != 1:
        raise BillsError(
            f"{name}: a block of readings belongs to {len(found)} reading types, expected one: export it again."
        )
    return found[0]


def _added_up(series: list[Reading], name: str) -> tuple[list[Reading], list[Notice]]:
    """One reading an interval: tiers added, repeats dropped."""
    tiers: dict[tuple[int, int], dict[str, Reading]] = defaultdict(dict)
    repeats = 0
    for reading in series:
        kept = tiers[reading.start_s, reading.duration_s].setdefault(reading.tier, reading)
        repeats += kept is not reading
        if kept.value != reading.value:
            when = datetime.fromtimestamp(reading.start_s, UTC)
            raise BillsError(
                f"{name} tells {kept.value:g} and {reading.value:g} Wh of one interval ({when:%Y-%m-%d %H:%M} UTC): "
                "export it again."
            )
    found = []
    for (start, duration), parts in sorted(tiers.items()):
        value, estimated = sum(one.value for one in parts.values()), any(one.estimated for one in parts.values())
        found.append(Reading(start, duration, "", value, estimated))
    notices = [Notice("repeated_readings", f"{repeats:,} repeated readings in {name} count once.")] if repeats else []
    return found, notices


def _clock(feed: _Feed, readings: list[Reading], time_zone: str | None, name: str) -> tzinfo | None:
    """The clock of the file or the one given; None where periods of days need none."""
    if feed.clock is not None:
        return feed.clock
    if time_zone:
        try:
            return ZoneInfo(time_zone)
        except (ValueError, OSError, ZoneInfoNotFoundError):
            raise BillsError(
                f"time_zone is {time_zone[:40]!r}: expected an IANA name such as America/Denver."
            ) from None
    if min(reading.duration_s for reading in readings) < SHORTEST_DAY_S:
        raise BillsError(
            f"{name} does not tell its clock (LocalTimeParameters), which readings finer than a day need: give "
            "{time_zone}, such as America/Denver.",
            time_zone=None,
        )
    return None


def _periods(readings: list[Reading], clock: tzinfo | None) -> tuple[list[Bill], list[Notice]]:
    """Readings of days as they are, finer ones as whole days."""
    long = [reading for reading in readings if reading.duration_s >= SHORTEST_DAY_S]
    periods = [
        Bill(
            start=_midnight(reading.start_s, clock),
            end=_midnight(reading.start_s + reading.duration_s, clock),
            kwh=reading.value / 1000.0,
            estimated=reading.estimated,
        )
        for reading in long
    ]
    days: dict[date, list[Reading]] = defaultdict(list)
    for reading in readings:
        if reading.duration_s < SHORTEST_DAY_S:
            days[datetime.fromtimestamp(reading.start_s, clock).date()].append(reading)
    whole = dict(_whole_days(days, clock))
    left_out = len(days) - len(whole)
    notices = []
    if left_out:
        notices.append(Notice("days_left_out", f"{left_out:,} days lack readings and are left out."))
    return [*periods, *whole.values()], notices


def _whole_days(days: Mapping[date, list[Reading]], clock: tzinfo | None) -> Iterator[tuple[date, Bill]]:
    for day, parts in days.items():
        after = day + timedelta(days=1)
        length_s = _seconds(after, clock) - _seconds(day, clock)
        if sum(one.duration_s for one in parts) == length_s:
            kwh = sum(one.value for one in parts) / 1000.0
            yield day, Bill(start=day, end=after, kwh=kwh, estimated=any(one.estimated for one in parts))


def _seconds(day: date, clock: tzinfo | None) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=clock).timestamp()


def _midnight(second: int, clock: tzinfo | None) -> date:
    """The date of the midnight nearest to a moment; by UTC, a clock of the Americas or of Europe gives the same."""
    return (datetime.fromtimestamp(second, clock or UTC) + timedelta(hours=12)).date()


def _tag(element: Any) -> str:
    return str(element.tag).rpartition("}")[2]


def _texts(element: Element) -> dict[str, str]:
    return {_tag(child): (child.text or "").strip() for child in element}
