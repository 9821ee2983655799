"""Prints the events of a calendar file in UTC, read by the PyPI package icalendar.

    pip install icalendar==7.3.2
    pointage plan BAKE.toml ... --calendar bake.ics
    python tests/reference/calendar_check.py bake.ics

Stops with an error when the file is not RFC 5545 to that parser, when an event lacks its name, stamp or
alarm, when two share a name, or when a line is longer than 75 octets or does not end in CRLF.
"""

import argparse
from collections import namedtuple
from datetime import timezone

from icalendar import Calendar

Read = namedtuple("Read", "uid start end alarm_min summary")


def too_long(path):
    """Lines of more than 75 octets, which RFC 5545 (3.1) says should not be."""
    with open(path, "rb") as file:
        return [line for line in file.read().split(b"\r\n") if len(line) > 75]


def events(path):
    """Events of a file, times in UTC; an AssertionError where it is not in form."""
    with open(path, "rb") as file:
        raw = file.read()
    lines = raw.split(b"\r\n")
    assert lines.pop() == b"" and b"\n" not in raw.replace(b"\r\n", b""), "lines end in CRLF"
    calendar = Calendar.from_ical(raw)
    assert not calendar.errors and calendar["VERSION"] == "2.0" and calendar["PRODID"]
    found = []
    for event in calendar.walk("VEVENT"):
        assert not event.errors, event.errors
        assert event["DTSTAMP"].dt.tzinfo
        start, end = (event[key].dt.astimezone(timezone.utc) for key in ("DTSTART", "DTEND"))
        (alarm,) = event.walk("VALARM")
        assert not alarm.errors and alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"]
        minutes = -alarm["TRIGGER"].dt.total_seconds() / 60
        found.append(Read(str(event["UID"]), start, end, minutes, str(event["SUMMARY"])))
    assert len({e.uid for e in found}) == len(found) > 0, "every event has a name of its own"
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("calendar", nargs="+")
    for path in parser.parse_args().calendar:
        assert not too_long(path), too_long(path)
        for e in events(path):
            print(f"{e.start:%Y-%m-%dT%H:%MZ} {e.end:%H:%MZ} alarm {e.alarm_min:.0f} min before: {e.summary}")
