"""A year's stock list, read from what happened: every animal that is recorded, and no egg.

Eggs are no animals yet: those that are laid and hatch out are left out here, and what hatches is
bred. An animal in a partner's care is still held; one that joins a group or is drawn from one
stays in the collection, and at most changes its column of sex.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, Min, Q, QuerySet, Sum, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Event, LifeStage, Loan, Taxon, TaxonClass
from registry.animals.stocklist import (
    Change,
    Column,
    Happening,
    StockLine,
    is_early_death,
    stock_lines,
)
from registry.errors import Unseen
from registry.web import number_of

_COLUMNS: dict[str, Column] = {
    Event.Sort.ARRIVED: Column.ARRIVED,
    Event.Sort.BORN: Column.BRED,
    Event.Sort.DEPARTED: Column.DEPARTED,
    Event.Sort.COUNTED: Column.RECOUNTED,
}
"""What an event is in the list; deaths are told apart, and all else only moves between sexes."""

_EGGS = (LifeStage.EGG, LifeStage.EMBRYO)


@dataclass(frozen=True)
class Kind:
    """One kind of animal with its line, and how many are on loan when it ends.

    Whose an animal is changes no column: one that is lent to this collection is held, and one that
    is lent out has departed.
    """

    taxon: Taxon
    line: StockLine
    lent_in: int = 0
    lent_out: int = 0


@dataclass(frozen=True)
class Class:
    """The kinds of one class, in order of their names, and their sum."""

    label: str
    kinds: tuple[Kind, ...]

    @property
    def line(self) -> StockLine:
        """All of the class."""
        return total(kind.line for kind in self.kinds)

    def as_dicts(self) -> Iterator[dict[str, Any]]:
        """Give each kind as a program reads it: males, females, unknown; losses as counts."""
        for kind in self.kinds:
            line = kind.line
            yield {
                "taxon": kind.taxon.pk,
                "scientific_name": kind.taxon.scientific_name,
                "held_at_start": list(line.held_at_start),
                **{column.value: list(line.shown(column)) for column in Column},
                "held_at_end": list(line.held_at_end),
                "lent_in": kind.lent_in,
                "lent_out": kind.lent_out,
                "is_sound": line.is_sound,
            }


def total(lines: Iterator[StockLine]) -> StockLine:
    """Add up lines, column by column."""
    whole = StockLine()
    for line in lines:
        whole = whole.plus(line)
    return whole


def first_year() -> int:
    """Give the year of the earliest event; this year where nothing happened yet."""
    first: date | None = Event.objects.aggregate(first=Min("happened_on"))["first"]
    return (first or timezone.localdate()).year


def year_asked(said: str) -> tuple[int, range]:
    """Give the year that is asked for, this one where none is, and those that there are.

    Raises
    ------
    Unseen
        When nothing happened yet by then, or it is to come.
    """
    this = timezone.localdate().year
    years = range(first_year(), this + 1)
    year = number_of(said) or this
    if year not in years:
        raise Unseen(
            _("There is no stock list of %(year)s.") % {"year": year},
            _("The register goes from %(first)s to %(last)s.") % {"first": years[0], "last": this},
            _("Choose one of these years."),
        )
    return year, years


def book_of(year: int, taxa: QuerySet[Taxon]) -> list[Class]:
    """Give the stock list of a year, class by class; five queries, whatever the collection.

    Parameters
    ----------
    year : int
        A calendar year; of one that is not over, what happened so far.
    taxa : QuerySet of Taxon
        The kinds that may be shown.
    """
    lines = stock_lines(_opening(year), _year(year))
    known = taxa.in_bulk(list(lines))
    lent = _lent(year)
    found = [
        Kind(known[pk], line, lent.get((pk, "in"), 0), lent.get((pk, "out"), 0))
        for pk, line in lines.items()
        if pk in known
    ]
    found.sort(key=lambda kind: (kind.taxon.common_name, kind.taxon.pk))
    classes = [
        Class(str(label), tuple(kind for kind in found if kind.taxon.taxon_class == value))
        for value, label in TaxonClass.choices
    ]
    return [one for one in classes if one.kinds]


def _counted() -> QuerySet[Event]:
    """Give the standing events that changed the number of animals, or their sexes."""
    changed = ~Q(males=0, females=0, unknown=0)
    of_eggs = (
        Q(case__isnull=False) | Q(group__life_stage__in=_EGGS) | Q(sort__in=("laid", "hatched"))
    )
    rows = Event.objects.standing().filter(changed).exclude(of_eggs)
    return rows.annotate(of=Coalesce("animal__taxon", "group__taxon")).order_by()


def _summed(rows: Any, *by: str) -> Iterator[tuple[Any, ...]]:
    summed = {"m": Sum("males"), "f": Sum("females"), "u": Sum("unknown")}
    for row in rows.values(*by).annotate(**summed).values_list(*by, "m", "f", "u"):
        yield *row[: len(by)], Change(*row[len(by) :])


def _opening(year: int) -> dict[Any, Change]:
    before = _counted().filter(happened_on__lt=date(year, 1, 1))
    return dict(_summed(before, "of"))


def _year(year: int) -> Iterator[Happening]:
    within = _counted().filter(happened_on__range=(date(year, 1, 1), date(year, 12, 31)))
    for of, sort, change in _summed(within.exclude(sort=Event.Sort.DIED), "of", "sort"):
        yield Happening(of, _COLUMNS.get(sort, Column.SEXED), change)
    deaths = within.filter(sort=Event.Sort.DIED).annotate(
        born=Coalesce("born_on", "animal__born_on", "group__born_on")
    )
    for of, born, died, change in _summed(deaths, "of", "born", "happened_on"):
        yield Happening(of, _death(born, died), change)


def _lent(year: int) -> dict[tuple[Any, str], int]:
    """Give how many animals of each kind are on loan each way when the year, or today, ends."""
    day = min(date(year, 12, 31), timezone.localdate())
    in_group = F("group__males") + F("group__females") + F("group__unknown")
    rows = Loan.objects.on_day(day).annotate(of=Coalesce("animal__taxon", "group__taxon"))
    summed = rows.order_by().values("of", "direction").annotate(n=Sum(Coalesce(in_group, Value(1))))
    return {(of, way): n for of, way, n in summed.values_list("of", "direction", "n")}


def _death(born: date | None, died: date) -> Column:
    is_early = born is not None and born <= died and is_early_death(born, died)
    return Column.DIED_EARLY if is_early else Column.DIED
