# SPDX-License-Identifier: MIT
"""The table `tools/study cohort DIR`: a set of simulated machines with known truth, judged as a shop would judge them.

DIR holds `public/` (units.csv, runup.csv, insulation.csv, baseline_units/) and `truth/truth.csv`, and may hold
`ideal.csv`, the verdicts of a near-ideal detector. Only `public/` is judged; the truth is read when all are.
"""

import argparse
import collections
import math
import pathlib
import sys

import pandas as pd

import rewound

KNOWLEDGE = ("nameplate", "ref1", "ref3", "ref10", "own")
CONTROLS = {"series reactor": "series_reactor", "tapped winding": "tapped_winding"}
CIRCUITS = {"permanent capacitor": "permanent_capacitor", "split phase": "start_winding_switched"}
SYSTEMS = {"thermoset": "thermosetting", "thermosetting": "thermosetting", "thermoplastic": "thermoplastic"}
# What the truth calls the causes that the library tells apart.
TRUTHS = {
    "speed_leads_exchanged": "taps_swapped",
    "wire_too_thin": "wrong_wire",
    "wire_too_thick": "wrong_wire",
    "too_few_turns": "turns_few",
    "too_many_turns": "turns_many",
    "rotor_fault": "rotor_resistance",
    "speed_section_shorted": "speed_coil_shorted",
    "speed_section_open": "speed_coil_open",
    "start_winding_left_in": "start_winding_in",
}
POLICY = {
    "format": "rewound-policy/1",
    "needed": ["draw", "steps", "insulation"],
    "polarization_index_informs_only": False,
}
RPM = 2.0 * math.pi / 60.0


