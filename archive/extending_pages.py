"""Pages of mappings between dictionaries, and the deeds by which cohorts are pooled."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from archive.extending.lines import written
from archive.extending_forms import DICTIONARY_DEEDS, MAPPING_DEEDS, POOL_DEEDS
from archive.models import Dictionary, DictionaryMapping, PooledTable
from archive.trying import try_rules
from registry.web import acts_on, deed_view, person_of, seen_or_404

dictionary_deed = deed_view(
    Dictionary, DICTIONARY_DEEDS, templates={"propose_mapping": "archive/propose.html"}
)
mapping_deed = deed_view(DictionaryMapping, MAPPING_DEEDS)
pool_deed = deed_view(PooledTable, POOL_DEEDS)


@login_required
def mapping(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a mapping: its rules, why they hold, who reviewed them; until then, tried on rows."""
    rows = DictionaryMapping.objects.select_related(
        "old__study", "new__study", "proposer", "reviewer"
    )
    person = person_of(request)
    found = seen_or_404(rows, person, pk)
    trial = try_rules(found, person) if found.state == "proposed" else None
    for _version, told in trial.tables if trial else ():
        for page in (told[name] for name in ("before", "after") if name in told):
            numbers = [one["is_number"] for one in page["columns"]]
            page["cells"] = [list(zip(row, numbers, strict=True)) for row in page["rows"]]
    context = {
        "mapping": found,
        "written": written(found.as_rules),
        "trial": trial,
        "acts": acts_on(found, person),
    }
    return render(request, "archive/mapping.html", context)
