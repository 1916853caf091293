"""The checks themselves: a small good page passes all of them, and each finds the fault that is planted in it."""

import page_checks
import pytest
from page_checks import clean

RECORD = """
[[run_up]]
speed = "high"
voltage_V = [200, 230]
current_A = [0.4, 0.5]

[[run_up]]
speed = "low"
voltage_V = [230]
current_A = [0.3]

[[insulation]]
circuit = "winding to frame"
time_s = [15, 60]
resistance_Mohm = [100, 200]
"""
SUSPECT = [{"speed": "high", "index": 1}]

GOOD = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>GH-01, release</title>
<link rel="icon" href="data:,">
<style>
:root { color-scheme: light dark; --ink: #222; --paper: #fff; --faint: #666 }
@media (prefers-color-scheme: dark) { :root { --ink: #eee; --paper: #111; --faint: #aaa } }
body { background: var(--paper); color: var(--ink); font: 16px sans-serif; margin: 16px; overflow-wrap: anywhere }
svg { width: 300px; display: block; break-inside: avoid } text { fill: var(--ink); font-size: 12px }
.faint { color: var(--faint) } .scroller { overflow-x: auto } .wide { width: 1600px }
@media print { .wide { width: auto } }
.for-readers { position: absolute; width: 1px; height: 1px; overflow: hidden; clip: rect(0 0 0 0) }
</style>
</head>
<body>
<main>
<h1>Release</h1>
<p class="faint">tested <bdi>&#x202e;fan</bdi> &#x2067;1&#x2069;&#x200f;</p>
<h2>Current</h2>
<svg role="img" viewBox="0 0 300 120"><title>Current</title><desc>Against voltage</desc>
<text x="10" y="20">0.5 A</text><text x="10" y="40">0.3 A</text><text x="200" y="110">230 V</text>
<g data-speed="high"><circle data-reading="high:0" cx="100" cy="50" r="4" fill="#888"/>
<path data-reading="high:1" class="mark suspect" d="M 150 20 l 8 8 m 0 -8 l -8 8" stroke="#888" fill="none"/></g>
<g data-speed="low"><circle data-reading="low:0" cx="150" cy="80" r="4" fill="none" stroke="#888"/></g>
</svg>
<h3>Insulation</h3>
<svg role="img" viewBox="0 0 300 120"><title>Insulation</title><desc>Against time</desc>
<circle data-reading="winding to frame:0" cx="100" cy="50" r="4" fill="#888"/>
<circle data-reading="winding to frame:1" cx="120" cy="50" r="4" fill="#888"/>
</svg>
<div class="scroller" tabindex="0"><div class="wide"><table>
<tr><th scope="col">speed</th><th scope="col">amperes</th></tr><tr><th scope="row">high</th><td>0.5</td></tr>
</table></div></div>
<p id="end">The end <a href="#end">here</a><span class="for-readers">of the report</span></p>
</main>
</body>
</html>
"""

# what is changed in the good page -> the check that has to see it
PLANTED = [
    ("overflow", "<h2>Current</h2>", '<h2>Current</h2><div style="width: 900px">wide</div>'),
    ("overflow", "<h2>Current</h2>", '<h2 style="margin-left: -40px">Current</h2>'),
    ("overflow", "overflow-wrap: anywhere", "overflow-x: hidden; white-space: nowrap} h1 { width: 1500px"),
    ("overflow", "scroller { overflow-x: auto }", "scroller { }"),
    ("cut_text", "<h2>Current</h2>", '<h2 style="width: 30px; overflow: hidden; white-space: nowrap">Current</h2>'),
    ("cut_text", "<h2>Current</h2>", '<h2 style="height: 8px; overflow: hidden">Current</h2>'),
    ("labels_inside_pictures", 'x="200" y="110"', 'x="280" y="110"'),
    ("labels_inside_pictures", 'x="200" y="110"', 'x="200" y="128"'),
    ("labels_inside_pictures", 'x="200" y="110"', 'x="5" y="60" transform="rotate(-90)"'),
    ("labels_apart", 'x="10" y="40"', 'x="20" y="24"'),
    ("labels_apart", 'x="10" y="40"', 'x="-40" y="20" transform="rotate(-90)"'),
    ("labels_legible", "font-size: 12px", "font-size: 8px"),
    ("labels_legible", "svg { width: 300px", "svg { width: 200px"),
    ("pictures_stay_whole_in_print", "break-inside: avoid", ""),
    ("contrast", "--faint: #666", "--faint: #888"),
    ("contrast", '<p class="faint">', '<p style="opacity: 0.5">'),
    ("contrast", "text { fill: var(--ink)", "text { fill: #999"),
    ("contrast", '<text x="10" y="20">', '<rect width="60" height="30" fill="#333"/><text x="10" y="20">'),
    ("mark_contrast", 'r="4" fill="#888"/>\n<path', 'r="4" fill="#ddd"/>\n<path'),
    ("mark_contrast", 'fill="none" stroke="#888"', 'fill="none" stroke="#888" opacity="0.3"'),
    ("document", ' lang="en"', ""),
    ("document", "<title>GH-01, release</title>", ""),
    ("document", "<!doctype html>\n", ""),
    ("document", '<meta charset="utf-8">', ""),
    ("document", "<main>", "<div>"),
    ("document", "<h1>", '<h1 id="end">'),
    ("document", "<h1>", '<h1 aria-labelledby="nowhere">'),
    ("document", 'href="#end"', 'href="#nowhere"'),
    ("document", '">here</a>', '"></a>'),
    ("headings", "<h1>Release</h1>", "<p>Release</p>"),
    ("headings", "<h2>Current</h2>", "<h1>Current</h1>"),
    ("headings", "<h2>Current</h2>", ""),
    ("headings", "<h2>Current</h2>", "<h2></h2>"),
    ("pictures_described", ' role="img"', ""),
    ("pictures_described", "<title>Current</title>", ""),
    ("pictures_described", "<desc>Against time</desc>", "<desc> </desc>"),
    ("pictures_described", "<h2>Current</h2>", '<h2>Current</h2><img src="nothing.png">'),
    ("tables", '<th scope="row">', "<th>"),
    ("tables", "</main>", "<table><tr><td>1</td></tr></table></main>"),
    ("scrollers_take_keys", ' tabindex="0"', ""),
    ("inert", "</main>", "<script>1</script></main>"),
    ("inert", "<h1>", '<h1 onclick="1">'),
    ("inert", 'href="data:,"', 'href="data:image/png;base64,AAAA"'),
    ("inert", 'href="#end"', 'href="javascript:1"'),
    ("inert", "<desc>", "<animate/><desc>"),
    ("characters", "tested", "tes\x01ted"),
    ("characters", "tested", "tes&#x202e;ted"),
    ("characters", "<bdi>&#x202e;fan</bdi>", "&#x202d;fan&#x202c; &#x2069;"),
    ("characters", "<h1>", '<h1 title="&#x2067;a">'),
]


@pytest.fixture
def shown(chromium, tmp_path):
    """Show the good page with one change, each occurrence of it."""

    def show(old="", new=""):
        assert old in GOOD
        path = tmp_path / "page.html"
        path.write_text(GOOD.replace(old, new) if old else GOOD, encoding="utf-8")
        return chromium.open(path)

    return show


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.toml"
    path.write_text(RECORD, encoding="utf-8")
    return path


def test_a_good_page_passes_every_check(shown, record, tmp_path):
    page = shown()
    assert clean(page_checks.structure(page))
    assert clean(page_checks.looks(page))
    assert clean(page_checks.marks(page, record, SUSPECT))
    for size in ("A4", "Letter"):
        assert clean(page_checks.paper(page, tmp_path / "page.pdf", size, ["Release", "0.5 A"]))
    assert clean(page_checks.quiet(page))


@pytest.fixture(scope="module")
def phone(chromium, tmp_path_factory):
    """A phone whose page can be exchanged without loading another, which is quicker."""
    path = tmp_path_factory.mktemp("phone") / "page.html"
    path.write_text(GOOD, encoding="utf-8")
    page = chromium.open(path).look(390)
    frame = page.command("Page.getFrameTree")["frameTree"]["frame"]["id"]

    def show(html):
        page.command("Page.setDocumentContent", frameId=frame, html=html)
        return page

    return show


@pytest.mark.parametrize("check, old, new", PLANTED)
def test_a_planted_fault_is_found_by_its_check_and_not_seen_without_it(phone, check, old, new):
    assert old in GOOD
    arguments = [page_checks.LEAST_LABEL_PX] if check == "labels_legible" else []
    assert phone(GOOD).find(check, *arguments) == []
    assert phone(GOOD.replace(old, new)).find(check, *arguments), "not seen"


def test_every_check_of_a_page_has_a_planted_fault():
    asked = {
        *page_checks.LAYOUT,
        *page_checks.COLOURS,
        *page_checks.STRUCTURE,
        "labels_legible",
        "pictures_stay_whole_in_print",
    }
    assert {check for check, _, _ in PLANTED} == asked


def test_a_page_that_does_not_follow_the_device_is_found(shown):
    page = shown('<meta name="viewport" content="width=device-width, initial-scale=1">')
    assert any("window_follows_device" in said for said in page_checks.looks(page, widths=(390,)))


def test_a_fault_of_one_width_or_one_scheme_is_told_with_it(shown):
    page = shown("--faint: #aaa", "--faint: #333")
    said = page_checks.looks(page)
    assert said and all("dark: contrast" in one for one in said)
    page = shown("<h2>Current</h2>", '<h2 style="width: 600px">Current</h2>')
    assert {one.split(" px")[0] for one in page_checks.looks(page)} == {"390"}


@pytest.mark.parametrize(
    "old, new, said",
    [
        ('data-reading="high:0" ', "", "no mark for reading high:0"),
        ('data-reading="winding to frame:1" ', "", "no mark for reading winding to frame:1"),
        ('data-reading="low:0"', 'data-reading="low:1"', "a mark low:1 without a reading"),
        ('data-speed="low"', 'data-speed="high"', "the mark of low:0 lies in the group of speed high"),
        (
            'cx="100" cy="50" r="4" fill="#888"/>\n<path',
            'cx="500" cy="50" r="4" fill="#888"/>\n<path',
            "the mark of high:0 is not seen",
        ),
        ('cx="150" cy="80"', 'visibility="hidden" cx="150" cy="80"', "the mark of low:0 is not seen"),
        ("mark suspect", "mark", "the suspect reading high:1 is drawn as any other"),
        (
            '<circle data-reading="low:0"',
            '<circle class="suspect" data-reading="low:0"',
            "the reading low:0 is drawn as suspect",
        ),
        (
            '<g data-speed="low">',
            '<g data-speed="low"><circle data-reading="low:0" cx="40" cy="80" r="4" fill="#888"/>',
            "the reading low:0 has 2 marks in one picture",
        ),
    ],
)
def test_a_missing_or_wrong_mark_is_found(shown, record, old, new, said):
    assert said in page_checks.marks(shown(old, new), record, SUSPECT)


@pytest.mark.parametrize(
    "old, new, said",
    [
        ("</main>", '<img src="http://elsewhere.invalid/a.png"></main>', "asked for http://elsewhere.invalid/a.png"),
        ("</style>", "body { background: url(picture.png) }</style>", "asked for file:"),
        ("</main>", '<script>console.log("words")</script></main>', "console: "),
        ("</main>", "<script>nothing()</script></main>", "console: "),
        ("</main>", '<script>setTimeout(() => alert("hello"), 0)</script></main>', "a dialog: hello"),
    ],
)
def test_requests_messages_and_dialogs_are_found(shown, old, new, said):
    page = shown(old, new)
    found = page_checks.quiet(page)
    if "dialog" in said:
        page.driver.switch_to.alert.accept()
    assert any(one.startswith(said) for one in found), found


@pytest.mark.parametrize(
    "old, new, said",
    [
        (
            "<h2>Current</h2>",
            '<h2 style="position: absolute; left: 300mm">elsewhere</h2>',
            '"elsewhere" is not on the paper',
        ),
        ("</style>", "@page { margin: 0 } h2 { position: absolute; left: -20px }</style>", "over the edge"),
        ("h1>Release</h1", "h1>Hold</h1", '"Release" is not on the paper'),
        ("break-inside: avoid", "", "a page may end within it"),
        (
            "@media print {",
            "@media print { h2 { height: 6px; overflow: hidden; line-height: 60px }",
            '"Current" is not on the paper',
        ),
    ],
)
def test_what_the_paper_cuts_off_is_found(shown, tmp_path, old, new, said):
    found = page_checks.paper(shown(old, new), tmp_path / "page.pdf", "A4", ["Release"])
    assert any(said in one for one in found), found