class Cohort:
    """The public files of a set, unit by unit."""

    def __init__(self, folder):
        kinds = {"tap": str, "tap_order": str, "thermal_class": str}
        read = lambda name: pd.read_csv(folder / "public" / name, dtype=kinds)
        self.units = read("units.csv").set_index("unit")
        self.runs = dict(list(read("runup.csv").groupby("unit")))
        self.insulation = dict(list(read("insulation.csv").groupby("unit")))
        self.good = read("baseline_units/units.csv").set_index("unit")
        self.good_runs = dict(list(read("baseline_units/runup.csv").groupby("unit")))
        self.references = {}

    def record(self, unit, meters, rows, head, state="after_repair", date="2026-01-15", insulation=None):
        """A visit as a record, and which reading of the set each of its readings is."""
        machine = {
            "id": unit,
            "model": head["model"],
            "phases": 1,
            "rated_voltage_V": float(head["rated_v"]),
            "rated_frequency_Hz": float(head["rated_hz"]),
            "poles": int(head["poles"]),
            "speeds": head["tap_order"].split(">"),
            "speed_control": CONTROLS.get(head["speed_control"], "unknown"),
            "running_circuit": CIRCUITS.get(head["winding"], "start_winding_switched"),
            "winding_kind": "random_wound",
            "insulation_class": str(head["thermal_class"]),
            "insulation_system": SYSTEMS[head["insulation_system"]],
            "wound_year": int(head["year"]),
            "frame_earthed": True,
            "appliance_class": "I",
        }
        if state == "after_repair" and pd.notna(head.get("nameplate_a")):
            machine["rated_current_A"] = float(head["nameplate_a"])
            machine["rated_tolerance_percent"] = float(head["nameplate_tol_pct"])
        runs, places = [], {}
        for speed in machine["speeds"]:
            of_speed = rows[rows.tap == speed]
            if of_speed.empty:
                continue
            run = {
                "speed": speed,
                "voltage_V": of_speed.volts.tolist(),
                "current_A": of_speed.amps.tolist(),
                "turning": [bool(turns) for turns in of_speed.turning],
            }
            for column, key in (("watts", "power_W"), ("rpm", "speed_rpm")):
                if of_speed[column].notna().all():
                    run[key] = of_speed[column].tolist()
            places.update({(speed, at): int(index) for at, index in enumerate(of_speed["index"])})
            runs.append(run)
        instruments = {
            name: {
                "name": f"{unit} {name}",
                "reading_percent": float(meters[f"{short}_pct"]),
                "digits": float(meters[f"{short}_digits"]),
                "resolution": float(meters[f"{short}_res"]) * (RPM if short == "n" else 1.0),
            }
            for short, name in {"v": "voltmeter", "a": "ammeter", "w": "wattmeter", "n": "tachometer"}.items()
        }
        visit = {"date": date, "state": state, "shaft": "loaded"}
        given = {
            "format": "rewound-record/1",
            "machine": machine,
            "visit": visit,
            "instruments": instruments,
            "run_up": runs,
        }
        if insulation is not None and len(insulation):
            first = insulation.iloc[0]
            tester = {"reading_percent": float(first.acc_pct), "digits": 0, "resolution": 1e4}
            given["instruments"]["insulation_tester"] = tester
            given["insulation"] = [
                {
                    "circuit": "winding to frame",
                    "test_voltage_V": float(first.test_v_dc),
                    "winding_C": float(first.temp_c),
                    "time_s": insulation.time_s.tolist(),
                    "resistance_Mohm": insulation.ir_mohm.tolist(),
                }
            ]
        return rewound.Record.from_dict(given), places

    def before(self, unit, head, state):
        """The records of a unit's set: good machines of its model, or the unit itself as it was found."""
        own = head.cohort == "own"
        for name, meters in self.good[self.good.set == head.baseline_set].iterrows():
            rows = self.good_runs[name]
            yield self.record(unit if own else name, meters, rows, head, state, "2026-01-05")[0]

    def spread(self):
        """How good machines of any model differ, from the sets that hold several."""
        sets = {}
        for unit, head in self.units[self.units.cohort.isin(["ref3", "ref10"])].iterrows():
            if head.baseline_set not in sets:
                sets[head.baseline_set] = rewound.learn(list(self.before(unit, head, "after_repair")))
        return rewound.learn_spread(list(sets.values()))

    def judge(self, unit, head, spread):
        now, places = self.record(unit, head, self.runs[unit], head, insulation=self.insulation.get(unit))
        beside = {}
        if isinstance(head.baseline_set, str) and head.baseline_set:
            if head.cohort == "own":
                beside["earlier"] = next(self.before(unit, head, "as_found"))
            else:
                if head.baseline_set not in self.references:
                    good = list(self.before(unit, head, "after_repair"))
                    self.references[head.baseline_set] = rewound.learn(good, spread=spread)
                beside["reference"] = self.references[head.baseline_set]
        return rewound.judge(now, policy=POLICY, spread=spread, **beside), places


def told(result, places):
    """What the table counts of one result."""
    found = result.to_dict()
    causes = sorted(found.get("causes") or [], key=lambda each: -each["probability"])
    return {
        "decision": found["decision"],
        "abnormality": found.get("abnormality"),
        "merged": (found.get("steps") or {}).get("flag") == "merged",
        "misread": {places.get((each["speed"], each["index"])) for each in found.get("suspect_readings", [])},
        "causes": [(TRUTHS.get(each["cause"], each["cause"]), each["probability"]) for each in causes],
    }


def share(values):
    values = list(values)
    return f"{100.0 * sum(values) / len(values):6.1f}" if values else "     -"


