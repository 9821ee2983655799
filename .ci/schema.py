#!/usr/bin/env python3
"""Holds the recorded requests and answers against data/schema with PyPI's `jsonschema`, and the schemas against their own."""
import json, pathlib, sys
from jsonschema import Draft202012Validator

schemas = {name: json.loads(pathlib.Path(f"data/schema/{name}.json").read_text("utf-8")) for name in ("request", "answer")}
for schema in schemas.values():
    Draft202012Validator.check_schema(schema)
validators = {name: Draft202012Validator(schema) for name, schema in schemas.items()}
count, faults = 0, []
for path in sorted(pathlib.Path("tests/recorded").glob("*.jsonl")):
    for line in path.read_text("utf-8").splitlines():
        pair = json.loads(line)
        # A refused request need not meet the schema.
        sides = ["answer"] if "error" in pair["answer"] else ["request", "answer"]
        for side in sides:
            count += 1
            faults += [f"{path.name}: {side}: {error.message[:200]}" for error in validators[side].iter_errors(pair[side])]
print("\n".join(faults) or f"{count} requests and answers meet the schema")
sys.exit(bool(faults))
