# SPDX-License-Identifier: MIT
"""The table `tools/study verdicts`: false releases and false holds, by class, over simulated machines.

Every record is complete: what a release needs was measured. Healthy machines that are held or left undecided are false
holds; machines with a fault that are released are false releases. Dangerous ones have an insulation below its minimum, a
frame that is live or not earthed, a speed that draws a fifth or more too much, or a winding hotter than its class.
"""

import argparse
import collections
import math
import random

import rewound

MODELS = ("circulator-40", "blower-60")
FAULTS = {
    "shorted_turns": (0.01, 0.15),
    "too_few_turns": (0.03, 0.15),
    "too_many_turns": (0.03, 0.15),
    "wire_too_thin": (0.1, 0.5),
    "weak_capacitor": (0.1, 0.6),
    "tight_bearing": (0.1, 2.0),
    "rotor_fault": (0.1, 0.6),
}
# By resistance, machines below 600 W: IEC 60034-1 temperature-rise table (from memory, unverified).
RISE_LIMIT_K = {"130": 85.0, "155": 110.0}


def machine(model, seed, fault=None, read=()):
    return rewound.simulate(model, fault=fault, seed=seed, read=read).to_dict()


def low_insulation(given, draw):
    """From a dead short to the frame up to four fifths of the five megohms that a new winding needs at 40 degC."""
    entry = given["insulation"][0]
    entry["winding_C"] = 40.0
    scale = math.exp(draw.uniform(math.log(0.001), math.log(4.0))) / entry["resistance_Mohm"][-1]
    entry["resistance_Mohm"] = [value * scale for value in entry["resistance_Mohm"]]


def no_earth(given, draw):
    given["earth"]["continuity_ohm"] = math.exp(draw.uniform(math.log(1.0), math.log(1e6)))


def earth_not_measured(given, draw):
    del given["earth"]


def overload(given, draw):
    """One speed, or all of them, above what is marked by a fifth or more on top of the allowed deviation."""
    factor = draw.uniform(1.2, 1.6)
    marked = given["machine"]["rated_current_A"]
    fastest = given["run_up"][0]
    top = max(zip(fastest["voltage_V"], fastest["current_A"]), key=lambda pair: -abs(pair[0] - 230.0))[1]
    for run in given["run_up"] if draw.random() < 0.5 else [fastest]:
        run["current_A"] = [value * factor * 1.2 * marked / top for value in run["current_A"]]


def too_hot(given, draw):
    rise = RISE_LIMIT_K[given["machine"]["insulation_class"]] * draw.uniform(1.15, 1.8)
    constant = draw.uniform(600.0, 2400.0)
    run = given["heat_run"]
    run["time_s"] = [constant * step / 4.0 for step in range(0, 21)]
    final = [run["cold_C"] + rise * (1.0 - math.exp(-time / constant)) for time in run["time_s"]]
    run["resistance_ohm"] = [run["cold_ohm"] * (234.5 + hot) / (234.5 + run["cold_C"]) for hot in final]
    for key in ("temperature_C", "cooling_time_s", "cooling_ohm"):
        run.pop(key, None)


DANGERS = {
    "insulation below its minimum": (low_insulation, ()),
    "frame not earthed": (no_earth, ()),
    "earth not measured": (earth_not_measured, ()),
    "a fifth or more too much": (overload, ()),
    "hotter than its class": (too_hot, ("heat_run",)),
}


def row(name, counts):
    total = sum(counts.values())
    shares = [100.0 * counts[decision] / total for decision in ("release", "undecided", "hold")]
    print(f"{name:<44}{total:>7}" + "".join(f"{share:>11.1f}" for share in shares))


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--scale", type=float, default=1.0, help="share of the records; 1: 5,000 dangerous ones")
    arguments.add_argument("--seed", type=int, default=1)
    options = arguments.parse_args()
    draw = random.Random(options.seed)
    sized = lambda count: max(1, round(count * options.scale))
    good = {model: rewound.learn([rewound.simulate(model, seed=90000 + i) for i in range(10)]) for model in MODELS}
    print(f"seed {options.seed}; shares in percent\n{'':<44}{'':>7}{'released':>11}{'undecided':>11}{'held':>11}")

    def decisions(make, count, reference=None):
        counts = collections.Counter()
        for i in range(count):
            model = MODELS[i % len(MODELS)]
            record = rewound.Record.from_dict(make(model, i))
            counts[rewound.judge(record, reference=good[model] if reference else None).decision] += 1
        return counts

    for words, beside in (("by the nameplate", None), ("beside ten good machines", good)):
        row(f"healthy, {words}", decisions(lambda model, i: machine(model, 1 + i), sized(400), beside))
    for fault, (low, high) in FAULTS.items():
        for words, beside in (("nameplate", None), ("ten good machines", good)):
            for size, (start, end) in {"small": (0, 1 / 3), "middling": (1 / 3, 2 / 3), "large": (2 / 3, 1)}.items():

                def faulty(model, i):
                    severity = low + (high - low) * draw.uniform(start, end)
                    return machine(model, 20000 + i, {fault: severity})

                row(f"{fault}, {size}, {words}", decisions(faulty, sized(60), beside))
    print()
    released = 0
    for words, (harm, read) in DANGERS.items():

        def dangerous(model, i):
            given = machine(model, 40000 + i, None, read)
            harm(given, draw)
            return given

        counts = decisions(dangerous, sized(1000))
        released += counts["release"]
        row(words, counts)
    print(f"dangerous machines released: {released}")


if __name__ == "__main__":
    main()
