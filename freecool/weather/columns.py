"""The columns a weather file may hold: name, unit, plausible range and meaning, in one place."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WeatherColumn:
    """One weather quantity in one unit, with the range outside which a value is a fault.

    Attributes
    ----------
    name : str
        Of the column, which ends in the unit.
    unit : str
        As a person reads it.
    lowest, highest : float
        The plausible range [unit].
    description : str
        What it is.
    """

    name: str
    unit: str
    lowest: float
    highest: float
    description: str


# The ranges enclose the WMO records (-89.2 and 56.7 degC, dew point 35 degC) and the station pressure of the
# highest towns, near 500 hPa; sunshine is bounded by the solar constant, 1361 W/m2, and peaks at cloud edges; the
# strongest gust was 113 m/s; the sky is between a black body of -90 and one of 60 degC.
COLUMNS: dict[str, WeatherColumn] = {
    column.name: column
    for column in (
        WeatherColumn("dry_bulb_c", "°C", -90.0, 60.0, "outdoor dry bulb"),
        WeatherColumn("dry_bulb_f", "°F", -130.0, 140.0, "outdoor dry bulb"),
        WeatherColumn("dew_point_c", "°C", -100.0, 40.0, "outdoor dew point"),
        WeatherColumn("dew_point_f", "°F", -148.0, 104.0, "outdoor dew point"),
        WeatherColumn("wet_bulb_c", "°C", -90.0, 45.0, "outdoor wet bulb"),
        WeatherColumn("wet_bulb_f", "°F", -130.0, 113.0, "outdoor wet bulb"),
        WeatherColumn("relative_humidity_percent", "%", 0.5, 105.0, "outdoor relative humidity"),
        WeatherColumn("humidity_ratio_kg_kg", "kg/kg", 0.0, 0.05, "outdoor humidity ratio"),
        WeatherColumn("pressure_pa", "Pa", 45_000.0, 110_000.0, "station pressure"),
        WeatherColumn("pressure_hpa", "hPa", 450.0, 1_100.0, "station pressure"),
        WeatherColumn("ghi_w_m2", "W/m2", -20.0, 1_700.0, "global horizontal irradiance"),
        WeatherColumn("dni_w_m2", "W/m2", -20.0, 1_420.0, "direct normal irradiance"),
        WeatherColumn("dhi_w_m2", "W/m2", -20.0, 1_200.0, "diffuse horizontal irradiance"),
        WeatherColumn("cloud_oktas", "oktas", 0.0, 9.0, "cloud cover, 9 where the sky is obscured"),
        WeatherColumn("horizontal_infrared_w_m2", "W/m2", 50.0, 700.0, "horizontal infrared from the sky"),
        WeatherColumn("wind_m_s", "m/s", 0.0, 115.0, "wind speed"),
    )
}

AIR_COLUMNS = ("dry_bulb_c", "dew_point_c", "pressure_pa")
SOLAR_COLUMNS = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")
OPTIONAL_COLUMNS = ("horizontal_infrared_w_m2", "wind_m_s")
WEATHER_COLUMNS = AIR_COLUMNS + SOLAR_COLUMNS
HUMIDITY_COLUMNS = (
    "dew_point_c",
    "dew_point_f",
    "humidity_ratio_kg_kg",
    "wet_bulb_c",
    "wet_bulb_f",
    "relative_humidity_percent",
)
