"""Checks data/observations/published.csv and prints what it holds. Standard library only.

    python tests/reference/observations.py            # check, and count by quantity, role and source
    python tests/reference/observations.py --rows     # the rows as a table, one quantity after the other

Exit code 1 when a check fails; each fault names its row. Checked are: the header; that each cell is a number, a range or
a known word within its limits; that a row has what its quantity needs; that no two rows are the same observation; that
every source is in data/sources.toml; that rows from memory stay out of the fit; that doses in dry yeast agree with
data/yeast/kinds.toml; that each `derivation` gives what the row says, from what the source prints in its own units; that
each °F a row mentions is converted in it; that what is assumed in a row of the fit has a variance.
data/observations/README.md says what the columns mean. `observations()` is the reader that joint_fit.py uses.
"""
import argparse
import collections
import csv
import math
import pathlib
import re
import sys
import tomllib
from typing import NamedTuple

DATA = pathlib.Path(__file__).resolve().parent.parent.parent / "data"
LOG = DATA / "observations" / "published.csv"

# Units of the sources, for derivations.
LB = 453.59237  # g
OZ = LB / 16
GAL = 3.785411784 * 997.0  # g of water at 25 °C in a US gallon
FT3 = 28316.846592  # mL


def c(f):
    """°C of a reading in °F."""
    return (f - 32) / 1.8


WORDS = {
    "standing": "quoted derived assumed from-memory",
    "role": "fit shape prior check from-memory",
    "stage": "poolish biga sponge dough old-dough hearth tin rolls balls laminated liquid medium",
    "yeast": "fresh instant active-dry dry unsaid",
    "heat": "held kept room",
}
WORDS = {column: words.split() for column, words in WORDS.items()}
LIMITS = {  # plausible, not allowed: a slip of a digit falls outside
    "yeast_percent": (0.01, 10), "fresh_percent": (0.03, 10), "temperature_c": (3, 60), "room_c": (3, 50),
    "water_percent": (40, 210), "salt_percent": (0, 3.5), "sugar_percent": (0, 20), "bulk_h": (0.4, 6),
    "bulk_c": (18, 35), "tau_h": (0.5, 50), "hours": (0, 50), "extra_log_sd": (0.01, 1), "log_sd": (0.01, 1),
}
QUANTITIES = {  # unit and limits of the value; columns that must not be empty
    "time": ("", (0, 0), "end hours"),
    "volume": ("V/V0", (1, 6), "hours"),
    "volume-at-end": ("V/V0", (1, 6), "end"),
    "window": ("h", (0.2, 3), "end hours"),
    "warming": ("K", (0.5, 10), "hours temperature_c heat"),
    "gas": ("mL/100g", (100, 1500), "hours fresh_percent temperature_c"),
    "gas-rate": ("mL/(g h)", (30, 150), "temperature_c"),
    "dissolved": ("mL/100g", (50, 150), "hours"),
    "cells": ("times", (0, 3), ""),
    "lag": ("", (0, 0), "hours temperature_c"),
    "growth-rate": ("1/h", (0, 0.5), "temperature_c"),
    "q10": ("times", (1.5, 4), "temperature_c"),
    "ratio": ("times", (0.5, 1.5), ""),
    "stops-below": ("C", (0, 8), ""),
    "proof": ("", (0, 0), "hours"),
    "mixing-warming": ("K", (1, 20), ""),
}
MODEL_NEEDS = {  # columns that the fit reads, beside those above
    "time": "fresh_percent temperature_c water_percent salt_percent heat",
    "volume": "fresh_percent temperature_c water_percent salt_percent heat value",
    "volume-at-end": "temperature_c water_percent salt_percent value",
    "warming": "fresh_percent water_percent salt_percent value",
    "gas": "water_percent salt_percent value",
    "proof": "bulk_h bulk_c temperature_c water_percent salt_percent handling_min",
}
COLUMNS = ("id source locus standing role quantity stage end yeast yeast_percent fresh_percent temperature_c room_c heat "
           "tau_h water_percent salt_percent sugar_percent bulk_h bulk_c handling_min punched_min hours value unit assumed extra_log_sd "
           "log_sd derivation note").split()


class Range(NamedTuple):
    """What is printed: from low to high, both the same where one number stands."""
    low: float
    high: float

    @property
    def middle(self):
        return 0.5 * (self.low + self.high)

    @property
    def log_middle(self):
        """Geometric mean: where a dose or a time of this range most likely lies."""
        return math.sqrt(self.low * self.high)

    @property
    def log_sd(self):
        """The ends are read as 10 and 90 % of a normal in the logarithm."""
        return math.log(self.high / self.low) / (2 * 1.2815515655446004)


NUMBER = r"\d+(?:\.\d+)?"


