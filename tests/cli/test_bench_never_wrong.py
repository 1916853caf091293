"""What is typed by mistake at the bench is asked for again, and never opens the way to power."""

import pytest

from bench_driver import COLD, FIRST, RECORD, piped, read, typed, written

COLD_READY = RECORD + COLD
TOUCHING = ["", ""]  # two cautions read


def at_withstand(path, *lines):
    # The run-up's caution, then the step's cautions.
    return typed(path, "", "go withstand", *[""] * 4, *lines)


@pytest.mark.parametrize("answer, broke_down", [("y", True), ("Yes", True), ("YES", True), ("n", False), ("No", False)])
def test_a_breakdown_is_recorded_as_it_was_answered_in_capitals_or_not(tmp_path, answer, broke_down):
    path = written(tmp_path)
    at_withstand(path, "", "1500", "DC", "60", "Overhauled", answer)
    entry = read(path)["withstand"][0]
    assert entry.get("broke_down", False) is broke_down
    assert (entry["kind"], entry["winding_state"] if "winding_state" in entry else entry["state"]) == (
        "dc",
        "overhauled",
    )


def test_a_word_that_is_not_in_the_list_is_asked_for_again(tmp_path):
    path = written(tmp_path)
    shown = at_withstand(path, "", "1500", "both", "ac", "60", "overhaulde", "new", "", "perhaps", "no")
    assert '"both" was not taken: type ac or dc' in shown
    assert '"overhaulde" was not taken' in shown
    assert '"perhaps" was not taken: type yes or no' in shown
    assert read(path)["withstand"][0]["kind"] == "ac"


def test_polarity_and_switch_of_a_leakage_reading_are_refused_when_misspelt(tmp_path):
    path = written(tmp_path)
    shown = typed(path, "", "go leakage", "", "rev off .2", "Reversed of .2", "Reversed OFF 0.2 230V")
    assert 'read "rev off .2"' in shown and 'read "Reversed of .2"' in shown
    assert read(path)["leakage"][0]["condition"] == "frame, switch off, reversed"


def test_a_fraction_of_a_start_is_refused_and_ohms_need_the_name_of_a_further_section(tmp_path):
    path = written(tmp_path)
    shown = typed(path, "", "go starting", "5", "4.6 4", "5 4.4", "5 5", "", "go resistance", *TOUCHING, "18.4", "")
    assert read(path)["starts"][0]["attempts"] == 5 and read(path)["starts"][0]["successes"] == 5
    assert shown.count("whole numbers of tries") == 2 and "tries and how many of them started" in shown
    assert "the section's name before its ohms" in shown
    assert len(read(path)["resistance"]) == 1


def test_no_result_of_a_test_is_taken_by_enter_alone(tmp_path):
    path = written(tmp_path, RECORD)
    typed(path, "", "", "", "", "", "go insulation", "", "", "", "", "", "go starting", "", "")
    assert not {"earth", "resistance", "insulation", "starts"} & set(read(path))


def without_insulation(circuit="winding to frame", megohms="[180, 240, 310]"):
    return COLD_READY.replace('"winding to frame"', f'"{circuit}"').replace("[180, 240, 310]", megohms)


@pytest.mark.parametrize(
    "text",
    [
        RECORD,
        without_insulation(megohms="[1, 1, 1]"),
        without_insulation(megohms="[310, 240, 100]"),
        without_insulation(circuit="lamp cord"),
    ],
    ids=["none", "low", "falling", "other circuit"],
)
def test_no_withstand_test_unless_that_circuits_insulation_conforms(tmp_path, text):
    path = written(tmp_path, text)
    cautions_of_the_first_step = [] if "[1, 1, 1]" in text else ["", ""]
    shown = typed(path, *cautions_of_the_first_step, "go withstand", *[""] * 5)
    assert "STOP No withstand test" in shown
    assert "withstand" not in read(path)
    assert shown.index("unplug") < shown.index("two qualified people")


def test_another_circuits_insulation_opens_the_way_only_with_consent_that_names_it(tmp_path):
    path = written(tmp_path, without_insulation(circuit="lamp cord"))
    shown = typed(path, "", "quit")
    assert 'judged were only: lamp cord; "winding to frame" was not' in shown and "energise" in shown


def test_consent_holds_for_what_was_consented_to_and_no_later_finding(tmp_path):
    path = written(tmp_path, without_insulation(circuit="lamp cord"))
    shown = typed(
        path,
        "energise",
        "",
        "go insulation",
        *[""] * 4,
        "circuit board",
        "15 300",
        "30 250",
        "60 100",
        "go high",
        "",
        "quit",
    )
    assert shown.count("type `energise`") == 2


def test_insulation_below_its_minimum_stops_in_its_own_step_and_quit_tells_how_to_discharge(tmp_path):
    path = written(tmp_path, RECORD)
    shown = typed(path, "", "", "go insulation", "", "", "15 1", "30 1", "60 1")
    assert "STOP" in shown.split("60 s 1 Mohm")[1].split("insulation at 120 s")[0]
    assert "at least" in shown.split("quit")[1] and "CAUTION" in shown.split("quit")[1]


