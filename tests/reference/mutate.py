"""Does a test notice when a line of the library is wrong? Makes the faults that cargo-mutants lists, one at a
time, and runs the tests that reach the place until one fails; reports for each module how many were caught.

    python tests/reference/mutate.py --work DIR rate ferment heat formula plan learn units
    python tests/reference/mutate.py --work DIR --slowest 1 --sample 500 plan    # a first look

All faults are built at once and an environment variable says which one is active: see `mutants/`. DIR keeps
the build and `log.jsonl`, a line a fault; started again it goes on from there: caught faults stay caught, the
others meet the tests that they have not met. A test is known by its name: after a change to one, take the
lines of what it shall notice out of the log. Those that nothing notices are printed with the reason that stands in
mutants/SURVIVORS.md, or with none. As in perturb_data.py, copies of the program's own output do not
count; nor do the examples in the documentation, which stand in no test binary.
Needs Linux, Python 3.11, cargo and cargo-mutants, nothing else. All faults take an hour or two of two cores.
"""
import argparse
import collections
import concurrent.futures
import json
import os
import pathlib
import pickle
import random
import re
import resource
import shutil
import signal
import struct
import subprocess
import sys
import threading
import time

from perturb_data import OWN_OUTPUT, ROOT

WORKERS = 2
SURVIVORS = "tests/reference/mutants/SURVIVORS.md"
# Tests are run in groups, the quickest first: so many seconds together.
GROUPS = [0.1, 0.5, 2, 8]
# A fault that makes a group slower than this is noticed: it would hang `cargo test`.
LONGEST = lambda usual: 20 * usual + 4
MEMORY = 6 << 30


