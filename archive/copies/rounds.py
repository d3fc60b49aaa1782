"""A round through the copies: make what is missing, read what is due, mend what is damaged.

Nothing is ever taken for right because it lies there: a damaged copy is set aside as it is, and
only one that agrees with the database's digests takes its place.
"""

import hashlib
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.copies import actions
from archive.copies.examining import faults_in, faults_of, why_absent
from archive.copies.models import Copy, StoreRun
from archive.models import Version
from archive.places import one_at_a_time, second_store, store
from archive.storage.contract import VersionStore
from registry.errors import Conflict, Refusal, StoreFailed, Unseen
from registry.people.models import the_clock

FIRST, SECOND = Copy.Place.FIRST.value, Copy.Place.SECOND.value

type Teller = Callable[[str], object]


@dataclass
class Tally:
    """What a round has done so far."""

    made: int = 0
    read: int = 0
    bytes: int = 0
    damaged: int = 0
    mended: int = 0
    absent: dict[str, str] = field(default_factory=dict)


def stores() -> dict[str, VersionStore]:
    """Give the stores that there are, by their place."""
    second = second_store()
    return {FIRST: store()} | ({SECOND: second} if second is not None else {})


def go_round(
    *, budget_s: float, every: timedelta | None = None, tell: Teller = lambda _: None
) -> StoreRun | None:
    """Make the copies that are missing, and read those that are due, until the time is used.

    Parameters
    ----------
    budget_s : float
        No further copy is begun after so many seconds.
    every : timedelta, optional
        A copy is due when it was not read for so long; by default as the site sets it.
    tell : callable
        Told in a line what was found.

    Returns
    -------
    StoreRun or None
        What is recorded of the round; None where nothing was due.
    """
    began_at, until = timezone.now(), time.monotonic() + budget_s
    tally, held = Tally(), stores()
    for place in list(held):
        if Version.objects.exists() and (why := _not_there(held, place)):
            tally.absent[place] = why
            tell(f"{Copy.Place(place).label}: nothing in it was read or altered. {why}")
            del held[place]
    _copy_missing(held, tally, tell, until)
    due = began_at - (timedelta(days=settings.SCRUB_DAYS) if every is None else every)
    for copy in _in_turn(due, list(held), until):
        _read(copy, held, tally, tell)
    if not tally.made and not tally.read:
        return None
    return actions.record_round(_came_to(tally), began_at=began_at, by=the_clock())


def _not_there(held: dict[str, VersionStore], place: str) -> str:
    # The second store is laid with the first copy.
    if place == SECOND and not Copy.objects.kept().filter(place=SECOND).exists():
        return held[place].fault()
    return why_absent(held[place])


def _came_to(tally: Tally) -> actions.Round:
    seals = list(_kept().order_by("identifier").values_list("identifier", "seal"))
    listed = "".join(f"{seal}  {identifier}\n" for identifier, seal in seals)
    return actions.Round(
        made=tally.made,
        read=tally.read,
        bytes=tally.bytes,
        damaged=tally.damaged,
        mended=tally.mended,
        left=Copy.objects.damaged().count(),
        versions=len(seals),
        digest=hashlib.sha256(listed.encode()).hexdigest(),
    )


def _kept() -> QuerySet[Version]:
    return Version.objects.filter(is_published=True).exclude(state="erased")


# ------------------------------------------------------------------------------- making


def without_copy(place: str) -> list[int]:
    """Give the versions of which no copy in that place is noted."""
    missing = _kept().exclude(copies__place=place).order_by("pk")
    return list(missing.values_list("pk", flat=True))


def _copy_missing(held: dict[str, VersionStore], tally: Tally, tell: Teller, until: float) -> None:
    for place in held:
        for pk in without_copy(place):
            if time.monotonic() > until:
                return
            try:
                tally.made += make_copy(pk, place)
            except Refusal as refusal:
                tell(f"version {pk}, {Copy.Place(place).label}: {refusal.why}")


def make_copy(pk: int, place: str) -> bool:
    """Make the copy of a version that is missing in a place, and say whether it is there now.

    The first copy is there already and is only noted. Doing it twice is harmless.

    Raises
    ------
    StoreFailed
        When the first copy is damaged, or the place will not take it.
    """
    version = Version.objects.get(pk=pk)
    held = stores()
    with one_at_a_time(f"dataset-{version.dataset_id}"):
        version.refresh_from_db()
        if version.state == "erased" or place not in held:
            return False
        if place == SECOND and not held[SECOND].holds(version.identifier):
            with held[FIRST].laid(version.identifier) as folder:
                if found := faults_in(folder, version):
                    raise StoreFailed(
                        "The version was not copied.",
                        _("Its first copy is damaged: %(found)s.") % {"found": found[0]},
                        "It is set aside when it is read in its turn; restore it first.",
                    )
                held[SECOND].adopt(version.identifier, folder)
        actions.note_copy(version, place=place, by=the_clock())
    return True


# ------------------------------------------------------------------------------- reading


def _in_turn(due: datetime, places: list[str], until: float) -> Iterator[Copy]:
    """Give the copies that are due, each once, until the time is used."""
    waiting = Copy.objects.due_before(due).filter(place__in=places)
    for pk in list(waiting.values_list("pk", flat=True)):
        if time.monotonic() > until:
            return
        copy = Copy.objects.kept().select_related("version").filter(pk=pk).first()
        if copy is not None:
            yield copy


def _read(copy: Copy, held: dict[str, VersionStore], tally: Tally, tell: Teller) -> None:
    """Read one copy; where it is damaged set it aside, and mend it from the other."""
    version, there = copy.version, held[copy.place]
    with one_at_a_time(f"dataset-{version.dataset_id}"):
        version.refresh_from_db()
        if version.state == "erased":
            return
        found = faults_of(there, version)
        tally.read += 1
        tally.bytes += version.bytes
        if found and (why := why_absent(there)):
            tell(f"{there.where}: {why}. It was lost while it was read.")
            return
        if not found and copy.state == "whole":
            Copy.objects.filter(pk=copy.pk).update(checked_at=timezone.now())
            return
        if found and copy.state == "whole":
            with suppress(Conflict):
                copy = actions.find_damaged(copy, found=found, by=the_clock())
            tally.damaged += 1
            tell(f"{copy}: {found[0]}")
        try:
            aside = mend(copy, held) if found else ""
        except StoreFailed as refused:
            tell(f"{copy}: it waits to be mended. {refused.why}")
            return
        if aside is None:
            tell(f"{copy}: there is no whole copy to mend it from.")
            return
        actions.mend_copy(copy, aside=aside, by=the_clock())
        tally.mended += 1
        tell(f"{copy}: mended.")


def mend(copy: Copy, held: dict[str, VersionStore]) -> str | None:
    """Set a damaged copy aside and put a whole one in its place.

    Returns
    -------
    str or None
        Under which name the damaged bytes lie aside, empty where there were none; None where no
        whole copy was found. What is damaged is served to nobody, whether or not it was mended.

    Raises
    ------
    StoreFailed
        When its place does not take it now: the next round tries again.
    """
    version, there = copy.version, held[copy.place]
    aside = ""
    with suppress(Unseen):
        aside = there.set_aside(version.identifier)
    for place, other in held.items():
        if place == copy.place or not other.holds(version.identifier):
            continue
        with ExitStack() as lent:
            try:
                folder = lent.enter_context(other.laid(version.identifier))
            except Refusal:
                continue
            if not faults_in(folder, version):
                there.adopt(version.identifier, folder)
                return aside if not faults_of(there, version) else None
    return None
