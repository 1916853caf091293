"""Nothing typed is lost: full storage, several windows, several machines, files out and in, photos."""

import json
import struct
import zlib

from bench_page import ROOT, By, cold, ordinary, plate, wait

REFERENCE = ROOT / "reference" / "learnt" / "circulator-40.reference.toml"
GOOD = sorted((ROOT / "reference" / "records" / "circulators").glob("*.toml"))

# Files that the page hands over are caught on their way instead of on disk.
CATCH = """
window.caught = [];
HTMLAnchorElement.prototype.click = function () {
  const { href, download } = this;
  window.caught.push({ href, download });
};
const make = URL.createObjectURL;
window.blobs = {};
URL.createObjectURL = (blob) => { const address = make(blob); window.blobs[address] = blob; return address; };
"""


def caught(page, press):
    """(name, text) of the file that a button saves."""
    page.script(CATCH)
    page.press(press)
    wait(lambda: page.script("return window.caught.length"), "a file to be saved")
    return page.driver.execute_async_script(
        "const done = arguments[0]; const { href, download } = window.caught.at(-1);"
        "window.blobs[href].text().then((text) => done([download, text]))"
    )


def take(page, *paths):
    page.press("#menu")
    page.script("document.getElementById('notices').replaceChildren()")
    page.driver.find_element(By.CSS_SELECTOR, '#main input[type="file"]').send_keys("\n".join(map(str, paths)))
    wait(lambda: page.shown(".notice.file"), "the files to be taken in")
    return page.settled()


def machines(page):
    return page.script("return rewound_page.store.machines().map(({id, typed, decision}) => ({id, typed, decision}))")


