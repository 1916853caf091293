# SPDX-License-Identifier: MIT
"""Results are values: they cannot be changed, equal ones are equal, and they are shown and written."""

import copy
import inspect
import json
import pickle

import numpy as np
import pandas as pd
import pytest

import rewound


@pytest.fixture(scope="module")
def result():
    return rewound.judge(rewound.sample_record())


def fits():
    volts, amps = np.array([115.0, 150.0, 184.0, 230.0]), np.array([0.21, 0.28, 0.336, 0.42])
    times = np.array([15.0, 30.0, 60.0, 120.0, 600.0])
    return [
        rewound.fit_draw(volts, amps, rated_voltage_V=230.0),
        rewound.fit_absorption(times, [180.0, 240.0, 310.0, 420.0, 720.0], test_voltage_V=500.0),
        rewound.fit_coast_down([0, 2, 4, 6, 8, 10], [1400, 1106, 875, 684, 518, 370]),
        rewound.project_heat_run([0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5], rise_u_K=0.3),
        rewound.proven_starts([10, 20], [10, 19]),
        rewound.explain_resistance(23.0, 130, turns=640, wire_diameter_mm=0.315),
    ]


def test_nothing_of_a_result_can_be_changed(result):
    for change in (
        lambda: result.findings[0].update(outcome="conforms"),
        lambda: result.findings[0].__setitem__("outcome", "conforms"),
        lambda: result.steps.pop("flag"),
    ):
        with pytest.raises(TypeError, match="cannot be changed"):
            change()
    with pytest.raises(AttributeError):
        result.findings.append({})
    with pytest.raises(AttributeError):
        result.decision = "release"
    changed = result.to_dict()
    changed["findings"][0]["outcome"] = "changed"
    assert result.findings == result.to_dict()["findings"] and result.to_dict()["findings"] == result.findings
    loose = copy.deepcopy(result.findings[0])
    loose["outcome"] = "changed"
    assert type(loose) is dict and result.findings[0]["outcome"] != "changed"
    assert json.loads(json.dumps(result.findings)) == result.to_dict()["findings"]
    assert pickle.loads(pickle.dumps(result.findings)) == result.findings
    assert len(pd.DataFrame(result.findings)) == len(result.findings)


def test_equal_results_are_equal(result):
    again = rewound.judge(rewound.sample_record())
    other = rewound.judge(rewound.sample_record("gh07_recheck"))
    assert result == again and hash(result) == hash(again) and result != other and result != "release"
    for one, two in zip(fits(), fits()):
        assert one == two and hash(one) == hash(two) and not one != two
        assert one != fits()[0] or type(one) is rewound.DrawFit
        assert pickle.loads(pickle.dumps(one)) == one
        assert "<div" in one._repr_html_()
    shifted = rewound.fit_draw([115.0, 230.0], [0.2, 0.4], rated_voltage_V=230.0)
    assert shifted != rewound.fit_draw([115.0, 230.0], [0.2, 0.41], rated_voltage_V=230.0)


def test_arrays_of_fits_are_read_only():
    for fit in fits():
        held = fit if isinstance(fit, tuple) else vars(fit).values()
        arrays = [value for value in held if isinstance(value, np.ndarray)]
        for array in arrays:
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0
    draw = fits()[0]
    for array in (draw.values["exponent"], draw.errors["a"], draw.residuals, draw.nobs, draw.aicc, draw.reduced_chi2):
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0
    with pytest.raises(TypeError):
        draw.values["exponent"] = 1.0


def test_results_and_records_are_written_and_come_back(result, tmp_path):
    record = rewound.sample_record()
    record.save(tmp_path / "visit.toml")
    assert rewound.load_record(tmp_path / "visit.toml") == record
    result.save(tmp_path / "r.json")
    assert json.loads((tmp_path / "r.json").read_text(encoding="utf-8")) == result.to_dict()
    result.save(tmp_path / "r.txt")
    assert (tmp_path / "r.txt").read_text(encoding="utf-8") == result.to_text()
    result.save(tmp_path / "r.html")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert page == result.to_html() and page.lstrip().lower().startswith("<!doctype html") and "<script" not in page
    with pytest.raises(rewound.PreconditionError, match=".html"):
        result.save(tmp_path / "r.pdf")


def test_a_page_is_that_of_the_tool(result, tool, repository):
    import subprocess

    path = repository / "reference" / "records" / "good" / "gh07_after_repair.toml"
    page = subprocess.run([tool, "judge", path, "--format", "html"], capture_output=True, text=True, check=False).stdout
    assert page == pickle.loads(pickle.dumps(result)).to_html()


def test_blank_record_policy_samples_and_versions(tool, capsys, monkeypatch, tmp_path):
    import subprocess

    monkeypatch.chdir(tmp_path)
    printed = subprocess.run([tool, "template"], capture_output=True, text=True, check=True).stdout
    assert rewound.blank_record() == printed
    policy = rewound.default_policy()
    assert policy["format"] == "rewound-policy/1" and "draw" in policy["needed"]
    record = rewound.sample_record()
    assert rewound.judge(record, policy=policy).decision == rewound.judge(record).decision
    policy["needed"].append("nothing")
    assert "nothing" not in rewound.default_policy()["needed"]
    assert all(isinstance(rewound.sample_record(name), rewound.Record) for name in rewound.sample_names())
    assert len(rewound.sample_names()) >= 8
    with pytest.raises(rewound.InputError, match="did you mean gh07_recheck"):
        rewound.sample_record("gh07_rechek")
    rewound.show_versions()
    said = capsys.readouterr().out
    assert f"rewound {rewound.__version__}" in said and f"numpy {np.__version__}" in said


