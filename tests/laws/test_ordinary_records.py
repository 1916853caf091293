"""Laws of verdicts over generated ordinary records: what is usually written down after a repair, in many sizes.

All records are judged in one batch, machine by machine: most of a judgement's time goes into designs like the machine,
which records of one machine share. So a law states first what it asks to be judged, then what the answers must be.
"""

import copy
import itertools
import json
import math
import os
import pathlib
import random
import subprocess
import sys
from functools import partial

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
from ordinary import changed, fan, text_of  # noqa: E402

# Under the sanitizers a tenth meets the same code (as tests/support/simulation_size.hpp says of simulations).
SANITIZED = bool(os.environ.get("REWOUND_SANITIZED"))
MACHINES = 20 if SANITIZED else 200
RANK = {"release": 0, "undecided": 1, "hold": 2}


def healthy(seed):
    """A sound machine with what a release needs: an invented fan of some rating, read as a shop reads it."""
    draw = random.Random(seed)
    rated = draw.choice([110, 115, 120, 220, 230, 240])
    marked = round(draw.choice([0.25, 0.42, 0.6, 0.85, 1.2]) * draw.uniform(0.9, 1.1), 2)
    speeds = ["high", "medium", "low"][: draw.choice([1, 2, 3, 3])]
    control = (
        draw.choice(["series_reactor", "tapped_winding", "autotransformer", "unknown"]) if len(speeds) > 1 else "none"
    )
    mains = round(rated * draw.uniform(0.94, 1.09))
    volts = draw.choice([[rated, mains], [round(0.6 * rated), round(0.8 * rated), rated, round(1.06 * rated), mains]])
    volts = sorted(set(volts))
    level = draw.uniform(0.9, 1.05)
    digits = draw.choice([2, 3])
    run_up = {"high": None, "medium": None, "low": None}
    amps = marked * level
    for speed in speeds:
        exponent = draw.uniform(0.7, 1.5)
        run_up[speed] = (volts, [round(amps * (v / rated) ** exponent, digits) for v in volts])
        amps *= draw.uniform(0.74, 0.86)
    ohms = round(draw.uniform(8, 60), 1)
    record = fan(
        id=f"LAW-{seed}",
        rated_voltage_V=rated,
        rated_frequency_Hz=draw.choice([50, 60]),
        rated_current_A=marked,
        speeds=speeds,
        speed_control=control,
        running_circuit=draw.choice(["permanent_capacitor", "start_winding_switched", "shaded_pole", "unknown"]),
    )
    record["visit"].update(supply_voltage_V=mains, supply_frequency_Hz=record["machine"]["rated_frequency_Hz"])
    return changed(
        record,
        run_up=run_up,
        insulation=[
            {
                "circuit": "winding to frame",
                "test_voltage_V": 500,
                "time_s": [60],
                "resistance_Mohm": [round(10 ** draw.uniform(2.2, 3.2))],
            }
        ],
        starts=[{"position": "upright", "attempts": draw.randint(5, 25), "successes": 0}],
        resistance=[
            {
                "section": "main",
                "resistance_ohm": round(ohms * draw.uniform(0.985, 1.015), 2),
                "winding_C": 20,
                "expected_ohm": ohms,
            }
        ],
        earth=round(draw.uniform(0.03, 0.08), 3),
    )


def started(record):
    record["starts"][0]["successes"] = record["starts"][0]["attempts"]
    return record


ASKED = {}


