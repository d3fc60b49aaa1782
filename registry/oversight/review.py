"""Reads of the auditor's review: uses by animal, project, approval, person, period, as of a day.

"As of" is two days: what had happened by the one and was recorded by the end of the other.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import (
    Case,
    Count,
    DateField,
    Exists,
    Max,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Animal, Group, Restriction
from registry.drawings import UseMap, UseRow, use_map
from registry.moments import after, begin
from registry.oversight.models import Breach, Session, Use
from registry.projects.models import Procedure, Severity
from registry.saying import month_said

WEEKS = 47
"""As many as a page is wide."""
ROWS_A_PAGE = 25


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
    uses = Use.objects.known_by(asked.known_at).filter(happened_at__lt=after(asked.happened_by))
    if asked.since is not None:
        uses = uses.filter(happened_at__gte=begin(asked.since))
    for name in ("animal", "group", "project"):
        if (value := getattr(asked, name)) is not None:
            uses = uses.filter(**{name: value})
    if asked.taxon is not None:
        uses = uses.filter(Q(animal__taxon=asked.taxon) | Q(group__taxon=asked.taxon))
    if asked.person is not None:
        # Not by a join: a session has several observers, and would give a use as often.
        watched = Session.observers.through.objects.filter(
            session=OuterRef("session"), person=asked.person
        )
        uses = uses.filter(Q(recorded_by=asked.person) | Exists(watched))
    if asked.approval is not None:
        uses = uses.filter(
            project__in=asked.approval.projects.values("pk"),
            procedure__in=asked.approval.limits.filter(is_dropped=False).values("procedure"),
            happened_at__gte=begin(asked.approval.starts_on),
            happened_at__lt=after(asked.approval.ends_on),
        )
    return uses.select_related(
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


BY: dict[str, tuple[str | Promise, tuple[str, ...]]] = {
    "animal": (_("animal"), ("animal", "group")),
    "project": (_("project"), ("project",)),
    "person": (_("person"), ("recorded_by",)),
    "procedure": (_("procedure"), ("procedure",)),
    "month": (_("month"), ("month",)),
}


def sums_of(uses: QuerySet[Use], by: str) -> QuerySet[Use, dict[str, Any]]:
    """Sum the uses by one thing: contacts, observations, animals, first and last.

    The most used come first, months in their order. What each is of stands there as a number;
    `with_names` writes a page of it out.
    """
    columns = BY[by][1]
    if by == "month":
        uses = uses.annotate(month=_month(uses))
    contacts = list(Procedure.objects.filter(is_contact=True).values_list("pk", flat=True))
    is_one = by == "animal"  # then there is but one animal or group in each sum
    sums: QuerySet[Use, dict[str, Any]] = (
        uses.order_by()
        .values(*columns)
        .annotate(
            contacts=Count("pk", filter=Q(procedure__in=contacts)),
            watched=Count("pk", filter=~Q(procedure__in=contacts)),
            animals=_present("animal") if is_one else Count("animal", distinct=True),
            groups=_present("group") if is_one else Count("group", distinct=True),
            in_groups=Sum("number", filter=Q(group__isnull=False)),
            highest=Max("severity"),
            first=Min("happened_at"),
            last=Max("happened_at"),
        )
        .order_by(*(() if by == "month" else ("-contacts", "-watched")), *columns)
    )
    return sums


def _present(name: str) -> Max:
    return Max(Case(When(**{f"{name}__isnull": False}, then=Value(1)), default=Value(0)))


def _month(uses: QuerySet[Use]) -> Case:
    """Give the first day of the month of each use.

    Moments are compared with the months' beginnings; to cut each one down to its month takes
    SQLite ten times as long.
    """
    found = uses.order_by().aggregate(first=Min("happened_at"), last=Max("happened_at"))
    if found["first"] is None:
        return Case(default=Value(None), output_field=DateField())
    day = timezone.localdate(found["first"]).replace(day=1)
    last = timezone.localdate(found["last"])
    whens = []
    while day <= last:
        following = (day + timedelta(days=31)).replace(day=1)
        whens.append(When(happened_at__lt=begin(following), then=Value(day)))
        day = following
    return Case(*whens, output_field=DateField())


def with_names(rows: Iterable[dict[str, Any]], by: str) -> list[dict[str, Any]]:
    """Write out a page of sums, each with what it is of; a query for each kind."""
    listed = list(rows)
    named = {name: _names(name, {row[name] for row in listed} - {None}) for name in BY[by][1]}
    return [
        {
            **row,
            "said": ", ".join(
                named[name][row[name]] for name in BY[by][1] if row[name] is not None
            ),
        }
        for row in listed
    ]


def _names(name: str, ids: set[Any]) -> dict[Any, str]:
    if name == "month":
        return {day: month_said(day) for day in ids}
    model: Any = Use._meta.get_field(name).related_model
    rows = model._default_manager.filter(pk__in=ids)
    if name == "project":
        rows = rows.select_related("study")
    return {row.pk: _said(row) for row in rows}


def _said(row: Any) -> str:
    """Give a row's name, with the code of an animal or a group that has both."""
    code = getattr(row, "code", "") if isinstance(row, Animal | Group) else ""
    return f"{row} ({code})" if code and str(row) != code else str(row)


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


