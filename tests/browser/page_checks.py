"""What must hold of every page: the checks of page_checks.js at every width and colour scheme, on paper, and of the marks.

Each function returns a list of sentences about what is wrong, empty when nothing is.
"""

import re
import tomllib
import unicodedata

from browser import SCHEMES, WIDTHS

LEAST_LABEL_PX = 9.0  # common practice, no source: what is still read on a phone held close
LAYOUT = ("overflow", "cut_text", "labels_inside_pictures", "labels_apart", "scrollers_take_keys")
COLOURS = ("contrast", "mark_contrast")
STRUCTURE = ("document", "headings", "pictures_described", "tables", "inert", "characters")
TURNED = re.compile("[\u202a-\u202e\u2066-\u2069\u200e\u200f]")  # words whose letters a PDF may hold in another order
LONGEST_UNBROKEN_WORD = 24  # letters; a longer one may be broken at the end of a line


def structure(page):
    return page.look(WIDTHS[-1]).find("all", [[check] for check in STRUCTURE])


def looks(page, widths=WIDTHS, schemes=SCHEMES):
    """Layout at every width, colours in every scheme."""
    found = []
    for width in widths:
        for scheme in schemes:
            asked = [
                ["window_follows_device", width],
                ["labels_legible", LEAST_LABEL_PX],
                *([one] for one in LAYOUT + COLOURS),
            ]
            found += [f"{width} px, {scheme}: {said}" for said in page.look(width, scheme).find("all", asked)]
    return found


def quiet(page):
    """Nothing on the console, no request beyond the file itself, no dialog."""
    page.listen()
    found = [f"console: {entry}" for entry in page.console]
    found += [f"asked for {url[:100]}" for url in page.requests if url.split("#")[0] != page.address]
    try:
        found.append(f"a dialog: {page.driver.switch_to.alert.text}")
    except Exception as none:  # noqa: BLE001  (the driver's own class differs between versions)
        if type(none).__name__ != "NoAlertPresentException":
            raise
    return found


def expected_marks(record):
    """({reading of a run-up: its speed}, {any other reading with a picture}) of a record, as `data-reading` names
    them."""
    run_up, others, taken = {}, set(), {}
    for one in record.get("run_up", []):
        if one.get("leads", "as_marked") != "as_marked":
            continue
        first = taken.get(one["speed"], 0)
        for index in range(first, first + len(one["voltage_V"])):
            run_up[f"{one['speed']}:{index}"] = one["speed"]
        taken[one["speed"]] = first + len(one["voltage_V"])
    for one in record.get("insulation", []):
        others |= {f"{one['circuit']}:{index}" for index in range(len(one["time_s"]))}
    for one in ("coast_down", "heat_run"):
        others |= {f"{one}:{index}" for index in range(len(record.get(one, {}).get("time_s", [])))}
    return run_up, others


def marks(page, record_path, suspect_readings=()):
    """Every reading of the record has its mark; the suspect ones, and no others, are drawn as such."""
    with open(record_path, "rb") as file:
        run_up, others = expected_marks(tomllib.load(file))
    suspect = {f"{one['speed']}:{one['index']}" for one in suspect_readings}
    page.look(WIDTHS[-1])
    there = page.find("marks")
    drawn = {mark["reading"] for mark in there}
    found = [f"no mark for reading {one}" for one in sorted((run_up.keys() | others) - drawn)]
    found += [f"a mark {one} without a reading" for one in sorted(drawn - run_up.keys() - others)]
    found += [f"the mark of {mark['reading']} is not seen" for mark in there if not mark["seen"]]
    for mark in there:
        speed = run_up.get(mark["reading"])
        if speed is not None and mark["group"] != speed:
            found.append(f"the mark of {mark['reading']} lies in the group of speed {mark['group']}")
    for picture in {mark["picture"] for mark in there} - {-1}:
        inside = [(mark["reading"], mark["group"]) for mark in there if mark["picture"] == picture]
        lines = (
            3 if any(one[1] and inside.count(one) == 3 for one in inside) else 1
        )  # of three phases each line has its own
        found += [
            f"the reading {one[0]} has {inside.count(one)} marks in one picture"
            for one in sorted(set(inside), key=str)
            if inside.count(one) != (lines if one[1] else 1)
        ]
    flagged = {mark["reading"] for mark in there if mark["suspect"]}
    found += [f"the suspect reading {one} is drawn as any other" for one in sorted(suspect - flagged)]
    found += [f"the reading {one} is drawn as suspect" for one in sorted(flagged - suspect)]
    return found


def paper(page, path, size, needed_words=()):
    """Printed: there are pages, all words that the page prints are on them, and none runs over an edge."""
    page.look(WIDTHS[1], media="print")
    words = {word for word in page.find("words") if len(word) <= LONGEST_UNBROKEN_WORD and not TURNED.search(word)}
    found = [f"{size}: {one}" for one in page.find("all", [["pictures_stay_whole_in_print"], ["contrast"]])]
    pdf = page.print(path, size)
    if pdf.pages < 1:
        return found + [f"{size}: no pages"]
    text = re.sub(r"\s+", "", plain(pdf.text))
    spaced = " ".join(plain(pdf.text).split())
    found += [f'{size}: "{word}" is not on the paper' for word in sorted(words) if plain(word) not in text]
    found += [f'{size}: "{needed}" is not on the paper' for needed in needed_words if plain(needed) not in spaced]
    for width, height, left, top, right, bottom, word in pdf.word_boxes():
        if left < 0 or top < 0 or right > width or bottom > height:
            found.append(f'{size}: "{word}" runs over the edge of the paper')
    return found


def plain(text):
    """As a PDF may hold it: ligatures in letters, kinds of space alike, no soft hyphens, capitals (text-transform) or
    not."""
    return re.sub("[\u00ad\u200b]", "", unicodedata.normalize("NFKC", text)).casefold()


def clean(found):
    """Whether nothing was found; what was is told whole, which an assertion about a list would not."""
    assert not found, "\n".join([f"{len(found)} found:", *found[:30]])
    return True
