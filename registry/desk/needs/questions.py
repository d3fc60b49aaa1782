"""What questions and their answers need."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, DateTimeField, Exists, Min, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.models import Version
from registry.answers.models import Answer, HusbandryAction
from registry.desk.needs.need import Need, first, on, step_url
from registry.permissions import Role, Verb, allowed
from registry.projects.models import Project, Study
from registry.questions.models import Question
from registry.tags import count, day

# How long a question may wait for the curator, and an answer for its asker before others of the
# keeper's side are asked: house rules, no source.
TRIAGE_DAYS = 10
ASKER_DAYS = 14


def to_sort(person: Any, today: date) -> Iterator[Need]:
    """Questions that nobody has sorted, the oldest first."""
    waiting = allowed(Question.objects.awaiting_triage(), person, Verb.QUESTION_TAKE_ON)
    for question in first(waiting.select_related("asker"), "posted_at"):
        posted_on = timezone.localdate(question.posted_at)
        yield Need(
            what=_("A question waits to be sorted: “%(question)s”") % {"question": question},
            why=_("From %(asker)s, about %(animals)s, posted %(day)s.")
            % {"asker": question.asker.name, "animals": question.animals, "day": day(posted_on)},
            step=_("Sort it"),
            url=question.get_absolute_url(),
            due=posted_on + timedelta(days=TRIAGE_DAYS),
        )


def to_take_up(person: Any, today: date) -> Iterator[Need]:
    """Questions taken on that no study has yet, or that students would like and no project runs."""
    running = Project.objects.running().filter(study__questions=OuterRef("pk"))
    studied = Study.objects.filter(questions=OuterRef("pk"))
    live = Q(interests__ended_at=None, interests__isnull=False)
    waiting = (
        allowed(Question.objects.filter(state="taken_on"), person, Verb.QUESTION_SEE_INTEREST)
        .filter(~Exists(running))
        .annotate(
            wishes=Count("interests", filter=live),
            wished_at=Min("interests__said_at", filter=live),
            study=Subquery(studied.values("pk")[:1]),
        )
        .filter(Q(wishes__gt=0) | Q(study=None))
    )
    for question in first(waiting, "posted_at"):
        yield Need(
            what=_("%(counted)s would like “%(question)s”")
            % {"counted": count(question.wishes, _("student,students")), "question": question}
            if question.wishes
            else _("No study has this question yet: “%(question)s”") % {"question": question},
            why=_(
                "It was taken on, and no project runs for it yet."
                " The question’s page says who would like it."
            )
            if question.wishes
            else _("It was taken on, and no project runs for it yet."),
            step=_("Open a cohort for it") if question.study else _("Open a study for it"),
            url=reverse("projects:study", args=[question.study])
            if question.study
            else f"{reverse('projects:open')}?questions={question.pk}",
            since=on(question.wished_at),
        )


def to_answer(person: Any, today: date) -> Iterator[Need]:
    """Questions of one's own studies that have data held and no answer."""
    held = Version.objects.held().filter(dataset__project__study__questions=OuterRef("pk"))
    waiting = (
        allowed(Question.objects.filter(state="taken_on"), person, Verb.QUESTION_ANSWER)
        .annotate(held_at=Subquery(held.order_by("-accepted_at").values("accepted_at")[:1]))
        .filter(held_at__isnull=False)
    )
    for question in first(waiting, "posted_at"):
        yield Need(
            what=_("The keepers wait for an answer: “%(question)s”") % {"question": question},
            why=_("Data that may tell are held since %(day)s.") % {"day": day(question.held_at)},
            step=_("Write the answer"),
            url=step_url(question, "answer"),
            due=question.wanted_by,
            since=on(question.held_at),
        )


def to_acknowledge(person: Any, today: date) -> Iterator[Need]:
    """Answers for the asker to acknowledge; for others of the keeper's side after some time."""
    newest = Answer.objects.filter(question=OuterRef("pk"))
    waited = timezone.now() - timedelta(days=ASKER_DAYS)
    waiting = (
        allowed(Question.objects.filter(state="answered"), person, Verb.QUESTION_ACKNOWLEDGE)
        .annotate(
            answer=Subquery(newest.values("pk")[:1]),
            answered_at=Coalesce(
                Subquery(newest.values("written_at")[:1]),
                "posted_at",
                output_field=DateTimeField(),
            ),
            writer=Subquery(newest.values("written_by")[:1]),
        )
        .exclude(writer=person.pk)
        .filter(Q(asker=person.pk) | Q(answered_at__lte=waited) | Q(asker__is_active=False))
        .select_related("asker")
    )
    for question in first(waiting, "posted_at"):
        mine = question.asker_id == person.pk
        yield Need(
            what=_("Answered: “%(question)s”") % {"question": question},
            why=_("The question is closed only when you say that the answer was understood.")
            if mine
            else _("%(asker)s has not said yet whether the answer was understood.")
            % {"asker": question.asker.name},
            step=_("Read the answer"),
            url=f"/questions/answers/{question.answer}/",
            since=on(question.answered_at),
        )


def husbandry_due(person: Any, today: date) -> Iterator[Need]:
    """What answers suggest to keepers, and of which nobody has said what became of it."""
    newest = Answer.objects.filter(question=OuterRef("answer__question")).values("pk")[:1]
    mine = allowed(Answer.objects.all(), person, Verb.ANSWER_DO_ACTION)
    waiting = HusbandryAction.objects.filter(
        is_done=None,
        answer__in=mine,
        answer=Subquery(newest),
        answer__question__state__in=["answered", "acknowledged"],
    ).select_related("answer__question")
    for action in first(waiting) if {Role.KEEPER, Role.CURATOR} & person.roles else ():
        yield Need(
            what=_("Suggested: %(text)s") % {"text": action.text},
            why=_(
                "By the answer to “%(question)s”. Curator and veterinary surgeon decide; say "
                "what became of it."
            )
            % {"question": action.answer.question},
            step=_("Say what was done"),
            url=f"{step_url(action.answer, 'do_action')}?action={action.pk}",
            due=action.due_on,
            since=on(action.answer.written_at),
            about=action,
        )
