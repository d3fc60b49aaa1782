"""Deeds on concerns: confidential; an anonymous one is recorded by the clock."""

import hashlib
import secrets
from typing import Any

from django.db import transaction

from registry.animals.models import Animal
from registry.ledger.actions import record
from registry.oversight.models import Concern
from registry.people.models import Person, the_clock
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import locked, move


def digest_of_code(code: str) -> str:
    """Give the digest under which a follow-up code is kept."""
    return hashlib.sha256(code.strip().lower().encode()).hexdigest()


def _new_code() -> str:
    """Give a code that one can write down: four groups of four letters and digits."""
    letters = "abcdefghjkmnpqrstuvwxyz23456789"
    return "-".join("".join(secrets.choice(letters) for _ in range(4)) for _ in range(4))


@transaction.atomic
def raise_concern(
    *,
    text: str,
    animal: Animal | None = None,
    project: Project | None = None,
    named: Person | None = None,
    is_anonymous: bool = False,
    by: Any,
) -> tuple[Concern, str]:
    """Raise a concern, by name or not, and give the code by which it can be followed.

    `by` may be someone who has not signed in. A concern without a name is recorded by the clock, so
    that nothing in the record tells who raised it.
    """
    require(by, Verb.CONCERN_RAISE)
    nameless = is_anonymous or not by.is_authenticated
    code = _new_code()
    concern = Concern.objects.create(
        text=text,
        animal=animal,
        project=project,
        named=named,
        raiser=None if nameless else by,
        follow_up_digest=digest_of_code(code),
    )
    record(
        Verb.CONCERN_RAISE,
        concern,
        by=the_clock() if nameless else by,
        after=concern.state,
        is_confidential=True,
    )
    return concern, code


@transaction.atomic
def take_up_concern(concern: Concern, *, by: Person) -> Concern:
    """Take a concern up; never by the person whom it names."""
    require(by, Verb.CONCERN_TAKE_UP, concern)
    concern = locked(concern)
    before, after = move(concern, "take_up")
    record(Verb.CONCERN_TAKE_UP, concern, by=by, before=before, after=after, is_confidential=True)
    return concern


@transaction.atomic
def resolve_concern(concern: Concern, *, reason: str, by: Person) -> Concern:
    """Resolve a concern, with the outcome that whoever raised it can read."""
    require(by, Verb.CONCERN_RESOLVE, concern)
    concern = locked(concern)
    before, after = move(concern, "resolve")
    concern.outcome = reason
    concern.save(update_fields=["outcome"])
    record(
        Verb.CONCERN_RESOLVE,
        concern,
        by=by,
        before=before,
        after=after,
        reason=reason,
        is_confidential=True,
    )
    return concern


@transaction.atomic
def reopen_concern(concern: Concern, *, reason: str, by: Person) -> Concern:
    """Take a resolved concern up again, with the reason."""
    require(by, Verb.CONCERN_REOPEN, concern)
    concern = locked(concern)
    before, after = move(concern, "reopen")
    record(
        Verb.CONCERN_REOPEN,
        concern,
        by=by,
        before=before,
        after=after,
        reason=reason,
        is_confidential=True,
    )
    return concern
