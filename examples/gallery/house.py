# %% [markdown]
# # A house: what is a damper worth here?
#
# A salesperson of Pell & Daughters stands in the kitchen of Harrow Lane 12 and is asked: "It is cold here every
# night. What would it save me to cool with that?" Customer, contractor, place and weather are invented.

# %%
from freecool import estimate, make_case, open_weather

weather = open_weather("demo:high-desert")
house = {"name": "Harrow Lane 12 (invented)", "money": {"price": 0.17, "installed_cost": 450}}
answer = estimate(make_case(house, preset="detached-house-light"), weather)
print(answer.sentence)

# %% [markdown]
# ## Hours are not savings
#
# The nights are cold indeed: the damper may open in most hours of the year. In most of those nobody wants cooling.

# %%
hours = answer.hours
print(f"the rule lets the damper open     {hours.permitted:6,.0f} h")
print(f"the house wants cooling           {hours.cooling:6,.0f} h")
print(f"both at once                      {hours.coincident:6,.0f} h")
print(f"damper at full flow               {hours.free_cooling:6,.0f} h")

# %% [markdown]
# Nor is the air free: the fan pays for it. From March to October it takes half and more of what the compressor saves,
# because air that is a few degrees cooler than the room brings little cold for the same fan.

# %%
energy = answer.energy
print(f"compressor avoided                {energy.compressor_kwh_avoided:6,.0f} kWh a year")
print(f"fan added                         {energy.fan_kwh_added:6,.0f} kWh a year")
print(f"net                               {energy.net_kwh_saved:6,.0f} kWh a year")

# %% Month by month: compressor kWh avoided above the line, fan kWh added below it, the net as a dot
answer.plot.months()

# %% [markdown]
# ## What would have to be different?
#
# The questions that a customer asks next. Each is the same house with one thing changed.

# %%
changes = {
    "as it is": {},
    "a thriftier fan, 0.2 W/cfm": {"fan": {"power": "0.2 W/cfm"}},
    "an older unit, EER 9": {"unit": {"eer": "9 Btu/Wh"}},
    "set point 78 °F": {"schedule": {"cooling": "78F"}},
    "they open windows on cool evenings": {"building": {"windows": "always"}},
}
print(f"{'':36}net kWh   USD a year   pays back in")
for words, change in changes.items():
    told = estimate(make_case(house, change, preset="detached-house-light"), weather)
    years = told.money.payback_years
    back = "never" if years is None else f"{years:,.0f} years"
    print(f"{words:36}{round(told.energy.net_kwh_saved):7}   {round(told.money.saved_per_year):10}   {back:>12}")

# %% [markdown]
# **What to tell the customer**: not for the money. People who open their windows in the evening have the free
# cooling already. Under one roof with more heat inside, an [office](office.md) or an
# [equipment room](equipment-room.md), the same air earns far more.
