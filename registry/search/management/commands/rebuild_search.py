"""Write the index anew from the tables."""

from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction

from registry.search.index import rebuild


class Command(BaseCommand):
    help = "Write the search index anew from the tables; safe at any time."

    def handle(self, *args: Any, **options: Any) -> None:
        with transaction.atomic():
            number = rebuild()
        self.stdout.write(f"{number} objects can be looked for.")
