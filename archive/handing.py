"""What an analysis hands over: its methods in words, programs that make it again, long tables."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from archive.analysis.handing.long import long_csv
from archive.analysis.handing.methods import Methods, methods
from archive.analysis.handing.script import cells, notebook, script
from archive.citations import CITED, citation
from archive.exports.citation import text as citation_text
from archive.models import Analysis, Version
from registry.errors import Unseen
from registry.web import person_of, seen_or_404

FORMS = {
    "py": "text/x-python; charset=utf-8",
    "ipynb": "application/x-ipynb+json",
    "csv": "text/csv; charset=utf-8",
}


def methods_of(analysis: Analysis) -> Methods | None:
    """Give the words on method of an analysis that was computed."""
    if not analysis.result:
        return None
    return methods(
        analysis.sort,
        analysis.request,
        analysis.result,
        analysis.facts,
        is_planned=analysis.is_planned,
        code=analysis.code,
        digest=analysis.digest,
        data=[citation_text(citation(one)) for one in analysis.sources.all()],
    )


@login_required
def handed(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """Give an analysis as a program, a notebook, or its numbers in long form."""
    sources = Prefetch("sources", Version.objects.select_related(CITED))
    rows = Analysis.objects.select_related("version__dataset__project").prefetch_related(sources)
    analysis = seen_or_404(rows, person_of(request), pk)
    if form not in FORMS or not analysis.result:
        raise Unseen(
            "The analysis hands over nothing in that form.",
            _("It is given as %(forms)s, once it was computed.") % {"forms": ", ".join(FORMS)},
            "Look at its own page.",
        )
    answer = HttpResponse(_MADE[form](request, analysis), content_type=FORMS[form])
    answer["Content-Disposition"] = f'attachment; filename="analysis-{pk}.{form}"'
    return answer


def _addresses(request: HttpRequest, analysis: Analysis) -> dict[str, str]:
    """Give the address of each version's descriptor by its cohort, the one asked about first."""
    found: dict[str, str] = {}
    sources = sorted(
        analysis.sources.all(), key=lambda one: (one.pk != analysis.version_id, one.accepted_at)
    )
    if analysis.sort == Analysis.Sort.COHORTS:
        sources = sorted(sources, key=lambda one: one.accepted_at)
    for version in sources:
        cohort = version.dataset.project.cohort
        address = request.build_absolute_uri(reverse("archive:descriptor", args=[version.slug]))
        found[cohort if cohort not in found else str(version)] = address
    return found


def _given(request: HttpRequest, analysis: Analysis) -> tuple[Any, ...]:
    return (
        analysis.title,
        _addresses(request, analysis),
        analysis.request,
        analysis.result,
        analysis.facts,
    )


def _script(request: HttpRequest, analysis: Analysis) -> str:
    return script(*_given(request, analysis))


def _notebook(request: HttpRequest, analysis: Analysis) -> str:
    words = methods_of(analysis)
    return notebook(cells(*_given(request, analysis)), analysis.title, words.text if words else "")


def _long(request: HttpRequest, analysis: Analysis) -> str:
    return long_csv(analysis.result)


_MADE: dict[str, Callable[[HttpRequest, Analysis], str]] = {
    "py": _script,
    "ipynb": _notebook,
    "csv": _long,
}
