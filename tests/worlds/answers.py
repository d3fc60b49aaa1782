"""Answers for the tests, each in a state that its deeds reach."""

from datetime import date
from typing import Any

from django.utils import timezone

from archive.models import Version
from registry.answers import actions
from registry.answers.models import Answer, Output
from registry.people.models import Person
from registry.projects.actions import take_question
from registry.questions.models import Question
from tests.worlds.archive import make_version
from tests.worlds.projects import lead_of, student_of
from tests.worlds.questions import make_taken_on

SUMMARY = "On busy days the rays rest a third less. Two quiet hours at noon bring most of it back."
SURENESS = "Twelve rays in one pool over forty days: sure for this pool, not for another."


def make_question_in_study(version: Version | None = None, **more: Any) -> tuple[Question, Version]:
    """Give a taken on question of a study that holds a version, and that version."""
    version = version or make_version()
    project = version.dataset.project
    question = make_taken_on(**more)
    take_question(project.study, question=question, by=lead_of(project))
    return question, version


def make_answered(
    *,
    asker: Person | None = None,
    version: Version | None = None,
    husbandry: list[tuple[str, date | None]] | None = None,
) -> Question:
    """Give an answered question that nobody has acknowledged, with one husbandry action."""
    question, version = make_question_in_study(version, asker=asker)
    project = version.dataset.project
    actions.answer_question(
        question,
        study=project.study,
        summary=SUMMARY,
        sureness=SURENESS,
        evidence=[version],
        husbandry=[("Close the near side of the pool from 12:00 to 14:00", None)]
        if husbandry is None
        else husbandry,
        by=lead_of(project),
    )
    return Question.objects.get(pk=question.pk)


def make_acknowledged(**more: Any) -> Question:
    """Give a question that is closed: its asker acknowledged the answer."""
    question = make_answered(**more)
    actions.acknowledge_answer(question, by=question.asker)
    return Question.objects.get(pk=question.pk)


def make_output(version: Version | None = None, **more: Any) -> Output:
    """Give a listed dissertation of a project that holds a version."""
    version = version or make_version()
    project = version.dataset.project
    given = {
        "sort": "dissertation",
        "title": f"Rest of rays on busy days, {Output.objects.count() + 1}",
        "authors": "Ines Solvang",
        "published_on": timezone.localdate(),
        "identifier": "978-0-306-40615-7",
        "versions": [version],
        **more,
    }
    return actions.add_output(project, **given, by=student_of(project))


def newest(question: Question) -> Answer:
    """Give the newest answer to a question."""
    answer: Answer = question.answers.all()[0]
    return answer
