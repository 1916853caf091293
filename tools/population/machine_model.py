# SPDX-License-Identifier: MIT
"""A single-phase induction machine with its speed control and its load, solved for steady running.

Double revolving fields with an auxiliary winding in series with a capacitor (or the main winding alone), magnetising
reactance that falls with the air-gap voltage, and a speed control in the line ahead of both windings. Sources: A. E.
Fitzgerald, C. Kingsley, S. D. Umans, Electric Machinery, chapter 9 (from memory, unverified) for the circuit; the
saturation curve is a convenient form, common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

# Slips at which torque is compared with the load, dense near synchronism.
SLIPS = np.concatenate([np.geomspace(0.002, 0.1, 45), np.linspace(0.11, 0.995, 80)])
SATURATION_PASSES = 16


@dataclass
class Machine:
    """Ohms are full values seen from the main winding, at rated frequency."""

    loaded: bool  # its fan on the shaft; otherwise friction alone
    has_capacitor: bool  # auxiliary winding and capacitor stay connected
    rated_voltage: float  # V
    frequency: float  # Hz
    poles: int
    main_resistance: float
    main_leakage: float
    rotor_resistance: float
    rotor_leakage: float
    magnetising: float  # unsaturated
    turns_ratio: float  # auxiliary over main
    auxiliary_resistance: float
    capacitor_reactance: float
    knee_voltage: float  # V, air-gap voltage at which saturation sets in
    saturation: float  # share lost at the knee
    sharpness: float
    series_impedance: complex  # choke or resistor in the line
    series_turns: float  # of a speed winding on the main axis, over the main winding's
    design_slip: float  # with its fan, at the fastest speed and rated voltage
    friction_share: float  # of the torque there


def random_machine(random):
    """A machine of the kinds that come to a fan repairer's bench. The ranges are common practice, no source."""
    rated = random.choice([120.0, 230.0])
    scale = (rated / 230.0) ** 2 * np.exp(random.normal(0.0, 0.5))
    leakage = 36.0 * scale * np.exp(random.normal(0.0, 0.25))
    control = random.choice(["none", "choke", "resistor", "tapped"])
    step = random.uniform(0.0, 1.0)
    return Machine(
        loaded=random.random() < 0.7,
        has_capacitor=random.random() < 0.7,
        rated_voltage=rated,
        frequency=50.0 if rated == 230.0 else 60.0,
        poles=int(random.choice([2, 4, 6, 8])),
        main_resistance=34.0 * scale * np.exp(random.normal(0.0, 0.25)),
        main_leakage=leakage,
        rotor_resistance=scale * np.exp(random.uniform(np.log(23.0), np.log(80.0))),
        rotor_leakage=leakage * random.uniform(0.7, 1.1),
        magnetising=250.0 * scale * np.exp(random.normal(0.0, 0.2)),
        turns_ratio=random.uniform(1.0, 1.9),
        auxiliary_resistance=150.0 * scale * np.exp(random.normal(0.0, 0.25)),
        capacitor_reactance=796.0 * scale * np.exp(random.normal(0.0, 0.15)),
        knee_voltage=rated * random.uniform(0.7, 1.1),
        saturation=random.uniform(0.05, 0.6),
        sharpness=random.choice([4.0, 6.0, 8.0]),
        series_impedance={"choke": 180j, "resistor": 90.0}.get(control, 0.0) * scale * step,
        series_turns=0.6 * step if control == "tapped" else 0.0,
        design_slip=random.uniform(0.04, 0.22),
        friction_share=random.uniform(0.01, 0.05),
    )


def field_impedances(machine, magnetising, slip):
    """Half-size impedances of the forward and the backward field."""

    def parallel(rotor):
        return 0.5j * magnetising * rotor / (0.5j * magnetising + rotor)

    return (
        parallel(0.5 * machine.rotor_resistance / slip + 0.5j * machine.rotor_leakage),
        parallel(0.5 * machine.rotor_resistance / (2.0 - slip) + 0.5j * machine.rotor_leakage),
    )


