"""Dictionaries, deposits and versions for the tests, each in a state that its deeds reach."""

import copy
import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

from django.utils import timezone

from archive import actions
from archive.acceptance import accept
from archive.analysing import ask_for, compute
from archive.analysis.asked.child import answered
from archive.analysis.asked.kinds import Request
from archive.columnar import make_columns
from archive.copies.models import StoreRun
from archive.copies.rounds import go_round
from archive.engine import run
from archive.engine.limits import Limits
from archive.engine.looking_back import look_back
from archive.engine.reports import Report
from archive.extending.child import answer as copied
from archive.extending.lines import read
from archive.extending.pool_child import answer
from archive.models import Analysis, Deposit, Dictionary, DictionaryMapping, PooledTable, Version
from archive.rounds import take_in
from archive.tasks import check
from registry.errors import Unsound
from registry.people.models import Person
from registry.permissions import Role
from registry.projects.models import Project, Study
from tests.worlds.approvals import make_collecting
from tests.worlds.people import make_person
from tests.worlds.projects import fresh_project, lead_of, make_study, student_of

ETHOGRAM = [
    {
        "code": "REST",
        "name": "resting",
        "kind": "state",
        "definition": "Disc on the ground, no movement but of the spiracles.",
        "exclusive": "posture",
    },
    {
        "code": "SWIM",
        "name": "swimming",
        "kind": "state",
        "definition": "Off the ground, the disc moving.",
        "exclusive": "posture",
    },
]

DESCRIPTOR: dict[str, Any] = {
    "name": "ray-scans",
    "title": "Scans of undulate rays",
    "description": "One row for each scan of one ray, from outside the pool.",
    "resources": [
        {
            "name": "scans",
            "title": "Scans",
            "schema": {
                "primaryKey": ["scan"],
                "fields": [
                    {"name": "scan", "type": "integer", "title": "Scan"},
                    {
                        "name": "ray",
                        "type": "string",
                        "title": "Ray",
                        "description": "By its enrolment code.",
                        "x:role": "animal",
                        "constraints": {"required": True},
                    },
                    {"name": "seen_on", "type": "date", "title": "Seen on", "x:role": "time"},
                    {
                        "name": "posture",
                        "type": "string",
                        "title": "Posture",
                        "x:role": "behaviour",
                        "x:ethogram": ETHOGRAM,
                    },
                    {
                        "name": "depth",
                        "type": "number",
                        "title": "Depth",
                        "x:unit": "m",
                        "x:role": "outcome",
                        "constraints": {"minimum": 0, "maximum": 12},
                    },
                ],
            },
        }
    ],
}


def descriptor() -> dict[str, Any]:
    """Give a sound descriptor of one's own, to change as wanted."""
    return copy.deepcopy(DESCRIPTOR)


def rows(*lines: str) -> bytes:
    """Give the table of scans: the header and these lines; without lines, four sound ones of today.

    The rays R-01 and R-02 are enrolled nowhere unless a test enrols them.
    """
    today = timezone.localdate()
    given = lines or tuple(
        f"{n},R-0{1 + n % 2},{today - timedelta(days=n % 2)},{'REST' if n % 2 else 'SWIM'},{n}.5"
        for n in range(1, 5)
    )
    return "\n".join(["scan,ray,seen_on,posture,depth", *given, ""]).encode()


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Give a zip of these files."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return written.getvalue()


def make_dictionary(study: Study, *, by: Person | None = None, **change: Any) -> Dictionary:
    """Give the next version of a study's dictionary, published by a data steward."""
    return actions.publish_dictionary(
        study,
        descriptor={**descriptor(), **change},
        notes="",
        by=by or make_person(Role.STEWARD),
    )


def make_mapping(*, accepted: bool = False) -> DictionaryMapping:
    """Give a mapping from a study's first dictionary to its second, whose depth is in cm."""
    project = make_collecting().project
    first = make_dictionary(project.study)
    newer = descriptor()
    fields = newer["resources"][0]["schema"]["fields"]
    fields[4] |= {"name": "depth_cm", "x:unit": "cm", "constraints": {"minimum": 0}}
    second = make_dictionary(project.study, resources=newer["resources"])
    mapping = actions.propose_mapping(
        second,
        old=first,
        old_table="scans",
        table="scans",
        rules=read("convert depth from m to cm\nrename depth to depth_cm"),
        reason="The same rule was held to the same wall.",
        by=student_of(project),
    )
    return actions.accept_mapping(mapping, by=lead_of(project)) if accepted else mapping


def make_like(dictionary: Dictionary | None, *, by: Person) -> DictionaryMapping:
    """Give a proposed mapping from the like dictionary of a study that has no project yet."""
    assert dictionary is not None
    return actions.propose_mapping(
        dictionary,
        old=make_dictionary(make_study()),
        old_table="scans",
        table="scans",
        rules=read("rename ray to ray\nrename depth to depth"),
        reason="The same sheet was used.",
        by=by,
    )


def make_pool() -> PooledTable:
    """Give a pooled table of two open versions of a study, one of each of two cohorts."""
    first = make_version()
    study = first.dataset.project.study
    next_one = make_collecting(study=study, cohort="2027–28").project
    second = make_version({"scans.csv": rows("9,R-09,2026-05-01,SWIM,3.25")}, project=next_one)
    return actions.pool_cohorts(
        study, table="scans", sources=[first, second], by=student_of(next_one)
    )


