"""Laws of verdicts over generated ordinary records: what is usually written down after a repair, in many sizes."""

import copy
import json
import math
import os
import pathlib
import random
import subprocess
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "cli"))
from ordinary import changed, fan, text_of  # noqa: E402

# Under the sanitizers a fifth meets the same code (as tests/support/simulation_size.hpp says of simulations).
MACHINES = 40 if os.environ.get("REWOUND_SANITIZED") else 200
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


@pytest.fixture(scope="module")
def cohort():
    return [started(healthy(seed)) for seed in range(MACHINES)]


@pytest.fixture
def judged(tmp_path):
    """Results of records, in their order."""

    def judge(records):
        folder = tmp_path / f"records{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        for number, record in enumerate(records):
            (folder / f"{number:05d}.toml").write_text(text_of(record), encoding="utf-8")
        command = [os.environ["REWOUND_BIN"], "batch", str(folder), "--format", "json", "--threads", "2"]
        done = subprocess.run(command, capture_output=True, text=True, timeout=600)
        assert done.returncode in (0, 10, 20), done.stderr
        results = [json.loads(line) for line in done.stdout.splitlines()]
        assert len(results) == len(records)
        return results

    return judge


def test_a_sound_machine_is_never_held_and_seldom_undecided(cohort, judged):
    results = judged(cohort)
    held = [each["machine"] for each in results if each["decision"] == "hold"]
    assert held == []
    undecided = [each["machine"] for each in results if each["decision"] == "undecided"]
    assert len(undecided) <= 0.1 * MACHINES, (len(undecided), undecided[:10])


def test_missing_evidence_never_releases(cohort, judged):
    without = []
    for record in cohort[:80]:
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
        without += [changed(record, **gap) for gap in gaps]
    assert {each["decision"] for each in judged(without)} <= {"undecided", "hold"}


@pytest.mark.parametrize(
    "fact",
    [
        {"insulation_system": "thermosetting"},
        {"insulation_system": "thermoplastic"},
        {"insulation_class": "130"},
        {"insulation_class": "105"},
        {"wound_year": 1985},
        {"wound_year": 1948},
        {"frame_earthed": True},
        {"winding_kind": None},
        {"rated_power_W": None},
    ],
    ids=str,
)
def test_entering_a_true_fact_never_fails_a_sound_machine(cohort, judged, fact):
    assert not [
        each for each in judged([changed(record, machine=fact) for record in cohort[:80]]) if each["decision"] == "hold"
    ]


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


@pytest.mark.parametrize("name", WORSE)
def test_a_worse_reading_never_gives_a_better_outcome(cohort, judged, name):
    worsen, degrees = WORSE[name]
    records = [each for record in cohort[:50] for each in chain(record, worsen, degrees)]
    ranks = [RANK[each["decision"]] for each in judged(records)]
    chains = [ranks[i : i + len(degrees)] for i in range(0, len(ranks), len(degrees))]
    assert [each for each in chains if each != sorted(each)] == []
    assert all(each[-1] > 0 for each in chains)


def test_no_list_of_causes_contradicts_its_decision(cohort, judged):
    records = [
        each
        for record in cohort[:30]
        for worsen, degrees in WORSE.values()
        for each in chain(record, worsen, degrees[-1:])
    ]
    for result in judged(records):
        if any(each["outcome"] == "fails" for each in result["findings"]):
            assert result["causes"][0]["cause"] != "none", result["machine"]
        if result["decision"] == "release":
            assert {each["cause"]: each["probability"] for each in result["causes"]}["none"] >= 0.2


def test_no_step_under_power_is_proposed_while_cold_tests_are_open(cohort, judged):
    for gap in ({"insulation": []}, {"earth": None}):
        for result in judged([changed(record, starts=[], **gap) for record in cohort[:30]]):
            words = " / ".join(result["next"] + [each["measurement"] for each in result["next_measurements"]])
            for word in ("run up", "start", "watts", "rpm", "rotation", "coast", "heat_run", "heat run"):
                assert word not in words.replace("start_resistance", ""), words


def altered_run_up(record, speed, which, key, factor):
    """A slip of one reading: `which` counts the readings of the speed."""
    volts, amps, *further = record["run_up"][speed]
    lists = {"volts": list(volts), "amps": list(amps)}
    lists[key][which] = round(lists[key][which] * factor, 4)
    return changed(record, run_up={speed: (lists["volts"], lists["amps"], *further)})


def test_volts_slipped_at_an_end_of_a_run_never_release(cohort, judged):
    """No bench runs a machine at 1.73 times its mains, and no rotor at rest takes a hundred times its current."""
    slipped = []
    for record in cohort[:25]:
        for speed in (record["machine"]["speeds"][0], record["machine"]["speeds"][-1]):
            slipped += [altered_run_up(record, speed, -1, "volts", factor) for factor in (1.73, 2, 100)]
            slipped += [altered_run_up(record, speed, which, "volts", 0.01) for which in (0, -1)]
            slipped.append(altered_run_up(record, speed, 0, "amps", 100))
    assert "release" not in {each["decision"] for each in judged(slipped)}


