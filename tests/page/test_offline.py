"""From a web server, for phones that run no script in a file: opened once, it works without the server afterwards."""

import functools
import http.server
import shutil
import threading

from bench_page import PAGE, bench, browser, ordinary, wait

ADDRESS = "127.0.0.1"


class quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_):
        pass


def test_a_page_from_a_server_works_without_it_afterwards(tmp_path):
    with browser(reachable=ADDRESS) as chromium:
        opened_once(bench(chromium), tmp_path)


def opened_once(page, tmp_path):
    shutil.copy(PAGE, tmp_path / "rewound.html")
    shutil.copy(PAGE.with_name("rewound-offline.js"), tmp_path / "rewound-offline.js")
    server = http.server.ThreadingHTTPServer((ADDRESS, 0), functools.partial(quiet, directory=tmp_path))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        page.driver.get(f"http://{ADDRESS}:{server.server_port}/rewound.html")
        page.wait_ready()
        wait(lambda: page.script("return Boolean(navigator.serviceWorker.controller)"), "the service worker")
        page.driver.refresh()
        page.wait_ready()
    finally:
        server.shutdown()
        server.server_close()
    page.driver.refresh()
    page.wait_ready()
    ordinary(page)
    assert page.decision() == "release"
