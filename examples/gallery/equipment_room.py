# %% [markdown]
# # An equipment room: which differential do I set?
#
# A technician has fitted a damper to a telephone hut: 300 ft² of racks, warm day and night, all year. The controller
# asks for one number: how far below the set point must outdoor air be before the damper opens? Hut, place and
# weather are invented.

# %%
from freecool import make_case, open_weather, sweep_differential

weather = open_weather("demo:mixed-inland")
hut = make_case({"name": "Oxbow telephone hut (invented)"}, preset="equipment-room")
sweep = sweep_differential(hut, weather, draws=40)
print(sweep.sentence)
for reason in sweep.reasons:
    print("-", reason)

# %% [markdown]
# ## What happens either side of it
#
# Closer to the set point there are more hours, but each hour brings little cold for the same fan. Further away the
# hours run out. The shaded part saves within 5 % of the best.

# %% Compressor kWh avoided, fan kWh added and net kWh against the differential; the pick is the dot
sweep.plot.curve()

# %% [markdown]
# The same as numbers. *9 of 10* is what nine of ten huts reach, when the sensors of each are a little off.

# %%
table = sweep.table.iloc[::3]
shown = table[["permitted_hours", "compressor_kwh_avoided", "fan_kwh_added", "net_kwh_saved", "net_kwh_p10"]]
shown = shown.set_axis(["permitted h", "avoided kWh", "fan kWh", "net kWh", "9 of 10 kWh"], axis=1)
shown.index = [f"{kelvin * 1.8:.0f} °F" for kelvin in table.index]
print(shown.round().astype(int))

# %% [markdown]
# ## Is it working? A test on the day
#
# With the damper fully open, three thermometers tell how much of the supply is outdoor air: what the mixture has lost
# against return air, over what outdoor air is colder.

# %%
return_f, outdoor_f, mixed_f = 77.0, 48.0, 53.5
share = (return_f - mixed_f) / (return_f - outdoor_f)
print(f"{share:.0%} outdoor air in the supply")

# %% [markdown]
# **What to set**: the number in the first line. `freecool pick --sheet sheet.html` prints it with the whole check
# for the day, and `freecool sheet-check` reads the thermometers.
