"""Pages of the archive: its list, a dataset, dictionaries, deposits and their reports."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch, Q
from django.http import FileResponse, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from archive import shown
from archive.citations import citation, sources_of
from archive.columnar import copies_of
from archive.dictionaries import tables_of
from archive.engine.findings import Group
from archive.engine.gathering import count_of
from archive.exports.citation import erc
from archive.exports.citation import text as citation_text
from archive.exports.licences import licence_of
from archive.exports.linked import heading, in_page
from archive.findings_pages import annotated_book_answer, annotated_table_answer, findings_answer
from archive.forms import DEPOSIT_DEEDS, PROJECT_DEEDS, STUDY_DEEDS, VERSION_DEEDS
from archive.gate import not_passed
from archive.intakes import is_for_intake, is_named_workbook
from archive.mendings import offered
from archive.models import Dataset, Deposit, DepositFile, Mending, Version
from archive.places import check_limits
from archive.recipes import recipes_in
from archive.reported import groups_of, headline, places_of, rows_must, suspicions_of, together
from archive.rounds import path_of
from archive.serving import stone_of, version_of, why_closed
from archive.signposts import linked_data, links_of
from archive.taking import taken_of
from archive.terms import number_parts
from registry.errors import Unseen
from registry.oversight.models import Breach
from registry.permissions import Verb, allowed, may
from registry.projects.models import Project, Study
from registry.web import acts_on, deed_page, deed_view, page_of, person_of, seen_among, seen_or_404

study_deed = deed_view(Study, STUDY_DEEDS)
project_deed = deed_view(Project, PROJECT_DEEDS)
version_deed = deed_view(Version, VERSION_DEEDS, templates={"analyse": "archive/analyse.html"})
_DEED_PAGES = {
    "add_file": "archive/add_file.html",
    "accept": "archive/accept.html",
    "convert": "archive/convert.html",
    "mend": "archive/mend.html",
}
_BESIDE = {"add_file", "drop_file", "convert", "mend"}
"""Deeds that are offered beside what they are done with, not in the row of buttons."""


def _nothing(what: str) -> Unseen:
    return Unseen(what, "It was not found at this address.", "Check the address.")


# ------------------------------------------------------------------------------ what is held


@require_safe
def dataset_list(request: HttpRequest) -> HttpResponse:
    """List the datasets, with what one may know of the newest version of each."""
    person = person_of(request)
    rows = allowed(Dataset.objects.all(), person, Verb.DATASET_SEE)
    asked = request.GET.get("q", "").strip()
    for word in asked.split():
        rows = rows.filter(
            Q(title__icontains=word)
            | Q(project__study__title__icontains=word)
            | Q(project__study__aim__icontains=word)
            | Q(project__cohort__icontains=word)
            | Q(project__study__taxon__common_name__icontains=word)
            | Q(project__study__taxon__scientific_name__icontains=word)
        )
    if person.is_anonymous:
        # Whoever has not signed in is shown what was published, not what is under way.
        rows = rows.filter(versions__is_published=True).distinct()
    rows = rows.select_related("project__study__taxon").prefetch_related(
        Prefetch("versions", allowed(Version.objects.all(), person, Verb.VERSION_SEE))
    )
    page = page_of(request, rows)
    open_to = set(
        allowed(
            Version.objects.filter(dataset__in=[one.pk for one in page]), person, Verb.VERSION_READ
        ).values_list("pk", flat=True)
    )
    for dataset in page:
        dataset.newest = newest_of(list(dataset.versions.all()))
        dataset.is_open = dataset.newest is not None and dataset.newest.pk in open_to
    return render(
        request,
        "archive/list.html",
        {
            "page": page,
            "asked": asked,
            "is_signed_in": not person.is_anonymous,
            "sees_copies": may(person, Verb.COPY_SEE),
        },
    )


def newest_of(versions: list[Version]) -> Version | None:
    """Give the newest held version, or, where none is held, the newest one."""
    held = [version for version in versions if version.state == "held"]
    return max(held or versions, key=lambda one: number_parts(one.number), default=None)


@require_safe
def dataset(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a dataset by its newest version."""
    person = person_of(request)
    rows = Dataset.objects.select_related("project__study__taxon")
    found = seen_or_404(rows, person, pk)
    versions = list(
        allowed(found.versions.all(), person, Verb.VERSION_SEE).select_related(
            "dataset__project__study__taxon", "dictionary", "replaced_by", "deposit"
        )
    )
    if person.is_anonymous and not versions:
        raise _nothing("Nothing of this dataset was published.")
    return _dataset_page(request, found, versions, newest_of(versions))


