"""One thing that needs someone, and where its one next step is."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Model
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.tags import day
from registry.web import OFFERED_ON


@dataclass(frozen=True, kw_only=True)
class Need:
    """What needs a person: what and why, the day by which or since when, and one next step.

    Parameters
    ----------
    what, why : str
        One sentence each, as the person would say it.
    step, url : str
        What the button says, and where it leads.
    due : date, optional
        The day by which.
    since : date, optional
        The day since when it waits, where no day is set by which.
    about : Model, optional
        The row that it is about, for whoever keeps it in a calendar.
    is_confidential : bool
        Whether it is told on the page alone, and never sent.
    is_told_by_letter : bool
        Whether a letter goes out for it today even to whoever wants one only of what is due.
    """

    what: str
    why: str
    step: str
    url: str
    due: date | None = None
    since: date | None = None
    about: Model | None = None
    is_confidential: bool = False
    is_told_by_letter: bool = False

    @property
    def when(self) -> str:
        """What stands in place of a day."""
        return _("Now")

    @property
    def soon(self) -> str:
        """Since when it waits."""
        return _("since %(day)s") % {"day": day(self.since, "short")} if self.since else ""

    def is_late(self, today: date) -> bool:
        """Say whether the day by which it was due has passed."""
        return self.due is not None and self.due < today

    def order(self, today: date) -> tuple[date, bool, date]:
        """Give its place: what is overdue, what is due today, what waits, and what is to come."""
        return self.due or today, self.due is None, self.since or today


MOST_OF_A_KIND = 10


def first(rows: Any, *order: Any) -> Any:
    """Give the soonest rows, one more than are told of: whoever has so many works from the list."""
    return rows.order_by(*order, "pk")[: MOST_OF_A_KIND + 1]


def step_url(obj: Any, path: str) -> str:
    """Give the address of a deed on an object, whichever slice offers it; else its page."""
    for name, offered in OFFERED_ON.get(type(obj), {}).items():
        if path in offered:
            return reverse(name, args=[obj.pk, path])
    address: str = obj.get_absolute_url()
    return address


def on(moment: datetime | None) -> date | None:
    """Give the day of a moment where the collection is."""
    return timezone.localdate(moment) if moment is not None else None
