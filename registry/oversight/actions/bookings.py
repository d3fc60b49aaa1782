"""Deeds on bookings: asked by the project, offered and confirmed by the curator, released."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Enclosure, Group
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.bars import Wanted, barred_from_offer, barred_places, wanted_of
from registry.oversight.limits import day_said
from registry.oversight.locks import still, still_subjects
from registry.oversight.models import BookedSubject, Booking
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import follows, locked, move, reasoned


def _sound_days(what: str, project: Project, starts_on: date, ends_on: date) -> None:
    if ends_on < starts_on:
        raise Unsound(
            what,
            "It would end before it starts.",
            "Give a later last day.",
            fields={"ends_on": "Before the first day."},
        )
    if ends_on < timezone.localdate():
        raise Unsound(
            what,
            "Its last day has passed.",
            "Give days from today on.",
            fields={"ends_on": "This day has passed."},
        )
    if starts_on < project.starts_on or ends_on > project.ends_on:
        raise Unsound(
            what,
            _("The project runs from %(starts_on)s to %(ends_on)s.")
            % {"starts_on": day_said(project.starts_on), "ends_on": day_said(project.ends_on)},
            "Give days within the project.",
            fields={"starts_on": "Outside the project's dates."},
        )


@transaction.atomic
def request_booking(
    project: Project, *, wish: str, starts_on: date, ends_on: date, by: Person
) -> Booking:
    """Ask the curator for animals, places and dates, in words.

    Refused when: the project is past booking; it ends before it starts, has passed, or lies outside
    the project's dates; nothing is wished for.
    """
    require(by, Verb.PROJECT_REQUEST_BOOKING, project)
    project = locked(project)
    follows(project, "request_booking")
    what = "The booking was not requested."
    _sound_days(what, project, starts_on, ends_on)
    if not wish.strip():
        raise Unsound(
            what,
            "It does not say which animals are wished for.",
            "Say which, how many, and why these.",
            fields={"wish": "Say which animals."},
        )
    booking = Booking.objects.create(
        project=project, asked_by=by, wish=wish.strip(), starts_on=starts_on, ends_on=ends_on
    )
    record(Verb.PROJECT_REQUEST_BOOKING, booking, by=by, after=booking.state)
    return booking


def _refuse_bars(what: str, wanted: Wanted) -> None:
    """Refuse where anything of what is wanted is barred, and say all of it at once."""
    said = [words for bars in barred_from_offer(wanted).values() for words in bars]
    said += barred_places(wanted)
    if said:
        raise Conflict(
            what,
            " ".join(dict.fromkeys(said)),
            "Leave these out, give other days, or wait until the bar ends.",
            fields={"animals": " ".join(dict.fromkeys(said))},
        )


@transaction.atomic
def offer_booking(
    booking: Booking,
    *,
    animals: Iterable[Animal] = (),
    groups: Iterable[tuple[Group, int]] = (),
    places: Iterable[Enclosure],
    starts_on: date,
    ends_on: date,
    max_contacts_each: int | None = None,
    note: str = "",
    by: Person,
) -> Booking:
    """Offer animals, groups by number, places and dates to a project.

    Refused when: nothing or no place is offered; it ends before it starts, has passed, or lies
    outside the project's dates; an animal left or is not here yet; a restriction bars it, or a
    place, within the dates; more is offered of a group than it holds; another project holds an
    animal or a group in these days and either does more than watch.
    """
    require(by, Verb.BOOKING_OFFER, booking)
    project = still(booking.project)
    booking = locked(booking)
    chosen, numbers, kept = list(animals), dict(groups), list(places)
    here = still_subjects([*chosen, *numbers])
    what = "The booking was not offered."
    follows(booking, "offer")
    _sound_days(what, project, starts_on, ends_on)
    if not here or not kept:
        lacking = "animal or group" if not here else "place"
        raise Unsound(
            what,
            _("No %(lacking)s is in it.") % {"lacking": lacking},
            _("Choose at least one %(lacking)s.") % {"lacking": lacking},
            fields={"places" if here else "animals": "Choose at least one."},
        )
    rows: list[Any] = list(here.values())
    animals_here = [one for one in rows if isinstance(one, Animal)]
    groups_here = [(one, numbers[one]) for one in rows if isinstance(one, Group)]
    _refuse_bars(
        what, Wanted(project, animals_here, groups_here, kept, starts_on, ends_on, booking.pk)
    )
    before, after = move(booking, "offer")
    booking.starts_on, booking.ends_on = starts_on, ends_on
    booking.max_contacts_each, booking.note = max_contacts_each, note.strip()
    booking.save(update_fields=["starts_on", "ends_on", "max_contacts_each", "note"])
    booking.places.set(kept)
    subjects = [
        BookedSubject.objects.create(booking=booking, animal=one) for one in animals_here
    ] + [
        BookedSubject.objects.create(booking=booking, group=one, number=number)
        for one, number in groups_here
    ]
    record(
        Verb.BOOKING_OFFER,
        booking,
        by=by,
        before=before,
        after=after,
        touched=subjects,
        animals=[one.pk for one in animals_here],
        groups=[[one.pk, number] for one, number in groups_here],
        places=[one.pk for one in kept],
    )
    return booking


@transaction.atomic
def confirm_booking(booking: Booking, *, by: Person) -> Booking:
    """Confirm an offer, after looking again at all that could bar it.

    Refused when: since the offer an animal left, a restriction began, or another project came to
    hold an animal in these days; its last day has passed.
    """
    require(by, Verb.BOOKING_CONFIRM, booking)
    project = still(booking.project)
    booking = locked(booking)
    booking.project = project
    still_subjects(_rows(booking.subjects.select_related("animal", "group")))
    what = "The booking was not confirmed."
    follows(booking, "confirm")
    _sound_days(what, project, booking.starts_on, booking.ends_on)
    _refuse_bars(what, wanted_of(booking))
    before, after = move(booking, "confirm")
    record(Verb.BOOKING_CONFIRM, booking, by=by, before=before, after=after)
    return booking


def _rows(subjects: Iterable[BookedSubject]) -> Sequence[Animal | Group | None]:
    return [one.animal or one.group for one in subjects]


@transaction.atomic
def refuse_booking(booking: Booking, *, reason: str, by: Person) -> Booking:
    """Refuse a booking, asked for or offered, with the reason.

    Refused when: there is no reason.
    """
    require(by, Verb.BOOKING_REFUSE, booking)
    booking = locked(booking)
    reason = reasoned(booking, "refuse", reason)
    before, after = move(booking, "refuse")
    record(Verb.BOOKING_REFUSE, booking, by=by, before=before, after=after, reason=reason)
    return booking


@transaction.atomic
def release_booking(booking: Booking, *, by: Person) -> Booking:
    """Release a booking: its animals and places are free from now on.

    Refused when: an animal is still enrolled under it.
    """
    require(by, Verb.BOOKING_RELEASE, booking)
    still(booking.project)
    booking = locked(booking)
    follows(booking, "release")
    left = list(booking.enrolments.filter(state="enrolled").values_list("code", flat=True))
    if left:
        raise Conflict(
            "The booking was not released.",
            _("%(left)s %(said)s still enrolled under it.")
            % {"left": ", ".join(left), "said": "is" if len(left) == 1 else "are"},
            "Discharge or withdraw each of them first, with its actual severity.",
        )
    before, after = move(booking, "release")
    booking.released_on = timezone.localdate()
    booking.save(update_fields=["released_on"])
    record(Verb.BOOKING_RELEASE, booking, by=by, before=before, after=after)
    return booking