class Woven:
    """A copy of the sources with all mutants in it, and its build."""

    def __init__(self, folder, modules):
        self.folder, self.tree, self.target = folder, folder / "tree", folder / "target"
        self.env = {**os.environ, "CARGO_TARGET_DIR": str(self.target), "CARGO_MANIFEST_DIR": str(self.tree),
                    "CARGO_PROFILE_DEV_DEBUG": "0", "CARGO_PROFILE_DEV_OPT_LEVEL": "2", "RUST_BACKTRACE": "0"}
        for name in ("POINTAGE_BLESS", "MUTANT", "MUTANT_TRACE"):
            self.env.pop(name, None)
        shutil.rmtree(self.tree, ignore_errors=True)
        shutil.copytree(ROOT, self.tree, ignore=shutil.ignore_patterns("target", ".git", "fuzz"))
        files = [word for m in modules for name in (f"src/{m}.rs", f"src/{m}/**") for word in ("--file", name)]
        out = subprocess.run(["cargo", "mutants", "--list", "--json", "--diff", "--dir", self.tree, *files],
                             capture_output=True, text=True, check=True).stdout
        (folder / "list.json").write_text(out)
        self.mutants = json.loads(out)
        self.dropped, self.left_out = set(), {}
        while new := self.type_errors(self.weave()):
            self.dropped |= new
        self.build()
        self.trace()
        (folder / "built").write_bytes(pickle.dumps(vars(self)))

    @staticmethod
    def built(folder):
        """The one that was built in this folder before."""
        woven = Woven.__new__(Woven)
        vars(woven).update(pickle.loads((folder / "built").read_bytes()))
        return woven

    def weave(self):
        shutil.rmtree(self.tree / "src")
        shutil.copytree(ROOT / "src", self.tree / "src")
        dropped = self.folder / "dropped"
        dropped.write_text(" ".join(map(str, sorted(self.dropped))))
        tool = ["cargo", "run", "--quiet", "--release", "--manifest-path",
                ROOT / "tests/reference/mutants/Cargo.toml", "--target-dir", self.folder / "tool", "--"]
        out = subprocess.run([*tool, self.folder / "list.json", self.tree, dropped],
                             stdout=subprocess.PIPE, text=True, check=True).stdout
        report = json.loads(out)
        self.place = {i: min(ids) for f in report.values() for ids, _, _ in f["places"] for i in ids}
        self.left_out = {int(i): why for f in report.values() for i, why in f["out"].items()}
        return report

    def cargo(self, *what):
        out = subprocess.run(["cargo", *what, "--message-format=json", "-j", str(WORKERS)], cwd=self.tree,
                             env=self.env, capture_output=True, text=True)
        return out, [json.loads(line) for line in out.stdout.splitlines()]

    def type_errors(self, report):
        """The mutants that do not compile."""
        out, messages = self.cargo("check", "--lib")
        found = set()
        for message in messages:
            error = message.get("message", {})
            if message["reason"] != "compiler-message" or error["level"] != "error":
                continue
            for span in (s for s in error["spans"] if s["is_primary"] and s["file_name"] in report):
                file, a, b = report[span["file_name"]], span["byte_start"], span["byte_end"]
                if ids := {i for i, start, end in file["arms"] if start <= a and b <= end}:
                    found |= ids
                else:
                    # Not in one of them: all of the smallest place that it touches.
                    touched = [(end - start, ids) for ids, start, end in file["places"] if start < b and a < end]
                    found |= set(min(touched)[1]) if touched else set()
        if out.returncode and not found - self.dropped:
            sys.exit(out.stderr[-4000:])
        return found - self.dropped

    def build(self):
        out, messages = self.cargo("test", "--lib", "--test", "suite", "--no-run")
        if out.returncode:
            sys.exit(out.stderr[-4000:])
        exe = {m["target"]["kind"][0]: pathlib.Path(m["executable"]) for m in messages if m.get("executable")}
        self.exe = {"lib": exe["lib"], "suite": exe["test"]}
        for n in range(WORKERS):
            (self.folder / f"tmp{n}").mkdir(exist_ok=True)

    def tests(self):
        for name, exe in self.exe.items():
            out = subprocess.run([exe, "--list"], env=self.env, capture_output=True, text=True, check=True).stdout
            for test in re.findall(r"^(\S+): test$", out, re.M):
                if not any(test.startswith(own) for own in OWN_OUTPUT):
                    yield name, test

    def failure(self, worker, name, tests, seconds, **more):
        """The first of the tests that fails, one after the other, or None."""
        # Tests write into target/tmp. Each worker sees a folder of its own there.
        own = self.folder / f"tmp{worker}"
        apart = ["unshare", "-rm", "sh", "-c", 'mount --bind "$0" "$1" && shift && exec "$@"', own, self.target / "tmp"]
        limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        process = subprocess.Popen([*apart, self.exe[name], "--test-threads", "1", "--exact", *tests], cwd=self.tree,
                                   env={**self.env, "TMPDIR": str(own), **more}, stdout=subprocess.PIPE,
                                   stderr=subprocess.DEVNULL, text=True, start_new_session=True, preexec_fn=limit)
        late = threading.Event()
        def end():
            try:
                os.killpg(process.pid, signal.SIGKILL)
            except ProcessLookupError:
                pass
        timer = threading.Timer(seconds, lambda: (late.set(), end()))
        timer.start()
        failed, ended, last = None, False, ""
        for line in process.stdout:
            ended = ended or line.startswith("test result: ")
            last = line
            if match := re.match(r"test (\S+) .*FAILED", line):
                failed = match[1]
                end()
                break
        process.wait()
        timer.cancel()
        if failed or (ended and process.returncode == 0):
            return failed
        return f"{'too slow' if late.is_set() else 'broken off'}: {last.strip() or tests[0]}"

    def trace(self):
        """How long each test takes, and which places it reaches."""
        def one(n, test):
            path = self.folder / f"trace{n}"
            path.unlink(missing_ok=True)
            start = time.monotonic()
            if failed := self.failure(n, test[0], [test[1]], 600, MUTANT_TRACE=str(path)):
                sys.exit(f"the tests must pass without a fault: {failed}")
            took = time.monotonic() - start
            ids = path.read_bytes() if path.exists() else b""
            return test, took, {i for i, in struct.iter_unpack("<I", ids)}
        self.seconds, self.reach = {}, collections.defaultdict(set)
        started = time.monotonic()
        for test, took, ids in in_turns(one, list(self.tests())):
            self.seconds[test] = took
            for i in ids:
                self.reach[i].add(test)
        print(f"{len(self.seconds)} tests traced in {time.monotonic() - started:.0f} s", flush=True)


def in_turns(work, things):
    """`work(worker, thing)` of all, on all workers."""
    free, lock = list(range(WORKERS)), threading.Lock()
    def one(thing):
        with lock:
            n = free.pop()
        try:
            return work(n, thing)
        finally:
            free.append(n)
    with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
        for done in concurrent.futures.as_completed([pool.submit(one, t) for t in things]):
            yield done.result()