def test_a_voltage_halved_or_read_between_other_lines_in_a_short_run_never_releases(cohort, judged):
    """In a run of two readings nothing but the voltages that the bench set shows that 55 V were 110."""
    slipped = []
    for record in cohort[:60]:
        rated, mains = record["machine"]["rated_voltage_V"], record["visit"]["supply_voltage_V"]
        if abs(mains - rated) < 0.015 * rated:
            continue  # then the other reading tells what this one would
        for speed in {record["machine"]["speeds"][0], record["machine"]["speeds"][-1]}:
            if len(record["run_up"][speed][0]) == 2:
                for factor in (0.5, 1 / 1.73, 1.73, 2):
                    slipped += [altered_run_up(record, speed, which, "volts", factor) for which in (0, 1)]
    assert len(slipped) > 100
    results = judged(slipped)
    assert "release" not in {each["decision"] for each in results}


def test_a_machine_that_is_better_than_it_was_found_is_not_held_for_it(cohort, judged, tmp_path):
    """What it drew before the repair, farther from its plate than now, is no measure of what it should draw: the plate
    judges it, as without that visit."""
    (tmp_path / "pairs").mkdir()
    compared = 0
    for number, record in enumerate(cohort[:40]):
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
        paths = [tmp_path / "pairs" / f"{number}{name}.toml" for name in ("", "before")]
        for path, each in zip(paths, (record, found)):
            path.write_text(text_of(each), encoding="utf-8")
        command = [os.environ["REWOUND_BIN"], "judge", str(paths[0]), "--earlier", str(paths[1]), "--format", "json"]
        done = json.loads(subprocess.run(command, capture_output=True, text=True, timeout=60).stdout)
        assert done["decision"] == judged([record])[0]["decision"], (number, done["reasons"])
    assert compared >= 30


def test_watts_far_below_what_losses_take_never_release(cohort, judged):
    records, wrong = [], []
    for record in cohort[:30]:
        fastest = record["machine"]["speeds"][0]
        volts, amps = record["run_up"][fastest][:2]
        watts = [round(0.75 * v * a, 1) for v, a in zip(volts, amps)]
        records.append(changed(record, run_up={fastest: (volts, amps, {"power_W": watts})}))
        for factor in (0, 0.001):
            few = [round(factor * each, 4) for each in watts]
            wrong.append(changed(record, run_up={fastest: (volts, amps, {"power_W": few})}))
    assert "release" in {each["decision"] for each in judged(records)}
    assert "release" not in {each["decision"] for each in judged(wrong)}


def test_a_start_winding_alone_is_no_winding_measured(cohort, judged):
    alone = [
        changed(record, resistance=[{"section": name, "resistance_ohm": 88.0, "winding_C": 20}])
        for record in cohort[:20]
        for name in ("start", "auxiliary winding")
    ]
    assert {each["decision"] for each in judged(alone)} <= {"undecided", "hold"}


def test_air_of_a_heat_run_in_other_degrees_never_releases(cohort, judged):
    """A rise of 115 K on a class of 95 K, with the air entered as 70 (degF) or the cold winding as -10: both flatter."""
    minutes = [0, 10, 20, 30, 45, 60, 90, 120, 180, 240, 300]
    rise = [115 * (1 - math.exp(-each / 60)) for each in minutes]
    ohms = [round(18.4 * (234.5 + 21 + each) / (234.5 + 21), 3) for each in rise]
    records = []
    for record in cohort[:15]:
        for air, cold in ((21, 21), (70, 21), (45, 21), (21, -10)):
            run = (
                f"[heat_run]\ncold_ohm = 18.4\ncold_C = {cold}\nambient_C = {air}\n"
                f"time_s = {[60 * each for each in minutes]}\nresistance_ohm = {ohms}\n"
            )
            records.append(changed(record, machine={"insulation_class": "130"}, more=run))
    assert "release" not in {each["decision"] for each in judged(records)}


@pytest.mark.parametrize("rpm", [(400, 300, 200), (1350, 1349, 1351), (1350, 1350, 1350)])
def test_turning_that_the_currents_contradict_never_releases(cohort, judged, rpm):
    """400 on a machine that names no poles, and one turning on speeds whose currents lie well apart, with its fan on."""
    records = []
    for record in cohort[:40]:
        if record["machine"]["rated_frequency_Hz"] != 50 or len(record["machine"]["speeds"]) < 3:
            continue
        run_up = {
            speed: (*record["run_up"][speed][:2], {"speed_rpm": [turns] * len(record["run_up"][speed][0])})
            for speed, turns in zip(record["machine"]["speeds"], rpm)
        }
        records.append(changed(record, run_up=run_up))
    assert len(records) > 5
    assert "release" not in {each["decision"] for each in judged(records)}
