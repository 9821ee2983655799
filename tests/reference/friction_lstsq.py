"""Heat of a mixer from friction_log.csv (synthetic), by numpy.linalg.lstsq.

Prints the figures that tests/suite/friction_log.rs holds the crate against. Heat capacities and the
known wetting heat are written here as the test uses them. Run with numpy 2.x:
    python3 friction_lstsq.py
"""
import csv
import os
import numpy as np

FLOUR, WATER = 1.80, 4.186  # kJ/(kg K)
here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "friction_log.csv")) as f:
    rows = list(csv.DictReader(f))


def solve(label, x, y):
    x, y = np.array(x), np.array(y)
    b, _, rank, _ = np.linalg.lstsq(x, y, rcond=None)
    r = y - x @ b
    s2 = r @ r / (len(y) - rank)
    se = np.sqrt(np.diag(np.linalg.inv(x.T @ x)) * s2)
    print(label)
    for value, error in zip(b, se):
        print(f"    ({value:.15e}, {error:.15e}),")
    print(f"    residual sd {np.sqrt(s2):.15e}")


balance, known, sums = [], [], []
for r in rows:
    v = {k: float(t) for k, t in r.items() if k != "date" and t != ""}
    parts = [(v["flour_kg"] * FLOUR, v["flour_c"]), (v["water_kg"] * WATER, v["water_c"])]
    mass = v["flour_kg"] + v["water_kg"] + v["preferment_kg"]
    temperatures = [v["flour_c"], v["room_c"], v["water_c"]]
    if v["preferment_kg"] > 0:
        h = v["preferment_hydration_percent"] / 100
        c = (FLOUR + h * WATER) / (1 + h)
        parts.append((v["preferment_kg"] * c, v["preferment_c"]))
        temperatures.append(v["preferment_c"])
    parts.append((2.0, v["room_c"]))  # bowl, kJ/K
    cap = sum(c for c, _ in parts)
    rise = v["dough_c"] - sum(c * t for c, t in parts) / cap
    minutes = [v["slow_min"], v["fast_min"]]
    row = [m * mass / cap for m in minutes]
    balance.append((row + [v["flour_kg"] / cap], rise))
    known.append((row, rise - 9.9 * v["flour_kg"] / cap))
    sums.append((minutes, v["dough_c"] - sum(temperatures) / len(temperatures)))

solve("heat balance, wetting learned: slow, fast, wetting", *zip(*balance))
solve("heat balance, wetting 9.9 kJ/kg: slow, fast", *zip(*known))
solve("sum scale: slow, fast, K/min", *zip(*sums))
