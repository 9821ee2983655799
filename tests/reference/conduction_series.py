"""Conduction in slab, cylinder, sphere and short cylinder by other means than modes: Chebyshev
collocation in space, scipy's Radau in time (rtol 1e-11), started anew at every knot of the place; and
the half-endless body for the first moments after a step. Works out reference_conduction.json anew.

    pip install numpy==2.4.6 scipy==1.17.1
    python tests/reference/conduction_series.py --check

Allowed are 1e-8, the last digit that the file has. Takes a quarter of a minute.
"""

import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.special import erfcx

from committed import run

K, RHO, C = 0.4, 1100.0, 2800.0
SOURCE_K_PER_H = 3600.0 / (RHO * C)  # K/h of a W/m3


class Axis:
    """Even Chebyshev collocation on x = 0..1; the surface value is eliminated by its Robin condition."""

    def __init__(self, d, depth, h, half):
        m = 2 * half - 1
        j = np.arange(m + 1)
        x = np.cos(np.pi * j / m)
        w = np.where((j == 0) | (j == m), 2.0, 1.0) * (-1.0) ** j
        dx = x[:, None] - x[None, :] + np.eye(m + 1)
        full = np.outer(w, 1 / w) / dx
        full -= np.diag(full.sum(axis=1))
        second = full @ full
        fold = lambda a: a[:half, :half] + a[:half, half:][:, ::-1]
        self.d, self.x = d, x[:half]
        first, second = fold(full), fold(second)
        bi = h * depth / K
        # First row of `first`: T'(1) = -Bi (T(1) - place)
        self.edge = -first[0, 1:] / (first[0, 0] + bi)
        self.edge_place = bi / (first[0, 0] + bi)
        operator = second + (d - 1) / self.x[:, None] * first
        scale = 3600.0 * K / (RHO * C) / depth**2
        self.a = scale * (operator[1:, 1:] + np.outer(operator[1:, 0], self.edge))
        self.b = scale * operator[1:, 0] * self.edge_place
        # Rows that read core and mean off all values.
        powers = np.vander(self.x**2, half, increasing=True)  # even polynomials
        self.core = np.linalg.solve(powers.T, np.eye(half)[0])
        moments = np.array([d / (2 * p + d) for p in range(half)])
        self.mean = np.linalg.solve(powers.T, moments)
        self.surface = np.eye(half)[0]

    def all(self, inner, place):
        return np.concatenate([[self.edge @ inner + self.edge_place * place], inner])


def march(f, jac, t0, t1, y):
    s = solve_ivp(f, (t0, t1), y, method="Radau", jac=jac, rtol=1e-11, atol=1e-11)
    assert s.success
    return s.y[:, -1]


def times(hours, knots):
    last = hours[-1]
    return sorted(set(hours) | {k for k in knots if 0 < k < last})


def one(d, depth, h, place, source, start, hours, knots=(), half=20, profile=None):
    axis = Axis(d, depth, h, half)
    y = profile if profile is not None else np.full(half - 1, float(start))
    f = lambda t, y: axis.a @ y + axis.b * place(t) + SOURCE_K_PER_H * source(t)
    out, t = [], 0.0
    for u in times(hours, knots):
        y = march(f, axis.a, t, u, y)
        t = u
        if u in hours:
            v = axis.all(y, place(u))
            out.append([u, axis.mean @ v, axis.core @ v, axis.surface @ v])
    return out, y


def short(radius, height, h, place, source, start, hours, knots, half=14):
    r, z = Axis(2, radius, h, half), Axis(1, height / 2, h, half)
    n = half - 1
    a = np.kron(r.a, np.eye(n)) + np.kron(np.eye(n), z.a)
    b = np.kron(r.b, np.ones(n)) + np.kron(np.ones(n), z.b)
    f = lambda t, y: a @ y + b * place(t) + SOURCE_K_PER_H * source(t)
    y, out, t = np.full(n * n, float(start)), [], 0.0
    for u in times(hours, knots):
        y = march(f, a, t, u, y)
        t = u
        if u in hours:
            p = place(u)
            grid = np.array([z.all(row, p) for row in y.reshape(n, n)])  # inner r, all z
            grid = np.array([r.all(col, p) for col in grid.T]).T
            out.append([u, r.mean @ grid @ z.mean, r.core @ grid @ z.core, r.surface @ grid @ z.core])
    return out


def ramps(knots):
    t, v = zip(*knots)
    return lambda u: float(np.interp(u, t, v))


def cases():
    none = lambda t: 0.0
    hours = [0.5, 1.0, 2.0, 6.0, 12.0, 24.0]
    daily = lambda t: 21 + 4 * np.cos(2 * np.pi * (t + 18 - 15) / 24)
    grows = lambda t: 200 * np.exp(0.15 * t)
    yield "sphere of 6 cm, h 8, day and night from 18:00, growing source", one(
        3, 0.06, 8.0, daily, grows, 26, hours)[0]
    knots = [(0, 22), (3, 4), (10, 4), (11, 30)]
    yield "slab of 4 cm, h 12, ramps", one(
        1, 0.04, 12.0, ramps(knots), none, 24, hours, [k[0] for k in knots])[0]
    lag = lambda t: 4 + 16 * np.exp(-t / 1.5)
    yield "cylinder of 10 cm, h 15, a cabinet that cools, constant source", one(
        2, 0.10, 15.0, lag, lambda t: 100.0, 26, hours)[0]
    knots = [(0, 20), (2, 4), (8, 4), (9, 28)]
    yield "short cylinder of 10 by 12 cm, h 15, ramps, constant source", short(
        0.10, 0.12, 15.0, ramps(knots), lambda t: 300.0, 26, hours, [k[0] for k in knots])
    half = 40
    _, y = one(3, 0.05, 8.0, lambda t: 4.0, none, 24, [2.0], half=half)
    yield "sphere of 5 cm, 2 h at 4 with h 8, then 28 with h 16", one(
        3, 0.05, 16.0, lambda t: 28.0, none, 0, [0.1, 0.5, 1.0, 2.0], half=half, profile=y)[0]


def first_moments():
    """Slab, shares of the step left: surface erfcx(b), mean 1 - (erfcx(b) - 1 + 2 b/sqrt(pi))/Bi."""
    for bi in [0.5, 10.0, 1000.0]:
        for fo in [2e-6, 1e-5, 1e-4, 1e-3, 1e-2]:
            b = bi * np.sqrt(fo)
            lost = (erfcx(b) - 1 + 2 * b / np.sqrt(np.pi)) / bi
            yield [bi, fo, float(erfcx(b)), float(1 - lost)]


def anew(_):
    return {
        "made_with": f"python {sys.version.split()[0]}, numpy {np.__version__}, scipy {scipy.__version__}",
        "properties": {"k": K, "rho": RHO, "c": C},
        "columns": ["hours", "mean_c", "core_c", "surface_c"],
        "cases": {name: [[round(float(v), 8) for v in row] for row in rows] for name, rows in cases()},
        "first_moments_columns": ["Bi", "Fo", "surface", "mean"],
        "first_moments": list(first_moments()),
    }


if __name__ == "__main__":
    sys.exit(run("reference_conduction.json", anew, 1e-8, ("made_with",), __doc__))
