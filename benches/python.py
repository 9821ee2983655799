"""The Python package: one question against the first version's ctypes module, a table against `pointage batch`.

    benches/python.py PROGRAM [FIRST]

PROGRAM is `pointage`. FIRST is a folder with the first version and its C library: `git archive 4c59416`, then
`cargo rustc --release --lib --no-default-features --features capi --crate-type cdylib` in it. Both sides take turns,
and count their own processor time, so that what else the machine does falls on both alike.
"""

import resource
import statistics
import subprocess
import sys
import tempfile
import time
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


if __name__ == "__main__":
    table(sys.argv[1])
    for first in sys.argv[2:]:
        one_question(first)
