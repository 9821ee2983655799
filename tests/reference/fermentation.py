"""Works out reference_fermentation.json anew from its inputs: gas, yeast and temperature with growth, lag,
salt, a drifting room and own heat. The equations stand in the file, `meta.equations`.

    pip install numpy==2.4.6 scipy==1.17.1
    python tests/reference/fermentation.py --check

scipy's DOP853, rtol 1e-13, steps of at most 0.05 h, begun anew at each knot of the room and where the lag
ends. Allowed are 1e-9, as the file says of itself; its readers ask for 1e-6. Takes seconds.
"""
import sys
from math import exp

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from committed import run

HEAT_KJ_PER_MOL, ML_PER_MOL = 50.0, 24465.0  # of carbon dioxide at 25 °C


def square_root(p):
    """Ratkowsky 1983, 1 at its temperature of reference, 0 outside."""
    low, high, c = p["t_min_c"], p["t_max_c"], p["c_per_k"]
    raw = lambda t: ((t - low) * (1 - exp(c * (t - high)))) ** 2 if low < t < high else 0.0
    return lambda t: raw(t) / raw(p["reference_c"])


def cardinal(p):
    """Rosso 1993, 1 at its best temperature, 0 outside."""
    low, best, high = p["t_min_c"], p["t_opt_c"], p["t_max_c"]

    def at(t):
        if not low < t < high:
            return 0.0
        d = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t))
        return (t - high) * (t - low) ** 2 / d

    return at


def follow(case, meta):
    """State (gas, yeast, temperature, lag hours at 27 °C) as a function of time, and where the lag ends."""
    gas, growth = square_root(meta["gas_law"]), cardinal(meta["growth_law"])
    times, rooms = zip(*case["room_knots"])
    room = lambda t: float(np.interp(t, times, rooms))
    start, own = case["yeast0_g_per_100g"], case["own_heat"]

    def slopes(grows):
        def slope(t, y):
            temperature = y[2] if own else room(t)
            made = meta["q30"] * gas(temperature) * case["gas_factor"] * y[1]
            left = 1 - (y[1] - start) / meta["D"]
            grown = grows * meta["mu_per_h"] * growth(temperature) * case["growth_factor"] * y[1] * left
            warmed = 0.0
            if own:
                kj = HEAT_KJ_PER_MOL * made / ML_PER_MOL
                warmed = (room(t) - y[2]) / own["tau_h"] + kj / (own["kg_dough_per_100g_flour"] * own["c_kJ_per_kgK"])
            return [made, grown, warmed, gas(temperature) / gas(27.0)]

        return slope

    def march(a, b, y, grows, **more):
        s = solve_ivp(slopes(grows), (a, b), y, method="DOP853", rtol=1e-13, atol=1e-13, max_step=0.05,
                      dense_output=True, **more)
        assert s.success, s.message
        return s

    lag_over = lambda t, y: y[3] - meta["lag27_h"]
    lag_over.terminal = True
    t, y, lag_end = 0.0, [0.0, start, own["T0_c"] if own else room(0.0), 0.0], None
    ends = sorted({p["t_h"] for p in case["solution"]} | {float(k) for k in times})
    pieces, at_ends = [], {}
    for end in ends[ends[0] == 0:]:
        if lag_end is None:
            s = march(t, end, y, 0.0, events=lag_over)
            pieces.append(s)
            t, y = float(s.t[-1]), s.y[:, -1]
            lag_end = t if t < end else None
        if lag_end is not None:
            s = march(t, end, y, 1.0)
            pieces.append(s)
            y = s.y[:, -1]
        t, at_ends[end] = end, y
    return pieces, at_ends, room, lag_end


def solved(case, meta):
    pieces, at_ends, room, lag_end = follow(case, meta)
    target = case["gas_target"]
    piece = next(s for s in pieces if s.y[0, -1] >= target)
    reached = brentq(lambda t: piece.sol(t)[0] - target, piece.t[0], piece.t[-1], xtol=1e-13)
    points = [
        {"t_h": (t := p["t_h"]), "gas_ml_per_100g": float(at_ends[t][0]), "yeast_g_per_100g": float(at_ends[t][1]),
         "temperature_c": float(at_ends[t][2]) if case["own_heat"] else room(t)}
        for p in case["solution"]
    ]
    return case | {"lag_end_h": lag_end, "target_h": reached, "solution": points}


def anew(kept):
    meta = kept["meta"]
    way = f"scipy {scipy.__version__} solve_ivp DOP853 rtol 1e-13, steps of at most 0.05 h, split at knots and lag"
    return {"meta": meta | {"method": way}, "cases": [solved(c, meta) for c in kept["cases"]]}


if __name__ == "__main__":
    sys.exit(run("reference_fermentation.json", anew, 1e-9, ("method",), __doc__))
