"""The ordinary job, typed by keys into the page: the same decision as the command line's, whatever happens meanwhile."""

import json

import pytest
from bench_page import By, Keys, ROOT, RUN_UPS, cold, ordinary, plate, powered, wait

ORDINARY = ROOT / "reference" / "records" / "ordinary" / "gh52_wall_fan.toml"
WIDTHS = (320, 800, 1280)


def record_of(page):
    return page.driver.execute_async_script(
        "const done = arguments[0]; const page = window.rewound_page;"
        "page.judgement.ask({ask: 'write', typed: page.machine.typed}).then((answer) => done(answer.toml ?? answer.trouble))"
    )


def judged(rewound, path):
    return json.loads(rewound("judge", path, "--format", "json").stdout)


def without(sections, *keys):
    return [{key: value for key, value in one.items() if key not in keys} for one in sections]


def test_the_ordinary_job_is_released_by_typed_keys_as_by_the_command_line(page, rewound, tmp_path):
    ordinary(page)
    assert page.decision() == "release"
    written = tmp_path / "typed.toml"
    written.write_text(record_of(page), encoding="utf-8")
    there = judged(rewound, written)
    here = page.answer()["result"]
    assert there["decision"] == here["decision"] == judged(rewound, ORDINARY)["decision"] == "release"
    assert [one["message"] for one in there["findings"]] == [one["message"] for one in here["findings"]]
    assert there["next"] == here["next"] and there["conditions"] == here["conditions"]
    for key in ("Why:", "Release", "99 to 121 V"):
        assert key in page.text("#decision")


def test_a_reload_in_the_middle_of_a_number_loses_nothing(page):
    plate(page)
    page.step("cold").type("resistance.resistance_ohm", "18.")
    page.reload()
    assert page.shown('input[data-key="resistance.resistance_ohm"]')[0].get_attribute("value") == "18."
    page.shown('input[data-key="resistance.resistance_ohm"]')[0].send_keys(Keys.END, "4")
    page.type("earth.continuity_ohm", "0.08")
    page.step("insulation").type("insulation.resistance_Mohm", "410")
    page.reload()
    powered(page)
    assert page.decision() == "release"
    page.reload()
    assert page.decision() == "release"


def test_every_keystroke_is_in_storage_before_the_next(page):
    page.step("plate")
    field = page.shown('input[data-key="machine.rated_voltage_V"]')[0]
    for typed, kept in (("2", "2"), ("3", "23"), ("0", "230"), (Keys.BACKSPACE, "23")):
        field.send_keys(typed)
        assert page.stored()["machine"]["rated_voltage_V"] == kept


def test_pictures_of_each_width_are_as_wide_as_the_screen(page, tmp_path):
    ordinary(page)
    page.step("power").settled()
    for width in WIDTHS:
        picture = tmp_path / f"{width}.png"
        page.window.look(width).picture(picture)
        header = picture.read_bytes()[16:24]
        assert int.from_bytes(header[:4], "big") == width
        assert int.from_bytes(header[4:], "big") > 600


def test_nothing_under_power_is_shown_before_the_insulation_was_judged(page):
    plate(page)
    page.step("power")
    assert page.shown(".gate") and not page.shown('input[data-key="run_up.voltage_V"]')
    assert "insulation has not been judged" in page.text("#main").lower()
    page.step("starts")
    assert page.shown(".gate") and not page.shown('input[data-key="starts.attempts"]')
    cold(page).settled()
    page.step("power")
    assert page.shown('input[data-key="run_up.voltage_V"]') and not page.shown(".gate")


def test_a_damp_winding_keeps_the_machine_off_power(page):
    plate(page)
    cold(page)
    page.type("insulation.resistance_Mohm", "0.2")
    assert page.decision() == "hold"
    page.step("power")
    assert page.shown(".gate") and not page.shown('input[data-key="run_up.voltage_V"]')
    # Who has readings all the same can enter them, and is still told.
    page.press('[data-open="power"]')
    assert page.shown('input[data-key="run_up.voltage_V"]') and page.shown(".gate")


