"""Deeds about signing in: the second factor, sessions, and who may no longer sign in."""

from typing import Any

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.people.sign_in import factor
from registry.people.sign_in.duty import owes
from registry.permissions import Verb, require
from registry.transitions import locked


def _has_one(person: Person, what: str) -> None:
    if person.second_factor_on is None:
        raise Conflict(what, "There is no second factor.", "Set one up first.")


def _end_sessions(person: Person) -> None:
    person.session_round += 1


@transaction.atomic
def turn_on_second_factor(
    person: Person, *, secret: str, code: str, by: Person
) -> tuple[Person, list[str]]:
    """Ask a second factor of oneself from now on, and give the recovery codes, shown this once.

    Every other session ends.

    Refused when: there is one already; the app's code does not fit the secret.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    what = "No second factor was set up."
    if person.second_factor_on is not None:
        raise Conflict(what, "You have one already.", "Turn that one off first.")
    step = factor.step_of(secret, code)
    if step is None:
        raise Unsound(
            what,
            "The code is not the one that the app should show now.",
            "Look whether the phone’s clock is right, and type the newest code.",
            fields={"passcode": "Not the code for now."},
        )
    factor.take_away(person)
    codes = factor.lay_down(person, secret, step)
    person.second_factor_on = timezone.localdate()
    _end_sessions(person)
    person.save(update_fields=["second_factor_on", "session_round"])
    record(Verb.PERSON_DESCRIBE, person, by=by, second_factor="set up")
    return person, codes


@transaction.atomic
def turn_off_second_factor(person: Person, *, by: Person) -> Person:
    """Ask no second factor of oneself any more; every other session ends.

    Refused when: there is none; one's standing asks for it.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    what = "The second factor was not turned off."
    _has_one(person, what)
    if owes(person):
        raise Unsound(
            what,
            "Your standing asks for one.",
            "If the phone is lost, ask an administrator to reset it.",
        )
    _take_away(person)
    record(Verb.PERSON_DESCRIBE, person, by=by, second_factor="turned off")
    return person


def _take_away(person: Person) -> None:
    factor.take_away(person)
    person.second_factor_on = None
    _end_sessions(person)
    person.save(update_fields=["second_factor_on", "session_round"])


@transaction.atomic
def renew_recovery_codes(person: Person, *, by: Person) -> list[str]:
    """Make new recovery codes; the old ones hold no more.

    Refused when: there is no second factor.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    _has_one(person, "No codes were made.")
    codes = factor.renew_codes(person)
    record(Verb.PERSON_DESCRIBE, person, by=by, second_factor="new recovery codes")
    return codes


@transaction.atomic
def add_passkey(person: Person, *, name: str, credential: dict[str, Any], by: Person) -> Person:
    """Add a passkey, which answers the second step in place of a code.

    Refused when: there is no second factor; one of that name is there.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    what = "No passkey was added."
    _has_one(person, what)
    if any(one.data["name"] == name for one in factor.passkeys_of(person)):
        raise Unsound(
            what,
            _("You have one named “%(name)s”.") % {"name": name},
            "Give another name.",
            fields={"name": "You have one of that name."},
        )
    factor.lay_passkey(person, name, credential)
    record(Verb.PERSON_DESCRIBE, person, by=by, passkey="added")
    return person


@transaction.atomic
def remove_passkey(person: Person, *, passkey: Authenticator, by: Person) -> Person:
    """Remove one of one's own passkeys.

    Refused when: it is someone else's.
    """
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    if passkey.user_id != person.pk:
        raise NotPermitted(
            "No passkey was removed.", "It is not yours.", "Look at the list of your own."
        )
    passkey.delete()
    record(Verb.PERSON_DESCRIBE, person, by=by, passkey="removed")
    return person


@transaction.atomic
def end_sessions(person: Person, *, by: Person) -> Person:
    """End every session of one's own; the page that asks keeps its own."""
    require(by, Verb.PERSON_DESCRIBE, person)
    person = locked(person)
    _end_sessions(person)
    person.save(update_fields=["session_round"])
    record(Verb.PERSON_DESCRIBE, person, by=by, sessions="ended")
    return person


@transaction.atomic
def reset_second_factor(person: Person, *, reason: str, by: Person) -> Person:
    """Take the second factor from someone who lost it; they sign in by password until a new one.

    Refused when: it is one's own; there is none.
    """
    require(by, Verb.PERSON_RESET_SECOND_FACTOR, person)
    person = locked(person)
    _has_one(person, "Nothing was reset.")
    _take_away(person)
    record(Verb.PERSON_RESET_SECOND_FACTOR, person, by=by, reason=reason)
    return person


@transaction.atomic
def stop_person(person: Person, *, reason: str, by: Person) -> Person:
    """Let a person sign in no more: their sessions end now, and their tokens are refused.

    Refused when: it is oneself; they are stopped already; one was stopped oneself meanwhile.
    """
    require(by, Verb.PERSON_STOP, person)
    # Both rows, so that two administrators cannot stop each other at once.
    rows = Person.objects.select_for_update().filter(pk__in=(person.pk, by.pk)).order_by("pk")
    people = {one.pk: one for one in rows}
    person = people[person.pk]
    if not person.is_active or not people[by.pk].is_active:
        raise Conflict(
            "Nobody was stopped.",
            "One of you two was stopped meanwhile.",
            "Look at the page again.",
        )
    person.is_active = False
    _end_sessions(person)
    person.save(update_fields=["is_active", "session_round"])
    record(Verb.PERSON_STOP, person, by=by, reason=reason)
    return person


@transaction.atomic
def admit_person(person: Person, *, reason: str, by: Person) -> Person:
    """Let a person who was stopped sign in again; tokens that have not expired hold again.

    Refused when: it is oneself; they may sign in already.
    """
    require(by, Verb.PERSON_ADMIT, person)
    person = locked(person)
    if person.is_active:
        raise Conflict(
            "Nobody was admitted.",
            _("%(person)s may sign in.") % {"person": person},
            "Look at the page again.",
        )
    person.is_active = True
    person.save(update_fields=["is_active"])
    record(Verb.PERSON_ADMIT, person, by=by, reason=reason)
    return person
