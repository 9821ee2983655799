#!/usr/bin/env python3
"""Holds the JSON answers of two builds of the program against each other.

    tests/reference/compare_revisions.py OLD_PROGRAM NEW_PROGRAM [--tolerance 1e-9]

Asks both the golden requests, `tests/requests.jsonl` and 500 random bakes (seed 12; plan, adjust and compare of each
in turn). Numbers must agree to the tolerance (0: bit for bit, as printed); keys and words of the old form are translated by
`RENAMED`. Texts, codes and messages are not compared, only whether both answer or both refuse.
Ends with 1 when anything differs.
"""
import argparse, json, math, pathlib, random, re, subprocess, sys

HERE = pathlib.Path(__file__).resolve().parent.parent

RENAMED = {  # keys and option words of the bake file, requests and answers
    "sum_rule": "ddt_formula", "second_water_g": "bassinage_g", "second_water_c": "bassinage_c",
    "second_water_percent": "bassinage_percent", "second_water": "bassinage", "friction_k": "friction_factor_c",
    "rest_min": "bench_rest_min", "rest_max_min": "bench_rest_max_min", "cooler_c": "retarder_c",
    "later_loads": "hold_later_loads", "also_g": "extra_preferment_g", "recover_min": "oven_recovery_min",
    "board_pieces": "board_capacity", "cold_pieces": "retarder_capacity", "people": "working_hours",
    "difference_k": "difference_c", "hydration_rise_k": "hydration_rise_c", "mixing_rise_k": "mixing_rise_c",
    "real_rise_k": "real_rise_c", "sum_scale_k": "sum_scale_c", "room_amplitude_k": "room_amplitude_c",
    "cooler": "retarder", "cooler_h": "retarder_h",
}
TEXTS = {"notes", "warnings", "problem", "message", "words", "why", "text", "advice", "reasons", "error", "params_toml",
         "remarks", "cannot_tell", "fact", "title", "source", "note", "observed", "locus", "place"}


def translated(line, words):
    """A request with the keys and words of a table in place of others, those of a bake's text too."""
    pattern = re.compile("|".join(rf"(?<![A-Za-z0-9_]){word}(?![A-Za-z0-9_])" for word in sorted(words, key=len, reverse=True)))
    text = lambda old: pattern.sub(lambda found: words[found[0]], old)

    def walk(value):
        if isinstance(value, dict):
            return {text(key): walk(below) for key, below in value.items()}
        if isinstance(value, list):
            return [walk(below) for below in value]
        return text(value) if isinstance(value, str) else value

    try:
        pairs = json.loads(line, object_pairs_hook=lambda pairs: dict(pairs) if len(dict(pairs)) == len(pairs) else 1 / 0)
        return json.dumps(walk(pairs))
    except (ValueError, ZeroDivisionError):  # damaged on purpose
        return text(line)


def random_bake(r):
    """A bake in the old words: every part now and then, every number within what bakers do."""
    loads, each = r.randint(1, 6), r.choice([1, 4, 8, 12])
    dough = r.uniform(22, 28)
    lines = ["format = 1", 'name = "random"', "[formula]", f"pieces = {r.randint(max(1, (loads - 1) * each), loads * each)}",
             f"piece_g = {r.randint(60, 1500)}", f"hydration_percent = {r.uniform(56, 82):.1f}", f"salt_percent = {r.uniform(1.5, 2.3):.2f}"]
    if r.random() < 0.3:
        lines += [f"sugar_percent = {r.uniform(0.5, 8):.1f}", f"fat_percent = {r.uniform(0.5, 6):.1f}"]
    if r.random() < 0.4:
        lines += [f"second_water_percent = {r.uniform(1, 5):.1f}"]
    lines += [f"yeast_percent = {r.uniform(0.1, 1.2):.3f}"]
    kind = r.choice([None, "poolish", "biga", "sponge"])
    if kind:
        water = {"poolish": 100, "biga": 50, "sponge": 62}[kind]
        lines += ["[preferment]", f'kind = "{kind}"', f"flour_percent = {r.randint(15, 40)}", f"hydration_percent = {water}",
                  f"dough_c = {r.uniform(19, 24):.1f}", f"room_c = {r.uniform(18, 24):.1f}"]
        lines += [f"ripe_after_h = {r.uniform(8, 15):.2f}"] if r.random() < 0.7 else [f"dose_percent = {r.uniform(0.1, 0.5):.3f}"]
    room = [f"room_c = {r.uniform(17, 29):.1f}"]
    if r.random() < 0.3:
        room = [f"room_mean_c = {r.uniform(18, 27):.1f}", f"room_amplitude_k = {r.uniform(0.5, 3):.1f}", f'room_warmest = "{r.randint(13, 18)}:00"']
    lines += ["[kitchen]", f'yeast = "{r.choice(["fresh", "instant", "active-dry"])}"', *room,
              f"flour_c = {r.uniform(12, 28):.1f}", f"tap_c = {r.uniform(8, 22):.1f}"]
    lines += ["[process]", f"dough_c = {dough:.1f}"]
    if r.random() < 0.7:
        lines += [f"friction_k = {r.uniform(2, 14):.1f}"]
    lines += [f"mixing_heat_kj_per_kg = {r.uniform(5, 12):.1f}", f"mix_min = {r.randint(4, 14)}"]
    if r.random() < 0.5:
        lines += [f"autolyse_min = {r.randint(15, 60)}"]
    lines += [f"bulk_rise = {r.uniform(1.4, 2.1):.2f}"] if r.random() < 0.6 else [f"bulk_min = {r.randint(40, 150)}"]
    lines += [f"divide_min = {r.randint(5, 20)}", f"rest_min = {r.randint(10, 30)}", f"shape_min = {r.randint(3, 15)}",
              f"rest_max_min = {r.randint(40, 80)}", f'proof = "{r.choice(["hearth", "tin"])}"']
    ways = r.sample(["shape-later", "divide-later", "cooler"], r.randint(0, 3))
    lines += [f"later_loads = {json.dumps(ways)}"] + ([f"cooler_c = {r.uniform(3, 12):.1f}"] if "cooler" in ways else [])
    lines += [f"cool_min = {r.randint(20, 90)}", "[oven]", f"pieces_per_load = {each}", f"bake_min = {r.randint(15, 50)}",
              f"recover_min = {r.randint(0, 12)}"]
    return "\n".join(lines) + "\n"


