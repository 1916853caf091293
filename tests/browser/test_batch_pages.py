"""The index of a folder and its pages: one row a machine, in order of urgency, and the same care on every page."""

import page_checks
import pytest
from browser import PAPERS
from conftest import RECORDS, REFERENCE
from page_checks import clean

DEMO = RECORDS / "glasshouse"
URGENCY = ["hold", "undecided", "release"]


@pytest.fixture(scope="module")
def folder(rewound, tmp_path_factory):
    out = tmp_path_factory.mktemp("batch") / "pages"
    done = rewound("batch", DEMO, "--reference", REFERENCE, "--format", "html", "--out", out)
    assert (out / "index.html").exists(), done.stderr
    return out


def rows(page):
    """[the words of each row of the machines' table]"""
    return page.driver.execute_script(
        "return [...document.querySelectorAll('tbody tr')].map((row) => row.textContent.replace(/\\s+/g, ' '))"
    )


def test_the_index_has_one_row_a_machine_the_most_urgent_first(chromium, folder):
    page = chromium.open(folder / "index.html").look(820)
    there = rows(page)
    machines = sorted(path.stem[:4].upper().replace("GH", "GH-") for path in DEMO.glob("*.toml"))
    assert sorted(machine for row in there for machine in machines if machine in row) == machines
    decisions = [next(word for word in URGENCY if word in row.lower()) for row in there]
    assert decisions == sorted(decisions, key=URGENCY.index)
    held = [row for row in there if "hold" in row.lower()]
    assert "GH-09" in held[0] and "GH-05" in held[1]  # insulation, then overload
    assert all("measure" in row or "read" in row or "repeat" in row or "exchange" in row for row in there[:-1])
    ask = page.driver.execute_script
    assert ask("return [...document.querySelectorAll('tbody tr')].every((row) => row.querySelector('svg'))")
    links = ask("return [...document.querySelectorAll('tbody a[href]')].map((a) => a.getAttribute('href'))")
    assert len(set(links)) == len(machines) and all((folder / link).is_file() for link in links)


def test_the_index_is_well_made_at_every_width_and_on_paper(chromium, folder, tmp_path):
    page = chromium.open(folder / "index.html")
    assert clean(page_checks.structure(page))
    assert clean(page_checks.looks(page))
    for paper in PAPERS:
        assert clean(page_checks.paper(page, tmp_path / "index.pdf", paper, ["GH-03", "GH-27"]))
    assert clean(page_checks.quiet(page))


def test_every_machine_has_its_page(chromium, folder):
    pages = [path for path in folder.rglob("*.html") if path.name != "index.html"]
    assert len(pages) == len(list(DEMO.glob("*.toml")))
    for path in pages:
        page = chromium.open(path)
        assert clean(page_checks.structure(page)), path.name
        assert clean(page_checks.looks(page, widths=(390,), schemes=("light",))), path.name
        assert clean(page_checks.quiet(page)), path.name
