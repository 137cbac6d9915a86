"""Sun through glass by angle, and the sky's heat: against tables, optics and laws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from freecool.answers.prepare import envelope, outdoors_of
from freecool.cases.model import make_case
from freecool.cases.presets import GLASS
from freecool.cases.sections import Building
from freecool.core.errors import CaseError, WeatherError
from freecool.core.units import parse
from freecool.physics.glass import glass_of, karlsson_roos, over_half_sky, tabulated
from freecool.physics.zone import STEFAN_BOLTZMANN, Element, sky_loss_w
from freecool.weather import Weather, hour_means, open_weather
from freecool.weather.save import save_weather

if TYPE_CHECKING:
    from conftest import Outside

KINDS = tuple(GLASS)
TEN_DEGREES = np.linspace(0.0, 90.0, 10)
# ASHRAE 140-2020: solar heat gain coefficient of two clear panes over that at normal incidence.
TWO_CLEAR = np.array([1.0, 0.999, 0.996, 0.990, 0.973, 0.934, 0.847, 0.662, 0.347, 0.0])


def clear_panes(count: int, degrees: np.ndarray, index: float = 1.526, absorbed: float = 0.0944) -> np.ndarray:
    """Transmittance of one or two panes by Fresnel and Bouguer, both polarisations; one passes 0.834."""
    out = np.radians(np.minimum(degrees, 89.9999))
    cosine, inside = np.cos(out), np.sqrt(1.0 - (np.sin(out) / index) ** 2)
    left = np.exp(-absorbed / inside)
    whole = np.zeros(degrees.size)
    for root in (
        (cosine - index * inside) / (cosine + index * inside),
        (index * cosine - inside) / (index * cosine + inside),
    ):
        face = root**2
        passes = (1.0 - face) ** 2 * left / (1.0 - (face * left) ** 2)
        back = face * (1.0 + left * passes)
        whole += (passes if count == 1 else passes**2 / (1.0 - back**2)) / 2.0
    return whole


def test_a_table_is_read_as_the_optics_between_its_rows(outside: Outside) -> None:
    """From rows ten degrees apart, what comes of light from a half of the sky is that of the whole curve."""
    steps = np.linspace(0.0, 90.0, 901)
    curve = clear_panes(2, steps) / clear_panes(2, np.zeros(1))
    read = tabulated(clear_panes(2, TEN_DEGREES), 1.0)
    source = "Fresnel's and Bouguer's laws, two clear panes"
    got = over_half_sky(read.angles_deg, read.by_angle)
    outside("light from a half of the sky, from ten rows", source, over_half_sky(steps, curve), got, 0.002)


def test_two_clear_panes_by_table_and_by_curve(outside: Outside) -> None:
    """Bound of the curve fixed beforehand: 0.005 to 70 degrees, and half a digit of the table."""
    for degrees, published, tabled, curved in zip(
        TEN_DEGREES,
        TWO_CLEAR,
        glass_of("clear-double").at(TEN_DEGREES),
        karlsson_roos(2, 3.0).at(TEN_DEGREES),
        strict=True,
    ):
        name = f"two clear panes at {degrees:.0f}°"
        outside(f"{name}, table", "ASHRAE 140-2020", published, tabled, 0.0006)
        if degrees <= 70.0:
            outside(f"{name}, curve of Karlsson and Roos", "ASHRAE 140-2020", published, curved, 0.0055)


def test_one_clear_pane_by_curve(outside: Outside) -> None:
    """Bound fixed beforehand: a single pane's curve is within 0.033 of the optics."""
    passes = clear_panes(1, TEN_DEGREES)
    for degrees, expected, got in zip(TEN_DEGREES, passes / passes[0], glass_of("single").at(TEN_DEGREES), strict=True):
        outside(f"one clear pane at {degrees:.0f}°", "Fresnel's and Bouguer's laws", expected, got, 0.033)


@pytest.mark.parametrize("kind", KINDS)
def test_glass_admits_less_the_flatter_the_sun(kind: str) -> None:
    glass = glass_of(kind)
    falling = glass.at(np.linspace(0.0, 90.0, 181))
    assert falling[0] == pytest.approx(1.0)
    assert falling[-1] == pytest.approx(0.0, abs=1e-12)
    assert (np.diff(falling) <= 1e-12).all()
    assert glass.at(np.array([91.0, 179.0])) == pytest.approx([0.0, 0.0], abs=1e-12)
    # The hemispherical value is the curve's own; the table's is published to three digits.
    assert glass.diffuse == pytest.approx(over_half_sky(glass.angles_deg, glass.by_angle), abs=0.007)


@given(st.sampled_from(KINDS), st.floats(0, 1200), st.floats(0, 600), st.floats(0, 180))
def test_glass_never_admits_more_than_falls_on_it(kind: str, near_sun: float, elsewhere: float, degrees: float) -> None:
    got = float(glass_of(kind).admitted(np.array(near_sun), np.array(elsewhere), np.array(degrees)))
    assert -1e-9 <= got <= near_sun + elsewhere + 1e-9


