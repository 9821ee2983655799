#!/usr/bin/env python3
"""The work of the benchmarks with numpy, scipy and C: answers compared first, then time.

Reads the inputs and answers that `cargo bench` left in the target directory, and its times from
criterion's own files. Ends with 1 when an answer differs by more than its tolerance. Usage:

    benches/peers.py [TARGET_DIRECTORY]
"""

import json
import os
import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq, curve_fit

TARGET = Path(sys.argv[1] if len(sys.argv) > 1 else os.environ.get("CARGO_TARGET_DIR", "target"))
ROWS = []
FAULTS = []


def told(subject):
    return json.loads((TARGET / "tmp" / "benches" / f"{subject}.json").read_text())


def least_of_bench(group, name):
    """Time of one call in seconds: the least of criterion's samples. Whatever else the machine does only
    ever lengthens a sample, and ours may have run at a busier moment than the peer's."""
    path = TARGET / "criterion" / group / name / "new" / "sample.json"
    sample = json.loads(path.read_text())
    # A sample of less than 20 µs is mostly the clock.
    long = [t / n for t, n in zip(sample["times"], sample["iters"]) if t > 20e3]
    return min(long) * 1e-9


def least_time(work, at_least_s=0.5, at_least_runs=5):
    """The same of a peer: the least of runs of a millisecond or more, so that reading the clock does not count."""
    start = time.perf_counter()
    work()
    once = time.perf_counter() - start
    calls = max(1, int(1e-3 / max(once, 1e-9)))
    runs, begin = [], time.perf_counter()
    while len(runs) < at_least_runs or time.perf_counter() - begin < at_least_s:
        start = time.perf_counter()
        for _ in range(calls):
            work()
        runs.append((time.perf_counter() - start) / calls)
    return min(runs)


def row(what, group, name, peer_s, bar, difference, tolerance, per=1):
    """One line of the table. `per`: units of work in a call."""
    ours = least_of_bench(group, name) / per
    ROWS.append((what, ours, peer_s / per, peer_s / per / ours, bar, difference, tolerance))
    if not difference <= tolerance:  # also true of NaN
        FAULTS.append(f"{what}: answers differ by {difference:.2e}, allowed {tolerance:.0e}")


def cardinal(t, low, best, high):
    """Rosso's law at its full speed 1 at `best`; 0 outside its limits."""
    below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))
    rate = (t - high) * (t - low) ** 2 / below
    return np.where((t <= low) | (t >= high), 0.0, rate)


def rates():
    data = told("rates")
    t = np.array(data["celsius"])
    law, q10 = data["cardinal"], data["q10"]
    at_reference = float(cardinal(law["reference"], law["low"], law["best"], law["high"]))
    work = {
        "cardinal": lambda: cardinal(t, law["low"], law["best"], law["high"]) / at_reference,
        "q10": lambda: np.exp(np.log(q10["factor"]) / 10.0 * (t - q10["reference"])),
    }
    for name, peer in work.items():
        ours = np.array(data[name]["rates"])
        difference = float(np.max(np.abs(peer() / ours - 1.0)))
        bar = 3 if name == "cardinal" else None
        row(f"rate, {name}, a value of a slice", "rates", f"{name}_slice", least_time(peer), bar,
            difference, 1e-12, per=len(t))
    # The same loop by a C compiler, when compare.sh has made it.
    program = TARGET / "rate-in-c"
    if program.exists():
        limits = [str(law[name]) for name in ("low", "best", "high", "reference")]
        told_by_c = subprocess.run([program, *limits], input="\n".join(map(repr, data["celsius"])),
                                   capture_output=True, text=True, check=True).stdout.split()
        each, total = float(told_by_c[0]) * 1e-9, float(told_by_c[1])
        ours = float(np.sum(data["cardinal"]["rates"]))
        # At least 1/1.2 of the speed of C.
        row("the same, against C -O3", "rates", "cardinal_slice", each * len(t), round(1 / 1.2, 3),
            abs(total / ours - 1.0), 1e-12, per=len(t))


# Scalar forms for quad and solve_ivp, which ask for one hour at a time; plain floats are the fastest there.
def scalar_laws():
    data = told("rates")
    law, q10 = data["cardinal"], data["q10"]
    low, best, high = law["low"], law["best"], law["high"]
    scale = 1.0 / float(cardinal(law["reference"], low, best, high))
    log_per_k = float(np.log(q10["factor"])) / 10.0

    def by_cardinal(t):
        if t <= low or t >= high:
            return 0.0
        below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))
        return scale * (t - high) * (t - low) ** 2 / below

    from math import exp
    return {"cardinal": by_cardinal, "q10": lambda t: exp(log_per_k * (t - q10["reference"]))}


