"""One fit of the fermentation model to data/observations/published.csv, by numpy and scipy alone.

    pip install numpy==2.4.6 scipy==1.17.1
    python tests/reference/joint_fit.py                 # fit, misfits, one source left out at a time: a minute
    python tests/reference/joint_fit.py --scales        # how well tau and sigma are known
    python tests/reference/joint_fit.py --simulate 100  # the same if the fitted model were true, seeded
    python tests/reference/joint_fit.py --check         # the model against reference_fermentation.json

An independent implementation: nothing here calls or copies Pointage. Numbers that are not fitted are read from data/.

Model (g and mL per 100 g flour, h, °C; data/README.md names each number)
    dX/dt = mu f_growth(T) s_growth X (1 - (X - X0)/D)   once the integral of f_gas(T)/f_gas(27) dt is L27
    dG/dt = q30 f_gas(T)/f_gas(30) s_gas X s/(s + K)     from t0 after mixing; s the sugar left, as gas
    dH/dG = retention(V);  at each handling, and at each punch in bulk, r -> kept r
    H = p dissolved(T) + r V0 298.15/(T + 273.15),  r = V/V0 - 1,  p = r/(r + air)   the bubbles begin as the air of mixing
At one temperature yeast and gas have closed forms; with its own heat, also in a room that it follows, a dough is
followed by Runge-Kutta.

Statistics
    ln y_i = m_i(theta, e_s) + noise of variance w_i²     theta ~ N(prior), e_s ~ N(0, tau² + extra_s²), one e a source
    times          w² = sigma² + (range of the hours)² + (slope times range of the dose)² + log_sd²
    other values   w² = log_sd² + (slope times range of the dose)²
exp(e) multiplies the gas at the end point (times, volumes at an end point) and divides q30 (volume, warming, gas at an
hour); a proof against its bulk has none. Ranges are read as 10 to 90 %; a range of what is assumed counts as nothing,
`extra_log_sd` stands for it. theta and all e are found together by Gauss-Newton, e inside the model and not linearised;
tau and sigma maximise the marginal likelihood by Laplace's approximation, with half-normal priors of 0.4 on both.
Leaving a source out takes all its rows away, its volumes and proofs too, holds tau and sigma, and predicts its times with
e = 0; the 80 % interval of that has the variance J C J' + z² (tau² + extra²) + w², z = d ln t/d e.

Rows of the roles `fit` and `shape` are fitted; `fit` times are counted in the errors. Cell counts are shown beside: growth
and the curves are held at data/ferment, data/growth-rate and data/gas-rate, where joint fits that freed them left them.
"""
import argparse
import collections
import json
import math
import pathlib
import sys
import tomllib

import numpy as np
from scipy.interpolate import CubicHermiteSpline
from scipy.linalg import block_diag
from scipy.optimize import brentq, minimize

from observations import DATA, observations

TEN_TO_NINETY = 1.2815515655446004  # standard deviations from the middle to 90 %
ZERO_C = 273.15
NAMES = ["q30", "t0", "poolish", "biga", "sponge", "kept", "hearth", "tin"]
LOGARITHMIC = np.array([True, False, True, True, True, True, True, True])
PRIOR_MEAN = np.array([math.log(65), 0.15, math.log(350), math.log(450), math.log(550), math.log(0.5), math.log(2), math.log(3)])
PRIOR_SD = np.array([0.35, 0.2, 0.7, 0.7, 0.7, 0.31, 0.058, 0.137])
SCALE_PRIOR = 0.4  # half-normal, of tau and of sigma


def values(name):
    return {k: v["value"] for k, v in tomllib.loads((DATA / name).read_text(encoding="utf-8"))["values"].items()}


FERMENT, CO2, HEAT = (values(f"{n}.toml") for n in ("ferment/defaults", "gas/co2", "heat/properties"))
SQUARE_ROOT = values("gas-rate/slator1906_square_root.toml")
GROWTH = values("growth-rate/zakhartsev2015.toml")
KNOTS = [(k["temperature_c"], k["relative_rate"])
         for k in tomllib.loads((DATA / "gas-rate/slator1906.toml").read_text(encoding="utf-8"))["knots"]]


def square_root(t):
    """Ratkowsky 1983, 1 at 30 °C, 0 outside."""
    low, high, k = (SQUARE_ROOT[n] for n in ("t_min_c", "t_max_c", "c_per_k"))
    raw = lambda t: ((t - low) * (1 - math.exp(k * (t - high)))) ** 2 if low < t < high else 0.0
    return raw(t) / raw(SQUARE_ROOT["reference_c"])


