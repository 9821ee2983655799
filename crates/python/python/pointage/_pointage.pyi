from collections.abc import Mapping, Sequence
from typing import Any, Protocol

import numpy
from numpy.typing import NDArray

__all__ = ["PointageError", "__version__", "answer", "ask", "call", "numbers", "rows"]

__version__: str

class PointageError(ValueError):
    """What cannot be answered: a message for people, `code` for programs, `field` the key at fault."""

    code: str
    field: str | None

class _Stream(Protocol):
    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object: ...

class _Array(Protocol):
    def __arrow_c_array__(self, requested_schema: object | None = None) -> tuple[object, object]: ...

class _Table(Protocol):
    """A table with the Arrow C data interface."""

    column_names: list[str]
    num_rows: int
    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object: ...

def ask(command: str, fields: dict[str, Any]) -> Any: ...
def call(request: str) -> str: ...
def numbers(command: str) -> list[str]: ...
def answer(
    command: str,
    table: _Stream | _Array,
    *,
    keep: Sequence[str] = ...,
    params_toml: str | None = None,
    parallel: bool = True,
) -> _Table: ...
def rows(
    command: str,
    arrays: Sequence[tuple[str, NDArray[numpy.float64] | list[str | None]]],
    same: Mapping[str, Any],
    rows: int,
) -> tuple[list[tuple[str, NDArray[numpy.float64]]], list[tuple[int, str, str | None, str]]]: ...
