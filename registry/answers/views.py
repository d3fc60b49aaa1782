"""Pages about answers: one on one sheet, outputs, the year’s report, and the deeds on them."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from archive.citations import CITED, citation
from archive.exports.citation import text
from registry.answers.forms import ANSWER_DEEDS, OUTPUT_DEEDS, PROJECT_DEEDS, QUESTION_DEEDS
from registry.answers.identifiers import followed
from registry.answers.models import Answer, Output
from registry.answers.paper import answer_paper, report_paper
from registry.answers.reuse import Section
from registry.answers.shown import KEPT, figure_for
from registry.answers.yearly import long_rows, report, years
from registry.guarded.cells import csv_lines
from registry.permissions import Verb, allowed, may
from registry.projects.models import Project
from registry.questions.models import Question
from registry.web import (
    Deed,
    acts_on,
    deed_view,
    number_of,
    page_of,
    person_of,
    seen_among,
    seen_or_404,
)


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
output_deed = deed_view(Output, OUTPUT_DEEDS)
project_deed = deed_view(Project, PROJECT_DEEDS, templates={"close": "answers/close.html"})


_ANSWERS = ("question__asker", "study", "written_by", "analysis", "figure_released_by")


@login_required
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one answer: what was done and found, how sure it is, what to do differently."""
    person = person_of(request)
    shown = seen_or_404(Answer.objects.select_related(*_ANSWERS), person, pk)
    question = shown.question
    newest = question.answers.first()
    evidence = shown.evidence.select_related(CITED).order_by("dataset__title", "pk")
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
            "shown": figure_for(shown, person),
            "kept": KEPT,
            "seen": seen_among([shown.analysis], person),
            "earlier": question.answers.exclude(pk=shown.pk),
            "outputs": Output.objects.listed().filter(project__study=shown.study)
            if shown.study
            else [],
            "actions": shown.actions.select_related("said_by", "owner"),
            "may_give": may(person, Verb.ANSWER_GIVE_ACTION, shown),
            "may_release": may(person, Verb.ANSWER_RELEASE_FIGURE, shown),
            "may_say": may(person, Verb.ANSWER_DO_ACTION, shown),
            "acts": [offered[path] for path in QUESTION_DEEDS if path in offered],
        },
    )


@login_required
def answer_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one answer on paper."""
    person = person_of(request)
    return answer_paper(seen_or_404(Answer.objects.select_related(*_ANSWERS), person, pk), person)


# ---------------------------------------------------------------------------------------- outputs


@login_required
def output_list(request: HttpRequest) -> HttpResponse:
    """List what came out of projects, the newest first."""
    rows = allowed(Output.objects.listed(), person_of(request), Verb.OUTPUT_SEE)
    sort = request.GET.get("sort", "")
    if sort in Output.Sort.values:
        rows = rows.filter(sort=sort)
    page = page_of(request, rows.select_related("project__study"))
    context = {"page": page, "sorts": Output.Sort.choices, "asked": sort}
    return render(request, "answers/outputs.html", context)


@login_required
def output(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one output, and the data that it rests on."""
    person = person_of(request)
    shown = seen_or_404(Output.objects.select_related("project__study", "added_by"), person, pk)
    context = {
        "output": shown,
        "address": followed(shown.identifier),
        "versions": shown.versions.select_related("dataset"),
        "acts": acts_on(shown, person),
    }
    return render(request, "answers/output.html", context)


# ------------------------------------------------------------------------------ the year's report


def _report(request: HttpRequest) -> tuple[int, list[int], list[Section]]:
    """Give the year that is asked for, those that there are, and its sections."""
    known = years()
    asked = number_of(request.GET.get("year"))
    year = asked if asked in known else known[0]
    may_know = may(person_of(request), Verb.YEAR_RETURN_SEE)
    return year, known, report(year, with_uses=may_know)


@login_required
def year_report(request: HttpRequest) -> HttpResponse:
    """Show the report of research in a year."""
    year, known, sections = _report(request)
    context = {"year": year, "years": known, "sections": [_shown(one) for one in sections]}
    return render(request, "answers/report.html", context)


def _shown(section: Section) -> dict[str, Any]:
    """Give a section with which of its columns hold numbers."""
    numeric = [
        bool(section.rows) and all(isinstance(row[at], int) for row in section.rows)
        for at in range(len(section.heads))
    ]
    heads = list(zip(section.heads, numeric, strict=True))
    rows = [
        (row[0], list(zip(row[1:], numeric[1:], section.heads[1:], strict=True)))
        for row in section.rows
    ]
    return {"section": section, "heads": heads, "rows": rows}


@login_required
def year_report_pdf(request: HttpRequest) -> HttpResponse:
    """Give the report of a year on paper."""
    year, _, sections = _report(request)
    return report_paper(year, sections)


@login_required
def year_report_csv(request: HttpRequest) -> HttpResponse:
    """Give the report of a year in long form: section, row, column, value."""
    year, _, sections = _report(request)
    lines = [["section", "row", "column", "value"], *long_rows(sections)]
    answer = HttpResponse("".join(csv_lines(lines)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="research-{year}.csv"'
    return answer
