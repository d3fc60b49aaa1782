"""Make the demo where there is none, and print who can sign in to it."""

import time
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from registry.demo import making
from registry.demo.people import PASSWORD, sign_ins
from registry.saying import listed


class Command(BaseCommand):
    help = "Make the demo: invented animals, people and studies; a second run changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        if lacking := making.missing_columns():
            raise CommandError(
                f"The register here was made by another version: it lacks {listed(lacking[:3])}. "
                f"Nothing was changed. Remove {settings.VAR}, or point STRANDLINE_VAR at an empty "
                "folder, and make the demo again."
            )
        if making.is_made():
            self.stdout.write("The demo is there.")
        elif not making.is_empty():
            raise CommandError(
                "The register holds something already, and the demo would be mixed into it. "
                "Nothing was made. Point STRANDLINE_VAR at an empty folder and run migrate and "
                "make_demo there; if a run of make_demo broke off, empty the folder first."
            )
        else:
            begun = time.monotonic()
            self.stdout.write("Making the demo: two and a half years in about half a minute …")
            self.stdout.flush()
            deeds = making.make(lambda: call_command("load_vocabulary", stdout=StringIO()))
            seconds = time.monotonic() - begun
            self.stdout.write(f"Made by {deeds} steps of the site's own deeds, {seconds:.0f} s.")
        self.stdout.write("Sign in with one of these; everything in it is invented:")
        for standing, name, email in sign_ins():
            self.stdout.write(f"  {standing:<20} {email:<38} {name}")
        self.stdout.write(f"  the password of each: {PASSWORD}")
