"""The same answer however it is asked: JSON, one question, NumPy, Arrow."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pointage
import pyarrow as pa
import pytest

ROOT = Path(__file__).resolve().parents[3]
LINES = [
    line
    for name in ["requests.jsonl", "golden/requests.jsonl"]
    for line in (ROOT / "tests" / name).read_text("utf-8").splitlines()
]
COLUMNS = ["ready", "dose", "water", "ice", "scale"]
BAKE_FILE = ROOT / "data" / "demo" / "market-poolish.toml"
BAKE = BAKE_FILE.read_text("utf-8")


def asked(line):
    request = json.loads(line)
    request.pop("version")
    return request.pop("command"), request


def number_of(answer, name):
    """The number of an answer that stands in a table under this name."""
    for end, at in ("low", 0), ("high", 1), ("open", 0), ("close", 1):
        of, found, unit = name.partition(f"_{end}_")
        if found:
            return (answer[f"{of}_{unit}"] or [None, None])[at]
    if name in answer:
        return answer[name]
    parts = [name[:at] for at, letter in enumerate(name) if letter == "_" and name[:at] in answer]
    return (answer[parts[0]] or {}).get(name[len(parts[0]) + 1 :]) if parts else None


def same_number(value, expected):
    """To the last bit."""
    return np.isnan(value) if expected is None else value == expected


@pytest.mark.parametrize("line", LINES)
def test_one_question_is_answered_as_json(line):
    answer = json.loads(pointage.call(line))
    command, fields = asked(line)
    function = getattr(pointage, command.replace("-", "_"), None)
    if "error" in answer:
        with pytest.raises((pointage.PointageError, TypeError)) as raised:
            pointage._pointage.ask(command, fields)
        if isinstance(raised.value, pointage.PointageError):
            assert raised.value.code == answer["error"]["kind"]
            assert raised.value.field == answer["error"]["field"]
            assert str(raised.value) == answer["error"]["message"]
        return
    del answer["version"], answer["made_by"]
    assert json.dumps(pointage._pointage.ask(command, fields)) == json.dumps(answer)
    if "bake_toml" in fields:
        fields["bake"] = fields.pop("bake_toml")
    assert function(**fields) == answer


@pytest.mark.parametrize("line", [line for line in LINES if asked(line)[0] in COLUMNS])
def test_columns_are_answered_as_json(line):
    answer = json.loads(pointage.call(line))
    command, fields = asked(line)
    fields = {key: value for key, value in fields.items() if value is not None}
    cells = {
        key: json.dumps(value) if isinstance(value, (dict, list)) else value
        for key, value in fields.items()
    }
    # NumPy: numbers and texts as arrays, what is neither the same for all rows.
    arrays = {
        key: value if isinstance(value, (dict, list)) else np.array([value, value])
        for key, value in fields.items()
    }
    arrow = {key: [value] for key, value in cells.items()}
    if "error" in answer:
        with pytest.raises(pointage.PointageError) as raised:
            result = pa.table(pointage.answer(command, pa.table(arrow))).to_pylist()[0]
            assert result["error_code"] == answer["error"]["kind"]
            raise pointage.PointageError(result["error"])
        assert str(raised.value)
        return
    table = pa.table(pointage.answer(command, pa.table(arrow))).to_pylist()[0]
    assert (table["error"], table["error_code"], table["error_field"]) == (None, None, None)
    names = pointage.numbers(command)
    assert names
    for name in names:
        assert table[name] == number_of(answer, name), name
    if any(isinstance(value, np.ndarray) for value in arrays.values()):
        many = pointage._pointage.ask(command, arrays)
        assert many["error"].tolist() == [None, None]
        for name in names:
            assert same_number(many[name][1], number_of(answer, name)), name


def test_arrays_are_broadcast():
    at_c, for_h = np.array([[20.0], [24.0]]), np.array([8, 12, 16])
    table = pointage.dose("poolish", for_h, at_c=at_c, yeast="fresh")
    assert table["dose_percent"].shape == (2, 3)
    one = pointage.dose("poolish", 12, at_c=24, yeast="fresh")
    assert table["dose_percent"][1, 1] == one["dose_percent"]
    assert pointage.ready("biga", np.float32(0.5), at_c=np.int64(18))["ready_h"] > 0


def test_rows_of_one_fault_do_not_stop_the_others():
    answers = pointage.ready("poolish", np.array([0.3, -1, np.nan]), at_c=21)
    assert answers["error"][0] is None and answers["ready_h"][0] > 0
    assert [(e.code, e.field) for e in answers["error"][1:]] == [
        ("out-of-range", "dose_percent"),
        ("not-finite", "dose_percent"),
    ]
    assert np.isnan(answers["ready_h"][1:]).all()
    rows = pa.table({"kind": ["poolish", None, "bread"], "dose": [0.3, 0.3, 0.3], "at": ["70F"] * 3})
    rows = pa.table(pointage.answer("ready", rows)).to_pylist()
    assert rows[0]["error"] is None and rows[0]["ready_h"] > 0
    assert [(r["error_code"], r["error_field"], r["ready_h"]) for r in rows[1:]] == [
        ("contradiction", "kind", None),
        ("unknown-name", "kind", None),
    ]


def test_columns_of_the_caller_pass_through():
    questions = pa.table({
        "shop_id": pa.array([7, 8], pa.int16()),
        "opened": pa.array([[1], [2, 3]]),
        "kind": pa.array(["poolish", "biga"]).dictionary_encode(),
        "dose_percent": pa.array([1, 2], pa.int8()),
        "at_c": pa.array([20, 22], pa.float32()),
    })
    answers = pa.table(pointage.answer("ready", questions, keep=["shop_id", "opened", "at_c"]))
    assert answers.select(["shop_id", "opened", "at_c"]) == questions.select(["shop_id", "opened", "at_c"])
    with pytest.raises(pointage.PointageError, match="no key or flag") as error:
        pointage.answer("ready", questions)
    assert error.value.field == "shop_id"
    with pytest.raises(pointage.PointageError, match="twice"):
        pointage.answer("ready", pa.table([[1.0], [2.0]], names=["at_c", "at_c"]))
    with pytest.raises(pointage.PointageError, match="rename it"):
        pointage.answer("ready", questions.append_column("error", [["a", "b"]]), keep=["shop_id", "opened", "error"])
    with pytest.raises(pointage.PointageError, match="no column total_g"):
        pointage.answer("ice", pa.table({"tap_c": [18.0]}))
    with pytest.raises(pointage.PointageError, match="did you mean|unknown"):
        pointage.answer("reddy", questions)
    with pytest.raises(TypeError):
        pointage.answer("ready")


def test_every_library_of_tables_in_one_line():
    duckdb, pandas, polars = (pytest.importorskip(name) for name in ["duckdb", "pandas", "polars"])
    columns = {"id": [1, 2], "kind": ["poolish", "biga"], "dose_percent": [0.3, None], "at_c": [21.0, 18.0]}
    expected = pa.table(pointage.answer("ready", pa.table(columns))).to_pydict()
    assert expected["error_field"] == [None, "dose_percent"]
    frame = pandas.DataFrame.from_arrow(pointage.answer("ready", pandas.DataFrame(columns)))
    assert frame["ready_h"][0] == expected["ready_h"][0] and frame["error_field"][1] == "dose_percent"
    frame = polars.DataFrame(pointage.answer("ready", polars.DataFrame(columns)))
    assert frame.to_dict(as_series=False) == expected
    questions = polars.DataFrame(columns)
    answers = pointage.answer("ready", duckdb.sql("select * from questions"))
    assert duckdb.sql("select ready_h from answers where error is null").fetchall() == [(expected["ready_h"][0],)]
    assert len(questions) == 2


def test_own_parameters_go_for_all_rows():
    row = {"kind": "poolish", "flour_g": 1000, "water_g": 1000, "yeast": "fresh", "yeast_g": 3, "temperature_c": 21}
    question = {"yeast": "fresh", "at_c": 21}
    shipped = pointage.ready("poolish", 0.3, **question)["ready_h"]
    # Nights that took a third longer than the shipped numbers say.
    learned = pointage.learn(rows=[{**row, "hours": 4 / 3 * shipped, "seen": "ripe"}] * 5)
    own = pointage.ready("poolish", 0.3, **question, params_toml=learned["params_toml"])
    assert shipped < own["ready_h"] < 4 / 3 * shipped
    many = pointage.ready("poolish", np.array([0.3]), **question, params_toml=learned["params_toml"])
    assert many["ready_h"][0] == own["ready_h"]
    table = pa.table({"kind": ["poolish"], "dose_percent": [0.3], "yeast": ["fresh"], "at_c": [21]})
    table = pa.table(pointage.answer("ready", table, params_toml=learned["params_toml"]))
    assert table["ready_h"][0].as_py() == own["ready_h"]
    with pytest.raises(pointage.PointageError) as error:
        pointage.answer("ready", table, params_toml="format = 3")
    assert error.value.field.startswith("params_toml")


def test_a_bake_is_a_dict_or_a_text_or_a_file():
    as_dict = pointage.plan(tomllib.loads(BAKE), first_out="09:00")
    assert as_dict == pointage.plan(BAKE, first_out="09:00") == pointage.plan(BAKE_FILE, first_out="09:00")
    assert as_dict["loads"][0]["oven_out"] == 9
    warm = pointage.adjust(BAKE, ["mix 29C 04:52"], first_out="09:00")
    # 29 °C is warmer than the bake wants its dough: sooner ripe.
    assert warm["after"]["loads"][0]["oven_out"] < warm["before"]["loads"][0]["oven_out"]
    assert [row["value"] for row in pointage.compare(BAKE, "room=18..26..4", first_out="09:00")["rows"]] == [18, 22, 26]
    with pytest.raises(FileNotFoundError):
        pointage.plan(Path("no such bake"), first_out="09:00")
    many = pointage.scale(BAKE, pieces=np.array([12, 24]))
    assert many["dough_g"][1] == pointage.scale(BAKE, pieces=24)["dough_g"]


def test_what_is_no_number_is_refused_by_its_field():
    with pytest.raises(pointage.PointageError) as error:
        pointage.ready("poolish", 0.3, at_c=float("nan"))
    assert (error.value.code, error.value.field) == ("not-finite", "at_c")
    with pytest.raises(TypeError):
        pointage.ready("poolish", 0.3, at_c=object())
    with pytest.raises(pointage.PointageError, match="did you mean"):
        pointage.ready("poolish", 0.3, ad_c=21)
    with pytest.raises(pointage.PointageError, match="twice"):
        pointage.ready("poolish", 0.3, kind="biga", at_c=21)
    with pytest.raises(pointage.PointageError, match="twice"):
        pointage.ready("poolish", np.array([0.3]), kind="biga", at_c=21)
    with pytest.raises(TypeError, match="at most 2"):
        pointage.ready("poolish", 0.3, 21)
    endless = []
    endless.append(endless)
    with pytest.raises(TypeError, match="too many"):
        pointage.ready("poolish", 0.3, room_course=endless)
    assert 'did you mean' in str(pytest.raises(pointage.PointageError, pointage._pointage.ask, "redy", {}).value)
    for text in ["", "\0", "[" * 100_000, "{}"]:
        assert "error" in json.loads(pointage.call(text))


def test_a_batch_of_spark_is_answered_like_a_table():
    from pointage import spark

    questions = pa.table({"shop_id": [1, 2, 3], "kind": ["poolish"] * 3, "dose": [0.3, 0.4, -1.0], "at": [20.0, 21.0, 22.0]})
    kept = ["shop_id"]
    mapped = pa.Table.from_batches(spark.mapper("ready", keep=kept)(iter(questions.to_batches(2))))
    assert mapped == pa.table(pointage.answer("ready", questions, keep=kept))
    assert mapped["error_field"].to_pylist() == [None, None, "dose"]
