"""Deeds of the clock about copies: one was made, found damaged, mended; a round was ended."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from archive.copies.models import Copy, StoreRun
from archive.models import Version
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows, locked, move


@dataclass(frozen=True, slots=True)
class Round:
    """What a round through the copies came to."""

    made: int
    read: int
    bytes: int
    damaged: int
    mended: int
    left: int
    versions: int
    digest: str


@transaction.atomic
def note_copy(version: Version, *, place: str, by: Person) -> Copy:
    """Note that a whole copy of a version lies in a place; noting it twice is harmless.

    Refused when: the version was erased.
    """
    require(by, Verb.VERSION_COPY, version)
    version = locked(version)
    follows(version, "copy")
    copy, is_new = Copy.objects.get_or_create(version=version, place=place)
    if not is_new:
        return copy
    record(Verb.VERSION_COPY, version, by=by, touched=[copy], place=place, seal=version.seal)
    return copy


@transaction.atomic
def find_damaged(copy: Copy, *, found: Sequence[str], by: Person) -> Copy:
    """Record that a copy is not what was written, and what is wrong with it.

    Refused when: that is known already.
    """
    require(by, Verb.COPY_FIND_DAMAGED, copy)
    copy = locked(copy)
    before, after = move(copy, "find_damaged")
    copy.found, copy.checked_at = list(found), timezone.now()
    copy.save(update_fields=["found", "checked_at"])
    record(Verb.COPY_FIND_DAMAGED, copy, by=by, before=before, after=after, found=list(found)[:20])
    return copy


@transaction.atomic
def mend_copy(copy: Copy, *, aside: str = "", by: Person) -> Copy:
    """Record that a copy is whole again, and under which name the damaged bytes were set aside.

    Refused when: it was not found damaged.
    """
    require(by, Verb.COPY_MEND, copy)
    copy = locked(copy)
    before, after = move(copy, "mend")
    copy.checked_at, copy.aside = timezone.now(), aside or copy.aside
    copy.save(update_fields=["checked_at", "aside"])
    record(Verb.COPY_MEND, copy, by=by, before=before, after=after, aside=copy.aside)
    return copy


@transaction.atomic
def record_round(came_to: Round, *, began_at: datetime, by: Person) -> StoreRun:
    """Record what a round through the copies came to."""
    require(by, Verb.STORE_RUN_RECORD, None)
    run = StoreRun.objects.create(began_at=began_at, **asdict(came_to))
    record(Verb.STORE_RUN_RECORD, run, by=by, **asdict(came_to))
    return run
