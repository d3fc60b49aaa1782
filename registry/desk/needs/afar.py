"""What animals that are away or have just gone need."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext as _

from registry.afar.models import Custody
from registry.animals.models import Animal, Event, Group
from registry.desk.needs.need import Need, first, step_url
from registry.permissions import Verb, allowed
from registry.tags import day

SOON_D = 7
"""How early a return is told, in days: a house rule, no source."""
LATELY_D = 90
"""How long a departure without a dossier is told of, in days: a house rule, no source."""


def to_come_back(person: Any, today: date) -> Iterator[Need]:
    """Custodies that end soon or are past their end, for those who may end them or answer."""
    ends = allowed(Custody.objects.filter(state="given"), person, Verb.CUSTODY_END)
    due = Custody.objects.filter(state="given", expected_end_on__lte=today + timedelta(days=SOON_D))
    mine = due.filter(Q(pk__in=ends.order_by().values("pk")) | Q(answerable=person))
    for one in first(mine.select_related("animal", "group", "case", "holder"), "expected_end_on"):
        yield Need(
            what=_("%(subject)s is to come back from %(holder)s")
            % {"subject": one.subject, "holder": one.holder},
            why=_("In its custody since %(day)s.") % {"day": day(one.began_on)},
            step=_("Look at it"),
            url=one.get_absolute_url(),
            due=one.expected_end_on,
            since=one.began_on,
            about=one,
        )


def animals_to_write_down(person: Any, today: date) -> Iterator[Need]:
    """Animals that departed lately without a dossier."""
    return _to_write_down(Animal, Verb.ANIMAL_WRITE_DOSSIER, person, today)


def groups_to_write_down(person: Any, today: date) -> Iterator[Need]:
    """Groups that departed lately without a dossier."""
    return _to_write_down(Group, Verb.GROUP_WRITE_DOSSIER, person, today)


def _to_write_down(model: Any, verb: Verb, person: Any, today: date) -> Iterator[Need]:
    departed = Event.objects.standing().filter(
        sort=Event.Sort.DEPARTED, **{str(model.kind): OuterRef("pk")}
    )
    lately = model.objects.filter(
        Exists(departed),
        state="left",
        left_on__gte=today - timedelta(days=LATELY_D),
        dossiers=None,
    )
    soonest = first(allowed(lately, person, verb), "left_on")
    # Those that left on one day left together: one line stands for them, and one step begins.
    for left_on, rows in groupby(soonest, key=lambda one: one.left_on):
        one, *others = rows
        yield Need(
            what=(
                _("%(subject)s and others departed without a dossier")
                if others
                else _("%(subject)s departed without a dossier")
            )
            % {"subject": one},
            why=_("Whoever received it needs to know what it went through."),
            step=_("Write its dossier"),
            url=step_url(one, "write_dossier"),
            since=left_on,
        )
