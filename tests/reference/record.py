#!/usr/bin/env python3
"""Records what a release answers: `tests/reference/record.py target/release/pointage 0.1.0` writes tests/recorded/0.1.0.jsonl.

Every later release must still answer each request with the keys it had (`envelope` in crates/api/tests/suite). A file is
made anew until its release is out, and never changed afterwards.
"""
import json, pathlib, subprocess, sys

program, version = sys.argv[1:]
sources = [pathlib.Path("tests") / name for name in ("requests.jsonl", "golden/requests.jsonl")]
requests = [line for source in sources for line in source.read_text("utf-8").splitlines()]
answers = subprocess.run([program, "call"], input="\n".join(requests) + "\n", capture_output=True, text=True, check=True)
answers = answers.stdout.splitlines()
assert len(answers) == len(requests)
with open(f"tests/recorded/{version}.jsonl", "w", encoding="utf-8") as out:
    for request, answer in zip(requests, answers):
        asked = json.dumps(json.loads(request), separators=(",", ":"), ensure_ascii=False)
        out.write(f'{{"request":{asked},"answer":{answer}}}\n')
print(f"{len(answers)} answers")
