"""Pages and pictures from the command line: what is written, and what is said where there is nothing to draw."""

import re
import shutil
import xml.etree.ElementTree as ElementTree

import pytest
from conftest import ROOT

GLASSHOUSE = ROOT / "reference" / "records" / "glasshouse"
REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"


def page_of(rewound, record, *options):
    done = rewound("judge", record, *options, "--format", "html")
    assert "<!DOCTYPE html>" in done.stdout, done.stderr
    return done


def test_a_page_has_the_exit_code_of_its_decision(rewound):
    assert page_of(rewound, GLASSHOUSE / "gh03_release.toml").returncode == 0
    assert page_of(rewound, GLASSHOUSE / "gh05_high_draw.toml", "--reference", REFERENCE).returncode == 10
    assert page_of(rewound, GLASSHOUSE / "gh18_undecided.toml").returncode == 20


def test_the_page_says_what_the_text_says(rewound):
    """Every sentence of the findings is on both, since both are made from one list."""
    record = GLASSHOUSE / "gh09_low_insulation.toml"
    text = re.sub(r"\s+", " ", "".join(rewound("judge", record, *full).stdout for full in ((), ("--full",))))
    page = page_of(rewound, record).stdout
    for said in re.findall(r"<li>(.*?)</li>", page.split('id="annex"')[1]):
        plain = said.replace("&#39;", "'").replace("&quot;", '"').replace(" ± ", " +- ").replace(" °C", " degC")
        plain = plain.replace(" MΩ", " Mohm").replace(" Ω", " ohm")
        assert plain in text, plain


def test_a_picture_is_well_formed_and_holds_its_readings(rewound, tmp_path):
    out = tmp_path / "draw.svg"
    done = rewound(
        "plot", GLASSHOUSE / "gh05_high_draw.toml", "--reference", REFERENCE, "--subject", "medium", "--out", out
    )
    assert done.returncode == 0 and done.stdout == ""
    tree = ElementTree.parse(out)
    readings = [each for each in tree.iter() if "data-reading" in each.attrib]
    assert len(readings) == 7
    assert all(each.attrib["data-reading"].startswith("medium:") for each in readings)


@pytest.mark.parametrize("what", ["draw", "steps", "insulation", "heat_run", "coast_down"])
def test_each_kind_of_picture_can_be_had(rewound, what):
    done = rewound("plot", GLASSHOUSE / "gh03_release.toml", "--of", what)
    assert done.returncode == 0, done.stderr
    ElementTree.fromstring(done.stdout)


def test_a_picture_of_what_was_not_read_is_refused_in_one_line(rewound):
    for options, said in [(["--of", "coast_down"], "coast_down"), (["--subject", "turbo"], "turbo")]:
        done = rewound("plot", ROOT / "reference" / "records" / "good" / "gh07_after_repair.toml", *options)
        assert done.returncode == 65
        assert said in done.stderr and done.stderr.count("\n") == 1 and done.stdout == ""
    assert rewound("plot", GLASSHOUSE / "gh03_release.toml", "--of", "smell").returncode == 64


def test_a_trend_is_a_page_too(rewound):
    visits = sorted((ROOT / "reference" / "records" / "good").glob("gh12_*.toml"))
    done = rewound("trend", *visits, "--format", "html")
    assert done.returncode == 0
    assert done.stdout.count("<svg") == 2 and "<script" not in done.stdout


def test_a_folder_of_pages_tells_of_a_record_that_cannot_be_read(rewound, tmp_path):
    records = tmp_path / "records"
    records.mkdir()
    shutil.copy(GLASSHOUSE / "gh03_release.toml", records / "a.toml")
    shutil.copy(GLASSHOUSE / "gh18_undecided.toml", records / "b.toml")
    (records / "c.toml").write_text("this is no record\n", encoding="utf-8")
    out = tmp_path / "pages"
    done = rewound("batch", records, "--format", "html", "--out", out)
    assert done.returncode == 65, done.stderr
    index = (out / "index.html").read_text(encoding="utf-8")
    rows = re.findall(r"<tr>(?:(?!</tr>).)*</tr>", index, flags=re.DOTALL)[1:]
    assert [re.search(r"</span> ([a-z ]+)</span>", row).group(1) for row in rows] == [
        "not readable",
        "undecided",
        "release",
    ]
    assert "c.toml" in rows[0]
    assert {path.name for path in out.glob("*.html")} == {"a.html", "b.html", "index.html"}


def test_pages_need_a_folder_to_go_to(rewound):
    done = rewound("batch", GLASSHOUSE, "--format", "html")
    assert done.returncode == 64 and "--out" in done.stderr
