# SPDX-License-Identifier: MIT
"""trend from Python is the trend of the command-line tool."""

import copy
import json
import subprocess

import pytest

import rewound


@pytest.fixture(scope="module")
def paths(repository):
    return [repository / "reference" / "records" / "good" / f"gh12_{year}.toml" for year in range(2021, 2026)]


@pytest.fixture(scope="module")
def records(paths):
    return [rewound.load_record(path) for path in paths]


def test_it_equals_what_the_tool_writes(records, paths, tool):
    result = rewound.trend(records)
    done = subprocess.run(
        [tool, "trend", *map(str, paths), "--format", "json"], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0
    assert result.to_dict() == json.loads(done.stdout)
    assert result.to_text().startswith("GH-12, insulation over 5 visits")
    assert repr(result) == "<rewound.Trend GH-12, 2 circuits>"


def test_records_from_dicts_serve_too_and_the_policy_counts(demo_dict):
    visits = []
    for year, megohm in ((2026, 80.0), (2027, 40.0), (2028, 20.0)):
        values = copy.deepcopy(demo_dict)
        values["visit"]["date"] = f"{year}-05-14"
        values["insulation"][0].update(time_s=[60], resistance_Mohm=[megohm])
        visits.append(rewound.Record.from_dict(values))
    (circuit,) = rewound.trend(visits).circuits
    assert circuit["log_slope_per_year"] == pytest.approx(-0.693147, rel=2e-3)
    strict = rewound.trend(visits, policy={"format": "rewound-policy/1", "limits": {"insulation_minimum_Mohm": 15.0}})
    assert strict.circuits[0]["forecast"]["years"] < circuit["forecast"]["years"]


def test_mixed_machines_and_no_records_are_refused(records, demo):
    with pytest.raises(rewound.InputError) as caught:
        rewound.trend([records[0], demo])
    assert caught.value.code == "records_do_not_match"
    with pytest.raises(rewound.InputError):
        rewound.trend([])
    with pytest.raises(TypeError):
        rewound.trend([1])