_EXPORTED = (
    "pk",
    "happened_at",
    "recorded_at",
    "animal__code",
    "group__code",
    "number",
    "animal__taxon__scientific_name",
    "group__taxon__scientific_name",
    "project__study__title",
    "project__cohort",
    "procedure__name",
    "procedure__is_contact",
    "severity",
    "place__code",
    "recorded_by__name",
    "note",
)


def as_rows(uses: QuerySet[Use]) -> Iterator[tuple[Any, ...]]:
    """Give the uses as the rows of the export, one at a time, as they are read."""
    severities = dict(Severity.choices)
    read = uses.order_by("happened_at", "pk").values_list(*_EXPORTED, named=True)
    for use in read.iterator(chunk_size=2000):
        yield (
            use.pk,
            use.happened_at.isoformat(),
            use.recorded_at.isoformat(),
            max(0, (use.recorded_at - use.happened_at).days),
            use.animal__code or "",
            use.group__code or "",
            use.number,
            use.animal__taxon__scientific_name or use.group__taxon__scientific_name,
            use.project__study__title,
            use.project__cohort,
            use.procedure__name,
            "yes" if use.procedure__is_contact else "no",
            severities[use.severity],
            use.place__code or "",
            use.recorded_by__name,
            use.note,
        )


type Key = tuple[str, int]
"""An animal or a group: its kind and its number."""


