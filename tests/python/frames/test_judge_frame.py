# SPDX-License-Identifier: MIT
"""judge_frame: a long frame of readings in, one row a machine out. Source: judge of each machine's record by itself."""

import datetime
import io
import pathlib
import pickle
import subprocess

import numpy as np
import pandas as pd
import pytest

import rewound

DRAW_ONLY = {"format": "rewound-policy/1", "needed": ["draw", "steps"]}
SEEDS = range(11, 17)


@pytest.fixture(scope="module")
def records():
    made = [rewound.simulate("circulator-40", seed=n, read=("watts", "rpm")) for n in SEEDS]
    made.append(rewound.simulate("circulator-40", fault={"shorted_turns": 0.1}, seed=17, read=("watts", "rpm")))
    return made


@pytest.fixture(scope="module")
def reference():
    return rewound.learn(rewound.simulate("circulator-40", seed=n) for n in range(1, 5))


@pytest.fixture(scope="module")
def readings(records):
    return rewound.frame_from_records(records)


@pytest.fixture(scope="module")
def judged(readings, reference):
    return rewound.judge_frame(readings, reference, policy=DRAW_ONLY)


def run_ups_only(record):
    kept = {key: value for key, value in record.to_dict().items() if key in ("format", "machine", "visit", "run_up")}
    meters = ("voltmeter", "ammeter", "wattmeter", "tachometer")
    given = record.to_dict().get("instruments", {})
    kept["instruments"] = {name: given[name] for name in meters if name in given}
    return rewound.Record.from_dict(kept)


def test_records_come_back_from_their_frame(readings, records):
    found = rewound.records_from_frame(readings)
    assert list(found) == [record.machine for record in records]
    assert list(found.values()) == [run_ups_only(record) for record in records]


def test_rows_are_those_of_judging_one_by_one(judged, records, reference):
    assert list(judged.index) == [record.machine for record in records]
    assert list(judged["machine"]) == list(judged.index)
    for record in records:
        result = rewound.judge(run_ups_only(record), reference, policy=DRAW_ONLY)
        row = judged.loc[record.machine]
        assert row["decision"] == result.decision
        assert row["reasons"] == " | ".join(result.reasons)
        assert row["abnormality"] == result.abnormality
        assert (row["likeliest_cause"], row["cause_probability"]) == (
            result.causes[0]["cause"],
            result.causes[0]["probability"],
        )
        for draw in result.draw:
            for name in ("level_percent", "level_low", "level_high"):
                assert row[f"{name}.{draw['speed']}"] == draw[name]
        assert row["error"] is None


def test_the_machine_with_shorted_turns_stands_out(judged):
    assert judged["abnormality"].idxmax() == judged.index[-1]
    assert judged["decision"].iloc[-1] == "hold" and "draw" in judged["fails"].iloc[-1]
    assert judged["level_low.high"].iloc[-1] > 0.0