def span(text):
    """`2` or `2-2.5`."""
    if not re.fullmatch(rf"{NUMBER}(-{NUMBER})?", text):
        raise ValueError(f"{text!r} is no number and no range such as 2-2.5")
    low, _, high = text.partition("-")
    if high and float(low) >= float(high):
        raise ValueError(f"{text!r} does not rise")
    return Range(float(low), float(high or low))


def course(text):
    """`21`, `20-22`, or steps such as `24 h 4 > 18 h 18-20`: (hours, °C) each, hours without end where not said."""
    steps = []
    for part in text.split(" > "):
        hours, h, t = part.rpartition(" h ")
        steps.append((span(hours).middle if h else math.inf, span(t)))
    return steps


def observations(path=LOG):
    """The rows as dictionaries: text columns as text, numbers as Range or None, temperature_c as the course's last or
    only Range with the whole in `course`."""
    rows = []
    with open(path, newline="", encoding="utf-8") as file:
        reader = csv.DictReader(file, strict=True)
        if reader.fieldnames != COLUMNS:
            sys.exit(f"{path}: the header is not {','.join(COLUMNS)}")
        for line, row in enumerate(reader, 2):
            try:
                rows.append(read(row, line))
            except ValueError as e:
                sys.exit(f"{path} line {line} ({row['id']}): {e}")
    return rows


def read(row, line):
    if None in row or None in row.values():
        raise ValueError("more or fewer cells than the header")
    out = dict(row, line=line)
    for column, text in row.items():
        if text != text.strip() or "\n" in text:
            raise ValueError(f"{column}: stray space in {text!r}")
    for column in [*LIMITS, "value"]:
        if column != "temperature_c":
            out[column] = span(row[column]) if row[column] else None
    out["course"] = course(row["temperature_c"]) if row["temperature_c"] else []
    out["temperature_c"] = out["course"][-1][1] if out["course"] else None
    out["assumed"] = row["assumed"].split()
    for column in ("handling_min", "punched_min"):
        out[column] = [float(x) for x in row[column].split("+")] if row[column] else None
    return out


def bibliography():
    return set(tomllib.loads((DATA / "sources.toml").read_text(encoding="utf-8")))


def fresh_for(kind):
    """Grams of fresh yeast that one gram of this kind may stand for."""
    values = tomllib.loads((DATA / "yeast" / "kinds.toml").read_text(encoding="utf-8"))["values"]
    instant, active = (1 / values[k]["value"] for k in ("instant", "active_dry"))
    return {"fresh": (1, 1), "instant": (instant, instant), "active-dry": (active, active), "dry": (active, instant),
            "unsaid": (1, instant)}[kind]


def half_digit(text):
    """Half a unit of the last digit written, or 1 % where that is more: sources round as well."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def agrees(found, text):
    return abs(found - float(text)) <= max(half_digit(text) * 1.0001, 0.011 * float(text))


def derived(row, raw):
    """Faults of a row's derivation: `column = expression; ...`, a range as a list of two."""
    for part in filter(None, raw["derivation"].split("; ")):
        column, _, expression = part.partition(" = ")
        if column not in COLUMNS:
            yield f"derives {column!r}, which is no column"
            continue
        values = eval(expression, {"__builtins__": {}, "c": c, "LB": LB, "OZ": OZ, "GAL": GAL, "FT3": FT3})  # our own file
        values = values if isinstance(values, list) else [values]
        texts = raw[column].split("-")
        if len(texts) != len(values) or not all(agrees(v, t) for v, t in zip(values, texts)):
            yield f"{column} is {raw[column]}, its derivation gives {', '.join(f'{v:.4g}' for v in values)}"


