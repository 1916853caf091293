# SPDX-License-Identifier: MIT
"""The compiled machine model against two programs that share nothing with it.

The circuit comes from tools/population/machine_model.py, torque and load meet by SciPy's brentq, and so does the gap
voltage with the magnetising reactance. The compiled model and the Python one differ on purpose in what saturates the
iron (both fields' voltage there, the forward field's here), so saturated machines are solved with the former.
"""

import dataclasses
import doctest
import importlib.util
import sys

import numpy as np
import pytest
from scipy.optimize import brentq

import rewound

MACHINES = 300
GRID = np.concatenate([[1e-9], np.geomspace(2e-4, 1.0, 4000)])


@pytest.fixture(scope="module")
def model(repository):
    spec = importlib.util.spec_from_file_location(
        "machine_model", repository / "tools" / "population" / "machine_model.py"
    )
    module = importlib.util.module_from_spec(spec)
    sys.modules["machine_model"] = module
    spec.loader.exec_module(module)
    return module


def design_of(machine, **changes):
    """The same machine for the compiled model: its speed winding's impedance with the square of its turns, none of its
    leakage in common, as the Python model has it."""
    squared = machine.series_turns**2
    step = rewound.SpeedStep(
        series_resistance_ohm=np.real(machine.series_impedance),
        series_reactance_ohm=np.imag(machine.series_impedance),
        speed_turns=machine.series_turns,
        speed_resistance_ohm=squared * machine.main_resistance if squared else None,
        speed_leakage_ohm=squared * machine.main_leakage if squared else None,
        speed_leakage_in_common=0.0,
    )
    auxiliary = (
        dict(
            auxiliary_turns_ratio=machine.turns_ratio,
            auxiliary_resistance_ohm=machine.auxiliary_resistance,
            auxiliary_leakage_ohm=machine.turns_ratio**2 * machine.main_leakage,
            capacitance_F=1.0 / (2.0 * np.pi * machine.frequency * machine.capacitor_reactance),
        )
        if machine.has_capacitor
        else {}
    )
    plain = rewound.FanDesign(
        main_resistance_ohm=machine.main_resistance,
        main_leakage_ohm=machine.main_leakage,
        rotor_resistance_ohm=machine.rotor_resistance,
        rotor_leakage_ohm=machine.rotor_leakage,
        magnetising_ohm=machine.magnetising,
        rated_voltage_V=machine.rated_voltage,
        rated_frequency_Hz=machine.frequency,
        poles=machine.poles,
        saturation=machine.saturation,
        knee_V=machine.knee_voltage,
        sharpness=machine.sharpness,
        speeds=[step],
        **auxiliary,
    )
    return dataclasses.replace(plain, **changes)


def solved_at(model, machine, voltage, slip):
    """Line current, torque and gap voltage at a slip, the magnetising reactance agreeing with both fields' voltage."""

    def at(gap):
        relative = min(gap / machine.knee_voltage, 2.0)
        magnetising = machine.magnetising / (1.0 + machine.saturation * relative**machine.sharpness)
        forward, backward = model.field_impedances(machine, magnetising, slip)
        total, f, b = model.currents(machine, forward, backward, voltage)
        torque = abs(f) ** 2 * np.real(forward) - abs(b) ** 2 * np.real(backward)
        return abs(forward * f) + abs(backward * b), total, torque * machine.poles / (4.0 * np.pi * machine.frequency)

    highest = max(2.0 * machine.knee_voltage, at(2.0 * machine.knee_voltage)[0]) * 1.001
    gap = brentq(lambda volts: at(volts)[0] - volts, 0.0, highest, xtol=1e-12, rtol=1e-14)
    _, total, torque = at(gap)
    return total, torque, gap


