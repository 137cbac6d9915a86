"""What the saved energy is worth."""

from __future__ import annotations

from freecool.answers.results import Worth
from freecool.cases.sections import Money


def worth(money: Money, net_kwh: float, heating_kwh_added: float, electricity: float | None = None) -> Worth:
    """The worth of a damper, given its net electricity saved and the heat it adds in a year [kWh].

    Parameters
    ----------
    money : Money
        Prices, costs and rates.
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
    return Worth(
        currency=money.currency,
        saved_per_year=saved,
        electricity_per_year=electricity,
        heating_fuel_per_year=fuel,
        payback_years=None if cost is None or saved <= 0.0 else cost / saved,
        worth_up_to=repaid,
        net_present_value=None if cost is None else repaid - cost,
        co2_kg_avoided=emissions,
    )
