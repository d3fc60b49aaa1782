"""What became of held data in a year: taken away, analysed, pooled, cited, carried on."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.models import Analysis, Dataset, PooledTable, Taken, Version
from registry.answers.models import Answer, Output

MOST_NAMED = 40
type Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class Section:
    """A part of the report: a table, with what to know of it."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    note: str = ""


def _taken(span: Span) -> Any:
    first, after = (timezone.localdate(end) for end in span)
    return Taken.objects.filter(taken_on__gte=first, taken_on__lt=after).order_by()


def taken_in(span: Span) -> int:
    """Give how often versions were taken away; who took them nobody knows."""
    return _taken(span).aggregate(all=Sum("times"))["all"] or 0


def reused(span: Span) -> Section:
    """Give the datasets that were used again, the most used first; seven queries.

    A later cohort carries a dataset on when its own study had a version accepted of it.
    """
    within = {"gte": span[0], "lt": span[1]}

    def counted(rows: Any, to: str, at: str) -> dict[int, int]:
        """Count rows of the year by the dataset of the versions that they rest on."""
        some = rows.filter(**{f"{at}__{end}": moment for end, moment in within.items()})
        found = some.order_by().exclude(**{to: None}).values_list(to)
        return dict(found.annotate(n=Count("pk", distinct=True)))

    cited = Output.objects.listed().filter(published_on__year=span[0].year)
    columns = [
        dict(_taken(span).values_list("version__dataset").annotate(n=Sum("times"))),
        counted(Analysis.objects.all(), "sources__dataset", "asked_at"),
        counted(PooledTable.objects.all(), "sources__dataset", "made_at"),
        counted(Answer.objects.all(), "evidence__dataset", "written_at"),
        dict(
            cited.order_by()
            .exclude(versions=None)
            .values_list("versions__dataset")
            .annotate(n=Count("pk", distinct=True))
        ),
        _carried_on(within),
    ]
    totals = {pk: sum(one.get(pk, 0) for one in columns) for one in columns for pk in one}
    first = sorted(totals, key=lambda pk: (-totals[pk], pk))[:MOST_NAMED]
    titles = dict(Dataset.objects.filter(pk__in=first).values_list("pk", "title"))
    rows = tuple((titles[pk], *(one.get(pk, 0) for one in columns)) for pk in first)
    heads = (
        _("Dataset"),
        _("Taken away"),
        _("Analyses"),
        _("Pooled tables"),
        _("Answers"),
        _("Outputs that cite it"),
        _("Later cohorts"),
    )
    note = _("Nobody’s name is kept of those who took data away.")
    return Section("reuse", _("Datasets that were used again"), heads, rows, note)


def _carried_on(within: dict[str, Any]) -> dict[int, int]:
    """Count the cohorts of a dataset's study, opened later, of which a version was accepted."""
    added = Version.objects.filter(
        dataset__is_pooled=False,
        **{f"accepted_at__{end}": moment for end, moment in within.items()},
    )
    earlier = "dataset__project__study__projects__dataset"
    pairs = added.filter(
        **{f"{earlier}__is_pooled": False},
        dataset__project__study__projects__lt=F("dataset__project"),
    )
    return dict(
        pairs.order_by().values_list(earlier).annotate(n=Count("dataset__project", distinct=True))
    )
