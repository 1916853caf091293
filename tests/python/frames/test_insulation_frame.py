# SPDX-License-Identifier: MIT
"""Tables of insulation tests. Source: judge on the same readings, and IEEE 43's formulas written out here."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

import rewound

FACTS = {"rated_voltage_V": 230.0, "insulation_system": "thermosetting", "winding_kind": "random_wound"}
FACTS["wound_year"] = 2026
TIMES = [15.0, 30.0, 60.0, 120.0, 300.0, 600.0]
TESTS = {
    "sound": [180.0, 240.0, 310.0, 420.0, 590.0, 720.0],
    "damp": [2.0, 2.1, 2.2, 2.2, 2.3, 2.4],
    "short": [300.0, 350.0, 400.0, 470.0, np.nan, np.nan],
}


def long_table(**more):
    rows = [
        {"machine": name, "time_s": time, "resistance_Mohm": value, "test_voltage_V": 500.0, "winding_C": 24.0,
         **FACTS, **more}
        for name, values in TESTS.items() for time, value in zip(TIMES, values)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def wide_table():
    rows = [
        {"machine": name, "test_voltage_V": 500.0, "winding_C": 24.0, **FACTS,
         **{"10min" if time == 600 else f"{time:g}s": value for time, value in zip(TIMES, values)}}
        for name, values in TESTS.items()
    ]  # fmt: skip
    return pd.DataFrame(rows)


def judged_alone(name, **facts):
    """The findings of a whole judgement of one record with these readings."""
    read = [(time, value) for time, value in zip(TIMES, TESTS[name]) if not np.isnan(value)]
    values = rewound.sample_record().to_dict()
    values["machine"] = {
        "id": name, "phases": 1, "rated_frequency_Hz": 50.0, "speeds": ["high"], "speed_control": "unknown",
        "running_circuit": "unknown", **FACTS, **facts,
    }  # fmt: skip
    values["run_up"] = values["run_up"][:1]
    values["visit"] = {"date": values["visit"]["date"], "state": "as_found"}
    values["insulation"] = [
        {"circuit": "winding to frame", "test_voltage_V": 500.0, "winding_C": 24.0, "time_s": [time for time, _ in read],
         "resistance_Mohm": [value for _, value in read]}
    ]  # fmt: skip
    for section in ("resistance", "starts", "coast_down", "heat_run", "leakage", "earth", "instruments", "checks"):
        values.pop(section, None)
    findings = rewound.judge(rewound.Record.from_dict(values)).findings
    return {finding["quantity"]: finding for finding in findings if finding["subject"] == "winding to frame"}


@pytest.mark.parametrize("table", [long_table(), wide_table()], ids=["long", "wide"])
def test_rows_are_what_the_judgement_of_each_record_finds(table):
    out = rewound.judge_insulation(table).set_index("machine")
    assert list(out.index) == list(TESTS) and (out["circuit"] == "winding to frame").all()
    for name in TESTS:
        found, row = judged_alone(name), out.loc[name]
        minimum = found["insulation_at_40_C"]
        assert (row["at_40_C_Mohm"], row["at_40_C_low"]) == (minimum["value"], minimum["low"])
        assert (row["minimum_Mohm"], row["source"]) == (minimum["limit_low"], minimum["source"])
        assert row["polarization_index"] == found["polarization_index"]["value"]
        assert row["absorption_ratio"] == found["absorption_ratio"]["value"]
        outcomes = [f["outcome"] for f in found.values() if f["bearing"] == "decides"]
        assert row["outcome"] == next((o for o in ("fails", "undecided") if o in outcomes), "conforms")
        assert row["error"] is None and row["left_out"] == ""
    assert out["outcome"].to_dict() == {"sound": "conforms", "damp": "fails", "short": "conforms"}
    assert "2.20 Mohm" in out.loc["damp", "reason"]


def test_threads_change_nothing():
    pd.testing.assert_frame_equal(
        rewound.judge_insulation(long_table()), rewound.judge_insulation(long_table(), threads=4)
    )


def test_facts_may_stand_apart():
    bare = long_table().drop(columns=list(FACTS))
    machines = pd.DataFrame([{"machine": name, **FACTS} for name in TESTS])
    whole = rewound.judge_insulation(long_table())
    pd.testing.assert_frame_equal(rewound.judge_insulation(bare, machines), whole)
    pd.testing.assert_frame_equal(rewound.judge_insulation(bare, FACTS), whole)


@pytest.mark.parametrize("cell", ["OL", ">2000", "> 2000", np.inf])
def test_beyond_the_range_counts_as_at_least_its_end(cell):
    table = pd.DataFrame({"machine": ["a"], "60s": [cell], "test_voltage_V": 500, "winding_C": 40.0, **FACTS})
    row = rewound.judge_insulation(table.assign(range_Mohm=2000.0)).iloc[0]
    assert row["outcome"] == "conforms" and "at least 2000 Mohm" in row["reason"]
    assert_allclose(row["at_40_C_Mohm"], 2000.0)
    assert np.isinf(row["at_40_C_high"])


def test_beyond_a_range_that_ends_too_low_neither_fails_nor_conforms():
    table = pd.DataFrame({"machine": ["a"], "60s": [">2"], "test_voltage_V": 500, "winding_C": 40.0, **FACTS})
    assert rewound.judge_insulation(table)["outcome"].tolist() == ["undecided"]


def test_beyond_a_range_that_nobody_tells_is_undecided():
    table = pd.DataFrame(
        {"machine": ["a"], "30s": [900.0], "60s": ["OL"], "test_voltage_V": 500, "winding_C": 40.0, **FACTS}
    )
    row = rewound.judge_insulation(table).iloc[0]
    assert row["outcome"] == "undecided" and "range_Mohm" in row["reason"]
    row = rewound.judge_insulation(table.drop(columns="30s")).iloc[0]
    assert row["outcome"] == "undecided" and "range_Mohm" in row["reason"]


def test_index_beyond_the_range_is_at_least_its_end_over_the_minute():
    table = pd.DataFrame(
        {"machine": ["a"], "60s": [500.0], "600s": [">2000"], "test_voltage_V": 500, "winding_C": 40.0, **FACTS}
    )
    row = rewound.judge_insulation(table).iloc[0]
    assert np.isnan(row["polarization_index"]) and row["polarization_index_low"] == 4.0


def test_a_bad_cell_costs_its_reading_and_is_said():
    table = long_table().astype({"resistance_Mohm": object})
    table.loc[1, "resistance_Mohm"] = "wet"
    table.loc[7, "resistance_Mohm"] = -3.0
    out = rewound.judge_insulation(table).set_index("machine")
    assert "'wet' Mohm: not a number" in out.loc["sound", "left_out"] and np.isfinite(out.loc["sound", "at_40_C_Mohm"])
    assert "above 0" in out.loc["damp", "left_out"] and out.loc["short", "left_out"] == ""
    assert out["error"].isna().all()


def test_other_units_are_converted_and_said():
    table = long_table()
    table["resistance_Gohm"] = table.pop("resistance_Mohm") / 1000.0
    table["test_voltage_kV"] = table.pop("test_voltage_V") / 1000.0
    with pytest.warns(UserWarning, match="is taken as") as said:
        out = rewound.judge_insulation(table)
    assert len(said) == 2 and "times 1000" in str(said[0].message) + str(said[1].message)
    assert_allclose(out["at_40_C_Mohm"], rewound.judge_insulation(long_table())["at_40_C_Mohm"], rtol=1e-12)


def test_nullable_columns_are_read():
    table = long_table().convert_dtypes()
    pd.testing.assert_frame_equal(rewound.judge_insulation(table), rewound.judge_insulation(long_table()))


def test_a_rated_voltage_that_is_not_stated_does_not_fail_a_machine():
    row = rewound.judge_insulation(wide_table().drop(columns="rated_voltage_V").head(1)).iloc[0]
    assert row["outcome"] == "undecided" and row["reason"].startswith("rated_voltage_V is not stated")
    assert np.isnan(row["minimum_Mohm"]) and np.isfinite(row["at_40_C_Mohm"])


def test_mistakes_of_the_table_are_refused_and_those_of_a_test_told():
    with pytest.raises(rewound.InputError, match="did you mean resistance_Mohm"):
        rewound.judge_insulation(long_table().rename(columns={"resistance_Mohm": "resistance_Mom"}))
    with pytest.raises(rewound.InputError, match="colour"):
        rewound.judge_insulation(wide_table().assign(colour="red"))
    assert rewound.judge_insulation(wide_table().assign(colour="red"), extra="ignore")["error"].isna().all()
    both = wide_table().assign(winding_C=[24.0, None, 24.0])
    out = rewound.judge_insulation(both).set_index("machine")
    assert "winding_C" in out.loc["damp", "error"] and out.loc["damp", "outcome"] is None
    differs = long_table()
    differs.loc[2, "wound_year"] = 1960
    assert "wound_year: read 1960 and 2026" in rewound.judge_insulation(differs).loc[0, "error"]
    with pytest.raises(rewound.PreconditionError):
        rewound.judge_insulation(wide_table(), threads=0)
    with pytest.raises(TypeError, match="pandas.DataFrame"):
        rewound.judge_insulation([1, 2])


def by_ieee_43(megohm, celsius, system):
    """IEEE 43-2013 6.3, the two coefficients from memory (unverified)."""
    if system == "thermoplastic":
        return megohm * 0.5 ** ((40.0 - celsius) / 10.0)
    coefficient = np.where(celsius >= 40.0, -4230.0, -1245.0)
    return megohm * np.exp(coefficient * (1.0 / (celsius + 273.0) - 1.0 / 313.0))


@pytest.mark.parametrize("system", ["thermosetting", "thermoplastic"])
def test_correction_is_the_standards_formula(system):
    celsius = np.linspace(10.0, 85.0, 16)
    out = rewound.correct_insulation(np.full((3, 16), 120.0), winding_C=celsius, insulation_system=system)
    assert out.shape == (3, 16)
    assert_allclose(out[1], by_ieee_43(120.0, celsius, system), rtol=1e-12)
    beyond = rewound.correct_insulation(["OL", ">2000", 5.0], winding_C=40.0, insulation_system=system)
    assert np.isposinf(beyond[:2]).all() and beyond[2] == 5.0


def test_functions_refuse_what_cannot_be():
    with pytest.raises(rewound.InputError, match="did you mean thermosetting"):
        rewound.correct_insulation(1.0, winding_C=20.0, insulation_system="thermoseting")
    with pytest.raises(rewound.PreconditionError):
        rewound.correct_insulation(-1.0, winding_C=20.0, insulation_system="thermosetting")
    with pytest.raises(rewound.PreconditionError, match="wet"):
        rewound.correct_insulation(["wet"], winding_C=20.0, insulation_system="thermosetting")
    with pytest.raises(rewound.PreconditionError, match="time_s"):
        rewound.polarization_index([60, 600], [1.0, 2.0, 3.0])


def test_index_is_the_ratio_of_the_readings_at_its_times():
    rows = np.array(list(TESTS.values()))
    assert_allclose(rewound.polarization_index(TIMES, rows), rows[:, 5] / rows[:, 2])
    assert_allclose(rewound.polarization_index(TIMES, rows, later_s=60, earlier_s=30), rows[:, 2] / rows[:, 1])
    assert np.isnan(rewound.polarization_index([60, 600], [500.0, "OL"]))


def test_minimum_is_that_of_the_judgement():
    # Source: IEEE 43-2000/2013 12.3.
    assert rewound.insulation_minimum(230.0).tolist() == 5.0
    assert_allclose(rewound.insulation_minimum([230.0, 4000.0], wound_year=1960), [1.23, 5.0])
    kinds = ["random_wound", "form_wound", "field", "armature", None]
    assert_allclose(rewound.insulation_minimum(2300.0, winding_kind=kinds, wound_year=2020), [5, 100, 3.3, 5, 100])
    for name, facts in (("sound", {}), ("sound", {"wound_year": 1960}), ("sound", {"winding_kind": "armature"})):
        stated = {key: {**FACTS, **facts}[key] for key in ("winding_kind", "wound_year")}
        asked = judged_alone(name, **facts)["insulation_at_40_C"]["limit_low"]
        assert_allclose(rewound.insulation_minimum(230.0, **stated), asked)
    own = {"format": "rewound-policy/1", "limits": {"insulation_minimum_Mohm": 20.0}}
    assert rewound.insulation_minimum(230.0, policy=own).tolist() == 20.0


def test_absorption_takes_one_time_axis_and_readings_beyond_the_range():
    rows = np.array([TESTS["sound"], TESTS["short"]])
    batch = rewound.fit_absorption(TIMES, rows, test_voltage_V=500.0)
    alone = rewound.fit_absorption(TIMES, TESTS["sound"], test_voltage_V=500.0)
    assert batch.params[0].tolist() == alone.params[0].tolist()
    assert batch.degrees_of_freedom.tolist() == [3, 1]
    beyond = rewound.fit_absorption(TIMES, TESTS["sound"][:5] + ["OL"], test_voltage_V=500.0)
    five = rewound.fit_absorption(TIMES[:5], TESTS["sound"][:5], test_voltage_V=500.0)
    assert beyond.params.tolist() == five.params.tolist()


def test_absolute_uncertainties_of_an_absorption_are_not_scaled():
    rng = np.random.default_rng(4)
    read = np.array(TESTS["sound"]) * np.exp(0.05 * rng.normal(size=6))
    usual, absolute = (
        rewound.fit_absorption(TIMES, read, test_voltage_V=500.0, resistance_u_Mohm=0.005 * read, absolute_sigma=yes)
        for yes in (False, True)
    )
    assert usual.scale[0] > 2 and absolute.scale[0] == 1.0 and absolute.chi2[0] == usual.chi2[0]
    assert_allclose(usual.scale[0], np.sqrt((4 + usual.chi2[0]) / (4 + 3)), rtol=1e-12)


def test_a_test_that_is_beyond_the_range_throughout_is_undecided_until_the_range_is_told():
    cells = {"machine": ["a"], "30s": ["OL"], "60s": ["OL"], "test_voltage_V": 500, "winding_C": 40.0, **FACTS}
    frame = pd.DataFrame(cells)
    (row,) = rewound.judge_insulation(frame).to_dict("records")
    assert (row["outcome"], row["error"]) == ("undecided", None) and "enter it (range_Mohm)" in row["reason"]
    (row,) = rewound.judge_insulation(frame.assign(range_Mohm=2000.0)).to_dict("records")
    assert row["outcome"] == "conforms"
    early = pd.DataFrame({**cells, "60s": [None]})
    assert "no reading that is a number" in rewound.judge_insulation(early)["error"][0]
