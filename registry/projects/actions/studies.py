"""Deeds on studies: opening one, and taking questions on."""

from collections.abc import Iterable

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.models import Taxon
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Study
from registry.questions.models import Question
from registry.search import index as search
from registry.transitions import locked, locked_all


@transaction.atomic
def open_study(
    *,
    title: str,
    aim: str,
    taxon: Taxon | None = None,
    questions: Iterable[Question] = (),
    by: Person,
) -> Study:
    """Open a study, with the questions that it takes on.

    Refused when: there is a study of that title; a question is no longer followed.
    """
    require(by, Verb.STUDY_OPEN)
    taken_on = locked_all(Question, [one.pk for one in questions])
    if Study.objects.filter(title__iexact=title).exists():
        raise Unsound(
            "The study was not opened.",
            "There is a study of that title.",
            "Open the next cohort in that study, or give another title.",
            fields={"title": "It is taken."},
        )
    for question in taken_on:
        _still_followed(question, "The study was not opened.")
    study = Study.objects.create(title=title, aim=aim, taxon=taxon, opened_by=by)
    study.questions.set(taken_on)
    search.write(study)
    record(Verb.STUDY_OPEN, study, by=by, questions=[one.pk for one in taken_on])
    return study


@transaction.atomic
def take_question(study: Study, *, question: Question, by: Person) -> Study:
    """Take a question into a study.

    Refused when: the study has it already; it is no longer followed.
    """
    require(by, Verb.STUDY_TAKE_QUESTION, study)
    question = locked(question)
    study = locked(study)
    _still_followed(question, "The question was not taken into the study.")
    if study.questions.filter(pk=question.pk).exists():
        raise Conflict(
            "The question was not taken into the study.",
            "The study has it already.",
            "Choose another question.",
        )
    study.questions.add(question)
    record(Verb.STUDY_TAKE_QUESTION, study, by=by, question=question.pk)
    return study


def _still_followed(question: Question, what: str) -> None:
    if question.state in {"merged", "parked", "declined"}:
        raise Unsound(
            what,
            _("“%(question)s” is %(state)s, so nobody follows it.")
            % {"question": question, "state": question.get_state_display()},
            "Choose the question into which it was merged, or have it reopened.",
            fields={"questions": "One of them is no longer followed."},
        )
