"""Reference figures for the heat balance of a mix, by another way than the library's.

Plain Python, no packages: python3 tests/reference/mixing_chain.py
The library solves the chain in closed form. Here each step is bookkeeping of enthalpy, every
temperature is found by bisection, the rest is integrated in small Runge-Kutta steps, and the
water is found by bisection on the whole chain. Liquid water has enthalpy c_w T, ice has
c_ice T - L; constants as in the library's defaults. Temperatures in deg C, masses in kg, heats in kJ.
"""

C_FLOUR, C_WATER, C_SALT, C_ICE, MELTING = 1.80, 4.186, 0.88, 2.05, 333.6


def bisect(f, low, high):
    """Root of a rising function."""
    for _ in range(200):
        middle = (low + high) / 2
        if f(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def mix(parts, heat):
    """Common temperature of parts (kg, kJ/(kg K), deg C) that share their enthalpy and the heat."""
    before = sum(m * c * t for m, c, t in parts) + heat
    return bisect(lambda t: sum(m * c * t for m, c, _ in parts) - before, -400.0, 400.0)


def rest(t, room, tau, hours, steps=2000):
    """Newton's drift toward the room, by classical Runge-Kutta."""
    dt = hours / steps
    slope = lambda x: (room - x) / tau
    for _ in range(steps):
        k1 = slope(t)
        k2 = slope(t + dt / 2 * k1)
        k3 = slope(t + dt / 2 * k2)
        k4 = slope(t + dt * k3)
        t += dt / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    return t


def show(name, *values):
    print(f"{name:<34}", *(f"{v:.9f}" for v in values))


def one_mix():
    def water(parts, kg, heat, dough, c_water=C_WATER):
        return bisect(lambda t: mix(parts + [(kg, c_water, t)], heat) - dough, -200.0, 200.0)

    def ice(parts, kg, heat, dough, tap, ice_t):
        """Ice for a dough: enthalpies of the parts, of tap water and of ice, balanced by the mass of ice."""
        def too_cold(x):
            solid = sum(m * c * t for m, c, t in parts)
            pour = (kg - x) * C_WATER * tap + x * (C_ICE * ice_t - MELTING)
            end = (sum(m * c for m, c, _ in parts) + kg * C_WATER) * dough
            return end - (solid + pour + heat)
        return bisect(too_cold, 0.0, kg)

    flour = [(1.0, C_FLOUR, 20.0)]
    show("W1 water", water(flour, 0.65, 0.0, 26.0))
    salted = flour + [(0.02, C_SALT, 20.0)]
    show("W2 water", water(salted, 0.65, 15.1 * 1.0 + 6.0 * 1.67, 26.0))
    poolish = [(7.0, C_FLOUR, 22.0), (6.0, 3.05, 21.0), (0.2, C_SALT, 22.0)]
    show("W4 water", water(poolish, 3.8, 15.1 * 7.0 + 8.0 * 17.0, 25.5))
    hot = [(50.0, C_FLOUR, 32.0), (1.0, C_SALT, 30.0), (1.0, 3.2, 5.0)]
    heat = 15.1 * 50.0 + 39.6 * 82.0
    show("W6 water", water(hot, 30.0, heat, 24.0))
    show("W6 ice at -5, tap 10 and 15", *(ice(hot, 30.0, heat, 24.0, t, -5.0) for t in (10.0, 15.0)))
    warm = [(50.0, C_FLOUR, 30.0), (1.0, C_SALT, 30.0), (1.0, 3.2, 5.0)]
    heat = 15.1 * 50.0 + 12.0 * 82.0
    show("W7 water", water(warm, 30.0, heat, 24.0))
    show("W7 ice at 0, -5, -18, tap 18", *(ice(warm, 30.0, heat, 24.0, 18.0, t) for t in (0.0, -5.0, -18.0)))
    show("F1 dough", mix(flour + [(0.65, C_WATER, 30.0)], 0.0))
    ten = [(10.0, C_FLOUR, 22.0), (0.2, C_SALT, 22.0), (6.0, C_WATER, 10.0)]
    show("F3 dough", mix(ten, 151.0 + 81.0))
    book = [(2.0, C_FLOUR, 15.0)]
    show("C1 water, 15 kJ per kg of dough", water(book, 1.0, 15.0 * 3.0, 15.0, 4.18))
    show("C1 water, 15 kJ per kg of flour", water(book, 1.0, 15.0 * 2.0, 15.0, 4.18))


def chain(name, first, bowl, hydration_kj, room, tau, hours, later, dough_kg, mixing, dough, water_kg):
    """First mix, rest, second mix; `first` and `later` are parts, the water's temperature is unknown."""

    def run(t_water):
        start = mix(first + bowl + [(water_kg, C_WATER, t_water)], hydration_kj)
        end = rest(start, room, tau, hours)
        mass = [(m, c, end) for m, c, _ in first + bowl] + [(water_kg, C_WATER, end)]
        return start, end, mix(mass + later, mixing * dough_kg)

    t = bisect(lambda x: run(x)[2] - dough, -100.0, 150.0)
    start, end, _ = run(t)
    show(name + " water", t)
    show(name + " rest from, to", start, end)
    show(name + " dough per water", run(t + 0.5)[2] - run(t - 0.5)[2])


if __name__ == "__main__":
    one_mix()
    chain(
        "autolyse and bassinage",
        first=[(10.0, C_FLOUR, 22.0), (4.0, 2.993, 19.0)],
        bowl=[(25.0, 0.50, 18.0)],
        hydration_kj=9.9 * 10.0,
        room=27.0,
        tau=3.4,
        hours=0.75,
        later=[(0.25, C_SALT, 21.0), (0.08, 3.2, 5.0), (0.6, C_WATER, 4.0)],
        dough_kg=10.0 + 4.0 + 5.2 + 0.25 + 0.08 + 0.6,
        mixing=9.0,
        dough=25.0,
        water_kg=5.2,
    )
