"""Pages about answers: one answer on one sheet, and the deeds on it."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from archive.citations import citation
from archive.exports.citation import text
from registry.answers.forms import ANSWER_DEEDS, PROJECT_DEEDS, QUESTION_DEEDS
from registry.answers.models import Answer
from registry.permissions import Verb, may
from registry.projects.models import Project
from registry.questions.models import Question
from registry.web import Deed, acts_on, deed_view, person_of, seen_or_404


def _beside(request: HttpRequest, question: Question, deed: Deed) -> Mapping[str, Any]:
    """Show the question, and the answer that stands, beside the form."""
    return {"question": question, "answer": question.answers.first()}


question_deed = deed_view(
    Question,
    QUESTION_DEEDS,
    extra=_beside,
    templates=dict.fromkeys(QUESTION_DEEDS, "answers/deed.html"),
)
answer_deed = deed_view(Answer, ANSWER_DEEDS)
project_deed = deed_view(Project, PROJECT_DEEDS, templates={"close": "answers/close.html"})


@login_required
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one answer: what was found, how sure it is, its evidence, what to do differently."""
    person = person_of(request)
    rows = Answer.objects.select_related("question__asker", "study", "written_by")
    shown = seen_or_404(rows, person, pk)
    question = shown.question
    newest = question.answers.first()
    evidence = shown.evidence.select_related("dataset").order_by("dataset__title", "pk")
    offered = {act["path"]: act for act in acts_on(question, person)}
    return render(
        request,
        "answers/answer.html",
        {
            "answer": shown,
            "question": question,
            "newest": newest,
            "is_newest": newest == shown,
            "evidence": [(version, text(citation(version))) for version in evidence],
            "actions": shown.actions.select_related("said_by"),
            "may_say": may(person, Verb.ANSWER_DO_ACTION, shown),
            "acts": [offered[path] for path in QUESTION_DEEDS if path in offered],
        },
    )