def asks(*, of):
    """Registers a law's records: `make` gives those of one machine, `of` is how many machines it looks at (under the
    sanitizers a tenth)."""

    def register(make):
        ASKED[make.__name__] = (make, max(1, of // 10) if SANITIZED else of)
        return make

    return register


@pytest.fixture(scope="module")
def cohort():
    return [started(healthy(seed)) for seed in range(MACHINES)]


@pytest.fixture(scope="module")
def answers(cohort, tmp_path_factory):
    """By the name of what was asked: for each machine the results of its records, in their order."""
    asked = []
    for number, record in enumerate(cohort):
        of_machine = [
            (name, each) for name, (make, machines) in ASKED.items() if number < machines for each in make(record)
        ]
        asked.append([(name, number, each) for name, each in of_machine])
    # Two machines side by side, since two threads judge: neither waits for what the other works out.
    order = [
        each
        for pair in range(0, len(asked), 2)
        for both in itertools.zip_longest(*asked[pair : pair + 2])
        for each in both
        if each is not None
    ]
    folder = tmp_path_factory.mktemp("records")
    for place, (_, _, record) in enumerate(order):
        (folder / f"{place:05d}.toml").write_text(text_of(record), encoding="utf-8")
    command = [os.environ["REWOUND_BIN"], "batch", str(folder), "--format", "json", "--threads", "2"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=1500)
    assert done.returncode in (0, 10, 20), done.stderr
    results = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(results) == len(order)
    out = {name: [[] for _ in range(machines)] for name, (_, machines) in ASKED.items()}
    for (name, number, _), result in zip(order, results):
        out[name][number].append(result)
    return out


def together(of_machines):
    return [each for results in of_machines for each in results]


def decisions(of_machines):
    found = {each["decision"] for each in together(of_machines)}
    assert found, "no machine was judged"
    return found


@asks(of=200)
def as_it_is(record):
    return [record]


def test_a_sound_machine_is_never_held_and_seldom_undecided(answers):
    results = together(answers["as_it_is"])
    held = [each["machine"] for each in results if each["decision"] == "hold"]
    assert held == []
    undecided = [each["machine"] for each in results if each["decision"] == "undecided"]
    assert len(undecided) <= 0.1 * MACHINES, (len(undecided), undecided[:10])


@asks(of=80)
def without_something(record):
    *_, slowest = speeds = record["machine"]["speeds"]
    gaps = [
        {"insulation": []},
        {"resistance": []},
        {"starts": []},
        {"earth": None},
        {"machine": {"rated_current_A": None}},
    ]
    if len(speeds) > 1:
        gaps.append({"run_up": {slowest: None}})
    return [changed(record, **gap) for gap in gaps]


def test_missing_evidence_never_releases(answers):
    assert decisions(answers["without_something"]) <= {"undecided", "hold"}


TRUE_FACTS = [
    {"insulation_system": "thermosetting"},
    {"insulation_system": "thermoplastic"},
    {"insulation_class": "130"},
    {"insulation_class": "105"},
    {"wound_year": 1985},
    {"wound_year": 1948},
    {"frame_earthed": True},
    {"winding_kind": None},
    {"rated_power_W": None},
]


@asks(of=80)
def with_a_fact(record):
    return [changed(record, machine=fact) for fact in TRUE_FACTS]


@pytest.mark.parametrize("which", range(len(TRUE_FACTS)), ids=lambda which: str(TRUE_FACTS[which]))
def test_entering_a_true_fact_never_fails_a_sound_machine(answers, which):
    assert not [each for each in (results[which] for results in answers["with_a_fact"]) if each["decision"] == "hold"]


def chain(record, worsen, degrees):
    out = []
    for degree in degrees:
        worse = copy.deepcopy(record)
        worsen(worse, degree)
        out.append(worse)
    return out


def more_current(record, factor):
    speed = record["machine"]["speeds"][0]
    volts, amps = record["run_up"][speed]
    record["run_up"][speed] = (volts, [round(each * factor, 3) for each in amps])


def less_insulation(record, factor):
    record["insulation"][0]["resistance_Mohm"] = [record["insulation"][0]["resistance_Mohm"][0] / factor]


def more_earth(record, factor):
    record["earth"] *= factor


def fewer_starts(record, failures):
    record["starts"][0]["successes"] -= failures


def steeper_to_the_mains(record, factor):
    for speed, readings in record["run_up"].items():
        if readings is not None:
            volts, amps = readings
            record["run_up"][speed] = (volts, amps[:-1] + [round(amps[-1] * factor, 3)])


WORSE = {
    "more current on the fastest speed": (more_current, [1.0, 1.1, 1.2, 1.35, 1.6]),
    "less insulation": (less_insulation, [1, 5, 25, 125, 1000]),
    "more ohms of earth": (more_earth, [1, 2, 4, 10, 100]),
    "fewer starts": (fewer_starts, [0, 1, 3, 5]),
}


ASKED |= {
    name: (partial(chain, worsen=worsen, degrees=degrees), 5 if SANITIZED else 50)
    for name, (worsen, degrees) in WORSE.items()
}


@pytest.mark.parametrize("name", WORSE)
def test_a_worse_reading_never_gives_a_better_outcome(answers, name):
    chains = [[RANK[each["decision"]] for each in results] for results in answers[name]]
    assert [each for each in chains if each != sorted(each)] == []
    assert all(each[-1] > 0 for each in chains)


def test_no_list_of_causes_contradicts_its_decision(answers):
    for result in [results[-1] for name in WORSE for results in answers[name][:30]]:
        if any(each["outcome"] == "fails" for each in result["findings"]):
            assert result["causes"][0]["cause"] != "none", result["machine"]
        if result["decision"] == "release":
            assert {each["cause"]: each["probability"] for each in result["causes"]}["none"] >= 0.2


@asks(of=30)
def with_cold_tests_open(record):
    return [changed(record, starts=[], **gap) for gap in ({"insulation": []}, {"earth": None})]


def test_no_step_under_power_is_proposed_while_cold_tests_are_open(answers):
    for result in together(answers["with_cold_tests_open"]):
        words = " / ".join(result["next"] + [each["measurement"] for each in result["next_measurements"]])
        for word in ("run up", "start", "watts", "rpm", "rotation", "coast", "heat_run", "heat run"):
            assert word not in words.replace("start_resistance", ""), words


def altered_run_up(record, speed, which, key, factor):
    """A slip of one reading: `which` counts the readings of the speed."""
    volts, amps, *further = record["run_up"][speed]
    lists = {"volts": list(volts), "amps": list(amps)}
    lists[key][which] = round(lists[key][which] * factor, 4)
    return changed(record, run_up={speed: (lists["volts"], lists["amps"], *further)})


@asks(of=25)
def volts_slipped_at_an_end(record):
    slipped = []
    for speed in (record["machine"]["speeds"][0], record["machine"]["speeds"][-1]):
        slipped += [altered_run_up(record, speed, -1, "volts", factor) for factor in (1.73, 2, 100)]
        slipped += [altered_run_up(record, speed, which, "volts", 0.01) for which in (0, -1)]
        slipped.append(altered_run_up(record, speed, 0, "amps", 100))
    return slipped


def test_volts_slipped_at_an_end_of_a_run_never_release(answers):
    """No bench runs a machine at 1.73 times its mains, and no rotor at rest takes a hundred times its current."""
    assert "release" not in decisions(answers["volts_slipped_at_an_end"])


@asks(of=60)
def volts_of_other_lines(record):
    rated, mains = record["machine"]["rated_voltage_V"], record["visit"]["supply_voltage_V"]
    if abs(mains - rated) < 0.015 * rated:
        return []  # then the other reading tells what this one would
    slipped = []
    for speed in dict.fromkeys([record["machine"]["speeds"][0], record["machine"]["speeds"][-1]]):
        if len(record["run_up"][speed][0]) == 2:
            for factor in (0.5, 1 / 1.73, 1.73, 2):
                slipped += [altered_run_up(record, speed, which, "volts", factor) for which in (0, 1)]
    return slipped


def test_a_voltage_halved_or_read_between_other_lines_in_a_short_run_never_releases(answers):
    """In a run of two readings nothing but the voltages that the bench set shows that 55 V were 110."""
    assert len(together(answers["volts_of_other_lines"])) > (8 if SANITIZED else 100)
    assert "release" not in decisions(answers["volts_of_other_lines"])


def test_a_machine_that_is_better_than_it_was_found_is_not_held_for_it(cohort, answers, tmp_path):
    """What it drew before the repair, farther from its plate than now, is no measure of what it should draw: the plate
    judges it, as without that visit."""
    compared = 0
    for number, record in enumerate(cohort[: 4 if SANITIZED else 40]):
        factor = 1.06 + 0.02 * number
        volts, amperes = record["run_up"][record["machine"]["speeds"][0]]
        rated, marked = record["machine"]["rated_voltage_V"], record["machine"]["rated_current_A"]
        now = min(zip(volts, amperes), key=lambda pair: abs(pair[0] - rated))[1]
        if abs(math.log(now / marked)) > abs(math.log(factor * now / marked)) - 0.01:
            continue
        compared += 1
        run_up = {
            speed: None if runs is None else (runs[0], [round(each * factor, 3) for each in runs[1]])
            for speed, runs in record["run_up"].items()
        }
        found = changed(record, run_up=run_up, visit={"date": "2026-10-10", "state": "as_found", "work": []})
        paths = [tmp_path / f"{number}{name}.toml" for name in ("", "before")]
        for path, each in zip(paths, (record, found)):
            path.write_text(text_of(each), encoding="utf-8")
        command = [os.environ["REWOUND_BIN"], "judge", str(paths[0]), "--earlier", str(paths[1]), "--format", "json"]
        done = json.loads(subprocess.run(command, capture_output=True, text=True, timeout=60).stdout)
        assert done["decision"] == answers["as_it_is"][number][0]["decision"], (number, done["reasons"])
    assert compared >= (2 if SANITIZED else 30)


@asks(of=30)
def with_watts(record):
    """Those that its losses may take, then next to none."""
    fastest = record["machine"]["speeds"][0]
    volts, amps = record["run_up"][fastest][:2]
    watts = [round(0.75 * v * a, 1) for v, a in zip(volts, amps)]
    return [
        changed(record, run_up={fastest: (volts, amps, {"power_W": [round(factor * each, 4) for each in watts]})})
        for factor in (1, 0, 0.001)
    ]


def test_watts_far_below_what_losses_take_never_release(answers):
    assert "release" in {results[0]["decision"] for results in answers["with_watts"]}
    assert "release" not in decisions([results[1:] for results in answers["with_watts"]])


@asks(of=20)
def with_a_start_winding_alone(record):
    return [
        changed(record, resistance=[{"section": name, "resistance_ohm": 88.0, "winding_C": 20}])
        for name in ("start", "auxiliary winding")
    ]


def test_a_start_winding_alone_is_no_winding_measured(answers):
    assert decisions(answers["with_a_start_winding_alone"]) <= {"undecided", "hold"}


@asks(of=15)
def with_air_in_other_degrees(record):
    minutes = [0, 10, 20, 30, 45, 60, 90, 120, 180, 240, 300]
    rise = [115 * (1 - math.exp(-each / 60)) for each in minutes]
    ohms = [round(18.4 * (234.5 + 21 + each) / (234.5 + 21), 3) for each in rise]
    records = []
    for air, cold in ((21, 21), (70, 21), (45, 21), (21, -10)):
        run = (
            f"[heat_run]\ncold_ohm = 18.4\ncold_C = {cold}\nambient_C = {air}\n"
            f"time_s = {[60 * each for each in minutes]}\nresistance_ohm = {ohms}\n"
        )
        records.append(changed(record, machine={"insulation_class": "130"}, more=run))
    return records


def test_air_of_a_heat_run_in_other_degrees_never_releases(answers):
    """A rise of 115 K on a class of 95 K, with the air entered as 70 (degF) or the cold winding as -10: both flatter."""
    assert "release" not in decisions(answers["with_air_in_other_degrees"])


CONTRADICTED = [(400, 300, 200), (1350, 1349, 1351), (1350, 1350, 1350)]


@asks(of=40)
def with_turning_contradicted(record):
    if record["machine"]["rated_frequency_Hz"] != 50 or len(record["machine"]["speeds"]) < 3:
        return []
    return [
        changed(
            record,
            run_up={
                speed: (*record["run_up"][speed][:2], {"speed_rpm": [turns] * len(record["run_up"][speed][0])})
                for speed, turns in zip(record["machine"]["speeds"], rpm)
            },
        )
        for rpm in CONTRADICTED
    ]


@pytest.mark.parametrize("which", range(len(CONTRADICTED)), ids=lambda which: str(CONTRADICTED[which]))
def test_turning_that_the_currents_contradict_never_releases(answers, which):
    """400 on a machine that names no poles, and one turning on speeds whose currents lie well apart, with its fan on."""
    judged = [results[which] for results in answers["with_turning_contradicted"] if results]
    assert SANITIZED or len(judged) > 5
    assert "release" not in {each["decision"] for each in judged}
