# %% [markdown]
# # Real years: how bad is a bad year?
#
# "And if the summer is hot?" A typical year cannot say. Records of real years can: `near:36.07,-79.79` takes those of
# the nearest open weather station. Here ten years are made up and written as the plain CSV that a logger or a
# building's own weather station would give, so that the example runs anywhere. Place, years and customer are invented.

# %%
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

from freecool import estimate, make_case, open_weather

typical = open_weather("demo:mixed-inland")
random = np.random.default_rng(7)
years = []
for year in range(2014, 2024):
    times = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h")
    # In a leap year the last day comes twice.
    hours = typical.frame.iloc[np.minimum(np.arange(len(times)), 8759)].set_axis(times)
    # Each month warmer or cooler than usual, and each year too.
    shift = random.normal(0.0, 1.2) + random.normal(0.0, 1.2, 12)[times.month - 1]
    years.append(hours.assign(dry_bulb_c=hours.dry_bulb_c + shift, dew_point_c=hours.dew_point_c + shift))
print(f"{sum(map(len, years)):,} hours")

# %% [markdown]
# The file tells its place in the lines before the header, and each column its unit.

# %%
place = """\
# name: Oxbow Prairie, made-up years
# latitude: 39.5
# longitude: -90
# elevation_m: 200
# utc_offset_h: -6
"""
columns = ["dry_bulb_c", "dew_point_c", "ghi_w_m2", "dni_w_m2", "dhi_w_m2"]
with TemporaryDirectory() as folder:
    file = Path(folder, "made-up-years.csv")
    file.write_text(place + pd.concat(years)[columns].round(2).to_csv(index_label="time"))
    weather = open_weather(file)
print(weather.years)

# %% [markdown]
# ## In most years
#
# All ten years run in one pass. Totals are means a year, and the verdict says what most years reach.

# %%
hut = make_case({"name": "Oxbow telephone hut (invented)", "money": {"installed_cost": 1200}}, preset="equipment-room")
answer = estimate(hut, weather)
print(answer.sentence)

# %% Net kWh of each year; the band holds 8 of 10 years
answer.plot.years()

# %% [markdown]
# ## Beside the typical year
#
# The typical year gives one number. It lies among the real ones, and says nothing of how far they lie apart.

# %%
net = [year.net_kwh_saved for year in answer.by_year]
print(f"typical year  {estimate(hut, typical).energy.net_kwh_saved:6,.0f} kWh")
print(f"worst year    {min(net):6,.0f} kWh")
print(f"mean          {answer.energy.net_kwh_saved:6,.0f} kWh")
print(f"best year     {max(net):6,.0f} kWh")

# %% [markdown]
# **What to tell the customer**: the sentence with "years" in it. It is true of the years used and promises nothing of
# the next. [Real years](../stations.md) tells which stations and months count.
