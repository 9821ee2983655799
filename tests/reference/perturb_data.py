"""Does a test notice when a number of data/ is wrong? Changes each number of the tables by 5 %, one at a
time, in a copy of the tree, and runs the tests there; reports the numbers that no test notices.

    python tests/reference/perturb_data.py --list                 # what would be changed
    python tests/reference/perturb_data.py --sample 10 --seed 1   # ten of them, about a minute each
    python tests/reference/perturb_data.py --only properties      # those of one file

Tests that compare with a copy of the program's own output do not count and are not run: the README's
blocks and the validation table. When a value leaves its own printed range, the range is opened as far as
needed, so that the check of the table alone is not what notices. data/demo is invented and left out.
Needs Python 3.11 and cargo, nothing else.
"""
import argparse
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
OWN_OUTPUT = ["readme::", "golden::table::"]
# A range and other uncertainties are numbers too; text and format numbers are not.
NOT_DATA = {"format", "id", "title", "note", "observed", "source", "locus", "standing", "grade", "use",
            "law", "exact"}


def numbers():
    """(file, line index, span in the line, place in words) of every number."""
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
            key, equals, _ = line.partition("=")
            key = key.strip()
            if not equals or key in NOT_DATA or '"' in line:
                continue
            for match in NUMBER.finditer(line, line.index("=")):
                yield path, i, match.span(), f"{path.relative_to(ROOT)}:{i + 1} {section} {key} {match[0]}"


def changed(text, i, span):
    lines = text.splitlines(keepends=True)
    line = lines[i]
    old = float(line[span[0] : span[1]])
    new = old * 1.05 if old else 0.05
    written = repr(round(new)) if line[span[0] : span[1]].isdigit() else repr(new)
    if float(written) == old:
        written = repr(new)
    lines[i] = line[: span[0]] + written + line[span[1] :]
    if line.startswith("value") and i + 1 < len(lines) and lines[i + 1].startswith("range"):
        low, high = map(float, NUMBER.findall(lines[i + 1])[:2])
        if not low <= new <= high:
            lines[i + 1] = f"range = [{min(low, new)!r}, {max(high, new)!r}]\n"
    return "".join(lines)


def run(tree, target):
    """The tests that fail, or None when the tree does not build; an empty list when none does."""
    command = ["cargo", "test", "--offline", "--lib", "--test", "suite", "--no-fail-fast", "--"]
    for name in OWN_OUTPUT:
        command += ["--skip", name]
    env = {**os.environ, "CARGO_TARGET_DIR": str(target), "RUST_BACKTRACE": "0"}
    env.pop("POINTAGE_BLESS", None)
    out = subprocess.run(command, cwd=tree, env=env, capture_output=True, text=True)
    failed = re.findall(r"^test (\S+) \.\.\. FAILED", out.stdout, re.M)
    if out.returncode and not failed:
        print(out.stderr[-2000:], file=sys.stderr)
        return None
    return failed


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    ask.add_argument("--sample", type=int, help="so many, drawn at random")
    ask.add_argument("--seed", type=int, default=0)
    ask.add_argument("--only", default="", help="part of a file's name")
    ask.add_argument("--list", action="store_true")
    ask.add_argument("--target", help="folder of the builds, kept for the next time")
    given = ask.parse_args()
    all_numbers = [n for n in numbers() if given.only in str(n[0])]
    if given.list:
        print(*(n[3] for n in all_numbers), f"{len(all_numbers)} numbers", sep="\n")
        return 0
    if given.sample:
        all_numbers = random.Random(given.seed).sample(all_numbers, min(given.sample, len(all_numbers)))
    with tempfile.TemporaryDirectory() as folder:
        tree = pathlib.Path(folder) / "tree"
        ignore = shutil.ignore_patterns("target", ".git")
        shutil.copytree(ROOT, tree, ignore=ignore)
        target = given.target or pathlib.Path(folder) / "target"
        if run(tree, target) != []:
            print("the tests must pass before a number is changed")
            return 2
        unnoticed = []
        for path, i, span, place in all_numbers:
            copy = tree / path.relative_to(ROOT)
            text = path.read_text()
            copy.write_text(changed(text, i, span))
            failed = run(tree, target)
            copy.write_text(text)
            if failed == []:
                unnoticed.append(place)
            noticed = "does not build" if failed is None else ", ".join(failed[:4]) or "NOT NOTICED"
            print(f"{place}: {noticed}", flush=True)
    print(f"\n{len(all_numbers)} changed, {len(unnoticed)} not noticed", *unnoticed, sep="\n  ")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
