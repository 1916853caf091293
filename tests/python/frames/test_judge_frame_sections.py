# SPDX-License-Identifier: MIT
"""judge_frame with insulation, ohms and starts, tables as they come. Source: judge of the same records one by one."""

import numpy as np
import pandas as pd
import pytest

import rewound

SEEDS = (21, 22, 23, 24, 25)


@pytest.fixture(scope="module")
def records():
    return [rewound.simulate("circulator-40", seed=n) for n in SEEDS]


@pytest.fixture(scope="module")
def run_up(records):
    frame = rewound.frame_from_records(records)
    return frame[[name for name in frame.columns if not name.startswith("instruments.")]]


def rows_of(records, section):
    return pd.DataFrame(
        {"machine": record.machine, **row} for record in records for row in record.to_dict().get(section, [])
    )


@pytest.fixture(scope="module")
def tables(records):
    insulation = rows_of(records, "insulation").explode(["time_s", "resistance_Mohm"], ignore_index=True)
    return {
        "insulation": insulation,
        "resistance": rows_of(records, "resistance"),
        "starts": rows_of(records, "starts"),
    }


def without(record, *sections):
    return rewound.Record.from_dict({key: value for key, value in record.to_dict().items() if key not in sections})


def comparable(records):
    left = ("instruments", "leakage", "earth", "checks", "withstand", "coast_down", "heat_run", "cord", "capacitor")
    return [without(record, *left) for record in records]


def test_records_of_all_sections_come_back(run_up, tables, records):
    found = rewound.records_from_frame(run_up, **tables)
    for record, there in zip(comparable(records), found.values()):
        for section in ("insulation", "resistance", "starts", "run_up"):
            assert there.to_dict()[section] == record.to_dict()[section], section


def test_rows_are_those_of_judging_the_whole_records(run_up, tables, records):
    out = rewound.judge_frame(run_up, **tables)
    assert out["error"].isna().all() and (out["left_out"] == "").all()
    alone = rewound.judge_frame(run_up)
    for record in comparable(records):
        result = rewound.judge(record)
        row = out.loc[record.machine]
        assert (row["decision"], row["reasons"]) == (result.decision, " | ".join(result.reasons))
    assert list(out.columns) == list(alone.columns)
    assert (out["reasons"] != alone["reasons"]).all()


def test_a_damp_machine_is_held_by_its_insulation(run_up, tables):
    damp = tables["insulation"].copy()
    damp.loc[damp["machine"] == damp["machine"].iloc[0], "resistance_Mohm"] = 0.4
    out = rewound.judge_frame(run_up, insulation=damp)
    assert out["decision"].iloc[0] == "hold" and "insulation" in out["fails"].iloc[0]
    assert "insulation" not in out["fails"].iloc[1]


def test_a_machine_with_insulation_alone_has_a_row(run_up, tables):
    more = pd.concat([tables["insulation"], tables["insulation"].head(1).assign(machine="no run-up")])
    facts = {"rated_voltage_V": 230.0, "rated_frequency_Hz": 50.0}
    bare = run_up.drop(columns=list(facts))
    out = rewound.judge_frame(bare, machines=facts, insulation=more)
    assert out.index[-1] == "no run-up" and out["decision"].iloc[-1] == "undecided" and out["error"].iloc[-1] is None


def test_beyond_the_range_can_conform_and_not_fail(run_up, tables):
    name = run_up["machine"].iloc[0]
    test = {"machine": [name], "test_voltage_V": 500.0, "winding_C": 30.0}
    good = rewound.judge_frame(run_up, insulation=pd.DataFrame({**test, "60s": [">2000"]}))
    assert good.loc[name, "left_out"] == "" and "insulation" not in good.loc[name, "fails"]
    low = rewound.judge_frame(run_up, insulation=pd.DataFrame({**test, "30s": [1.5], "60s": [">2"]}))
    assert "less than is asked for" in low.loc[name, "left_out"] and "insulation" not in low.loc[name, "fails"]


def test_a_bad_cell_costs_one_reading_and_is_said(run_up):
    table = run_up.astype({"current_A": object}).copy()
    name = table["machine"].iloc[0]
    table.iloc[1, list(table.columns).index("current_A")] = "o.32"
    out = rewound.judge_frame(table)
    assert out["error"].isna().all()
    said = out.loc[name, "left_out"]
    assert said.startswith("reading 2 of speed") and "current_A 'o.32' is not a number" in said
    assert (out["left_out"].iloc[1:] == "").all()
    less = rewound.records_from_frame(table)[name].to_dict()["run_up"][0]
    whole = rewound.records_from_frame(run_up)[name].to_dict()["run_up"][0]
    assert len(less["voltage_V"]) == len(whole["voltage_V"]) - 1


@pytest.mark.parametrize("how", ["nullable", "object", "arrow-like strings"])
def test_columns_of_other_types_read_alike(run_up, how):
    table = run_up.convert_dtypes() if how == "nullable" else run_up.astype(object)
    if how == "arrow-like strings":
        table = run_up.astype({"speed": "string", "machine": "string"})
    pd.testing.assert_frame_equal(
        rewound.judge_frame(table).reset_index(drop=True), rewound.judge_frame(run_up).reset_index(drop=True)
    )


