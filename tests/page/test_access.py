"""For everybody: every step at every width, light and dark, by the checks of the report's pages, by axe, by keys."""

import sys

import pytest
from bench_page import ROOT, Keys, cold, ordinary, plate

sys.path.insert(0, str(ROOT / "tests" / "browser"))
from page_checks import clean  # noqa: E402

STEPS = ["plate", "job", "cold", "insulation", "power", "starts", "others", "notes", "report", "machines"]
WIDTHS = (320, 800, 1280)
SCHEMES = ("light", "dark")
LEAST_LABEL_PX = 8.5  # of a chart on the narrowest phone
LEAST_TARGET_PX = 44
CHECKS = [["overflow"], ["cut_text"], ["contrast"], ["mark_contrast"], ["labels_legible", LEAST_LABEL_PX]]

TARGETS = """
return [...document.querySelectorAll("button, summary, textarea, label.choice, label.button, a, input:not([type=radio]):not([type=checkbox])")]
  .filter((one) => one.checkVisibility() && !one.classList.contains("unseen") && !one.classList.contains("skip") && getComputedStyle(one).visibility !== "hidden")
  .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && (box.width < arguments[0] - 0.5 || box.height < arguments[0] - 0.5))
  .map(([what, box]) => `${what} is ${Math.round(box.width)} by ${Math.round(box.height)} px`);
"""
AXE = """
const done = arguments[arguments.length - 1];
axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then(
  ({ violations }) => done(violations.map(({ id, nodes }) => `${id}: ${nodes.slice(0, 3).map((one) => one.target).join("; ")}`)),
  (trouble) => done([String(trouble)]),
);
"""


def shown(page, step):
    if step == "machines":
        page.press("#menu")
    else:
        page.step(step)
    page.settled()
    page.script("for (const one of document.querySelectorAll('details')) one.open = true")


@pytest.mark.parametrize("step", STEPS)
def test_every_step_can_be_read_and_pressed(page, axe, step):
    ordinary(page)
    shown(page, step)
    found = []
    for width in WIDTHS:
        for scheme in SCHEMES:
            asked = [["window_follows_device", width], *CHECKS]
            found += [f"{width} px, {scheme}: {said}" for said in page.window.look(width, scheme).find("all", asked)]
            found += [f"{width} px, {scheme}: axe: {said}" for said in page.driver.execute_async_script(axe + AXE)]
            found += [f"{width} px: {said}" for said in page.script(TARGETS, LEAST_TARGET_PX)]
    assert clean(found)


def test_the_checks_find_what_they_are_there_for(page, axe):
    page.script(
        "document.getElementById('main').insertAdjacentHTML('beforeend',"
        "'<button style=\"min-height:0;min-width:0;height:20px;padding:0;color:#999;background:#aaa\">pale words</button><input>')"
    )
    assert page.script(TARGETS, LEAST_TARGET_PX)
    said = " ".join(page.driver.execute_async_script(axe + AXE))
    assert "label" in said and "color-contrast" in said


@pytest.mark.parametrize("step", ["gate", "question"])
def test_what_is_asked_can_be_read_and_pressed(page, axe, step):
    plate(page)
    if step == "question":
        cold(page).settled()
    page.step("power")
    if step == "question":
        readings = [("60", "0.42"), ("75", "0.52"), ("90", "0.64"), ("100", "0.37"), ("110", "0.82")]
        page.run_up("high", readings).settled()
        assert page.shown(".question")
    found = []
    for scheme in SCHEMES:
        found += page.window.look(320, scheme).find("all", CHECKS)
        found += page.driver.execute_async_script(axe + AXE)
        found += page.script(TARGETS, LEAST_TARGET_PX)
    assert clean(found)


def test_the_page_is_worked_without_a_pointer(page):
    page.script("document.activeElement.blur(); scrollTo(0, 0)")
    order = []
    for _ in range(40):
        page.driver.switch_to.active_element.send_keys(Keys.TAB)
        order.append(
            page.script(
                "const one = document.activeElement; return one.dataset.key ?? one.dataset.step ?? one.id ?? one.localName"
            )
        )
    for name in ("menu", "plate", "report", "machine.id", "machine.rated_voltage_V", "machine.speed_control"):
        assert name in order, order
    assert order.index("plate") < order.index("machine.id") < order.index("machine.rated_voltage_V")


def test_a_changed_decision_is_told_to_a_screen_reader(page):
    assert page.script("return document.getElementById('verdict').getAttribute('role')") == "status"
    before = page.text("#verdict")
    plate(page)
    page.settled()
    assert page.text("#verdict") != before


def test_every_field_tells_its_unit(page):
    ordinary(page)
    for step in STEPS[:6]:
        page.step(step)
        page.settled()
        bare = page.script(
            """return [...document.querySelectorAll('#main input[data-key]')].filter((one) => {
              const key = rewound_page.fields.key(...one.dataset.key.split('.'));
              if (!key?.unit) return false;
              const name = one.getAttribute('aria-label') ?? document.querySelector(`label[for="${one.id}"]`).textContent;
              return !/ in |\\(/.test(name);
            }).map((one) => one.dataset.key)"""
        )
        assert bare == []
