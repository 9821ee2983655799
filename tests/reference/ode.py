"""Works out reference_ode.json anew from its inputs: how long a yeast needs along the course of a room,
and a dough that its yeast warms.

    pip install mpmath==1.4.1
    python tests/reference/ode.py --check

mpmath at 30 digits: quadrature between the knots and a root for the times, Taylor series for the coupled
system. Allowed are 1e-14: the file has 17 digits, its readers ask for 1e-9. Takes a quarter of a minute.
"""
import sys
from functools import partial

import mpmath as mp
from mpmath import mpf

from committed import run

mp.mp.dps = 30


def q10(t, q, t_ref):
    return mpf(q) ** ((t - mpf(t_ref)) / 10)


def ctmi(t, low, best, high):
    """Rosso 1993, 1 at its best temperature, 0 outside."""
    if not low < t < high:
        return mpf(0)
    d = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t))
    return (t - high) * (t - low) ** 2 / d


def laws(inputs):
    """Speeds, 1 at the temperature of reference."""
    q = inputs["q10"]
    low, best, high, ref = (mpf(inputs["ctmi"][k]) for k in ("t_min", "t_opt", "t_max", "t_ref"))
    cardinal = lambda t: ctmi(t, low, best, high) / ctmi(ref, low, best, high)
    return {"q10": lambda t: q10(t, q["q10"], q["t_ref"]), "ctmi": cardinal}, [low, high]


def sinusoid(p):
    mean, swing, period, phase = (mpf(p[k]) for k in ("mean", "amplitude", "period_h", "phase_h"))
    return lambda t: mean + swing * mp.cos(2 * mp.pi * (t - phase) / period)


def ramps(knots, limits):
    """Course through knots, held after the last; where it bends, and where it crosses a limit."""
    knots = [(mpf(t), mpf(v)) for t, v in knots]

    def at(t):
        for (a, va), (b, vb) in zip(knots, knots[1:]):
            if t < b:
                return va + (vb - va) * (t - a) / (b - a)
        return knots[-1][1]

    bends = [t for t, _ in knots]
    for (a, va), (b, vb) in zip(knots, knots[1:]):
        bends += [a + (b - a) * (x - va) / (vb - va) for x in limits if min(va, vb) < x < max(va, vb)]
    return at, sorted(bends)


def integral(speed, bends, a, b):
    return mp.quad(speed, [a, *(t for t in bends if a < t < b), b])


def time_to(speed, bends, target):
    """Walks piece by piece, an hour at most, to the one that holds the target; then a root."""
    a, sum_a = mpf(0), mpf(0)
    while True:
        b = min([t for t in bends if t > a] + [a + 1])
        piece = mp.quad(speed, [a, b])
        if sum_a + piece >= target:
            break
        a, sum_a = b, sum_a + piece
    t = mp.findroot(lambda t: sum_a + mp.quad(speed, [a, t]) - target, (a, b), solver="anderson", tol=1e-25)
    return t, sum_a + mp.quad(speed, [a, t])


def text(x):
    return mp.nstr(x, 17)


def timed(case, inputs, law, limits):
    name = case["course"]
    if case["kind"] == "sinusoid":
        room, bends = sinusoid(inputs["sinusoid"][name]), []
    else:
        room, bends = ramps(inputs["piecewise_linear"][name], limits)
    speed = lambda t: law(room(t))
    t, reached = time_to(speed, bends, mpf(case["target_h_at_ref"]))
    eight = integral(speed, bends + [mpf(2), mpf(4), mpf(6)], mpf(0), mpf(8))
    given = {k: case[k] for k in ("course", "kind", "rate", "target_h_at_ref")}
    return given | {"t_h": text(t), "T_at_t_C": text(room(t)), "rate_at_t": text(speed(t)),
                    "integral_check": text(reached), "integral_0_to_8h": text(eight)}


def coupled(case, law):
    """dT/dt = k (room - T) + heat x f(T), dx/dt = mu f(T) x, dI/dt = f(T)."""
    p = case["parameters"]
    k, mu, heat = (mpf(p[n]) for n in ("k_per_h", "mu_ref_per_h", "heat_K_per_h_per_x"))
    ambient = p["ambient"]
    room = sinusoid(ambient) if ambient["kind"] == "sinusoid" else lambda t: mpf(ambient["value"])

    def slope(t, y):
        f = law(y[0])
        return [k * (room(t) - y[0]) + heat * y[1] * f, mu * f * y[1], f]

    y = mp.odefun(slope, 0, [mpf(p["T0"]), mpf(p["x0"]), mpf(0)])
    points = []
    for point in case["solution"]:
        values = y(mpf(point["t_h"]))
        points.append({"t_h": point["t_h"]} | dict(zip(("T_C", "x", "I_h"), map(text, values))))
    three = mp.findroot(lambda t: y(t)[2] - 3, (2.5, 3.5), solver="anderson", tol=1e-22)
    return {k: case[k] for k in ("name", "rate", "parameters")} | {"solution": points, "t_when_I_is_3h": text(three)}


def closed(forms, inputs):
    r, n = forms["q10_linear_ramp"], forms["newton_cooling"]
    b = mp.log(mpf(r["q10"])) / 10
    start, slope, ref = mpf(r["T0"]), mpf(r["slope_C_per_h"]), mpf(r["Tref"])
    ramp = mp.quad(lambda u: mp.exp(b * (start + slope * u - ref)), [0, mpf(r["t_h"])])
    cooled = mpf(n["Ta"]) + (mpf(n["T0"]) - mpf(n["Ta"])) * mp.exp(-mpf(n["k_per_h"]) * mpf(n["t_h"]))
    cardinal = partial(ctmi, **{a: mpf(inputs["ctmi"][k]) for a, k in (("low", "t_min"), ("best", "t_opt"), ("high", "t_max"))})
    q = inputs["q10"]
    return {
        "q10_linear_ramp": r | {"value": text(ramp)},
        "newton_cooling": n | {"value": text(cooled)},
        "ctmi_values_mu_opt_1": {t: text(cardinal(mpf(t))) for t in forms["ctmi_values_mu_opt_1"]},
        "q10_values": {t: text(q10(mpf(t), q["q10"], q["t_ref"])) for t in forms["q10_values"]},
    }


def anew(kept):
    inputs = kept["inputs"]
    law, limits = laws(inputs)
    return {
        "versions": {"python": sys.version.split()[0], "mpmath": mp.__version__},
        "inputs": inputs,
        "time_to_target": [timed(c, inputs, law[c["rate"]], limits) for c in kept["time_to_target"]],
        "coupled": [coupled(c, law[c["rate"]]) for c in kept["coupled"]],
        "closed_forms": closed(kept["closed_forms"], inputs),
    }


if __name__ == "__main__":
    sys.exit(run("reference_ode.json", anew, 1e-14,
                 ("versions", "max_abs_diff_scipy_dop853", "gbs_local_error_estimate"), __doc__))
