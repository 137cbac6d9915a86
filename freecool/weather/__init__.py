"""Weather: every source ends in one `Weather`."""

from freecool.weather.model import Location, Quality, Weather
from freecool.weather.source import open_weather
from freecool.weather.sun import Sun, solar_on_plane

__all__ = ["Location", "Quality", "Sun", "Weather", "open_weather", "solar_on_plane"]