def by_quad(law, knots, target):
    """The integral piece by piece, then the hour on the piece where the target lies."""
    gone = 0.0
    for (a, ta), (b, tb) in zip(knots, knots[1:]):
        slope = (tb - ta) / (b - a)
        rate = lambda h: law(ta + slope * (h - a))
        piece = quad(rate, a, b, epsabs=1e-12, epsrel=1e-12)[0]
        if gone + piece >= target:
            short = lambda h: gone + quad(rate, a, h, epsabs=1e-12, epsrel=1e-12)[0] - target
            return brentq(short, a, b, xtol=1e-12)
        gone += piece
    return float("nan")


def by_steps(law, knots, target):
    """DOP853 with an event, piece by piece, since the course has a kink at each knot."""
    gone = 0.0
    for (a, ta), (b, tb) in zip(knots, knots[1:]):
        slope = (tb - ta) / (b - a)
        reached = lambda h, y: y[0] - target
        reached.terminal = True
        run = solve_ivp(lambda h, y: [law(ta + slope * (h - a))], (a, b), [gone], method="DOP853",
                        rtol=1e-11, atol=1e-12, events=reached)
        if run.t_events[0].size:
            return float(run.t_events[0][0])
        gone = float(run.y[0][-1])
    return float("nan")


def time_to_target():
    laws = scalar_laws()
    words = {"pieces": "4 pieces", "record_24h": "record of 24 h"}
    for name, case in told("time_to_target").items():
        room, law = name.rsplit("_", 1)
        if room not in words:
            continue
        peer = by_quad if law == "q10" else by_steps
        found = peer(laws[law], case["knots"], case["target"])
        bar = {"pieces_q10": 500, "pieces_cardinal": 1000, "record_24h_cardinal": 1000}.get(name)
        row(f"time to target, {words[room]}, {law}", "time_to_target", name,
            least_time(lambda: peer(laws[law], case["knots"], case["target"])), bar,
            abs(found - case["hours"]), 1e-9)


def coupled():
    """Gas, yeast, lag and temperature together by DOP853, restarted at knots and at the end of the lag."""
    from math import exp
    data = told("coupled")
    gas_law, growth_law = data["gas_law"], data["growth_law"]
    low, best, high = growth_law["low"], growth_law["best"], growth_law["high"]

    def root(t):
        if t <= gas_law["low"] or t >= gas_law["high"]:
            return 0.0
        return ((t - gas_law["low"]) * (1.0 - exp(gas_law["c"] * (t - gas_law["high"])))) ** 2

    def growth(t):
        if t <= low or t >= high:
            return 0.0
        below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t))
        return (t - high) * (t - low) ** 2 / below

    at27, at30 = root(27.0), root(30.0)
    start, cap, lag = data["added"], data["cap"], data["lag27_h"]

    def run():
        state, awake = [0.0, start, 0.0, data["from_c"]], False
        for (a, ta), (b, tb) in zip(data["knots"], data["knots"][1:]):
            slope, at = (tb - ta) / (b - a), a
            while at < b:
                def change(h, y):
                    rate = root(y[3])
                    gas = data["q30"] * rate / at30 * y[1]
                    grown = data["mu"] * growth(y[3]) * y[1] * (1.0 - (y[1] - start) / cap) if awake else 0.0
                    room = ta + slope * (h - a)
                    return [rate / at27, grown, gas, (room - y[3]) / data["tau_h"] + data["kelvin_per_ml"] * gas]
                done = lambda h, y: y[2] - data["target"]
                wakes = lambda h, y: y[0] - lag
                done.terminal = wakes.terminal = True
                found = solve_ivp(change, (at, b), state, method="DOP853", rtol=1e-11, atol=1e-11,
                                  events=[done] if awake else [done, wakes])
                state, at = found.y[:, -1], float(found.t[-1])
                if found.t_events[0].size:
                    return at, state
                if not awake and found.t_events[1].size:
                    awake = True
        return float("nan"), state

    hours, state = run()
    apart = max(abs(hours - data["hours"]), abs(state[3] - data["dough_c"]), abs(state[1] - data["yeast"]))
    row("dough warmed by itself, until its gas", "coupled", "until_gas", least_time(run), None, apart, 1e-6)


def program():
    """Wall times of the program, which `cargo bench --bench batch` took."""
    data = told("batch")
    rate = data["rows"] / data["wall_s"]
    alone = data["rows"] * data["threads"] / data["processor_s"]
    only = data["processor_s"] / data["only_csv_s"]
    more_ms = 1e3 * (data["water_s"] - data["true_s"])
    return [
        (f"rows of ready a second, {data['threads']} threads", f"{rate / 1e6:.2f} million", "1 million", rate >= 1e6),
        ("the same by its processor time, were the cores its own", f"{alone / 1e6:.2f} million", "1 million",
         alone >= 1e6),
        ("processor time against only reading and writing", f"{only:.2f} times", "3 times", only <= 3.0),
        ("memory of it", f"{data['memory_kib'] / 1024:.1f} MiB", "32 MiB", data["memory_kib"] < 32 * 1024),
        ("whole process water beyond true", f"{more_ms:.2f} ms", "4 ms", more_ms <= 4.0),
    ]


