"""Writes python/pointage/_questions.py from data/schema: a function a command, and the types of its answer.

The build of the package does so (`build_backend.py`); run it by hand for an editor that is to know the types.
"""

import json
import textwrap
from pathlib import Path

HERE = Path(__file__).resolve().parent
SCHEMA = HERE.parents[1] / "data" / "schema"
TARGET = HERE / "python" / "pointage" / "_questions.py"

# What may be given without its name, besides what is needed.
FIRST = ["kind", "dose_percent", "for_h", "bake", "log_csv", "measured", "vary", "id"]

# What only a request as text needs; a bake is one parameter, whichever form it has.
ENVELOPE = ["command", "version", "request_id", "bake_toml"]

HEAD = '''"""Questions and answers. Made from data/schema by questions.py: change nothing here."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from os import PathLike
from typing import TYPE_CHECKING, Any, Literal, NotRequired, TypeAlias, TypedDict, TypeVar, cast, overload

from ._pointage import ask as _ask

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[Any]
    Numbers: TypeAlias = NDArray[numpy.float64]
    Errors: TypeAlias = NDArray[numpy.object_]

_Function = TypeVar("_Function")


def _question(command: str, *names: str) -> Callable[[_Function], _Function]:
    """Lets a function ask: it is written with its documentation and its types alone."""

    def asking(written: _Function) -> _Function:
        @wraps(cast(Callable[..., Any], written))
        def ask(*args: Any, **fields: Any) -> Any:
            return _ask(command, fields, names, args)

        return cast(_Function, ask)

    return asking
'''


def typed(schema: dict) -> str:
    """The type of a value in Python."""
    if "$ref" in schema:
        return schema["$ref"].rpartition("/")[2]
    if "const" in schema:
        return f"Literal[{schema['const']!r}]"
    if alternatives := schema.get("oneOf") or schema.get("anyOf"):
        types = [typed(one) for one in alternatives]
        if all(one.startswith("Literal") for one in types):
            return f"Literal[{', '.join(one[8:-1] for one in types)}]"
        return " | ".join(dict.fromkeys(types))
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    return " | ".join(dict.fromkeys(of_kind(kind, schema) for kind in kinds)) or "Any"


def of_kind(kind: str, schema: dict) -> str:
    if kind == "array":
        if "prefixItems" in schema:
            return f"tuple[{', '.join(typed(one) for one in schema['prefixItems'])}]"
        return f"Sequence[{typed(schema['items'])}]"
    if kind == "object":
        values = schema.get("additionalProperties")
        return f"Mapping[str, {typed(values)}]" if values else "Mapping[str, Any]"
    return {"number": "float", "string": "str", "integer": "int", "boolean": "bool", "null": "None"}[kind]


def quoted(text: str, indent: str) -> str:
    """A docstring."""
    text = text.replace("\\", "\\\\").replace('"""', "'''")
    lines = textwrap.indent(text, indent).strip()
    return f'{indent}"""{lines}{chr(10) + indent if chr(10) in lines else ""}"""\n'


def wrapped(text: str, indent: str = "") -> str:
    text = text.split("\n\n```")[0]
    paragraphs = [" ".join(part.split()) for part in text.split("\n\n")]
    lines = [textwrap.fill(part, 100, initial_indent=indent, subsequent_indent=indent) for part in paragraphs]
    return "\n\n".join(lines)


def definition(name: str, schema: dict) -> str:
    """A type of an answer: a dict with its keys, or an alias."""
    about = schema.get("description", "")
    if "properties" not in schema:
        alias = typed(schema)
        if any(not one.startswith(("Literal", "str", "float", "Sequence")) for one in alias.split(" | ")):
            alias = "Mapping[str, Any]"
        return f"{name}: TypeAlias = {alias}\n" + quoted(wrapped(about), "")
    body = f"class {name}(TypedDict):\n" + quoted(wrapped(about), "    ")
    for key, value in schema["properties"].items():
        of = typed(value)
        of = of if key in schema.get("required", []) else f"NotRequired[{of}]"
        body += f"\n    {key}: {of}\n"
        if "description" in value:
            body += quoted(wrapped(value["description"]), "    ")
    return body