@contextmanager
def pooling_here() -> Iterator[None]:
    """Copy columns and read pools in this process: a child takes a second to start."""

    def asked(_module: str, options: Mapping[str, Any], *_room: object, **_next: str) -> Any:
        return copied(options)

    def answered(_module: str, options: Mapping[str, Any], *_room: object, **_next: str) -> Any:
        return json.loads(json.dumps(answer(options)))

    with (
        mock.patch("archive.columnar.ask", asked),
        mock.patch("archive.pooling.ask", answered),
        mock.patch("archive.trying.ask", answered),
        mock.patch("archive.workbooks.ask", answered),
    ):
        yield


def make_opened(
    project: Project | None = None,
    *,
    dictionary: Dictionary | bool = True,
    by: Person | None = None,
) -> Deposit:
    """Give an opened deposit of a collecting project.

    It is checked by its study's newest dictionary, by the one given, or, with False, by none.
    """
    project = project or make_collecting().project
    chosen: Dictionary | None = None
    if isinstance(dictionary, Dictionary):
        chosen = dictionary
    elif dictionary:
        chosen = project.study.dictionaries.first() or make_dictionary(project.study)
    return actions.open_deposit(
        fresh_project(project),
        dictionary=chosen,
        note="",
        by=by or student_of(project),
    )


def put(deposit: Deposit, files: Mapping[str, bytes], *, by: Person | None = None) -> Deposit:
    """Put files into a deposit, as an upload does."""
    kept = [take_in(deposit, name, [content]) for name, content in files.items()]
    actions.add_files(deposit, kept=kept, by=by or deposit.maker)
    return Deposit.objects.get(pk=deposit.pk)


def make_submitted(
    files: Mapping[str, bytes] | None = None,
    *,
    project: Project | None = None,
    dictionary: Dictionary | bool = True,
    by: Person | None = None,
) -> Deposit:
    """Give a submitted deposit that waits for its check; of one sound table unless told."""
    deposit = make_opened(project, dictionary=dictionary, by=by)
    put(deposit, files or {"scans.csv": rows()})
    return actions.submit_deposit(deposit, by=deposit.maker)


def engine_check(folder: Path, *, today: date, **options: Any) -> Report:
    """Do what the child does, in this process: a child takes seconds to start."""
    report = run.check(folder, **options)
    told = look_back(
        folder,
        report,
        expected=options.get("expected"),
        facts=options.get("facts"),
        today=today,
        limits=options.get("limits", Limits()),
    )
    return replace(report, told=told)


def check_here(deposit: Deposit) -> Deposit:
    """Check a deposit as the worker does, but in this process."""
    with mock.patch("archive.tasks.check_in_child", engine_check):
        return check(deposit)


def make_checked(files: Mapping[str, bytes] | None = None, **more: Any) -> Deposit:
    """Give a deposit that was checked."""
    return check_here(make_submitted(files, **more))


def make_version(
    files: Mapping[str, bytes] | None = None,
    *,
    access: str = "open",
    licence: str = "CC-BY-4.0",
    by: Person | None = None,
    terms: Mapping[str, Any] | None = None,
    **more: Any,
) -> Version:
    """Give an accepted version whose bytes are in the store."""
    deposit = make_checked(files, **more)
    return accept(
        deposit,
        licence=licence,
        access=access,
        by=by or lead_of(deposit.dataset.project),
        **(terms or {}),
    )


# ---------------------------------------------------------------------------------------- analyses


def answered_here(module: str, options: Mapping[str, Any], room: Any, *, next: str) -> Any:
    """Do what the child does, in this process, and refuse as its caller would."""
    told = answered({**options, "parent": 0})
    if refused := told.get("refused"):
        raise Unsound(refused["what"], refused["why"], refused["next"])
    return told


def compute_here(analysis: Analysis) -> Analysis:
    """Compute an analysis as the worker does, but in this process."""
    with mock.patch("archive.analysing.ask", answered_here):
        return compute(analysis)


def make_asked_analysis(
    version: Version | None = None,
    *,
    request: Request | None = None,
    by: Person | None = None,
    **more: Any,
) -> Analysis:
    """Give an analysis that waits: of the use of depth by posture, unless told."""
    version = version or make_version()
    columns = {"animal": "ray", "behaviour": "posture", "session": "seen_on"}
    return ask_for(
        version,
        request or Request("budget", version.descriptor["resources"][0]["name"], columns),
        by=by or student_of(version.dataset.project),
        **{"title": "What rays do", "others": [], "is_planned": False, **more},
    )


def lay_columns(version: Version) -> None:
    """Copy the columns of a version in this process: a child takes seconds to start."""
    make_columns(version, copied)


def make_analysis(version: Version | None = None, **more: Any) -> Analysis:
    """Give an analysis that was computed."""
    analysis = make_asked_analysis(version, **more)
    for one in analysis.sources.all():
        lay_columns(one)
    return compute_here(analysis)


def make_round() -> StoreRun:
    """Give a round through the copies, of a new version or of all that are held."""
    if not Version.objects.filter(copies=None).exists():
        make_version()
    done = go_round(budget_s=60)
    assert done is not None
    return done
