"""What bills say of a building: their cooling beside its own, the building fitted to them, and what it then saves."""

from __future__ import annotations

from dataclasses import dataclass, field

from freecool.answers.results import Band, Reach
from freecool.bills.cooling import CoolingInBills
from freecool.core.record import Record, meaning
from freecool.core.units import format_money


@dataclass(frozen=True, kw_only=True, slots=True)
class MovedInput(Record):
    """What was moved to meet the bills."""

    input: str = field(metadata=meaning("key of the case"))
    words: str = field(metadata=meaning("what it is"))
    factor: float = field(metadata=meaning("of the preset's value"))


@dataclass(frozen=True, kw_only=True, slots=True)
class FittedBuilding(Record):
    """A building like the case's whose cooling is that of the bills, and what the damper saves there."""

    moved: tuple[MovedInput, ...] = field(metadata=meaning("what differs from the case, the most first"))
    cooling_kwh: float = field(metadata=meaning("electricity of its cooling without the damper", "kWh/year"))
    net_kwh_saved: float = field(metadata=meaning("by the damper there", "kWh/year"))
    saved_per_year: float = field(metadata=meaning("in the first year, after upkeep and heating fuel", "money"))


@dataclass(frozen=True, kw_only=True, slots=True)
class BillsBlock(Record):
    """Bills beside the building."""

    cooling: CoolingInBills = field(metadata=meaning("what cooling takes of the bills, in this weather"))
    told_cooling_kwh: float = field(metadata=meaning("of the building as told, without the damper", "kWh/year"))
    told_net_kwh_saved: float = field(metadata=meaning("by the damper there", "kWh/year"))
    fitted: FittedBuilding | None = field(
        metadata=meaning("null where bills refuse, or no building like it meets them")
    )
    reachable_kwh: Band | None = field(
        metadata=meaning("cooling of buildings like it, least and most; null where bills refuse", "kWh/year")
    )
    likely_net_kwh: Reach | None = field(
        metadata=meaning(
            "what buildings like it save that agree with the bills; null where bills refuse, or hardly any does",
            "kWh/year",
        )
    )
    currency: str = field(metadata=meaning("name of the money"))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the bills say, a sentence each."""
        told = [self.cooling.sentence, *(notice.text for notice in self.cooling.notices)]
        if self.cooling.cooling_kwh is None:
            return *told, "The answer above is that of the building as told."
        gap = self.told_cooling_kwh / self.cooling.cooling_kwh - 1.0
        beside = f"{abs(gap):.0%} {'more' if gap > 0.0 else 'less'} than the bills".replace("%", " %")
        told.append(f"The building as told takes {self.told_cooling_kwh:,.0f} kWh of cooling a year, {beside}.")
        if self.fitted is None:
            return *told, self._out_of_reach()
        moved = ", ".join(f"{one.words} {100.0 * one.factor:.0f} %" for one in self.fitted.moved)
        first = " and ".join(one.words for one in self.fitted.moved[:2])
        return (
            *told,
            f"With these shares of what was assumed it takes {self.fitted.cooling_kwh:,.0f} kWh: {moved}."
            if moved
            else "It meets the bills as told.",
            *([f"Bills cannot tell these apart: find out {first} first."] if first else ()),
            f"So fitted the damper saves {_whole(self.fitted.net_kwh_saved)} kWh and "
            f"{format_money(self.fitted.saved_per_year, self.currency)} a year net, against "
            f"{_whole(self.told_net_kwh_saved)} kWh as told.",
            *self._likely(),
        )

    def _likely(self) -> tuple[str, ...]:
        if self.likely_net_kwh is None:
            return ()
        low, high = _whole(self.likely_net_kwh.low), _whole(self.likely_net_kwh.high)
        return (f"Of buildings like it that agree with these bills 8 of 10 save {low} to {high} kWh.",)

    def _out_of_reach(self) -> str:
        if self.reachable_kwh is None:
            return "The case tells all that bills could move, so that nothing is fitted: check what it tells."
        low, high = self.reachable_kwh
        return (
            f"Buildings like it take {low:,.0f} to {high:,.0f} kWh, so that none is fitted: check set point, size and "
            "efficiency of the unit, floor area and what else these bills feed."
        )


def _whole(kwh: float) -> str:
    return f"{round(kwh, 0) + 0.0:,.0f}"
