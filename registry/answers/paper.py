"""Answers and the yearly report on paper: plain facts for their templates."""

from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.utils.translation import gettext as _

from archive.citations import CITED, citation
from archive.exports.citation import text
from registry.answers.models import Answer
from registry.answers.reuse import Section
from registry.answers.shown import KEPT, figure_for
from registry.people.models import Person
from registry.printing.answers import pdf_answer
from registry.saying import day_said

_ANSWER = Path(__file__).parent / "answer.typ"
_REPORT = Path(__file__).parent / "report.typ"


def answer_paper(answer: Answer, person: Person) -> HttpResponse:
    """Print an answer on one page, with its figure where the person may see it."""
    shown = figure_for(answer, person)
    figure = shown.figure
    question = answer.question
    parts = [
        (_("What was asked"), f"{question.title} {question.why}"),
        (_("What was done"), answer.done),
        (_("What was found"), answer.summary),
        (_("How sure this is"), answer.sureness),
        (_("What remains open"), answer.left_open),
    ]
    facts: dict[str, Any] = {
        "title": question.title,
        "over": _("Answer to question %(number)s, written by %(name)s, %(day)s")
        % {
            "number": question.pk,
            "name": answer.written_by.name,
            "day": day_said(answer.written_at),
        },
        "parts": [
            {"title": title, "text": said, "is_found": said == answer.summary}
            for title, said in parts
            if said.strip()
        ],
        "figure": figure.caption if figure else "",
        "kept": str(KEPT) if shown.is_kept else "",
        "actions_head": _("What to do differently (suggested, not ordered)"),
        "actions_heads": [_("Suggested"), _("Who"), _("By"), _("Done?")],
        "actions": [_action(one) for one in answer.actions.select_related("owner")],
        "evidence_head": _("Evidence"),
        "evidence": [text(citation(one)) for one in answer.evidence.select_related(CITED)],
        "caution": _(
            "A change of husbandry is decided by the curator and the veterinary surgeon; local "
            "codes and licensed practice come first."
        ),
    }
    pictures = {"figure.svg": figure.alone.encode()} if figure else {}
    return pdf_answer(_ANSWER, facts, name=f"answer-{answer.pk}", pictures=pictures)


def _action(one: Any) -> list[str]:
    done = {None: _("not yet"), True: _("done"), False: _("not done")}[one.is_done]
    due = day_said(one.due_on) if one.due_on else ""
    return [one.text, one.owner.name if one.owner else "", due, done]


def report_paper(year: int, sections: list[Section]) -> HttpResponse:
    """Print the report of a year."""
    facts = {
        "title": _("Research in the collection, %(year)s") % {"year": year},
        "sections": [
            {
                "title": one.title,
                "note": one.note,
                "heads": list(one.heads),
                "rows": [[str(cell) for cell in row] for row in one.rows],
                "numbers": [
                    at
                    for at in range(1, len(one.heads))
                    if one.rows and all(isinstance(row[at], int) for row in one.rows)
                ],
            }
            for one in sections
        ],
        "none": _("Nothing to tell."),
    }
    return pdf_answer(_REPORT, facts, name=f"research-{year}")
