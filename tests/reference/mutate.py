"""Does a test notice when a line of the library is wrong? Makes one small fault at a time, as cargo-mutants
lists them, and runs the tests until one fails; reports for each module how many were caught, and the rest.

    python tests/reference/mutate.py --sample 10 --seed 1 rate ferment heat formula plan learn units

Draws so many faults of each module: all of them take days. Unit tests are built and run first, the suite
only when they notice nothing. As in perturb_data.py, copies of the program's own output do not count.
Needs Python 3.11, cargo and cargo-mutants, nothing else.
"""
import argparse
import json
import pathlib
import random
import subprocess
import sys
import tempfile

import perturb_data


def mutants(tree, module):
    """What cargo-mutants would change in a room: `rate.rs` and all of `rate/`."""
    files = [word for name in (f"src/{module}.rs", f"src/{module}/**") for word in ("--file", name)]
    command = ["cargo", "mutants", "--list", "--json", "--diff", "--dir", str(tree), *files]
    out = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return [m for m in json.loads(out) if not m["file"].endswith("tests.rs")]


class Tree(perturb_data.Tree):
    def noticed_by(self, mutant):
        """The first test that fails, `does not build`, or None."""
        subprocess.run(["patch", "-p0", "--quiet"], input=mutant["diff"], cwd=self.tree, text=True, check=True)
        try:
            if not self.build(("--lib",)):
                return "does not build"
            if name := self.failure(self.lib):
                return name
            if not self.build():
                return "does not build"
            return self.failure(self.suite)
        finally:
            subprocess.run(["patch", "-p0", "-R", "--quiet"], input=mutant["diff"], cwd=self.tree, text=True,
                           check=True)


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    ask.add_argument("modules", nargs="+")
    ask.add_argument("--sample", type=int, default=10)
    ask.add_argument("--seed", type=int, default=0)
    ask.add_argument("--only", default="", help="part of a fault's name")
    ask.add_argument("--work", type=pathlib.Path, help="folder of the copy and its build, kept for the next time")
    given = ask.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tree = Tree((given.work or pathlib.Path(folder)).resolve(), perturb_data.OWN_OUTPUT)
        drawn = []
        for module in given.modules:
            all_of_it = [m for m in mutants(tree.tree, module) if given.only in m["name"]]
            sample = random.Random(given.seed).sample(all_of_it, min(given.sample, len(all_of_it)))
            print(f"{module}: {len(all_of_it)} faults, {len(sample)} drawn", flush=True)
            drawn.append((module, sample))
        count = {module: [0, 0, 0] for module, _ in drawn}
        # In turns, so that a run that is cut short has looked into every module.
        for turn in range(given.sample):
            for module, sample in drawn:
                if turn < len(sample):
                    by = tree.noticed_by(sample[turn])
                    count[module][2 if by == "does not build" else 0 if by else 1] += 1
                    print(f"{sample[turn]['name']}: {by or 'MISSED'}", flush=True)
        for module, (caught, missed, broken) in count.items():
            print(f"{module}: {caught} caught, {missed} missed, {broken} do not build")
    return 0


if __name__ == "__main__":
    sys.exit(main())
