"""Go a round through the copies now."""

import sys
from argparse import ArgumentParser
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from archive.copies.models import Copy
from archive.copies.tasks import noted_round


class Command(BaseCommand):
    help = (
        "Read the copies of the versions again, those not read for longest first. A damaged one is"
        " set aside and mended from the other. The worker does so by itself once a day. Exit code"
        " 1: a copy stays damaged."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--all", action="store_true", help="also those that were read lately")
        parser.add_argument(
            "--minutes",
            type=float,
            default=settings.SCRUB_MINUTES,
            help="begin no further copy after so long",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        every = timedelta(0) if options["all"] else None
        for line in noted_round(budget_s=options["minutes"] * 60, every=every):
            self.stdout.write(line)
        if Copy.objects.damaged().exists():
            sys.exit(1)