def noticed(woven, worker, i, tests, favourites):
    """The test that notices a mutant, or None."""
    first = [t for t, _ in favourites.most_common() if t in tests and woven.seconds[t] < 1][:3]
    rest = sorted(tests - set(first), key=woven.seconds.get)
    groups, sums = [first] if first else [], 0
    limits = iter(GROUPS)
    room = 0
    for test in rest:
        if sums + woven.seconds[test] > room:
            room, sums = next(limits, 0), 0
            groups.append([])
        groups[-1].append(test)
        sums += woven.seconds[test]
    for group in groups:
        for name in ("lib", "suite"):
            part = [t for kind, t in group if kind == name]
            usual = sum(woven.seconds[name, t] for t in part)
            if part and (by := woven.failure(worker, name, part, LONGEST(usual), MUTANT=str(i))):
                return name, by
    return None


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    ask.add_argument("modules", nargs="+")
    ask.add_argument("--work", type=pathlib.Path, required=True, help="folder of the copy, its build and the log")
    ask.add_argument("--sample", type=int, help="so many of all, drawn at random")
    ask.add_argument("--seed", type=int, default=0)
    ask.add_argument("--slowest", type=float, default=600, help="seconds of the slowest test that is run")
    ask.add_argument("--built", action="store_true", help="with the build that is there, whatever has changed")
    ask.add_argument("--only", default="", help="part of a fault's name")
    given = ask.parse_args()
    given.work.mkdir(parents=True, exist_ok=True)
    folder = given.work.resolve()
    woven = Woven.built(folder) if given.built else Woven(folder, given.modules)
    module = lambda i: re.split(r"[/.]", woven.mutants[i - 1]["file"])[1]
    name = lambda i: woven.mutants[i - 1]["name"]
    print(f"{len(woven.mutants)} listed, {len(woven.dropped)} do not compile, {len(woven.place)} built; left out:",
          dict(collections.Counter(woven.left_out.values())), flush=True)
    log = given.work / "log.jsonl"
    known = {}
    for line in log.read_text().splitlines() if log.exists() else []:
        entry = json.loads(line)
        if not known.get(entry["name"], {}).get("by"):
            met = known.get(entry["name"], {}).get("met", [])
            known[entry["name"]] = {**entry, "met": met + entry["met"]}
    chosen = [i for i in sorted(woven.place) if given.only in name(i)]
    random.Random(given.seed).shuffle(chosen)
    if given.sample:
        # Out of all of them, so that each module has the share that it has of all.
        chosen = chosen[:given.sample]
    favourites = collections.defaultdict(collections.Counter)
    file = log.open("a")

    def one(worker, i):
        before = known.get(name(i), {})
        if before.get("by"):
            return
        met = {tuple(t) for t in before.get("met", [])}
        tests = {t for t in woven.reach[woven.place[i]] - met if woven.seconds[t] <= given.slowest}
        start = time.monotonic()
        by = noticed(woven, worker, i, tests, favourites[woven.mutants[i - 1]["file"]])
        if by in woven.seconds:
            favourites[woven.mutants[i - 1]["file"]][by] += 1
        entry = {"name": name(i), "by": by, "met": [] if by else sorted(tests),
                 "seconds": round(time.monotonic() - start, 2)}
        if by or tests or not before:
            file.write(json.dumps(entry) + "\n")
            file.flush()
        known[name(i)] = {**entry, "met": sorted(met | tests)}

    for _ in in_turns(one, chosen):
        pass
    reasons = dict(re.findall(r"^- `(.+?)`: (.+)$", (ROOT / SURVIVORS).read_text(), re.M))
    count = collections.defaultdict(collections.Counter)
    for i in chosen:
        entry = known[name(i)]
        count[module(i)]["caught" if entry["by"] else "missed" if entry["met"] else "not reached"] += 1
        if not entry["by"]:
            # A reason holds for all places of one name in one function: their lines move.
            reason = reasons.get(re.sub(r":\d+:\d+:", "", name(i), count=1), "NO REASON IS TOLD")
            print(f"{name(i)}: {'missed' if entry['met'] else 'not reached'}: {reason}")
    for which, of_it in sorted(count.items()):
        print(f"{which}: {dict(of_it)}, {of_it['caught'] / of_it.total():.1%}")
    total = sum(count.values(), collections.Counter())
    print(f"all: {dict(total)}, {total['caught'] / total.total():.1%}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
