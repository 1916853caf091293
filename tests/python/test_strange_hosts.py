# SPDX-License-Identifier: MIT
"""A host with another locale, and arguments that are no names: the same numbers, or a refusal."""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import tomllib

import pytest

import rewound

SHOWN = """
import json, locale, sys
import rewound
if sys.argv[1] != "C":
    locale.setlocale(locale.LC_ALL, sys.argv[1])
    assert locale.localeconv()["decimal_point"] == ","
record = rewound.load_record(sys.argv[2])
result = rewound.judge(record)
told = [str(result), repr(result), result.to_html(), json.dumps(result.to_dict(), sort_keys=True)]
for wrong in ({"voltage": [115.5, -0.25], "current": [0.2, 0.3]}, {"voltage": [115.5, 230], "current": [0.2, 1e-400]}):
    try:
        rewound.fit_draw(wrong["voltage"], wrong["current"], rated_voltage_V=230.5)
    except (rewound.InputError, rewound.PreconditionError) as refused:
        told.append(str(refused))
try:
    rewound.correct_insulation(-0.5, winding_C=20.5, insulation_system="thermosetting")
except (rewound.InputError, rewound.PreconditionError) as refused:
    told.append(str(refused))
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def comma_locale(tmp_path_factory):
    """A locale with a decimal comma, made here: few machines have one."""
    folder = tmp_path_factory.mktemp("locales")
    if shutil.which("localedef") is None:
        pytest.skip("no localedef")
    made = ["localedef", "-f", "UTF-8", "-i", "de_DE", str(folder / "de_DE.UTF-8")]
    if subprocess.run(made, capture_output=True).returncode > 1:
        pytest.skip("no sources of locales")
    return folder


def test_a_decimal_comma_of_the_host_changes_no_text(comma_locale, demo_path):
    shown = {}
    for name in ("C", "de_DE.UTF-8"):
        done = subprocess.run(
            [sys.executable, "-c", SHOWN, name, str(demo_path)],
            env={**os.environ, "LOCPATH": str(comma_locale)},
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
        shown[name] = json.loads(done.stdout)
    assert len(shown["C"]) == 7
    assert shown["C"] == shown["de_DE.UTF-8"]


def test_a_name_with_a_zero_byte_is_refused(demo_path, tmp_path):
    for name in ("a\0b", str(demo_path) + "\0.toml", b"a\0b"):
        with pytest.raises((rewound.InputError, ValueError)):
            rewound.load_record(name)
    reference = rewound.learn([rewound.load_record(demo_path)])
    with pytest.raises((rewound.InputError, ValueError)):
        reference.save(str(tmp_path / "a\0b"))
    assert list(tmp_path.iterdir()) == []


def test_what_is_too_large_is_refused_with_its_code(demo_path):
    text = pathlib.Path(demo_path).read_text(encoding="utf-8")
    document = tomllib.loads(text)
    document["machine"]["id"] = "x" * 500
    with pytest.raises(rewound.InputError) as told:
        rewound.Record.from_dict(document)
    assert told.value.code == "too_large" and told.value.field == "machine.id"