def map_of(asked: Asked, *, page: int = 1, weeks: int = WEEKS) -> UseMap:
    """Draw animals by weeks up to the day of the review; a few queries, whatever the rows."""
    last_monday = asked.happened_by - timedelta(days=asked.happened_by.weekday())
    first = last_monday - timedelta(weeks=weeks - 1)
    marks = _marks(asked, first, weeks)
    contacts = Procedure.objects.filter(is_contact=True).values_list("pk", flat=True)
    uses = uses_of(asked).filter(happened_at__gte=begin(first), procedure__in=list(contacts))
    order = _most_used(uses, marks)
    pages = max(1, -(-len(order) // ROWS_A_PAGE))
    page = min(max(page, 1), pages)
    told = order[(page - 1) * ROWS_A_PAGE : page * ROWS_A_PAGE]
    counts = _contacts(uses, told, first, weeks)
    bars = _bars(asked, first, weeks)
    none = (0,) * weeks
    rows = [
        UseRow(
            group=taxon,
            name=name,
            contacts=tuple(counts.get(key, none)),
            restricted=tuple(bars.get(key, ())),
            breaches=tuple(mark for mark in marks.get(key, ()) if 0 <= mark[0] < weeks),
            url=url,
        )
        for taxon, name, url, key in sorted(_shown(told))
    ]
    return use_map(rows, first, page=page, rows_a_page=ROWS_A_PAGE, of=len(order))


def _most_used(uses: QuerySet[Use], marks: Iterable[Key]) -> list[Key]:
    """Give the animals and groups with a contact, the most used first; then those with a breach."""
    summed = uses.order_by().values_list("animal", "group").annotate(number=Count("pk"))
    numbers = {_key(animal, group): number for animal, group, number in summed}
    for key in marks:
        numbers.setdefault(key, 0)
    return sorted(numbers, key=lambda key: (-numbers[key], key))


def _key(animal: int | None, group: int | None) -> Key:
    return ("animal", animal) if animal is not None else ("group", group or 0)


def _contacts(
    uses: QuerySet[Use], keys: Iterable[Key], first: date, weeks: int
) -> Mapping[Key, list[int]]:
    """Count the contacts of each of these animals and groups by week.

    A use of a group counts one, as for a limit: one of its members may have been in each.
    """
    mondays = [begin(first + timedelta(weeks=week)) for week in range(weeks)]
    ids = {kind: [pk for of, pk in keys if of == kind] for kind in ("animal", "group")}
    here = uses.filter(Q(animal__in=ids["animal"]) | Q(group__in=ids["group"]))
    counts: dict[Key, list[int]] = {}
    for animal, group, at in here.order_by().values_list("animal", "group", "happened_at"):
        row = counts.setdefault(_key(animal, group), [0] * weeks)
        row[bisect_right(mondays, at) - 1] += 1
    return counts


def _marks(asked: Asked, first: date, weeks: int) -> Mapping[Key, list[tuple[int, int]]]:
    """Give the week and the number of each breach, of what it is known to concern."""
    columns = ("pk", "happened_on", "animal", "group", "use__animal", "use__group")
    found = breaches_of(asked).filter(happened_on__gte=first).order_by("pk")
    marks: dict[Key, list[tuple[int, int]]] = {}
    for number, on, animal, group, used, used_group in found.values_list(*columns):
        if any(one is not None for one in (animal, group, used, used_group)):
            key = _key(animal, group) if animal or group else _key(used, used_group)
            marks.setdefault(key, []).append((_week(on, first), number))
    return marks


def _bars(asked: Asked, first: date, weeks: int) -> Mapping[Key, list[tuple[int, int]]]:
    """Give the first and last week of each restriction."""
    barred = Restriction.objects.filter(began_on__lte=asked.happened_by, enclosure=None).filter(
        Q(ended_on=None) | Q(ended_on__gte=first)
    )
    bars: dict[Key, list[tuple[int, int]]] = {}
    for animal, group, on, until in barred.order_by("pk").values_list(
        "animal", "group", "began_on", "ended_on"
    ):
        ends = _week(until, first) if until else weeks - 1
        span = (max(0, _week(on, first)), min(weeks - 1, ends))
        bars.setdefault(_key(animal, group), []).append(span)
    return bars


def _shown(keys: Iterable[Key]) -> Iterator[tuple[str, str, str, Key]]:
    """Give taxon, name and address of animals and groups; a query for each kind."""
    wanted: dict[str, list[int]] = {}
    for kind, pk in keys:
        wanted.setdefault(kind, []).append(pk)
    for model in (Animal, Group):
        rows: QuerySet[Any] = model._default_manager.filter(pk__in=wanted.get(model.kind, ()))
        folder = "/animals/" if model is Animal else "/animals/groups/"
        columns = ("pk", "taxon__common_name", "name", "code")
        for pk, taxon, name, code in rows.order_by().values_list(*columns):
            yield taxon, name or code, f"{folder}{pk}/", (model.kind, pk)


def _week(day: date, first: date) -> int:
    return (day - first).days // 7
