"""The page for the bench in a browser, worked as a person does: by keys and by pressing what is shown."""

import os
import pathlib
import sys
import time

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "browser"))
from browser import browser  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
PAGE = pathlib.Path(os.environ["REWOUND_PAGE"])
PATIENCE_S = 30  # of a machine shared with other work; the times that are promised are tested apart


def wait(what, saying):
    """What is true in the end, or a failure that tells what was waited for."""
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        found = what()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"waited in vain: {saying}")


class bench:
    """One window of the page."""

    def __init__(self, chromium):
        self.window = chromium
        self.driver = chromium.driver

    def open(self, path=PAGE):
        self.window.open(path)
        return self.wait_ready()

    def wait_ready(self):
        wait(
            lambda: self.script("return document.body && document.body.dataset.ready === 'yes'"), "the page to be ready"
        )
        return self.settled()

    def fresh(self):
        """As on the first day: nothing stored."""
        self.open()
        self.script("localStorage.clear(); indexedDB.deleteDatabase('rewound')")
        return self.open()

    def reload(self):
        self.driver.refresh()
        return self.wait_ready()

    def script(self, text, *arguments):
        return self.driver.execute_script(text, *arguments)

    def settled(self):
        """The judgement has caught up with what was typed."""
        wait(lambda: self.script("return document.body.dataset.judging === 'no'"), "the judgement")
        return self

    def step(self, name):
        self.driver.find_element(By.CSS_SELECTOR, f'#steps [data-step="{name}"]').click()
        return self

    def shown(self, selector):
        """What can be seen: not what is folded away in a closed part."""
        return self.script(
            "return [...document.querySelectorAll(arguments[0])].filter((one) =>"
            " one.checkVisibility({ visibilityProperty: true }) && one.getBoundingClientRect().width > 0)",
            selector,
        )

    def type(self, key, text, place=0):
        """Types into the field of a key, the how manieth of those that are shown."""
        fields = self.shown(
            f'#main input[data-key="{key}"]:not([type=radio]):not([type=checkbox]), #main textarea[data-key="{key}"]'
        )
        assert len(fields) > place, f"{len(fields)} fields of {key} are shown"
        fields[place].send_keys(Keys.CONTROL, "a")
        fields[place].send_keys(text)
        return self

    def choose(self, key, word):
        chosen = self.driver.find_elements(By.CSS_SELECTOR, f'#main input[data-key="{key}"]')
        button = next(one for one in chosen if one.get_attribute("value") == word)
        self.script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()
        return self

    def press(self, selector):
        button = self.shown(selector)[0]
        self.script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()
        return self

    def run_up(self, speed, readings):
        """Typed one after another by Enter, as on a keypad."""
        first = self.shown(f'[data-speed="{speed}"] input[data-key="run_up.voltage_V"]')[0]
        self.script("arguments[0].focus()", first)  # charts that come in above it would move it from under a click
        for volts, amps in readings:
            for text in (volts, amps):
                self.driver.switch_to.active_element.send_keys(text, Keys.ENTER)
        return self

    def decision(self):
        self.settled()
        return self.script("return document.getElementById('decision').dataset.decision")

    def answer(self):
        self.settled()
        return self.script("return window.rewound_page.answer")

    def typed(self):
        return self.script("return window.rewound_page.machine.typed")

    def stored(self):
        """What lies in storage of the machine that is open."""
        return self.script(
            "return JSON.parse(localStorage.getItem('rewound/machine/' + rewound_page.machine.id)).typed"
        )

    def text(self, selector="body"):
        return self.script("return document.querySelector(arguments[0]).innerText", selector)


def plate(page):
    """The ordinary job of reference/records/ordinary: its plate and its job."""
    page.step("plate")
    page.type("machine.id", "GH-52").type("machine.description", "fern house, wall fan 2")
    page.type("machine.rated_voltage_V", "110").type("machine.rated_frequency_Hz", "60")
    page.type("machine.rated_current_A", "0,85")  # a decimal comma
    page.choose("machine.speed_control", "series_reactor")
    page.choose("machine.running_circuit", "start_winding_switched").choose("machine.appliance_class", "I")
    page.script("for (const one of document.querySelectorAll('#main details')) one.open = true")
    page.choose("machine.winding_kind", "random_wound")
    page.step("job")
    page.type("visit.work", "stator rewound\ncord replaced").type("machine.wound_year", "2026")
    page.script(
        "const day = document.querySelector('[data-key=\"visit.date\"]'); day.value = '2026-10-12';"
        "day.dispatchEvent(new Event('input', {bubbles: true}))"
    )
    page.type("visit.supply_voltage_V", "120").type("visit.supply_frequency_Hz", "60").type("visit.ambient_C", "21")
    return page


def cold(page):
    page.step("cold")
    page.type("resistance.resistance_ohm", "18.4").type("earth.continuity_ohm", "0.08")
    page.step("insulation")
    page.type("insulation.resistance_Mohm", "410")
    return page


RUN_UPS = {
    "high": [("110", "0.82"), ("120", ".90")],
    "medium": [("110", "0,66"), ("120", "0.72")],
    "low": [("110", "0.53"), ("120", "0.57")],
}


def powered(page):
    page.settled()
    page.step("power")
    for speed, readings in RUN_UPS.items():
        page.run_up(speed, readings)
    page.settled()
    page.step("starts")
    page.type("starts.attempts", "20").type("starts.successes", "20")
    return page


def ordinary(page):
    """The whole ordinary job."""
    return powered(cold(plate(page)))


__all__ = ["RUN_UPS", "browser", "bench", "cold", "ordinary", "plate", "powered", "ROOT", "PAGE", "wait", "Keys", "By"]