def test_unsaturated_currents_and_torques_are_those_of_the_python_model(model):
    random = np.random.default_rng(5)
    slips = np.array([0.003, 0.05, 0.2, 0.6, 1.0])
    for _ in range(MACHINES):
        machine = dataclasses.replace(model.random_machine(random), saturation=0.0)
        voltages = machine.rated_voltage * np.array([0.4, 1.0])
        current, torque = model.current_and_torque(machine, voltages, slips)
        design = design_of(machine)
        for i, slip in enumerate(slips):
            found = rewound.running_points(design, voltages, slip=slip)
            np.testing.assert_allclose(found.current_A, current[:, i], rtol=1e-10)
            np.testing.assert_allclose(
                found.developed_torque_Nm, torque[:, i], rtol=1e-9, atol=1e-10 * np.abs(torque).max()
            )


def test_saturated_machines_agree_at_every_slip(model):
    random = np.random.default_rng(6)
    for _ in range(MACHINES):
        machine = model.random_machine(random)
        voltage, slip = machine.rated_voltage * random.uniform(0.3, 1.1), random.uniform(0.002, 1.0)
        total, torque, gap = solved_at(model, machine, voltage, slip)
        found = rewound.running_points(design_of(machine), voltage, slip=slip)
        assert found.gap_voltage_V == pytest.approx(gap, rel=1e-8)
        assert found.current_A == pytest.approx(abs(total), rel=1e-8)
        assert found.phase_rad == pytest.approx(np.angle(total), abs=1e-8)
        assert found.power_W == pytest.approx(voltage * total.real, rel=1e-8, abs=1e-10 * voltage * abs(total))
        assert found.developed_torque_Nm == pytest.approx(torque, rel=1e-7, abs=1e-8 * voltage * abs(total))


def crossings(model, machine, voltage, load):
    """Every stable slip by a fine scan and brentq, least first, and the torque at rest."""

    def excess(slip):
        return solved_at(model, machine, voltage, slip)[1] - load(slip)

    coarse = GRID[:: 40 if machine.saturation else 1]
    values = np.array([excess(slip) for slip in coarse])
    rising = np.nonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))[0]
    return [brentq(excess, coarse[i], coarse[i + 1], xtol=1e-15, rtol=1e-13) for i in rising], values[-1]


def test_running_points_are_the_crossings_that_scipy_finds(model):
    random = np.random.default_rng(7)
    states = []
    for _ in range(60):
        machine = model.random_machine(random)
        synchronous = 4.0 * np.pi * machine.frequency / machine.poles
        torque = solved_at(model, machine, machine.rated_voltage, machine.design_slip)[1]
        if torque <= 0.0:
            continue
        friction = torque * machine.friction_share
        fan = (torque - friction) / ((1.0 - machine.design_slip) * synchronous) ** 2 * float(machine.loaded)
        design = design_of(machine, friction_Nm=friction, square_Nm_s2=fan, breakaway_Nm=friction)
        for share in (0.25, 0.5, 0.75, 1.0):
            voltage = share * machine.rated_voltage
            slips, at_rest = crossings(
                model, machine, voltage, lambda slip: friction + fan * ((1.0 - slip) * synchronous) ** 2
            )
            started = rewound.running_points(design, voltage)
            turning = rewound.running_points(design, voltage, when_turning=True)
            assert (started.state == "runs") == (at_rest > 0.0)
            assert (turning.state == "runs") == (len(slips) > 0)
            states += [str(started.state), str(turning.state)]
            if turning.state == "runs":
                assert turning.slip == pytest.approx(slips[0], rel=1e-8)
                total, _, _ = solved_at(model, machine, voltage, slips[0])
                assert turning.current_A == pytest.approx(abs(total), rel=1e-8)
            if started.state == "runs":
                assert started.slip == pytest.approx(slips[-1], rel=1e-8)
    assert states.count("runs") > 150
    assert states.count("does_not_start") > 20
    assert states.count("stalled") > 3


def test_lowest_starting_voltage_is_the_one_that_scipy_finds(model):
    random = np.random.default_rng(8)
    checked = 0
    for _ in range(60):
        machine = model.random_machine(random)
        rest = solved_at(model, machine, machine.rated_voltage, 1.0)[1]
        if not machine.has_capacitor or rest <= 0.0:
            continue
        needed = 0.3 * rest
        found = design_of(machine, breakaway_Nm=needed).lowest_starting_voltage()
        expected = brentq(
            lambda volts: solved_at(model, machine, volts, 1.0)[1] - needed, 0.0, machine.rated_voltage, rtol=1e-12
        )
        assert found == pytest.approx(expected, rel=1e-7)
        checked += 1
    assert checked > 20