def cold_curve():
    """Slator's points and their slopes up to the join: of the cubic through the first four, harmonic means, the law's."""
    join = SQUARE_ROOT["join_c"]
    x, y = (np.array(v) for v in zip(*[(t, math.log(r)) for t, r in KNOTS if t < join] + [(join, math.log(square_root(join)))]))
    first = np.poly1d(np.polyfit([t for t, _ in KNOTS[:4]], [math.log(r) for _, r in KNOTS[:4]], 3)).deriv()(x[0])
    step = np.diff(y) / np.diff(x)
    last = math.log(square_root(join + 1e-3) / square_root(join - 1e-3)) / 2e-3
    slope = np.concatenate([[first], 2 * step[:-1] * step[1:] / (step[:-1] + step[1:]), [last]])
    return CubicHermiteSpline(x, y, slope), x[0], math.exp(y[0]), first


COLD = None


def f_gas(t):
    """The smooth curve from the join on, Slator's points below it, and a square below the coldest."""
    global COLD
    if t >= SQUARE_ROOT["join_c"]:
        return square_root(t)
    COLD = COLD or cold_curve()
    curve, first_c, rate, slope = COLD
    if t < first_c:
        return rate * max(0.0, 1 + slope * (t - first_c) / 2) ** 2
    return math.exp(curve(t))


def f_growth(t):
    """Rosso 1993, 1 at its best temperature, 0 outside."""
    low, best, high = (GROWTH[n] for n in ("t_min_c", "t_opt_c", "t_max_c"))
    if not low < t < high:
        return 0.0
    d = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t))
    return (t - high) * (t - low) ** 2 / d


class Dough:
    """Flour, water, salt and sugar, % of flour: what they do to yeast, volume and heat."""

    def __init__(self, water, salt=0.0, sugar=0.0):
        f = FERMENT
        dilution = f["reference_hydration_percent"] / water
        over = max(0.0, sugar - f["added_sugar_onset_percent"])
        self.gas_factor = math.exp(-f["salt_per_percent"] * salt * dilution) * (1 - f["added_sugar_slope_per_percent"] * over)
        native = f["native_osmol_per_kg"] * dilution
        salt_osmol = 2 * f["nacl_osmotic_coefficient"] * 10 * salt / 58.44 / (water / 100)
        growth = lambda osmol: -f["water_activity_factor"] * (math.sqrt(osmol / (55.556 + osmol)) - f["water_activity_root"]) ** 2
        self.growth_factor = math.exp(growth(native + salt_osmol) - growth(native))
        self.sugar = f["sugar_stock_ml_per_100g"] + CO2["sucrose_ml_per_g"] * sugar
        self.half = f["sugar_half_rate_ml_per_100g"]
        self.v0 = (100 / f["flour_density_g_per_ml"] + salt / 2.165 + sugar / 1.59 + water) / f["gas_free_fraction"]
        self.air = 1 - f["gas_free_fraction"]
        self.water_l = (water + HEAT["flour_moisture_percent"]) / 1000
        self.kj_per_k = (100 * HEAT["c_flour_kj_per_kg_k"] + water * HEAT["c_water_kj_per_kg_k"]
                         + salt * HEAT["c_salt_kj_per_kg_k"] + sugar * HEAT["c_sugar_kj_per_kg_k"]) / 1000

    def dissolved(self, t):
        henry = CO2["henry_mol_per_m3_pa"] * math.exp(CO2["henry_slope_k"] * (1 / (t + ZERO_C) - 1 / 298.15))
        return henry * CO2["standard_pressure_pa"] / 1000 * self.water_l * CO2["molar_volume_ml_per_mol"]

    def held_at(self, ratio, t):
        """The air of mixing shares its bubbles with the gas, whose pressure in them is p of the whole."""
        rise = ratio - 1
        p = rise / (rise + self.air)
        return p * self.dissolved(t) + rise * self.v0 * 298.15 / (t + ZERO_C)

    def ratio(self, held, t):
        rise = brentq(lambda rise: self.held_at(1 + rise, t) - held, 0, 50, xtol=1e-14) if held > 0 else 0.0
        return 1 + rise

    def handled(self, held, kept, t):
        """What is held after a share of the bubbles' gas is driven out."""
        return self.held_at(1 + kept * (self.ratio(held, t) - 1), t)

    def hold(self, held, made, t):
        """What is held after `made` more: a share up to one ratio, then falling to nothing at another."""
        share = FERMENT["retention"]
        full = self.held_at(FERMENT["retention_full_to_ratio"], t)
        if held + share * made <= full:
            return held + share * made
        start = max(held, full)
        over = made - (start - held) / share
        none = self.held_at(FERMENT["retention_none_from_ratio"], t)
        return start if start >= none else none - (none - start) * math.exp(-share * over / (none - full))

    def made_for(self, held, ratio, t):
        """How much more gas brings the dough from `held` to a ratio."""
        goal = self.held_at(ratio, t)
        return brentq(lambda made: self.hold(held, made, t) - goal, 0, 5000) if goal > held else 0.0

    def potential(self, gas):
        """Gas that sugar without end would have given; beyond the stock there is none."""
        if self.sugar == math.inf:
            return gas
        if gas >= self.sugar:
            raise ArithmeticError("more gas than the sugar gives")
        return gas + self.half * math.log(self.sugar / (self.sugar - gas))

    def gas_of(self, potential):
        if self.sugar == math.inf:
            return potential
        return brentq(lambda g: self.potential(g) - potential, 0, self.sugar * (1 - 1e-12))


