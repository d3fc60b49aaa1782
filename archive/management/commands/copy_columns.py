"""Make the typed copies of tables that have none: after a restore, or where a worker broke off."""

from typing import Any

from django.core.management.base import BaseCommand

from archive.columnar import make_columns
from archive.models import Version


class Command(BaseCommand):
    help = "Copy the columns of each accepted table that has no copy yet."

    def handle(self, *_args: Any, **_options: Any) -> None:
        tried = 0
        for version in Version.objects.held().order_by("pk").iterator():
            for table, told in make_columns(version).items():
                tried += 1
                self.stdout.write(f"{version.identifier}, {table}: {told}")
        self.stdout.write(f"{tried:,} tables were tried.")