def test_a_reading_that_does_not_fit_is_questioned_at_once_and_may_be_kept(page):
    plate(page)
    cold(page).settled()
    page.step("power")
    page.run_up(
        "high", [("60", "0.42"), ("75", "0.52"), ("90", "0.64"), ("100", "0.37"), ("110", "0.82"), ("120", "0.91")]
    )
    page.settled()
    asked = wait(lambda: page.shown('[data-speed="high"] .question'), "the question about the reading")
    assert "0.37" in asked[0].text and "0.73 A would fit" in asked[0].text
    page.press('[data-speed="high"] .question button')
    page.settled()
    assert not page.shown('[data-speed="high"] .question')
    page.reload()
    page.settled()
    assert not page.shown('[data-speed="high"] .question'), "what was kept is asked about again"
    assert page.decision() == "undecided"


def test_a_value_that_cannot_be_is_left_out_and_said_beside_its_field(page):
    ordinary(page)
    page.step("cold").type("resistance.resistance_ohm", "eighteen").settled()
    field = page.shown('input[data-key="resistance.resistance_ohm"]')[0]
    note = page.driver.find_element(By.ID, field.get_attribute("aria-describedby").split()[-1])
    wait(note.is_displayed, "the note below the field")
    assert "eighteen" in note.text
    assert page.decision() == "undecided"
    page.type("resistance.resistance_ohm", "18,4")
    assert page.decision() == "release"


def test_the_curve_moves_as_points_come_in(page):
    plate(page)
    cold(page).settled()
    page.step("power")
    shapes = []
    for volts, amps in RUN_UPS["high"] + [("100", "0.74")]:
        place = len(shapes)
        page.type("run_up.voltage_V", volts, place).type("run_up.current_A", amps, place).settled()
        shapes.append(page.script("return document.querySelector('[data-speed=high] .chart svg')?.outerHTML ?? ''"))
    assert len(set(shapes)) == len(shapes) and all(shapes)
    marks = page.script("return [...document.querySelectorAll('[data-speed=high] [data-reading]')].length")
    assert marks == 3


def test_the_full_report_is_the_page_of_the_command_line(page, rewound, tmp_path):
    ordinary(page)
    page.step("report").press("[data-report]")
    wait(
        lambda: page.script(
            "return document.querySelector('iframe.report')?.contentDocument?.body?.innerText.length > 500"
        ),
        "the report",
    )
    written = tmp_path / "typed.toml"
    written.write_text(record_of(page), encoding="utf-8")
    native = tmp_path / "typed.html"
    rewound("judge", written, "--format", "html", "--out", native)
    shown = page.script("return document.querySelector('iframe.report').srcdoc")
    assert shown == native.read_text(encoding="utf-8")


def test_what_was_removed_comes_back(page):
    ordinary(page)
    page.step("power")
    before = page.typed()
    page.shown('[data-speed="high"] .remove')[0].click()
    assert len(page.typed()["run_up"][0]["rows"]) == 1
    page.press(".notice.undo button")
    assert page.typed() == before == page.stored()


def test_a_three_phase_machine_is_asked_for_three_amperes(page):
    page.step("plate").type("machine.id", "GH-33").type("machine.rated_voltage_V", "400").type(
        "machine.rated_frequency_Hz", "50"
    )
    page.choose("machine.speeds", "full").choose("machine.running_circuit", "three_phase")
    cold(page).settled()
    page.step("power")
    assert page.shown(".gate"), "an insulation test without a temperature was judged"
    page.step("insulation").type("insulation.winding_C", "21").settled()
    page.step("power")
    amperes = page.shown('[data-speed="full"] input[data-key="run_up.current_A"]')
    assert len(amperes) == 3
    page.type("run_up.voltage_V", "400")
    for line, text in enumerate(("1.02", "1.00", "0.98")):
        page.type("run_up.current_A", text, line)
    page.settled()
    assert page.typed()["run_up"][0]["rows"][0]["current_A"] == ["1.02", "1.00", "0.98"]
    assert page.answer()["result"]["draw"][0]["current_at_rated_A"] == pytest.approx(1.0, rel=1e-3)


def test_speeds_that_are_renamed_keep_their_readings(page):
    ordinary(page)
    page.step("plate").type("machine.speeds", "3 2 1")
    page.settled()
    assert [run["speed"] for run in page.typed()["run_up"]] == ["3", "2", "1"]
    assert page.answer()["problems"] == []
