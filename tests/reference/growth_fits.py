"""Fits the rate laws of reference_growth_fits.json anew to the points that stand in it.

    pip install mpmath==1.4.1 scipy==1.17.1
    python tests/reference/growth_fits.py --check

Starts come from the points alone: scipy's `least_squares`, then Gauss and Newton's steps by mpmath at 60
digits with difference quotients. Conventions of the criteria stand in the file. Allowed are 1e-12: the file
has 16 digits, correlations those of a double; its readers ask for 1e-6. Takes seconds.
"""
import sys
from math import isnan, nan

import mpmath as mp
import numpy as np
import scipy
from mpmath import mpf
from scipy.optimize import least_squares

from committed import run

mp.mp.dps = 60
R, T0, T_REF = mpf("8.314462618"), mpf("273.15"), mpf("293.15")


def ctmi(t, best_rate, low, best, high):
    """Rosso 1993."""
    if not low < t < high:
        return t * 0
    d = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t))
    return best_rate * (t - high) * (t - low) ** 2 / d


def ratkowsky(t, b, low, c, high):
    """Ratkowsky 1983."""
    return (b * (t - low) * (1 - mp.exp(c * (t - high)))) ** 2 if low < t < high else t * 0


def arrhenius(t, r20, ea):
    return r20 * mp.exp(ea / R * (1 / T_REF - 1 / (t + T0)))


def schoolfield(t, r20, ea, eh, th):
    """Sharpe and Schoolfield with inactivation by heat only, as rate at 20 °C without inactivation."""
    return arrhenius(t, r20, ea) / (1 + mp.exp(eh / R * (1 / (th + T0) - 1 / (t + T0))))


def q10(t, r20, q):
    return r20 * q ** ((t - 20) / 10)


def starts(model, t, y):
    """Start and scale of each parameter."""
    low, high, top = min(t), max(t), max(y)
    best, middle = t[y.index(top)], y[len(y) // 2]
    return {
        "ctmi": (ctmi, [top, low - 2, best, high + 2]),
        "ratkowsky1983": (ratkowsky, [0.03, low - 2, 0.1, high + 2]),
        "sharpe_schoolfield_high": (schoolfield, [middle, 7e4, 3e5, best + 2]),
        "q10": (q10, [middle, 2.0]),
        "arrhenius": (arrhenius, [middle, 6e4]),
    }[model]


def fit(job):
    assert job["transform"] == "none"
    law, start = starts(job["model"], job["T_C"], job["y"])
    t, y = ([mpf(str(v)) for v in job[k]] for k in ("T_C", "y"))
    n, k = len(t), len(start)
    misses = lambda p: [law(a, *p) - b for a, b in zip(t, y)]
    rough = least_squares(lambda p: [float(m) for m in misses([mpf(v) for v in p])], start,
                          x_scale=np.abs(start), xtol=1e-12, ftol=1e-14, gtol=1e-14, max_nfev=2000)
    p = [mpf(v) for v in rough.x]

    def slopes(p):
        columns = []
        for i in range(k):
            h = abs(p[i]) * mpf(10) ** -20
            up, down = ([*p[:i], p[i] + s, *p[i + 1:]] for s in (h, -h))
            columns.append([(a - b) / (2 * h) for a, b in zip(misses(up), misses(down))])
        return mp.matrix(columns).T

    for _ in range(300):
        j, r = slopes(p), mp.matrix(misses(p))
        step = mp.lu_solve(j.T * j, -(j.T * r))
        p = [a + s for a, s in zip(p, step)]
        if max(abs(s / a) for a, s in zip(p, step)) < mpf(10) ** -24:
            break
    else:
        raise RuntimeError(f"{job['dataset']} {job['model']}: no end after 300 steps")

    rss = sum(m**2 for m in misses(p))
    j = slopes(p)
    cov = (j.T * j) ** -1 * rss / (n - k)
    se = [mp.sqrt(cov[i, i]) for i in range(k)]
    mean = sum(y) / n
    loglik = -mpf(n) / 2 * (mp.log(2 * mp.pi * rss / n) + 1)
    count = k + 1  # sigma counted
    aic = -2 * loglik + 2 * count
    aicc = aic + mpf(2 * count * (count + 1)) / (n - count - 1) if n > count + 1 else nan
    text = lambda x: "nan" if isnan(x) else mp.nstr(x, 16)
    given = {name: job[name] for name in ("dataset", "model", "subset", "transform", "names", "T_C", "y")}
    return given | {
        "n": n, "k": k,
        "params": [text(v) for v in p], "se": [text(v) for v in se],
        "rss": text(rss), "sigma": text(mp.sqrt(rss / (n - k))),
        "r2": text(1 - rss / sum((v - mean) ** 2 for v in y)),
        "loglik": text(loglik), "aic_R": text(aic), "aicc_R": text(aicc),
        "bic_R": text(-2 * loglik + count * mp.log(n)), "aic_short": text(n * mp.log(rss / n) + 2 * k),
        "correlation": [[float(cov[a, b] / se[a] / se[b]) for b in range(k)] for a in range(k)],
    }


def anew(kept):
    versions = {"python": sys.version.split()[0], "numpy": np.__version__, "scipy": scipy.__version__,
                "mpmath": mp.__version__}
    fits = [fit(job) for job in kept["fits"]]
    return {"versions": versions, "conventions": kept["conventions"], "fits": fits, "sources": kept["sources"]}


if __name__ == "__main__":
    sys.exit(run("reference_growth_fits.json", anew, 1e-12,
                 ("versions", "scipy_params", "scipy_rss", "scipy_vs_mp_digits", "iterations", "last_rel_step",
                  "max_abs_gradient"), __doc__))
