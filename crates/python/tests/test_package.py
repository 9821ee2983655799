"""The package itself: its functions and types, threads and forks."""

import inspect
import os
import pickle
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pointage
import pytest

HERE = Path(__file__).resolve().parent


def test_the_lines_of_the_readme_run():
    readme = (HERE.parents[2] / "README.md").read_text("utf-8")
    lines = readme.partition("```python\n")[2].partition("```")[0]
    printed = subprocess.run([sys.executable, "-c", lines], capture_output=True, check=True, text=True).stdout
    assert printed == f"ripe after {pointage.ready('poolish', 0.3, at_c=21, yeast='fresh')['ready_h']:.1f} h\n"


def rows(count):
    return pointage.ready("poolish", np.linspace(0.1, 1, count), at_c=21.0)


@contextmanager
def beside(work):
    """Another thread does it over and over. It ends whatever happens: a thread left behind would keep pytest alive."""
    done = threading.Event()

    def loop():
        while not done.is_set():
            work()

    thread = threading.Thread(target=loop, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def test_functions_know_their_parameters_and_can_be_sent_to_a_process():
    parameters = inspect.signature(pointage.ready).parameters
    assert list(parameters)[:2] == ["kind", "dose_percent"]
    assert parameters["at_c"].kind is inspect.Parameter.KEYWORD_ONLY
    assert "Hold the dough at this temperature" in pointage.ready.__doc__
    assert pickle.loads(pickle.dumps(pointage.ready)) is pointage.ready


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


def test_the_types_refuse_an_unknown_kind(tmp_path):
    pytest.importorskip("mypy")
    program = tmp_path / "bread.py"
    program.write_text("import pointage\n\npointage.ready('bread', 0.3, at_c=21)\n", "utf-8")
    checked = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", "", str(program)], capture_output=True, text=True, check=False
    )
    assert 'No overload variant of "ready" matches' in checked.stdout, (checked.stdout, checked.stderr)


def test_another_thread_ticks_while_it_works():
    ticks = []

    def tick():
        ticks.append(time.perf_counter())
        time.sleep(0.001)

    with beside(tick):
        begin = time.perf_counter()
        rows(200_000)
        end = time.perf_counter()
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
    codes, deadline = [], time.monotonic() + 300
    with beside(lambda: rows(3000)):
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
    assert codes == [0] * 1000


def test_the_wheel_needs_nothing_else():
    """Without NumPy there are no arrays, and everything else."""
    program = "import sys; sys.modules['numpy'] = None; import pointage; print(pointage.ice(1000, 20, 10)['ice_g'])"
    out = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert float(out.stdout) == pointage.ice(1000, 20, 10)["ice_g"]
