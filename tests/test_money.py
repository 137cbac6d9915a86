"""Payback and present value, against a hand sum and numpy-financial."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy_financial
import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.answers.money import worth
from freecool.cases.sections import Money


def test_hand_worked() -> None:
    """1,000 kWh at 0.20 is 200; 80 kWh of heat at 0.06 through 80 % is 6; upkeep 14: 180 a year, 900 back in 5."""
    money = Money(
        price=0.20,
        installed_cost=900.0,
        upkeep=14.0,
        fuel_price=0.06,
        fuel_efficiency=0.8,
        life_years=2,
        discount_rate=0.10,
        escalation=0.05,
    )
    got = worth(money, 1000.0, 80.0)
    assert got.electricity_per_year == pytest.approx(200.0)
    assert got.heating_fuel_per_year == pytest.approx(6.0)
    assert got.saved_per_year == pytest.approx(180.0)
    assert got.payback_years == pytest.approx(5.0)
    # (194 - 14)/1.1 + (194 x 1.05 - 14)/1.21 - 900
    assert got.net_present_value == pytest.approx(163.6363636 + 156.7768595 - 900.0, abs=1e-6)


@given(st.floats(10.0, 5000.0), st.floats(100.0, 5000.0), st.floats(1e-4, 0.2) | st.just(0.0), st.integers(1, 40))
def test_level_savings_are_an_annuity(kwh: Any, cost: Any, rate: Any, years: Any) -> None:
    money = Money(price=0.15, installed_cost=cost, discount_rate=rate, life_years=years)
    # At a rate of 0 the library divides by it before it takes the other branch.
    with np.errstate(invalid="ignore"):
        annuity = float(-numpy_financial.pv(rate, years, 0.15 * kwh))
    assert worth(money, kwh, 0.0).net_present_value == pytest.approx(annuity - cost, rel=1e-9, abs=1e-6)


@given(st.floats(10.0, 5000.0), st.integers(1, 40))
def test_at_payback_an_undiscounted_value_is_zero(kwh: Any, years: Any) -> None:
    saved = worth(Money(price=0.15), kwh, 0.0).saved_per_year
    money = Money(price=0.15, installed_cost=saved * years, discount_rate=0.0, life_years=years)
    got = worth(money, kwh, 0.0)
    assert got.payback_years == pytest.approx(years)
    assert got.net_present_value == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("kwh", [0.0, -50.0])
def test_what_never_pays_has_no_payback(kwh: float) -> None:
    got = worth(Money(price=0.15, installed_cost=500.0), kwh, 0.0)
    assert got.payback_years is None
    assert got.net_present_value is not None
    assert got.net_present_value <= -500.0


def test_upkeep_beyond_the_saving_never_pays() -> None:
    assert worth(Money(price=0.15, installed_cost=500.0, upkeep=20.0), 100.0, 0.0).payback_years is None


def test_without_a_cost_or_a_fuel_price_nothing_is_made_up() -> None:
    got = worth(Money(price=0.15), 100.0, 300.0)
    assert (got.payback_years, got.net_present_value, got.heating_fuel_per_year) == (None, None, None)
    assert got.saved_per_year == pytest.approx(15.0)
