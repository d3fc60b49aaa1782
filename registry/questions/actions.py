"""Deeds on questions up to their triage; answers are written in a higher slice."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from registry.animals.models import Taxon
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.questions.models import Interest, Question
from registry.search import index as search
from registry.transitions import follows, locked, locked_all, move


@transaction.atomic
def post_question(
    *,
    title: str,
    why: str,
    would_change: str,
    animals: str,
    taxon: Taxon | None = None,
    wanted_by: date | None = None,
    by: Person,
) -> Question:
    """Post a question: what, why it matters, which animals, what would change.

    Refused when: the answer is wanted by a day that has passed.
    """
    require(by, Verb.QUESTION_POST)
    if wanted_by is not None and wanted_by < timezone.localdate():
        raise Unsound(
            "The question was not posted.",
            "The day by which you want the answer has passed.",
            "Give a later day, or leave it empty.",
            fields={"wanted_by": "This day has passed."},
        )
    question = Question.objects.create(
        title=title,
        why=why,
        would_change=would_change,
        animals=animals,
        taxon=taxon,
        wanted_by=wanted_by,
        asker=by,
    )
    search.write(question)
    record(Verb.QUESTION_POST, question, by=by, after=question.state)
    return question


def _sort(question: Question, verb: Verb, *, reason: str, by: Person) -> Question:
    """Move a question in triage, with the reason that the keeper can read."""
    require(by, verb, question)
    question = locked(question)
    before, after = move(question, verb.split(".")[1])
    question.triage_reason = reason
    question.save(update_fields=["triage_reason"])
    record(verb, question, by=by, before=before, after=after, reason=reason)
    return question


@transaction.atomic
def take_on_question(
    question: Question,
    *,
    reason: str,
    level: str = "",
    first_month: int | None = None,
    last_month: int | None = None,
    by: Person,
) -> Question:
    """Take a question on, and say for which level of student and which months it is.

    Refused when: only one of the two months is given.
    """
    require(by, Verb.QUESTION_TAKE_ON, question)
    question = locked(question)
    if (first_month is None) != (last_month is None):
        raise Unsound(
            "The question was not taken on.",
            "Only one of the two months was given.",
            "Give the first and the last month, or neither.",
            fields={"last_month": "Give both months, or neither."},
        )
    before, after = move(question, "take_on")
    question.triage_reason, question.level = reason, level
    question.first_month, question.last_month = first_month, last_month
    question.save(update_fields=["triage_reason", "level", "first_month", "last_month"])
    record(Verb.QUESTION_TAKE_ON, question, by=by, before=before, after=after, reason=reason)
    return question


@transaction.atomic
def merge_question(question: Question, *, into: Question, reason: str, by: Person) -> Question:
    """Merge a question into another that asks the same.

    Refused when: it is the same one; the other was itself merged, parked or declined.
    """
    require(by, Verb.QUESTION_MERGE, question)
    locked_all(Question, [question.pk, into.pk])
    question, into = locked(question), locked(into)
    if into.pk == question.pk or into.state in {"merged", "parked", "declined"}:
        raise Unsound(
            "The question was not merged.",
            "It can be merged only into another question that is still followed.",
            "Choose another question.",
            fields={"into": "Choose one that is still followed."},
        )
    before, after = move(question, "merge")
    question.triage_reason, question.merged_into = reason, into
    question.save(update_fields=["triage_reason", "merged_into"])
    record(
        Verb.QUESTION_MERGE,
        question,
        by=by,
        before=before,
        after=after,
        reason=reason,
        into=into.pk,
    )
    return question


@transaction.atomic
def park_question(question: Question, *, reason: str, by: Person) -> Question:
    """Park a question for later, with the reason."""
    require(by, Verb.QUESTION_PARK, question)
    return _sort(question, Verb.QUESTION_PARK, reason=reason, by=by)


@transaction.atomic
def decline_question(question: Question, *, reason: str, by: Person) -> Question:
    """Decline a question, with the reason."""
    require(by, Verb.QUESTION_DECLINE, question)
    return _sort(question, Verb.QUESTION_DECLINE, reason=reason, by=by)


@transaction.atomic
def reopen_question(question: Question, *, reason: str, by: Person) -> Question:
    """Take a parked question up again."""
    require(by, Verb.QUESTION_REOPEN, question)
    return _sort(question, Verb.QUESTION_REOPEN, reason=reason, by=by)


@transaction.atomic
def like_question(question: Question, *, note: str, by: Person) -> Question:
    """Say “I would like this one”.

    Refused when: one has said so already.
    """
    require(by, Verb.QUESTION_LIKE, question)
    question = locked(question)
    follows(question, "like")
    if question.interests.filter(person=by, ended_at=None).exists():
        raise Conflict(
            "Your interest was not noted twice.", "You said so already.", "Nothing needs doing."
        )
    interest = Interest.objects.create(question=question, person=by, note=note)
    record(Verb.QUESTION_LIKE, question, by=by, touched=[interest])
    return question


@transaction.atomic
def unlike_question(question: Question, *, by: Person) -> Question:
    """Take an interest back.

    Refused when: there is none.
    """
    require(by, Verb.QUESTION_UNLIKE, question)
    question = locked(question)
    interest = question.interests.filter(person=by, ended_at=None).first()
    if interest is None:
        raise Conflict(
            "Nothing was taken back.", "You have not said that you would like it.", "Nothing to do."
        )
    interest.ended_at = timezone.now()
    interest.save(update_fields=["ended_at"])
    record(Verb.QUESTION_UNLIKE, question, by=by, touched=[interest])
    return question
