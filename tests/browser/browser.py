"""A headless Chromium that shows files and nothing else, driven over its DevTools protocol."""

import base64
import json
import pathlib
import subprocess

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

CHECKS = (pathlib.Path(__file__).parent / "page_checks.js").read_text(encoding="utf-8")
WIDTHS = (390, 820, 1280)
SCHEMES = ("light", "dark")
AS_HIGH_AS_MOST_PAGES = 6000
PAPERS = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11.0)}  # inches


class browser:
    """One Chromium for many pages. Every page is a file; no name resolves to a host, so nothing can be fetched.

    `reachable` excepts one address of this machine, for pages that come from a server of the test's own.
    """

    def __init__(self, reachable=None):
        options = Options()
        options.binary_location = "/usr/bin/chromium"
        for flag in (
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--disable-gpu",
            "--hide-scrollbars",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--host-resolver-rules=MAP * ~NOTFOUND" + (f", EXCLUDE {reachable}" if reachable else ""),
        ):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        options.add_experimental_option("perfLoggingPrefs", {"enableNetwork": True, "enablePage": False})
        options.set_capability("unhandledPromptBehavior", "ignore")
        self.driver = webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.driver.quit()

    def command(self, name, **parameters):
        return self.driver.execute_cdp_cmd(name, parameters)

    def open(self, path):
        """Show a file; what it asked for and said until now is kept in `requests` and `console`."""
        for log in ("browser", "performance"):
            self.driver.get_log(log)
        self.address = pathlib.Path(path).resolve().as_uri()
        self.driver.get(self.address)
        self.requests, self.console = [], []
        return self

    def look(self, width, scheme="light", media="screen"):
        """Lay the page out for a device of that many pixels; a phone obeys the page's meta viewport."""
        self.command(
            "Emulation.setEmulatedMedia", media=media, features=[{"name": "prefers-color-scheme", "value": scheme}]
        )
        self._lay_out(width, AS_HIGH_AS_MOST_PAGES)
        height = self.driver.execute_script("return document.scrollingElement.scrollHeight")
        if height > AS_HIGH_AS_MOST_PAGES:
            self._lay_out(width, min(height, 30000))
        return self

    def _lay_out(self, width, height):
        # as high as the page, so that what lies behind a point of it can be asked for
        self.command(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )

    def find(self, check, *arguments):
        """What the check of that name in page_checks.js returns."""
        return self.driver.execute_script(f"{CHECKS}\nreturn checks.{check}(...arguments);", *arguments)

    def listen(self):
        """Take up what was asked for over any protocol, and what was written to the console, since `open`."""
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                self.requests.append(message["params"]["request"]["url"])
        self.console += [f"{entry['level']}: {entry['message']}" for entry in self.driver.get_log("browser")]
        return self

    def picture(self, path):
        """What is shown, down to the page's end, as PNG."""
        width, height = self.driver.execute_script("return [innerWidth, document.documentElement.offsetHeight]")
        clip = {"x": 0, "y": 0, "width": width, "height": height, "scale": 1}
        data = self.command("Page.captureScreenshot", format="png", clip=clip)["data"]
        pathlib.Path(path).write_bytes(base64.b64decode(data))

    def print(self, path, paper, annex=False):
        """Print as the shop would, with the page's own margins where it states them; with the annex if asked for."""
        self.driver.execute_script("location.hash = arguments[0]", "annex" if annex else "")
        width, height = PAPERS[paper]
        self.command(
            "Emulation.setEmulatedMedia", media="", features=[{"name": "prefers-color-scheme", "value": "light"}]
        )
        self.command("Emulation.clearDeviceMetricsOverride")
        data = self.command(
            "Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=False, preferCSSPageSize=False
        )["data"]
        pathlib.Path(path).write_bytes(base64.b64decode(data))
        return printed(path)


class printed:
    """A PDF: its pages, its text, and the boxes of its words (points)."""

    def __init__(self, path):
        self.path = path
        lines = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout.splitlines()
        self.pages = int(next(line for line in lines if line.startswith("Pages:")).split()[1])
        self.text = self._text("-raw")

    def _text(self, *options):
        done = subprocess.run(["pdftotext", *options, self.path, "-"], capture_output=True, text=True, check=True)
        return done.stdout

    def word_boxes(self):
        """[(page width, page height, left, top, right, bottom, word)]"""
        import xml.etree.ElementTree as tree

        root = tree.fromstring(self._text("-bbox"))
        space = "{http://www.w3.org/1999/xhtml}"
        return [
            (
                float(page.get("width")),
                float(page.get("height")),
                *(float(word.get(key)) for key in ("xMin", "yMin", "xMax", "yMax")),
                word.text or "",
            )
            for page in root.iter(space + "page")
            for word in page.iter(space + "word")
        ]
