"""Deeds on concerns: confidential; an anonymous one is recorded by the clock."""

import hashlib
import secrets
from typing import Any

from django.db import transaction

from registry.animals.models import Animal
from registry.errors import Unseen, Unsound
from registry.ledger.actions import record
from registry.oversight.models import Concern, ConcernNote
from registry.people.models import Person, the_clock
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import follows, locked, move


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
def ask_raiser(concern: Concern, *, text: str, by: Person) -> Concern:
    """Put a question to whoever raised a concern; one without a name answers by the code.

    Refused when: nothing is asked.
    """
    require(by, Verb.CONCERN_ASK, concern)
    concern = locked(concern)
    follows(concern, "ask")
    note = _noted(concern, ConcernNote.Sort.QUESTION, text, by)
    record(Verb.CONCERN_ASK, concern, by=by, touched=[note], is_confidential=True)
    return concern


@transaction.atomic
def reply_concern(concern: Concern, *, text: str, by: Person) -> Concern:
    """Answer a question about one's own concern, or add to it.

    Refused when: nothing is said; it is resolved.
    """
    require(by, Verb.CONCERN_REPLY, concern)
    concern = locked(concern)
    follows(concern, "reply")
    note = _noted(concern, ConcernNote.Sort.REPLY, text, by)
    record(Verb.CONCERN_REPLY, concern, by=by, touched=[note], is_confidential=True)
    return concern


@transaction.atomic
def follow_concern(*, code: str, text: str, by: Any) -> Concern:
    """Answer a question, or add to a concern, by its code alone; the clock records it.

    Refused when: no concern has the code; nothing is said; it is resolved.
    """
    require(by, Verb.CONCERN_FOLLOW)
    held = Concern.objects.filter(follow_up_digest=digest_of_code(code)).first()
    if held is None:
        raise Unseen(
            "Your answer was not passed on.",
            "No concern has this code.",
            "Look at the letters again.",
        )
    concern = locked(held)
    follows(concern, "reply")
    note = _noted(concern, ConcernNote.Sort.REPLY, text, None)
    record(Verb.CONCERN_FOLLOW, concern, by=the_clock(), touched=[note], is_confidential=True)
    return concern


@transaction.atomic
def check_welfare(concern: Concern, *, text: str, course: str, by: Person) -> Concern:
    """Record a welfare check after a concern, and what was decided; whoever raised it is not shown.

    Refused when: nothing says what was seen.
    """
    require(by, Verb.CONCERN_CHECK, concern)
    concern = locked(concern)
    follows(concern, "check")
    note = _noted(concern, ConcernNote.Sort.CHECK, text, by, course=course)
    record(Verb.CONCERN_CHECK, concern, by=by, touched=[note], is_confidential=True, course=course)
    return concern


def _noted(
    concern: Concern, sort: str, text: str, by: Person | None, *, course: str = ""
) -> ConcernNote:
    if not text.strip():
        raise Unsound(
            "Nothing was written.",
            "The text is empty.",
            "Write it in a sentence or two.",
            fields={"text": "Write it."},
        )
    return ConcernNote.objects.create(
        concern=concern, sort=sort, text=text.strip(), course=course, written_by=by
    )


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