FAN = rewound.FanDesign(
    34.14, 35.9, 60.0, 29.32, 248.59, poles=6, saturation=0.25, knee_V=200.0, auxiliary_turns_ratio=1.73,
    auxiliary_resistance_ohm=149.78, auxiliary_leakage_ohm=107.4, capacitance_F=4e-6, core_loss_W=10.0,
    friction_Nm=0.03, breakaway_Nm=0.04, square_Nm_s2=1.55e-4,
    speeds=[rewound.SpeedStep(), rewound.SpeedStep(speed_turns=0.3), rewound.SpeedStep(speed_turns=0.8)],
)  # fmt: skip


def test_voltages_and_speeds_are_broadcast_and_the_balance_closes():
    found = rewound.running_points(FAN, [[115.0], [230.0]], speed=[0, 1, 2])
    assert found.state.shape == found.current_A.shape == (2, 3)
    assert (found.state == "runs").all()
    lost = found.stator_copper_W + found.control_W + found.rotor_copper_W + found.core_W + found.friction_and_windage_W
    np.testing.assert_allclose(found.output_W + lost, found.power_W, rtol=1e-9)
    assert (np.diff(found.current_A[1]) < 0.0).all()
    one = rewound.running_points(FAN, 230.0, speed=1)
    assert one.current_A.shape == ()
    assert one.current_A == found.current_A[1, 1]


def test_faults_change_the_machine():
    healthy = rewound.running_points(FAN, 230.0)
    shorted = rewound.running_points(dataclasses.replace(FAN, faults=[("shorted_turns", 0.05)]), 230.0)
    assert shorted.current_A > 1.1 * healthy.current_A
    both = dataclasses.replace(FAN, faults=[("shorted_turns", 0.05), ("weak_capacitor", 0.3)])
    assert rewound.running_points(both, 230.0).capacitor_V > 0.0
    opened = dataclasses.replace(FAN, faults=[("speed_section_open", 1.0)])
    assert list(rewound.running_points(opened, 230.0, speed=[0, 1, 2]).state) == ["runs", "dead", "dead"]
    assert "tight_bearing" in rewound.FanDesign.FAULTS


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        (dict(rotor_resistance_ohm=0.0), "rotor_resistance_ohm"),
        (dict(poles=3), "poles"),
        (dict(poles=2.5), "poles"),
        (dict(phases="two"), "phases"),
        (dict(speeds=[]), "speeds"),
        (dict(faults=[("bent", 0.1)]), "fault"),
        (dict(faults=[("shorted_turns", 1.5)]), "severity"),
        (dict(faults=[("start_winding_left_in", 1.0)]), "fault"),
        (dict(capacitance_F=float("nan")), "auxiliary capacitance_F"),
    ],
)
def test_a_design_that_cannot_be_is_refused_by_name(changes, field):
    with pytest.raises(rewound.PreconditionError) as refused:
        rewound.running_points(dataclasses.replace(FAN, **changes), 230.0)
    assert refused.value.field == field


def test_voltages_and_speeds_that_cannot_be_are_refused():
    for voltage, speed, keywords in (
        (-1.0, 0, {}), (float("nan"), 0, {}), (230.0, 3, {}), (230.0, -1, {}), (230.0, 0.5, {}), (230.0, 0, {"slip": 3.0}),
        (230.0, 0, {"slip": 0.1, "when_turning": True}),
    ):  # fmt: skip
        with pytest.raises(rewound.PreconditionError):
            rewound.running_points(FAN, voltage, speed=speed, **keywords)


def test_the_example_of_the_documentation_runs():
    (example,) = doctest.DocTestFinder().find(rewound.running_points, "running_points", globs={"rewound": rewound})
    result = doctest.DocTestRunner().run(example)
    assert result.attempted == 3
    assert result.failed == 0
