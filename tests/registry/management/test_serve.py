"""Serving: what ends by itself is started again, and everything ends with the one who serves."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
from django.core.management import CommandError, call_command

from registry import notes
from registry.management.commands import serve, work
from registry.management.commands.serve import Kept
from registry.running import whole

ROOT = Path(__file__).resolve().parents[3]
PATIENCE_S = 90.0


def until[T](ask: Callable[[], T]) -> T:
    """Ask again until there is an answer."""
    last = time.monotonic() + PATIENCE_S
    while not (found := ask()):
        assert time.monotonic() < last, "it did not come about in time"
        time.sleep(0.1)
    return found


# ------------------------------------------------------------------------------- one child


class Child:
    """A child that ends when it is told to."""

    def __init__(self) -> None:
        self.code: int | None = None

    def poll(self) -> int | None:
        return self.code


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr(serve.time, "monotonic", lambda: now[0])
    return now


def test_a_child_that_ends_is_started_again_each_time_later_and_up_to_a_minute(
    clock: list[float],
) -> None:
    begun: list[Child] = []
    told: list[str] = []

    def start() -> Any:
        begun.append(Child())
        return begun[-1]

    kept = Kept("The web server", start, told.append)
    pauses = []
    for _ in range(8):
        kept.look()
        kept.look()
        begun[-1].code = -9
        kept.look()
        pauses.append(kept.pause)
        clock[0] += kept.pause - 0.1
        kept.look()
        assert kept.child is None
        clock[0] += 0.2
    assert pauses == [1, 2, 4, 8, 16, 32, 60, 60]
    assert len(begun) == 8
    assert told[0] == ("The web server ended by itself (by signal 9); it is started again in 1 s.")
    assert kept.falls == 8
    # One that stayed up is started again soon.
    kept.look()
    clock[0] += serve.STEADY_SECONDS
    begun[-1].code = 1
    kept.look()
    assert (kept.pause, kept.falls) == (1.0, 1)
    assert "exit code 1" in told[-1]


def test_a_site_that_is_not_whole_is_not_served(settings: Any, tmp_path: Path) -> None:
    settings.VAR = tmp_path
    whole.close_down("a.tar")
    with pytest.raises(CommandError, match=r"restored from a backup.*manage.py restore"):
        call_command("serve")


def test_the_worker_says_that_it_is_alive_and_goes_on_where_it_cannot(
    settings: Any, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    class Once:
        def wait(self, seconds: float) -> bool:
            assert seconds == notes.BEAT_S
            return True

    settings.VAR = tmp_path / "site"
    work._beat(Once())  # type: ignore[arg-type]
    assert notes.heard_at() is not None
    (tmp_path / "file").touch()
    settings.VAR = tmp_path / "file"
    work._beat(Once())  # type: ignore[arg-type]
    assert "could not leave its beat" in caplog.text


# ------------------------------------------------------------------------------- all of it


class Served:
    """A site of its own that is being served, in processes of its own."""

    def __init__(self, var: Path) -> None:
        with socket.socket() as trial:
            trial.bind(("127.0.0.1", 0))
            self.port = port = trial.getsockname()[1]
        around = {
            name: said for name, said in os.environ.items() if not name.startswith("STRANDLINE_")
        }
        around |= {"STRANDLINE_TESTING": "yes", "STRANDLINE_VAR": str(var)}
        manage = [sys.executable, ROOT / "manage.py"]
        self.log = var / "log"
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                [*manage, "serve", f"--port={port}", "--threads=2"],
                cwd=ROOT,
                env=around,
                stdout=log,
                stderr=log,
            )

    @property
    def said(self) -> str:
        return self.log.read_text(encoding="utf-8")

    def is_healthy(self) -> bool:
        try:
            answer = requests.get(f"http://127.0.0.1:{self.port}/healthy/", timeout=10)
        except requests.RequestException:
            return False
        return answer.status_code == 200

    def children(self) -> dict[str, int]:
        """Give the children by what they are, as the system knows them."""
        found = {}
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        for pid in listed.split():
            command = Path(f"/proc/{pid}/cmdline").read_bytes()
            found["web" if b"gunicorn" in command else "worker"] = int(pid)
        return found


def is_alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


@pytest.fixture
def serving(tmp_path: Path, lay: Callable[[Path], None]) -> Iterator[Callable[[], Served]]:
    """Give a way to serve the one site of this test, again and again."""
    sites = []
    lay(tmp_path / "strandline.sqlite3")

    def serve_it() -> Served:
        sites.append(Served(tmp_path))
        until(sites[-1].is_healthy)
        return sites[-1]

    yield serve_it
    for site in sites:
        if site.process.poll() is None:
            site.process.kill()
            site.process.wait()


def test_what_ends_is_started_again_and_all_ends_with_the_one_who_serves(
    serving: Callable[[], Served],
) -> None:
    site = serving()
    first = site.children()
    assert set(first) == {"web", "worker"}
    os.kill(first["web"], signal.SIGKILL)
    until(lambda: "The web server ended by itself (by signal 9)" in site.said)
    # What the killed one had begun may answer a moment longer, and hold the port so long.
    until(lambda: site.children().get("web", first["web"]) != first["web"])
    until(site.is_healthy)
    until(lambda: set(site.children()) == {"web", "worker"})
    second = site.children()
    assert second["worker"] == first["worker"]
    site.process.send_signal(signal.SIGTERM)
    assert site.process.wait(PATIENCE_S) == 0
    assert re.search(r"^Stopped\.$", site.said, re.MULTILINE)
    assert not any(is_alive(pid) for pid in second.values())
    # Killed, it cannot stop them: they see by themselves that it is gone.
    again = serving()
    left = again.children()
    assert len(left) == 2
    again.process.kill()
    again.process.wait()
    until(lambda: not any(is_alive(pid) for pid in left.values()))


def test_a_web_server_that_cannot_begin_is_given_up_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    settings.VAR = tmp_path
    settings.STATIC_ROOT = tmp_path / "static"
    ends = [sys.executable, "-c", "raise SystemExit(3)"]
    waits = [sys.executable, "-c", "import time; time.sleep(60)"]
    monkeypatch.setattr(serve, "LOOK_SECONDS", 0.01)
    monkeypatch.setattr(serve, "LONGEST_PAUSE", 0.02)
    monkeypatch.setattr(serve, "REAP_SECONDS", float("inf"))  # there is no site behind it
    command = serve.Command()
    monkeypatch.setattr(command, "_web", lambda *_: subprocess.Popen(ends))
    monkeypatch.setattr(command, "_worker", lambda: subprocess.Popen(waits))
    kept = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        with pytest.raises(CommandError, match=r"ended by itself 5 times in a row.*port 8123"):
            command.handle(port=8123, host="127.0.0.1", threads=1)
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)
