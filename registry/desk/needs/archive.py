"""What deposits and mappings need."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from archive.copies.models import Copy
from archive.models import Deposit, DictionaryMapping
from registry.desk.needs.need import Need, first, on, step_url
from registry.permissions import Verb, allowed
from registry.tags import day


def damaged_copies(person: Any, today: date) -> Iterator[Need]:
    """Copies of versions that are not what was stored, and could not be mended."""
    damaged = allowed(Copy.objects.damaged(), person, Verb.COPY_SEE)
    for one in first(damaged.select_related("version__dataset"), "checked_at"):
        yield Need(
            what=_("A copy is damaged, and no whole one is there: %(version)s")
            % {"version": one.version},
            why=_(
                "It is served to nobody. Lay the version back from a backup, or bring the other"
                " store back; then it is mended by itself."
            ),
            step=_("See the copies"),
            url=reverse("archive:copies"),
            since=on(one.checked_at),
            is_told_by_letter=True,
        )


def to_accept(person: Any, today: date) -> Iterator[Need]:
    """Sound deposits of others that one may accept."""
    waiting = allowed(Deposit.objects.awaiting_acceptance(), person, Verb.DEPOSIT_ACCEPT)
    for one in first(waiting.select_related("dataset", "maker"), "checked_at"):
        yield Need(
            what=_("A deposit waits to be accepted: %(dataset)s") % {"dataset": one.dataset},
            why=_("From %(maker)s; its tables hold together, checked %(day)s.")
            % {"maker": one.maker.name, "day": day(one.checked_at)},
            step=_("Look and accept"),
            url=step_url(one, "accept"),
            since=on(one.checked_at),
        )


def to_review(person: Any, today: date) -> Iterator[Need]:
    """Mappings that others proposed and one may accept."""
    waiting = allowed(
        DictionaryMapping.objects.filter(state="proposed"), person, Verb.MAPPING_ACCEPT
    )
    for one in first(waiting.select_related("new__study", "proposer"), "proposed_at"):
        yield Need(
            what=_("A mapping waits for a second person: %(table)s of %(study)s")
            % {"table": one.table, "study": one.new.study},
            why=_("From %(proposer)s; cohorts are pooled by it once it is accepted.")
            % {"proposer": one.proposer.name},
            step=_("Review it"),
            url=one.get_absolute_url(),
            since=on(one.proposed_at),
        )


def to_correct(person: Any, today: date) -> Iterator[Need]:
    """Checked deposits of one's own project in which something must be put right."""
    faulty = allowed(Deposit.objects.filter(state="checked"), person, Verb.DEPOSIT_CORRECT)
    for one in first(faulty.exclude(verdict="valid").select_related("dataset"), "checked_at"):
        yield Need(
            what=_("The check found things to put right: %(dataset)s") % {"dataset": one.dataset},
            why=_("Nothing was lost; the report says file, row, column and what to do."),
            step=_("See the findings"),
            url=one.get_absolute_url(),
            since=on(one.checked_at),
        )


def to_submit(person: Any, today: date) -> Iterator[Need]:
    """Deposits that one opened and has not submitted."""
    opened = allowed(
        Deposit.objects.filter(state="opened", maker=person), person, Verb.DEPOSIT_SUBMIT
    )
    for one in first(opened.select_related("dataset"), "opened_at"):
        yield Need(
            what=_("A deposit is open: %(dataset)s") % {"dataset": one.dataset},
            why=_("Add the files, and submit it to be checked."),
            step=_("Go on with it"),
            url=one.get_absolute_url(),
            since=on(one.opened_at),
        )
