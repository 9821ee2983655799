"""Six mixers, one calibration mix of each and five other mixes, by bookkeeping of enthalpy.

Plain Python, no packages: python3 tests/reference/pour.py > tests/reference/reference_pour.json
Invented kitchens; the heat of mixing is the secret that the calibration mix has to show. Of each mix the file holds
what a baker knows, and the enthalpy (kJ, liquid water at 0 deg C is 0) and heat capacity (kJ/K) of all but the pour, so that
the dough of any pour follows: dough = (enthalpy + that of the pour) / (capacity + kg of pour * c_water).
Heat capacities as in the library's defaults; the flours give off 8 to 13 kJ/kg when wetted, which the baker does not
know either: the library takes 9.9.
"""

import json

C_FLOUR, C_WATER, C_SALT, C_STEEL = 1.80, 4.186, 0.88, 0.50
# kg of flour, water and salt, of poolish (half flour, half water), of the bowl; kJ of mixing per kg of dough, of
# wetting per kg of flour
MIXERS = [
    (1.0, 0.65, 0.02, 0.0, 0.9, 7.0, 9.0),
    (0.6, 0.35, 0.02, 0.6, 1.1, 4.0, 12.0),
    (10.0, 6.5, 0.20, 0.0, 12.0, 9.0, 8.0),
    (8.0, 4.4, 0.22, 6.0, 14.0, 6.0, 13.0),
    (25.0, 16.0, 0.50, 0.0, 30.0, 11.0, 10.0),
    (20.0, 10.5, 0.50, 12.0, 35.0, 8.0, 11.0),
]
# deg C of flour, room (and bowl), poolish; dough wanted; share of the mixer's usual mass
CALIBRATION = (21.0, 22.0, 21.0, None, 1.0)
OTHERS = [
    (14.0, 16.0, 18.0, 25.0, 1.0),
    (18.0, 19.0, 20.0, 24.0, 0.7),
    (24.0, 25.0, 23.0, 25.0, 1.2),
    (28.0, 30.0, 26.0, 25.0, 0.8),
    (12.0, 24.0, 22.0, 26.0, 1.0),
]


def mix(mixer, temperatures):
    flour, water, salt, poolish, bowl, heat, wetting = mixer
    flour_c, room_c, poolish_c, dough_c, share = temperatures
    kg = [share * m for m in (flour, water, salt, poolish)]
    flour, water, salt, poolish = kg
    c_poolish = 0.5 * C_FLOUR + 0.5 * C_WATER
    parts = [
        (flour * C_FLOUR, flour_c),
        (salt * C_SALT, flour_c),
        (poolish * c_poolish, poolish_c),
        (bowl * C_STEEL, room_c),
    ]
    enthalpy = sum(c * t for c, t in parts) + flour * wetting + sum(kg) * heat
    told = {"flour_c": flour_c, "room_c": room_c, "flour_mass_g": 1e3 * flour, "water_mass_g": 1e3 * water}
    told["salt_mass_g"] = 1e3 * salt
    if poolish:
        told |= {"preferment_mass_g": 1e3 * poolish, "preferment_c": poolish_c}
    return {
        "request": told,
        "bowl_g": 1e3 * bowl,
        "dough_c": dough_c,
        "enthalpy_kj": enthalpy,
        "capacity_kj_per_k": sum(c for c, _ in parts),
    }


def kitchen(mixer):
    calibration = mix(mixer, CALIBRATION)
    water = calibration["request"]["water_mass_g"] / 1e3
    # Poured at 19 deg C.
    calibration["water_c"] = 19.0
    calibration["dough_c"] = (calibration["enthalpy_kj"] + water * C_WATER * 19.0) / (
        calibration["capacity_kj_per_k"] + water * C_WATER
    )
    return {
        "calibration": calibration,
        "mixes": [mix(mixer, temperatures) for temperatures in OTHERS],
    }


print(json.dumps([kitchen(mixer) for mixer in MIXERS], indent=1))
