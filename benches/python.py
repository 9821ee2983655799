"""The Python package: one question against the first version's ctypes module, a table against `pointage batch`.

    benches/python.py PROGRAM [FIRST]

PROGRAM is `pointage`. FIRST is a folder with the first version and its C library: `git archive 4c59416`, then
`cargo rustc --release --lib --no-default-features --features capi --crate-type cdylib` in it. Both sides take turns,
and count their own processor time, so that what else the machine does falls on both alike. Without FIRST, the table and each
way to ask alone.
"""

import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

QUESTION = {"kind": "poolish", "dose_percent": 0.3, "at_c": 21.0, "yeast": "fresh"}
ASKED = ", ".join(f"{key}={value!r}" for key, value in QUESTION.items())
CALLS, ROWS, ROUNDS = 20_000, 1_000_000, 15

# A worker answers CALLS questions for each line it gets, and tells the seconds of each.
WORKER = f"""
import sys, time
sys.path[:0] = sys.argv[1:]
from pointage import ready
for _ in sys.stdin:
    begin = time.process_time()
    for _ in range({CALLS}):
        ready({ASKED})
    print((time.process_time() - begin) / {CALLS}, flush=True)
"""


def worker(*folders: str) -> subprocess.Popen:
    command = [sys.executable, "-c", WORKER, *folders]
    return subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def turn(side: subprocess.Popen) -> float:
    side.stdin.write("\n")
    side.stdin.flush()
    return float(side.stdout.readline())


def one_question(first: str) -> None:
    ours, theirs = worker(), worker(f"{first}/examples/python")
    times = [(turn(ours), turn(theirs)) for _ in range(ROUNDS)]
    for side in ours, theirs:
        side.stdin.close()
        side.wait()
    ratio = statistics.median(theirs / ours for ours, theirs in times)
    best, before = (1e6 * min(column) for column in zip(*times))
    print(f"one question: {best:.2f} µs, first version {before:.2f} µs; {ratio:.2f} times as fast (median of {ROUNDS} pairs)")


def table(program: str) -> None:
    import numpy
    import pointage
    import pyarrow
    import pyarrow.csv

    doses = numpy.linspace(0.1, 1, ROWS)
    questions = pyarrow.table({"dose_percent": doses} | {key: [value] * ROWS for key, value in QUESTION.items() if key != "dose_percent"})
    with tempfile.TemporaryDirectory() as folder:
        asked, answers = Path(folder, "asked.csv"), Path(folder, "answers.csv")
        pyarrow.csv.write_csv(questions, asked)
        command = [program, "batch", asked, "--command", "ready", "--out", answers, "--force"]
        times = []
        for _ in range(5):
            begin = time.process_time()
            pyarrow.table(pointage.answer("ready", questions))
            ours = time.process_time() - begin
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, check=True, capture_output=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            times.append((ours, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    ratio = statistics.median(batch / ours for ours, batch in times)
    best, batch = (ROWS / min(column) / 1e6 for column in zip(*times))
    print(f"a table: {best:.2f} million rows a CPU second, batch {batch:.2f}; {ratio:.2f} times as fast (median of 5 pairs)")


def ways(program: str) -> None:
    """The same question a million times, by each way to ask: rows a CPU second, the best of three."""
    import numpy
    import pointage
    import pyarrow
    import pyarrow.csv

    questions = pyarrow.table({key: [value] * ROWS for key, value in QUESTION.items()})
    line = json.dumps({"version": 1, "command": "ready"} | QUESTION) + "\n"
    at_c = numpy.full(ROWS, QUESTION["at_c"])
    rest = {key: value for key, value in QUESTION.items() if key != "at_c"}

    def rate(rows: int, work: Callable[[], object]) -> float:
        used = []
        for _ in range(3):
            before = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
            work()
            after = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
            used.append(sum(b.ru_utime + b.ru_stime - a.ru_utime - a.ru_stime for a, b in zip(before, after)))
        return rows / min(used) / 1e6

    with tempfile.TemporaryDirectory() as folder:
        asked, lines = Path(folder, "asked.csv"), Path(folder, "asked.jsonl")
        pyarrow.csv.write_csv(questions, asked)
        lines.write_text(line * ROWS)

        def held_open() -> None:
            with lines.open() as requests:
                subprocess.run([program, "call"], stdin=requests, stdout=subprocess.DEVNULL, check=True)

        batch = [program, "batch", asked, "--command", "ready", "--out", Path(folder, "answers.csv"), "--force"]
        for name, rows, work in [
            ("batch", ROWS, lambda: subprocess.run(batch, check=True, capture_output=True)),
            ("Arrow", ROWS, lambda: pointage.answer("ready", questions)),
            ("NumPy", ROWS, lambda: pointage.ready(at_c=at_c, **rest)),
            ("one question", ROWS, lambda: all(pointage.ready(**QUESTION) for _ in range(ROWS))),
            ("call", ROWS, held_open),
        ]:
            print(f"{name}: {rate(rows, work):.2f} million rows a CPU second")


if __name__ == "__main__":
    table(sys.argv[1])
    ways(sys.argv[1])
    for first in sys.argv[2:]:
        one_question(first)
