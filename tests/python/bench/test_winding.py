# SPDX-License-Identifier: MIT
"""Winding resistance from the wire and back. Oracles: reference/oracles/standards/wire.csv."""

import doctest

import numpy as np
import pytest

import rewound


def _rows(repository, quantity):
    text = (repository / "reference/oracles/standards/wire.csv").read_text(encoding="utf-8")
    rows = [line.split("|") for line in text.splitlines() if line.split("|")[1:2] == [quantity]]
    assert rows
    return [(float(row[2].split("=")[1]), float(row[3]), float(row[4])) for row in rows]


def test_gauges_have_the_published_ohms_per_1000_feet(repository):
    gauge, expected, tolerance = np.transpose(_rows(repository, "awg_ohm_per_kft"))
    value, _ = rewound.expected_resistance(1, 304800.0, wire_awg=gauge)
    assert value.shape == gauge.shape and len(gauge) > 20
    assert np.all(np.abs(value - expected) <= tolerance)


def test_metric_wire_has_the_published_ohms_per_metre(repository):
    diameter, expected, tolerance = np.transpose(_rows(repository, "metric_ohm_per_m"))
    value, _ = rewound.expected_resistance(1, 1000.0, wire_diameter_mm=diameter)
    assert np.all(np.abs(value - expected) <= tolerance)


def test_uncertainty_is_that_of_two_rectangular_limits():
    value, u = rewound.expected_resistance(640, 130.0, wire_diameter_mm=0.315)
    assert u / value == pytest.approx(np.hypot(0.04, 0.03) / np.sqrt(3))
    value, u = rewound.expected_resistance(640, 130.0, wire_diameter_mm=0.315, wire_limit=0.0, mean_turn_limit=0.0)
    assert u == 0.0


@pytest.mark.parametrize("material, k", [("copper", 234.5), ("aluminium", 225.0)])
def test_temperature_follows_the_straight_line(material, k):
    cold, _ = rewound.expected_resistance(100, 100.0, wire_awg=24, material=material)
    hot, _ = rewound.expected_resistance(100, 100.0, wire_awg=24, material=material, temperature_C=95.0)
    assert hot / cold == pytest.approx((k + 95) / (k + 20), rel=1e-12)


@pytest.mark.parametrize("material", ["copper", "aluminium"])
def test_the_inverse_finds_the_winding_again(material):
    turns = np.array([[100.0], [640.0]])
    diameter = np.array([0.2, 0.315, 0.9])
    options = dict(parallel=2, material=material, temperature_C=60.0)
    value, _ = rewound.expected_resistance(turns, 130.0, wire_diameter_mm=diameter, **options)
    found = rewound.explain_resistance(value, 130.0, turns=turns, wire_diameter_mm=diameter, **options)
    assert found.wire_diameter_mm.shape == found.turns.shape == (2, 3)
    assert np.allclose(found.wire_diameter_mm, np.broadcast_to(diameter, (2, 3)), rtol=1e-12)
    assert np.allclose(found.turns, np.broadcast_to(turns, (2, 3)), rtol=1e-12)


def test_by_gauge_the_inverse_speaks_in_gauges():
    value, _ = rewound.expected_resistance(640, 130.0, wire_awg=28)
    found = rewound.explain_resistance(value, 130.0, turns=640, wire_awg=30)
    assert found.wire_awg == pytest.approx(28.0, abs=1e-9)
    # two gauges thinner wire: as many turns as the step of ohms is smaller, 92^(-4/39)
    assert found.turns == pytest.approx(640 * 92 ** (-4 / 39))


def test_uncertainty_halves_for_the_diameter_and_grows_with_the_reading():
    found = rewound.explain_resistance(18.0, 130.0, turns=640, wire_diameter_mm=0.3, resistance_u_ohm=0.9)
    relative = np.hypot(0.05, np.hypot(0.04, 0.03) / np.sqrt(3))
    assert found.turns_u / found.turns == pytest.approx(relative)
    assert found.wire_diameter_u_mm / found.wire_diameter_mm == pytest.approx(relative / 2)


def test_what_is_not_known_is_none():
    assert rewound.explain_resistance(18.0, 130.0, turns=640).turns is None
    assert rewound.explain_resistance(18.0, 130.0, wire_awg=28).wire_diameter_mm is None


@pytest.mark.parametrize(
    "call, field",
    [
        (lambda: rewound.expected_resistance(640, 130.0), "wire_diameter_mm"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=28, wire_diameter_mm=0.3), "wire_diameter_mm"),
        (lambda: rewound.expected_resistance(0, 130.0, wire_awg=28), "turns"),
        (lambda: rewound.expected_resistance(640, [130.0, float("nan")], wire_awg=28), "mean_turn_mm"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=99), "wire_awg"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=28, material="tin"), "material"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=28, parallel=1.5), "parallel"),
        (lambda: rewound.expected_resistance("many", 130.0, wire_awg=28), "turns"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=28, temperature_C=-300.0), "temperature_C"),
        (lambda: rewound.expected_resistance(640, 130.0, wire_awg=28, wire_limit=1.0), "wire_limit"),
        (lambda: rewound.explain_resistance(18.0, 130.0), "turns"),
        (lambda: rewound.explain_resistance(-18.0, 130.0, turns=640), "resistance_ohm"),
    ],
)
def test_what_cannot_be_is_refused_and_named(call, field):
    with pytest.raises(rewound.PreconditionError) as caught:
        call()
    assert caught.value.field == field
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("function", [rewound.expected_resistance, rewound.explain_resistance])
def test_examples_of_the_documentation_run(function):
    runner = doctest.DocTestRunner()
    examples = doctest.DocTestFinder().find(function, function.__name__, globs={"rewound": rewound})
    results = [runner.run(example) for example in examples]
    assert sum(result.attempted for result in results) == 2
    assert sum(result.failed for result in results) == 0


def test_the_record_and_the_function_agree(demo_dict):
    section = demo_dict["resistance"][0]
    del section["expected_ohm"]
    section.update(wire_diameter_mm=0.315, turns=640, mean_turn_mm=130.0)
    finding = next(
        f for f in rewound.judge(rewound.Record.from_dict(demo_dict)).to_dict()["findings"]
        if f["check"] == "resistance" and f["quantity"] == "wire_diameter"
    )  # fmt: skip
    found = rewound.explain_resistance(section["resistance_ohm"], 130.0, turns=640, temperature_C=section["winding_C"])
    assert finding["value"] == pytest.approx(float(found.wire_diameter_mm), rel=1e-9)