@require_safe
def version(request: HttpRequest, slug: str) -> HttpResponse:
    """Show one version, or the tombstone in its place."""
    person = person_of(request)
    found = version_of(slug, person)
    if found.state != "held":
        stone = stone_of(found)
        if request.get_preferred_type(["text/html", "application/json"]) == "application/json":
            return JsonResponse(stone, status=410)
        context = {"version": found, "stone": stone, "acts": acts_on(found, person)}
        return render(request, "archive/tombstone.html", context, status=410)
    versions = list(
        allowed(found.dataset.versions.all(), person, Verb.VERSION_SEE).select_related("dataset")
    )
    return _dataset_page(request, found.dataset, versions, found)


def _dataset_page(
    request: HttpRequest, dataset: Dataset, versions: list[Version], shown_one: Version | None
) -> HttpResponse:
    person = person_of(request)
    project = dataset.project
    offered = [] if person.is_anonymous else acts_on(project, person)
    context: dict[str, Any] = {
        "dataset": dataset,
        "project": project,
        "version": shown_one,
        "versions": sorted(versions, key=lambda one: number_parts(one.number), reverse=True),
        "extend": next((act for act in offered if act["path"] == "extend"), None),
        "acts": [act for act in offered if act["path"] == "deposit"],
        "deposits": (
            []
            if person.is_anonymous
            else allowed(dataset.deposits.all(), person, Verb.DEPOSIT_SEE).select_related("maker")
        ),
    }
    if shown_one is not None and shown_one.state == "held":
        context |= _version_context(shown_one, person)
    status = 200 if shown_one is None or shown_one.state == "held" else 410
    answer = render(request, "archive/dataset.html", context, status=status)
    if "links" in context:
        answer["Link"] = heading(context["links"])
    return answer


def _version_context(version: Version, person: Any) -> dict[str, Any]:
    """Give what is told of a version: all of it to those who may read it, else its description."""
    is_open = may(person, Verb.VERSION_READ, version)
    is_damaged = version.is_damaged
    summary = version.deposit.summary if is_open else None
    tables = shown.tables(version.descriptor, summary)
    return {
        "is_open": is_open,
        "why_closed": "" if is_open else why_closed(version),
        "tables": tables,
        "is_damaged": is_damaged,
        "heads": (
            [shown.first_rows(version, table) for table in tables]
            if is_open and not is_damaged
            else []
        ),
        "notes": _notes(summary or {}),
        "copies": copies_of(version) if is_open else [],
        "cited": citation_text(citation(version)),
        "taken": taken_of(version.dataset),
        "linked": mark_safe(
            in_page(linked_data(version, is_open=is_open))
        ),  # what could end it is escaped
        "links": links_of(version, is_open=is_open),
        "licence": licence_of(version.licence),
        "sources": sources_of(version.deposit),
        "pools": seen_among([version.deposit.pool], person),
        "others": [
            resource
            for resource in version.descriptor["resources"]
            if resource.get("type") == "file" and is_open
        ],
        "analyses": (
            []
            if person.is_anonymous
            else allowed(version.analysed_in.all(), person, Verb.ANALYSIS_SEE)
            .select_related("asked_by")
            .defer("result", "facts")
        ),
        "version_acts": [] if person.is_anonymous else acts_on(version, person),
    }