class Yeast:
    """Rates for one fermentation; `q30` in mL/(g h)."""

    def __init__(self, q30, t0, x0, dough):
        self.q30, self.t0, self.x0, self.dough = q30, t0, x0, dough
        self.cap, self.lag = FERMENT["growth_cap_g_per_100g"], FERMENT["lag27_h"]

    def gas_rate(self, t):
        """Per g of yeast, with sugar without end."""
        return self.q30 * f_gas(t) * self.dough.gas_factor

    def growth_rate(self, t):
        return FERMENT["growth_rate_per_h"] * f_growth(t) * self.dough.growth_factor


class Held:
    """A dough at one temperature, or one temperature after the other, in closed form."""

    def __init__(self, yeast):
        self.y, self.x, self.clock, self.hours, self.potential = yeast, yeast.x0, 0.0, 0.0, 0.0

    def grown(self, x, t, hours):
        """Yeast, and the integral of it, after hours of growth."""
        k = self.y.x0 + self.y.cap
        r = self.y.growth_rate(t) * k / self.y.cap
        a = (k - x) / x
        e = math.exp(r * hours)
        return (k * e / (e + a), k / r * math.log((e + a) / (1 + a))) if r > 0 else (x, x * hours)

    def after(self, t, hours):
        """Yeast and its integral `hours` from now, and what is left of the lag."""
        left = (self.y.lag - self.clock) / (f_gas(t) / f_gas(27))
        if hours <= left:
            return self.x, self.x * hours
        left = max(0.0, left)
        x, integral = self.grown(self.x, t, hours - left)
        return x, self.x * left + integral

    def advance(self, t, hours):
        dead = min(hours, max(0.0, self.y.t0 - self.hours))
        for part, makes in ((dead, 0.0), (hours - dead, 1.0)):
            x, integral = self.after(t, part)
            self.potential += makes * self.y.gas_rate(t) * integral
            self.x, self.clock, self.hours = x, self.clock + part * f_gas(t) / f_gas(27), self.hours + part
        return self

    def hours_to(self, gas, t):
        """Hours from now until so much gas has been made at t."""
        dead = max(0.0, self.y.t0 - self.hours)
        need = (self.y.dough.potential(gas) - self.potential) / self.y.gas_rate(t)
        if need <= 0:
            return 0.0
        have = lambda h: self.after(t, dead + h)[1] - self.after(t, dead)[1] - need
        high = need / self.x * (1 + 1e-9) + 1e-9
        return dead + brentq(have, 0, high, xtol=1e-13, rtol=1e-13)  # yeast never falls: high is enough

    @property
    def gas(self):
        return self.y.dough.gas_of(self.potential)


