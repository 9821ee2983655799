"""Works out anew the golden expectations that are figures of arithmetic: every `derivation` of
tests/golden/*.toml is a Python expression over the names below, and must give the value that the case expects,
or the list of its values or of the ends of its band. Cases that are called derived without one are listed: they
expect what is read in their source, and what was derived is the question, such as a dose or a temperature taken
from words (their `note` or `locus` says how); the bands of `fridge` and `whole-day` are judged from what is printed.

    pip install scipy==1.17.1 numpy==2.4.6 iapws==1.5.5 CoolProp==8.0.0
    python tests/reference/golden.py

Written for and last run with Python 3.11 and these versions. Nothing here calls or copies Pointage.
"""
import pathlib
import sys
import tomllib
from math import cos, exp, log, pi, sin, sqrt, tan

import numpy as np
from CoolProp.CoolProp import PropsSI
from iapws._iapws import _Henry, _Ice
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import j0, j1

R = 8.314462618  # J/(mol K), CODATA 2018, exact
ATM = 101325.0  # Pa


def c(f):
    """°C of a reading in °F."""
    return (f - 32) / 1.8


# --- water and ice (IAPWS-95 by CoolProp, ice by IAPWS R10-06), kJ/kg at one atmosphere


def hl(t):
    return PropsSI("H", "T", max(t, 0.0035) + 273.15, "P", ATM, "Water") / 1e3


def hi(t):
    return _Ice(t + 273.15, ATM / 1e6)["h"]


def balance(solids, t, heat):
    """Heat that the water must bring, kJ; solids are (kg, kJ/(kg K), °C)."""
    return sum(m * cp * (t - t0) for m, cp, t0 in solids) - heat


def water_for(solids, kg, t, heat):
    s = balance(solids, t, heat)
    return brentq(lambda tw: hl(tw) - hl(t) - s / kg, 0.004, 99, xtol=1e-12)


def dough_from(solids, kg, tw, heat):
    return brentq(lambda t: balance(solids, t, heat) + kg * (hl(t) - hl(tw)), 0.1, 90, xtol=1e-12)


def ice_for(solids, kg, tap, t, ice, heat):
    s = balance(solids, t, heat)
    f = lambda x: s + (kg - x) * (hl(t) - hl(tap)) + x * (hl(t) - hi(ice))
    return brentq(f, 0, kg, xtol=1e-14)


def ice_to(kg, tap, want, ice=0.0):
    return ice_for([], kg, tap, want, ice, 0.0)


def choi_okos(water, salt, t=25.0):
    """Heat capacity of a dough of bread flour, kJ/(kg K); water and salt in % of flour, salt as ash. Component
    equations of Choi and Okos 1986; flour of 13.36 % water as USDA has it, its second decimals from memory."""
    part = {  # g in 100 g of flour, and the coefficients
        "water": (13.36 + water, 4.1762, -9.0864e-5, 5.4731e-6),
        "protein": (11.98, 2.0082, 1.2089e-3, -1.3129e-6),
        "fat": (1.66, 1.9842, 1.4733e-3, -4.8008e-6),
        "carbohydrate": (72.53 - 2.4, 1.5488, 1.9625e-3, -5.9399e-6),
        "fibre": (2.4, 1.8459, 1.8306e-3, -4.6509e-6),
        "ash": (0.47 + salt, 1.0926, 1.8896e-3, -3.6817e-6),
    }
    return sum(g * (a + b * t + d * t * t) for g, a, b, d in part.values()) / (100 + water + salt)


# --- carbon dioxide


def molar_ml(t):
    """Ideal gas at one atmosphere, mL/mol."""
    return R * (t + 273.15) / ATM * 1e6


def iapws_co2(t):
    """Carbon dioxide in water under one atmosphere of it, mol/L (IAPWS G7-04 by iapws)."""
    kh = _Henry(t + 273.15, "CO2") * 1e6
    return ATM / kh * PropsSI("D", "T", t + 273.15, "P", ATM, "Water") / 18.01528


def weiss_co2(t):
    """Weiss 1974, fresh water, mol/(L atm)."""
    k = (t + 273.15) / 100
    return exp(-58.0931 + 90.5069 / k + 22.2940 * log(k))


def pressure(m):
    """Standard atmosphere ISO 2533 as a share of sea level: 6.5 K/km from 288.15 K."""
    return (1 - 0.0065 * m / 288.15) ** (9.80665 * 0.0289644 / (R * 0.0065))


# --- rate laws


def ctmi(t, low, best, high):
    """Rosso 1993."""
    d = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t))
    return (t - high) * (t - low) ** 2 / d


