"""Quantities against pint, a general unit library, and as people write them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.core.errors import UnitError
from freecool.core.units import DIMENSIONS, convert, format_quantity, parse

if TYPE_CHECKING:
    from conftest import Outside


REGISTRY = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)  # type: ignore[var-annotated]

# Ours, as pint writes it. Btu is the international table Btu; pint rounds it to 1055.056 J in ton and therm.
IN_PINT = {
    ("temperature", "C"): "degC",
    ("temperature", "F"): "degF",
    ("difference", "K"): "delta_degC",
    ("difference", "C"): "delta_degC",
    ("difference", "F"): "delta_degF",
    ("flow", "m3/s"): "m**3/s",
    ("flow", "cfm"): "ft**3/min",
    ("flow", "m3/h"): "m**3/hour",
    ("flow", "l/s"): "liter/s",
    ("fan_power", "W/(m3/s)"): "W/(m**3/s)",
    ("fan_power", "W/cfm"): "W/(ft**3/min)",
    ("fan_power", "W/(l/s)"): "W/(liter/s)",
    ("fan_power", "kW/(m3/s)"): "kW/(m**3/s)",
    ("fan_power", "W/(m3/h)"): "W/(m**3/hour)",
    ("power", "W"): "W",
    ("power", "kW"): "kW",
    ("power", "ton"): "ton_of_refrigeration",
    ("power", "Btu/h"): "Btu_it/hour",
    ("power", "kBtu/h"): "kBtu_it/hour",
    ("efficiency", "W/W"): "W/W",
    ("efficiency", "COP"): "W/W",
    ("efficiency", "Btu/Wh"): "Btu_it/(W*hour)",
    ("efficiency", "EER"): "Btu_it/(W*hour)",
    ("area", "m2"): "m**2",
    ("area", "ft2"): "ft**2",
    ("area", "sqft"): "ft**2",
    ("length", "m"): "m",
    ("length", "ft"): "ft",
    ("length", "in"): "inch",
    ("power_density", "W/m2"): "W/m**2",
    ("power_density", "W/ft2"): "W/ft**2",
    ("flow_density", "l/s/m2"): "liter/s/m**2",
    ("flow_density", "cfm/ft2"): "ft**3/min/ft**2",
    ("transmittance", "W/m2K"): "W/m**2/delta_degC",
    ("transmittance", "Btu/hft2F"): "Btu_it/hour/ft**2/delta_degF",
    ("resistance", "m2K/W"): "m**2*delta_degC/W",
    ("resistance", "hft2F/Btu"): "hour*ft**2*delta_degF/Btu_it",
    ("enthalpy_difference", "J/kg"): "J/kg",
    ("enthalpy_difference", "kJ/kg"): "kJ/kg",
    ("enthalpy_difference", "Btu/lb"): "Btu_it/lb",
    ("specific_enthalpy", "J/kg"): "J/kg",
    ("specific_enthalpy", "kJ/kg"): "kJ/kg",
    ("specific_enthalpy", "Btu/lb"): "Btu_it/lb",
    ("moisture_rate", "kg/s"): "kg/s",
    ("moisture_rate", "kg/day"): "kg/day",
    ("moisture_rate", "lb/day"): "lb/day",
    ("moisture_rate", "kg/h"): "kg/hour",
    ("moisture_rate", "lb/h"): "lb/hour",
    ("energy", "J"): "J",
    ("energy", "kWh"): "kWh",
    ("energy", "therm"): "therm",
    ("energy", "MBtu"): "MBtu_it",
}
# Dry air from 0 °F to 0 °C: inch-pound enthalpy counts from the one, SI from the other
# (ASHRAE Fundamentals 2017 ch. 1 eq. 30 IP: 0.240 Btu/lb °F x 32 °F).
ZERO_FAHRENHEIT_BTU_LB = 0.240 * 32.0
SI = {
    "temperature": "degC",
    "difference": "delta_degC",
    "flow": "m**3/s",
    "fan_power": "W/(m**3/s)",
    "power": "W",
    "efficiency": "",
    "area": "m**2",
    "length": "m",
    "power_density": "W/m**2",
    "flow_density": "m/s",
    "transmittance": "W/m**2/delta_degC",
    "resistance": "m**2*delta_degC/W",
    "enthalpy_difference": "J/kg",
    "specific_enthalpy": "J/kg",
    "moisture_rate": "kg/s",
    "energy": "J",
}
OURS = [(dimension, unit) for dimension, kind in DIMENSIONS.items() for unit in kind.units]
numbers = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


def test_every_unit_has_a_second_opinion() -> None:
    assert set(OURS) == set(IN_PINT)


@pytest.mark.parametrize(("dimension", "unit"), OURS)
def test_a_unit_means_what_pint_says(dimension: str, unit: str) -> None:
    for number in (-40.0, 0.0, 0.365, 75.0, 1200.0):
        shift = ZERO_FAHRENHEIT_BTU_LB if (dimension, unit) == ("specific_enthalpy", "Btu/lb") else 0.0
        second = REGISTRY.Quantity(number - shift, IN_PINT[dimension, unit]).to(SI[dimension]).magnitude
        assert parse(f"{number} {unit}", dimension) == pytest.approx(second, rel=2e-7, abs=1e-9)


@given(st.sampled_from(OURS), numbers)
def test_reading_what_is_shown_gives_the_same_number(which: tuple[str, str], number: float) -> None:
    dimension, unit = which
    assert convert(parse(f"{number!r} {unit}", dimension), dimension, unit) == pytest.approx(number, abs=1e-9)


@given(st.sampled_from(sorted(DIMENSIONS)), st.sampled_from(["ip", "si"]), numbers)
def test_a_bare_number_takes_the_unit_its_system_shows(dimension: str, system: str, number: float) -> None:
    shown = getattr(DIMENSIONS[dimension], system)
    assert parse(repr(number), dimension, system) == parse(f"{number!r} {shown}", dimension)  # type: ignore[arg-type]
    assert parse(number, dimension, system) == parse(f"{number!r} {shown}", dimension)  # type: ignore[arg-type]


def test_units_published_by_nist(outside: Outside) -> None:
    source = "NIST SP 811 (2008) appendix B"
    outside("1 cfm [m3/s]", source, 4.719474e-4, parse("1 cfm", "flow"), 5e-11)
    outside("1 ton of refrigeration [W]", source, 3516.853, parse("1 ton", "power"), 5e-4)
    outside("1 Btu/h [W]", source, 0.2930711, parse("1 Btu/h", "power"), 5e-8)
    outside("1 Btu/lb [J/kg]", source, 2326.0, parse("1 Btu/lb", "enthalpy_difference"), 1e-6)
    outside("1 Btu/(h ft2 F) [W/m2K]", source, 5.678263, parse("1 Btu/hft2F", "transmittance"), 5e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "same"),
    [
        ("75°F", "temperature", "75F"),
        ("75 deg F", "temperature", "75F"),
        ("75f", "temperature", "75F"),
        (" +75 F ", "temperature", "75F"),
        ("7.5e1F", "temperature", "75F"),
        ("1200CFM", "flow", "1200 cfm"),
        ("3 tons", "power", "3 ton"),
        ("1800 ft²", "area", "1800 ft2"),
        ("1800 sqft", "area", "1800 ft2"),
        ("1800 sq ft", "area", "1800 ft2"),
        ("0.5 m³/s", "flow", "0.5 m3/s"),
        ("40 W/m²", "power_density", "40 W/m2"),
        (".5 kW", "power", "500 W"),
    ],
)
def test_spellings_people_use(text: str, dimension: str, same: str) -> None:
    assert parse(text, dimension) == parse(same, dimension)


@pytest.mark.parametrize(
    "text",
    ["", " ", "75 xyz", "nan", "nan?", "inf", "-inf F", "1e999 F", "seventy", "F", "75 F F", "75,5 F",
     "7 5 F", "0x1F", "75 cfm", "75 W", "--75F", True, None, float("nan"), float("inf")],
)  # fmt: skip
def test_what_is_no_temperature_is_refused(text: object) -> None:
    with pytest.raises(UnitError) as refusal:
        parse(text, "temperature", what="--setpoint")  # type: ignore[arg-type]
    message = str(refusal.value)
    assert message.startswith(f"--setpoint is {'none' if text is None else repr(text)}")
    assert "\n" not in message
    assert '"75F"' in message


@given(st.text(max_size=20))
def test_any_text_is_read_as_a_finite_number_or_refused(text: str) -> None:
    try:
        value = parse(text, "temperature")
    except UnitError:
        return
    assert abs(value) < float("inf")


@pytest.mark.parametrize(
    ("value", "dimension", "system", "text"),
    [
        (23.0 + 8.0 / 9.0, "temperature", "ip", "75 °F"),
        (24.0, "temperature", "si", "24 °C"),
        (1200 * 0.3048**3 / 60.0, "flow", "ip", "1,200 cfm"),
        (3 * 3516.852842, "power", "ip", "3 ton"),
        (100.0, "area", "si", "100 m²"),
    ],
)
def test_a_quantity_is_shown_as_people_write_it(value: float, dimension: str, system: str, text: str) -> None:
    assert format_quantity(value, dimension, system) == text  # type: ignore[arg-type]
