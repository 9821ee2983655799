"""Plots a plan: the dough's temperature over the stages of the first load, and every load's time in the oven.

    python plot_plan.py [BAKE.toml] [PICTURE.png]

Needs matplotlib; without it the same plan is printed. The cells are those of a notebook.
"""

# %% The plan, in hours since midnight of the day on which the first load is out
import sys
from pathlib import Path

import pointage

demo = Path(__file__).resolve().parents[2] / "data" / "demo" / "market-poolish.toml"
bake = Path(sys.argv[1]) if len(sys.argv) > 1 else demo
picture = Path(sys.argv[2]) if len(sys.argv) > 2 else Path("plan.png")
plan = pointage.plan(bake.read_text(encoding="utf-8"), first_out="09:00")


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

# %% As a picture
try:
    import matplotlib
except ImportError:
    print("no picture: matplotlib is not installed")
    raise SystemExit from None
matplotlib.use("Agg")
from matplotlib import pyplot, ticker

figure, (dough, oven) = pyplot.subplots(
    2, 1, sharex=True, figsize=(9, 5), height_ratios=[3, 1], layout="constrained"
)
warm = [s for s in plan["stages"] if s["dough_end_c"] is not None]
for stage in warm:
    hours = [stage["start"], stage["end"]]
    dough.plot(hours, [stage["dough_start_c"], stage["dough_end_c"]], marker="o", markersize=3)
    dough.annotate(stage["name"], (hours[0], stage["dough_start_c"]), rotation=60, fontsize=8)
dough.set_ylabel("dough, °C")
dough.set_title(plan["name"])
for load in plan["loads"]:
    oven.barh(load["number"], load["oven_out"] - load["oven_in"], left=load["oven_in"], height=0.6)
oven.set_yticks([load["number"] for load in plan["loads"]])
oven.set_ylabel("load in the oven")
oven.set_xlabel("hour")
oven.invert_yaxis()
oven.xaxis.set_major_locator(ticker.MultipleLocator(2))
oven.xaxis.set_major_formatter(lambda hour, _: f"{hour % 24:.0f}:00")
figure.savefig(picture)
print(f"picture: {picture}")
