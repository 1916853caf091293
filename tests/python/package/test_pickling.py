# SPDX-License-Identifier: MIT
"""What the package makes travels to another process and back, equal to what it was."""

import copy
import pickle
import subprocess
import sys

import numpy as np
import pytest

import rewound


def again(thing):
    return pickle.loads(pickle.dumps(thing))


@pytest.fixture(scope="module")
def reference():
    return rewound.learn(rewound.simulate("circulator-40", seed=n, read=("watts",)) for n in range(1, 5))


@pytest.fixture(scope="module")
def trend(repository):
    folder = repository / "reference" / "records" / "good"
    return rewound.trend(rewound.load_record(folder / f"gh12_{year}.toml") for year in (2021, 2023, 2025))


def test_record_is_equal_and_hashes_alike(demo):
    assert again(demo) == demo and hash(again(demo)) == hash(demo)
    other = rewound.simulate("circulator-40", seed=3)
    assert other != demo and again(other) == other


def test_record_keeps_every_section_through_its_dict(demo, demo_dict):
    values = demo.to_dict()
    assert values == demo_dict
    assert rewound.Record.from_dict(values) == demo
    full = rewound.simulate("circulator-40", seed=3, read=("watts", "rpm", "coast_down", "heat_run", "polarization"))
    assert rewound.Record.from_dict(full.to_dict()) == full
    values["machine"]["id"] = "GH-99"
    assert demo.machine == "GH-07"


def test_reference_judges_alike(reference, demo):
    moved = again(reference)
    assert moved.to_text() == reference.to_text()
    assert (moved.visits, moved.speeds, moved.set_aside) == (reference.visits, reference.speeds, reference.set_aside)
    visit = rewound.simulate("circulator-40", seed=9)
    assert rewound.judge(visit, moved).to_json() == rewound.judge(visit, reference).to_json()


def test_result_keeps_its_words_and_what_its_plot_needs(reference):
    result = rewound.judge(rewound.simulate("circulator-40", seed=9), reference)
    moved = again(result)
    assert type(moved) is rewound.Result
    assert (moved.to_json(), moved.to_text(), repr(moved)) == (result.to_json(), result.to_text(), repr(result))
    assert moved.findings == result.findings
    assert len(moved.plot()) == 3
    assert copy.deepcopy(moved).to_dict() == result.to_dict()


def test_trend_and_what_if_keep_their_words(trend, demo):
    for shown in (trend, rewound.whatif(demo, turns_factor=1.05)):
        assert type(again(shown)) is type(shown)
        assert (again(shown).to_json(), again(shown).to_text()) == (shown.to_json(), shown.to_text())


def test_fits_are_fitted_anew_with_the_same_numbers():
    volts, amps = [[115.0, 150.0, 184.0, 230.0]], [[0.21, 0.28, 0.336, 0.42]]
    fit = rewound.fit_draw(volts, amps, rated_voltage_V=230.0)
    moved = again(fit)
    np.testing.assert_array_equal(moved.params, fit.params)
    np.testing.assert_array_equal(moved.predict([200.0]), fit.predict([200.0]))
    assert repr(moved) == repr(fit)
    times = [15, 30, 60, 120, 600]
    absorption = rewound.fit_absorption(times, [180.0, 240.0, 310.0, 420.0, 720.0], test_voltage_V=500.0)
    np.testing.assert_array_equal(again(absorption).predict(300.0), absorption.predict(300.0))
    coast = rewound.fit_coast_down([0, 2, 4, 6, 8, 10], [1400, 1106, 875, 684, 518, 370], inertia_kgm2=0.01)
    assert again(coast).torque_Nm == coast.torque_Nm and again(coast).speed_rpm(3.0) == coast.speed_rpm(3.0)
    run = rewound.project_heat_run([0, 2400, 4800, 7200], [0.0, 30.0, 45.0, 52.5], rise_u_K=0.3)
    assert again(run).interval(0.9) == run.interval(0.9)


def test_small_results_and_designs_travel(demo):
    found = rewound.explain_resistance(23.0, mean_turn_mm=130, turns=640, wire_diameter_mm=0.315)
    assert type(again(found)) is type(found)
    np.testing.assert_array_equal(np.array(again(found)[0]), np.array(found[0]))
    design = rewound.FanDesign(34.14, 35.9, 60.0, 29.32, 248.59)
    assert again(design) == design
    assert again(rewound.running_points(design, 230.0)).current_A == rewound.running_points(design, 230.0).current_A


def test_another_process_reads_it(demo, tmp_path):
    path = tmp_path / "result.pickle"
    path.write_bytes(pickle.dumps(rewound.judge(demo)))
    program = "import pickle, sys; print(pickle.load(open(sys.argv[1], 'rb')).decision)"
    done = subprocess.run([sys.executable, "-c", program, path], capture_output=True, text=True, timeout=120)
    assert (done.stdout.strip(), done.returncode) == (rewound.judge(demo).decision, 0), done.stderr
