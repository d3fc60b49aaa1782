"""Analyses on their way: what the register adds, the worker's part, and what broke off."""

from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.tasks import TaskResultStatus, task
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tasks_db.models import DBTaskResult

from archive import actions
from archive.analysis.asked.kinds import Request, checked
from archive.analysis.asked.offered import PLANNED
from archive.analysis.asked.room import AnalysisRoom
from archive.columnar import copy_of, make_columns, tables_in
from archive.engine.roles import ethogram_of, fields_of
from archive.models import Analysis, Version
from registry.errors import Refusal, Unsound
from registry.guarded.asking import ask
from registry.people.models import Person, the_clock
from registry.projects.designed import standing
from registry.projects.models import Plan

MODULE = "archive.analysis.asked.child"
TRIES = 3
DEAD = timedelta(minutes=25)
"""Longer than any analysis may run: what has waited so long has lost its worker."""
_NEXT = "Ask it of a smaller table, or tell the administrator."


def table_in(version: Version, name: str) -> dict[str, Any]:
    """Give a table that a version describes, by its name.

    Raises
    ------
    Unsound
        Where it has none of that name.
    """
    tables = {one["name"]: one for one in tables_in(version)}
    if name not in tables:
        raise Unsound(
            _("The analysis was not asked."),
            _("The version has no table “%(name)s”.") % {"name": name[:60]},
            _("Name one of: %(names)s.") % {"names": ", ".join(tables)},
            fields={"table": _("There is no such table.")},
        )
    return tables[name]


def ask_for(
    version: Version,
    request: Request,
    *,
    title: str,
    others: list[Version],
    is_planned: bool,
    by: Person,
) -> Analysis:
    """Look an analysis through, ask it, and queue it."""
    schema = table_in(version, request.table)["schema"]
    checked(request, schema)
    for other in others:
        checked(request, table_in(other, request.table)["schema"])
    analysis = actions.ask_analysis(
        version,
        request=request,
        title=title,
        facts=_facts(version, request, schema),
        others=others,
        is_planned=is_planned,
        by=by,
    )
    enqueue_analysis(analysis)
    return analysis


def repeat(analysis: Analysis, *, by: Person) -> Analysis:
    """Have an analysis run again."""
    analysis = actions.repeat_analysis(analysis, by=by)
    enqueue_analysis(analysis)
    return analysis


def plan_of(version: Version) -> Plan | None:
    """Give the plan of a version's project."""
    plan: Plan | None = getattr(version.dataset.project, "plan", None)
    return plan


def _facts(version: Version, request: Request, schema: Mapping[str, Any]) -> dict[str, Any]:
    """Give what the register adds: the revealed draw, the rules of recording, the ethogram."""
    plan = plan_of(version)
    entries = _ethogram(request, schema)
    facts: dict[str, Any] = {
        "ethogram": [one["code"] for one in entries],
        "acts": [[one["code"], one["kind"], one["exclusive"]] for one in entries],
    }
    if plan is None:
        return facts
    facts["recorded"] = [plan.sampling_rule, plan.recording_rule]
    drawn = getattr(plan, "drawn", None)
    if drawn is not None and drawn.state == "revealed":
        facts["drawn"] = {
            "method": drawn.method,
            "places": drawn.places,
            "commitment": drawn.commitment,
            "given": drawn.drawn_from.given,
        }
    size = standing(plan).get("size")
    facts["planned_tests"] = sorted(PLANNED.get(size.given["design"], ())) if size else []
    return facts


def _ethogram(request: Request, schema: Mapping[str, Any]) -> list[dict[str, Any]]:
    named = request.column("behaviour")
    for one in fields_of(schema):
        if one["name"] == named:
            return ethogram_of(one)
    return []


# --------------------------------------------------------------------------------- the worker


@cache
def code_digest() -> str:
    """Give the release and the digest of the code that analyses are computed by."""
    folder = settings.ROOT / "archive" / "analysis"
    read = sha256()
    for path in sorted(folder.rglob("*.py")):
        read.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return read.hexdigest()[:16]


@task
def run_analysis(pk: int) -> str:
    """Compute an analysis that waits; one that moved on meanwhile is left alone."""
    analysis = Analysis.objects.waiting().filter(pk=pk).first()
    return compute(analysis).state if analysis is not None else "not waiting"


