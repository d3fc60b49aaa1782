"""What changed since a person last looked, in words, from the ledger."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Q
from django.utils import timezone

from registry.desk.models import LastLook
from registry.ledger.lines import CAPTIONS
from registry.ledger.models import Entry, name_said
from registry.permissions import Verb, allowed
from registry.search.index import visible_to
from registry.search.models import SearchDocument
from registry.web import number_of

MOST = 12
NEW_LOOK = timedelta(hours=1)
"""Looks that lie closer together are one look."""
FIRST_LOOK = timedelta(days=7)


@dataclass(frozen=True)
class Change:
    """One deed as Today tells it."""

    on: datetime
    text: str
    url: str
    by: str


def look(person: Any) -> datetime:
    """Note that a person looks now, and give the moment of the look before; no deed."""
    now = timezone.now()
    last, is_first = LastLook.objects.get_or_create(person=person, defaults={"looked_at": now})
    if not is_first and now - last.looked_at >= NEW_LOOK:
        # Two pages opened at once: the second finds the row moved on, and leaves it.
        LastLook.objects.filter(pk=last.pk, looked_at=last.looked_at).update(
            previous_at=F("looked_at"), looked_at=now
        )
        return last.looked_at
    return last.previous_at or now - FIRST_LOOK


def changes_since(moment: datetime, person: Any) -> list[Change]:
    """Give the newest deeds of others since a moment that a person may see; three queries."""
    # By number, in whose order the ledger is read: by time, it would be read to its beginning.
    first = Entry.objects.filter(at__gt=moment).order_by("at").values_list("number", flat=True)[:1]
    entries = list(
        allowed(Entry.objects.filter(is_confidential=False), person, Verb.ENTRY_SEE)
        .filter(number__gte=next(iter(first), 0), at__gt=moment, verb__in=list(CAPTIONS))
        .exclude(actor=person)
        .select_related("actor")
        .order_by("-number")[:MOST]
    )
    named = _documents([entry.subject for entry in entries], person)
    return [_change(entry, named.get(entry.subject)) for entry in entries]


def _documents(subjects: list[str], person: Any) -> dict[str, SearchDocument]:
    wanted = Q(pk__in=[])
    for subject in subjects:
        kind, _, pk = subject.rpartition(":")
        if (number := number_of(pk)) is not None:
            wanted |= Q(kind=kind, object_id=number)
    found = SearchDocument.objects.filter(wanted, part="").filter(visible_to(person))
    return {f"{one.kind}:{one.object_id}": one for one in found}


def _change(entry: Entry, document: SearchDocument | None) -> Change:
    said = document.title if document else name_said(entry.subject)
    return Change(
        on=entry.at,
        text=f"{CAPTIONS[entry.verb]}: {said}",
        url=document.url if document else entry.get_absolute_url(),
        by=entry.actor.name,
    )
