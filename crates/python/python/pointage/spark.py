"""A fleet of ovens: questions in a table of Spark, answered where its rows are.

    kept = ["shop_id"]
    answers = doughs.mapInArrow(spark.mapper("ready", keep=kept), spark.schema("ready", doughs.schema, keep=kept))
"""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any

import pyarrow

from ._pointage import answer, numbers

Batches = Iterator[pyarrow.RecordBatch]


def _map(
    batches: Batches, command: str, keep: Sequence[str], params_toml: str | None
) -> Batches:
    for batch in batches:
        # Spark has a task for each of its cores already.
        answers = answer(command, batch, keep=keep, params_toml=params_toml, parallel=False)
        yield from pyarrow.table(answers).to_batches()


def mapper(
    command: str, *, keep: Sequence[str] = (), params_toml: str | None = None
) -> Callable[[Batches], Batches]:
    """The function for `DataFrame.mapInArrow`; see `pointage.answer`."""
    return partial(_map, command=command, keep=list(keep), params_toml=params_toml)


def schema(command: str, questions: Any, *, keep: Sequence[str] = ()) -> Any:
    """The schema of its answers, from that of the questions (`DataFrame.schema`)."""
    from pyspark.sql.types import DoubleType, StringType, StructField, StructType

    kept = [field for field in questions if field.name in (*keep, "id")]
    values = [StructField(name, DoubleType()) for name in numbers(command)]
    errors = [StructField(name, StringType()) for name in ("error", "error_code", "error_field")]
    return StructType([*kept, *values, *errors])
