"""How much the dialogue at the bench asks of a person: prompts and keystrokes of an ordinary job, counted."""

import json

import pytest

from bench_driver import COLD, FIRST, RECORD, Bench, plain, read, written

# An ordinary wall fan of three speeds, as reference/records/ordinary/gh52_wall_fan.toml has it.
FACTS = ["GH-52", "110 60 .85", "", "1", "1", "1", "1", "", "21"]
COLD_READINGS = [".08", "18.4", "", "410", ""]
RUN_UPS = ["120 60", ".82", ".9", ".66", ".72", ".53", ".57"]
STARTS = ["20 20", ""]


def clean_fan(path, facts):
    bench = Bench(path, cwd=path.parent)
    bench.wait()
    bench.say(*facts)
    before_the_first_test = bench.prompts - 1  # the one that waits now asks for the first reading
    assert "frame to earth" in plain(bench.seen).splitlines()[-1]
    bench.say(*COLD_READINGS, *RUN_UPS, *STARTS)
    bench.end("")
    return bench, before_the_first_test


def test_a_clean_fan_of_three_speeds_is_released_after_35_prompts_and_110_keystrokes(rewound, tmp_path):
    path = tmp_path / "gh52.toml"
    bench, before = clean_fan(path, FACTS)
    assert before <= 12
    assert bench.prompts <= 35 and bench.keys <= 110, (bench.prompts, bench.keys)
    assert bench.exit_code == 0 and "Decision: release" in plain(bench.seen)
    found = read(path)
    assert [(r["speed"], r["voltage_V"], r["current_A"]) for r in found["run_up"]] == [
        ("high", [110, 120], [0.82, 0.9]),
        ("medium", [110, 120], [0.66, 0.72]),
        ("low", [110, 120], [0.53, 0.57]),
    ]
    assert (found["insulation"][0]["time_s"], found["insulation"][0]["resistance_Mohm"]) == ([60], [410])
    assert found["resistance"][0]["resistance_ohm"] == 18.4 and found["earth"]["continuity_ohm"] == 0.08
    assert (found["starts"][0]["attempts"], found["starts"][0]["successes"]) == (20, 20)
    assert found["visit"]["supply_voltage_V"] == 120 and found["visit"]["supply_frequency_Hz"] == 60
    assert json.loads(rewound("judge", path, "--format", "json").stdout)["decision"] == "release"


def test_the_next_fan_of_the_kind_is_asked_less(tmp_path):
    clean_fan(tmp_path / "gh52.toml", FACTS)
    bench, before = clean_fan(tmp_path / "gh53.toml", ["2", "GH-53", "1", "", "21"])
    assert before <= 8 and bench.prompts <= 28 and bench.keys <= 90, (before, bench.prompts, bench.keys)
    assert bench.exit_code == 0
    first, second = read(tmp_path / "gh52.toml"), read(tmp_path / "gh53.toml")
    assert second["machine"] == {**first["machine"], "id": "GH-53"}


@pytest.mark.parametrize("job, year", [("2", "1965"), ("3", ""), ("4", "2019")])
def test_an_old_winding_costs_one_question_more_and_twelve_are_enough(tmp_path, job, year):
    _, before = clean_fan_begun(tmp_path / "old.toml", [*FACTS[:6], job, year, *FACTS[7:]])
    assert before <= 12


def clean_fan_begun(path, facts):
    bench = Bench(path, cwd=path.parent)
    bench.wait()
    bench.say(*facts)
    before = bench.prompts - 1
    assert "frame to earth" in plain(bench.seen).splitlines()[-1]
    bench.end()
    return bench, before


def test_the_same_as_the_last_machine_is_offered_with_its_name_and_leaves_what_is_its_own(tmp_path):
    other = RECORD.replace('id = "GH-31"', 'id = "GH-30"\ndescription = "palm house"\nserial = "A-7"\nmodel = "c-40"')
    (tmp_path / "gh30.toml").write_text(other.replace("[visit]", '[visit]\nhave = ["ammeter"]'), encoding="utf-8")
    bench = Bench(tmp_path / "new.toml", cwd=tmp_path)
    assert "2=the same as GH-30, palm house" in " ".join(bench.wait().split())
    shown = " ".join(bench.say("GH-99").split())
    assert '"GH-99" is no machine of this folder' in shown
    shown = " ".join(bench.say("GH-30").split())
    assert "model: c-40" in shown and "A-7" not in shown
    bench.say("GH-32", "rewound")
    assert "[ammeter]" in " ".join(plain(bench.seen).split())[-30:]
    bench.say("", "21")
    bench.end()
    found = read(tmp_path / "new.toml")
    assert (found["machine"]["id"], found["machine"]["model"]) == ("GH-32", "c-40")
    assert "serial" not in found["machine"] and found["visit"]["have"] == ["ammeter"]


