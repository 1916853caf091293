"""The HTML reports of the demo records, of a three-phase fan and of one beside its nameplate: in a browser and on
paper."""

import json
import tomllib

import page_checks
import pytest
from browser import PAPERS
from conftest import RECORDS, REFERENCE
from page_checks import clean

DEMO = sorted((RECORDS / "glasshouse").glob("*.toml"))
CASES = [(path, ["--reference", REFERENCE]) for path in DEMO]
CASES += [(RECORDS / "good" / "gh33_three_phase.toml", []), (RECORDS / "good" / "gh07_after_repair.toml", [])]
GOLDEN = RECORDS.parents[1] / "tests" / "golden"
CASES += [(GOLDEN / "minimal.toml", []), (GOLDEN / "worst.toml", [])]
CODES = (0, 10, 20)
SHEETS = 3  # without the annex: the shop's, the owner's, and one to spare
LEAST_WORDS_OF_A_SHEET = 40  # fewer would be what was left over of the sheet before (common practice, no source)


@pytest.fixture(scope="module", params=CASES, ids=lambda case: case[0].stem)
def report(request, chromium, rewound, tmp_path_factory):
    """(the page, open; the record; its judgement as JSON), one report for all tests of it."""
    record, options = request.param
    folder = tmp_path_factory.mktemp(record.stem)
    page = folder / "report.html"
    done = rewound("judge", record, *options, "--format", "html", "--out", page)
    assert done.returncode in CODES, done.stderr
    judged = rewound("judge", record, *options, "--format", "json")
    assert judged.returncode == done.returncode
    return chromium.open(page), record, json.loads(judged.stdout)


def test_there_are_demo_records():
    assert len(DEMO) >= 8


def test_the_page_is_well_made(report):
    page, _, judged = report
    assert clean(page_checks.structure(page))
    text = page.find("whole_text")
    assert "\ufffd" not in text  # what stands in for a control character
    assert judged["machine"] in text and judged["decision"] in text.lower()


def test_every_reading_has_its_mark(report):
    page, record, judged = report
    assert clean(page_checks.marks(page, record, judged["suspect_readings"]))


def test_nothing_overflows_overlaps_or_fades_at_any_width_in_light_and_dark(report):
    assert clean(page_checks.looks(report[0]))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_paper_holds_everything(report, paper, tmp_path):
    page, _, judged = report
    assert clean(page_checks.paper(page, tmp_path / "report.pdf", paper, [judged["decision"], judged["machine"]]))


@pytest.mark.parametrize("paper", PAPERS)
def test_three_sheets_are_enough_and_nothing_is_left_over_on_one(report, paper, tmp_path):
    page, record, judged = report
    pdf = page.print(tmp_path / "report.pdf", paper)
    assert pdf.pages <= SHEETS
    if record.stem != "worst":
        assert pdf.pages == 2  # one for the shop, one for the owner
    sheets = [text.split() for text in pdf.text.split("\f") if text.strip()]
    assert min(map(len, sheets)) >= LEAST_WORDS_OF_A_SHEET
    assert judged["decision"] in " ".join(sheets[0]).lower()
    assert "Signature" in sheets[-1]
    whole = page.print(tmp_path / "whole.pdf", paper, annex=True)
    assert whole.pages > pdf.pages and "Cautions" in whole.text and "Cautions" not in pdf.text


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_decision_picture_and_reasons_stand_on_the_first_screen(report, width, height):
    page, record, judged = report
    page.look(width)
    at = "return [...document.querySelectorAll(arguments[0])].map((one) => one.getBoundingClientRect().bottom)"
    ask = page.driver.execute_script
    assert ask(at, ".decision")[0] <= height
    assert ask(at, ".told li")[0] <= height
    if judged["draw"] and record.stem != "worst":
        assert ask(at, ".seen svg")[0] <= height
    for outcome in ask(
        "return [...document.querySelectorAll('.shop .scroll td:nth-child(2)')]"
        ".map((one) => one.getBoundingClientRect().right)"
    ):
        assert outcome <= width  # the column that decides is seen without scrolling


def test_the_page_is_silent_and_asks_for_nothing(report):
    assert clean(page_checks.quiet(report[0]))


def test_the_pictures_of_what_was_recorded_are_there(report):
    """One picture at least for each of these, told by its title."""
    page, record, _ = report
    text = record.read_text(encoding="utf-8")
    ask = page.driver.execute_script
    titles = " | ".join(
        ask("return [...document.querySelectorAll('svg > title')].map((one) => one.textContent)")
    ).lower()
    alone = all(len(one["time_s"]) == 1 for one in tomllib.loads(text).get("insulation", []))
    text = text.replace("[[insulation]]", "") if alone else text  # one dot is a number and no picture
    wanted = {"[[run_up]]": "current", "[[insulation]]": "insulation", "[coast_down]": "coast", "[heat_run]": "rise"}
    for section, word in wanted.items():
        if section in text:
            assert word in titles, f"no picture of {section} among: {titles}"