def test_other_units_are_converted_and_said(run_up):
    table = run_up.copy()
    table["current_mA"] = table.pop("current_A") * 1000.0
    with pytest.warns(UserWarning, match="current_mA is taken as current_A, times 0.001"):
        out = rewound.judge_frame(table)
    whole = rewound.judge_frame(run_up)
    assert (out["decision"] == whole["decision"]).all() and out["error"].isna().all()


def test_unknown_columns_are_ignored_where_asked(run_up):
    table = run_up.assign(colour="green")
    with pytest.raises(rewound.InputError, match="colour"):
        rewound.judge_frame(table)
    pd.testing.assert_frame_equal(rewound.judge_frame(table, extra="ignore"), rewound.judge_frame(run_up))
    with pytest.raises(rewound.PreconditionError, match="ignore"):
        rewound.judge_frame(table, extra="drop")


def test_each_machine_is_held_against_the_reference_of_its_model(records):
    others = [rewound.simulate("desk-25", seed=n) for n in (1, 2)]
    frame = rewound.frame_from_records([*records, *others])
    frame = frame[[name for name in frame.columns if not name.startswith("instruments.")]]
    good = [
        rewound.learn(rewound.simulate(model, seed=n) for n in range(1, 4)) for model in ("circulator-40", "desk-25")
    ]
    out = rewound.judge_frame(frame, good)
    for model, reference in zip(("circulator-40", "desk-25"), good):
        part = frame[frame["model"] == model]
        alone = rewound.judge_frame(part, reference)
        assert len(alone) and (out.loc[alone.index, "abnormality"] == alone["abnormality"]).all()
    with pytest.raises(rewound.PreconditionError, match="one a model"):
        rewound.judge_frame(frame, [good[0], good[0]])


def test_peers_are_a_reference_of_the_others(run_up):
    out = rewound.judge_frame(run_up, peers=True)
    records = list(rewound.records_from_frame(run_up).values())
    for record in records:
        reference = rewound.learn([other for other in records if other is not record])
        assert out.loc[record.machine, "abnormality"] == rewound.judge(record, reference).abnormality
    one = run_up[run_up["machine"] == run_up["machine"].iloc[0]]
    assert (
        np.isnan(rewound.judge_frame(one, peers=True)["abnormality"]).all()
        == np.isnan(rewound.judge_frame(one)["abnormality"]).all()
    )


@pytest.mark.parametrize("cells, words", [(["OL", "OL"], "range_Mohm"), (["x", "y"], "no reading to judge by")])
def test_a_test_without_any_number_costs_itself_and_not_the_machine(run_up, cells, words):
    one = run_up[run_up["machine"] == run_up["machine"].iloc[0]]
    test = pd.DataFrame({
        "machine": one["machine"].iloc[0], "time_s": [30, 60], "resistance_Mohm": cells, "test_voltage_V": 500,
        "winding_C": 23.0, "circuit": "winding to frame",
    })  # fmt: skip
    alone, beside = rewound.judge_frame(one), rewound.judge_frame(one, insulation=test)
    assert beside["error"].isna().all() and words in beside["left_out"].iloc[0]
    assert (beside["abnormality"] == alone["abnormality"]).all()


def test_facts_beside_the_insulation_count_and_may_not_contradict_others(run_up):
    one = run_up[run_up["machine"] == run_up["machine"].iloc[0]].drop(columns="insulation_system")
    test = pd.DataFrame({
        "machine": one["machine"].iloc[:1], "60s": 300.0, "test_voltage_V": 500, "winding_C": 20.0, "date": "2026-05-01",
        "insulation_system": "thermoplastic", "instruments.insulation_tester.name": "the old one",
        "instruments.insulation_tester.reading_percent": 20.0, "instruments.insulation_tester.digits": 2,
        "instruments.insulation_tester.resolution": 1.0,
    })  # fmt: skip
    values = next(iter(rewound.records_from_frame(one, insulation=test).values())).to_dict()
    assert values["machine"]["insulation_system"] == "thermoplastic"
    assert values["instruments"]["insulation_tester"]["reading_percent"] == 20.0
    assert values["visit"]["date"] == one["date"].iloc[0]  # a test's own date tells tests apart
    wrong = rewound.judge_frame(one, insulation=test.assign(rated_voltage_V=400.0))["error"].iloc[0]
    assert "rated_voltage_V: read 230" in wrong and "beside the insulation, 400" in wrong


def test_machines_may_say_what_their_insulation_and_ohms_were_read_with(run_up, tables, records):
    meters = records[0].to_dict()["instruments"]
    facts = {f"instruments.ohmmeter.{key}": value for key, value in meters["ohmmeter"].items()}
    found = rewound.records_from_frame(run_up, facts, resistance=tables["resistance"])
    assert all(record.to_dict()["instruments"]["ohmmeter"] == meters["ohmmeter"] for record in found.values())
