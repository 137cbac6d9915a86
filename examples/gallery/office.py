# %% [markdown]
# # An office: dry bulb or enthalpy?
#
# An engineer specifies the controls of a 5,000 ft² office, Quillon Ferry Library, where summers are warm and damp. An
# enthalpy rule needs a humidity sensor, which costs more and drifts. Does it earn that back? Building, place and
# weather are invented.

# %%
from freecool import compare_rules, make_case, open_weather

weather = open_weather("demo:mixed-inland")
library = {"name": "Quillon Ferry Library (invented)", "site": {"climate_zone": "5A"}}
office = make_case(library, preset="small-office")
compared = compare_rules(office, weather, draws=40)
for sentence in compared.answers:
    print("-", sentence)

# %% [markdown]
# ## Each rule as published, and at its best setting
#
# Every rule runs on the same building and year, first with the limits of the published table for the zone, then with
# the setting that saves most while the place stays as dry as it can be kept.

# %% What each of the six rules saves, as published and at its best setting; lines reach over 8 of 10 sets of sensors
compared.plot.bars()

# %% [markdown]
# The kWh alone would mislead: how many hours above 60 % relative humidity a rule adds indoors, or takes away, stands
# beside them. The fan of this office runs all day, so that water on the coil goes back into the air whenever the
# compressor rests; cool outdoor air is then often the drier of the two.

# %% Hours above 60 % relative humidity that each rule adds indoors; high risk is named
compared.plot.moisture()

# %% [markdown]
# ## With sensors as they really are
#
# A dry-bulb sensor may be off by 2 °F and a humidity sensor by 5 %, unless the case says otherwise. *9 of 10* is what
# nine of ten installations save at the rule's best setting with such sensors. The last two columns take the rule as
# published, and put the outdoor sensor in the sun, or let the humidity sensor drift.

# %%
table = compared.table[["tuned_net_kwh_saved", "tuned_net_kwh_p10", "in_the_sun_net_kwh", "drifted_net_kwh"]]
print(table.round().astype(int).set_axis(["exact kWh", "9 of 10 kWh", "in the sun kWh", "drifted kWh"], axis=1))

# %% [markdown]
# **What to specify**: a rule that reads moisture, because here dry bulb alone must be set so low to keep the place dry
# that much of the saving is lost. Where air is dry, the comparison comes out the other way round: `freecool compare`
# says it for each site, and [climates](../climates.md) for ten of them.
