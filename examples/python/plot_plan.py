"""Plots a plan, and the doses of its preferment for other nights.

    python plot_plan.py [BAKE.toml] [PICTURE.png]

Needs matplotlib; without it the same is printed. The cells are those of a notebook.
"""

# %% The plan, in hours since midnight of the day on which the first load is out
import sys
from pathlib import Path

import numpy as np
import pointage

demo = Path(__file__).resolve().parents[2] / "data" / "demo" / "market-poolish.toml"
bake = Path(sys.argv[1]) if len(sys.argv) > 1 else demo
picture = Path(sys.argv[2]) if len(sys.argv) > 2 else Path("plan.png")
plan = pointage.plan(bake, first_out="09:00")


def clock(hour: float) -> str:
    """07:30, and with its day when that is not the day of the anchor."""
    minutes = round(hour * 60)
    day = minutes // 1440
    return f"{minutes // 60 % 24:02}:{minutes % 60:02}" + (f" ({day:+} d)" if day else "")


# %% In words
print(plan["name"])
for stage in plan["stages"]:
    print(f"  {clock(stage['start']):>12}  {stage['name']}")
for load in plan["loads"]:
    share = 100 * load["ripeness"]
    print(f"  {clock(load['oven_in']):>12}  load {load['number']} into the oven, at {share:.0f} % of its proof")

# %% A dose for every night: arrays in place of numbers, and the answers have their shape
hours = np.arange(8.0, 17.0, 2.0)
kitchens = np.arange(16.0, 27.0, 2.0)
doses = pointage.dose("poolish", hours, at_c=kitchens[:, np.newaxis], yeast="fresh")["dose_percent"]
print("\nfresh yeast, % of the flour of a poolish\n   °C" + "".join(f"{hour:7.0f} h" for hour in hours))
for kitchen, row in zip(kitchens, doses):
    print(f"{kitchen:5.0f}" + "".join(f"{dose:9.2f}" for dose in row))

# %% As a picture
try:
    import matplotlib
except ImportError:
    print("no picture: matplotlib is not installed")
    raise SystemExit from None
matplotlib.use("Agg")
from matplotlib import pyplot, ticker

figure, (dough, oven, night) = pyplot.subplots(
    3, 1, figsize=(9, 9), height_ratios=[3, 1, 3], layout="constrained"
)
oven.sharex(dough)
for stage in plan["stages"]:
    if stage["dough_end_c"] is None:
        continue
    span = [stage["start"], stage["end"]]
    dough.plot(span, [stage["dough_start_c"], stage["dough_end_c"]], marker="o", markersize=3)
    dough.annotate(stage["name"], (span[0], stage["dough_start_c"]), rotation=60, fontsize=8)
dough.set_ylabel("dough, °C")
dough.set_title(plan["name"])
dough.margins(y=0.2)  # room for the names
for load in plan["loads"]:
    oven.barh(load["number"], load["oven_out"] - load["oven_in"], left=load["oven_in"], height=0.6)
oven.set_yticks([load["number"] for load in plan["loads"]])
oven.set_ylabel("load in the oven")
oven.set_xlabel("hour")
oven.invert_yaxis()
oven.xaxis.set_major_locator(ticker.MultipleLocator(2))
oven.xaxis.set_major_formatter(lambda hour, _: f"{hour % 24:.0f}:00")
for hour, column in zip(hours, doses.T):
    night.semilogy(kitchens, column, marker="o", label=f"{hour:.0f} h")
night.set_xlabel("kitchen, °C")
night.set_ylabel("fresh yeast, % of the poolish's flour")
night.yaxis.set_major_formatter(ticker.ScalarFormatter())
night.legend(title="ripe after")
night.grid(True, which="both", alpha=0.3)
figure.savefig(picture)
print(f"picture: {picture}")
