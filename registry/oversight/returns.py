"""Read what a yearly return counts: the uses of animals in work that was screened as regulated."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Max, Min, Q, QuerySet, Sum
from django.utils import timezone

from registry.approvals.models import Screening
from registry.moments import after, begin
from registry.oversight.counting import NON_RECOVERY
from registry.oversight.facts import subject_at
from registry.oversight.limits import SEVERITIES
from registry.oversight.models import (
    Enrolment,
    ReturnCategory,
    StatedOrigin,
    StatedPurpose,
    Use,
    YearReturn,
)
from registry.oversight.yearly import (
    Category,
    Lot,
    Return,
    Row,
    SpeciesList,
    procedures_of,
    species_of,
    yearly_return,
)

UNSAID = ""
UNCLASSIFIED = "not classified"


@dataclass
class Gaps:
    """What keeps a return from being published: what nobody has said, by where it is said."""

    projects: set[int] = field(default_factory=set)
    enrolments: set[int] = field(default_factory=set)
    taxa: set[str] = field(default_factory=set)

    def __bool__(self) -> bool:
        return bool(self.projects or self.enrolments or self.taxa)


@dataclass(frozen=True)
class Reckoned:
    """The return of a year as it stands now, and what is missing in it."""

    counted: Return
    gaps: Gaps


def categories(sort: str) -> list[Category]:
    """Give the categories of one sort, as pure sums take them; one query."""
    return [
        Category(one.code, one.name, one.from_year, one.until_year, one.genera, one.classes)
        for one in ReturnCategory.objects.filter(sort=sort).order_by("pk")
    ]


def reckoned(year: int) -> Reckoned:
    """Count the return of a year from the record as it stands, in one pass over its uses.

    Raises
    ------
    LookupError
        When no list of categories is held that is as old as the year.
    """
    gaps = Gaps()
    species = species_of(categories(ReturnCategory.Sort.SPECIES), year)
    lots = _noted(_lots(year, species), year, gaps)
    return Reckoned(yearly_return(procedures_of(lot for lot, _key in lots), year), gaps)


type _Key = tuple[int, int | None, str]
"""Project, enrolment and scientific name: where what is missing of a lot is said."""


def _noted(lots: Iterable[tuple[Lot, _Key]], year: int, gaps: Gaps) -> Iterator[tuple[Lot, _Key]]:
    """Hand the lots on, and note what nobody has said of those that count in the year."""
    for lot, key in lots:
        project, enrolment, name = key
        if lot.ended_on is not None and lot.ended_on.year == year:
            if lot.purpose == UNSAID:
                gaps.projects.add(project)
            if lot.origin == UNSAID:
                (gaps.projects if enrolment is None else gaps.enrolments).add(enrolment or project)
            if lot.species == UNSAID:
                gaps.taxa.add(name)
        yield lot, key


class Regulated:
    """Which procedures on which animals were screened as regulated, by the newest screening."""

    def __init__(self) -> None:
        newest: dict[tuple[int, int, int, str], str] = {}
        rows = Screening.objects.order_by("pk").values_list(
            "project_id", "procedure_id", "taxon_id", "life_stage", "answer"
        )
        for *key, answer in rows.iterator():
            newest[tuple(key)] = answer  # type: ignore[index]  # why: four columns, in this order
        self._answers = newest
        yes = [key for key, answer in newest.items() if answer == Screening.Answer.REGULATED]
        self._any = {key[:3] for key in yes}
        self.projects = {key[0] for key in yes}
        self.procedures = {key[1] for key in yes}

    def __call__(self, project: int, procedure: int, taxon: int, stage: str) -> bool:
        """Say whether it is regulated; where its very stage was not screened, any stage's answer.

        Of what nobody screened at that stage the cautious side is that it is.
        """
        answer = self._answers.get((project, procedure, taxon, stage))
        if answer is not None:
            return answer == Screening.Answer.REGULATED
        return (project, procedure, taxon) in self._any


_COLUMNS = (
    "animal_id",
    "group_id",
    "project_id",
    "enrolment_id",
    "procedure_id",
    "animal__taxon_id",
    "animal__taxon__scientific_name",
    "animal__taxon__taxon_class",
    "group__taxon_id",
    "group__taxon__scientific_name",
    "group__taxon__taxon_class",
    "enrolment__life_stage",
    "enrolment__left_on",
    "enrolment__actual_severity",
    "enrolment__number",
)


def _lots(year: int, species: SpeciesList) -> Iterator[tuple[Lot, _Key]]:
    """Give the lots of every subject with one that ended in the year, in order of subjects."""
    regulated = Regulated()
    purposes, homes = _purposes(regulated.projects)
    origins = _origins(regulated.projects)
    for rows in _grouped(_uses(year, regulated)):
        row = rows[0]
        at = 5 if row[0] is not None else 8
        taxon, name, animal_class = row[at : at + 3]
        stage = row[11] or ""
        kept = [one for one in rows if regulated(row[2], one[4], taxon, stage)]
        if not kept:
            continue
        project, enrolment = row[2], row[3]
        origin, is_continued = origins.get(enrolment, (homes.get(project, UNSAID), False))
        lot = Lot(
            subject=subject_at(row[0], row[1]),
            project=project,
            first_on=timezone.localdate(min(one[17] for one in kept)),
            last_on=timezone.localdate(max(one[18] for one in kept)),
            ended_on=row[12] if enrolment else timezone.localdate(max(one[18] for one in kept)),
            species=species.category(name, animal_class),
            purpose=purposes.get(project, UNSAID),
            origin=origin,
            severity=row[13] if enrolment else _severity(kept),
            stage=stage,
            most=max(one[15] for one in kept),
            total=sum(one[16] for one in kept),
            enrolled=row[14] or 0,
            is_continued=is_continued,
        )
        yield lot, (project, enrolment, name)


def _severity(rows: list[Any]) -> int:
    """Give the highest class of uses that no enrolment ended: off the scale only where all are."""
    return max((one[19] for one in rows if one[19] is not None), default=NON_RECOVERY)


def _uses(year: int, regulated: Regulated) -> QuerySet[Use, Any]:
    """Sum the uses of each subject that ended something regulated in the year, by procedure."""
    first, last = date(year, 1, 1), date(year, 12, 31)
    here = Q(project__in=regulated.projects)
    ended = Enrolment.objects.filter(here, left_on__range=(first, last)).order_by()
    loose = Use.objects.filter(
        here, enrolment=None, happened_at__gte=begin(first), happened_at__lt=after(last)
    ).order_by()
    subjects = Q()
    for name in ("animal", "group"):
        of_it = {f"{name}__isnull": False}
        subjects |= Q(**{f"{name}__in": ended.filter(**of_it).values(name)})
        subjects |= Q(**{f"{name}__in": loose.filter(**of_it).values(name)})
    return (
        Use.objects.standing()
        .filter(here, subjects, procedure__in=regulated.procedures)
        .order_by(*_COLUMNS[:4])
        .values_list(*_COLUMNS)
        .annotate(
            most=Max("number"),
            total=Sum("number"),
            first=Min("happened_at"),
            last=Max("happened_at"),
            top=Max("severity", filter=~Q(severity=NON_RECOVERY)),
        )
    )


def _grouped(rows: QuerySet[Use, Any]) -> Iterator[list[Any]]:
    """Give the rows of each subject, project and enrolment together, as they are read."""
    here: list[Any] = []
    for row in rows.iterator(chunk_size=2000):
        if here and here[0][:4] != row[:4]:
            yield here
            here = []
        here.append(row)
    if here:
        yield here


def _purposes(projects: set[int]) -> tuple[dict[int, str], dict[int, str]]:
    """Give what each project's work is for, and where its animals were born; the newest holds."""
    purposes, homes = dict[int, str](), dict[int, str]()
    rows = StatedPurpose.objects.filter(project__in=projects).order_by("pk")
    for project, purpose, origin in rows.values_list("project_id", "purpose__code", "origin__code"):
        purposes[project] = purpose
        homes[project] = origin or homes.get(project, UNSAID)
    return purposes, homes


