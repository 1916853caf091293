# SPDX-License-Identifier: MIT
"""Records from files and from dicts, and the errors that point into them.

Source of the expected values: the demo record itself, and Python's own TOML reader.
"""

import datetime
import pickle

import numpy as np
import pytest

import rewound


def judged(record):
    return rewound.judge(record).to_dict()


def test_loaded_record_says_whose_it_is(demo):
    assert demo.machine == "GH-07"
    assert demo.date == datetime.date(2026, 5, 14)
    assert demo.speeds == ["high", "medium", "low"]
    assert repr(demo) == "<rewound.Record GH-07, 2026-05-14, 3 run-up curves>"


def test_record_loads_from_text_bytes_and_path_alike(demo, demo_path):
    for path in (str(demo_path), bytes(demo_path), demo_path):
        assert judged(rewound.load_record(path)) == judged(demo)


def test_record_of_a_dict_is_that_of_the_file(demo, demo_dict):
    assert judged(rewound.Record.from_dict(demo_dict)) == judged(demo)


def test_numpy_values_and_tuples_stand_for_plain_ones(demo, demo_dict):
    for run in demo_dict["run_up"]:
        run["voltage_V"] = np.array(run["voltage_V"])
        run["current_A"] = tuple(np.float64(value) for value in run["current_A"])
    demo_dict["machine"]["phases"] = np.int32(1)
    demo_dict["machine"]["frame_earthed"] = np.bool_(True)
    demo_dict["machine"]["model"] = np.str_("circulator-40")
    demo_dict["machine"]["rated_voltage_V"] = np.longdouble(230)
    demo_dict["visit"]["date"] = np.datetime64("2026-05-14")
    demo_dict["earth"]["continuity_ohm"] = np.array(0.08)
    assert judged(rewound.Record.from_dict(demo_dict)) == judged(demo)


def test_change_in_a_dict_changes_the_judgement(demo, demo_dict):
    demo_dict["run_up"][0]["current_A"] = [2 * value for value in demo_dict["run_up"][0]["current_A"]]
    changed = rewound.judge(rewound.Record.from_dict(demo_dict))
    before = next(row for row in rewound.judge(demo).draw if row["speed"] == "high")
    after = next(row for row in changed.draw if row["speed"] == "high")
    # Only the current doubled, and the estimate is linear in it but for the meter's fixed part.
    assert after["current_at_rated_A"] == pytest.approx(2 * before["current_at_rated_A"], rel=1e-3)
    assert changed.decision == "hold"


def edited(demo_path, folder, old, new):
    text = demo_path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path = folder / "record.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    line = text[: text.index(old)].count("\n") + 1
    return path, line


def test_impossible_reading_is_named_with_file_line_and_field(demo_path, tmp_path):
    path, line = edited(demo_path, tmp_path, "0.325", "-0.325")
    with pytest.raises(rewound.InputError) as caught:
        rewound.load_record(path)
    error = caught.value
    assert (error.code, error.file, error.line) == ("out_of_range", str(path), line)
    assert (error.field, error.read) == ("run_up[0].current_A[2]", "-0.325")
    assert error.allowed.startswith("a current of 0, or up to 100000 A, as in current_A = [")
    assert str(error).startswith(f'{path}:{line}: run_up "high", current_A, reading 3: read -0.325, allowed: a current')
    assert error.errors == (error,)


def test_all_errors_of_a_record_come_at_once(demo_dict):
    demo_dict["machine"]["rated_voltage_V"] = "230 V"
    demo_dict["run_up"][1]["current_A"][2] = -1.0
    demo_dict["starts"][0]["successes"] = 99
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    error = caught.value
    assert [each.field for each in error.errors] == ["machine.rated_voltage_V", "run_up[1].current_A[2]"]
    assert str(error).count("\n") == 1
    demo_dict["machine"]["rated_voltage_V"] = 230
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    fields = [each.field for each in caught.value.errors]
    assert fields == ["run_up[1].current_A[2]", "starts[0].successes"]


def test_readings_may_stand_as_rows(demo, demo_dict):
    for run in demo_dict["run_up"]:
        lists = {key: run.pop(key) for key in ("voltage_V", "current_A", "power_W", "speed_rpm") if key in run}
        run["rows"] = [dict(zip(lists, values)) for values in zip(*lists.values())]
    assert rewound.Record.from_dict(demo_dict) == demo


def test_unknown_key_is_named_with_the_nearest_known_one(demo_path, tmp_path):
    path, line = edited(demo_path, tmp_path, "rated_power_W", "rated_pwer_W")
    with pytest.raises(rewound.InputError, match="did you mean rated_power_W") as caught:
        rewound.load_record(path)
    assert (caught.value.code, caught.value.line) == ("unknown_key", line)
    assert caught.value.field == "machine.rated_pwer_W"