def classes():
    found = {name: getattr(rewound, name) for name in rewound.__all__ if inspect.isclass(getattr(rewound, name))}
    return {name: kind for name, kind in found.items() if not issubclass(kind, Exception)}


def callables():
    """Public functions and methods by their names."""
    found = {name: getattr(rewound, name) for name in rewound.__all__ if inspect.isfunction(getattr(rewound, name))}
    for kind in classes().values():
        for name in dir(kind):
            if not name.startswith("_") and callable(getattr(kind, name)) and not hasattr(tuple, name):
                found[f"{kind.__name__}.{name}"] = getattr(kind, name)
    return found


def test_everything_public_has_a_signature():
    found = callables()
    assert len(found) > 60
    for thing in [*found.values(), *classes().values()]:
        inspect.signature(thing)


def test_what_comes_after_two_arguments_is_given_by_name():
    for name, thing in callables().items():
        places = [
            each.name
            for each in inspect.signature(thing).parameters.values()
            if each.kind in (each.POSITIONAL_ONLY, each.POSITIONAL_OR_KEYWORD) and each.name != "self"
        ]
        assert len(places) <= 2, (name, places)


def test_everything_public_shows_itself_in_a_notebook():
    assert [name for name, kind in classes().items() if not hasattr(kind, "_repr_html_")] == []
    spread = rewound.learn_spread([rewound.learn(rewound.simulate("circulator-40", seed=n) for n in (1, 2))])
    design = rewound.SpeedStep(series_resistance_ohm=12.5)
    for thing, words in ((spread, "2 machines in 1 references"), (design, "series_resistance_ohm: 12.5")):
        assert words in thing._repr_html_()


@pytest.mark.parametrize(
    "call, words",
    [
        (lambda: rewound.judge("gh07.toml"), "record: read a value of type str, allowed: a Record"),
        (lambda: rewound.judge(rewound.sample_record(), "m.toml"), "reference: read a value of type str"),
        (lambda: rewound.judge(rewound.sample_record(), policy=3), "policy: read a value of type int"),
        (lambda: rewound.learn(3), "records: read a value of type int"),
        (lambda: rewound.learn(["a"]), "records\\[0\\]: read a value of type str, allowed: a Record"),
        (lambda: rewound.load_record(3), "path: read a value of type int"),
        (lambda: rewound.Record(), "Record: called, allowed: load_record or Record.from_dict"),
        (lambda: rewound.Reference(), "Reference: called, allowed: learn or load_reference"),
        (lambda: rewound.Spread(), "Spread: called, allowed: learn_spread or load_spread"),
    ],
)
def test_wrong_types_say_what_was_expected_in_one_line(call, words):
    with pytest.raises(TypeError, match=words) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_old_ways_of_calling_work_for_a_release_and_say_so():
    volts, amps = [115.0, 184.0, 230.0], [0.21, 0.336, 0.42]
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=230.0)
    with pytest.deprecated_call(match="rated_voltage_V"):
        assert rewound.fit_draw(volts, amps, rated_voltage=230.0) == fit
    with pytest.deprecated_call():
        old = rewound.fit_draw(volts, amps, rated_voltage_V=230.0, voltage_u=1.0, current_u=0.01)
    assert old == rewound.fit_draw(volts, amps, rated_voltage_V=230.0, voltage_u_V=1.0, current_u_A=0.01)
    with pytest.deprecated_call(match="new_reading"):
        assert fit.predict(200.0, 0.95, False) == fit.predict(200.0, new_reading=False)
    earlier = rewound.sample_record()
    record = rewound.sample_record("gh07_recheck")
    with pytest.deprecated_call(match="earlier"):
        assert rewound.judge(record, None, earlier) == rewound.judge(record, earlier=earlier)
    run = [0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5]
    with pytest.deprecated_call(match="time_constant_s"):
        old = rewound.project_heat_run(*run, rise_u_K=0.3, time_constant_min=20)
    assert old == rewound.project_heat_run(*run, rise_u_K=0.3, time_constant_s=1200)
    with pytest.raises(TypeError, match="twice"), pytest.deprecated_call():
        rewound.judge(record, None, earlier, earlier=earlier)


def test_a_fit_tells_residuals_counts_and_criteria_and_keeps_the_index():
    volts = np.array([115.0, 150.0, 184.0, 210.0, 230.0, 240.0])
    amps = pd.Series([0.21, 0.28, 0.336, 0.39, 0.42, 0.45], index=list("abcdef"))
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=230.0, model="power")
    assert list(fit.residuals.index) == list("abcdef")
    a, n = fit.params[0]
    np.testing.assert_allclose(fit.residuals, amps - a * (volts / 230.0) ** n, rtol=0, atol=1e-15)
    assert fit.nobs.tolist() == [6] and fit.reduced_chi2 == fit.chi2 / 4
    np.testing.assert_allclose(fit.aicc, fit.chi2 + 4 + 12 / 3)
    frame = pd.DataFrame([amps.to_numpy(), 1.1 * amps.to_numpy()], index=["m1", "m2"])
    table = rewound.fit_draw(np.tile(volts, (2, 1)), frame, rated_voltage_V=230.0, model="power").to_frame()
    assert list(table.index) == ["m1", "m2"] and np.allclose(table["n"], n, rtol=1e-12) and (table["nobs"] == 6).all()
    weighted = rewound.fit_draw(volts, amps, rated_voltage_V=230.0, model="power", weights=np.full(6, 2.0))
    np.testing.assert_allclose(weighted.aicc, 6 * np.log(weighted.chi2 / 6) + 6 + 24 / 2)
