# %% [markdown]
# # Many sites: whom do I call first?
#
# A contractor keeps a spreadsheet of customers and wants to call the few for whom a damper pays. One command answers
# for the whole list. All six customers of `examples/sites.csv` are invented, and so is the weather.

# %%
import csv
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
from matplotlib.figure import Figure

sites = Path(__file__).parents[1] / "sites.csv"
print(*(" | ".join(row[:3]) for row in csv.reader(sites.read_text("utf-8").splitlines())), sep="\n")

# %% [markdown]
# ## One command
#
# What the shell knows as `freecool batch sites.csv --out results.csv`. It may be stopped and goes on with `--resume`.

# %%
with TemporaryDirectory() as folder:
    results = Path(folder, "results.csv")
    command = [sys.executable, "-m", "freecool", "batch", str(sites), "--out", str(results)]
    subprocess.run(command, check=True, capture_output=True)
    table = pd.read_csv(results, index_col="name")
print(f"{len(table)} sites, {len(table.columns)} columns")

# %% [markdown]
# ## The list to call from
#
# Sorted by the money, damp places last. A place that gets damp is no customer, whatever it saves: there, another rule
# may do, and `freecool compare` says which.

# %%
answered = table[table.error.isna()].assign(damp=table["humidity.risk"] == "high")
answered = answered.sort_values(["damp", "money.saved_per_year"], ascending=[True, False])
for name, site in answered.iterrows():
    print(f"{name}\n    {site['verdict.text']}")

# %% USD a year that each site saves; pale where the place gets damp
figure = Figure(figsize=(6.0, 2.6), layout="constrained")
ax = figure.subplots()
tone = answered.damp.map({False: "#1f6f8b", True: "#c9b79c"})
ax.barh(answered.index.str.replace(" (invented)", ""), answered["money.saved_per_year"], color=tone)
ax.invert_yaxis()
ax.set_xlabel("USD saved a year; pale: gets damp")
figure

# %% [markdown]
# ## What could not be answered
#
# A row with a mistake holds a sentence that says where it is; all others were answered.

# %%
for name, error in table.error.dropna().items():
    print(f"{name}\n    {error}")

# %% [markdown]
# **Whom to call**: the first line of the list. [Many sites](../batch.md) tells the columns, and how thirty
# thousand rows are run.