def test_text_that_is_not_toml_is_refused_with_its_line(tmp_path):
    path = tmp_path / "record.toml"
    path.write_text('format = "rewound-record/1"\n[machine\n', encoding="utf-8")
    with pytest.raises(rewound.InputError) as caught:
        rewound.load_record(path)
    assert (caught.value.code, caught.value.line) == ("not_toml", 2)


@pytest.mark.parametrize("kind", [rewound.InputError, FileNotFoundError])
@pytest.mark.parametrize("read", [rewound.load_record, rewound.load_reference])
def test_missing_file_is_an_input_error_and_a_file_not_found(tmp_path, kind, read):
    with pytest.raises(kind) as caught:
        read(tmp_path / "none.toml")
    assert caught.value.filename == str(tmp_path / "none.toml") and caught.value.errno == 2
    assert caught.value.code == "file_unreadable"
    assert caught.value.file == str(tmp_path / "none.toml")
    assert caught.value.line is None


def test_file_name_and_text_outside_utf8_do_not_hide_the_error(demo_path, tmp_path):
    name = bytes(tmp_path) + b"/\xff.toml"
    with open(name, "wb") as file:
        file.write(demo_path.read_bytes().replace(b'state = "after_repair"', b'state = "x"'))
    with pytest.raises(rewound.InputError) as caught:
        rewound.load_record(name)
    assert caught.value.code == "not_a_choice"
    assert caught.value.file.encode("utf-8", "surrogateescape") == name


@pytest.mark.parametrize("bad", [float("nan"), float("-inf"), np.nan, np.float32("nan")])
def test_reading_that_is_no_number_is_refused(demo_dict, bad):
    demo_dict["run_up"][1]["current_A"][4] = bad
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    assert (caught.value.code, caught.value.field) == ("out_of_range", "run_up[1].current_A[4]")
    assert caught.value.file is None and caught.value.line is None


def test_infinity_is_beyond_a_meters_range_whose_end_has_to_be_known(demo_dict):
    demo_dict["run_up"][1]["current_A"][4] = float("inf")
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    assert (caught.value.code, caught.value.field) == ("wrong_type", "run_up[1].current_A[4]")
    assert "full_scale" in caught.value.allowed
    demo_dict["instruments"]["ammeter"]["full_scale"] = 2.0
    rows = rewound.Record.from_dict(demo_dict).to_dict()["run_up"][1]["current_A"]
    assert rows[4] == ">2"


@pytest.mark.parametrize(
    "bad, read",
    [
        (None, "None"),
        ({1, 2}, "a value of type set"),
        (1j, "a value of type complex"),
        (np.complex128(1j), "a value of type complex"),
        (b"0.3", "a value of type bytes"),
        (object(), "a value of type object"),
        (datetime.datetime(2026, 5, 14, 8), "a value of type datetime"),
    ],
)
def test_value_of_a_foreign_type_is_named_with_its_place(demo_dict, bad, read):
    demo_dict["run_up"][0]["current_A"][2] = bad
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    assert caught.value.code == "wrong_type"
    assert (caught.value.field, caught.value.read) == ("run_up[0].current_A[2]", read)


def test_key_that_is_no_text_is_refused(demo_dict):
    demo_dict["checks"][7] = True
    with pytest.raises(rewound.InputError, match="checks: read a key that is a value of type int"):
        rewound.Record.from_dict(demo_dict)


def test_whole_number_beyond_64_bits_is_refused(demo_dict):
    demo_dict["machine"]["poles"] = 2**70
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    assert (caught.value.code, caught.value.field) == ("out_of_range", "machine.poles")


def test_text_that_is_no_unicode_is_refused(demo_dict):
    demo_dict["machine"]["id"] = "GH\ud800"
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict(demo_dict)
    assert (caught.value.code, caught.value.field) == ("wrong_type", "machine.id")


def test_dict_that_contains_itself_is_refused(demo_dict):
    demo_dict["machine"]["description"] = demo_dict
    with pytest.raises(rewound.InputError, match="nested more than 32 deep"):
        rewound.Record.from_dict(demo_dict)


def test_record_of_something_else_than_a_dict_is_refused():
    with pytest.raises(rewound.InputError) as caught:
        rewound.Record.from_dict([1, 2])
    assert (caught.value.code, caught.value.read) == ("wrong_type", "a list")


def test_errors_are_value_errors_and_survive_pickling(demo_dict):
    del demo_dict["machine"]["id"]
    with pytest.raises(ValueError) as caught:
        rewound.Record.from_dict(demo_dict)
    again = pickle.loads(pickle.dumps(caught.value))
    assert type(again) is rewound.InputError and issubclass(rewound.InputError, rewound.RewoundError)
    assert str(again) == str(caught.value) and vars(again) == vars(caught.value)
    assert (again.code, again.field) == ("missing_key", "machine.id")
