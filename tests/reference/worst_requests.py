#!/usr/bin/env python3
"""Looks for the request of at most 64 kB that takes the program longest, and names the slowest with their processor seconds.

    tests/reference/worst_requests.py target/release/pointage [--seconds 3600] [--seed 1]

Each try is a shape (many loads, long records, long logs, many offers, many points, many readings) with random sizes; the
slowest so far are varied again. What a request may cost at the most is its budget: see `budget::USUAL`.
"""
import argparse, json, pathlib, random, resource, subprocess, time, tomllib

parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
parser.add_argument("program")
parser.add_argument("--seconds", type=float, default=3600)
parser.add_argument("--seed", type=int, default=1)
args = parser.parse_args()
rng = random.Random(args.seed)
MOST_BYTES = 64 << 10
DEMOS = [tomllib.loads(path.read_text()) for path in sorted(pathlib.Path("data/demo").glob("*.toml"))]


def record(n, step, jump, noise):
    return [[round(i * step, 4), round(20 + jump * (i % 2) + noise * rng.random(), 2)] for i in range(n)]


def bake(s, with_record):
    made = json.loads(json.dumps(DEMOS[s["demo"] % len(DEMOS)]))
    made["formula"]["pieces"] = max(1, s["loads"]) * made["oven"].get("pieces_per_load", 12)
    for place in ("kitchen", "preferment", "cold"):
        for key in list(made.get(place, {})):
            if key.startswith("room_record"):
                del made[place][key]
                made[place]["room_c"] = 20
    if with_record:
        made["kitchen"].pop("room_c", None)
        made["kitchen"] |= {"room_record": "r", "room_record_from": "00:00"}
    return made


def log(n, rooms):
    head = "kind,flour_kg,water_kg,yeast,yeast_kg," + ("room_record" if rooms else "temperature_c") + ",hours,seen\n"
    row = lambda: f"{rng.choice(['poolish', 'biga'])},1,1,fresh,{0.001 + 0.004 * rng.random():.4f},{'r' if rooms else rng.randint(16, 28)},{rng.randint(4, 30)},ripe\n"
    return head + "".join(row() for _ in range(n))


def request(s):
    shape, n = s["shape"], s["n"]
    course = record(n, s["step"], s["jump"], s["noise"])
    day = {"first_out": "09:00"} if s["anchor"] else {"last_out": "11:00"}
    made = {"version": 1, "command": shape.split("-")[0]}
    if shape in ("plan", "plan-record", "compare", "compare-record", "adjust"):
        with_record = shape.endswith("record")
        made |= {"bake": bake(s, with_record), **day}
        made |= {"rooms": {"r": course}} if with_record else {}
        made |= {"vary": f"tap=4..24..{20 / s['values']:.3f}"} if shape.startswith("compare") else {}
        made |= {"measured": ["mix 26.4C 04:52"] * s["values"]} if shape == "adjust" else {}
    elif shape == "dose":
        made |= {"kind": "poolish", "for_h": s["hours"], "mixed_at_c": 24, "room_course": course}
    elif shape == "ready":
        made |= {"kind": "biga", "dose_percent": s["dose"], "mixed_at_c": 24, "room_course": course,
                 "progress_at_h": [round(i * 0.05, 2) for i in range(n // 4)]}
    elif shape == "learn":
        made |= {"log_csv": log(n // 3, False)}
    elif shape == "learn-rooms":
        made |= {"log_csv": log(n // 12, True), "rooms": {"r": course[: n // 2]}}
    elif shape == "learn-offers":
        made |= {"log_csv": log(20, False), "offer_fresh_percent": [round(0.05 + i * 1e-3, 4) for i in range(n)],
                 "offer_at_c": [round(14 + i * 3e-3, 4) for i in range(n)]}
    else:
        points = "".join(f"{5 + 35 * rng.random():.2f},{rng.random():.2f}\n" for _ in range(n))
        made |= {"data_csv": "temperature_c,rate\n" + points, "law": s["law"]}
        made["command"] = "fit-rate"
    return json.dumps(made, separators=(",", ":"))


SHAPES = ["plan", "plan-record", "compare", "compare-record", "adjust", "dose", "ready", "learn", "learn-rooms", "learn-offers", "fit"]


def fresh():
    return {"shape": rng.choice(SHAPES), "n": rng.randint(1, 5000), "step": rng.choice([0.0003, 0.01, 0.05, 0.1]), "jump": rng.choice([0, 0.5, 8, 25]),
            "noise": rng.choice([0, 0.3]), "loads": rng.randint(1, 300), "values": rng.randint(1, 60), "hours": rng.choice([3, 40, 200, 500]),
            "dose": rng.choice([0.05, 0.3, 5]), "law": rng.choice(["cardinal", "square-root", "sharpe-schoolfield", "q10", "arrhenius"]),
            "anchor": rng.random() < 0.5, "demo": rng.randint(0, 9)}


def varied(s):
    other = fresh()
    return s | {key: other[key] for key in rng.sample(list(s), 3) if key != "shape"}


slowest, tries, end = [], 0, time.monotonic() + args.seconds
while time.monotonic() < end:
    s = varied(rng.choice(slowest)[1]) if slowest and rng.random() < 0.5 else fresh()
    text = request(s)
    if len(text) > MOST_BYTES:
        continue
    used = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    answer = json.loads(subprocess.run([args.program, "call"], input=text, capture_output=True, text=True, check=True).stdout)
    used = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - used
    tries += 1
    slowest = sorted([*slowest, (used, s, answer.get("error", {}).get("kind", "answered"))], key=lambda t: -t[0])[:10]
print(f"{tries} requests")
for used, s, kind in slowest:
    print(f"{used:6.2f} s  {kind:14} {s}")