def test_what_there_is_no_meter_for_is_not_asked(tmp_path):
    path = tmp_path / "new.toml"
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say(*FIRST[:7], "1 ammeter 6", "21")
    plan = bench.say("plan")
    bench.end()
    assert read(path)["visit"]["have"] == ["voltmeter", "ammeter", "insulation_tester"]
    assert "insulation: to do" in plan and "run-up high: to do" in plan
    assert "earth" not in plan.split("plan")[1] and "resistance" not in plan.split("plan")[1]


def test_who_sets_the_volts_is_asked_for_rated_and_mains_volts_first_and_then_onward(tmp_path):
    text = RECORD.replace(
        "supply_voltage_V = 230", 'supply_voltage_V = 240\nhave = ["ammeter", "variable_transformer"]'
    )
    path = written(tmp_path, text + COLD)
    bench = Bench(path, cwd=tmp_path)
    asked = [bench.wait()]
    asked += [bench.say(line) for line in (".42", ".45", ".205", ".268", ".331")]
    volts = [line.splitlines()[-1].split()[1] for line in asked]
    assert volts == ["230", "240", "115", "150", "184", "207"]
    assert "has what it needs" in bench.say(".376")
    bench.end()


def at_high(tmp_path):
    path = written(tmp_path, RECORD + COLD)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    return path, bench


@pytest.mark.parametrize("line", ["230.42", "230", "23042", "2300 .42", "23 .42", "230 42"])
def test_volts_and_amps_run_together_are_caught_before_they_are_stored(tmp_path, line):
    path, bench = at_high(tmp_path)
    shown = " ".join(bench.say(line).split())
    assert "! " in shown and "with its unit it is taken" in shown and "STOP" not in shown
    bench.end()
    assert read(path)["run_up"] == []


def test_facts_are_corrected_and_notes_kept_at_any_time(tmp_path):
    path, bench = at_high(tmp_path)
    assert "high 230 V" in bench.say("note hums a little")
    assert "high 220 V" in bench.say("fact rated voltage 220")
    assert "poles: of the fastest speed" in bench.say("fact poles")
    assert "! " in bench.say("fact poles 3") and "! " in bench.say("fact colour red")
    bench.say("go resistance", "aux", "fact ambient 23", "note aux is new", "32")
    shown = bench.say("facts")
    assert "rated voltage, V: 220" in shown and "ambient, degC: 23" in shown
    bench.say("fact wound year -")
    bench.end()
    found = read(path)
    assert found["machine"]["rated_voltage_V"] == 220 and found["visit"]["ambient_C"] == 23
    assert "wound_year" not in found["machine"]
    assert found["visit"]["notes"] == ["hums a little", "aux is new"]
    assert found["resistance"][1]["section"] == "aux" and found["resistance"][1]["resistance_ohm"] == 32


def test_an_undone_fact_is_as_it_was(tmp_path):
    path, bench = at_high(tmp_path)
    bench.say("fact rated voltage 220")
    assert "undone" in bench.say("undo")
    bench.end()
    assert read(path)["machine"]["rated_voltage_V"] == 230


def test_facts_and_notes_are_stated_among_the_first_questions_too(tmp_path):
    path = tmp_path / "new.toml"
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("fact poles 4", "fact date 2026-05-14", "note came in a box", "note blades bent")
    assert "! " in bench.say("fact poles 3")
    bench.say(*FIRST)
    bench.end()
    found = read(path)
    assert found["machine"]["poles"] == 4 and found["visit"]["notes"] == ["came in a box", "blades bent"]
    assert str(found["visit"]["date"]) == "2026-05-14"


def test_a_question_mark_explains_the_question_by_the_records_own_list(rewound, tmp_path):
    keys = rewound("template", "--keys").stdout
    path = tmp_path / "new.toml"
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("GH-31")
    shown = " ".join(bench.say("?").split())
    assert "rated voltage, V: as marked; a voltage from 0.001 to 100000 V; as 230" in shown
    assert "a voltage from 0.001 to 100000 V" in keys
    bench.say(*FIRST[1:])
    assert "class I: frame to earth pin" in bench.say("?")
    assert "`list`" in bench.say("help")
    bench.end()


def test_done_leaves_one_question_and_stop_the_test(tmp_path):
    text = RECORD.replace("ambient_C = 21\n", "")
    path = written(tmp_path, text)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("go resistance")
    assert "winding, degC" in bench.say("18.4")
    assert "ohms of main" in bench.say("done")
    assert "ohms of aux" in bench.say("aux")
    assert "ohms of main" in bench.say("done")
    bench.say("18.4")
    assert "-- resistance" not in bench.say("stop")
    bench.end()
    assert "resistance" not in read(path)


def test_done_leaves_one_check_open_and_asks_the_next(tmp_path):
    (tmp_path / "policy.toml").write_text(
        'format = "rewound-policy/1"\nrequired_checks = ["guard_fitted", "cord whole", "label on"]\n', encoding="utf-8"
    )
    path = written(tmp_path)
    bench = Bench(path, "--policy", "policy.toml", cwd=tmp_path)
    bench.wait()
    assert "the guard is fitted, yes or no" in bench.say("go checks")
    bench.say("yes", "done", "yes")
    bench.end()
    assert read(path)["checks"] == {"guard_fitted": True, "label on": True}


