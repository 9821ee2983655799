"""Prints the events of a calendar file in UTC, read by the PyPI package icalendar.

    pip install icalendar
    pointage plan BAKE.toml ... --calendar bake.ics
    python3 calendar_check.py bake.ics

Stops with an error when the file is not RFC 5545 to that parser, when an event lacks its name, stamp or
alarm, when two share a name, or when a line is longer than 75 octets or does not end in CRLF.
"""

import sys
from datetime import timezone

from icalendar import Calendar


def check(path):
    raw = open(path, "rb").read()
    lines = raw.split(b"\r\n")
    assert lines.pop() == b"" and b"\n" not in raw.replace(b"\r\n", b""), "lines end in CRLF"
    assert max(map(len, lines)) <= 75, "lines of at most 75 octets"
    calendar = Calendar.from_ical(raw)
    assert not calendar.errors and calendar["VERSION"] == "2.0" and calendar["PRODID"]
    names = set()
    for event in calendar.walk("VEVENT"):
        assert not event.errors, event.errors
        names.add(event["UID"])
        assert event["DTSTAMP"].dt.tzinfo
        start, end = (event[key].dt.astimezone(timezone.utc) for key in ("DTSTART", "DTEND"))
        (alarm,) = event.walk("VALARM")
        assert not alarm.errors and alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"]
        minutes = -alarm["TRIGGER"].dt.total_seconds() / 60
        print(f"{start:%Y-%m-%dT%H:%MZ} {end:%H:%MZ} alarm {minutes:.0f} min before: {event['SUMMARY']}")
    assert len(names) == len(calendar.walk("VEVENT")), "every event has a name of its own"


for path in sys.argv[1:]:
    check(path)
