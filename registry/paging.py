"""Pages of a long list: past the first ten thousand rows one narrows the list, not pages on."""

from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.utils.functional import cached_property

MOST_COUNTED = 10_000


class AtLeast(int):
    """A count that was stopped: there are more."""


def so_many(rows: QuerySet[Any, Any]) -> int:
    """Count rows, or say that there are more than MOST_COUNTED."""
    plain = rows.order_by()
    if not plain.query.combinator and not plain.query.has_select_fields:
        plain = plain.values("pk")
    counted = plain[: MOST_COUNTED + 1].count()
    return AtLeast(MOST_COUNTED) if counted > MOST_COUNTED else counted


class LongPaginator(Paginator[Any]):
    """Pages of a list that is counted only so far, for to count all of it takes longer."""

    @cached_property
    def count(self) -> int:
        """How many rows, or that there are more than MOST_COUNTED."""
        rows = self.object_list
        if not isinstance(rows, QuerySet):
            return len(rows)
        return so_many(rows)

    @property
    def is_cut(self) -> bool:
        """Whether there are rows that no page shows."""
        return isinstance(self.count, AtLeast)
