"""Serve the site: the web server and the task worker together, stopped together."""

import logging
import signal
import subprocess
import sys
import time
from argparse import ArgumentParser
from types import FrameType
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from archive.tasks import take_up_again

logger = logging.getLogger(__name__)

STOP_SECONDS = 15
LOOK_SECONDS = 0.5
REAP_SECONDS = 30


class Command(BaseCommand):
    """Two children, watched: when the web server ends, all does; a dead worker is replaced."""

    help = "Serve the site: web server and task worker together."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--threads", type=int, default=8)

    def handle(self, *args: Any, **options: Any) -> None:
        self.is_stopping = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        web = self._web(options["host"], options["port"], options["threads"])
        worker = self._worker()
        self.stdout.write(f"Strandline is served at http://{options['host']}:{options['port']}/")
        self.stdout.write("Stop it with Ctrl+C.")
        self.stdout.flush()
        reaped_at = 0.0
        while not self.is_stopping and web.poll() is None:
            if worker.poll() is not None:
                worker = self._worker()
            if time.monotonic() - reaped_at > REAP_SECONDS:
                self._take_up_again()
                reaped_at = time.monotonic()
            time.sleep(LOOK_SECONDS)
        self._end(web, worker)
        if not self.is_stopping:
            raise CommandError("The web server stopped by itself; its reason stands above.")
        self.stdout.write("Stopped.")

    @staticmethod
    def _take_up_again() -> None:
        """Look after broken-off checks; a disk or database in trouble does not end the site."""
        try:
            take_up_again()
        except (DatabaseError, OSError):
            logger.exception("Broken-off checks could not be looked after; it is tried again.")

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self.is_stopping = True

    def _web(self, host: str, port: int, threads: int) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [
                sys.executable,
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
                "db_worker",
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
