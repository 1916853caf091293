"""Coast-downs beside good machines, starts by position, the heat run's voltage, rolled leads in a table: at the
tool."""

import json
import math

import pytest
from conftest import ROOT

TACHOMETER = "\n[instruments.tachometer]\nreading_percent = 0.1\ndigits = 1\nresolution = 1\n"


def coast_down(constant, quadratic=0.0004, w0=140.0):
    """Speeds of dw/dt = -(c0 + c2 w^2) in closed form: w = sqrt(c0/c2) tan(atan(w0 sqrt(c2/c0)) - sqrt(c0 c2) t)."""
    times = [2.5 * i for i in range(14)]
    start, rate = math.atan(w0 * math.sqrt(quadratic / constant)), math.sqrt(constant * quadratic)
    speeds = [
        round(30 / math.pi * math.sqrt(constant / quadratic) * math.tan(max(0.0, start - rate * t))) for t in times
    ]
    return f"\n[coast_down]\ntime_s = {times}\nspeed_rpm = {speeds}\n"


@pytest.fixture
def write(tmp_path, demo_text):
    def record(number, more):
        path = tmp_path / f"gh{number}.toml"
        path.write_text(demo_text.replace('"GH-07"', f'"GH-{number}"') + more, encoding="utf-8")
        return path

    return record


def judged(rewound, *arguments):
    done = rewound("judge", *arguments, "--format", "json")
    assert done.returncode in (0, 10, 20), done.stderr
    return done.returncode, json.loads(done.stdout)["findings"]


def about(findings, quantity):
    return {f["subject"]: f for f in findings if f["quantity"] == quantity}


def test_learnt_coast_downs_name_the_term_that_grew(rewound, write):
    cohort = [write(20 + i, TACHOMETER + coast_down(c)) for i, c in enumerate((0.8, 0.9, 1.0, 1.1, 1.2))]
    assert rewound("learn", *cohort, "--out", "model.toml").returncode == 0
    code, findings = judged(rewound, write(40, TACHOMETER + coast_down(1.05)), "--reference", "model.toml")
    assert code == 0
    assert about(findings, "friction_beside_good_machines")["total"]["outcome"] == "conforms"
    worn = write(41, TACHOMETER + coast_down(8.0))
    code, findings = judged(rewound, worn, "--reference", "model.toml")
    assert code == 10
    found = about(findings, "friction_beside_good_machines")
    assert found["constant"]["outcome"] == found["total"]["outcome"] == "fails"
    assert found["quadratic"]["outcome"] != "fails"
    assert found["total"]["numbers"]["machines"] == 5
    assert "common practice, no source" in found["total"]["source"]
    text = rewound("judge", worn, "--reference", "model.toml", "--full").stdout
    assert "the constant term (bearing) lies" in " ".join(text.split())


def test_a_reference_learnt_without_coast_downs_still_serves(rewound, write):
    cohort = [write(20 + i, "") for i in range(3)]
    assert rewound("learn", *cohort, "--out", "model.toml").returncode == 0
    code, findings = judged(rewound, write(40, TACHOMETER + coast_down(8.0)), "--reference", "model.toml")
    assert code == 0 and not about(findings, "friction_beside_good_machines")


def test_the_difference_between_positions_has_its_interval(rewound, altered):
    record = altered(
        (
            'position = "upright"\nattempts = 10\nsuccesses = 10',
            (
                'position = "upright"\nattempts = 20\nsuccesses = 20\n\n'
                '[[starts]]\nposition = "on its side"\nattempts = 10\nsuccesses = 5'
            ),
        )
    )
    code, findings = judged(rewound, record)
    found = about(findings, "difference_between_positions")["on its side"]
    # Wilson of 20 of 20: 0.8389 to 1; of 5 of 10: 0.2366 to 0.7634; joined by Newcombe's method 10.
    low, high = 0.5 - math.hypot(1 - 0.83887, 0.76341 - 0.5), 0.5 + math.hypot(0.0, 0.5 - 0.23659)
    assert code == 10
    assert found["numbers"]["fewer_percent"] == pytest.approx(50)
    assert found["numbers"]["fewer_low"] == pytest.approx(100 * low, abs=0.01)
    assert found["numbers"]["fewer_high"] == pytest.approx(100 * high, abs=0.01)
    assert "50 percentage points fewer, 19 to 76 at 95 % confidence" in found["message"]


HEAT = "\n[heat_run]\ncold_ohm = 18.40\ncold_C = 21\nambient_C = 22\n{more}time_s = {times}\nresistance_ohm = {ohms}\n"


def heat_run(final, more=""):
    times = list(range(0, 7201, 300))
    ohms = [round(18.40 * (234.5 + 22 + final * (1 - math.exp(-t / 1800))) / (234.5 + 21), 2) for t in times]
    return HEAT.format(more=more, times=times, ohms=ohms)


def test_the_rise_on_todays_mains_starts_from_the_heat_runs_own_voltage(rewound, write):
    _, assumed = judged(rewound, write(30, heat_run(60)))
    _, stated = judged(rewound, write(31, heat_run(60, "voltage_V = 240\n")))
    mains = [about(f, "final_rise_on_mains")[""] for f in (assumed, stated)]
    rise = about(stated, "final_rise")[""]
    assert mains[0]["value"] > 1.05 * rise["value"]  # 240 V over 230 V
    assert mains[1]["value"] == pytest.approx(rise["value"], rel=1e-6)  # the mains is what the run was made at
    assert "having been made at 240 V" in mains[1]["message"]
    done = rewound("judge", write(32, heat_run(60, "voltage_V = 0\n")))
    assert done.returncode == 65 and "heat_run.voltage_V" in done.stderr


def three_phase(tmp_path, demo_text, table):
    head = demo_text[: demo_text.index("[[run_up]]")].replace("phases = 1", "phases = 3")
    tail = demo_text[demo_text.index("[[insulation]]") :]
    (tmp_path / "runup.csv").write_text(table, encoding="utf-8")
    path = tmp_path / "three.toml"
    path.write_text(head + '[[run_up]]\nfile = "runup.csv"\n\n' + tail, encoding="utf-8")
    return path


def test_rolled_leads_from_a_table_say_whose_the_unbalance_is(rewound, tmp_path, demo_text):
    columns = "speed,leads,voltage_V,current_L1_A,current_L2_A,current_L3_A\n"
    marked = "".join(
        f"high,as_marked,{v},{0.0024 * v:.3f},{0.002 * v:.3f},{0.0016 * v:.3f}\n" for v in (150, 180, 210, 230)
    )
    rolled = "high,rolled_once,230,{:.3f},{:.3f},{:.3f}\n"
    of_winding = three_phase(tmp_path, demo_text, columns + marked + rolled.format(0.368, 0.552, 0.46))
    _, findings = judged(rewound, of_winding)
    assert about(findings, "winding_unbalance")["high"]["outcome"] == "fails"
    of_lines = three_phase(tmp_path, demo_text, columns + marked + rolled.format(0.552, 0.46, 0.368))
    _, findings = judged(rewound, of_lines)
    assert about(findings, "winding_unbalance")["high"]["value"] == pytest.approx(0, abs=0.2)


def test_the_blank_record_names_the_new_keys(rewound):
    text = rewound("template").stdout
    assert "# of the supply during the run" in text and "current_L1_A" in text
    assert text.index("rated_current_A") < 1500 and text.index("inertia_kgm2") > text.index("[[starts]]")
    assert (ROOT / "reference" / "records" / "blank.toml").read_text(encoding="utf-8") == text
