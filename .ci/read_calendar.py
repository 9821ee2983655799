#!/usr/bin/env python3
"""Reads the calendars of four bakes with a parser that is not ours (icalendar, from PyPI), and holds them to the steps of the plan.

Each event has one alarm, ten minutes before it; every step that needs hands stands in just one event, a move of the fridge in
that of a step within ten minutes where there is one; each thing that goes in stands in the description. Takes the program.
"""
import datetime, json, pathlib, subprocess, sys, tempfile

import icalendar

program = sys.argv[1]
bakes = [*sorted(pathlib.Path("crates/cli/tests/bakes").glob("*.toml")), pathlib.Path("data/demo/market-poolish.toml")]
near = datetime.timedelta(minutes=10)
for bake in bakes:
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder, "day.ics")
        when = ["--first-out", "09:00", "--date", "2026-11-28", "--zone", "Europe/Vienna"]
        plan = subprocess.run([program, "plan", bake, *when, "--calendar", file, "--json"], capture_output=True, text=True)
        calendar = icalendar.Calendar.from_ical(file.read_bytes())
    steps = [step for step in json.loads(plan.stdout)["steps"] if step["hands"]]
    start = {step["text"]: datetime.datetime.fromisoformat(step["start"]) for step in steps}
    told = []
    events = list(calendar.walk("VEVENT"))
    for event in events:
        assert not event.errors, event.errors
        (alarm,) = event.walk("VALARM")
        assert alarm["TRIGGER"].dt == -near, alarm["TRIGGER"]
        titles = str(event["SUMMARY"]).split("; ")
        told += titles
        assert abs(event["DTSTART"].dt - start[titles[0]]) <= datetime.timedelta(seconds=30), titles
        description = str(event["DESCRIPTION"])
        for other in titles[1:]:
            assert abs(start[other] - start[titles[0]]) <= near, titles
            assert other in description, description
        (step,) = [step for step in steps if step["text"] == titles[0]]
        assert all(amount["name"] in description for amount in step["amounts"]), description
    assert sorted(told) == sorted(start), set(told) ^ set(start)
    starts = sorted(event["DTSTART"].dt for event in events)
    fridge = [event for event in events if "retarder" in event["SUMMARY"].split(";")[0]]
    for event in fridge:
        others = [at for at in starts if at != event["DTSTART"].dt]
        assert min(abs(at - event["DTSTART"].dt) for at in others) > datetime.timedelta(minutes=9), event["SUMMARY"]
    print(f"{bake.name}: {len(events)} events for {len(steps)} steps")
