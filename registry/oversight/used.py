"""What is used up of the limits of approvals, summed in the database."""

from collections.abc import Iterable, Sequence

from django.db.models import Count, Max, QuerySet

from registry.approvals.models import Approval
from registry.oversight.counting import EnrolmentRow, LineUse, UseSum, line_use_of_sums
from registry.oversight.facts import kind_at, subject_at
from registry.oversight.limits import ApprovalFacts, NeededFacts
from registry.oversight.models import Enrolment, Use
from registry.projects.models import Plan


def used_of(
    needed: Iterable[NeededFacts], procedures: Iterable[int] | None = None
) -> dict[int, LineUse]:
    """Give what is used up of each limit line, over every project that its approval covers.

    `procedures` narrows the lines to those that an event could fall under. Four queries.
    """
    approvals = {one.number: one for permission in needed for one in permission.approvals}
    asked = None if procedures is None else set(procedures)
    return used_of_lines(list(approvals.values()), asked)


def used_of_lines(
    approvals: Sequence[ApprovalFacts], asked: set[int] | None = None
) -> dict[int, LineUse]:
    """Give the same for approvals, whoever needs them."""
    covers: dict[int, set[int]] = {}
    for approval, project in Approval.projects.through.objects.filter(
        approval__in=[one.number for one in approvals]
    ).values_list("approval_id", "project_id"):
        covers.setdefault(approval, set()).add(project)
    projects = set().union(*covers.values()) if covers else set()
    lines = {
        line: covers.get(approval.number, set())
        for approval in approvals
        for line in approval.limits
        if asked is None or line.procedure in asked
    }
    enrolments = enrolment_rows(Enrolment.objects.filter(project__in=projects))
    uses = Use.objects.filter(project__in=projects, procedure__in={one.procedure for one in lines})
    sums = use_sums(uses)
    return {
        line.number: line_use_of_sums(
            line.kind,
            line.procedure,
            [row for row in enrolments if row.project in within],
            [row for row in sums if row.project in within],
        )
        for line, within in lines.items()
    }


def use_sums(uses: QuerySet[Use]) -> list[UseSum]:
    """Sum the standing ones among some uses; one query, a row for each animal and procedure."""
    summed = (
        uses.standing()  # type: ignore[attr-defined]  # why: uses come from its own manager
        .order_by()
        .values_list(
            "project_id",
            "animal_id",
            "group_id",
            "animal__taxon_id",
            "animal__life_stage",
            "group__taxon_id",
            "group__life_stage",
            "procedure_id",
            "enrolment_id",
        )
        .annotate(most=Max("number"), times=Count("pk"))
    )
    return [UseSum(row[0], subject_at(*row[1:3]), kind_at(*row[3:7]), *row[7:]) for row in summed]


def enrolment_rows(enrolments: QuerySet[Enrolment]) -> list[EnrolmentRow]:
    """Read enrolments for counting; two queries, however many there are."""
    read = list(
        enrolments.order_by("pk").values_list(
            "pk",
            "project_id",
            "animal_id",
            "group_id",
            "animal__taxon_id",
            "animal__life_stage",
            "group__taxon_id",
            "group__life_stage",
            "number",
            "from_on",
            "recorded_at",
            "left_on",
            "left_recorded_at",
        )
    )
    planned: dict[int, set[int]] = {}
    for project, procedure in Plan.procedures.through.objects.filter(
        plan__project__in={row[1] for row in read}
    ).values_list("plan__project_id", "procedure_id"):
        planned.setdefault(project, set()).add(procedure)
    return [
        EnrolmentRow(
            number=row[0],
            project=row[1],
            subject=subject_at(row[2], row[3]),
            kind=kind_at(*row[4:8]),
            animals=row[8],
            procedures=frozenset(planned.get(row[1], ())),
            from_on=row[9],
            recorded_at=row[10],
            left_on=row[11],
            left_recorded_at=row[12],
        )
        for row in read
    ]
