"""The trend command: good visits, altered ones, and everything that has to be refused in one line."""

import json
import math

import pytest
from conftest import GOOD

VISITS = [GOOD / f"gh12_{year}.toml" for year in range(2021, 2026)]


def trend(rewound, *arguments):
    done = rewound("trend", *arguments, "--format", "json")
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


@pytest.fixture
def changed(tmp_path):
    """Write one of the good visits with parts of its text replaced; each part must be there."""

    def write(source, *changes):
        text = source.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        path = tmp_path / source.name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_two_circuits_are_followed_each_on_its_own(rewound):
    result = trend(rewound, *VISITS)
    assert result["format"] == "rewound-trend/1" and result["machine"] == "GH-12"
    winding, control = result["circuits"]
    assert (winding["circuit"], control["circuit"]) == ("winding to frame", "speed control to base")
    assert [visit["date"][:4] for visit in winding["visits"]] == ["2021", "2022", "2023", "2024", "2025"]
    assert winding["minimum_Mohm"] == 5 and "IEEE 43" in winding["minimum_source"]
    assert winding["forecast"]["outcome"] == "crosses" and winding["steps"] == []
    assert winding["forecast"]["earliest_years"] < winding["forecast"]["years"] < winding["forecast"]["latest_years"]
    (step,) = control["steps"]  # 620 Mohm before, 233 after, without a slope
    assert step["after"] == "2024-06-04" and step["low"] < 233 / 620 < step["high"] < 1
    assert result["next"] and any("as long as" in caution for caution in result["cautions"])


def test_the_slope_is_that_of_a_line_through_the_logarithms(rewound):
    # Source: weighted least squares in closed form; equal weights within a few percent, so 1 % is asked.
    visits = trend(rewound, *VISITS)["circuits"][0]
    days = [0, 362, 735, 1098, 1469]
    years = [day / 365.2425 for day in days]
    logs = [math.log(visit["at_40_C_Mohm"]) for visit in visits["visits"]]
    mean_t, mean_y = sum(years) / 5, sum(logs) / 5
    slope = sum((t - mean_t) * (y - mean_y) for t, y in zip(years, logs)) / sum((t - mean_t) ** 2 for t in years)
    assert visits["log_slope_per_year"] == pytest.approx(slope, rel=0.01)


def test_the_order_of_the_files_does_not_matter(rewound):
    assert trend(rewound, *reversed(VISITS)) == trend(rewound, *VISITS)


def test_a_worse_last_visit_brings_the_minimum_nearer(rewound, changed):
    worse = changed(VISITS[4], ("[31, 42, 54]", "[18, 22, 28]"))
    years = [trend(rewound, *VISITS[:4], last)["circuits"][0]["forecast"]["years"] for last in (VISITS[4], worse)]
    assert years[1] < years[0]
    below = changed(VISITS[4], ("[31, 42, 54]", "[1.8, 2.2, 2.8]"))
    assert trend(rewound, *VISITS[:4], below)["circuits"][0]["forecast"]["outcome"] == "below_now"


def test_one_visit_tells_no_trend_and_is_no_error(rewound):
    circuit = trend(rewound, VISITS[0])["circuits"][0]
    assert circuit["forecast"]["outcome"] == "one_visit" and circuit["log_slope_per_year"] is None
    assert len(circuit["visits"]) == 1


def test_the_text_fits_and_goes_into_a_file(rewound, tmp_path):
    done = rewound("trend", *VISITS, "--out", "trend.txt")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    text = (tmp_path / "trend.txt").read_text(encoding="utf-8")
    assert text == rewound("trend", *VISITS).stdout
    assert max(map(len, text.splitlines())) < 80
    assert "GH-12" in text and "95 %" in text and "is safe" not in text.lower()


def test_the_shops_own_minimum_is_the_one_that_is_met(rewound, tmp_path):
    policy = tmp_path / "policy.toml"
    policy.write_text('format = "rewound-policy/1"\n[limits]\ninsulation_minimum_Mohm = 20\n', encoding="utf-8")
    circuit = trend(rewound, *VISITS, "--policy", policy)["circuits"][0]
    assert circuit["minimum_Mohm"] == 20 and "own" in circuit["minimum_source"]


@pytest.mark.parametrize(
    "name, content", [("empty.toml", ""), ("wrong.toml", "not toml ["), ("other.toml", 'format = "x"\n')]
)
def test_a_file_that_is_no_record_is_told_in_one_line(rewound, tmp_path, name, content):
    (tmp_path / name).write_text(content, encoding="utf-8")
    done = rewound("trend", *VISITS, name, "--out", "trend.txt")
    assert done.returncode == 65 and done.stdout == "" and done.stderr.count("\n") == 1 and name in done.stderr
    assert not (tmp_path / "trend.txt").exists()


def test_a_missing_file_is_told_in_one_line(rewound):
    done = rewound("trend", VISITS[0], "none.toml")
    assert done.returncode == 65 and done.stderr.count("\n") == 1 and "none.toml" in done.stderr


@pytest.mark.parametrize(
    "change, told",
    [
        (('id = "GH-12"', 'id = "GH-13"'), "GH-13"),
        (("rated_voltage_V = 230", "rated_voltage_V = 115"), "rated voltage"),
        (("date = 2025-06-10", "date = 2024-06-04"), "2024-06-04"),
        (('circuit = "speed control to base"', 'circuit = "winding to frame"'), "twice"),
    ],
)
def test_records_that_do_not_belong_together_are_refused(rewound, changed, change, told):
    done = rewound("trend", *VISITS[:4], changed(VISITS[4], change))
    assert done.returncode == 65 and done.stdout == "" and done.stderr.count("\n") == 1
    assert told in done.stderr


def test_records_without_insulation_are_refused(rewound, changed):
    text = VISITS[0].read_text(encoding="utf-8")
    bare = changed(VISITS[0], (text[text.index("[[insulation]]") :], ""))
    done = rewound("trend", bare)
    assert done.returncode == 65 and "60 s" in done.stderr and done.stderr.count("\n") == 1


@pytest.mark.parametrize("arguments", [("trend",), ("trend", "a.toml", "--format", "pdf")])
def test_wrong_usage_is_code_64(rewound, arguments):
    assert rewound(*arguments).returncode == 64