def enqueue_analysis(analysis: Analysis) -> None:
    """Queue an analysis, once its row is whole."""
    transaction.on_commit(lambda: run_analysis.enqueue(analysis.pk))


def compute(
    analysis: Analysis, answer: Callable[[dict[str, Any]], dict[str, Any]] | None = None
) -> Analysis:
    """Run an analysis in a child with limits, and record what it gave, or why it gave nothing.

    `answer` runs it otherwise: the demo, whose tables nobody else wrote, starts no child for each.
    """
    try:
        told = (answer or _in_child)(_options(analysis))
    except Refusal as refused:
        return _hand_back(analysis, refused.why, refused.next, what=refused.what)
    if analysis.state == "repeated":
        return actions.confirm_analysis(
            analysis, digest=told["digest"], code=code_digest(), by=the_clock()
        )
    is_planned, said_of = standing_of(analysis, told["found"])
    return actions.record_analysis(
        analysis,
        result=told["found"],
        digest=told["digest"],
        code=code_digest(),
        is_planned=is_planned,
        standing_said=said_of,
        by=the_clock(),
    )


def _in_child(options: dict[str, Any]) -> dict[str, Any]:
    return ask(MODULE, options, AnalysisRoom(), next=_NEXT)


def _hand_back(analysis: Analysis, why: str, next: str, *, what: str = "") -> Analysis:
    """Close what gave nothing; one that was run again keeps its first numbers, unconfirmed."""
    if analysis.state == "repeated":
        return actions.confirm_analysis(analysis, digest="", code=code_digest(), by=the_clock())
    said = {"what": what or _("Nothing was computed."), "why": why, "next": next}
    return actions.refuse_analysis(analysis, refusal=said, by=the_clock())


def _options(analysis: Analysis) -> dict[str, Any]:
    """Give what the child is told; copies of columns that are not there yet are made."""
    name = analysis.request["table"]
    sources = list(analysis.sources.select_related("dataset__project").order_by("accepted_at"))
    # The version that was asked comes first: an analysis of one table reads the first.
    if analysis.sort != Analysis.Sort.COHORTS:
        sources = [one for one in sources if one.pk == analysis.version_id]
    tables: dict[str, str] = {}
    for version in sources:
        make_columns(version)
        path: Path = copy_of(version, table_in(version, name))
        if not path.exists():
            raise Unsound(
                _("Nothing was computed."),
                _("The columns of “%(name)s” could not be read as numbers.") % {"name": name},
                _("Tell the administrator that it has no copy of its columns."),
            )
        cohort = version.dataset.project.cohort
        tables[cohort if cohort not in tables else str(version)] = str(path.resolve())
    return {"tables": tables, "request": analysis.request, "facts": analysis.facts}


def standing_of(analysis: Analysis, found: Mapping[str, Any]) -> tuple[bool, str]:
    """Say whether it counts as planned: a person said so, and the plan's own sum agrees."""
    if not analysis.is_planned:
        return False, _("Exploratory: it was not named in the plan.")
    planned = analysis.facts.get("planned_tests") or []
    choice = found.get("choice")
    if planned and choice and choice["test"] not in planned:
        return False, _("Exploratory: the plan reckons with another test.")
    return True, _("Planned: %(name)s says that the plan named it.") % {
        "name": analysis.asked_by.name
    }


def take_up_again() -> int:
    """Queue again each analysis whose worker is gone; after three attempts it is handed back."""
    late = timezone.now() - DEAD
    taken = 0
    for analysis in Analysis.objects.waiting():
        own = DBTaskResult.objects.filter(
            task_path=run_analysis.module_path,
            args_kwargs__args__0=analysis.pk,
            enqueued_at__gte=analysis.computed_at or analysis.asked_at,
        )
        if own.filter(status=TaskResultStatus.READY).exists():
            continue
        running = own.filter(status=TaskResultStatus.RUNNING)
        if running.filter(started_at__gte=late).exists() or analysis.asked_at > late:
            continue
        running.update(
            status=TaskResultStatus.FAILED,
            finished_at=timezone.now(),
            traceback="The worker was not heard of.",
        )
        if own.filter(status=TaskResultStatus.FAILED).count() >= TRIES:
            _hand_back(
                analysis,
                _("It broke off each time."),
                _("Ask it otherwise, or tell the administrator."),
            )
            continue
        run_analysis.enqueue(analysis.pk)
        taken += 1
    return taken
