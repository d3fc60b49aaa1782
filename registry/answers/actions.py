"""Deeds on answers: writing one with its evidence, hearing it, what changed, closing a project."""

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from archive.models import Version
from registry.answers.models import Answer, CloseReport, HusbandryAction
from registry.answers.standing import missing_to_close
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.actions import record
from registry.oversight.account import account_of
from registry.oversight.models import AdverseEvent, Breach, Enrolment
from registry.people.models import Person
from registry.permissions import Part, Verb, require
from registry.projects.models import Project, Study
from registry.questions.models import Question
from registry.search import index as search
from registry.transitions import follows, locked, locked_all, move, reasoned

type HusbandryLine = tuple[str, date | None]
"""What keepers might do differently, and the day by which, where there is one."""


@transaction.atomic
def answer_question(
    question: Question,
    *,
    study: Study,
    summary: str,
    sureness: str,
    evidence: Iterable[Version],
    husbandry: Iterable[HusbandryLine] = (),
    by: Person,
) -> Question:
    """Answer a question from a study that took it on, in plain words and with its evidence.

    Refused when: the study did not take the question on; one leads no project in that study; there
    is no evidence; a version is of another study; a version is no longer held; an action has no
    words.
    """
    require(by, Verb.QUESTION_ANSWER, question)
    question = locked(question)
    what = "The answer was not written."
    if not study.questions.filter(pk=question.pk).exists():
        raise Unsound(
            what,
            f"The study “{study}” did not take this question on.",
            "Choose a study that did, or let the study take the question on first.",
            fields={"study": "It did not take this question on."},
        )
    led = study.projects.filter(members__person=by, members__part=Part.LEAD, members__ended_on=None)
    project = led.order_by("-starts_on", "-pk").first()
    if project is None:
        raise NotPermitted(
            what,
            f"You lead no project in the study “{study}”.",
            "Ask the lead supervisor of one of its projects, or choose a study in which you lead.",
        )
    held = _held(evidence, what)
    if any(version.dataset.project.study_id != study.pk for version in held):
        raise Unsound(
            what,
            f"Some of the evidence is not of the study “{study}”.",
            "Choose versions of this study; name others in the summary.",
            fields={"evidence": "Choose versions of this study."},
        )
    lines = [(text.strip(), due_on) for text, due_on in husbandry]
    if any(not text for text, _ in lines):
        raise Unsound(
            what,
            "One of the actions has no words.",
            "Say in a few words what keepers might do, or take the line out.",
            fields={"husbandry": "One line has no words."},
        )
    before, after = move(question, "answer")
    answer = _written(question, study, summary, sureness, held, by)
    actions = [
        HusbandryAction.objects.create(answer=answer, text=text, due_on=due_on)
        for text, due_on in lines
    ]
    search.write(answer)
    record(
        Verb.QUESTION_ANSWER,
        question,
        by=by,
        before=before,
        after=after,
        touched=[answer, *actions],
        project=project.pk,
        study=study.pk,
        evidence=[version.identifier for version in held],
    )
    return question


@transaction.atomic
def answer_from_held(
    question: Question,
    *,
    reason: str,
    summary: str,
    sureness: str,
    evidence: Iterable[Version],
    by: Person,
) -> Question:
    """Answer a question from data already held, without a new study.

    Refused when: no reason is given; there is no evidence; a version is no longer held.
    """
    require(by, Verb.QUESTION_ANSWER_FROM_HELD, question)
    question = locked(question)
    held = _held(evidence, "The answer was not written.")
    reason = reasoned(question, "answer_from_held", reason)
    before, after = move(question, "answer_from_held")
    question.triage_reason = reason
    question.save(update_fields=["triage_reason"])
    answer = _written(question, None, summary, sureness, held, by)
    search.write(answer)
    record(
        Verb.QUESTION_ANSWER_FROM_HELD,
        question,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=[answer],
        evidence=[version.identifier for version in held],
    )
    return question


def _held(evidence: Iterable[Version], what: str) -> list[Version]:
    """Give the versions locked, so that none is withdrawn while an answer cites it."""
    ids = [version.pk for version in evidence]
    if not ids:
        raise Unsound(
            what,
            "No evidence was chosen: an answer rests on at least one version that is held.",
            "Choose the versions on which it rests.",
            fields={"evidence": "Choose at least one."},
        )
    versions = locked_all(Version, ids)
    gone = [str(version) for version in versions if version.state != "held"]
    if gone:
        raise Unsound(
            what,
            f"No longer held: {', '.join(gone)}.",
            "Choose the version that replaced it, or another one.",
            fields={"evidence": "One of them is no longer held."},
        )
    return versions