def picture_file(path, width, height):
    """A grey picture as PNG."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    lines = b"".join(b"\0" + bytes((x * 7 + y * 3) % 256 for x in range(width)) for y in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    )
    return path


def test_a_full_storage_loses_nothing_and_says_so(page):
    plate(page)
    page.script(
        "let piece = 'x'.repeat(1 << 20); let n = 0;"
        "while (piece.length) { try { localStorage.setItem('filler' + n++, piece); }"
        " catch { piece = piece.slice(0, piece.length >> 1); } }"
    )
    page.step("plate").type("machine.description", "a long description that has no room any more " * 3)
    said = wait(lambda: page.shown(".notice.full"), "the notice of a full storage")
    assert "storage is full" in said[0].text
    assert page.typed()["machine"]["description"].startswith("a long description")
    name, text = caught(page, ".notice.full button")
    assert json.loads(text)["machines"][0]["typed"] == page.typed()
    page.script(
        "for (const key of Object.keys(localStorage)) if (key.startsWith('filler')) localStorage.removeItem(key)"
    )
    page.type("machine.model", "fern")
    wait(lambda: not page.shown(".notice.full"), "the notice to go")
    assert page.stored() == page.typed()


def test_two_windows_on_one_machine_lose_nothing(page):
    plate(page)
    first = page.driver.current_window_handle
    address = page.driver.current_url
    page.driver.switch_to.new_window("tab")
    second = page.driver.current_window_handle
    try:
        page.driver.get(address)
        page.wait_ready()
        page.step("plate").type("machine.model", "from the second")
        page.driver.switch_to.window(first)
        wait(lambda: page.typed()["machine"].get("model") == "from the second", "the first window to follow")
        assert page.shown(".notice.other")
        page.step("plate").type("machine.description", "from the first")
        page.driver.switch_to.window(second)
        wait(lambda: page.typed()["machine"].get("description") == "from the first", "the second window to follow")
        assert page.typed()["machine"]["model"] == "from the second"
        # Both at once: what is typed last, before the other's news arrives, becomes a machine of its own.
        page.script("rewound_page.store.heard = () => {}")
        page.driver.switch_to.window(first)
        page.step("plate").type("machine.id", "GH-53")
        page.driver.switch_to.window(second)
        page.step("plate").type("machine.rated_power_W", "75")
        assert page.shown(".notice.copy")
        kept = machines(page)
        assert len(kept) == 2
        assert any(one["typed"]["machine"].get("rated_power_W") == "75" for one in kept)
        assert any(one["typed"]["machine"]["id"] == "GH-53" for one in kept)
    finally:
        if page.driver.current_window_handle != second:
            page.driver.switch_to.window(second)
        page.driver.close()
        page.driver.switch_to.window(first)


def test_the_record_goes_out_as_toml_and_comes_back_the_same(page, tmp_path):
    ordinary(page)
    page.step("report")
    name, text = caught(page, '[data-save="toml"]')
    assert name == "GH-52.toml" and text.startswith('format = "rewound-record/1"')
    written = tmp_path / "GH-52.toml"
    written.write_text(text, encoding="utf-8")
    before = page.answer()["result"]
    take(page, written)
    assert page.answer()["result"] == before
    assert len(machines(page)) == 2


def test_all_machines_go_out_as_one_file_with_photos_and_come_back(page, tmp_path):
    ordinary(page)
    page.step("notes").type("visit.notes", "hums a little\noil wick replaced")
    picture = picture_file(tmp_path / "plate.png", 2000, 1000)
    page.driver.find_element(By.CSS_SELECTOR, "[data-photos]").send_keys(str(picture))
    shown = wait(lambda: page.shown(".photos img"), "the photo")
    wait(lambda: page.script("return arguments[0].naturalWidth", shown[0]), "the photo to load")
    assert page.script("return [arguments[0].naturalWidth, arguments[0].naturalHeight]", shown[0]) == [1280, 640]
    page.reload()
    wait(lambda: page.shown(".photos img"), "the photo after opening again")
    page.press("#menu").press("[data-new]").type("machine.id", "second").settled()
    page.press("#menu")
    before = sorted(one["typed"]["machine"]["id"] for one in machines(page))
    name, text = caught(page, "[data-export]")
    saved = tmp_path / name
    saved.write_text(text, encoding="utf-8")
    page.fresh()
    take(page, saved)
    there = machines(page)
    assert sorted(one["typed"]["machine"]["id"] for one in there if "id" in one["typed"]["machine"]) == before
    page.script("rewound_page.store.open(rewound_page.store.machines().find((one) => one.photos.length).id)")
    page.script("rewound_page.use(rewound_page.machine)")
    assert page.typed()["visit"]["notes"] == ["hums a little", "oil wick replaced"]
    page.settled().step("notes")
    shown = wait(lambda: page.shown(".photos img"), "the photo out of the file")
    wait(lambda: page.script("return arguments[0].naturalWidth", shown[0]) == 1280, "the photo to load")
    assert page.decision() == "release"


def test_a_reference_is_loaded_and_readings_are_held_against_it(page, rewound):
    take(page, GOOD[0])
    alone = page.answer()
    take(page, REFERENCE)
    page.settled()
    beside = page.answer()
    there = json.loads(rewound("judge", GOOD[0], "--reference", REFERENCE, "--format", "json").stdout)
    assert beside["result"]["draw"][0]["judged_by"] == "reference" != alone["result"]["draw"][0]["judged_by"]
    assert beside["result"]["decision"] == there["decision"]
    page.script("rewound_page.use(rewound_page.machine)")
    page.settled().step("power")
    assert "expected" in page.text("#main")


def test_good_machines_that_are_stored_teach_what_their_model_draws(page):
    take(page, *GOOD[:4])
    page.script("for (const one of rewound_page.store.machines()) rewound_page.store.keep_decision(one.id, 'release')")
    page.press("#menu").press("[data-learn]")
    wait(lambda: page.script("return rewound_page.store.references().length"), "the reference")
    assert page.script("return rewound_page.store.references()[0].machines") == 4
    page.settled()
    assert page.answer()["result"]["draw"][0]["judged_by"] == "reference"


def test_a_saved_file_with_anything_in_it_leaves_a_page_that_works(page, tmp_path):
    strange = tmp_path / "strange.json"
    typed = {
        "machine": {"id": 7, "speeds": "high", "rated_voltage_V": {"a": 1}, "elsewhere": "x", "__proto__": {"id": "y"}},
        "visit": [],
        "run_up": [None, {"rows": "none"}, {"speed": ["high"], "rows": [None, {"current_A": [1, 2, 3]}]}],
        "insulation": {"circuit": "winding to frame"},
        "checks": {"a b": "true", "runs": "true"},
        "instruments": {"ammeter": "good"},
    }
    machines_of_file = [None, {"typed": 3}, {"typed": typed, "photos": [{"data": "javascript:alert(1)"}, 4], "kept": 3}]
    strange.write_text(json.dumps({"format": "rewound-page/1", "machines": machines_of_file}), encoding="utf-8")
    take(page, strange)
    page.script("rewound_page.store.open(rewound_page.store.machines()[0].id); rewound_page.use(rewound_page.machine)")
    page.settled()
    assert page.typed()["machine"]["id"] == "7" and page.typed()["checks"] == {"runs": "true"}
    for step in ("plate", "job", "cold", "insulation", "power", "starts", "others", "notes", "report"):
        page.step(step)
        assert page.text("#step-title")
    page.step("plate").type("machine.rated_voltage_V", "230").type("machine.rated_frequency_Hz", "50")
    page.choose("machine.speeds", "full")
    assert page.decision() == "undecided"
    page.window.listen()
    assert [one for one in page.window.console if "SEVERE" in one] == []


def test_what_is_no_record_is_refused_in_words(page, tmp_path):
    ordinary(page)
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('format = "rewound-record/1"\n[machine]\nid = 7\n', encoding="utf-8")
    before = len(machines(page))
    take(page, wrong)
    assert "was not taken in" in page.text("#notices")
    assert len(machines(page)) == before


def test_a_machine_is_deleted_only_when_it_is_meant(page):
    ordinary(page)
    page.press("#menu")
    page.script("window.confirm = () => false")
    page.shown(".machines button.small")[0].click()
    assert len(machines(page)) == 1
    page.script("window.confirm = () => true")
    page.shown(".machines button.small")[0].click()
    assert [one["typed"]["machine"].get("id") for one in machines(page)] != ["GH-52"]


def test_a_window_that_judges_alone_changes_nothing(page):
    """Two windows judge the same news; none of them takes the other's judgement for a change of the machine."""
    plate(page)
    first = page.driver.current_window_handle
    address = page.driver.current_url
    page.driver.switch_to.new_window("tab")
    try:
        page.driver.get(address)
        page.wait_ready()
        page.driver.switch_to.window(first)
        cold(page)  # from undecided for want of insulation to hold and back
        page.type("insulation.resistance_Mohm", "0.1").settled()
        page.type("insulation.resistance_Mohm", "410").settled()
        page.driver.switch_to.window(page.driver.window_handles[-1])
        page.settled()
        page.driver.switch_to.window(first)
        page.step("insulation").type("insulation.winding_C", "22").settled()
        assert len(machines(page)) == 1 and not page.shown(".notice.copy")
    finally:
        page.driver.switch_to.window(page.driver.window_handles[-1])
        page.driver.close()
        page.driver.switch_to.window(first)


def test_many_machines_that_are_taken_in_at_once_are_all_judged(page):
    take(page, *GOOD[:3])
    assert sorted(one["typed"]["machine"]["id"] for one in machines(page)) == ["GH-41", "GH-42", "GH-43"]
    assert all(one["decision"] in ("release", "hold", "undecided") for one in machines(page))
