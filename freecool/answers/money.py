"""What the saved energy is worth."""

from __future__ import annotations

from typing import NamedTuple

from freecool.cases.sections import Money


class Worth(NamedTuple):
    """The money of a damper."""

    saved_per_year: float
    """First year, after upkeep and added heating fuel."""
    electricity_per_year: float
    heating_fuel_per_year: float | None
    """Cost of the heat that the damper adds; None without a fuel price."""
    payback_years: float | None
    """Simple; None when it never pays or no cost was given."""
    worth_up_to: float
    """Installed cost that the savings of its life, discounted, just repay."""
    net_present_value: float | None
    co2_kg_avoided: float | None
    """By the user's own emission factor, of electricity only."""


def worth(money: Money, net_kwh: float, heating_kwh_added: float, electricity: float | None = None) -> Worth:
    """The worth of a damper, given its net electricity saved and the heat it adds in a year [kWh].

    Parameters
    ----------
    money : Money
    net_kwh : float
        Compressor avoided less fan added [kWh].
    heating_kwh_added : float
        Heat, not fuel [kWh].
    electricity : float, optional
        What the saved electricity costs by the tariff; at the flat price unless given.

    Returns
    -------
    Worth
        Net present value: yearly savings at year ends, electricity and fuel rising by the escalation.
    """
    electricity = net_kwh * money.price if electricity is None else electricity
    emissions = None if money.emission_factor is None else net_kwh * money.emission_factor
    fuel = None if money.fuel_price is None else heating_kwh_added * money.fuel_price / money.fuel_efficiency
    energy = electricity - (fuel or 0.0)
    saved = energy - money.upkeep
    import numpy_financial

    flows = [energy * (1.0 + money.escalation) ** year - money.upkeep for year in range(money.life_years)]
    repaid = float(numpy_financial.npv(money.discount_rate, [0.0, *flows]))
    cost = money.installed_cost
    if cost is None:
        return Worth(saved, electricity, fuel, None, repaid, None, emissions)
    return Worth(saved, electricity, fuel, cost / saved if saved > 0.0 else None, repaid, repaid - cost, emissions)