def warming(yeast, t, hours=None, gas=None, room=None, tau=math.inf, kj_per_k=None, step=0.05):
    """A dough with its own heat until an hour or an amount of gas: (hours, gas, yeast, °C). Runge-Kutta of the fourth
    order; the dead time and the lag end on a step."""
    d, y = yeast.dough, yeast
    per_ml = FERMENT["heat_kj_per_mol"] / CO2["molar_volume_ml_per_mol"] / (kj_per_k or d.kj_per_k)
    base = f_gas(27)

    def slope(s, makes, grows):
        g, x, _, temperature = s
        fg = f_gas(temperature)
        left = 1.0 if d.sugar == math.inf else max(0.0, (d.sugar - g) / (d.sugar - g + d.half))
        made = makes * y.q30 * fg * d.gas_factor * x * left
        grown = grows * y.growth_rate(temperature) * x * (1 - (x - y.x0) / y.cap)
        cooled = (room - temperature) / tau if room is not None else 0.0
        return np.array([made, grown, fg / base, per_ml * made + cooled])

    def stepped(s, h, *phase):
        a = slope(s, *phase)
        b = slope(s + h / 2 * a, *phase)
        e = slope(s + h / 2 * b, *phase)
        f = slope(s + h * e, *phase)
        return s + h / 6 * (a + 2 * b + 2 * e + f)

    s, at = np.array([0.0, y.x0, 0.0, t]), 0.0
    while True:
        phase = (1.0 if at >= y.t0 - 1e-12 else 0.0, 1.0 if s[2] >= y.lag - 1e-9 else 0.0)
        h = min(step, y.t0 - at) if not phase[0] else step
        if hours is not None:
            h = min(h, hours - at)
        n = stepped(s, h, *phase)
        if not phase[1] and n[2] > y.lag:
            h = brentq(lambda h: stepped(s, h, *phase)[2] - y.lag, 0, h, xtol=1e-13)
            n = stepped(s, h, *phase)
        if gas is not None and n[0] >= gas:
            h = brentq(lambda h: stepped(s, h, *phase)[0] - gas, 0, h, xtol=1e-12)
            return (at + h, *stepped(s, h, *phase)[[0, 1, 3]])
        s, at = n, at + h
        if hours is not None and at >= hours - 1e-12:
            return (at, s[0], s[1], s[3])
        if at > 200 or gas is not None and gas >= d.sugar:
            raise ArithmeticError("no such end point")


def dough_of(row):
    middle = lambda name: row[name].middle if row[name] else 0.0
    return Dough(middle("water_percent"), middle("salt_percent"), middle("sugar_percent"))


def target(row, theta, e, dough, t):
    """Gas at the row's end point."""
    levels = dict(zip(NAMES, theta))
    if row["end"].startswith("rise ") or row["end"] == "doubled":
        ratio = float(row["end"][5:]) if row["end"] != "doubled" else 2.0
        gas = dough.made_for(0.0, ratio, t)
    elif row["stage"] == "dough":  # divided when doubled, says or assumes its row
        gas = dough.made_for(0.0, 2.0, t)
    else:
        gas = math.exp(levels[row["stage"]])
    return gas * math.exp(e)


def predict(row, theta, e=0.0, dose=None):
    """ln of what the row shows, by the model."""
    q30, t0, kept = math.exp(theta[0]), theta[1], math.exp(theta[5])
    dough, quantity = dough_of(row), row["quantity"]
    t = row["temperature_c"].middle
    x0 = dose or (row["fresh_percent"].log_middle if row["fresh_percent"] else None)
    if quantity == "proof":
        return math.log(proof_hours(row, q30, t0, kept, math.exp(theta[NAMES.index(row["stage"])]), dough))
    if quantity == "volume-at-end":
        return math.log(dough.ratio(dough.hold(0.0, target(row, theta, e, dough, t), t), t))
    if quantity == "time":
        end_c = row["room_c"].middle if row["room_c"] else t
        gas, yeast = target(row, theta, e, dough, end_c), Yeast(q30, t0, x0, dough)
        if row["punched_min"]:
            return math.log(punched_hours(row, yeast, gas, t, kept))
        if row["heat"] == "held":
            return math.log(Held(yeast).hours_to(gas, t))
        return math.log(warming(yeast, t, gas=gas, room=end_c, tau=row["tau_h"].middle if row["tau_h"] else math.inf)[0])
    yeast, hours = Yeast(q30 * math.exp(-e), t0, x0, dough), row["hours"].log_middle
    if quantity == "cells":
        return math.log(Held(yeast).advance(t, hours).x / x0)
    if row["heat"] == "kept":
        _, gas, _, end = warming(yeast, t, hours=hours)
    else:
        gas, end = Held(yeast).advance(t, hours).gas, t
    return math.log({"volume": dough.ratio(dough.hold(0.0, gas, end), end), "warming": end - t, "gas": gas}[quantity])


def punched(row, yeast, t, kept):
    """A dough after its last punch: its state, the gas it holds, the gas it has made."""
    dough, state, held, made = yeast.dough, Held(yeast), 0.0, 0.0
    for minutes in row["punched_min"] or ():
        state.advance(t, minutes / 60 - state.hours)
        held, made = dough.handled(dough.hold(held, state.gas - made, t), kept, t), state.gas
    return state, held, made


def punched_hours(row, yeast, gas, t, kept):
    """Hours until a dough holds again, after its punches, what `gas` would have left in it without."""
    dough, goal = yeast.dough, yeast.dough.hold(0.0, gas, t)
    state, held, made = punched(row, yeast, t, kept)
    if held >= goal:  # never in the fit, but where a dose is sought
        return state.hours
    more = brentq(lambda more: dough.hold(held, more, t) - goal, 0, 5000)
    return state.hours + state.hours_to(made + more, t)


