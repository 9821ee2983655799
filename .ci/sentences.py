#!/usr/bin/env python3
"""Shows that text for people is made in one place and read by no code.

1. In `src/` a string literal that reads like a sentence stands only where an error is made, in documentation or in a test.
2. No code of the workspace looks into such text: no comparison with, search for, or match on a literal of several words,
   and `Message` (crates/api) hands its text to nobody but `Display` and `Serialize`.
Ends with 1 and names each place otherwise.
"""
import pathlib, re, sys

ERRORS = {  # calls whose arguments are the words of an error
    "error", "malformed", "contradiction", "unreachable", "text", "unknown_name", "cells", "check", "at", "out_of_range",
    "required", "refuse", "custom", "wrong_type", "Contradiction", "Malformed", "Unreachable", "Text", "OutOfRange", "NotFinite",
    "UnknownName", "TooFew", "LeftOut", "NoConvergence", "expecting", "invalid_type", "missing_field",
}
READS = re.compile(r"\.(contains|starts_with|ends_with|find|rfind|split|split_once|rsplit_once|strip_prefix|strip_suffix|replace|matches)\($|(==|!=)$")
# Readers of files and values: every text in them is the wording of an error or the meaning of a key.
READERS = {"src/plan/bake/keys.rs", "src/plan/bake/read.rs", "src/plan/bake/value.rs", "src/rows.rs", "src/toml_text.rs", "src/table/read.rs", "src/units.rs", "src/error.rs"}
# Parts of an error that are chosen before it is made: its reason or its remedy.
PARTS = ("{which} temperature of the place", "% of flour, as fresh", "make it smaller, or of another flour", "raise the ", "cool the flour, chill",
         "the yeast carried in by", "shorten bulk_h", "even {MOST} %", "add out_min = 30", "hours = {} lasts", "the second reading must", "the dough has changed by", "between the readings the dough",
         "the rise of a proof teaches", "the stages of a day count", "this bake has no preferment; leave")
# A fragment such as "heat capacity of fat" names what an error is about; a sentence has a capital, a stop or a clause.
SENTENCE = re.compile(r'^r?#*"[A-Z{]|[.!?]"?#*$|[;:,] [a-z]| (is|are|was|were|has|have|must|cannot|would|does|take|takes|give|gives|use) ')
WORDS = re.compile(r"[A-Za-z]{2,}[,;:]? +[a-z]{2,}[,;:]? +[a-z]{2,}")


def literals(text):
    """(line, literal, what stands before it, the calls it stands in) outside comments, attributes of documentation and tests."""
    calls, before, line, i = [], "", 1, 0
    skip_depth, depth, pending_test = None, 0, False
    while i < len(text):
        c = text[i]
        if text.startswith("//", i):
            i = text.find("\n", i) if "\n" in text[i:] else len(text)
            continue
        raw = re.match(r'r(#*)"', text[i : i + 8]) if not (i and (text[i - 1].isalnum() or text[i - 1] == "_")) else None
        if raw or c == '"':
            j = i
            if raw:
                j = text.find('"' + raw[1], i + raw.end()) + 1 + len(raw[1])
            else:
                j = i + 1
                while text[j] != '"':
                    j += 2 if text[j] == "\\" else 1
                j += 1
            if skip_depth is None:
                yield line, text[i:j], before[-60:], [name for name, _ in calls]
            line += text.count("\n", i, j)
            before += '"'
            i = j
            continue
        char = re.match(r"'(\\.[^']*|[^'\\])'", text[i : i + 14])
        if char:
            i += char.end()
            continue
        if text.startswith("#[cfg(test)]", i) or text.startswith("#[cfg(all(test", i):
            pending_test = True
        if c in "([{":
            name = re.search(r"([A-Za-z_]+)!?\s*$", before)
            calls.append((name[1] if name else "", c))
            if c == "{":
                depth += 1
                if pending_test and skip_depth is None:
                    skip_depth, pending_test = depth, False
        elif c in ")]}":
            if calls:
                calls.pop()
            if c == "}":
                if skip_depth == depth:
                    skip_depth = None
                depth -= 1
        elif c == ";" and pending_test:
            pending_test = False
        if c == "\n":
            line += 1
        before = (before + c)[-200:] if not c.isspace() else before + ("" if before.endswith(" ") else " ")
        i += 1


found = []
for path in sorted([*pathlib.Path("src").rglob("*.rs"), *pathlib.Path("crates").rglob("src/**/*.rs")]):
    if path.name.endswith("tests.rs") or "tests" in path.parts:
        continue
    for line, literal, before, calls in literals(path.read_text(encoding="utf8")):
        if not WORDS.search(literal):
            continue
        if path.parts[0] == "src" and path.as_posix() not in READERS and SENTENCE.search(literal) and not literal[1:].startswith(PARTS) and not ERRORS & set(calls):
            found.append(f"{path}:{line}: a sentence: {literal[:80]}")
        if READS.search(before.rstrip().removesuffix("&").rstrip()):
            found.append(f"{path}:{line}: code reads text: {before[-25:]}{literal[:60]}")
for path in pathlib.Path("crates").rglob("src/**/*.rs"):
    for line, text in enumerate(path.read_text(encoding="utf8").splitlines(), 1):
        if re.search(r"impl.*\b(Deref|AsRef<str>|Borrow<str>|PartialEq<(&?str|String)>|From<Message>)\b.* for (Message|String)\b", text):
            found.append(f"{path}:{line}: a message that code can read: {text.strip()}")
print("\n".join(found) or "text is made at the edge, and no code reads it")
print(f"{len(found)} places")
sys.exit(bool(found))
