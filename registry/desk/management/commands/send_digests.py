"""Send the morning's mails now: to each person once a day, whoever calls it how often."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.desk.models import Morning
from registry.desk.mornings import send_all


class Command(BaseCommand):
    """What the worker does once a day, by hand."""

    help = "Send the morning's mails of a day; nobody is written to twice for one day."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", metavar="DAY", help="the day, as 2026-11-24; today without it")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            day = date.fromisoformat(options["on"]) if options["on"] else timezone.localdate()
        except ValueError:
            raise CommandError(
                f"“{options['on']}” is no day. Nothing was sent. Write it as 2026-11-24."
            ) from None
        found = send_all(day)
        told = ", ".join(f"{number} {outcome}" for outcome, number in sorted(found.items()))
        self.stdout.write(f"{day}: {told or 'nobody waited'}.")
        unsettled = Morning.objects.filter(day=day).exclude(fault="")
        for row in unsettled.select_related("person"):
            self.stdout.write(f"  {row.person.name}: {row.get_outcome_display()}. {row.fault}")