def proof_hours(row, q30, t0, kept, ratio, dough):
    """Hours of proof after a bulk to double in the hours that the row gives for it: the dose is the one that does so."""
    bulk, warm, box = row["bulk_h"].log_middle, row["bulk_c"].middle, row["temperature_c"].middle
    gas = dough.made_for(0.0, 2.0, warm)
    yeast = lambda ln_x: Yeast(q30, t0, math.exp(ln_x), dough)
    short = lambda ln_x: punched_hours(row, yeast(ln_x), gas, warm, kept) - bulk
    dose = brentq(short, math.log(0.02), math.log(20))
    state, held, made = punched(row, yeast(dose), warm, kept)
    state.advance(warm, bulk - state.hours)
    held, made = dough.hold(held, state.gas - made, warm), state.gas
    divide, rest, shape = (m / 60 for m in row["handling_min"])
    for hours in (divide, rest + shape):
        state.advance(warm, hours)
        held, made = dough.handled(dough.hold(held, state.gas - made, warm), kept, warm), state.gas
    return max(0.05, state.hours_to(made + dough.made_for(held, ratio, box), box))


def observed(row):
    return math.log(row["hours" if row["quantity"] in ("time", "proof") else "value"].log_middle)


def own_variance(row):
    """Log variance of a row but for sigma: what its printed ranges and its judged scatter make."""
    v = row["log_sd"].middle ** 2 if row["log_sd"] else 0.0
    if row["quantity"] == "time" and "hours" not in row["assumed"]:
        v += row["hours"].log_sd ** 2
    if row["fresh_percent"] and "fresh_percent" not in row["assumed"] and row["fresh_percent"].log_sd:
        x = row["fresh_percent"].log_middle
        slope = (predict(row, PRIOR_MEAN, dose=1.02 * x) - predict(row, PRIOR_MEAN, dose=x / 1.02)) / (2 * math.log(1.02))
        v += (slope * row["fresh_percent"].log_sd) ** 2
    return v


MODELLED = ("time", "volume", "volume-at-end", "warming", "gas", "proof")


class Fit:
    """The posterior of theta and the source effects for given rows and scales."""

    def __init__(self, rows, y=None):
        self.rows = rows
        self.y = np.array([observed(r) for r in rows]) if y is None else y
        self.own = np.array([r["own_variance"] for r in rows])
        self.timed = np.array([r["quantity"] == "time" for r in rows])
        self.sources = sorted({r["source"] for r in rows if r["quantity"] != "proof"})
        self.index = np.array([self.sources.index(r["source"]) if r["quantity"] != "proof" else -1 for r in rows])
        extra = collections.defaultdict(float)
        for r in rows:
            if r["extra_log_sd"]:
                extra[r["source"]] = max(extra[r["source"]], r["extra_log_sd"].middle)
        self.extra = np.array([extra[s] for s in self.sources])
        self.theta, self.effects = PRIOR_MEAN.copy(), np.zeros(len(self.sources))

    def linear(self, theta, effects, derivatives=True):
        e = [effects[i] if i >= 0 else 0.0 for i in self.index]
        m = np.array([predict(r, theta, x) for r, x in zip(self.rows, e)])
        if not derivatives:
            return m
        J, z, h = np.zeros((len(m), len(theta))), np.zeros(len(m)), 1e-4
        for i, (r, x) in enumerate(zip(self.rows, e)):
            for k in relevant(r):
                up, down = theta.copy(), theta.copy()
                up[k] += h
                down[k] -= h
                J[i, k] = (predict(r, up, x) - predict(r, down, x)) / (2 * h)
            if self.index[i] >= 0:
                z[i] = (predict(r, theta, x + h) - predict(r, theta, x - h)) / (2 * h)
        return m, J, z

    def objective(self, m, theta, effects, w2, s2):
        return (np.sum((self.y - m) ** 2 / w2) + np.sum(((theta - PRIOR_MEAN) / PRIOR_SD) ** 2) + np.sum(effects**2 / s2))

    def solve(self, tau, sigma, rounds=40):
        w2, s2 = self.own + sigma**2 * self.timed, tau**2 + self.extra**2
        theta, effects = self.theta, self.effects
        for _ in range(rounds):
            m, J, z = self.linear(theta, effects)
            Z = np.zeros((len(m), len(self.sources)))
            Z[np.arange(len(m))[self.index >= 0], self.index[self.index >= 0]] = z[self.index >= 0]
            A = np.hstack([J, Z])
            precision = np.concatenate([1 / PRIOR_SD**2, 1 / s2])
            H = A.T @ (A / w2[:, None]) + np.diag(precision)
            grad = A.T @ ((self.y - m) / w2) - precision * np.concatenate([theta - PRIOR_MEAN, effects])
            move = np.linalg.solve(H, grad)
            now = self.objective(m, theta, effects, w2, s2)
            for share in (1, 0.5, 0.25, 0.1, 0.03):
                t, f = theta + share * move[: len(theta)], effects + share * move[len(theta):]
                try:
                    then = self.objective(self.linear(t, f, False), t, f, w2, s2)
                except ArithmeticError:  # an end point beyond the sugar
                    continue
                if then <= now + 1e-9:
                    theta, effects, now = t, f, then
                    break
            else:
                raise ArithmeticError(f"the fit is stuck at tau {tau:.3f}, sigma {sigma:.3f}; next step {np.max(np.abs(move)):.1e}")
            if np.max(np.abs(move)) < 1e-5:
                break
        else:
            raise ArithmeticError(f"no rest after {rounds} rounds at tau {tau:.3f}, sigma {sigma:.3f}")
        self.theta, self.effects = theta, effects
        self.covariance = np.linalg.inv(H)[: len(theta), : len(theta)]
        log_det_v = 0.0
        for k in range(len(self.sources)):
            mine = self.index == k
            log_det_v += np.sum(np.log(w2[mine])) + math.log1p(s2[k] * np.sum(z[mine] ** 2 / w2[mine]))
        log_det_v += np.sum(np.log(w2[self.index < 0]))
        log_det_h = -np.linalg.slogdet(self.covariance)[1]
        self.minus_log_ml = 0.5 * (now + log_det_v + log_det_h + 2 * np.sum(np.log(PRIOR_SD)))
        return self

    def scale_cost(self, tau, sigma):
        return self.solve(tau, sigma).minus_log_ml + (tau**2 + sigma**2) / (2 * SCALE_PRIOR**2)

    def scales(self):
        """tau and sigma that maximise the marginal likelihood, with half-normal priors."""
        cost = lambda x: self.scale_cost(*np.exp(x))
        start = np.log([0.18, 0.21])
        simplex = np.array([start, start + [0.25, 0], start + [0, 0.25]])
        best = minimize(cost, start, method="Nelder-Mead", options={"xatol": 0.004, "fatol": 0.002, "initial_simplex": simplex})
        tau, sigma = np.exp(best.x)
        self.solve(tau, sigma)
        return tau, sigma


