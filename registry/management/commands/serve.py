"""Serve the site: the web server and the task worker together, stopped together."""

import logging
import os
import signal
import subprocess
import sys
import time
from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from archive import analysing, tasks
from archive.copies import tasks as copies
from registry.desk import alerts, mornings
from registry.running import whole

logger = logging.getLogger(__name__)

STOP_SECONDS = 15
LOOK_SECONDS = 0.5
REAP_SECONDS = 30
LONGEST_PAUSE = 60.0
STEADY_SECONDS = 60.0
"""Who stayed up for so long is started again at once; else the pause doubles each time."""
GIVEN_UP_AFTER = 5
"""A web server that never stayed up is given up after so many tries: its port may be taken."""


@dataclass
class Kept:
    """A child that is started again when it ends by itself, each time a little later."""

    name: str
    start: Callable[[], "subprocess.Popen[bytes]"]
    tell: Callable[[str], object]
    child: "subprocess.Popen[bytes] | None" = None
    pause: float = field(default=0.0, init=False)
    falls: int = field(default=0, init=False)
    begun_at: float = field(default=float("-inf"), init=False)
    due_at: float = field(default=float("-inf"), init=False)

    def look(self) -> None:
        """Start the child when it is time to; when it has just ended, say when that will be."""
        now = time.monotonic()
        if self.child is None:
            if now >= self.due_at:
                self.child, self.begun_at = self.start(), now
        elif (code := self.child.poll()) is not None:
            if now - self.begun_at >= STEADY_SECONDS:
                self.pause, self.falls = 0.0, 0
            self.pause = min(LONGEST_PAUSE, self.pause * 2 or 1.0)
            self.falls += 1
            self.child, self.due_at = None, now + self.pause
            self.tell(
                f"{self.name} ended by itself ({_said(code)}); it is started again in"
                f" {self.pause:.0f} s."
            )


def _said(code: int) -> str:
    return f"by signal {-code}" if code < 0 else f"exit code {code}"


class Command(BaseCommand):
    """Two children, watched: one that ends by itself is started again."""

    help = "Serve the site: web server and task worker together."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--threads", type=int, default=8)

    def handle(self, *args: Any, **options: Any) -> None:
        if not whole.is_whole():
            raise CommandError(str(whole.refusal()))
        self.is_stopping = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        start_web = partial(self._web, options["host"], options["port"], options["threads"])
        web = Kept("The web server", start_web, self._tell)
        worker = Kept("The task worker", self._worker, self._tell)
        self.stdout.write(f"Strandline is served at http://{options['host']}:{options['port']}/")
        self.stdout.write("Stop it with Ctrl+C.")
        self.stdout.flush()
        reaped_at = 0.0
        while not self.is_stopping and web.falls < GIVEN_UP_AFTER:
            web.look()
            worker.look()
            if time.monotonic() - reaped_at > REAP_SECONDS:
                self._take_up_again()
                self._queue_what_is_due()
                reaped_at = time.monotonic()
            time.sleep(LOOK_SECONDS)
        self._end(*[one.child for one in (web, worker) if one.child is not None])
        if not self.is_stopping:
            raise CommandError(
                f"The web server ended by itself {GIVEN_UP_AFTER} times in a row; its reason stands"
                f" above. Is something else served at port {options['port']}? Mend it, or give"
                " another --port, and serve again."
            )
        self.stdout.write("Stopped.")

    def _tell(self, line: str) -> None:
        self.stderr.write(line)
        self.stderr.flush()

    @staticmethod
    def _take_up_again() -> None:
        """Look after what broke off; a disk or database in trouble does not end the site."""
        try:
            tasks.take_up_again()
            analysing.take_up_again()
        except (DatabaseError, OSError):
            logger.exception("What broke off could not be looked after; it is tried again.")

    @staticmethod
    def _queue_what_is_due() -> None:
        """Queue what is told at once, the morning's mails, the day's round through the copies."""
        for work in (alerts, mornings, copies):
            try:
                work.enqueue_when_due()
            except (DatabaseError, OSError):
                logger.exception("%s could not be queued; it is tried again.", work.__name__)

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self.is_stopping = True

    def _web(self, host: str, port: int, threads: int) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [
                sys.executable,
                "-m",
                "registry.orphans",
                str(os.getpid()),
                "-m",
                "gunicorn",
                "registry.wsgi",
                f"--bind={host}:{port}",
                "--workers=1",
                f"--threads={threads}",
                "--timeout=300",
                "--graceful-timeout=10",
                "--log-level=warning",
                f"--worker-tmp-dir={settings.VAR}",
            ],
            cwd=settings.ROOT,
            start_new_session=True,
        )

    def _worker(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [
                sys.executable,
                str(settings.ROOT / "manage.py"),
                "work",
                f"--parent={os.getpid()}",
                "--interval=0.5",
                "--no-startup-delay",
                "--verbosity=0",
            ],
            cwd=settings.ROOT,
            start_new_session=True,
        )

    @staticmethod
    def _end(*children: subprocess.Popen[bytes]) -> None:
        for child in children:
            if child.poll() is None:
                child.terminate()
        last = time.monotonic() + STOP_SECONDS
        for child in children:
            try:
                child.wait(max(0.1, last - time.monotonic()))
            except subprocess.TimeoutExpired:
                child.kill()