def faults(row, raw, known):
    quantity = row["quantity"]
    if quantity not in QUANTITIES:
        yield f"unknown quantity {quantity!r}"
        return
    for column, words in WORDS.items():
        if row[column] not in words and (row[column] or column in ("standing", "role", "stage")):
            yield f"{column}: {row[column]!r} is none of {', '.join(words)}"
    for column, (low, high) in LIMITS.items():
        r = row[column]
        if r and not low <= r.low <= r.high <= high:
            yield f"{column}: {raw[column]} lies outside {low} to {high}"
    unit, (low, high), needs = QUANTITIES[quantity]
    if row["unit"] != (unit if raw["value"] else ""):
        yield f"unit: {row['unit']!r} instead of {unit!r}"
    if row["value"] and not low <= row["value"].low <= row["value"].high <= high:
        yield f"value: {raw['value']} lies outside {low} to {high}"
    in_fit = row["role"] in ("fit", "shape")
    if in_fit:
        needs += " " + MODEL_NEEDS.get(quantity, "")
        if quantity not in MODEL_NEEDS:
            yield f"no fit reads a {quantity}"
    yield from (f"has no {n}" for n in needs.split() if not raw[n])
    if not re.fullmatch(r"[a-z0-9.-]+", row["id"]):
        yield "the id is not made of small letters, digits, points and dashes"
    if row["source"] not in known:
        yield f"source {row['source']!r} is not in data/sources.toml"
    if not row["locus"]:
        yield "has no locus"
    memory = row["standing"] == "from-memory"
    if memory != (row["role"] == "from-memory") or (row["source"] == "memory" and not memory):
        yield "what is from memory has that standing and that role, and nothing else has"
    yield from (f"assumed: {a!r} is no column" for a in row["assumed"] if a not in COLUMNS)
    if in_fit and row["assumed"] and not (row["extra_log_sd"] or row["log_sd"]) and row["assumed"] != ["water_percent"]:
        yield f"{', '.join(row['assumed'])} assumed without a variance"
    if row["yeast_percent"] and row["fresh_percent"]:
        low, high = fresh_for(row["yeast"])
        y, f = row["yeast_percent"], row["fresh_percent"]
        if not (low * y.low * 0.97 <= f.low and f.high <= high * y.high * 1.03):
            yield f"{raw['yeast_percent']} % {row['yeast']} yeast is not {raw['fresh_percent']} % fresh"
    elif row["yeast_percent"] and row["stage"] not in ("liquid", "medium"):
        yield "a dose without its fresh equivalent"
    for text in (row["note"], row["locus"]):
        for degrees in re.findall(rf"({NUMBER})(?= to {NUMBER} °F| °F)", text):
            # Differences of degrees, and what is called near or nearly, are in no column.
            if float(degrees) > 30 and "near" not in text and not re.search(rf"c\({degrees}\)|\({degrees} - ", row["derivation"]):
                yield f"{degrees} °F is not converted in the derivation"
    yield from derived(row, raw)


def check(rows, raws):
    known, found, seen = bibliography(), [], {}
    for row, raw in zip(rows, raws):
        found += [f"line {row['line']} ({row['id']}): {f}" for f in faults(row, raw, known)]
        what = tuple(raw[k] for k in ("source", "quantity", "stage", "end", "fresh_percent", "temperature_c", "water_percent",
                                      "hours", "value"))
        for key in (row["id"], what):
            if key in seen:
                found.append(f"line {row['line']} ({row['id']}): the same as line {seen[key]}")
            seen[key] = row["line"]
    about = (LOG.parent / "README.md").read_text(encoding="utf-8")
    for role, n in collections.Counter(r["role"] for r in rows).items():
        if f"| `{role}` | {n} |" not in about:
            found.append(f"README.md does not count {n} rows of the role {role}")
    return found


def counts(rows):
    roles = WORDS["role"]
    print(f"{'quantity':16}" + "".join(f"{r:>12}" for r in roles) + f"{'all':>6}")
    table = collections.Counter((r["quantity"], r["role"]) for r in rows)
    for q in QUANTITIES:
        n = [table[q, r] for r in roles]
        print(f"{q:16}" + "".join(f"{x or '':>12}" for x in n) + f"{sum(n):6}")
    n = [sum(table[q, r] for q in QUANTITIES) for r in roles]
    print(f"{'all':16}" + "".join(f"{x:>12}" for x in n) + f"{sum(n):6}\n")
    for standing, n in collections.Counter(r["standing"] for r in rows).most_common():
        print(f"{standing:16}{n:6}")
    by_source = collections.defaultdict(collections.Counter)
    for r in rows:
        by_source[r["source"]][r["role"]] += 1
    print(f"\n{len(by_source)} sources")
    for source, n in sorted(by_source.items()):
        print(f"  {source:28}" + ", ".join(f"{n[r]} {r}" for r in roles if n[r]))


def table(raws):
    shown = "id source role end fresh_percent temperature_c hours value unit extra_log_sd log_sd".split()
    for quantity in QUANTITIES:
        some = [r for r in raws if r["quantity"] == quantity]
        wide = [max(len(x) for x in [s, *(r[s] for r in some)]) for s in shown]
        print(quantity)
        for r in [dict(zip(shown, shown)), *some]:
            print("  " + "  ".join(r[s].ljust(w) for s, w in zip(shown, wide)).rstrip())
        print()


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", action="store_true", help="print the rows as a table")
    asked = parser.parse_args()
    rows = observations()
    with open(LOG, newline="", encoding="utf-8") as file:
        raws = list(csv.DictReader(file))
    if asked.rows:
        table(raws)
    else:
        counts(rows)
    found = check(rows, raws)
    print(*found, sep="\n", end="\n" if found else "")
    print(f"{len(rows)} rows, {sum(bool(r['derivation']) for r in raws)} with a derivation; {len(found)} faults")
    return 1 if found or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
