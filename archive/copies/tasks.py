"""Copies in the worker: the second one of a new version at once, a round through all each day."""

from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.tasks import task
from django.utils import timezone

from archive.copies.models import Copy
from archive.copies.rounds import SECOND, go_round, make_copy
from archive.models import Version
from registry import notes
from registry.queued import is_queued

NOTE = "scrub_store"
DAY = timedelta(days=1)
AFTER_OTHERS = -20


@task
def copy_version(pk: int) -> bool:
    """Make the second copy of a version; where it cannot be made now, the next round makes it."""
    return make_copy(pk, SECOND)


def enqueue_copy(version: Version) -> None:
    """Queue the second copy of a version, once its row is whole; where there is a second store."""
    if settings.SECOND_STORE:
        transaction.on_commit(lambda: copy_version.enqueue(version.pk))


def noted_round(*, budget_s: float, every: timedelta | None = None) -> list[str]:
    """Go a round, leave a dated note of it, and give what was said."""
    said: list[str] = []
    run = go_round(budget_s=budget_s, every=every, tell=said.append)
    if run is not None:
        said.append(
            f"{run.made} copies made, {run.read} read, {run.damaged} found damaged,"
            f" {run.mended} mended."
        )
    left = Copy.objects.damaged().count()
    said.append(f"{left} damaged copies wait to be mended." if left else "No copy is damaged.")
    # Nothing of a store that does not answer was read, which is a fault too.
    faults = left + sum("nothing in it was read" in line for line in said)
    notes.write_note(NOTE, faults=faults, said=said)
    return said


@task(priority=AFTER_OTHERS)
def scrub_copies() -> list[str]:
    """Go today's round, for as long as the site allows."""
    return noted_round(budget_s=settings.SCRUB_MINUTES * 60)


def enqueue_when_due() -> bool:
    """Queue the day's round once a day has passed since the last one; say whether."""
    note = notes.read_note(NOTE)
    if note is not None and timezone.now() - note["at"] < DAY:
        return False
    if is_queued(scrub_copies.module_path, dead_after=DAY) or not Version.objects.exists():
        return False
    scrub_copies.enqueue()
    return True