def scale_intervals(fit):
    """tau and sigma by their joint density on a grid: mode, mean, 10 and 90 % of each."""
    taus, sigmas = np.linspace(0.02, 0.5, 13), np.linspace(0.13, 0.34, 8)
    cost = np.array([[fit.scale_cost(t, s) for s in sigmas] for t in taus])
    weight = np.exp(cost.min() - cost)
    for name, x, w in (("tau", taus, weight.sum(1)), ("sigma", sigmas, weight.sum(0))):
        w = w / w.sum()
        low, high = np.interp([0.1, 0.9], np.cumsum(w) - 0.5 * w, x)
        print(f"  {name:6} most likely {x[np.argmax(w)]:.2f}, mean {w @ x:.3f}, 10 to 90 % {low:.2f} to {high:.2f}")


def relevant(row):
    """Which of the parameters a row can depend on."""
    quantity, level = row["quantity"], NAMES.index(row["stage"]) if row["stage"] in NAMES else None
    if quantity == "proof":
        return [0, 1, 5, level]
    own = [] if level is None or row["end"].startswith(("rise", "doubled")) else [level]
    if row["punched_min"]:
        own.append(5)
    return own if quantity == "volume-at-end" else [0, 1, *own] if quantity == "time" else [0, 1]


def counted(row):
    return row["quantity"] == "time" and row["role"] == "fit"


def spread(row, theta, covariance, tau, sigma):
    """Standard deviation of the log of a time that an unknown baker will see, and z."""
    h, J = 1e-4, np.zeros(len(theta))
    for k in relevant(row):
        step = np.zeros(len(theta))
        step[k] = h
        J[k] = (predict(row, theta + step) - predict(row, theta - step)) / (2 * h)
    z = (predict(row, theta, h) - predict(row, theta, -h)) / (2 * h)
    extra = row["extra_log_sd"].middle if row["extra_log_sd"] else 0.0
    return math.sqrt(J @ covariance @ J + z**2 * (tau**2 + extra**2) + sigma**2 + row["own_variance"]), z