def _notes(summary: dict[str, Any]) -> list[dict[str, Any]]:
    """Give what the check noted beside the data, without what was to be done about it then."""
    noted = [
        {**finding, "todo": "", "number": 0}
        for group in groups_of(summary)
        if group["kind"] != "must"
        for finding in group["findings"]
    ]
    for number, finding in enumerate(noted, start=1):
        finding["number"] = number
    intro = _("The data were accepted as they are; this is what their check noted.")
    return [{"kind": "read", "heading": _("Quality"), "intro": intro, "findings": noted}]


# ------------------------------------------------------------------------------ deposits


@login_required
def deposit_list(request: HttpRequest) -> HttpResponse:
    """List the deposits that one may see, newest first."""
    rows = allowed(Deposit.objects.all(), person_of(request), Verb.DEPOSIT_SEE)
    state = request.GET.get("state", "")
    if state:
        rows = rows.filter(state=state)
    context = {
        "page": page_of(request, rows.select_related("dataset", "maker").defer("summary")),
        "states": Deposit.lifecycle.choices,
        "asked": state,
    }
    return render(request, "archive/deposits.html", context)


def _deposit(request: HttpRequest, pk: int) -> Deposit:
    rows = Deposit.objects.select_related("dataset__project__study", "dictionary", "maker", "pool")
    return seen_or_404(rows, person_of(request), pk)


