"""The task worker: does what waits in the queue, and says every few seconds that it is alive."""

import logging
import os
import subprocess
import threading
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django_tasks_db.management.commands.db_worker import Command as QueueCommand

from archive.engine import watch
from registry import notes
from registry.orphans import die_with
from registry.uploads import sweep_uploads

logger = logging.getLogger(__name__)


class Command(QueueCommand):
    help = "Do the tasks that wait; `manage.py serve` runs it beside the web server."

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--parent", type=int, help="end when this process ends")

    def handle(self, *, parent: int | None = None, **options: Any) -> None:  # type: ignore[override]  # why: it hands on all that it does not name
        if parent is not None:
            die_with(parent)
        # Where the checks keep their kernel, if only the settings said so far where the data is.
        os.environ.setdefault("STRANDLINE_VAR", str(settings.VAR))
        _sweep()
        done = threading.Event()
        threading.Thread(target=_beat, args=(done,), daemon=True).start()
        threading.Thread(target=_warm, daemon=True).start()
        try:
            super().handle(**options)
        finally:
            done.set()


def _sweep() -> None:
    """Clear away what killed web servers left of uploads; a disk in trouble stops no worker."""
    try:
        sweep_uploads()
    except OSError:
        logger.exception("What broken-off uploads left could not be swept.")


def _warm() -> None:
    """Have the first large table find its kernel compiled; without it, it only waits longer."""
    try:
        logger.info("The kernel was made ready in %.1f s.", watch.warm())
    except (OSError, subprocess.SubprocessError) as fault:
        logger.warning("The kernel could not be made ready: %s", fault)


def _beat(done: threading.Event) -> None:
    while True:
        try:
            notes.beat()
        except OSError as fault:
            logger.warning("Worker %s could not leave its beat: %s", os.getpid(), fault)
        if done.wait(notes.BEAT_S):
            return
