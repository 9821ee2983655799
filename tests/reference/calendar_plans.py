"""Plans the demo bakes around the nights when the clocks change, and holds each event of the calendar, as the
PyPI package icalendar reads it, against the times of the JSON answer.

    pip install icalendar==7.3.2
    cargo build && python tests/reference/calendar_plans.py target/debug/pointage

The calendar has whole minutes, the answer whole seconds: 31 s are allowed. Offsets from UTC in the answer are
held against Python's zoneinfo. An hour that is wrong where the clocks change fails both. Form is checked as by
calendar_check.py. Exit code 1 when anything differs.
"""
import argparse
import json
import pathlib
import subprocess
import sys
import tempfile
from datetime import datetime, timezone
from zoneinfo import ZoneInfo

from calendar_check import events, too_long

DEMO = pathlib.Path(__file__).parents[2] / "data" / "demo"
BAKES = ["market-poolish.toml", "winter-biga.toml", "summer-tin.toml"]
NIGHTS = [  # summer time ends or begins on the first four, nothing changes on the last
    ("2026-10-25", "Europe/Vienna"),
    ("2027-03-28", "Europe/Vienna"),
    ("2026-11-01", "America/New_York"),
    ("2027-03-14", "America/New_York"),
    ("2026-11-28", "Europe/Vienna"),
]
HOURS = ["--first-out 05:00", "--first-out 09:00", "--start-at 01:15"]
ALLOWED_S = 31


def planned(program, bake, hour, date, zone):
    """The answer, the events by the last part of their name, such as `load-2-in`, and lines that are too long."""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "bake.ics"
        line = [program, "plan", DEMO / bake, *hour.split(), "--date", date, "--zone", zone, "--json", "--calendar", file]
        done = subprocess.run(line, capture_output=True, text=True)
        assert done.returncode in (0, 1), done.stderr  # 1: a load outside its window, the plan stands
        by_name = {e.uid.split("@")[0].split("-", 4)[4]: e for e in events(file)}
        return json.loads(done.stdout), by_name, too_long(file)


def told(answer):
    """Start and end of what the answer tells, by the names of the events; None where it tells no end."""
    stages = {s["name"]: s for s in answer["stages"]}
    times = {f"fold-{i}": (t, None) for i, t in enumerate(answer["folds"], 1)}
    if answer["preferment"]:
        times["preferment"] = (answer["preferment"]["mixed"], None)
    if answer["preheat"]:
        times["preheat"] = (answer["preheat"], None)
    for name in ("autolyse", "mix"):
        if name in stages:
            times[name] = (stages[name]["start"], stages[name]["end"] if name == "mix" else None)
    for load in answer["loads"]:
        n = load["number"]
        first = lambda name: stages[name]["end"] if n == 1 and name in stages else None
        times[f"divide-{n}"] = (load["divide"], first("divide"))
        times[f"shape-{n}"] = (load["shape"], None)
        if load["retarder"]:
            times[f"cooler-{n}-in"], times[f"cooler-{n}-out"] = ((t, None) for t in load["retarder"])
        times[f"load-{n}-in"] = (load["oven_in"], None)
        times[f"load-{n}-out"] = (load["oven_out"], None)
    return {k: tuple(t and datetime.fromisoformat(t) for t in v) for k, v in times.items()}


def compare(found, times, zone):
    """Faults, the number of times compared, and the largest difference in seconds."""
    faults, count, worst = [], 0, 0.0
    kind = lambda name: [w for w in name.split("-") if not w.isdigit()]
    for name in found.keys() - times.keys():
        faults.append(f"{name}: an event that the answer does not tell")
    for name, (start, end) in times.items():
        if start.astimezone(ZoneInfo(zone)).utcoffset() != start.utcoffset():
            faults.append(f"{name}: {start} is not of {zone}")
        if name not in found:  # loads that are handled together have one event, under the first one's name
            if not any(kind(o) == kind(name) and times[o][0] == start for o in found if o in times):
                faults.append(f"{name}: no event at {start}")
            continue
        for said, event in ((start, found[name].start), (end, found[name].end)):
            if said is None:
                continue
            count += 1
            apart = abs((event - said.astimezone(timezone.utc)).total_seconds())
            worst = max(worst, apart)
            if apart > ALLOWED_S:
                faults.append(f"{name}: {event} in the calendar, {said} in the answer")
    return faults, count, worst


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", help="the program, such as target/debug/pointage")
    program = str(pathlib.Path(parser.parse_args().program).resolve())
    plans = compared = bad = 0
    largest = 0.0
    for bake in BAKES:
        for date, zone in NIGHTS:
            for hour in HOURS:
                answer, found, long = planned(program, bake, hour, date, zone)
                faults, count, worst = compare(found, told(answer), zone)
                faults += [f"a line of {len(line)} octets" for line in long]
                for fault in faults:
                    print(f"{bake} {hour} {date} {zone}: {fault}")
                plans, compared, bad, largest = plans + 1, compared + count, bad + len(faults), max(largest, worst)
    print(f"{plans} plans, {compared} times compared, largest difference {largest:.0f} s, {bad} faults")
    return 1 if bad or not compared else 0


if __name__ == "__main__":
    sys.exit(main())