def plans():
    for words, bar in (("plain", 0.3e-3), ("ranges", 30e-3)):
        ours = least_of_bench("plan", f"loads_8_{words}")
        yield f"plan, 8 loads, {words}", seconds(ours), seconds(bar), ours <= bar


def growth_lines():
    """What doubling multiplies the time by; at most 2.2."""
    lines = [("rows of batch", [told("batch")["half_s"], told("batch")["processor_s"]])]
    for law in ("cardinal", "q10"):
        of = lambda hours: least_of_bench("time_to_target", f"record_{hours}h_{law}")
        lines.append((f"record of 24, 48, 96 h, {law}", [of(24), of(48), of(96)]))
    for words in ("plain", "ranges"):
        of = lambda loads: least_of_bench("plan", f"loads_{loads}_{words}")
        lines.append((f"2, 4, 8 loads, {words}", [of(2), of(4), of(8)]))
    for what, times in lines:
        factors = [b / a for a, b in zip(times, times[1:])]
        yield what, ", ".join(f"{f:.2f}" for f in factors), "2.2", max(factors) <= 2.2


def fits():
    data = told("fit")
    t = np.array(data["celsius"])
    model = lambda t, rate, low, best, high: rate * cardinal(t, low, best, high)
    # The same knowledge that the library starts from: the fastest point, and limits just outside the data.
    fastest = int(np.argmax(data["speeds"]))
    start = [data["speeds"][fastest], t[0] - 2.0, t[fastest], t[-1] + 2.0]

    def one(speeds):
        return curve_fit(model, t, speeds, p0=start, ftol=1e-12, xtol=1e-12)

    values, covariance = one(data["speeds"])
    errors = np.sqrt(np.diag(covariance))
    moved = np.max(np.abs(values - data["values"]) / np.array(data["errors"], dtype=float))
    row("cardinal fit, 20 points (values, in standard errors)", "fit", "cardinal_20",
        least_time(lambda: one(data["speeds"])), 15, float(moved), 1e-4)
    apart = float(np.max(np.abs(errors / np.array(data["errors"], dtype=float) - 1.0)))
    if not apart <= 1e-3:
        FAULTS.append(f"standard errors differ by {apart:.2e} of themselves, allowed 1e-3")

    def all_rounds():
        found = []
        for sample in data["samples"]:
            try:
                found.append(one(sample)[0])
            except RuntimeError:  # no convergence
                found.append(None)
        return found

    begin = time.perf_counter()
    found = all_rounds()
    took = time.perf_counter() - begin
    # Compared by the sum of squares: of two fits to one sample the lesser is the answer.
    rss = lambda sample, p: float(np.sum((model(t, *p) - sample) ** 2))
    ours = [rss(s, p) for s, p in zip(data["samples"], data["optima"])]
    theirs = [np.inf if p is None else rss(s, p) for s, p in zip(data["samples"], found)]
    same = sum(abs(a / b - 1.0) < 1e-6 for a, b in zip(ours, theirs))
    worse = sum(a > b * (1.0 + 1e-6) for a, b in zip(ours, theirs))
    print(f"bootstrap: {same} of {len(ours)} sums of squares agree to 1e-6; "
          f"scipy's is larger in {len(ours) - same - worse}, the library's in {worse}")
    row("1000 residual bootstraps (share of larger sums)", "fit", "residual_bootstrap_1000", took, 20,
        worse / len(ours), 0.0)


def seconds(s):
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if s >= size:
            return f"{s / size:.3g} {unit}"
    return f"{s * 1e9:.3g} ns"


warnings.filterwarnings("ignore")  # curve_fit says when a covariance could not be had
print(f"numpy {np.__version__}, scipy {scipy.__version__}; "
      f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
for subject in (rates, time_to_target, coupled, fits):
    subject()

print("\n| work | pointage | peer | ratio | bar | met | answers differ by | allowed |")
print("|---|---|---|---|---|---|---|---|")
for what, ours, peer, ratio, bar, difference, tolerance in ROWS:
    met = "" if bar is None else "yes" if ratio >= bar else "NO"
    print(f"| {what} | {seconds(ours)} | {seconds(peer)} | {ratio:.3g} | {bar or ''} | {met} "
          f"| {difference:.1e} | {tolerance:.0e} |")

print("\n| only ours | measured | bar | met |")
print("|---|---|---|---|")
for what, ours, bar, met in [*plans(), *program()]:
    print(f"| {what} | {ours} | {bar} | {'yes' if met else 'NO'} |")

print("\n| doubling of | multiplies the time by | at most | met |")
print("|---|---|---|---|")
for what, factors, bar, met in growth_lines():
    print(f"| {what} | {factors} | {bar} | {'yes' if met else 'NO'} |")

print("\n| bench | least |")
print("|---|---|")
for path in sorted((TARGET / "criterion").glob("*/*/new/estimates.json")):
    group, name = path.parts[-4:-2]
    print(f"| {group}/{name} | {seconds(least_of_bench(group, name))} |")

for fault in FAULTS:
    print(f"ANSWERS DIFFER: {fault}", file=sys.stderr)
sys.exit(bool(FAULTS))