def print_detection(units, ideal):
    print(
        f"{'':<12}{'faults held':>13}{'of the ideal':>14}{'healthy held':>14}{'undecided':>11}{'p <= 1, 5, 10 %':>24}"
    )
    for knowledge in (*KNOWLEDGE, "all"):
        here = units if knowledge == "all" else [unit for unit in units if unit["cohort"] == knowledge]
        faulty = [unit for unit in here if unit["group"] == "fault"]
        healthy = [unit for unit in here if unit["group"] == "healthy"]
        right = [unit["decision"] in unit["accept"] for unit in faulty]
        best = [ideal[unit["unit"]] in unit["accept"] for unit in faulty] if ideal else []
        beside = f"{sum(right) / sum(best):.2f}" if any(best) else "-"
        p = [10.0 ** -unit["abnormality"] for unit in healthy if unit["abnormality"] is not None]
        calibrated = " ".join(share(each <= limit for each in p) for limit in (0.01, 0.05, 0.10))
        held = share(unit["decision"] == "hold" for unit in healthy)
        undecided = share(unit["decision"] == "undecided" for unit in healthy)
        print(f"{knowledge:<12}{share(right):>13}{beside:>14}{held:>14}{undecided:>11}{calibrated:>24}")


def print_causes(units):
    held = [unit for unit in units if unit["group"] == "fault" and unit["decision"] == "hold"]
    named = [[cause for cause, _ in unit["causes"] if cause != "none"] for unit in held]
    first = share(unit["kind"] == causes[0] for unit, causes in zip(held, named))
    three = share(unit["kind"] in causes[:3] for unit, causes in zip(held, named))
    print(f"\ncause of the held: first {first} %, among the first three {three} %")
    table = collections.defaultdict(collections.Counter)
    for unit, causes in zip(held, named):
        table[unit["kind"]][causes[0]] += 1
    for kind, counts in sorted(table.items()):
        others = ", ".join(f"{cause} {count}" for cause, count in counts.most_common(4) if cause != kind)
        print(f"  {kind:<22}{counts[kind]:>4} of {sum(counts.values()):<4} taken for {others}")
    print("\nof all causes told with a probability, so many are right (reliability)")
    said = [(p, cause == unit["kind"]) for unit in held for cause, p in unit["causes"] if cause != "none"]
    for low, high in ((0.05, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.001)):
        inside = [(p, right) for p, right in said if low <= p < high]
        if inside:
            mean = 100.0 * sum(p for p, _ in inside) / len(inside)
            print(f"  told {mean:5.1f} %: right {share(right for _, right in inside)} % of {len(inside)}")


def print_readings(units):
    bad = [unit for unit in units if unit["group"] == "data" and unit["bad_index"]]
    named = share(int(unit["bad_index"]) in unit["misread"] for unit in bad)
    falsely = share(bool(unit["misread"]) for unit in units if unit["group"] == "healthy")
    whole = [u for u in units if u["kind"] == "speed_coil_shorted" and float(u["severity"] or 0) == 1.0]
    print(f"\nmisread reading named {named} %, on healthy machines {falsely} %")
    print(f"step shorted whole named merged {share(unit['merged'] for unit in whole)} %")


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("folder", type=pathlib.Path)
    arguments.add_argument("--limit", type=int, help="judge so many units alone")
    options = arguments.parse_args()
    cohort = Cohort(options.folder)
    spread = cohort.spread()
    truth = pd.read_csv(options.folder / "truth" / "truth.csv", keep_default_na=False).set_index("unit")
    units, refused = [], 0
    for unit, head in cohort.units.head(options.limit or len(cohort.units)).iterrows():
        known = truth.loc[unit]
        try:
            found = told(*cohort.judge(unit, head, spread))
        except rewound.RewoundError as trouble:
            refused += 1
            print(f"{unit}: {trouble}", file=sys.stderr)
            found = {"decision": "undecided", "abnormality": None, "merged": False, "misread": set(), "causes": []}
        facts = {key: known[key] for key in ("group", "kind", "severity", "bad_index")}
        units.append({"unit": unit, "cohort": head.cohort, "accept": known["accept"].split("|"), **facts, **found})
    ideal_file = options.folder / "ideal.csv"
    ideal = dict(pd.read_csv(ideal_file).set_index("unit").verdict) if ideal_file.exists() else {}
    print(f"{len(units)} units of {options.folder.name}, {refused} refused; percent\n")
    print_detection(units, ideal)
    print_causes(units)
    print_readings(units)


if __name__ == "__main__":
    main()
