"""Does a test notice when a number of data/ is wrong? Changes each number of the tables by 5 %, one at a
time, and runs the tests until one fails; reports the numbers that no test notices.

    python tests/reference/perturb_data.py --list                 # what would be changed
    python tests/reference/perturb_data.py --work DIR             # all, one to two hours on one core
    python tests/reference/perturb_data.py --only properties      # those of one file
    python tests/reference/perturb_data.py --places FILE          # those that FILE lists, as printed here

The tree is copied and built once, into DIR. The tables are embedded as text, so the text stands in the
executables, and there it is overwritten by the changed text, made as long as before by taking spaces.

Tests that compare with a copy of the program's own output do not count and are not run: the README's and the guide's
blocks and the validation table; nor do those named in COPIES, which repeat a number of the tables. What the
reader of tables itself refuses does not count either: bounds move outwards, a value that leaves its range opens
it, and when the table is refused the other direction is tried.
data/demo is invented and left out.
Needs Python 3.11 and cargo, nothing else.
"""
import argparse
import collections
import json
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
NUMBER = re.compile(r"(?<![\w.\"])-?\d+(?:\.\d+)?(?:e-?\d+)?(?![\w.])")
OWN_OUTPUT = ["documents::", "figures::", "trust::", "golden::table::"]
# Tests of how a number is read or shown, which repeat it without a source, a derivation or something that it
# does: something else must notice it too.
COPIES = ["plan::bake::tests::what_is_left_out_has_its_default", "cli::tables_tell_how_far_a_value_may_be_off",
          "bad::every_bad_case"]
# Many seconds each; they come last.
SLOW = ["plan::loads::tests::random_kitchens", "learn::kitchens", "plan::an_overfull_bake", "fuzz::",
        "cli_learn::a_parameter_at_its_limit", "cli_plan::a_plan_that_does_not_fit"]
# These read no table.
NO_DATA = ["nist::", "schema::", "embed::"]
# A range and other uncertainties are numbers too; text and format numbers are not.
NOT_DATA = {"format", "id", "title", "note", "observed", "source", "locus", "standing", "grade", "use",
            "law", "exact"}
SECONDS = 300


def numbers():
    """(file, line index, which number of the line, place in words) of every number."""
    for path in sorted((ROOT / "data").rglob("*.toml")):
        if "demo" in path.parts:
            continue
        section, in_text = "", False
        for i, line in enumerate(path.read_text().splitlines()):
            if in_text or line.count('"""') == 1:
                if line.count('"""') == 1:
                    in_text = not in_text
                continue
            if line.startswith("["):
                section = line.strip("[] ")
                continue
            if line.startswith("id = "):
                section = f"row {line[5:]}" if section.startswith("row") else section
            key, equals, rest = line.partition("=")
            key = key.strip()
            if not equals or key in NOT_DATA or '"' in line:
                continue
            for n, match in enumerate(NUMBER.finditer(rest)):
                yield path, i, n, f"{path.relative_to(ROOT)}:{i + 1} {section} {key} [{n}] {match[0]}"


def shortest(number):
    """The shortest text within a thousandth of the number."""
    for digits in range(1, 17):
        text = f"{number:.{digits}g}"
        if abs(float(text) - number) <= 1e-3 * abs(number):
            return text
    return repr(number)


def written(line, values):
    """The line with other numbers, without needless spaces."""
    key, _, rest = line.partition("=")
    texts = [t if float(t) == v else shortest(v) for t, v in zip(NUMBER.findall(rest), values)]
    return f"{key.rstrip()}=" + (f"[{','.join(texts)}]" if "[" in rest else texts[0])


def changed(text, i, n, share):
    """The table with one number changed, in a text as long as before, and what has to give way to it."""
    lines = text.splitlines()
    values = [float(t) for t in NUMBER.findall(lines[i].partition("=")[2])]
    values[n] += share * (abs(values[n]) or 1)
    if len(values) == 2 and values[0] > values[1]:
        values[1 - n] = values[n]
    lines[i] = written(lines[i], values)
    if lines[i].startswith("value=") and lines[i + 1].startswith("range"):
        low, high = (float(t) for t in NUMBER.findall(lines[i + 1].partition("=")[2]))
        lines[i + 1] = written(lines[i + 1], [min(low, values[0]), max(high, values[0])])
    # The spaces around other equals signs make room.
    for j in (*range(i + 1, len(lines)), *range(i)):
        if len("\n".join(lines)) + 1 <= len(text):
            break
        lines[j] = re.sub("^([a-z_]+) = ", r"\1=", lines[j])
    lines[i] += " " * (len(text) - len("\n".join(lines)) - 1)
    return "\n".join(lines) + "\n"


