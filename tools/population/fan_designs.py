#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes reference/machines/fan_designs.table: designs of fan machines that a machine on the bench may be like.

Each is drawn at random (machine_model.py) and kept when it makes a fan worth building: with its fan on it starts, runs
at a slip of 2 to 30 percent at the rated voltage and still at 85 percent of it, and takes a power factor above 0.25, or
above 0.75 with a run capacitor.
All are given for 230 V and 50 Hz; a judgement scales them to its machine's volts and amperes.

    tools/population/fan_designs.py             half a minute
"""

import pathlib

import numpy as np

from machine_model import SLIPS, Machine, current_and_torque, currents, field_impedances, load_torque, random_machine

SEED = 20260601
DESIGNS_OF_A_CIRCUIT = 160
VOLTAGE, FREQUENCY = 230.0, 50.0
ROOT = pathlib.Path(__file__).resolve().parents[2]
COLUMNS = [
    "main_resistance_ohm",
    "main_leakage_ohm",
    "rotor_resistance_ohm",
    "rotor_leakage_ohm",
    "magnetising_ohm",
    "knee_V",
    "saturation",
    "sharpness",
    "core_loss_W",
    "turns_ratio",
    "auxiliary_resistance_ohm",
    "capacitance_uF",
    "poles",
    "fan_Nm_s2",
    "friction_Nm",
]


def running_slip(machine, share):
    """Slip at which it runs with its fan at a share of the rated voltage; None where it does not."""
    load = load_torque(machine)
    if load is None:
        return None
    excess = current_and_torque(machine, [share * VOLTAGE])[1][0] - load
    crossings = np.nonzero((excess[:-1] < 0.0) & (excess[1:] >= 0.0))[0]
    return SLIPS[crossings[0]] if len(crossings) else None


def power_factor(machine, slip):
    forward, backward = field_impedances(machine, machine.magnetising, slip)
    total = currents(machine, forward, backward, VOLTAGE)[0]
    return total.real / abs(total)


def log_uniform(random, low, high):
    return np.exp(random.uniform(np.log(low), np.log(high)))


def with_run_capacitor(random, machine):
    """Windings, rotor and capacitor of a fan that runs on a capacitor for good, in proportion to its main resistance.

    The capacitor and the auxiliary winding's turns are chosen for a field nearly round at the running point; rotors
    have more resistance, and run at more slip, than those of machines that start by a winding switched out. The ranges
    are common practice, no source.
    """
    ohms = machine.main_resistance
    machine.main_leakage = ohms * log_uniform(random, 0.2, 1.5)
    machine.rotor_leakage = machine.main_leakage * random.uniform(0.5, 1.1)
    machine.rotor_resistance = ohms * log_uniform(random, 0.7, 8.0)
    machine.magnetising = ohms * log_uniform(random, 3.0, 14.0)
    machine.design_slip = random.uniform(0.05, 0.28)
    machine.turns_ratio = random.uniform(0.7, 2.0)
    machine.auxiliary_resistance = ohms * machine.turns_ratio**2 * log_uniform(random, 0.75, 2.7)
    # Of a round field, where the auxiliary winding's turns allow one.
    forward = field_impedances(machine, machine.magnetising / (1.0 + 0.5 * machine.saturation), machine.design_slip)[0]
    main = ohms + 1j * machine.main_leakage + 2.0 * forward
    balanced = machine.turns_ratio**2 * main.imag + machine.turns_ratio * main.real
    machine.capacitor_reactance = balanced * log_uniform(random, 0.4, 1.5)


def worth_building(machine):
    full, reduced = running_slip(machine, 1.0), running_slip(machine, 0.85)
    if full is None or reduced is None or not 0.02 < full < 0.30 or reduced > 0.6:
        return False
    if machine.has_capacitor:
        standing = current_and_torque(machine, [0.6 * VOLTAGE], [0.995])[1][0, 0]
        if standing <= load_torque(machine)[-1]:
            return False
    return power_factor(machine, full) > (0.75 if machine.has_capacitor else 0.25)


def row_of(random, machine):
    slip = running_slip(machine, 1.0)
    forward, backward = field_impedances(machine, machine.magnetising, slip)
    watts = VOLTAGE * currents(machine, forward, backward, VOLTAGE)[0].real
    friction = load_torque(machine)[-1] * random.uniform(0.6, 2.0)
    speed = (1.0 - SLIPS) * 4.0 * np.pi * FREQUENCY / machine.poles
    fan = (load_torque(machine)[0] - load_torque(machine)[-1]) / (speed[0] ** 2 - speed[-1] ** 2)
    capacitance = 1e6 / (2.0 * np.pi * FREQUENCY * machine.capacitor_reactance) if machine.has_capacitor else 0.0
    return [
        machine.main_resistance,
        machine.main_leakage,
        machine.rotor_resistance,
        machine.rotor_leakage,
        machine.magnetising,
        machine.knee_voltage,
        machine.saturation,
        machine.sharpness,
        watts * random.uniform(0.02, 0.12),
        machine.turns_ratio,
        machine.auxiliary_resistance,
        capacitance,
        machine.poles,
        fan,
        friction,
    ]


def main():
    rows = []
    for circuit, has_capacitor in (("permanent_capacitor", True), ("main_alone", False)):
        random = np.random.default_rng([SEED, has_capacitor])
        kept = 0
        while kept < DESIGNS_OF_A_CIRCUIT:
            drawn = vars(random_machine(random))
            scale = (VOLTAGE / drawn["rated_voltage"]) ** 2
            for ohms in (
                "main_resistance",
                "main_leakage",
                "rotor_resistance",
                "rotor_leakage",
                "magnetising",
                "auxiliary_resistance",
                "capacitor_reactance",
            ):
                drawn[ohms] *= scale
            drawn.update(
                rated_voltage=VOLTAGE,
                frequency=FREQUENCY,
                has_capacitor=has_capacitor,
                loaded=True,
                knee_voltage=drawn["knee_voltage"] * VOLTAGE / drawn["rated_voltage"],
                series_impedance=0.0,
                series_turns=0.0,
            )
            drawn["rated_voltage"] = VOLTAGE
            machine = Machine(**drawn)
            if has_capacitor:
                with_run_capacitor(random, machine)
            if not worth_building(machine):
                continue
            kept += 1
            rows.append((circuit, row_of(random, machine)))
    with open(ROOT / "reference" / "machines" / "fan_designs.table", "w") as out:
        out.write(
            "# Designs of fan machines at 230 V and 50 Hz: full ohms seen from the main winding.\n"
            "# Made by tools/population/fan_designs.py from the project's own ranges; not to be edited.\n"
        )
        out.write(" | ".join(["circuit:text"] + [f"{column}:number" for column in COLUMNS]) + "\n")
        for circuit, values in rows:
            out.write(" | ".join([circuit] + [f"{value:.5g}" for value in values]) + "\n")


if __name__ == "__main__":
    main()
