"""The morning's mails of a day: each person is claimed, written to once, and the outcome kept."""

import logging
import math
import time
from collections import Counter
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db.models import Q
from django.tasks import task
from django.utils import timezone

from registry.desk.letters import chosen_by, digest_of
from registry.desk.models import MailChoice, Morning
from registry.desk.posting import OPEN, WAIT, claim, is_early, post, settle
from registry.people.models import Person
from registry.queued import is_queued

logger = logging.getLogger(__name__)

FARTHEST_BACK = timedelta(days=7)
AFTER_OTHERS = -10
"""Letters wait for whatever else is queued: a student watches the check of a deposit."""
AT_ONCE_S = 5.0
"""After so long the worker sees to what was queued meanwhile, and then to the other letters."""
_OUT = Morning.Outcome


def waiting_on(day: date) -> list[Person]:
    """Give the active people who want letters and whose mail of this day was not seen to."""
    done = Morning.objects.filter(day=day).exclude(outcome__in=OPEN)
    early = Morning.objects.filter(is_early(), day=day)
    silent = MailChoice.objects.filter(how=MailChoice.How.NEVER)
    found = Person.objects.real().filter(is_active=True).exclude(email="")
    return list(
        found.exclude(Q(pk__in=done.values("person")) | Q(pk__in=early.values("person")))
        .exclude(pk__in=silent.values("person"))
        .order_by("pk")
    )


def send_all(day: date, *, for_s: float = math.inf) -> Counter[str]:
    """Write to everyone who waits on this day; say how many came to which outcome.

    No further letter is begun after `for_s` seconds; at least one is.
    """
    found: Counter[str] = Counter()
    end = time.monotonic() + for_s
    for person in waiting_on(day):
        if outcome := send_to(person, day):
            found[outcome] += 1
        if time.monotonic() > end:
            break
    return found


def send_to(person: Person, day: date) -> str:
    """See to one person's mail of a day; nothing where someone else has claimed it."""
    row, _ = Morning.objects.get_or_create(person=person, day=day)
    if not claim(Morning.objects.filter(pk=row.pk)):
        return ""
    row.refresh_from_db()
    return settle(row, *_sent(person, row))


def _sent(person: Person, row: Morning) -> tuple[str, str]:
    """Send the letter, where there is one; give the outcome and what the server said."""
    try:
        digest = digest_of(person, row.day, _since(person, row.day))
        letter = digest.message if digest.is_wanted(chosen_by(person)) else None
    except Exception as fault:
        # Whatever is wrong with one person's letter, the others are written to all the same.
        logger.exception("The morning's mail %s could not be written", row.pk)
        return _OUT.REFUSED, f"{type(fault).__name__}: {fault}"
    return post(letter) if letter else (_OUT.NOTHING, "")


def _since(person: Person, day: date) -> datetime:
    """Give from when on changes are told: the last letter, a day ago at least, a week at most."""
    last = (
        Morning.objects.filter(person=person, day__lt=day, outcome__in=[_OUT.SENT, _OUT.NOTHING])
        .order_by("-day")
        .values_list("told_at", flat=True)
        .first()
    )
    now = timezone.now()
    return max(last or now - timedelta(days=1), now - FARTHEST_BACK)


# ------------------------------------------------------------------------------- the clock


@task(priority=AFTER_OTHERS)
def send_mornings(day: str) -> str:
    """Write to some who wait on a day, in the worker; the others are queued behind all else."""
    found = send_all(date.fromisoformat(day), for_s=AT_ONCE_S)
    if waiting_on(date.fromisoformat(day)):
        send_mornings.enqueue(day)
    return ", ".join(f"{number} {outcome}" for outcome, number in sorted(found.items()))


def enqueue_when_due() -> bool:
    """Queue the morning's mails once their hour has come and someone waits; say whether."""
    now = timezone.localtime()
    if now.hour < settings.DIGEST_HOUR or not waiting_on(now.date()):
        return False
    if is_queued(send_mornings.module_path, dead_after=WAIT):
        return False
    send_mornings.enqueue(now.date().isoformat())
    return True
