#!/usr/bin/env python3
"""Counts the public types, functions and methods of the library, from rustdoc's JSON; hidden ones count, fields, variants and derived traits do not.

    .ci/public_items.py [--most 300] [--list]        with the feature `learn`

Ends with 1 when there are more than `--most`.
"""
import argparse, collections, json, os, pathlib, subprocess, sys

parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
parser.add_argument("--most", type=int, default=300)
parser.add_argument("--list", action="store_true", help="print every item")
args = parser.parse_args()
subprocess.run(
    ["cargo", "rustdoc", "--quiet", "--locked", "-p", "pointage", "--lib", "--no-default-features", "--features", "learn", "--",
     "-Zunstable-options", "--output-format", "json", "--document-hidden-items", "--cap-lints", "allow"],
    env={**os.environ, "RUSTC_BOOTSTRAP": "1"}, check=True)
target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", "target"))
doc = json.loads((target / "doc/pointage.json").read_text(encoding="utf8"))
index, counted, seen = doc["index"], collections.Counter(), set()


def visit(identity, path):
    item = index.get(str(identity))
    if item is None or (identity, path) in seen:
        return
    seen.add((identity, path))
    (kind, inner), = item["inner"].items()
    name = f"{path}::{item['name']}" if item["name"] else path
    if kind == "module":
        for below in inner["items"]:
            visit(below, name)
    elif kind == "use":
        if inner["id"] is not None:
            target = index.get(str(inner["id"]))
            # A module's own items stand where they are re-exported; others are counted once, wherever they are named.
            visit(inner["id"], path) if target and (("module" not in target["inner"]) or inner["is_glob"]) else visit(inner["id"], path)
    elif kind in ("struct", "enum", "union", "trait", "type_alias", "function", "macro"):
        if identity in counted_ids:
            return
        counted_ids.add(identity)
        counted[kind] += 1
        listed.append(f"{kind:<10} {name}")
        for block in inner.get("impls", []) if isinstance(inner, dict) else []:
            implementation = index.get(str(block), {}).get("inner", {}).get("impl")
            if implementation and implementation["trait"] is None:
                for below in implementation["items"]:
                    method = index.get(str(below))
                    if method and "function" in method["inner"] and method["visibility"] == "public":
                        counted["method"] += 1
                        listed.append(f"method     {name}::{method['name']}")
        if kind == "trait":
            for below in inner["items"]:
                if "function" in index[str(below)]["inner"]:
                    counted["method"] += 1
                    listed.append(f"method     {name}::{index[str(below)]['name']}")


counted_ids, listed = set(), []
visit(doc["root"], "")
if args.list:
    print("\n".join(sorted(listed, key=lambda line: line.split()[1])))
total = sum(counted.values())
print(f"{total} public types, functions and methods (at most {args.most}): " + ", ".join(f"{n} of kind {kind}" for kind, n in counted.most_common()))
sys.exit(total > args.most)
