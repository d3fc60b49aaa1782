"""Deeds on answers: writing one, hearing it, what changed, what came out, closing a project."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.models import Analysis, Version
from registry.answers.identifiers import checked
from registry.answers.models import Answer, CloseReport, HusbandryAction, Output
from registry.answers.standing import missing_to_close
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.actions import record
from registry.oversight.account import account_of
from registry.oversight.models import AdverseEvent, Breach, Enrolment
from registry.people.models import Person
from registry.permissions import Part, Role, Verb, require
from registry.projects.models import Project, Study
from registry.questions.models import Question
from registry.search import index as search
from registry.transitions import follows, locked, locked_all, move, reasoned

type HusbandryLine = tuple[str, date | None]
"""What keepers might do differently, and the day by which, where there is one."""
_WHAT = "The answer was not written."


@dataclass(frozen=True, slots=True)
class Told:
    """What an answer says beside its summary.

    Parameters
    ----------
    done, left_open : str
        What was done, and what remains open.
    analysis : Analysis or None
        Whose figure stands on the page, for those who may read its data.
    is_figure_released : bool
        Whether everyone who reads the answer sees it.
    """

    done: str = ""
    left_open: str = ""
    analysis: Analysis | None = None
    is_figure_released: bool = False


@transaction.atomic
def answer_question(
    question: Question,
    *,
    study: Study,
    summary: str,
    sureness: str,
    evidence: Iterable[Version],
    husbandry: Iterable[HusbandryLine] = (),
    told: Told = Told(),
    by: Person,
) -> Question:
    """Answer a question from a study that took it on, in plain words and with its evidence.

    Refused when: the study did not take the question on; one leads no project in that study; there
    is no evidence; a version is of another study; a version is no longer held; an action has no
    words; the analysis is not of the evidence, or gave nothing.
    """
    require(by, Verb.QUESTION_ANSWER, question)
    question = locked(question)
    project, held, lines = _sound(question, study, evidence, husbandry, told, by)
    before, after = move(question, "answer")
    answer = _written(question, study, summary, sureness, held, by, told)
    record(
        Verb.QUESTION_ANSWER,
        question,
        by=by,
        before=before,
        after=after,
        touched=[answer, *_suggested(answer, lines)],
        project=project.pk,
        study=study.pk,
        evidence=[version.identifier for version in held],
        figure_released=told.is_figure_released,
    )
    return question


@transaction.atomic
def renew_answer(
    question: Question,
    *,
    study: Study,
    summary: str,
    sureness: str,
    evidence: Iterable[Version],
    husbandry: Iterable[HusbandryLine] = (),
    told: Told = Told(),
    by: Person,
) -> Question:
    """Write a newer answer, where a later cohort found more; the keepers acknowledge it again.

    The earlier answers stay where they are, each with its day.

    Refused when: as for the first answer.
    """
    require(by, Verb.QUESTION_RENEW, question)
    question = locked(question)
    project, held, lines = _sound(question, study, evidence, husbandry, told, by)
    before, after = move(question, "renew")
    answer = _written(question, study, summary, sureness, held, by, told)
    record(
        Verb.QUESTION_RENEW,
        question,
        by=by,
        before=before,
        after=after,
        touched=[answer, *_suggested(answer, lines)],
        project=project.pk,
        study=study.pk,
        evidence=[version.identifier for version in held],
        figure_released=told.is_figure_released,
    )
    return question


def _suggested(answer: Answer, lines: list[HusbandryLine]) -> list[HusbandryAction]:
    return [
        HusbandryAction.objects.create(answer=answer, text=text, due_on=due_on)
        for text, due_on in lines
    ]


def _sound(
    question: Question,
    study: Study,
    evidence: Iterable[Version],
    husbandry: Iterable[HusbandryLine],
    told: Told,
    by: Person,
) -> tuple[Project, list[Version], list[HusbandryLine]]:
    """Look an answer through: the study, who leads in it, the evidence, what is suggested."""
    if not study.questions.filter(pk=question.pk).exists():
        raise Unsound(
            _WHAT,
            _("The study “%(study)s” did not take this question on.") % {"study": study},
            "Choose a study that did, or let the study take the question on first.",
            fields={"study": "It did not take this question on."},
        )
    led = study.projects.filter(members__person=by, members__part=Part.LEAD, members__ended_on=None)
    project = led.order_by("-starts_on", "-pk").first()
    if project is None:
        raise NotPermitted(
            _WHAT,
            _("You lead no project in the study “%(study)s”.") % {"study": study},
            "Ask the lead supervisor of one of its projects, or choose a study in which you lead.",
        )
    held = _held(evidence, _WHAT)
    if any(version.dataset.project.study_id != study.pk for version in held):
        raise Unsound(
            _WHAT,
            _("Some of the evidence is not of the study “%(study)s”.") % {"study": study},
            "Choose versions of this study; name others in the summary.",
            fields={"evidence": "Choose versions of this study."},
        )
    _shown(told, held)
    lines = [(text.strip(), due_on) for text, due_on in husbandry]
    if any(not text for text, _due in lines):
        raise Unsound(
            _WHAT,
            "One of the actions has no words.",
            "Say in a few words what keepers might do, or take the line out.",
            fields={"husbandry": "One line has no words."},
        )
    return project, held, lines


def _shown(told: Told, held: list[Version]) -> None:
    """Refuse an analysis that the evidence does not bear out, and a release of no figure."""
    analysis = told.analysis
    if analysis is None:
        if told.is_figure_released:
            raise Unsound(
                _WHAT,
                "There is no figure to show to everyone.",
                "Choose the analysis that it is from, or take the tick away.",
                fields={"analysis": "Choose one, or take the tick below away."},
            )
        return
    if analysis.state != "computed" or analysis.version_id not in {one.pk for one in held}:
        raise Unsound(
            _WHAT,
            "The figure is of no analysis of the evidence that was computed.",
            "Choose an analysis of a version that is among the evidence.",
            fields={"analysis": "Choose an analysis of the evidence."},
        )


@transaction.atomic
def answer_from_held(
    question: Question,
    *,
    reason: str,
    summary: str,
    sureness: str,
    evidence: Iterable[Version],
    told: Told = Told(),
    by: Person,
) -> Question:
    """Answer a question from data already held, without a new study.

    Refused when: no reason is given; there is no evidence; a version is no longer held; the
    analysis is not of the evidence, or gave nothing.
    """
    require(by, Verb.QUESTION_ANSWER_FROM_HELD, question)
    question = locked(question)
    held = _held(evidence, _WHAT)
    _shown(told, held)
    reason = reasoned(question, "answer_from_held", reason)
    before, after = move(question, "answer_from_held")
    question.triage_reason = reason
    question.save(update_fields=["triage_reason"])
    answer = _written(question, None, summary, sureness, held, by, told)
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
            _("No longer held: %(gone)s.") % {"gone": ", ".join(gone)},
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
    told: Told,
) -> Answer:
    if not summary.strip() or not sureness.strip():
        raise Unsound(
            _WHAT,
            "It needs both a plain summary and how sure it is.",
            "Write both; “not sure, because …” is an answer too.",
            fields={"summary" if not summary.strip() else "sureness": "Write this."},
        )
    answer = Answer.objects.create(
        question=question,
        study=study,
        summary=summary,
        sureness=sureness,
        done=told.done.strip(),
        left_open=told.left_open.strip(),
        analysis=told.analysis,
        figure_released_by=by if told.is_figure_released else None,
        figure_released_at=timezone.now() if told.is_figure_released else None,
        written_by=by,
    )
    answer.evidence.set(held)
    search.write(answer)
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
            _("“%(action)s” was said to be done already.") % {"action": action},
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
def give_action(
    action: HusbandryAction, *, owner: Person, due_on: date | None = None, by: Person
) -> HusbandryAction:
    """Say who sees to what an answer suggests, and by when.

    Refused when: something was said of it already; they have neither a keeper's nor a curator's
    nor a veterinary surgeon's standing.
    """
    require(by, Verb.ANSWER_GIVE_ACTION, action.answer)
    action = locked(action)
    if action.is_done is not None:
        raise Conflict(
            "Nobody was named.",
            _("Of “%(action)s” it was said already what became of it.") % {"action": action},
            "Look at the page again.",
        )
    if not {Role.KEEPER, Role.CURATOR, Role.VET} & owner.roles or not owner.is_active:
        raise Unsound(
            "Nobody was named.",
            _("%(owner)s does not work with animals here.") % {"owner": owner.name},
            "Name a keeper, a curator or a veterinary surgeon.",
            fields={"owner": "Name somebody who works with animals here."},
        )
    action.owner, action.due_on = owner, due_on or action.due_on
    action.save(update_fields=["owner", "due_on"])
    record(
        Verb.ANSWER_GIVE_ACTION,
        action.answer,
        by=by,
        touched=[action],
        action=action.pk,
        owner=owner.pk,
    )
    return action


@transaction.atomic
def release_figure(answer: Answer, *, by: Person) -> Answer:
    """Show an answer's figure to everyone who reads the answer, though its data are not open.

    Refused when: it has no figure; it is shown to everyone already.
    """
    require(by, Verb.ANSWER_RELEASE_FIGURE, answer)
    answer = locked(answer)
    if answer.analysis_id is None or answer.figure_released_at is not None:
        raise Conflict(
            "Nothing was changed.",
            "The answer has no figure."
            if answer.analysis_id is None
            else "Its figure is shown to everyone already.",
            "Look at the answer again.",
        )
    answer.figure_released_by, answer.figure_released_at = by, timezone.now()
    answer.save(update_fields=["figure_released_by", "figure_released_at"])
    record(Verb.ANSWER_RELEASE_FIGURE, answer, by=by, analysis=answer.analysis_id)
    return answer


@transaction.atomic
def withhold_figure(answer: Answer, *, reason: str, by: Person) -> Answer:
    """Show an answer's figure again to those alone who may read its data.

    Refused when: it is not shown to everyone; no reason is given.
    """
    require(by, Verb.ANSWER_WITHHOLD_FIGURE, answer)
    answer = locked(answer)
    if answer.figure_released_at is None:
        raise Conflict(
            "Nothing was changed.",
            "The figure was not released to everyone.",
            "Look at the answer again.",
        )
    if not reason.strip():
        raise Unsound(
            "Nothing was changed.",
            "No reason was given.",
            "Say in a sentence why it is taken back.",
            fields={"reason": "Write why."},
        )
    answer.figure_released_by = answer.figure_released_at = None
    answer.save(update_fields=["figure_released_by", "figure_released_at"])
    record(Verb.ANSWER_WITHHOLD_FIGURE, answer, by=by, reason=reason.strip())
    return answer


@transaction.atomic
def add_output(
    project: Project,
    *,
    sort: str,
    title: str,
    authors: str,
    published_on: date,
    where: str = "",
    identifier: str = "",
    versions: Iterable[Version] = (),
    by: Person,
) -> Output:
    """Add what came out of a project: a dissertation, a paper, a poster, a talk.

    Refused when: the identifier is none; it is listed already; it has no title or no authors; it
    is of a day to come.
    """
    require(by, Verb.PROJECT_ADD_OUTPUT, project)
    project = locked(project)
    follows(project, "add_output")
    what = "The output was not added."
    if not title.strip() or not authors.strip():
        raise Unsound(
            what, "It needs a title and its authors.", "Write both as they stand on it.",
            fields={"title" if not title.strip() else "authors": "Write this."},
        )  # fmt: skip
    if published_on > timezone.localdate():
        raise Unsound(
            what,
            "It has not come out yet.",
            "Add it once it has.",
            fields={"published_on": "This day is still to come."},
        )
    kept = checked(identifier)
    if project.outputs.filter(state="listed", sort=sort, title=title.strip()).exists():
        raise Conflict(what, "It is listed already.", "Look at the project's page.")
    output = Output.objects.create(
        project=project,
        sort=sort,
        title=title.strip(),
        authors=authors.strip(),
        published_on=published_on,
        where=where.strip(),
        identifier=kept,
        added_by=by,
    )
    output.versions.set(versions)
    search.write(output)
    record(Verb.PROJECT_ADD_OUTPUT, project, by=by, touched=[output], output=output.pk)
    return output


@transaction.atomic
def withdraw_output(output: Output, *, reason: str, by: Person) -> Output:
    """Take an output off the list, with the reason.

    Refused when: no reason is given.
    """
    require(by, Verb.OUTPUT_WITHDRAW, output)
    output = locked(output)
    reason = reasoned(output, "withdraw", reason)
    before, after = move(output, "withdraw")
    output.withdrawn_because = reason
    output.save(update_fields=["withdrawn_because"])
    record(Verb.OUTPUT_WITHDRAW, output, by=by, before=before, after=after, reason=reason)
    return output


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
                _("The report does not say %(asked)s.") % {"asked": asked},
                _("Write in a few sentences %(asked)s.") % {"asked": asked},
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