def left_out(rows, y, whole, tau, sigma):
    """Each counted time predicted without its source: id -> (error in log time, standard deviation)."""
    found = {}
    for source in sorted({r["source"] for r in rows if counted(r)}):
        keep = [i for i, r in enumerate(rows) if r["source"] != source]
        fit = Fit([rows[i] for i in keep], y[keep])
        fit.theta = whole.theta.copy()
        fit.effects = np.array([whole.effects[whole.sources.index(s)] for s in fit.sources])
        fit.solve(tau, sigma)
        for i, r in enumerate(rows):
            if r["source"] == source and counted(r):
                sd, _ = spread(r, fit.theta, fit.covariance, tau, sigma)
                found[r["id"]] = (y[i] - predict(r, fit.theta), sd)
    return found


def rms(x):
    x = np.array(list(x))
    return math.sqrt(np.mean(x**2)) if len(x) else math.nan


GROUPS = {
    "poolish, five sources of before": lambda r: r["stage"] == "poolish" and r["end"] == "ripe" and r["source"] in
        ("leblanc2007", "practitioner_a", "handout2015", "forkish2012", "isbn9780062447937"),
    "poolish": lambda r: r["stage"] == "poolish" and r["end"] == "ripe",
    "sponge": lambda r: r["stage"] == "sponge",
    "dough": lambda r: r["stage"] == "dough" or r["end"] != "ripe" and r["stage"] == "poolish",
    "biga": lambda r: r["stage"] == "biga",
    "all but biga": lambda r: r["stage"] != "biga",
}


def report(rows, others):
    y = np.array([observed(r) for r in rows])
    fit = Fit(rows)
    tau, sigma = fit.scales()
    print(f"{len(rows)} rows, {len({r['source'] for r in rows})} sources; tau {tau:.3f}, sigma {sigma:.3f}, "
          f"-ln marginal likelihood {fit.minus_log_ml:.2f}\n")
    sd = np.sqrt(np.diag(fit.covariance))
    for k, name in enumerate(NAMES):
        shown = math.exp(fit.theta[k]) if LOGARITHMIC[k] else fit.theta[k]
        prior = math.exp(PRIOR_MEAN[k]) if LOGARITHMIC[k] else PRIOR_MEAN[k]
        print(f"  {name:9}{shown:9.4g}   {'log-sd' if LOGARITHMIC[k] else 'sd    '} {sd[k]:.3f}   prior {prior:.4g} ± {PRIOR_SD[k]}")
    r = fit.covariance / np.outer(sd, sd)
    print("  correlations:", ", ".join(f"{NAMES[i]}-{NAMES[j]} {r[i, j]:.2f}" for i in range(len(NAMES)) for j in range(i) if abs(r[i, j]) > 0.2))
    m0 = np.array([predict(x, fit.theta) for x in rows])
    print("\n  row                        observed    model  without its source   sd   effect of the source")
    out = left_out(rows, y, fit, tau, sigma)
    for i, x in sorted(enumerate(rows), key=lambda p: (p[1]["quantity"], p[1]["stage"])):
        e, s = out.get(x["id"], (math.nan, math.nan))
        effect = fit.effects[fit.index[i]] if fit.index[i] >= 0 else math.nan
        print(f"  {x['id']:26}{math.exp(y[i]):9.3g}{math.exp(m0[i]):9.3g}" + (f"{math.exp(y[i] - e):14.3g}{s:12.2f}" if s == s else " " * 26)
              + (f"{effect:12.2f}" if effect == effect else ""))
    print("\n  error in log time, rms          in sample   one source left out   inside 80 %")
    for name, chosen in GROUPS.items():
        ids = [i for i, x in enumerate(rows) if counted(x) and chosen(x)]
        e = [out[rows[i]["id"]] for i in ids]
        inside = sum(abs(a) <= TEN_TO_NINETY * s for a, s in e)
        print(f"  {name:32}{rms(y[ids] - m0[ids]):9.3f}{rms(a for a, _ in e):18.3f}{inside:15} of {len(e)}")
    by_source = collections.defaultdict(list)
    for x in rows:
        if counted(x):
            by_source[x["source"]].append(out[x["id"]])
    print("\n  by source")
    for s, e in by_source.items():
        inside = sum(abs(a) <= TEN_TO_NINETY * v for a, v in e)
        print(f"  {s:28}{rms(a for a, _ in e):7.3f}{inside:4} of {len(e)}")
    print("\n  not fitted, shown beside:    observed    model   difference in sd")
    for x in others:
        m = predict(x, fit.theta)
        width, _ = spread(x, fit.theta, fit.covariance, tau, sigma) if x["quantity"] == "time" else (math.nan, 0)
        text = "" if width != width else f"{(observed(x) - m) / width:12.1f}"
        print(f"  {x['role']:12}{x['id']:22}{math.exp(observed(x)):6.3g}{math.exp(m):9.3g}{text}")
    return fit, tau, sigma