def test_rows_are_those_of_the_tools_batch(readings, reference, tool, tmp_path):
    bare = readings[[name for name in readings.columns if not name.startswith("instruments.")]].copy()
    bare.loc[2, "current_A"] = -1.0
    bare.to_csv(tmp_path / "table.csv", index=False)
    reference.save(tmp_path / "model.toml")
    (tmp_path / "policy.toml").write_text('format = "rewound-policy/1"\nneeded = ["draw", "steps"]\n', encoding="utf-8")
    words = ["--reference", "model.toml", "--policy", "policy.toml", "--out", "results.csv"]
    done = subprocess.run(
        [tool, "batch", "table.csv", *words], cwd=tmp_path, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 65, done.stderr
    batch = pd.read_csv(tmp_path / "results.csv", keep_default_na=False)
    judged = rewound.judge_frame(bare, reference, policy=DRAW_ONLY)
    for name in ("machine", "decision", "reasons", "likeliest_cause"):
        assert list(batch[name]) == list(judged[name].fillna("")), name
    there = judged["error"].isna().to_numpy()
    assert list(batch["error"].eq("")) == list(there) and there.sum() == len(judged) - 1
    for name in ("abnormality", "cause_probability"):
        written = batch.loc[there, name].astype(float)
        np.testing.assert_allclose(written, judged.loc[there, name], rtol=1e-3, atol=1e-6)


def test_a_partition_alone_gives_the_rows_of_the_whole(readings, reference, judged):
    moved = pickle.loads(pickle.dumps(reference))
    for name in judged.index:
        alone = rewound.judge_frame(readings[readings["machine"] == name], moved, policy=DRAW_ONLY)
        pd.testing.assert_frame_equal(alone, judged.loc[[name]])


def test_rows_may_be_mixed_and_the_machine_may_be_the_index(readings, reference, judged):
    mixed = readings.sort_values("voltage_V", kind="stable")
    found = rewound.judge_frame(mixed.set_index("machine"), reference, policy=DRAW_ONLY)
    assert list(found.index) == list(dict.fromkeys(mixed["machine"]))
    order = found.loc[judged.index]
    np.testing.assert_allclose(order["level_percent.high"], judged["level_percent.high"], rtol=1e-9)
    assert list(order["decision"]) == list(judged["decision"])


def test_threads_change_nothing(readings, reference, judged):
    pd.testing.assert_frame_equal(rewound.judge_frame(readings, reference, policy=DRAW_ONLY, threads=3), judged)
    for threads in (0, 1025):
        with pytest.raises(rewound.PreconditionError):
            rewound.judge_frame(readings, reference, threads=threads)


def test_machine_and_speed_may_both_be_levels_of_the_index(readings, reference, judged):
    found = rewound.judge_frame(readings.set_index(["machine", "speed"]), reference, policy=DRAW_ONLY)
    pd.testing.assert_frame_equal(found, judged)


def test_cells_of_a_table_with_gaps_are_what_they_were(tmp_path):
    facts = pd.DataFrame(
        {
            "machine": [7, 8], "rated_voltage_V": [230, 230], "rated_frequency_Hz": [50.0, 50.0], "phases": [1, None],
            "poles": [None, 4], "wound_year": [2026, None], "insulation_class": [130, None], "frame_earthed": [True, None],
            "portable": [None, None], "date": ["2026-05-14", "2026-05-15"], "work": ["stator rewound; cord replaced", None],
        }
    )  # fmt: skip
    facts.to_csv(tmp_path / "machines.csv", index=False)
    records = rewound.records_from_frame(small(), pd.read_csv(tmp_path / "machines.csv"))
    first, second = records[7].to_dict(), records[8].to_dict()
    assert (first["machine"]["wound_year"], first["machine"]["insulation_class"]) == (2026, "130")
    assert first["machine"]["frame_earthed"] is True and "portable" not in first["machine"]
    assert (second["machine"]["poles"], second["machine"]["phases"]) == (4, 1) and "wound_year" not in second["machine"]
    assert first["visit"]["work"] == ["stator rewound", "cord replaced"] and "work" not in second["visit"]
    assert second["visit"]["date"] == datetime.date(2026, 5, 15)


def facts_apart(readings):
    facts = [
        name
        for name in readings.columns
        if name not in ("speed", "voltage_V", "current_A", "power_W", "speed_rpm", "turning", "winding_C")
    ]
    machines = readings[facts].drop_duplicates()
    return readings.drop(columns=[name for name in facts if name != "machine"]), machines


def test_facts_may_stand_in_a_frame_of_machines(readings, reference, judged):
    bare, machines = facts_apart(readings)
    shuffled = machines.iloc[::-1]
    pd.testing.assert_frame_equal(rewound.judge_frame(bare, reference, machines=shuffled, policy=DRAW_ONLY), judged)
    pd.testing.assert_frame_equal(
        rewound.judge_frame(bare, reference, machines=shuffled.set_index("machine"), policy=DRAW_ONLY), judged
    )


def test_facts_common_to_all_may_be_a_dict_and_days_may_be_timestamps(readings, reference, judged):
    bare, machines = facts_apart(readings)
    common = machines.drop(columns="machine").iloc[0].dropna().to_dict()
    common["date"] = pd.Timestamp(common["date"])
    found = rewound.judge_frame(bare, reference, machines=common, policy=DRAW_ONLY)
    np.testing.assert_array_equal(found["level_percent.high"], judged["level_percent.high"])


def small(**more):
    """Two machines of one speed, as few columns as may be."""
    frame = pd.DataFrame(
        {
            "machine": [7, 7, 7, 8, 8, 8],
            "speed": "high",
            "voltage_V": [150.0, 190.0, 230.0] * 2,
            "current_A": [0.27, 0.34, 0.42, 0.28, 0.35, 0.43],
        }
    )
    return frame.assign(**more)


FACTS = {"rated_voltage_V": 230, "rated_frequency_Hz": 50, "date": datetime.date(2026, 5, 14), "rated_current_A": 0.42}


def test_few_facts_are_enough_and_what_is_left_out_has_a_stated_value():
    record = rewound.records_from_frame(small(), FACTS)[7]
    machine, visit = record.to_dict()["machine"], record.to_dict()["visit"]
    assert (machine["id"], machine["phases"], machine["speeds"]) == ("7", 1, ["high"])
    assert (machine["speed_control"], machine["running_circuit"]) == ("unknown", "unknown")
    assert (visit["state"], visit["date"]) == ("as_found", datetime.date(2026, 5, 14))
    judged = rewound.judge_frame(small(), machines=FACTS)
    assert list(judged.index) == [7, 8] and list(judged["decision"]) == ["undecided", "undecided"]


def test_speeds_are_in_the_order_given_else_in_that_of_the_rows():
    frame = small(speed=["low", "low", "low", "high", "high", "high"], machine="GH-1")
    assert rewound.records_from_frame(frame, FACTS)["GH-1"].speeds == ["low", "high"]
    named = {**FACTS, "speeds": "high; medium; low"}
    assert rewound.records_from_frame(frame, named)["GH-1"].speeds == ["high", "medium", "low"]


def test_a_reference_stands_in_for_facts_without_a_column(readings, reference, judged):
    bare = readings[["machine", "speed", "voltage_V", "current_A"]].sort_values(["machine", "speed"], kind="stable")
    record = next(iter(rewound.records_from_frame(bare, reference=reference).values())).to_dict()
    assert record["machine"]["model"] == reference.model and record["visit"]["shaft"] == reference.shaft == "loaded"
    assert (record["machine"]["rated_voltage_V"], record["machine"]["rated_frequency_Hz"]) == (230, 50)
    assert record["machine"]["speeds"] == reference.speeds == ["high", "medium", "low"]
    assert record["visit"]["date"] == datetime.date.today()
    found = rewound.judge_frame(bare, reference, policy=DRAW_ONLY)
    assert found["error"].isna().all() and found["decision"].iloc[-1] == "hold"
    stated = bare.assign(model=["another" if name == bare["machine"].iloc[0] else None for name in bare["machine"]])
    found = rewound.judge_frame(stated, reference, policy=DRAW_ONLY)
    assert found["error"].notna().all()  # a cell that is empty beside others says that it is not known


def test_speeds_may_be_lists_and_other_lists_are_refused():
    named = small(speeds=[["high", "low"]] * 6)
    assert rewound.records_from_frame(named, FACTS)[7].speeds == ["high", "low"]
    with pytest.raises(rewound.InputError, match="readings.model: read a list or dict in a cell"):
        rewound.judge_frame(small(model=[["a"]] * 6), machines=FACTS)


def test_a_machine_that_cannot_be_read_says_why_and_the_others_are_judged():
    frame = small()
    frame.loc[1, "current_A"] = -0.34
    judged = rewound.judge_frame(frame, machines=FACTS)
    assert (
        judged.loc[7, "error"]
        == "current_A, reading 2 of speed high: read -0.34, allowed: a current of 0, or up to 100000 A, "
        "as in current_A = [0.21, 0.26, 0.32, 0.38, 0.42]"
    )
    assert judged.loc[7, "decision"] is None and np.isnan(judged.loc[7, "level_percent.high"])
    assert pd.isna(judged.loc[8, "error"]) and judged.loc[8, "decision"] == "undecided"


@pytest.mark.parametrize(
    "change, error",
    [
        ({"turning": [True, None, True, True, True, True]}, "turning, reading 2 of speed high: read nothing, allowed: a value for every reading of a speed, or for none"),
        ({"current_A": [0.27, None, 0.42, 1, 1, 1]}, "current_A, reading 2 of speed high: read nothing, allowed: a value for every reading of a speed, or for none"),
        ({"speed": ["high", None, "high", "high", "high", "high"]}, "speed: read nothing, allowed: the name of a speed on every row"),
        ({"model": ["a", "b", "a", "a", "a", "a"]}, "model: read a and b, allowed: the same value on all rows of one machine"),
        ({"phases": 2}, "phases: read 2, allowed: 1 or 3"),
        ({"state": "mended"}, 'state: read "mended", allowed: one of as_found, after_repair, recheck, as in state = "after_repair"'),
    ],
)  # fmt: skip
def test_errors_name_the_column(change, error):
    judged = rewound.judge_frame(small(**change), machines=FACTS)
    assert judged.loc[7, "error"] == error


def test_rows_without_a_machine_are_reported_not_lost():
    judged = rewound.judge_frame(small(machine=[7, 7, 7, None, None, None]), machines=FACTS)
    assert len(judged) == 2 and judged.index[1] is None
    assert judged["error"].iloc[1] == "machine: read nothing, allowed: the name of a machine on every row"


def test_a_reference_of_another_model_is_an_error_of_each_machine(reference):
    judged = rewound.judge_frame(small(), reference, machines={**FACTS, "model": "blower-2"})
    assert judged["decision"].isna().all() and judged["error"].str.contains("circulator-40").all()


@pytest.mark.parametrize(
    "frame, facts, code, field, words",
    [
        (small(curent_A=1.0), FACTS, "unknown_key", "readings.curent_A", "did you mean current_A?"),
        (small(), {**FACTS, "rated_volage_V": 1}, "unknown_key", "machines.rated_volage_V", "did you mean rated_voltage_V?"),
        (small().drop(columns="voltage_V"), FACTS, "missing_key", "readings.voltage_V", "a column voltage_V"),
        (small().drop(columns="current_A"), FACTS, "missing_key", "readings.current_A", "a column current_A"),
        (small(), {"rated_voltage_V": 230}, "missing_key", "machines.rated_frequency_Hz", "a column rated_frequency_Hz"),
        (small(rated_voltage_V=230), FACTS, "repeated", "machines.rated_voltage_V", "the column in one of them"),
        (pd.concat([small(), small()[["speed"]]], axis=1), FACTS, "repeated", "readings.speed", "each column once"),
        (small().set_index(small()["machine"]), FACTS, "repeated", "readings.machine", "one of them"),
        (small(), pd.DataFrame({"machine": [7, 7], **{k: [v] * 2 for k, v in FACTS.items()}}), "repeated", "machines.machine", "one row a machine"),
    ],
)  # fmt: skip
def test_mistakes_of_the_frame_are_raised(frame, facts, code, field, words):
    with pytest.raises(rewound.InputError) as caught:
        rewound.judge_frame(frame, machines=facts)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert words in caught.value.allowed


@pytest.mark.parametrize("given", [{"run_up": [1]}, {"machines": [FACTS]}, {"reference": "model.toml"}])
def test_other_kinds_of_arguments_are_type_errors(given):
    (name,) = given
    with pytest.raises(TypeError, match=f"{name}: read a value of type"):
        rewound.judge_frame(**{"run_up": small(), "machines": FACTS, **given})


def test_machines_without_facts_say_so_and_facts_without_readings_are_passed_over():
    facts = pd.DataFrame({"machine": [8, 9], **{key: [value] * 2 for key, value in FACTS.items()}})
    judged = rewound.judge_frame(small(), machines=facts)
    assert list(judged.index) == [7, 8] and judged.loc[8, "error"] is None
    assert judged.loc[7, "error"].startswith("rated_voltage_V: read nothing")
    with pytest.raises(rewound.InputError, match="name of a machine on every row"):
        rewound.judge_frame(small(), machines=facts.assign(machine=[8, None]))


def test_an_impossible_policy_is_raised_not_repeated_for_each_machine():
    with pytest.raises(rewound.InputError, match="did you mean needed"):
        rewound.judge_frame(small(), machines=FACTS, policy={"format": "rewound-policy/1", "neded": []})


def test_an_empty_frame_has_the_columns_of_a_full_one(readings, reference, judged):
    empty = rewound.judge_frame(readings.iloc[:0], reference)
    one_speed = rewound.judge_frame(readings[readings["speed"] == "low"], reference, policy=DRAW_ONLY)
    assert list(one_speed.columns) == list(judged.columns) and one_speed["level_percent.high"].isna().all()
    named = rewound.judge_frame(readings.iloc[:40], reference, speeds=["low"])
    assert list(named.filter(like=".").columns) == ["level_percent.low", "level_low.low", "level_high.low"]
    assert list(empty.columns) == list(judged.columns) and list(empty.dtypes) == list(judged.dtypes)
    assert len(empty) == 0


def test_three_phases_stand_in_columns_by_line():
    amps = {f"current_L{line}_A": [0.27, 0.34, 0.42, 0.28, 0.35, 0.43] for line in (1, 2, 3)}
    frame = small(**amps, leads=[None, None, None, "as_marked", "as_marked", "as_marked"]).drop(columns="current_A")
    facts = {**FACTS, "phases": 3, "running_circuit": "three_phase"}
    records = rewound.records_from_frame(frame, facts)
    assert records[7].to_dict()["run_up"][0]["current_A"] == [[0.27, 0.34, 0.42]] * 3
    back = rewound.frame_from_records(records.values())
    assert list(back["current_L3_A"]) == amps["current_L3_A"]
    frame.loc[4, "current_L2_A"] = -1.0
    judged = rewound.judge_frame(frame, machines=facts)
    assert judged.loc[8, "error"].startswith("current_L2_A, reading 2 of speed high: read -1,")


def test_every_fact_is_a_key_of_the_record(demo_dict):
    from rewound import _frame_columns as columns

    for column in columns.FACTS + ("winding_C", "leads") + columns.LISTS:
        values = {key: demo_dict[key] for key in ("format", "machine", "visit", "run_up")}
        *sections, key = columns.place_in_record(column) if column in columns.FACTS else ["run_up", column]
        place = values
        for section in sections:
            place = place.setdefault(section, {}) if section != "run_up" else place[section][0]
        kept = place.get(key)
        place[key] = {"no": "such value"}
        with pytest.raises(rewound.InputError) as caught:
            rewound.Record.from_dict(values)
        assert caught.value.code != "unknown_key", column
        if kept is None:
            del place[key]
        else:
            place[key] = kept


def test_every_key_of_machine_and_visit_is_a_fact():
    from rewound import _core
    from rewound import _frame_columns as columns

    for section, known in (("machine", columns.MACHINE_FACTS), ("visit", columns.VISIT_FACTS)):
        keys = {key["name"] for key in _core.record_keys() if key["section"] == section} - {"id"}
        assert len(keys) >= 15 and keys == set(known)
        for key in keys:
            assert f"\n{key} = " in rewound.blank_record() or f"\n# {key} = " in rewound.blank_record()


def test_columns_are_those_of_the_tools_long_table(tmp_path):
    from rewound import _frame_columns as columns

    tool = pathlib.Path(rewound.__file__).parents[2] / "bin" / "rewound"
    if not tool.exists():
        pytest.skip("the command-line tool is not beside this package")
    table = tmp_path / "long.csv"
    for name in columns.KNOWN:
        table.write_text(name + ",x\n1,1\n", encoding="utf-8")
        done = subprocess.run([tool, "batch", table], capture_output=True, text=True)
        assert "x: read a column that is not known" in done.stderr, (name, done.stderr)


def test_what_frame_from_records_writes_the_tool_s_batch_reads_and_judges_alike(tool, records, reference, tmp_path):
    mixed = [*records, rewound.sample_record("gh33_three_phase"), rewound.sample_record()]
    table, known = tmp_path / "season.csv", tmp_path / "model.toml"
    frame = rewound.frame_from_records(mixed)
    frame.to_csv(table, index=False)
    reference.save(known)
    done = subprocess.run([tool, "batch", table, "--reference", known], capture_output=True, text=True, timeout=120)
    batch = pd.read_csv(io.StringIO(done.stdout), index_col="machine")
    judged = rewound.judge_frame(frame, [reference])
    assert done.returncode in (0, 10, 20), done.stderr
    assert list(batch.index) == list(judged.index) and len(judged) == len(mixed)
    assert batch["error"].isna().all() and judged["error"].isna().all()
    assert list(batch["decision"]) == list(judged["decision"])
    assert list(batch["reasons"]) == list(judged["reasons"]) and list(batch["next"].fillna("")) == list(judged["next"])
    assert list(batch["reference_machines"]) == list(judged["reference_machines"])
    np.testing.assert_allclose(batch["abnormality"], judged["abnormality"], rtol=0.01)
    again = rewound.records_from_frame(pd.read_csv(table))
    assert list(again.values()) == [run_ups_only(record) for record in mixed]


def test_a_frame_of_one_machine_twice_is_refused(records):
    with pytest.raises(rewound.PreconditionError, match="twice"):
        rewound.frame_from_records([records[0], records[0]])


def test_without_pandas_the_error_says_so(monkeypatch, records):
    import sys

    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(rewound.MissingPackageError, match="pandas") as caught:
        rewound.frame_from_records(records)
    assert isinstance(caught.value, ImportError) and caught.value.code == "missing_package"


def test_a_frame_of_machines_may_hold_other_columns_and_units_too(readings, reference):
    machines = pd.DataFrame({"machine": readings["machine"].unique(), "rated_voltage_kV": 0.23, "colour": "green"})
    bare = readings.drop(columns="rated_voltage_V")
    asked = {"machines": machines, "policy": DRAW_ONLY}
    with pytest.raises(rewound.InputError, match="colour"), pytest.warns(UserWarning, match="rated_voltage_kV"):
        rewound.judge_frame(bare, reference, **asked)
    with pytest.warns(UserWarning, match="machines.rated_voltage_kV is taken as rated_voltage_V, times 1000"):
        judged = rewound.judge_frame(bare, reference, extra="ignore", **asked)
    assert judged["decision"].notna().all()


@pytest.mark.parametrize("fact", [{"true_rms": True}, {"full_scale": 10.0}])
def test_a_meter_s_column_stands_without_its_accuracy_and_changes_no_verdict(readings, reference, fact):
    bare = readings[[name for name in readings.columns if not name.startswith("instruments.")]].copy()
    stated = bare.assign(**{f"instruments.ammeter.{key}": value for key, value in fact.items()})
    for name in ("decision", "abnormality"):
        without = rewound.judge_frame(bare, reference, policy=DRAW_ONLY)[name]
        pd.testing.assert_series_equal(rewound.judge_frame(stated, reference, policy=DRAW_ONLY)[name], without)