def test_a_kind_of_glass_brings_its_window(greensboro: Weather) -> None:
    """Told values win, then the glass that is told, then the preset's own window, then its glass."""
    assert get_args(Building.model_fields["glass"].annotation) == KINDS
    for kind, window in GLASS.items():
        building = make_case({"building": {"glass": kind}}, preset="small-office").building
        expected = 0.38 if kind == "low-e-double" else window["window_g"]
        assert building.window_g == expected
        told = make_case({"building": {"glass": kind, "window_g": 0.5, "window_u": "3W/m2K"}}).building
        assert (told.window_g, told.window_u) == (0.5, 3.0)
        assert envelope(building).glass[0].glass is glass_of(kind)
    house = make_case().building
    assert (house.glass, house.window_g) == ("low-e-double", 0.40)
    assert house.window_u == pytest.approx(parse("0.35 Btu/hft2F", "transmittance"))
    office = make_case({"building": {"window_g": 0.6}}, {"building": {"glass": "triple"}}, preset="small-office")
    assert office.building.window_g == 0.6
    with pytest.raises(CaseError, match="glass"):
        make_case({"building": {"glass": "stained"}})


def test_parts_of_the_sun_are_the_whole_and_none_is_negative(greensboro: Weather) -> None:
    outdoors = outdoors_of(greensboro)
    for azimuth in (0.0, 90.0, 180.0, 270.0):
        sun = outdoors.sun_on(90.0, azimuth)
        assert min(sun.near_sun.min(), sun.elsewhere.min()) >= 0.0
        assert not sun.near_sun[sun.incidence_deg > 90.0].any()
        np.testing.assert_array_equal(sun.total(), sun.near_sun + sun.elsewhere)
    # A north pane sees the sun on summer mornings and evenings alone.
    assert outdoors.sun_on(90.0, 0.0).near_sun.sum() < 0.25 * outdoors.sun_on(90.0, 0.0).total().sum()


WALL = Element(30.0, 2.3, 90_000.0, "D", 2.5, 0.5)
ROOF = WALL._replace(sky_share=1.0)


def test_the_sky_without_a_word_of_it_is_11_k_below_the_air(outside: Outside) -> None:
    air = np.array([-10.0, 30.0])
    for element, share in ((WALL, 0.5), (ROOF, 1.0)):
        for told in (None, np.full(2, np.nan)):
            for got in sky_loss_w(element, air, told):
                outside(
                    f"sky loss of 30 m2, share {share:g} [W]",
                    "ISO 52016-1:2017 eq. (39)",
                    30 * share * 4.14 * 11,
                    got,
                    1e-6,
                )
    assert not sky_loss_w(WALL._replace(boundary="ground"), air).any()


def test_the_sky_told_is_a_black_body() -> None:
    """No loss to a sky as warm as the air; a roof at the air's temperature loses what the laws say."""
    air, sky = np.array([0.0, 20.0]), np.array([-15.0, 5.0])
    as_warm = STEFAN_BOLTZMANN * (air + 273.15) ** 4
    assert sky_loss_w(ROOF, air, as_warm) == pytest.approx([0.0, 0.0], abs=1e-6)
    expected = 30.0 * 0.9 * 5.670374e-8 * ((air + 273.15) ** 4 - (sky + 273.15) ** 4)
    assert sky_loss_w(ROOF, air, STEFAN_BOLTZMANN * (sky + 273.15) ** 4) == pytest.approx(expected)
    wall = sky_loss_w(WALL, air, STEFAN_BOLTZMANN * (sky + 273.15) ** 4)
    assert wall == pytest.approx(expected * 0.5**1.5)


def test_a_file_tells_the_heat_of_the_sky(
    shared_weather: Callable[[str], Path], greensboro: Weather, tmp_path: Path
) -> None:
    column = "horizontal_infrared_w_m2"
    path = shared_weather("USA_CO_Denver.Intl.AP.725650_TMY3.epw")
    denver = open_weather(str(path))
    lines = path.read_text("latin-1").splitlines()
    assert denver.frame[column].iloc[0] == float(lines[8].split(",")[12])
    assert column not in greensboro.frame
    assert outdoors_of(greensboro).horizontal_infrared_w_m2 is None
    # One hour without it: that hour has none, the file is as good as before.
    row = lines[8].split(",")
    row[12] = "9999"
    lines[8] = ",".join(row)
    damaged = tmp_path / "damaged.epw"
    damaged.write_text("\n".join(lines), "latin-1")
    assert np.isnan(open_weather(str(damaged)).frame[column]).tolist() == [True] + [False] * 8759
    saved = tmp_path / "saved.csv"
    save_weather(denver, saved)
    again = open_weather(str(saved))
    assert again.air_at == "end"
    np.testing.assert_allclose(again.frame[column], denver.frame[column])
    saved.write_text(saved.read_text().replace("# air_at: end", "# air_at: noon"))
    with pytest.raises(WeatherError, match="air_at is 'noon', expected mean, start, end"):
        open_weather(str(saved))


def test_an_hour_has_the_mean_of_its_readings(greensboro: Weather) -> None:
    read = greensboro.frame["dry_bulb_c"].to_numpy()
    assert greensboro.air_at == "end"
    ended = hour_means(greensboro)["dry_bulb_c"]
    assert ended[:2] == pytest.approx([(read[-1] + read[0]) / 2.0, (read[0] + read[1]) / 2.0])
    begun = hour_means(replace(greensboro, air_at="start"))["dry_bulb_c"]
    assert (begun[0], begun[-1]) == pytest.approx(((read[0] + read[1]) / 2.0, (read[-1] + read[0]) / 2.0))
    real = hour_means(replace(greensboro, air_at="start", typical=False))["dry_bulb_c"]
    assert real[-1] == read[-1]
    assert hour_means(replace(greensboro, air_at="mean"))["dry_bulb_c"].tolist() == read.tolist()


@pytest.fixture(scope="module")
def greensboro(pvlib_weather: Callable[[str], Path]) -> Weather:
    return open_weather(str(pvlib_weather("723170TYA.CSV")))