def test_a_falling_curve_is_not_told_as_inside(tmp_path):
    shown = typed(written(tmp_path, RECORD), "", "", "go insulation", "", "", "15 310", "30 240", "60 100")
    assert "not enough yet" in shown.split("60 s 100 Mohm")[1].split("insulation at 120 s")[0]


@pytest.mark.parametrize("line, metres", [("3m", 3), ("3 m", 3), ("300cm", 3), ("2.5", 2.5)])
def test_a_length_is_in_metres(tmp_path, line, metres):
    path = written(tmp_path, RECORD)
    shown = typed(path, "", "", "80m 3k", "80m 3s", "80m " + line)
    assert shown.count("! ") == 2
    assert read(path)["earth"]["cord_length_m"] == metres


def test_seconds_take_no_bare_prefix(tmp_path):
    path = written(tmp_path)
    shown = at_withstand(path, "", "1500", "ac", "1m", "1min", "new", "no")
    assert '"1m"' in shown and read(path)["withstand"][0]["duration_s"] == 60


def test_an_insulation_reading_is_placed_by_its_units_and_refuses_others(tmp_path):
    path = written(tmp_path, RECORD)
    typed(path, "", "", "go insulation", "", "", "5A", "310m", "310mohm", "60 310m", "60 5A", "60s", "310 60s")
    test = read(path)["insulation"][0]
    assert (test["time_s"], test["resistance_Mohm"]) == ([60], [310])


def test_a_heat_run_and_a_coast_down_refuse_units_of_another_quantity(tmp_path):
    path = written(tmp_path)
    typed(
        path,
        "",
        "go heat run",
        "",
        "",
        "18.4",
        "21",
        "22",
        "230",
        "10m 20.1",
        "600 20C",
        "10min 20.1",
        "go coast-down",
        "1m 1120",
        "1120rpm 1s",
    )
    found = read(path)
    assert (found["heat_run"]["time_s"], found["heat_run"]["resistance_ohm"]) == ([600], [20.1])
    assert (found["coast_down"]["time_s"], found["coast_down"]["speed_rpm"]) == ([1], [1120])


def refused(done):
    return done.returncode == 65 and done.stderr.count("\n") == 1 and "rehearsal" in done.stderr and done.stdout == ""


def test_a_rehearsed_record_is_marked_and_not_gone_on_with_as_a_test(rewound, tmp_path):
    path = tmp_path / "try.toml"
    piped(["GH-31", *FIRST[1:], "go checks", "drop 1", "quit"], path, "--rehearse", "600", cwd=tmp_path)
    assert read(path)["checks"] == {"readings of a test, not of a rehearsal": False}
    judged = rewound("judge", path)
    assert judged.returncode == 10 and "not of a rehearsal" in judged.stdout
    before = path.read_bytes()
    assert refused(piped(["", "115 .2", "quit"], path, cwd=tmp_path))
    (tmp_path / "try.toml.journal").unlink()
    assert refused(piped(["", "115 .2", "quit"], path, cwd=tmp_path))
    assert path.read_bytes() == before
    assert piped(["quit"], path, "--rehearse", "600", cwd=tmp_path).returncode != 65


@pytest.mark.parametrize("factor", ["1", "600"])
def test_a_record_of_a_test_is_not_opened_for_a_rehearsal(tmp_path, factor):
    path = written(tmp_path)
    before = path.read_bytes()
    assert refused(piped(["quit"], path, "--rehearse", factor, cwd=tmp_path))
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"] and path.read_bytes() == before


def test_the_first_questions_take_units_and_refuse_those_of_another_quantity(tmp_path):
    path = tmp_path / "new.toml"
    answers = [
        "GH-31",
        "230 50V .42A",
        "230 V 48 C",
        "50Hz 230 V 0.42 A 75 W",
        *FIRST[2:8],
        "fact humidity 48 C",
        "21 V",
        "21\u00b0C",
    ]
    done = piped([*answers, "quit"], path, cwd=tmp_path)
    found = read(path)["machine"]
    assert (found["rated_voltage_V"], found["rated_frequency_Hz"]) == (230, 50), done.stdout
    assert (found["rated_current_A"], found["rated_power_W"]) == (0.42, 75)
    assert read(path)["visit"]["ambient_C"] == 21
    assert done.stdout.count("! ") == 4


def test_cold_tests_take_megohms_and_degrees_as_they_are_written(tmp_path):
    path = written(tmp_path, RECORD)
    typed(
        path,
        "",
        "",
        "go insulation",
        "",
        "",
        "1000 Vdc",
        "22 \u00b0C",
        "15 180M\u03a9",
        "30s 240 M\u2126",
        "500 V",
        "60s 310 Mohm",
    )
    test = read(path)["insulation"][0]
    assert (test["winding_C"], test["test_voltage_V"]) == (22, 1000)
    assert (test["time_s"], test["resistance_Mohm"]) == ([15, 30, 60], [180, 240, 310])
