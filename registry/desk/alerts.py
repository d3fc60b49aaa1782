"""Told at once, and not in the morning: an animal of a running study is kept off.

Whom it concerns is written down once for each restriction, so nobody is told of one twice; what
befell several animals at once is one letter. Whoever chose never to be written to is not.
"""

import logging
from collections import Counter
from datetime import timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.tasks import task
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Event, Restriction
from registry.desk.keeping_off import barring_studies, kept_off_for
from registry.desk.letters import Letter, chosen_by, letter_to, told
from registry.desk.models import Alert, MailChoice
from registry.desk.needs.animals import kept_off
from registry.desk.posting import OPEN, WAIT, claim, is_early, post, settle
from registry.people.models import Person
from registry.permissions import Role
from registry.queued import is_queued
from registry.tags import count

logger = logging.getLogger(__name__)

AT_ONCE = timedelta(days=1)
"""What was recorded longer ago is told by Today and the morning's mail alone."""
_OUT = Alert.Outcome


def _new() -> list[Restriction]:
    """Give what bars an animal of a study since lately, and of which nobody was told.

    That is what was recorded lately, what begins today, and what stood where one came lately.
    """
    today = timezone.localdate()
    late = Q(recorded_at__gt=timezone.now() - AT_ONCE) | Q(began_on=today)
    late |= Q(enclosure__in=_come_into())
    known = Alert.objects.filter(restriction=OuterRef("pk"))
    return list(barring_studies(Restriction.objects.filter(late, ~Exists(known)), today))


def _come_into() -> set[int | None]:
    """Give the enclosures under a restriction into which an animal of a study came lately."""
    barred = Restriction.objects.filter(state="begun", enclosure__isnull=False).order_by()
    came = Event.objects.standing().filter(
        enclosure__in=list(barred.values_list("enclosure", flat=True)),
        sort__in=[Event.Sort.MOVED, Event.Sort.RETURNED],
        recorded_at__gt=timezone.now() - AT_ONCE,
    )
    used = Q(animal__enrolments__state="enrolled") | Q(group__enrolments__state="enrolled")
    return set(came.filter(used).values_list("enclosure", flat=True))


def open_alerts() -> int:
    """Write down whom each new restriction concerns; give how many letters' parts that makes."""
    new = _new()
    if not new:
        return 0
    people = Person.objects.real().filter(is_active=True).exclude(email="")
    near = people.with_standing(Role.CURATOR, Role.KEEPER) | people.filter(
        memberships__ended_on=None, memberships__isnull=False
    )
    news = Restriction.objects.filter(pk__in=[one.pk for one in new])
    today = timezone.localdate()
    made = [
        Alert(restriction=one, person=person)
        for person in near.distinct().order_by("pk")
        for one in kept_off_for(person, news, today)
    ]
    Alert.objects.bulk_create(made, ignore_conflicts=True)
    return len(made)


def _waiting() -> Any:
    """Give the parts that wait to be told."""
    return Alert.objects.filter(outcome__in=OPEN).exclude(is_early())


def send_all() -> Counter[str]:
    """Write to everyone whom something waits for; say how many parts came to which outcome."""
    waiting = _waiting().order_by().values_list("person", flat=True).distinct()
    found: Counter[str] = Counter()
    for person in Person.objects.filter(pk__in=list(waiting)).order_by("pk"):
        found.update(_send_to(person))
    return found


def _send_to(person: Person) -> list[str]:
    """Write one letter of all that waits for a person, and settle each part."""
    waiting = list(_waiting().filter(person=person).values_list("pk", flat=True))
    claimed = [pk for pk in waiting if claim(Alert.objects.filter(pk=pk))]
    about = ("animal", "group", "enclosure", "begun_by")
    parts = Alert.objects.filter(pk__in=claimed).select_related(
        *(f"restriction__{one}" for one in about)
    )
    rows = list(parts.order_by("pk"))
    is_off = chosen_by(person) == MailChoice.How.NEVER
    live = [one for one in rows if one.restriction.state == "begun" and not is_off]
    outcome, fault = _sent(person, live) if live else (_OUT.NOTHING, "")
    return [settle(one, *((outcome, fault) if one in live else (_OUT.NOTHING, ""))) for one in rows]


def _sent(person: Person, parts: list[Alert]) -> tuple[str, str]:
    """Send the letter; give the outcome and what the server said."""
    try:
        letter = _letter(person, parts)
    except Exception as fault:
        # Whatever is wrong with one person's letter, the others are written to all the same.
        logger.exception("A letter to person %s could not be written", person.pk)
        return _OUT.REFUSED, f"{type(fault).__name__}: {fault}"
    return post(letter)


def _letter(person: Person, parts: list[Alert]) -> Letter:
    """Write it: in the subject a number alone, never what it is about."""
    things = count(len(parts), _("new restriction bars,new restrictions bar"))
    subject = _("%(things)s animals of a running study") % {"things": things}
    today = timezone.localdate()
    said = [told(kept_off(one.restriction), today) for one in parts]
    return letter_to(person, subject, [f"{subject}.", *said])


@task
def send_alerts() -> str:
    """Write to everyone concerned, in the worker."""
    return ", ".join(f"{number} {outcome}" for outcome, number in sorted(send_all().items()))


def enqueue_when_due() -> bool:
    """Queue the letters as soon as there is something to tell; say whether."""
    open_alerts()
    if not _waiting().exists() or is_queued(send_alerts.module_path, dead_after=WAIT):
        return False
    send_alerts.enqueue()
    return True