def _origins(projects: set[int]) -> dict[int | None, tuple[str, bool]]:
    rows = StatedOrigin.objects.filter(enrolment__project__in=projects).order_by("pk")
    return {
        enrolment: (origin, is_continued)
        for enrolment, origin, is_continued in rows.values_list(
            "enrolment_id", "origin__code", "is_continued"
        )
    }


# ------------------------------------------------------------------------------ what was published


def packed(rows: dict[Row, int]) -> list[list[Any]]:
    """Give the rows of a return as an edition keeps them, in order."""
    return sorted(([*row, number] for row, number in rows.items()), key=str)


def unpacked(rows: Iterable[list[Any]]) -> dict[Row, int]:
    """Give back what `packed` was given."""
    return {(one[0], one[1], one[2], one[3], one[4]): one[5] for one in rows}


def newest_edition(year: int) -> YearReturn | None:
    """Give the newest edition of a year."""
    return YearReturn.objects.filter(year=year).order_by("-edition").first()


def named(row: Row, names: dict[str, str]) -> list[str]:
    """Write a row of a return out: species, purpose, origin, severity, re-use."""
    species, purpose, origin, severity, is_reuse = row
    return [
        *(names.get(code, code or "not said") for code in (species, purpose, origin)),
        UNCLASSIFIED if severity is None else SEVERITIES[severity],
        "yes" if is_reuse else "no",
    ]


def names_of_categories() -> dict[str, str]:
    """Give the names of all categories by their codes; one query."""
    return dict(ReturnCategory.objects.values_list("code", "name"))


def years_asked() -> list[int]:
    """Give the years for which a return can be reckoned, newest first; this one among them."""
    today = timezone.localdate()
    first = ReturnCategory.objects.aggregate(first=Min("from_year"))["first"] or today.year
    oldest = Use.objects.order_by("happened_at").values_list("happened_at", flat=True).first()
    since = max(first, timezone.localdate(oldest).year if oldest else today.year)
    return list(range(today.year, since - 1, -1))
