"""The doughs of a fleet of shops, from Parquet to Parquet on Spark, against `pointage batch` on one machine.

    fleet.py POINTAGE ENV.tar.gz FOLDER [ROWS]

POINTAGE is the program, ENV.tar.gz holds the installed package; run.sh makes both.
"""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet
from pointage import numbers, spark
from pyspark.sql import SparkSession

KEEP = ["shop_id"]
QUESTIONS = ["kind", "dose_percent", "at_c", "yeast"]


def doughs(rows: int) -> pa.Table:
    """Invented doughs, each with the number of its shop."""
    random = np.random.default_rng(1)
    kinds = np.array(["poolish", "biga", "sponge", "dough"])
    return pa.table({
        "shop_id": np.arange(rows),
        "kind": kinds[random.integers(0, 4, rows)],
        "dose_percent": random.uniform(0.2, 1.5, rows).round(2),
        "at_c": random.uniform(18, 27, rows).round(1),
        "yeast": np.full(rows, "fresh"),
    })


def processor_seconds() -> float:
    """Processor time of this process and of all that it has started, from /proc."""
    stats = [Path(entry, "stat") for entry in Path("/proc").iterdir() if entry.name.isdigit()]
    children, times = {}, {}
    for stat in stats:
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:  # it has ended meanwhile
            continue
        process = int(stat.parent.name)
        children.setdefault(int(fields[1]), []).append(process)
        # Its own time, and that of its children that have ended.
        times[process] = sum(int(ticks) for ticks in fields[11:15])
    total, left = 0, [os.getpid()]
    while left:
        process = left.pop()
        total += times.get(process, 0)
        left += children.get(process, [])
    return total / os.sysconf("SC_CLK_TCK")


def timed(what: str, work):
    """Does it, and tells how long it took: by the clock, and of all processors."""
    begin, used = time.perf_counter(), processor_seconds()
    done = work()
    seconds, used = time.perf_counter() - begin, processor_seconds() - used
    print(f"{what}: {seconds:.1f} s, {used:.1f} s of processor time", flush=True)
    return done, np.array([seconds, used])


def session(archive: Path) -> SparkSession:
    """Two executors with a core each, which unpack the package into their working folder."""
    os.environ["PYSPARK_PYTHON"] = sys.executable
    builder = SparkSession.builder.master("local-cluster[2,1,1536]").appName("fleet")
    for key, value in {
        "spark.archives": f"{archive}#env",
        "spark.executorEnv.PYTHONPATH": "./env",
        "spark.executor.memory": "1536m",
        "spark.sql.execution.arrow.maxRecordsPerBatch": 50_000,
        "spark.ui.enabled": False,
    }.items():
        builder = builder.config(key, value)
    return builder.getOrCreate()


def main() -> None:
    program, archive, folder = (Path(argument).resolve() for argument in sys.argv[1:4])
    rows = int(sys.argv[4]) if len(sys.argv) > 4 else 2_000_000
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    table, names = doughs(rows), numbers("ready")
    questions = folder / "doughs.parquet"
    pyarrow.parquet.write_table(table, questions, row_group_size=rows // 8)

    def passed(batches):
        """As many numbers as the answers have, as little alike, and none computed: what Spark itself takes."""
        import numpy
        import pyarrow

        random = numpy.random.default_rng(1)
        for batch in batches:
            same = [pyarrow.array(random.random(batch.num_rows)) for _ in names]
            none = [pyarrow.nulls(batch.num_rows, pyarrow.string())] * 3
            columns = [batch.column("shop_id"), *same, *none]
            yield pyarrow.RecordBatch.from_arrays(columns, [*KEEP, *names, "error", "error_code", "error_field"])

    def answered(session: SparkSession, limit: int, name: str, mapper=spark.mapper("ready", keep=KEEP)) -> None:
        asked = session.read.parquet(str(questions))
        if limit < rows:
            asked = asked.limit(limit)
        answers = asked.mapInArrow(mapper, spark.schema("ready", asked.schema, keep=KEEP))
        answers.write.mode("overwrite").parquet(str(folder / name))

    # Starting is the session, the executors and their first Python workers.
    def start() -> SparkSession:
        started = session(archive)
        answered(started, 1000, "first.parquet")
        return started

    started, _ = timed("Spark, start", start)
    _, on_spark = timed(f"Spark, {rows} doughs", lambda: answered(started, rows, "ready.parquet"))
    _, alone_on_spark = timed(f"Spark, {rows} doughs passed through", lambda: answered(started, rows, "same.parquet", passed))
    started.stop()

    pyarrow.csv.write_csv(table.select(QUESTIONS), folder / "doughs.csv")
    command = [program, "batch", folder / "doughs.csv", "--command", "ready", "--out", folder / "ready.csv"]
    _, alone = timed(f"batch, {rows} doughs", lambda: subprocess.run(command, check=True))
    clock, processor = on_spark / alone
    print(f"Spark beyond its start: {clock:.2f} times batch by the clock, {processor:.2f} times by processor time")
    clock, processor = (on_spark - alone_on_spark) / alone
    print(f"Beyond passing the rows through: {clock:.2f} times batch by the clock, {processor:.2f} times by processor time")

    spark_answers = pyarrow.parquet.read_table(folder / "ready.parquet").sort_by("shop_id")
    batch_answers = pyarrow.csv.read_csv(folder / "ready.csv")
    assert spark_answers["shop_id"].equals(table["shop_id"])
    differ = 0
    for name in names:
        ours = spark_answers[name].to_numpy().view(np.uint64)
        theirs = batch_answers[name].cast(pa.float64()).to_numpy().view(np.uint64)
        # A number that is missing is missing in both.
        both = spark_answers[name].is_valid().to_numpy() | batch_answers[name].is_valid().to_numpy()
        differ += int(((ours != theirs) & both).sum())
    print(f"{differ} of {rows * len(names)} numbers differ")
    sys.exit(differ > 0)


if __name__ == "__main__":
    main()