def currents(machine, forward, backward, voltage):
    """Line current and the two field strengths, for complex turns: main 1, auxiliary j a, speed winding n."""
    turns = {"main": 1.0 + 0j, "auxiliary": 1j * machine.turns_ratio, "line": machine.series_turns + 0j}

    def mutual(k, l):
        return forward * turns[k] * np.conj(turns[l]) + backward * np.conj(turns[k]) * turns[l]

    winding = machine.main_resistance + 1j * machine.main_leakage
    line = machine.series_impedance + machine.series_turns**2 * winding + mutual("line", "line")
    main = winding + mutual("main", "main")
    if not machine.has_capacitor:
        total = voltage / (main + line + mutual("main", "line") + mutual("line", "main"))
        branch = {"main": total, "line": total}
    else:
        auxiliary = (
            machine.auxiliary_resistance
            + 1j * machine.turns_ratio**2 * machine.main_leakage
            - 1j * machine.capacitor_reactance
            + mutual("auxiliary", "auxiliary")
        )
        a = main + mutual("main", "line") + line + mutual("line", "main")
        b = mutual("main", "auxiliary") + mutual("main", "line") + line + mutual("line", "auxiliary")
        c = mutual("auxiliary", "main") + mutual("auxiliary", "line") + line + mutual("line", "main")
        d = auxiliary + mutual("auxiliary", "line") + line + mutual("line", "auxiliary")
        determinant = a * d - b * c
        first, second = voltage * (d - b) / determinant, voltage * (a - c) / determinant
        total = first + second
        branch = {"main": first, "auxiliary": second, "line": total}
    forward_field = sum(np.conj(turns[k]) * i for k, i in branch.items())
    backward_field = sum(turns[k] * i for k, i in branch.items())
    return total, forward_field, backward_field


def current_and_torque(machine, voltages, slips=SLIPS):
    """Line amperes and newton metres, arrays of shape (voltages, slips)."""
    voltage = np.asarray(voltages, dtype=complex)[:, None]
    slip = np.asarray(slips)[None, :]
    synchronous = 4.0 * np.pi * machine.frequency / machine.poles
    magnetising = np.full((voltage.shape[0], slip.shape[1]), machine.magnetising)
    for _ in range(SATURATION_PASSES):
        forward, backward = field_impedances(machine, magnetising, slip)
        total, forward_field, backward_field = currents(machine, forward, backward, voltage)
        fields = 1.0 if machine.has_capacitor else 2.0
        gap_voltage = np.abs(forward * forward_field) * fields
        relative = np.minimum(gap_voltage / machine.knee_voltage, 2.0)
        saturated = machine.magnetising / (1.0 + machine.saturation * relative**machine.sharpness)
        magnetising = magnetising + 0.5 * (saturated - magnetising)
    torque = np.abs(forward_field) ** 2 * forward.real - np.abs(backward_field) ** 2 * backward.real
    return np.abs(total), torque / synchronous


def load_torque(machine):
    """Newton metres at every slip: a fan's square law and friction, or friction alone; None where none fits."""
    synchronous = 4.0 * np.pi * machine.frequency / machine.poles
    speed = (1.0 - SLIPS) * synchronous
    fastest = Machine(**{**vars(machine), "series_impedance": 0.0, "series_turns": 0.0})
    torque = current_and_torque(fastest if machine.loaded else machine, [machine.rated_voltage])[1][0]
    if not machine.loaded:
        return np.full_like(speed, 0.6 * machine.friction_share * torque.max()) if torque.max() > 0.0 else None
    at = np.argmin(np.abs(SLIPS - machine.design_slip))
    if torque[at] <= 0.0:
        return None
    fan = torque[at] * (1.0 - machine.friction_share) * (speed / speed[at]) ** 2
    return fan + torque[at] * machine.friction_share


def log_currents(machine, relative_voltages):
    """ln of the running current at voltages given as shares of the rated one; NaN where it does not run.

    The running point is the one of least slip at which the motor's torque meets the load's. None when the machine
    cannot drive its load at all.
    """
    load = load_torque(machine)
    if load is None:
        return None
    current, torque = current_and_torque(machine, np.asarray(relative_voltages) * machine.rated_voltage)
    out = np.full(len(relative_voltages), np.nan)
    for i, excess in enumerate(torque - load):
        crossings = np.nonzero((excess[:-1] < 0.0) & (excess[1:] >= 0.0))[0]
        if len(crossings) == 0:
            continue
        at = crossings[0]
        share = -excess[at] / (excess[at + 1] - excess[at])
        out[i] = np.log(current[i, at]) * (1.0 - share) + np.log(current[i, at + 1]) * share
    return out
