"""Holds a reference file of this folder against what a script works out anew. Used by the scripts beside it."""
import argparse
import json
import pathlib

HERE = pathlib.Path(__file__).parent


def leaves(value, path=""):
    """Every number and word of a document with its path."""
    if isinstance(value, (dict, list)):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, part in pairs:
            yield from leaves(part, f"{path}/{key}")
    else:
        yield path, value


def number(value):
    """A number, also one written as text to keep its digits; None for a word."""
    try:
        return None if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        return None


def compare(kept, anew, tolerance, unchecked):
    """Faults and the largest difference, as a share of the value or, below 1, as it is."""
    kept = {p: v for p, v in leaves(kept) if not set(p.split("/")) & set(unchecked)}
    anew = dict(leaves(anew))
    anew = {p: v for p, v in anew.items() if not set(p.split("/")) & set(unchecked)}
    faults = [f"{p} is in one of the two only" for p in sorted(kept.keys() ^ anew.keys())]
    largest, compared = (0.0, ""), 0
    for path in kept.keys() & anew.keys():
        a, b = number(kept[path]), number(anew[path])
        if a is None or b is None or a != a or b != b:  # words, and numbers that are none
            if str(kept[path]).lower() != str(anew[path]).lower():
                faults.append(f"{path}: {kept[path]!r}, anew {anew[path]!r}")
            continue
        compared += 1
        difference = abs(a - b) / max(1.0, abs(b))
        largest = max(largest, (difference, path))
        if difference > tolerance:
            faults.append(f"{path}: {a!r}, anew {b!r}, {difference:.1e} apart")
    return faults, largest, compared


def run(file, anew, tolerance, unchecked, about):
    """Command line of a script: `anew` makes the document from the inputs of the committed one; keys of
    `unchecked` tell how the committed file was made, and are neither compared nor written."""
    parser = argparse.ArgumentParser(description=about, formatter_class=argparse.RawDescriptionHelpFormatter)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--check", action="store_true", help=f"compare with {file}; exit code 1 when it differs")
    what.add_argument("--write", metavar="FILE", help="write the document anew to FILE")
    asked = parser.parse_args()
    kept = json.loads((HERE / file).read_text())
    made = anew(kept)
    if asked.write:
        pathlib.Path(asked.write).write_text(json.dumps(made, indent=1, ensure_ascii=False) + "\n")
        return 0
    faults, (difference, path), compared = compare(kept, made, tolerance, unchecked)
    print(*faults, sep="\n", end="\n" if faults else "")
    print(f"{file}: {compared} numbers, inputs among them; largest difference {difference:.1e} ({path}), allowed {tolerance:.0e}")
    return 1 if faults or not compared else 0
