"""Hostile text in a record is shown as text: nothing runs, nothing is fetched, nothing turns or overflows."""

import hostile
import page_checks
import pytest
from conftest import RECORDS
from page_checks import clean

DEMO = (RECORDS / "glasshouse" / "gh03_release.toml").read_text(encoding="utf-8")


@pytest.fixture(params=hostile.TEXTS)
def page(request, chromium, rewound, tmp_path):
    record = tmp_path / "hostile.toml"
    record.write_text(hostile.hostile_record(DEMO, hostile.TEXTS[request.param]), encoding="utf-8")
    done = rewound("judge", record, "--format", "html", "--out", tmp_path / "report.html")
    assert done.returncode in (0, 10, 20), done.stderr
    decision = {0: "release", 10: "hold", 20: "undecided"}[done.returncode]
    return chromium.open(tmp_path / "report.html"), request.param, decision


def test_hostile_text_is_shown_as_text(page, tmp_path):
    shown, kind, decision = page
    assert clean(page_checks.structure(shown))  # no script, image or handler among it, no raw control characters
    assert shown.driver.execute_script("return window.ran === undefined")
    assert clean(page_checks.looks(shown, widths=(390,), schemes=("light",)))
    marks = shown.find("marks")
    assert len({mark["reading"] for mark in marks}) > 20 and all(mark["seen"] for mark in marks)
    text = shown.find("whole_text")
    told = {
        "markup": hostile.MARKUP,
        "quotes": hostile.TEXTS["quotes"].strip(),
        "entities": "&#60;script&#62;",
        "control characters": "bell",
        "turned": "not ended",
        "closed too often": "after",
        "nearly as many letters as a name may have": "w" * 100,
        "as many words": "word word word",
        "addresses": "javascript:window.ran=1",
    }
    assert told[kind] in text
    assert clean(page_checks.paper(shown, tmp_path / "report.pdf", "A4", [decision]))
    assert clean(page_checks.quiet(shown))
