"""What a person sees, word by word: text and page of an ordinary, a minimal and the worst record are kept, so that a
change of them is seen. REWOUND_GOLDEN=write makes them anew; read the difference before it is committed."""

import html
import os
import re

import pytest
from conftest import ROOT

GOLDEN = ROOT / "tests" / "golden"
RECORDS = {
    "ordinary": ROOT / "reference" / "records" / "good" / "gh07_after_repair.toml",
    "minimal": GOLDEN / "minimal.toml",
    "worst": GOLDEN / "worst.toml",
}
ALL = sorted((ROOT / "reference" / "records").glob("[gc]*/*.toml")) + [GOLDEN / "minimal.toml", GOLDEN / "worst.toml"]
REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"
SCREEN_LINES, SCREEN_COLUMNS = 24, 80
DECISIONS = {0: "RELEASE:", 10: "HOLD:", 20: "UNDECIDED:"}


def words_of(page):
    """A page as its words, an element of a block to a line; pictures by their labels and readings."""
    body = re.sub(r"<(style|desc)\b.*?</\1>", "", page, flags=re.DOTALL)
    lines = re.sub(r"</?(p|h\d|li|tr|figcaption|caption|dt|dd|title|svg|section|label)\b[^>]*>", "\n", body)
    lines = re.sub(r"</(th|td|text)>", " | ", lines)
    lines = html.unescape(re.sub(r"<[^>]+>", "", lines)).splitlines()
    return "".join(" ".join(line.split()) + "\n" for line in lines if line.strip())


@pytest.mark.parametrize("name", RECORDS)
@pytest.mark.parametrize("kind", ["screen", "full", "page"])
def test_text_and_page_are_as_they_were(rewound, name, kind):
    options = {"screen": [], "full": ["--full"], "page": ["--format", "html"]}[kind]
    done = rewound("judge", RECORDS[name], *options)
    assert done.returncode in DECISIONS, done.stderr
    shown = words_of(done.stdout) if kind == "page" else done.stdout
    kept = GOLDEN / f"{name}.{kind}.txt"
    if os.environ.get("REWOUND_GOLDEN") == "write":
        kept.write_text(shown, encoding="utf-8")
    assert shown == kept.read_text(encoding="utf-8")


@pytest.mark.parametrize("record", ALL, ids=lambda path: path.stem)
@pytest.mark.parametrize("reference", [(), ("--reference", REFERENCE)], ids=["alone", "beside_good_machines"])
def test_a_screen_of_24_lines_of_80_holds_the_text_with_the_decision_last(rewound, record, reference):
    done = rewound("judge", record, *reference)
    if reference and done.returncode == 65:
        pytest.skip("of another model or rating")
    lines = done.stdout.splitlines()
    assert len(lines) <= SCREEN_LINES
    assert max(map(len, lines)) < SCREEN_COLUMNS
    assert lines[-1].startswith(DECISIONS[done.returncode])
    assert "local codes" in done.stdout and "--full" in done.stdout
    assert "~" not in done.stdout  # how a cell used to be cut


def test_nothing_under_power_is_proposed_while_the_insulation_fails(rewound):
    text = rewound("judge", RECORDS["worst"]).stdout
    (told,) = re.findall(r"^Next +-.*?(?=^HOLD)", text, flags=re.DOTALL | re.MULTILINE)
    assert "at least 5 Mohm" in text.split("Why")[1].splitlines()[0]
    for word in ("read high", "run up", "try "):
        assert word not in " ".join(told.split())


@pytest.mark.parametrize("name", RECORDS)
def test_the_full_text_has_every_sentence_with_its_source_and_no_longer_lines(rewound, name):
    import json

    full = rewound("judge", RECORDS[name], "--full").stdout
    assert max(map(len, full.splitlines())) < SCREEN_COLUMNS
    spaced = " ".join(full.split())
    result = json.loads(rewound("judge", RECORDS[name], "--format", "json").stdout)
    for finding in result["findings"]:
        assert " ".join(finding["message"].split()) in spaced
        assert finding["source"] == "" or f"[{' '.join(finding['source'].split())}]" in spaced


@pytest.mark.parametrize("name", RECORDS)
def test_sentences_for_people_name_no_keys(rewound, name):
    shown = rewound("judge", RECORDS[name]).stdout.replace("--full", "")
    for word in shown.split():
        assert "_" not in word and not word.startswith("--"), word
