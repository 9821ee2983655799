"""Pointage for Python: dough fermentation timed by temperature, over the C functions of the library.

One file and no build step beyond the shared library:

    cargo rustc -p pointage-api --release --lib --features capi --crate-type cdylib

It is looked for in the environment variable POINTAGE_LIBRARY, beside this file, in target/release of the
repository around it, and where the system keeps its libraries.

Each function is a command of the program and takes its flags as keywords that carry their unit
(dough_c, flour_mass_g, for_h); the answer is a dict with the keys that --json prints. What cannot be
answered raises PointageError. The keywords are told by data/schema/request.json, and a mistyped one by
the error.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import json
import os
import sys
from pathlib import Path
from typing import Any, Iterator, Mapping, Sequence

Answer = dict[str, Any]
Course = Sequence[Sequence[float]]
"""A room as pairs of hour and °C, straight lines between them."""

VERSION = 1
"""Version of the form of requests and answers."""


class PointageError(ValueError):
    """What cannot be answered: `kind` for programs, the message for people, `field` the key at fault."""

    def __init__(self, kind: str, message: str, field: str | None) -> None:
        super().__init__(message)
        self.kind = kind
        self.field = field


def _candidates() -> Iterator[str]:
    if named := os.environ.get("POINTAGE_LIBRARY"):
        yield named
        return
    name = {"darwin": "libpointage_api.dylib", "win32": "pointage_api.dll"}.get(sys.platform, "libpointage_api.so")
    here = Path(__file__).resolve().parent
    for folder in [here, *(above / "target" / "release" for above in here.parents)]:
        if (folder / name).exists():
            yield str(folder / name)
    if installed := ctypes.util.find_library("pointage_api"):
        yield installed


def _load() -> ctypes.CDLL:
    path = next(_candidates(), None)
    if path is None:
        raise ImportError(
            "the shared library of pointage is not found; build it in its repository with\n"
            "  cargo rustc -p pointage-api --release --lib --features capi --crate-type cdylib\n"
            "or name it in the environment variable POINTAGE_LIBRARY"
        )
    library = ctypes.CDLL(path)
    library.pointage_call.argtypes = [ctypes.c_char_p]
    # Not c_char_p: that would be turned into bytes, and the pointer to free be lost.
    library.pointage_call.restype = ctypes.c_void_p
    library.pointage_free.argtypes = [ctypes.c_void_p]
    library.pointage_free.restype = None
    library.pointage_version.argtypes = []
    library.pointage_version.restype = ctypes.c_char_p
    return library


_library = _load()


def version() -> str:
    """The version of the library."""
    text: bytes = _library.pointage_version()
    return text.decode()


def call_text(request: str) -> str:
    """Answers a request that is JSON text, as JSON text. Never raises for what is in the request."""
    # A zero byte would end the text early in C; in JSON it is refused anyway, as here.
    pointer = _library.pointage_call(request.replace("\0", "\ufffd").encode("utf-8", "replace"))
    try:
        return ctypes.string_at(pointer).decode()
    finally:
        _library.pointage_free(pointer)


def call(command: str, fields: Mapping[str, Any] | None = None, /, **more: Any) -> Answer:
    """Answers a command; its fields are a dict, or keywords, or both."""
    request = {"version": VERSION, "command": command, **(fields or {}), **more}
    answer: Answer = json.loads(call_text(json.dumps(request)))
    if error := answer.get("error"):
        raise PointageError(error["kind"], error["message"], error["field"])
    return answer


def water(**fields: float | None) -> Answer:
    """What water: dough_c, flour_c, room_c, and friction_factor_c or flour_mass_g and water_mass_g, ..."""
    return call("water", fields)


def ice(total_g: float, tap_c: float, want_c: float, ice_c: float = 0.0) -> Answer:
    """How much of a pour is ice."""
    return call("ice", total_g=total_g, tap_c=tap_c, want_c=want_c, ice_c=ice_c)


def friction(**fields: float | None) -> Answer:
    """How warm a mix made the dough: dough_c, flour_c, room_c, water_c, or dough_c and base_c."""
    return call("friction", fields)


def dose(kind: str, for_h: float, **fields: Any) -> Answer:
    """How much yeast, so that it is ripe after for_h: at_c, or mixed_at_c with room_c or room_course, ..."""
    return call("dose", fields, kind=kind, for_h=for_h)


def ready(kind: str, dose_percent: float, **fields: Any) -> Answer:
    """When it is ripe: at_c, or mixed_at_c with room_c or room_course, yeast, flour_mass_g, ..."""
    return call("ready", fields, kind=kind, dose_percent=dose_percent)


def scale(
    bake: Mapping[str, Any] | str, *, pieces: int | None = None, piece_g: float | None = None
) -> Answer:
    """How much of everything. The bake is a dict with the keys of a bake file, or the text of one."""
    return call("scale", _bake(bake), pieces=pieces, piece_g=piece_g)


def plan(
    bake: Mapping[str, Any] | str,
    *,
    first_out: str | None = None,
    last_out: str | None = None,
    start_at: str | None = None,
    mix_at: str | None = None,
    date: str | None = None,
    utc_offset: str | None = None,
    rooms: Mapping[str, Course] | None = None,
    params_toml: str | None = None,
) -> Answer:
    """When to do what, with one hour fixed ("07:30"). The bake is a dict, or the text of a bake file.

    With date ("2026-11-28") and utc_offset ("+01:00") times are RFC 3339; without, hours since midnight
    of that day. Records of rooms that the bake names are given in rooms. params_toml is the answer of
    learn under that key, or the text of a file of own numbers.
    """
    fixed = {"first_out": first_out, "last_out": last_out, "start_at": start_at, "mix_at": mix_at}
    when = {"date": date, "utc_offset": utc_offset, "rooms": rooms, "params_toml": params_toml}
    return call("plan", _bake(bake), **fixed, **when)


def adjust(bake: Mapping[str, Any] | str, measured: str | Sequence[str], **question: Any) -> Answer:
    """What a measurement means for the rest: "mix 27.4C 04:52", ...; the other keywords as in plan."""
    readings = [measured] if isinstance(measured, str) else list(measured)
    return call("adjust", _bake(bake), measured=readings, **question)


def compare(bake: Mapping[str, Any] | str, vary: str, **question: Any) -> Answer:
    """How a plan moves with a condition: vary="room=18..26..2"; the other keywords as in plan."""
    return call("compare", _bake(bake), vary=vary, **question)


def learn(log: str | Sequence[Mapping[str, Any]], **options: Any) -> Answer:
    """What a log teaches. It is CSV text, or rows as dicts (kind, flour_g, water_g, yeast, yeast_g, ...).

    The numbers learned are the answer's params_toml, to be given to dose, ready, plan, adjust and compare.
    """
    return call("learn", {"log_csv" if isinstance(log, str) else "rows": log}, **options)


def fit_rate(data_csv: str, law: str, transform: str | None = None) -> Answer:
    """A temperature law through measured speeds: CSV text with temperature_c and rate."""
    return call("fit-rate", data_csv=data_csv, law=law, transform=transform)


def tables(id: str | None = None) -> Answer:
    """Where the numbers come from: one table, or all."""
    return call("tables", id=id)


def _bake(bake: Mapping[str, Any] | str) -> dict[str, Any]:
    return {"bake_toml": bake} if isinstance(bake, str) else {"bake": bake}


if __name__ == "__main__":
    # As the program's own command `call`: requests in, answers out, one a line.
    for line in sys.stdin:
        print(call_text(line), flush=True)
