"""The clock of a Green Button file: its offset from UTC, and when daylight saving begins and ends."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping
from datetime import date, datetime, timedelta, timezone, tzinfo
from typing import NamedTuple

from freecool.core.errors import BillsError


class Changeover(NamedTuple):
    """When clocks change, as the standard packs it into 32 bits.

    NAESB REQ.21 ESPI, DstRuleType (from memory): from the low end seconds (12), hour (5), day of the week (3, 1 is
    Monday), day of the month (5), operator (3) and month (4).
    """

    month: int
    operator: int
    day: int
    weekday: int
    hour: int
    second: int

    @classmethod
    def of(cls, text: str) -> Changeover:
        """A changeover, given its hexadecimal text.

        Parameters
        ----------
        text : str
            Such as "360E2000": the second Sunday of March at 2.

        Returns
        -------
        Changeover
            Its parts.

        Raises
        ------
        ValueError
            No such rule.
        """
        bits = int(text, 16)
        found = cls(bits >> 28, bits >> 25 & 7, bits >> 20 & 31, bits >> 17 & 7, bits >> 12 & 31, bits & 4095)
        if not 1 <= found.month <= 12 or found.hour > 24 or (found.operator and not found.weekday):
            raise ValueError(text)
        if not found.operator and not found.day:
            raise ValueError(text)
        return found

    def moment(self, year: int) -> datetime:
        """When it is, by the clock that is left, given the year.

        Parameters
        ----------
        year : int
            Calendar year.

        Returns
        -------
        datetime.datetime
            Without time zone.
        """
        longest = monthrange(year, self.month)[1]
        day = min(max(self.day, 1), longest)
        if self.operator == 7:
            day = longest - (date(year, self.month, longest).isoweekday() - self.weekday) % 7
        elif self.operator:
            # 1: on or after the day of the month; 2 to 6: the first to fifth of the month.
            day = day if self.operator == 1 else 1
            day += (self.weekday - date(year, self.month, day).isoweekday()) % 7 + 7 * max(self.operator - 2, 0)
        return datetime(year, self.month, 1) + timedelta(days=day - 1, hours=self.hour, seconds=self.second)


class EspiClock(tzinfo):
    """A clock with daylight saving, given its offset, what daylight saving adds and when it begins and ends.

    Parameters
    ----------
    offset : datetime.timedelta
        Standard time less UTC.
    saving : datetime.timedelta
        What daylight saving adds; none where zero.
    start, end : Changeover or None
        By standard time and by daylight saving time.
    """

    def __init__(self, offset: timedelta, saving: timedelta, start: Changeover | None, end: Changeover | None) -> None:
        self.offset, self.saving, self.start, self.end = offset, saving, start, end

    @classmethod
    def of(cls, told: Mapping[str, str], name: str) -> EspiClock:
        """A clock, given LocalTimeParameters as texts and the file's name.

        Parameters
        ----------
        told : mapping of str to str
            By element.
        name : str
            For messages.

        Returns
        -------
        EspiClock
            For `datetime.datetime.fromtimestamp`.

        Raises
        ------
        BillsError
            They are no clock.
        """
        try:
            offset = timedelta(seconds=int(told["tzOffset"]))
            saving = timedelta(seconds=int(told.get("dstOffset", "") or 0))
            if abs(offset) > timedelta(hours=14) or not timedelta(0) <= saving <= timedelta(hours=2):
                raise ValueError
            rules = [Changeover.of(told[rule]) if saving else None for rule in ("dstStartRule", "dstEndRule")]
        except (KeyError, ValueError, OverflowError):
            raise BillsError(
                f"{name}: LocalTimeParameters are no clock: expected tzOffset and dstOffset in seconds, dstStartRule "
                "and dstEndRule as eight hexadecimal digits: export it again."
            ) from None
        return cls(offset, saving, *rules)

    def utcoffset(self, moment: datetime | None) -> timedelta:
        """What the clock is ahead of UTC, given what it shows.

        Parameters
        ----------
        moment : datetime.datetime or None
            Its `fold` tells the second of two alike.

        Returns
        -------
        datetime.timedelta
            East positive.
        """
        return self.offset + self.dst(moment)

    def dst(self, moment: datetime | None) -> timedelta:
        """What daylight saving adds, given what the clock shows.

        Parameters
        ----------
        moment : datetime.datetime or None
            Its `fold` tells the second of two alike.

        Returns
        -------
        datetime.timedelta
            Zero in standard time.
        """
        if moment is None:
            return timedelta(0)
        saves = not moment.fold and self._saves(moment.replace(tzinfo=None) - self.saving)
        return self.saving if saves else timedelta(0)

    def fromutc(self, moment: datetime) -> datetime:
        """What the clock shows, given a moment in UTC.

        Parameters
        ----------
        moment : datetime.datetime
            In UTC, with this clock as its time zone, as `datetime` asks for it.

        Returns
        -------
        datetime.datetime
            With `fold` where it shows the same for the second time.
        """
        standard = moment.replace(tzinfo=None) + self.offset
        saves = self._saves(standard)
        again = not saves and self._saves(standard - self.saving)
        shown = standard + self.saving if saves else standard
        return shown.replace(tzinfo=self, fold=int(again))

    def tzname(self, moment: datetime | None) -> str:
        """Its name, which a file does not tell.

        Parameters
        ----------
        moment : datetime.datetime or None
            Of no account.

        Returns
        -------
        str
            The offset.
        """
        return str(timezone(self.utcoffset(moment)))

    def _saves(self, standard: datetime) -> bool:
        """Whether it is daylight saving time, given standard time."""
        if self.start is None or self.end is None:
            return False
        begins, ends = self.start.moment(standard.year), self.end.moment(standard.year) - self.saving
        # South of the equator it goes through the turn of the year.
        return begins <= standard < ends if begins < ends else not ends <= standard < begins
