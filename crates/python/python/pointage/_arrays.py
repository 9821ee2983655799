"""Questions with arrays of NumPy among their fields."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from ._pointage import PointageError, rows


def columns(command: str, fields: Mapping[str, Any]) -> dict[str, Any]:
    """Arrays are broadcast; the answer has their shape."""
    arrays = {key: np.asarray(value) for key, value in fields.items() if getattr(value, "shape", ())}
    shape = np.broadcast_shapes(*(array.shape for array in arrays.values()))
    flat = {key: np.broadcast_to(array, shape).ravel() for key, array in arrays.items()}
    cells = [
        (key, array.astype(np.float64) if array.dtype.kind in "biuf" else array.tolist())
        for key, array in flat.items()
    ]
    same = {key: value for key, value in fields.items() if key not in arrays}
    size = int(np.prod(shape))
    numbers, faults = rows(command, cells, same, size)
    errors = np.full(size, None, dtype=object)
    for row, code, field, message in faults:
        errors[row] = error = PointageError(message)
        error.code, error.field = code, field
    answers: dict[str, Any] = {name: array.reshape(shape) for name, array in numbers}
    return answers | {"error": errors.reshape(shape)}