@login_required
def deposit(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a deposit: its files while it is open, how far its check is, then the report."""
    found = _deposit(request, pk)
    person = person_of(request)
    acts = acts_on(found, person)
    open_paths = {act["path"] for act in acts}
    version = Version.objects.filter(deposit=found).first()
    counts = {group: count_of(found.summary, group) for group in Group}
    groups = groups_of(found.summary, _breaches(found)) if found.summary else []
    suspicions = suspicions_of(found.summary)
    may_mend = "mend" in open_paths and bool(offered(found))
    files = found.files.filter(is_dropped=False).select_related("added_by")
    context = {
        "deposit": found,
        "project": found.dataset.project,
        "version": version,
        "files": files,
        "earlier": found.files.filter(is_dropped=True).select_related("added_by"),
        "acts": [act for act in acts if act["path"] not in _BESIDE],
        "stretches": places_of(found.summary),
        "suspicions": suspicions,
        "together": together(suspicions) if may_mend else [],
        "may_mend": may_mend,
        "mendings": Mending.objects.filter(result__deposit=found).select_related(
            "source", "result", "made_by"
        ),
        "may_add": "add_file" in open_paths and found.pool_id is None,
        "may_drop": "drop_file" in open_paths and found.pool_id is None,
        "for_intake": {one.pk for one in files if is_for_intake(one.name)},
        "books": {one.pk for one in files if is_named_workbook(one.name)},
        "recipes": recipes_in(found).values(),
        "limits": check_limits().words(),
        "percent": round(100 * found.progress),
        "is_told": found.state in {"checked", "accepted"} and bool(found.summary),
        "groups": groups,
        "tables": _columns(found),
        "headline": headline(found, groups),
        "rows_must": rows_must(found.summary),
        "must": counts[Group.TABLE],
        "explain": counts[Group.REGISTER],
        "read": counts[Group.UNUSUAL],
    }
    return render(request, "archive/deposit.html", context)


def _breaches(deposit: Deposit) -> dict[str, str]:
    """Give the numbers of the breaches that the deposit opened, by code."""
    numbers: dict[str, list[int]] = {}
    rows = Breach.objects.filter(
        project=deposit.dataset.project_id, deposit_number=deposit.pk
    ).order_by("pk")
    for code, pk in rows.values_list("code", "pk"):
        numbers.setdefault(code, []).append(pk)
    return {
        code: ngettext("breach %(first)s", "breaches %(first)s to %(last)s", len(found))
        % {"first": found[0], "last": found[-1]}
        for code, found in numbers.items()
    }


def _columns(deposit: Deposit) -> list[shown.Table]:
    """Give the columns as they were read."""
    named = deposit.summary.get("tables", []) if deposit.summary else []
    known = {
        (table["name"], field["name"]): field
        for table in tables_of(deposit.dictionary.descriptor if deposit.dictionary else {})
        for field in table["schema"]["fields"]
    }
    read = {
        "resources": [
            {
                "name": table["name"],
                "path": table["path"],
                "schema": {
                    "fields": [
                        known.get((table["name"], column["name"]))
                        or {
                            "name": column["name"],
                            "type": column["type"],
                            "x:unit": column["unit"],
                            "x:role": column["role"],
                        }
                        for column in table["columns"]
                    ]
                },
            }
            for table in named
        ]
    }
    return shown.tables(read, deposit.summary)


@login_required
def deposit_deed(request: HttpRequest, pk: int, path: str) -> HttpResponse:
    """Do a deed on a deposit; adding files and accepting show more than their form."""
    subject = _deposit(request, pk)
    deed = DEPOSIT_DEEDS.get(path)
    if deed is None:
        raise _nothing(said("“%(path)s” is no step of a deposit.") % {"path": path})
    extra: dict[str, Any] = {}
    if path == "add_file":
        extra = {"limits": check_limits().words()}
    if path == "convert":
        rows = subject.files.filter(is_dropped=False)
        extra = {"files": [one for one in rows if is_for_intake(one.name)]}
    if path == "accept":
        gone = subject.summary.get("findings", {}).get("rows-vanished", [])
        extra = {
            "gone": gone,
            "gone_count": sum(
                one["count"]
                for one in subject.summary.get("counts", [])
                if one["code"] == "rows-vanished"
            ),
            "breaches": _breaches(subject).values(),
            "before_gate": not_passed(subject),
            "agreements": subject.dataset.project.agreements.select_related("person"),
            "tables": _columns(subject),
        }
    if path == "mend":
        extra = {"offers": offered(subject)}
    template = _DEED_PAGES.get(path, "_deed.html")
    return deed_page(request, deed, subject, template=template, extra=extra)


@login_required
def deposit_file(request: HttpRequest, pk: int, file: int) -> HttpResponseBase:
    """Give one file of a deposit, just as it was received."""
    found = DepositFile.objects.filter(deposit=_deposit(request, pk), pk=file).first()
    if found is None:
        raise _nothing("The deposit has no such file.")
    return FileResponse(
        path_of(found).open("rb"),
        as_attachment=True,
        filename=found.name,
        content_type="application/octet-stream",
    )


@login_required
def findings(request: HttpRequest, pk: int, form: str) -> HttpResponseBase:
    """Give every finding of the newest check, as CSV or as JSON."""
    return findings_answer(_deposit(request, pk), form)


@login_required
def annotated_table(request: HttpRequest, pk: int, table: str) -> HttpResponseBase:
    """Give one table as CSV with what was found beside its rows."""
    return annotated_table_answer(_deposit(request, pk), table)


@login_required
def annotated_book(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give the tables as one workbook with what was found beside their rows."""
    return annotated_book_answer(_deposit(request, pk))


@require_safe
def ark(request: HttpRequest, name: str) -> HttpResponse:
    """Lead an identifier to the page of what it names; with `?info`, tell what that is.

    References
    ----------
    Kunze and Bermès, The ARK Identifier Scheme, on the inflection `?info`.
    """
    found = Version.objects.filter(identifier__endswith=f"/{name}").first()
    if found is not None:
        if "info" in request.GET and found.is_published:
            told = erc(citation(found))
            return HttpResponse(told, content_type="text/plain; charset=utf-8")
        return redirect(found)
    dataset = Dataset.objects.filter(identifier__endswith=f"/{name}").first()
    if dataset is None:
        raise _nothing("No dataset has that identifier.")
    return redirect(dataset)