def shown_beside(row):
    """Rows that the model can answer though they are not fitted."""
    if row["quantity"] == "cells":
        return bool(row["fresh_percent"])
    if row["role"] in ("fit", "shape"):
        return False
    end = row["end"] in ("ripe", "drop", "doubled") or row["end"].startswith("rise ")
    ready = row["fresh_percent"] and len(row["course"]) == 1 and row["water_percent"] and row["heat"] in ("held", "kept")
    return bool(ready) and row["value"] is None and row["quantity"] == "time" and end


def simulate(rows, fit, tau, sigma, runs):
    """Left-out errors where the fitted model is the truth."""
    random, all_but, pool, beyond = np.random.default_rng(20261130), [], [], 0
    for _ in range(runs):
        theta = random.multivariate_normal(fit.theta, fit.covariance)
        effects = random.normal(0, np.sqrt(tau**2 + fit.extra**2))
        w = np.sqrt(fit.own + sigma**2 * fit.timed)
        try:
            y = fit.linear(theta, effects, False) + random.normal(0, w)
            again = Fit(rows, y)
            again.theta = fit.theta.copy()
            out = left_out(rows, y, again.solve(tau, sigma), tau, sigma)
        except ArithmeticError:  # a level at or beyond the sugar
            beyond += 1
            continue
        for keep, name in ((all_but, "all but biga"), (pool, "poolish, five sources of before")):
            keep.append(rms(out[r["id"]][0] for r in rows if counted(r) and GROUPS[name](r)))
    for name, x in (("all but biga", all_but), ("poolish, five sources of before", pool)):
        print(f"  if the model were true ({len(x)} draws, {beyond} more asked for gas beyond the sugar), {name}: {np.mean(x):.3f}, 10 to 90 % {np.percentile(x, 10):.2f} to {np.percentile(x, 90):.2f}")


def check_model():
    """The closed forms and the steps against trajectories computed by scipy elsewhere in this folder."""
    kept = json.loads((pathlib.Path(__file__).parent / "reference_fermentation.json").read_text())
    meta, worst, count = kept["meta"], 0.0, 0
    assert (FERMENT["growth_rate_per_h"], FERMENT["growth_cap_g_per_100g"], FERMENT["lag27_h"]) == (meta["mu_per_h"], meta["D"], meta["lag27_h"])
    for case in kept["cases"]:
        rooms = {t for _, t in case["room_knots"]}
        if len(rooms) > 1:
            continue
        dough = Dough(62.0)
        dough.gas_factor, dough.growth_factor, dough.sugar = case["gas_factor"], case["growth_factor"], math.inf
        yeast, own, room = Yeast(meta["q30"], 0.0, case["yeast0_g_per_100g"], dough), case["own_heat"], rooms.pop()
        more = own and dict(room=room, tau=own["tau_h"], kj_per_k=own["kg_dough_per_100g_flour"] * own["c_kJ_per_kgK"], step=0.01)
        reached = warming(yeast, own["T0_c"], gas=case["gas_target"], **more)[0] if own else Held(yeast).hours_to(case["gas_target"], room)
        pairs = [(reached, case["target_h"])]
        for p in case["solution"]:
            if own:
                _, g, x, t = warming(yeast, own["T0_c"], hours=p["t_h"], **more)
                pairs.append((t, p["temperature_c"]))
            else:
                state = Held(yeast).advance(room, p["t_h"])
                g, x = state.gas, state.x
            pairs += [(g, p["gas_ml_per_100g"]), (x, p["yeast_g_per_100g"])]
        worst, count = max(worst, *(abs(a / b - 1) for a, b in pairs)), count + len(pairs)
    print(f"{count} numbers of trajectories, largest difference {worst:.1e}, allowed 1e-7")
    return 0 if count and worst < 1e-7 else 1


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true", help="hold the model against reference_fermentation.json")
    parser.add_argument("--scales", action="store_true", help="print how well tau and sigma are known, a minute more")
    parser.add_argument("--simulate", type=int, metavar="RUNS", default=0, help="left-out errors if the model were true")
    asked = parser.parse_args()
    if asked.check:
        return check_model()
    log = observations()
    rows = [r for r in log if r["role"] in ("fit", "shape") and r["quantity"] in MODELLED]
    others = [r for r in log if shown_beside(r)]
    for r in rows + others:
        r["own_variance"] = own_variance(r)
    fit, tau, sigma = report(rows, others)
    if asked.scales:
        scale_intervals(fit)
    if asked.simulate:
        simulate(rows, fit, tau, sigma, asked.simulate)
    return 0


if __name__ == "__main__":
    sys.exit(main())
