# SPDX-License-Identifier: MIT
"""Parameters of the equivalent circuit, held against the invented machine that the readings were simulated from."""

import math

import rewound

# reference/machines/simulated/circulator-40.toml; units of it spread by a few percent about these.
CIRCULATOR = {
    "main_resistance": 62.0,
    "rotor_resistance": 185.0,
    "magnetising_reactance": 520.0,
    "capacitance": 2.5,
    "turns_ratio": 1.3,
    "start_winding_resistance": 120.0,
}
UNIT_SPREAD = {
    "main_resistance": 0.03,
    "rotor_resistance": 0.05,
    "magnetising_reactance": 0.06,
    "capacitance": 0.04,
    "turns_ratio": 0.0,
    "start_winding_resistance": 0.03,
}
WARM = 1.06  # copper at the end of a run-up, 15 K warmer


def estimates(seed, read=("watts", "rpm")):
    record = rewound.simulate("circulator-40", seed=seed, read=read)
    return {each["parameter"]: each for each in rewound.machine_parameters(record)}


def test_intervals_hold_the_invented_machine():
    inside = total = 0
    for seed in range(1, 9):
        for name, each in estimates(seed).items():
            if name not in CIRCULATOR:
                continue
            truth = CIRCULATOR[name] * (WARM if name == "main_resistance" else 1.0)
            slack = math.exp(2.0 * UNIT_SPREAD[name])
            inside += each["low"] / slack <= truth <= each["high"] * slack
            total += 1
    assert total == 48
    assert inside >= 40  # 95 % intervals of a model that is not quite the machine


def test_fewer_channels_determine_less():
    full, amperes = estimates(3), estimates(3, read=())
    assert sum(each["determined"] for each in amperes.values()) <= sum(each["determined"] for each in full.values())
    wider = [
        name for name in full if amperes[name]["high"] / amperes[name]["low"] > full[name]["high"] / full[name]["low"]
    ]
    assert len(wider) >= len(full) / 2


def test_values_are_within_their_intervals():
    for each in estimates(5).values():
        assert 0.0 < each["low"] <= each["value"] <= each["high"]
        assert each["unit"]
