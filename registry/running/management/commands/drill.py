"""Try a backup: restore it into a folder of its own, verify it there, and remove it again."""

import os
import shutil
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from registry import notes
from registry.errors import Refusal
from registry.running.backup.reading import check_backup


class Command(BaseCommand):
    help = (
        "Restore a backup into a new folder, with a database of its own, and verify ledger and"
        " store there; this site goes on running and is not touched. Then it is removed again. A"
        " note says when it was done last."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument(
            "--in", dest="room", type=Path, help="a folder with room for all of it; by default TMP"
        )
        parser.add_argument("--keep", action="store_true", help="leave what was restored there")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"].absolute()
        try:
            check_backup(path)
        except Refusal as refusal:
            self._failed(path, str(refusal))
        room = Path(tempfile.mkdtemp(prefix="drill-", dir=options["room"]))
        try:
            tried = _restore(path, room)
        finally:
            if not options["keep"]:
                shutil.rmtree(room, ignore_errors=True)
        self.stdout.write(tried.stdout.strip())
        if options["keep"]:
            self.stdout.write(f"It lies in {room}.")
        if tried.returncode:
            self._failed(path, tried.stderr.strip())
        notes.write_note("drill", faults=0, said=[str(path), *tried.stdout.splitlines()[-1:]])
        self.stdout.write("The backup passed the drill; this site was not touched.")

    @staticmethod
    def _failed(path: Path, why: str) -> NoReturn:
        notes.write_note("drill", faults=1, said=[str(path), why])
        raise CommandError(
            f"{why}\nThe backup did not pass the drill; this site was not touched. Try an earlier"
            " one, and make a new one today."
        )


def _restore(backup: Path, room: Path) -> "subprocess.CompletedProcess[str]":
    """Restore in a process of its own, whose surroundings name nothing of this site."""
    around = {name: said for name, said in os.environ.items() if not name.startswith("STRANDLINE_")}
    around["STRANDLINE_VAR"] = str(room)
    if settings.TESTING:
        around["STRANDLINE_TESTING"] = "yes"
    return subprocess.run(
        [sys.executable, str(settings.ROOT / "manage.py"), "restore", str(backup)],
        cwd=settings.ROOT,
        env=around,
        capture_output=True,
        text=True,
        check=False,
    )
