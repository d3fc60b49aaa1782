"""What restrictions and loans need, and young that nobody can tell apart."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db.models import F, Q
from django.utils.translation import gettext as _

from registry.animals.models import Loan, Restriction
from registry.animals.unmarked import due_on, young_unmarked
from registry.desk.keeping_off import kept_off_for
from registry.desk.needs.need import Need, first, step_url
from registry.permissions import Role, Verb, allowed
from registry.tags import day

_NEW_DAYS = 14
"""So long a restriction is told to those whose study it bars: a house rule, no source."""
SOON_D = 14
"""How early young without a mark are told of, in days: a house rule, no source."""


def to_end(person: Any, today: date) -> Iterator[Need]:
    """Restrictions that were expected to be over; for a vet also those that wait for the vet."""
    wanted = Q(expected_end_on__lte=today)
    if Role.VET in person.roles:
        wanted |= Q(strength=Restriction.Strength.VETS_WORD)
    begun = allowed(Restriction.objects.filter(state="begun"), person, Verb.RESTRICTION_END)
    rows = begun.filter(wanted).select_related("animal", "group", "enclosure", "begun_by")
    for one in first(rows, F("expected_end_on").asc(nulls_last=True), "began_on"):
        is_vets = one.strength == Restriction.Strength.VETS_WORD
        yield Need(
            what=(
                _("Keep off %(subject)s: only a veterinary surgeon ends it")
                if is_vets
                else _("Keep off %(subject)s: expected to be over")
            )
            % {"subject": one.subject},
            why=(
                _("%(sort)s, begun by %(name)s on %(day)s. %(note)s It bars until it is ended.")
                % {
                    "sort": one.get_sort_display().capitalize(),
                    "name": one.begun_by.name,
                    "day": day(one.began_on),
                    "note": one.note,
                }
            ).replace("  ", " "),
            step=_("End it or let it stand"),
            url=step_url(one, "end"),
            due=one.expected_end_on,
            since=one.began_on,
        )


def to_tell_apart(person: Any, today: date) -> Iterator[Need]:
    """Young that nobody can tell apart yet, when the day by which they are to be is near."""
    if not {Role.KEEPER, Role.CURATOR} & person.roles:
        return
    soon = today + timedelta(days=SOON_D - settings.MARK_WITHIN_D)
    young = allowed(young_unmarked(), person, Verb.ANIMAL_MARK).filter(known_from__lte=soon)
    for one in first(young.select_related("taxon"), "known_from"):
        yield Need(
            what=_("%(animal)s has no mark and no chip yet") % {"animal": one},
            why=_("A young %(taxon)s, here or born on %(day)s: nobody can tell it apart.")
            % {"taxon": one.taxon.common_name, "day": day(one.known_from)},
            step=_("Record a mark"),
            url=step_url(one, "mark"),
            due=due_on(one.known_from),
            since=one.known_from,
        )


def loans_to_end(person: Any, today: date) -> Iterator[Need]:
    """Loans that were to be over by now, or will be soon."""
    soon = today + timedelta(days=SOON_D)
    lent = allowed(Loan.objects.filter(state="lent"), person, Verb.LOAN_END)
    due = lent.filter(expected_end_on__lte=soon)
    for one in first(due.select_related("animal", "group", "institution"), "expected_end_on"):
        yield Need(
            what=_("The loan of %(subject)s comes to its end") % {"subject": one.subject},
            why=_("%(way)s since %(day)s; the other side is %(institution)s.")
            % {
                "way": one.get_direction_display().capitalize(),
                "day": day(one.began_on),
                "institution": one.institution,
            },
            step=_("End it, or agree anew"),
            url=one.get_absolute_url(),
            due=one.expected_end_on,
            since=one.began_on,
            about=one,
        )


def begun_by_oneself(person: Any, today: date) -> Iterator[Need]:
    """Restrictions that a keeper began and that still stand."""
    if Role.KEEPER not in person.roles or {Role.CURATOR, Role.VET} & person.roles:
        return
    begun = Restriction.objects.filter(state="begun", begun_by=person)
    rows = begun.select_related("animal", "group", "enclosure")
    for one in first(rows, F("expected_end_on").asc(nulls_last=True), "began_on"):
        yield Need(
            what=_("Keep off %(subject)s: you began this, and it stands")
            % {"subject": one.subject},
            why=f"{one.get_sort_display().capitalize()}. {one.note}".strip(),
            step=_("Look at it"),
            url=one.get_absolute_url(),
            due=one.expected_end_on,
            since=one.began_on,
        )


def kept_off_in_a_study(person: Any, today: date) -> Iterator[Need]:
    """Restrictions that newly bar an animal in use, for everyone concerned."""
    news = Restriction.objects.filter(began_on__gt=today - timedelta(days=_NEW_DAYS))
    new = kept_off_for(person, news, today)
    rows = new.select_related("animal", "group", "enclosure", "begun_by")
    for one in first(rows, "-began_on"):
        yield kept_off(one)


def kept_off(one: Restriction) -> Need:
    """Say that a restriction bars an animal of a study."""
    return Need(
        what=_("Keep off %(subject)s, which a running study uses: %(sort)s")
        % {"subject": one.subject, "sort": one.get_sort_display()},
        why=_("%(strength)s. Begun by %(name)s on %(day)s. %(note)s")
        % {
            "strength": one.get_strength_display().capitalize(),
            "name": one.begun_by.name,
            "day": day(one.began_on),
            "note": one.note,
        },
        step=_("Look at it"),
        url=one.get_absolute_url(),
        since=one.began_on,
    )