def _written(
    question: Question,
    study: Study | None,
    summary: str,
    sureness: str,
    held: list[Version],
    by: Person,
) -> Answer:
    if not summary.strip() or not sureness.strip():
        raise Unsound(
            "The answer was not written.",
            "It needs both a plain summary and how sure it is.",
            "Write both; “not sure, because …” is an answer too.",
            fields={"summary" if not summary.strip() else "sureness": "Write this."},
        )
    answer = Answer.objects.create(
        question=question, study=study, summary=summary, sureness=sureness, written_by=by
    )
    answer.evidence.set(held)
    return answer


@transaction.atomic
def acknowledge_answer(question: Question, *, by: Person) -> Question:
    """Say for the keeper's side that the answer was understood: only now is the question closed.

    Refused when: one wrote the answer oneself.
    """
    require(by, Verb.QUESTION_ACKNOWLEDGE, question)
    question = locked(question)
    answer = question.answers.first()
    if answer is not None and answer.written_by_id == by.pk:
        raise NotPermitted(
            "The answer was not acknowledged.",
            "You wrote it, and it is for the keeper's side to say that it was understood.",
            "Ask whoever asked the question, or another keeper or curator.",
        )
    before, after = move(question, "acknowledge")
    record(Verb.QUESTION_ACKNOWLEDGE, question, by=by, before=before, after=after)
    return question


@transaction.atomic
def query_answer(question: Question, *, reason: str, by: Person) -> Question:
    """Say that the answer does not answer the question; it is taken on again, and answered anew.

    Refused when: no reason is given.
    """
    require(by, Verb.QUESTION_QUERY, question)
    question = locked(question)
    reason = reasoned(question, "query", reason)
    before, after = move(question, "query")
    record(Verb.QUESTION_QUERY, question, by=by, before=before, after=after, reason=reason)
    return question


@transaction.atomic
def say_done(
    action: HusbandryAction, *, is_done: bool, outcome: str = "", by: Person
) -> HusbandryAction:
    """Say whether what was suggested was done, and what came of it.

    Refused when: it was not done, and nothing says why; it was said to be done already.
    """
    require(by, Verb.ANSWER_DO_ACTION, action.answer)
    action = locked(action)
    if action.is_done:
        raise Conflict(
            "Nothing was written.",
            f"“{action}” was said to be done already.",
            "Look at the page again; post a question if it has to be undone.",
        )
    if not is_done and not outcome.strip():
        raise Unsound(
            "Nothing was written.",
            "It was not done, and nothing says why; whoever answered will ask.",
            "Write why in a sentence.",
            fields={"outcome": "Write why."},
        )
    action.is_done, action.outcome = is_done, outcome.strip()
    action.said_by, action.said_at = by, timezone.now()
    action.save(update_fields=["is_done", "outcome", "said_by", "said_at"])
    record(
        Verb.ANSWER_DO_ACTION,
        action.answer,
        by=by,
        touched=[action],
        action=action.pk,
        done=is_done,
    )
    return action


@transaction.atomic
def close_project(
    project: Project, *, text: str, learned: str, deviations: str = "", by: Person
) -> Project:
    """Close a project, with the report of how it went, what deviated and what was learned.

    Its figures are kept with the report as they stand now: animals planned and used, actual
    severity, events, deviations, breaches, keeper time.

    Refused when: its dataset has no version that is held; a question of its study has no answer; an
    animal is still enrolled; a breach was not explained; an adverse event was not assessed; the
    report is empty, or does not say what was learned.
    """
    require(by, Verb.PROJECT_CLOSE, project)
    locked(project.study)
    project = locked(project)
    # What the checks read stays as it is until this is written.
    locked_all(Question, project.study.questions.order_by().values("pk"))
    locked_all(Enrolment, project.enrolments.order_by().values("pk"))
    locked_all(Breach, project.breaches.order_by().values("pk"))
    locked_all(AdverseEvent, project.adverse_events.order_by().values("pk"))
    locked_all(Version, Version.objects.filter(dataset__project=project).order_by().values("pk"))
    follows(project, "close")
    missing = missing_to_close(project)
    if missing:
        raise Conflict(
            "The project was not closed.",
            " ".join(missing),
            "Do what is missing, and close it then.",
        )
    for field, said, asked in (
        ("text", text, "how it went"),
        ("learned", learned, "what was learned, so that animals bear less next time"),
    ):
        if not said.strip():
            raise Unsound(
                "The project was not closed.",
                f"The report does not say {asked}.",
                f"Write in a few sentences {asked}.",
                fields={field: "Write this."},
            )
    before, after = move(project, "close")
    report = CloseReport.objects.create(
        project=project,
        text=text,
        deviations=deviations,
        learned=learned.strip(),
        account=account_of(project).packed(),
        written_by=by,
    )
    record(Verb.PROJECT_CLOSE, project, by=by, before=before, after=after, touched=[report])
    return project
