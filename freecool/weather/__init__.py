"""Weather: every source ends in one `Weather`."""

from freecool.weather.hours import hour_means
from freecool.weather.model import Location, Quality, Weather
from freecool.weather.source import open_weather
from freecool.weather.sun import PlaneSun, Sun, solar_on_plane

__all__ = ["Location", "PlaneSun", "Quality", "Sun", "Weather", "hour_means", "open_weather", "solar_on_plane"]
