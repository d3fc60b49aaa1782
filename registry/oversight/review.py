"""Reads of the auditor's review: uses by animal, project, approval, person, period, as of a day.

"As of" is two days: what had happened by the one and was recorded by the end of the other.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Max, Min, Q, QuerySet, Sum
from django.db.models.functions import TruncMonth
from django.utils import timezone

from registry.animals.models import Restriction
from registry.drawings import UseMap, UseRow, use_map
from registry.oversight.models import Breach, Use

WEEKS = 47
"""As many as a page is wide."""


@dataclass(frozen=True)
class Asked:
    """What the review looks at; None where it is not narrowed."""

    happened_by: date
    known_by: date
    since: date | None = None
    animal: Any = None
    group: Any = None
    taxon: Any = None
    project: Any = None
    approval: Any = None
    person: Any = None

    @property
    def known_at(self) -> datetime:
        """The last moment of the day by which it was known."""
        return timezone.make_aware(datetime.combine(self.known_by, time.max))


def uses_of(asked: Asked) -> QuerySet[Use]:
    """Give the uses that the review looks at; for a fixed day of knowledge they never change."""
    uses = Use.objects.known_by(asked.known_at).filter(happened_at__date__lte=asked.happened_by)
    if asked.since is not None:
        uses = uses.filter(happened_at__date__gte=asked.since)
    for name in ("animal", "group", "project"):
        if (value := getattr(asked, name)) is not None:
            uses = uses.filter(**{name: value})
    if asked.taxon is not None:
        uses = uses.filter(Q(animal__taxon=asked.taxon) | Q(group__taxon=asked.taxon))
    if asked.person is not None:
        uses = uses.filter(Q(recorded_by=asked.person) | Q(session__observers=asked.person))
    if asked.approval is not None:
        uses = uses.filter(
            project__in=asked.approval.projects.values("pk"),
            procedure__in=asked.approval.limits.filter(is_dropped=False).values("procedure"),
            happened_at__date__gte=asked.approval.starts_on,
            happened_at__date__lte=asked.approval.ends_on,
        )
    return Use.objects.filter(pk__in=uses.values("pk")).select_related(
        "animal__taxon", "group__taxon", "project__study", "procedure", "place", "recorded_by"
    )


def breaches_of(asked: Asked) -> QuerySet[Breach]:
    """Give the breaches within the same bounds, each with the limit that it passed."""
    found = Breach.objects.filter(found_at__lte=asked.known_at).filter(
        Q(happened_on=None) | Q(happened_on__lte=asked.happened_by)
    )
    if asked.since is not None:
        found = found.filter(Q(happened_on=None) | Q(happened_on__gte=asked.since))
    if asked.project is not None:
        found = found.filter(project=asked.project)
    if asked.approval is not None:
        found = found.filter(
            Q(approval=asked.approval) | Q(project__in=asked.approval.projects.values("pk"))
        )
    if asked.animal is not None:
        found = found.filter(Q(animal=asked.animal) | Q(use__animal=asked.animal))
    if asked.group is not None:
        found = found.filter(Q(group=asked.group) | Q(use__group=asked.group))
    if asked.taxon is not None:
        found = found.filter(
            Q(animal__taxon=asked.taxon)
            | Q(group__taxon=asked.taxon)
            | Q(use__animal__taxon=asked.taxon)
            | Q(use__group__taxon=asked.taxon)
        )
    if asked.person is not None:
        found = found.filter(use__recorded_by=asked.person)
    return found.select_related(
        "project__study",
        "approval",
        "animal__taxon",
        "group__taxon",
        "use__animal__taxon",
        "use__group__taxon",
    )


BY: dict[str, tuple[str, tuple[str, ...]]] = {
    "animal": (
        "animal",
        ("animal__code", "animal__name", "group__code", "group__name"),
    ),
    "project": ("project", ("project__study__title", "project__cohort")),
    "person": ("person", ("recorded_by__name",)),
    "procedure": ("procedure", ("procedure__name",)),
    "month": ("month", ("month",)),
}


def sums_of(uses: QuerySet[Use], by: str) -> list[dict[str, Any]]:
    """Sum the uses by one thing: contacts, observations, animals, first and last."""
    columns = BY[by][1]
    if by == "month":
        uses = uses.annotate(month=TruncMonth("happened_at"))
    rows = (
        uses.order_by()
        .values(*columns)
        .annotate(
            contacts=Count("pk", filter=Q(procedure__is_contact=True)),
            watched=Count("pk", filter=Q(procedure__is_contact=False)),
            animals=Count("animal", distinct=True),
            groups=Count("group", distinct=True),
            in_groups=Sum("number", filter=Q(group__isnull=False)),
            highest=Max("severity"),
            first=Min("happened_at"),
            last=Max("happened_at"),
        )
        .order_by(*columns)
    )
    return [{**row, "said": _said(row, by)} for row in rows]


def _said(row: dict[str, Any], by: str) -> str:
    if by == "animal":
        code = row["animal__code"] or row["group__code"]
        name = row["animal__name"] or row["group__name"]
        return f"{name} ({code})" if name and name != code else str(code)
    if by == "month":
        return str(row["month"].strftime("%B %Y"))
    return ", ".join(str(row[column]) for column in BY[by][1])


COLUMNS = (
    "use",
    "happened",
    "recorded",
    "days late",
    "animal",
    "group",
    "number",
    "taxon",
    "study",
    "cohort",
    "procedure",
    "contact",
    "severity",
    "place",
    "recorded by",
    "note",
)


def as_rows(uses: QuerySet[Use]) -> Iterator[tuple[Any, ...]]:
    """Give the uses as the rows of the export, one at a time."""
    for use in uses.order_by("happened_at", "pk").iterator(chunk_size=2000):
        yield (
            use.pk,
            use.happened_at.isoformat(),
            use.recorded_at.isoformat(),
            use.days_late,
            use.animal.code if use.animal else "",
            use.group.code if use.group else "",
            use.number,
            use.subject.taxon.scientific_name,
            use.project.study.title,
            use.project.cohort,
            use.procedure.name,
            "yes" if use.procedure.is_contact else "no",
            use.get_severity_display(),
            use.place.code if use.place else "",
            use.recorded_by.name,
            use.note,
        )


def map_of(asked: Asked, *, page: int = 1, weeks: int = WEEKS) -> UseMap:
    """Draw animals by weeks up to the day of the review; a few queries, whatever the rows."""
    last_monday = asked.happened_by - timedelta(days=asked.happened_by.weekday())
    first = last_monday - timedelta(weeks=weeks - 1)
    uses = uses_of(asked).filter(happened_at__date__gte=first)
    counts: dict[tuple[str, int], list[int]] = {}
    shown: dict[tuple[str, int], tuple[str, str, str]] = {}
    for use in uses:
        key = ("animal", use.animal_id) if use.animal_id else ("group", use.group_id or 0)
        row = counts.setdefault(key, [0] * weeks)
        taxon = use.subject.taxon.common_name
        shown[key] = (taxon, str(use.subject), use.subject.get_absolute_url())
        if use.procedure.is_contact:
            # A use of a group counts one, as for a limit: one of its members may have been in each.
            row[_week(timezone.localdate(use.happened_at), first)] += 1
    marks: dict[tuple[str, int], list[tuple[int, int]]] = {}
    for breach in breaches_of(asked).filter(happened_on__gte=first):
        subject = breach.animal or breach.group or (breach.use.subject if breach.use else None)
        if subject is None or breach.happened_on is None:
            continue
        key = (subject.kind, subject.pk)
        shown.setdefault(key, (subject.taxon.common_name, str(subject), subject.get_absolute_url()))
        marks.setdefault(key, []).append((_week(breach.happened_on, first), breach.pk))
    bars: dict[tuple[str, int], list[tuple[int, int]]] = {}
    barred = Restriction.objects.filter(began_on__lte=asked.happened_by).filter(
        Q(ended_on=None) | Q(ended_on__gte=first)
    )
    for restriction in barred:
        key = (
            ("animal", restriction.animal_id)
            if restriction.animal_id
            else ("group", restriction.group_id or 0)
        )
        begins = max(0, _week(restriction.began_on, first))
        ends = _week(restriction.ended_on, first) if restriction.ended_on else weeks - 1
        bars.setdefault(key, []).append((begins, min(weeks - 1, ends)))
    rows = [
        UseRow(
            group=taxon,
            name=name,
            contacts=tuple(counts.get(key, [0] * weeks)),
            restricted=tuple(bars.get(key, ())),
            breaches=tuple(mark for mark in marks.get(key, ()) if 0 <= mark[0] < weeks),
            url=url,
        )
        for key, (taxon, name, url) in sorted(shown.items(), key=lambda item: item[1])
        if any(counts.get(key, ())) or key in marks
    ]
    return use_map(rows, first, page=page)


def _week(day: date, first: date) -> int:
    return (day - first).days // 7