def ratkowsky(t, low, high, k):
    """Ratkowsky 1983."""
    return ((t - low) * (1 - exp(k * (t - high)))) ** 2


def arrhenius(kj, a, b):
    return exp(-1e3 * kj / R * (1 / (b + 273.15) - 1 / (a + 273.15)))


# --- Newton's law


def follow(start, tau, room, hours, heat=lambda t, T: 0.0, knots=()):
    """dT/dt = (room - T)/tau + heat, by DOP853, begun anew at each knot."""
    T, ends = start, [k for k in knots if k < hours] + [hours]
    for a, b in zip([0.0, *ends], ends):
        # A step of the room counts from just after its hour.
        f = lambda t, y: [(room(min(max(t, a + 1e-12), b - 1e-12)) - y[0]) / tau + heat(t, y[0])]
        T = solve_ivp(f, (a, b), [T], method="DOP853", rtol=1e-12, atol=1e-12).y[0, -1]
    return T


# --- conduction: series of Carslaw & Jaeger, 60 terms; step from 1 to 0


def roots(form, bi):
    f = {
        "slab": lambda z: z * sin(z) - bi * cos(z),
        "cylinder": lambda z: z * j1(z) - bi * j0(z),
        "sphere": lambda z: (1 - bi) * sin(z) - z * cos(z),
    }[form]
    found, z, step = [], 1e-9, 0.05
    while len(found) < 60:
        if f(z) * f(z + step) < 0:
            found.append(brentq(f, z, z + step, xtol=1e-14))
        z += step
    return found


def series(form, bi, fo, what):
    total = 0.0
    for z in roots(form, bi):
        if form == "slab":
            a, edge, mean = 4 * sin(z) / (2 * z + sin(2 * z)), cos(z), sin(z) / z
        elif form == "cylinder":
            a, edge, mean = 2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2), j0(z), 2 * j1(z) / z
        else:
            a = 4 * (sin(z) - z * cos(z)) / (2 * z - sin(2 * z))
            edge, mean = sin(z) / z, 3 * (sin(z) - z * cos(z)) / z**3
        total += a * {"core": 1.0, "mean": mean, "surface": edge}[what] * exp(-z * z * fo)
    return total


K, RHO, CP = 0.40, 1100.0, 2800.0  # the dough of the cases with dimensions


def ball(kg, surface, start, room, hours, what):
    r = (3 * kg / RHO / (4 * pi)) ** (1 / 3)
    part = series("sphere", surface * r / K, K / RHO / CP * 3600 * hours / r**2, what)
    return room + (start - room) * part


def tub(kg, height_to_diameter, surface, start, room, hours, what):
    """A short cylinder is the product of a long one and a slab."""
    r = (kg / RHO / (2 * pi * height_to_diameter)) ** (1 / 3)
    half = r * height_to_diameter
    fo = K / RHO / CP * 3600 * hours
    part = series("cylinder", surface * r / K, fo / r**2, what)
    return room + (start - room) * part * series("slab", surface * half / K, fo / half**2, what)


def ball_tau(kg, surface):
    r = (3 * kg / RHO / (4 * pi)) ** (1 / 3)
    return RHO * CP * r / 3 / surface / 3600


# --- yeast that only warms its dough


def adiabatic(start, k_per_h, q10, hours):
    """dT/dt = r q10^((T - 25)/10): closed form."""
    b = log(q10) / 10
    r = k_per_h * exp(b * (start - 25))
    return start - log(1 - b * r * hours) / b


def warmed(start, tau, room, k_per_h, q10, hours):
    return follow(start, tau, lambda t: room, hours, lambda t, T: k_per_h * q10 ** ((T - 25) / 10))


def main():
    folder = pathlib.Path(__file__).parent.parent / "golden"
    count = bad = 0
    without = []
    for path in sorted(folder.glob("*.toml")):
        for case in tomllib.loads(path.read_text())["case"]:
            if "derivation" not in case:
                without += [case["id"]] if case["standing"] == "derived" else []
                continue
            count += 1
            if "expect" in case:
                expected = list(case["expect"].values())
            else:
                (expected,) = case["band"].values()
            values = np.atleast_1d(eval(case["derivation"], globals())).astype(float)
            # Expectations are kept to nine digits, printed ones to their own.
            if len(values) != len(expected) or np.any(abs(values - expected) > 2e-8 * np.maximum(1.0, abs(values))):
                bad += 1
                print(f"{case['id']}: {values.tolist()} is not {expected}")
    print(f"{len(without)} derived cases are read from their source, not computed:", *without)
    print(f"{count} derivations, {bad} differ")
    return bad or not count


if __name__ == "__main__":
    sys.exit(main() != 0)