def test_judge_shows_the_conditions_too(rewound, tmp_path):
    clean_fan(tmp_path / "gh52.toml", FACTS)
    bench = Bench(tmp_path / "gh52.toml", cwd=tmp_path)
    bench.wait()
    shown = " ".join(bench.say("judge").split())
    bench.end()
    assert "Only if" in shown and "run it on 99 to 121 V, 60 Hz" in shown and "RELEASE" in shown


def test_a_current_beyond_the_ammeters_range_stands_in_its_row(tmp_path):
    path, bench = at_high(tmp_path)
    bench.say("230 .42", "go low", "230 >2")
    assert "end of the ammeter's range" in bench.say("go low", "235 OL")
    bench.say("2")
    bench.end()
    low = read(path)["run_up"][1]
    assert (low["voltage_V"], low["current_A"]) == ([230, 235], [">2", ">2"])


def test_a_speed_taken_out_of_turn_leaves_the_one_that_was_asked_for_to_be_asked_again(tmp_path):
    path, bench = at_high(tmp_path)
    assert "high 230 V" in bench.say("low 230 .34")
    bench.end()
    assert [run["speed"] for run in read(path)["run_up"]] == ["low"]


@pytest.mark.parametrize("line", ["2305", "23050", "50"])
def test_mains_far_from_what_the_machine_is_made_for_are_asked_again(tmp_path, line):
    path = written(tmp_path, RECORD.replace("supply_voltage_V = 230\n", "") + COLD)
    bench = Bench(path, cwd=tmp_path)
    assert "mains where it will run" in bench.wait()
    assert "mains where it will run" in bench.say(line)
    assert "high 230 V" in bench.say("231 50")
    bench.end()
    assert (read(path)["visit"]["supply_voltage_V"], read(path)["visit"]["supply_frequency_Hz"]) == (231, 50)


def test_without_an_insulation_tester_nothing_is_energised(tmp_path):
    text = RECORD.replace("[visit]\n", '[visit]\nhave = ["multimeter"]\n')
    path = written(tmp_path, text)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    shown = bench.say(".08", "18.4", "")
    assert "Not energised" in shown and "-- run-up" not in shown and "-- insulation" not in shown
    bench.end()


def test_leakage_is_asked_for_in_all_four_ways_one_prompt_each(tmp_path):
    path = written(
        tmp_path, RECORD.replace('appliance_class = "I"', 'appliance_class = "II"') + COLD.split("[earth]")[0]
    )
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    asked = [bench.say("go leakage")] + [bench.say(line) for line in (".1", ".12", ".05", ".06")]
    bench.end()
    ways = [line.splitlines()[-1].split(", mA")[0] for line in asked[:4]]
    assert ways == [
        f"leakage, {way}"
        for way in ("normal, switch on", "reversed, switch on", "normal, switch off", "reversed, switch off")
    ]
    assert [(e["polarity"], e["switch"], e["current_mA"]) for e in read(path)["leakage"]] == [
        ("normal", "on", 0.1),
        ("reversed", "on", 0.12),
        ("normal", "off", 0.05),
        ("reversed", "off", 0.06),
    ]


def test_the_equipment_of_the_shop_is_what_enter_takes(tmp_path):
    (tmp_path / "policy.toml").write_text(
        'format = "rewound-policy/1"\nequipment = ["insulation_tester", "clamp_meter"]\n', encoding="utf-8"
    )
    path = tmp_path / "new.toml"
    bench = Bench(path, "--policy", "policy.toml", cwd=tmp_path)
    bench.wait()
    assert "[insulation_tester clamp_meter]" in " ".join(bench.say(*FIRST[:7]).split())
    assert "-- insulation" in bench.say("", "21")
    bench.end()
    assert read(path)["visit"]["have"] == ["insulation_tester", "clamp_meter"]


def test_a_reading_that_stops_the_person_waits_for_done(tmp_path):
    path = written(tmp_path, RECORD.replace("supply_voltage_V = 230", "supply_voltage_V = 240") + COLD)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say(".42")
    bench.child.send("5A\r")
    bench.child.expect("voltage is down > ")
    bench.child.send("\r")
    assert "high" in bench.wait().splitlines()[-1]
    assert "low 230 V" in bench.say("done")
    assert "high" in bench.say("go high").splitlines()[-1]
    bench.say("240 .44")
    assert "-- starting" not in plain(bench.seen)
    bench.end()


def test_a_speed_whose_last_reading_is_kept_as_read_goes_on_to_the_next(tmp_path):
    path = written(tmp_path, RECORD.replace("[visit]\n", '[visit]\nhave = ["ammeter"]\n') + COLD)
    bench = Bench(path, cwd=tmp_path)
    bench.wait()
    bench.say("115 .205", "150 .268", "184 .331", "207 .376")
    assert "high again 230 V" in bench.say("230 .24")
    assert "low 230 V" in bench.say("keep")
    bench.end()