def function(schema: dict, answer: str) -> str:
    command = schema["title"]
    name = command.replace("-", "_")
    properties = {k: v for k, v in schema["properties"].items() if k not in ENVELOPE}
    needed = [key for key in schema["required"] if key in properties]
    first = needed + [key for key in FIRST if key in properties]
    keys = first + [key for key in properties if key not in first]
    if "bake" in properties:
        properties["bake"] = {"description": "The bake: a dict with the keys of a bake file, its text, or its path"}
        needed += ["bake"]

    def parameter(key: str, arrays: bool) -> str:
        of = "Mapping[str, Any] | str" if key == "bake" else typed(properties[key])
        if key == "bake" or key.endswith(("_csv", "_toml")):
            of += " | PathLike[str]"
        if arrays and "Sequence" not in of and "Mapping" not in of:
            of += " | Array"
        return f"{key}: {of}" + ("" if key in needed else " = None" if "None" in of else " | None = None")

    def signature(arrays: bool) -> str:
        given = [parameter(key, arrays) for key in first] + ["*"] * (len(keys) > len(first))
        given += [parameter(key, arrays) for key in keys[len(first) :]]
        return "".join(f"\n    {one}," for one in given) + "\n"

    columns = f"{answer.removesuffix('Answer')}Columns"
    numbers = schema.get("x-columns")
    text = ""
    if numbers:
        fields = "".join(f"    {key}: Numbers\n" for key in numbers)
        about = f"Answers of `{name}` to arrays: NaN where there is no number, and the errors, None where there is none."
        text += f"class {columns}(TypedDict):\n" + quoted(wrapped(about), "    ") + fields + "    error: Errors\n\n\n"
        text += f"@overload\ndef {name}({signature(False)}) -> {answer}: ...\n"
        text += f"@overload\ndef {name}({signature(True)}) -> {columns}: ...\n"
    about = wrapped(schema["description"]) + "\n\nParameters\n----------\n"
    for key in keys:
        of = properties[key]
        optional = "" if key in needed else ", optional"
        kind = "dict, str or path" if key == "bake" else typed(of).replace(" | None", "")
        about += f"{key} : {kind}{optional}\n{wrapped(of.get('description', ''), '    ')}\n"
    many = f"; with arrays among the parameters {columns}, whose values are arrays" if numbers else ""
    about += f"\nReturns\n-------\n{answer}\n    A dict{many}.\n"
    about += "\nRaises\n------\nPointageError\n    What cannot be answered, with `code` and `field`.\n"
    text += f"@_question({', '.join(map(repr, [command, *first]))})\n"
    text += f"def {name}({signature(bool(numbers))}) -> {'Any' if numbers else answer}:\n" + quoted(about, "    ")
    return text + "    raise NotImplementedError\n"


def written() -> str:
    """The module."""
    requests = json.loads((SCHEMA / "request.json").read_text("utf-8"))
    answers = json.loads((SCHEMA / "answer.json").read_text("utf-8"))
    names = [one["$ref"].rpartition("/")[2] for one in answers["anyOf"]]
    types = {**requests["$defs"], **answers["$defs"]}
    types = {name: of for name, of in types.items() if name not in ("Bake", "Refusal", "Wrong")}
    parts = [definition(name, of) for name, of in sorted(types.items())]
    commands = list(zip(requests["oneOf"], names))
    parts += [function(schema, answer) for schema, answer in commands]
    public = sorted([*types, *(schema["title"].replace("-", "_") for schema, _ in commands)])
    public += [f"{answer.removesuffix('Answer')}Columns" for schema, answer in commands if "x-columns" in schema]
    return "\n\n".join([HEAD + "\n\n__all__ = [\n" + "".join(f'    "{one}",\n' for one in sorted(public)) + "]\n", *parts])


if __name__ == "__main__":
    TARGET.write_text(written(), "utf-8")
