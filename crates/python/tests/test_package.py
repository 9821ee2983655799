"""The package itself: its types, threads, forks, and that its functions are those of the schema."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pointage
import pytest

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))


def rows(count):
    return pointage.ready("poolish", np.linspace(0.1, 1, count), at_c=21.0)


def test_the_functions_are_those_of_the_schema():
    import questions

    text = questions.written({command: pointage.numbers(command) for command in questions.COLUMNS})
    assert questions.TARGET.read_text("utf-8") == text, "run questions.py"


def test_the_types_hold(tmp_path):
    pytest.importorskip("mypy")
    tonight = HERE.parents[2] / "examples" / "python" / "tonight.py"
    config = str(HERE.parent / "pyproject.toml")
    for what in [
        ["mypy", "--config-file", "", "--strict", str(tonight)],
        ["mypy", "--config-file", config, "-p", "pointage"],
        ["mypy.stubtest", "--mypy-config-file", config, "pointage._pointage"],
    ]:
        checked = subprocess.run(
            [sys.executable, "-m", *what], capture_output=True, text=True, check=False, cwd=tmp_path
        )
        assert checked.returncode == 0, (checked.stdout, checked.stderr)


def test_another_thread_ticks_while_it_works():
    ticks, done = [], threading.Event()

    def tick():
        while not done.is_set():
            ticks.append(time.perf_counter())
            time.sleep(0.001)

    thread = threading.Thread(target=tick)
    thread.start()
    begin = time.perf_counter()
    rows(200_000)
    end = time.perf_counter()
    done.set()
    thread.join()
    inside = [tick for tick in ticks if begin < tick < end]
    # At least one in 20 ms, with both cores busy.
    assert len(inside) > (end - begin) / 0.02


def test_threads_do_not_disturb_each_other():
    expected = rows(5000)["ready_h"]
    answers = []
    threads = [threading.Thread(target=lambda: answers.append(rows(5000)["ready_h"])) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 8 and all((answer == expected).all() for answer in answers)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_fork_survives():
    """Workers are forked while other threads are at work, and use threads of their own."""
    expected = float(rows(3000)["ready_h"].sum())
    done = threading.Event()

    def work():
        while not done.is_set():
            rows(3000)

    thread = threading.Thread(target=work)
    thread.start()
    codes, deadline = [], time.monotonic() + 300
    for _ in range(50):
        workers = []
        for _ in range(20):
            worker = os.fork()
            if worker == 0:
                os._exit(0 if float(rows(3000)["ready_h"].sum()) == expected else 1)
            workers.append(worker)
        for worker in workers:
            while (ended := os.waitpid(worker, os.WNOHANG))[0] == 0:
                assert time.monotonic() < deadline, "a worker hangs"
                time.sleep(0.001)
            codes.append(os.waitstatus_to_exitcode(ended[1]))
    done.set()
    thread.join()
    assert codes == [0] * 1000


def test_the_wheel_needs_nothing_else():
    """Without NumPy there are no arrays, and everything else."""
    program = "import sys; sys.modules['numpy'] = None; import pointage; print(pointage.ice(1000, 20, 10)['ice_g'])"
    out = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert float(out.stdout) == pointage.ice(1000, 20, 10)["ice_g"]
