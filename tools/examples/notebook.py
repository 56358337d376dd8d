# %% [markdown]
# # A pump shaft from Marrow Creek
# From samples to what is to be welded. Run it in the demo's folder, `cd /usr/share/doc/counterspot/demo`, cell by cell or at once.

# %%
import tempfile
from pathlib import Path

import counterspot
import numpy as np

# %% [markdown]
# Three spins: as found, with 15 g at the mark of plane A, then of plane B. The recorder writes volts at 2560 samples a second;
# the first column is time, and what is left are channels 1, 2 and 3 of `rig.toml`: sensors A and B, and the tach.

# %%
rate_Hz = 2560.0
names = ("00-as-found", "01-trial-a", "02-trial-b")
samples_V = {name: np.loadtxt(f"csv/{name}.csv", delimiter=",", skiprows=1)[:, 1:] for name in names}
spins = {name: counterspot.track(samples_V[name], "rig.toml", sample_rate_Hz=rate_Hz, orders=(1, 2)) for name in names}
for name, spin in spins.items():
    print(name, spin, sep="\n")

# %% [markdown]
# What 15 g at A changed at both sensors, over its unbalance of 15 g × 39 mm: the influence of that plane.

# %%
for sensor in ("A", "B"):
    change = spins["01-trial-a"].vector(sensor).z - spins["00-as-found"].vector(sensor).z
    alpha = change / (15.0 * 39.0)
    print(f"plane A on sensor {sensor}: {abs(alpha):.3e} (m/s2)/(g·mm), lag {np.degrees(np.angle(alpha)) % 360:.1f} deg")

# %% [markdown]
# The same from all spins at once, brought to one speed, with its uncertainty and the verdict. The cautions are printed with it.

# %%
solution = counterspot.solve("csv/spins.toml")
print(solution)

# %%
pieces = counterspot.place("csv/spins.toml", "stock.toml")
print(pieces)

# %%
folder = Path(tempfile.gettempdir())
for result, name in ((solution, "counterspot-fit.svg"), (pieces, "counterspot-pieces.svg")):
    print("drawn:", result.picture(folder / name))