def requests():
    """(what it is, the request in the old words)."""
    for name in ("golden/requests.jsonl", "requests.jsonl"):
        for number, line in enumerate((HERE / name).read_text(encoding="utf8").splitlines(), 1):
            yield f"{name}:{number}", line
    r = random.Random(12)
    for number in range(500):
        request = {"version": 1, "bake_toml": random_bake(r), r.choice(["first_out", "last_out", "mix_at", "start_at"]): f"{r.randint(3, 20):02}:{r.randint(0, 59):02}"}
        yield f"bake {number} plan", json.dumps({"command": "plan", **request})
        if number % 5 == 0:
            yield f"bake {number} adjust", json.dumps({"command": "adjust", **request, "measured": [f"mix {r.uniform(22, 29):.1f}C {r.randint(0, 23):02}:10"]})
            yield f"bake {number} compare", json.dumps({"command": "compare", **request, "vary": "room=18..26"})


def answers(program, lines):
    out = subprocess.run([program, "call"], input="\n".join(lines) + "\n", capture_output=True, text=True, check=True)
    return [json.loads(line) for line in out.stdout.splitlines()]


def numbers(value, path=""):
    """Every number, truth and short word of an answer by its path, texts left out."""
    if isinstance(value, dict):
        for key, below in value.items():
            key = RENAMED.get(key, key)
            if key not in TEXTS:
                yield from numbers(below, f"{path}.{key}")
    elif isinstance(value, list):
        for at, below in enumerate(value):
            yield from numbers(below, f"{path}[{at}]")
    elif not isinstance(value, str):
        yield path, value


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("old"), parser.add_argument("new"), parser.add_argument("--tolerance", type=float, default=1e-9)
    parser.add_argument("--show", type=int, default=20)
    args = parser.parse_args()
    names, lines = zip(*requests())
    # Recorded requests are in today's words already: back to the old ones for the old program.
    old = answers(args.old, [translated(line, {new: old for old, new in RENAMED.items()}) for line in lines])
    new = answers(args.new, [translated(line, RENAMED) for line in lines])
    worst, wrong, refused = 0.0, [], 0
    for name, a, b in zip(names, old, new):
        if ("error" in a) != ("error" in b):
            wrong.append(f"{name}: {'refused' if 'error' in a else 'answered'} before, now {json.dumps(b)[:200]}")
            continue
        refused += "error" in a
        x, y = dict(numbers(a)), dict(numbers(b))
        for path in sorted(x.keys() - y.keys()):
            if x[path] is not None:
                wrong.append(f"{name}: {path} = {x[path]} is gone")
        for path in x.keys() & y.keys():
            p, q = x[path], y[path]
            if isinstance(p, (int, float)) and isinstance(q, (int, float)) and not isinstance(p, bool):
                off = abs(p - q) / max(abs(p), abs(q), 1e-3)
                worst = max(worst, off)
                if off > args.tolerance:
                    wrong.append(f"{name}: {path} was {p}, is {q}")
            elif p != q:
                wrong.append(f"{name}: {path} was {p}, is {q}")
    for line in wrong[: args.show]:
        print(line)
    print(f"{len(names)} requests, {refused} refused by both, {len(wrong)} differences, largest relative difference {worst:.1e}")
    sys.exit(bool(wrong))


main()
