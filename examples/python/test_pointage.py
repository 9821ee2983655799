"""The Python door gives the answers of the library: `pytest examples/python`."""

import json
import threading
import tomllib
from pathlib import Path

import pointage
import pytest

ROOT = Path(__file__).resolve().parents[2]
REQUESTS = [
    line
    for name in ["requests.jsonl", "golden/requests.jsonl"]
    for line in (ROOT / "tests" / name).read_text(encoding="utf-8").splitlines()
]
BAKE = (ROOT / "data" / "demo" / "market-poolish.toml").read_text(encoding="utf-8")


def test_the_rule_of_the_trade():
    # Course note CAP boulangerie (hodyacademy.com/post/cap-temperature): 72 - 43
    answer = pointage.water(dough_c=24, flour_c=20, room_c=21, friction_factor_c=2)
    assert answer["ddt_formula"]["water_c"] == 29.0
    assert answer["heat_balance"] is None


def test_dose_and_ready_undo_each_other():
    yeast = pointage.dose("poolish", 12, at_c=21, yeast="fresh")
    ready = pointage.ready("poolish", yeast["dose_percent"], at_c=21, yeast="fresh")
    # Answers are rounded to 1e-9; the time moves with the dose about one to one, in logarithms.
    assert ready["ready_h"] == pytest.approx(12, abs=1e-6)


def test_a_bake_is_a_dict_or_a_text():
    as_dict = pointage.plan(tomllib.loads(BAKE), first_out="09:00")
    as_text = pointage.plan(BAKE, first_out="09:00")
    assert as_dict == as_text
    assert as_dict["loads"][0]["oven_out"] == 9
    dated = pointage.plan(BAKE, first_out="09:00", date="2026-11-28", utc_offset="+01:00")
    assert dated["loads"][0]["oven_out"] == "2026-11-28T09:00:00+01:00"
    assert pointage.scale(BAKE, pieces=12)["pieces"] == 12


def test_what_is_measured_moves_the_rest():
    warm = pointage.adjust(BAKE, ["mix 29C 04:52"], first_out="09:00")
    out = [warm[when]["loads"][0]["oven_out"] for when in ("before", "after")]
    # 29 °C is warmer than the bake wants its dough: sooner ripe.
    assert out[1] < out[0] == 9


def test_a_warmer_room_leaves_less_time():
    rows = pointage.compare(BAKE, "room=18..26..4", first_out="09:00")["rows"]
    assert [row["value"] for row in rows] == [18, 22, 26]
    assert rows[0]["preferment_dose_percent"] > rows[2]["preferment_dose_percent"]


def test_what_a_log_taught_is_asked_with():
    row = {"kind": "poolish", "flour_g": 1000, "water_g": 1000, "yeast": "fresh", "yeast_g": 3, "temperature_c": 21}
    question = {"yeast": "fresh", "at_c": 21}
    shipped = pointage.ready("poolish", 0.3, **question)["ready_h"]
    # Nights that took a third longer than the shipped numbers say.
    learned = pointage.learn([{**row, "hours": 4 / 3 * shipped, "seen": "ripe"}] * 5)
    own = pointage.ready("poolish", 0.3, **question, params_toml=learned["params_toml"])
    assert shipped < own["ready_h"] < 4 / 3 * shipped
    as_text = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n"
    as_text += f"poolish,1000,1000,fresh,3,21,{4 / 3 * shipped!r},ripe\n" * 5
    assert pointage.learn(as_text) == learned


def test_a_law_goes_through_its_points():
    # Twice as fast each 10 K: a Q10 of 2.
    fit = pointage.fit_rate("temperature_c,rate\n5,0.5\n15,1\n25,2\n35,4\n", "q10")
    assert {p["name"]: p["value"] for p in fit["parameters"]}["q10"] == pytest.approx(2, abs=1e-6)


def test_a_room_is_a_list_of_pairs():
    answer = pointage.ready("poolish", 0.3, room_course=[(0, 21), (4, 18), (10, 16)], yeast="fresh")
    assert answer["dough_end_c"] < 21


def test_an_error_names_its_field():
    with pytest.raises(pointage.PointageError, match="did you mean") as error:
        pointage.water(dough_c=24, flour=20)
    assert (error.value.kind, error.value.field) == ("unknown-name", "flour")
    with pytest.raises(pointage.PointageError) as error:
        pointage.ice(total_g=1000, tap_c=12, want_c=-95)
    assert error.value.kind == "unreachable"
    with pytest.raises(pointage.PointageError):
        pointage.call("bake bread")


@pytest.mark.parametrize("line", REQUESTS)
def test_every_request_has_an_answer(line):
    answer = json.loads(pointage.call_text(line))
    assert answer["version"] == pointage.VERSION
    request = json.loads(line)
    command = request.pop("command")
    request.pop("version")
    if "error" in answer:
        with pytest.raises(pointage.PointageError):
            pointage.call(command, request)
    else:
        assert pointage.call(command, request) == answer


def test_what_is_no_request_is_answered():
    for text in ["", "\0", "[" * 100_000, "\ud800", "{}"]:
        assert "error" in json.loads(pointage.call_text(text))


def test_threads_do_not_disturb_each_other():
    answers = []

    def ask():
        for _ in range(50):
            answers.append(pointage.ready("biga", 0.3, at_c=18)["ready_h"])

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 200 and len(set(answers)) == 1


def test_the_version_is_that_of_the_crate():
    assert f'version = "{pointage.version()}"' in (ROOT / "Cargo.toml").read_text(encoding="utf-8")
