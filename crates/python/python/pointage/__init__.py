"""Pointage: dough fermentation timed by temperature.

A function for each question, its keywords the keys of `--json`; the answer is a dict with the same keys.
Arrays of NumPy may stand in place of numbers, and `answer` takes whole tables. What cannot be answered
raises PointageError, which has `code` and `field`.

    >>> import pointage
    >>> pointage.ice(total_g=4000, tap_c=18, want_c=5)["warnings"]
    []
"""

from . import _questions
from ._pointage import PointageError, __version__, answer, call, numbers
from ._questions import *

__all__ = ["PointageError", "__version__", "answer", "call", "numbers"]
__all__ += _questions.__all__