class Tree:
    """A copy of the sources, built once, whose executables are overwritten."""

    def __init__(self, folder, skipped, quick=False):
        self.skipped, self.quick = skipped, quick
        self.tree, self.target = folder / "tree", folder / "target"
        shutil.rmtree(self.tree, ignore_errors=True)
        shutil.copytree(ROOT, self.tree, ignore=shutil.ignore_patterns("target", ".git", "fuzz"))
        self.env = {**os.environ, "CARGO_TARGET_DIR": str(self.target), "CARGO_MANIFEST_DIR": str(self.tree),
                    "RUST_BACKTRACE": "0",
                    # Random cases are the same for every number, and none that failed is tried on the next.
                    "PROPTEST_RNG_SEED": "1", "PROPTEST_DISABLE_FAILURE_PERSISTENCE": "true"}
        self.env.pop("POINTAGE_BLESS", None)
        if not self.build():
            sys.exit("the tree does not build")

    def build(self, what=("--lib", "--test", "suite")):
        command = ["cargo", "test", "--offline", *what, "--no-run", "--message-format=json"]
        out = subprocess.run(command, cwd=self.tree, env=self.env, capture_output=True, text=True)
        if out.returncode:
            print(out.stderr[-2000:], file=sys.stderr)
            return False
        found = {}
        for message in map(json.loads, out.stdout.splitlines()):
            if message.get("executable"):
                found[message["target"]["kind"][0]] = pathlib.Path(message["executable"])
        self.lib = found["lib"]
        self.suite, self.program = found.get("test"), found.get("bin")
        return True

    def put(self, path, old, new):
        """Puts a changed table in the place of the one that is there."""
        (self.tree / path.relative_to(ROOT)).write_text(new)
        old, new = old.encode(), new.encode()
        if len(old) == len(new):
            where = [(exe, exe.read_bytes()) for exe in (self.lib, self.suite, self.program)]
            if all(old in content for _, content in where):
                for exe, content in where:
                    with exe.open("r+b") as file:
                        at = content.find(old)
                        while at >= 0:
                            file.seek(at)
                            file.write(new)
                            at = content.find(old, at + 1)
                return
        print(f"  {path.name}: built anew", flush=True)
        if not self.build():
            sys.exit("the tree does not build")

    def refused(self):
        return subprocess.run([self.program, "tables", "--json"], env=self.env, capture_output=True).returncode != 0

    def first_failure(self, exe, *arguments):
        """The first test that fails, or None; the run ends there."""
        process = subprocess.Popen([exe, "--test-threads", "2", *arguments], cwd=self.tree, env=self.env,
                                   stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        failed, ran = None, False
        for line in process.stdout:
            ran = ran or line.startswith("test result: ")
            if match := re.match(r"test (\S+) .*\.\.\. FAILED", line):
                failed = match[1]
                process.kill()
                break
        process.wait()
        return failed or (None if ran and process.returncode == 0 else f"{exe.name} did not end")

    def notices(self, favourites):
        """The kind and name of a test that fails, or None; those that noticed the last ones come first."""
        both = (("lib", self.lib), ("suite", self.suite))
        for kind, exe in both:
            names = [name for (k, name), _ in favourites.most_common(12) if k == kind]
            if names and (name := self.first_failure(exe, "--exact", *names)):
                return kind, name
        # The quick ones of both before the slow ones of either.
        skip = [word for name in self.skipped for word in ("--skip", name)]
        slow = [word for name in SLOW for word in ("--skip", name)]
        for arguments in [skip + slow] if self.quick else [skip + slow, SLOW + skip]:
            for kind, exe in both:
                if name := self.first_failure(exe, *arguments):
                    return kind, name
        return None


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    ask.add_argument("--sample", type=int, help="so many, drawn at random")
    ask.add_argument("--seed", type=int, default=0)
    ask.add_argument("--only", default="", help="part of a file's name")
    ask.add_argument("--places", type=pathlib.Path, help="a file with the numbers to change, a line each")
    ask.add_argument("--quick", action="store_true", help="without the slowest tests")
    ask.add_argument("--list", action="store_true")
    ask.add_argument("--work", type=pathlib.Path, help="folder of the copy and its build, kept for the next time")
    given = ask.parse_args()
    chosen = [n for n in numbers() if given.only in str(n[0])]
    if given.places:
        # Line numbers move when a table is edited; the rest of a place does not.
        words = {line.strip().partition(" ")[2] for line in given.places.read_text().splitlines()}
        chosen = [n for n in chosen if n[3].partition(" ")[2] in words]
    if given.list:
        print(*(n[3] for n in chosen), f"{len(chosen)} numbers", sep="\n")
        return 0
    if given.sample:
        chosen = random.Random(given.seed).sample(chosen, min(given.sample, len(chosen)))
    with tempfile.TemporaryDirectory() as folder:
        tree = Tree((given.work or pathlib.Path(folder)).resolve(), OWN_OUTPUT + COPIES + NO_DATA, given.quick)
        if failed := tree.notices(collections.Counter()):
            print(f"the tests must pass before a number is changed: {failed}")
            return 2
        favourites = collections.defaultdict(collections.Counter)
        unnoticed, refused = [], []
        for path, i, n, place in chosen:
            text = (tree.tree / path.relative_to(ROOT)).read_text()
            pair = "[" in text.splitlines()[i]
            for share in (-0.05, 0.05) if pair and n == 0 else (0.05, -0.05):
                new = changed(text, i, n, share)
                tree.put(path, text, new)
                if not tree.refused():
                    noticed = tree.notices(favourites[path])
                    break
                tree.put(path, new, text)
            else:
                refused.append(place)
                print(f"{place}: refused by the reader", flush=True)
                continue
            tree.put(path, new, text)
            if noticed:
                favourites[path][noticed] += 1
            else:
                unnoticed.append(place)
            print(f"{place}: {' '.join(noticed) if noticed else 'NOT NOTICED'}", flush=True)
    print(f"\n{len(chosen)} changed, {len(refused)} refused by the reader, {len(unnoticed)} not noticed",
          *unnoticed, sep="\n  ")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
