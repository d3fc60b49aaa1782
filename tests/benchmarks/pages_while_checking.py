"""How long pages take of a served site while its worker's children check large files, or bombs.

The site is served by `manage.py serve` as whoever runs it serves it. Pages are asked for one after
another over HTTP: quiet first, then while two large files are on their way through the check, then
while two files are that were made to fill its memory; "other" is the quiet figure of the same run.
"""

import http.client
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from urllib.parse import urlencode

from tests.benchmarks._said import note, say, share
from tests.benchmarks._surroundings import ROOT, large, run

ROWS = 250_000
QUIET_S, LOUD_S = 20.0, 180.0
PAGES = (
    "/",
    "/animals/",
    "/oversight/",
    "/oversight/uses/",
    "/questions/",
    "/archive/",
    "/studies/",
)
START_S = 60.0


def _port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


class Browser:
    """One person's browser on one kept connection."""

    def __init__(self, port: int) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.cookies: dict[str, str] = {}

    def ask(self, path: str, form: dict[str, str] | None = None) -> tuple[int, str]:
        """Ask for a page, or send a form; give the status and the text."""
        headers = {"Cookie": "; ".join(f"{key}={said}" for key, said in self.cookies.items())}
        body = None
        if form is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
            body = urlencode(form)
        self.wire.request("GET" if form is None else "POST", path, body, headers)
        answer = self.wire.getresponse()
        for line in answer.headers.get_all("Set-Cookie", []):
            key, _, said = line.split(";")[0].partition("=")
            self.cookies[key] = said
        return answer.status, answer.read().decode(errors="replace")

    def sign_in(self, email: str, password: str) -> None:
        """Sign in by the page."""
        _, page = self.ask("/sign-in/")
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        names = re.findall(r'<input type="(?:email|text|password)" name="([^"]+)"', page)
        form = dict(zip(names, (email, password), strict=False))
        form["csrfmiddlewaretoken"] = token[1] if token else ""
        status, _ = self.ask("/sign-in/", form)
        if status != 302:
            raise RuntimeError(f"signing in answered {status}")


@contextmanager
def served(around: dict[str, str]) -> Iterator[int]:
    """Serve the site, and stop it at the end."""
    port = _port()
    command = [sys.executable, "manage.py", "serve", f"--port={port}"]
    site = subprocess.Popen(
        command, cwd=ROOT, env=around, stdout=subprocess.DEVNULL, start_new_session=True
    )
    try:
        until = time.monotonic() + START_S
        while time.monotonic() < until:
            with socket.socket() as trial:
                if trial.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield port
    finally:
        site.send_signal(signal.SIGTERM)
        site.wait(timeout=30)


def asked_for(browser: Browser, seconds: float, is_over: Path | None = None) -> list[float]:
    """Ask for the pages in turn, until the file is there; give the time of each answer in ms."""
    times, began, turn = [], time.monotonic(), 0
    while time.monotonic() - began < seconds and not (is_over and is_over.exists()):
        sent = time.perf_counter()
        status, _ = browser.ask(PAGES[turn % len(PAGES)])
        times.append((time.perf_counter() - sent) * 1000)
        if status != 200:
            raise RuntimeError(f"{PAGES[turn % len(PAGES)]} answered {status}")
        turn += 1
        time.sleep(0.02)
    return times


def main() -> None:
    """Serve a copy of the large collection, hand in two files, and ask for pages meanwhile."""
    with large() as kept, tempfile.TemporaryDirectory() as folder:
        var = Path(folder) / "var"
        shutil.copytree(kept["STRANDLINE_VAR"], var)
        around = {**kept, "STRANDLINE_VAR": str(var)}
        with served(around) as port:
            browser = Browser(port)
            browser.sign_in("isolde.marrack@skerrywick.example", "what one tide leaves")
            asked_for(browser, 3)
            quiet = asked_for(browser, QUIET_S)
            loud = {}
            for what, rows in ((f"two files of {ROWS:,} rows", ROWS), ("two bombs", 0)):
                over = Path(folder) / f"over-{rows}"
                sender = Thread(target=run, args=("_handing_in", around, str(rows), str(over)))
                sender.start()
                loud[what] = asked_for(browser, LOUD_S, over)
                sender.join()
    for what, times in loud.items():
        note(f"{len(quiet)} pages quiet, {len(times)} while {what} were checked")
        for name, part in (("p50", 0.5), ("p99", 0.99)):
            said = f"pages_while_checking: {name}, {what}"
            say(said, share(times, part), share(quiet, part), "ms")


if __name__ == "__main__":
    main()
