"""What an audit looks at: the uses of a period, drawn by chance or by risk, and what is lacking."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import reduce
from itertools import batched
from operator import or_

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from registry.approvals.models import Approval
from registry.approvals.standing import facts_of
from registry.design.draws import Stream
from registry.moments import after, begin
from registry.oversight.facts import approval_facts
from registry.oversight.models import Breach, Session, Use
from registry.oversight.used import used_of_lines

NEAR_SHARE = 0.9
"""From this share of an approval's animals on, its uses count as near a limit; our own choice."""
EXPIRY_D = 7
MOST_DRAWN = 200
_AT_ONCE = 200
_NO_ROW = 0  # asked for where nothing is near, so that a page costs the same either way


def uses_within(first: date, last: date, known_at: datetime) -> QuerySet[Use]:
    """Give the uses that happened on these days and were on record at a moment; taken back or not.

    For a fixed moment the answer never changes, so that a draw can be made again.
    """
    return Use.objects.told().filter(
        happened_at__gte=begin(first), happened_at__lt=after(last), recorded_at__lte=known_at
    )


def drawn(uses: QuerySet[Use], size: int, seed: bytes) -> tuple[list[int], int]:
    """Draw uses by chance, and give their numbers in the order drawn, and out of how many.

    Every use is as likely as every other, and none is drawn twice. The numbers of the rows are read
    as a stream; the seed and the moment give the same draw on any machine (see `design.draws`).
    """
    of = uses.count()
    stream = Stream(seed)
    places: dict[int, int] = {}
    wanted: list[int] = []
    for nth in range(min(size, of)):  # the first steps of a shuffle, kept where it moved something
        other = nth + stream.below(of - nth)
        wanted.append(places.get(other, other))
        places[other] = places.get(nth, nth)
    order = {place: nth for nth, place in enumerate(wanted)}
    found: dict[int, int] = {}
    numbers: Iterator[int] = uses.order_by("pk").values_list("pk", flat=True).iterator(5000)
    for place, number in enumerate(numbers):
        if place in order:
            found[order[place]] = number
    return [found[nth] for nth in sorted(found)], of


@dataclass(frozen=True)
class Risk:
    """A ground on which uses are looked at first.

    `is_told` says whether the page tells how many there are; else they are counted when drawn.
    """

    said: str | Promise
    among: Callable[[QuerySet[Use], date, date], QuerySet[Use]]
    is_told: bool = True


def _late(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    return uses.filter(days_late__gt=settings.LATE_ENTRY_DAYS)


def _passed(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    return uses.filter(Exists(Breach.objects.filter(use=OuterRef("pk"))))


def _edited(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    return uses.filter(Exists(Use.objects.filter(reverses=OuterRef("pk"))))


def _no_session(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    return uses.filter(session=None)


def _any_of(uses: QuerySet[Use], projects: set[int], near: list[Q]) -> QuerySet[Use]:
    """Give the uses of some projects of which any of these holds, however many they are.

    The projects are named first, so that the rest is asked of their uses alone; and the grounds are
    asked a few hundred at a time, since a database refuses an expression that is too deep.
    """
    of_them = uses.filter(project__in=projects)
    some = [reduce(or_, batch) for batch in batched(near, _AT_ONCE)]
    if len(some) > 1:
        some = [Q(pk__in=of_them.filter(one).values("pk")) for one in some]
    return of_them.filter(reduce(or_, some, Q(pk=_NO_ROW)))


def _near_expiry(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    """Give uses in the last days of an approval of their project."""
    ending: defaultdict[date, set[int]] = defaultdict(set)
    for ends_on, project in Approval.objects.filter(
        state__in=["approved", "suspended", "closed"],
        projects__isnull=False,
        ends_on__gte=first,
        ends_on__lt=last + timedelta(days=EXPIRY_D),
    ).values_list("ends_on", "projects"):
        ending[ends_on].add(project)
    near = [
        Q(
            happened_at__gte=begin(ends_on - timedelta(days=EXPIRY_D - 1)),
            happened_at__lt=after(ends_on),
            project__in=projects,
        )
        for ends_on, projects in ending.items()
    ]
    return _any_of(uses, set().union(*ending.values()), near)


def _near_limit(uses: QuerySet[Use], first: date, last: date) -> QuerySet[Use]:
    """Give uses under a line of an approval whose animals are nearly all taken."""
    approvals = Approval.objects.filter(
        decided_at__isnull=False, starts_on__lte=last, ends_on__gte=first
    ).prefetch_related("pauses", "limits", "places", "people", "projects")
    read = [(one, approval_facts(one, facts_of(one), set())) for one in approvals]
    used = used_of_lines([facts for _one, facts in read])
    full: defaultdict[tuple[int, int], set[int]] = defaultdict(set)
    for one, facts in read:
        for line in facts.limits:
            if used[line.number].taken >= NEAR_SHARE * line.max_animals:
                full[line.procedure, line.kind.taxon] |= {
                    project.pk for project in one.projects.all()
                }
    near = [
        Q(project__in=projects, procedure=procedure)
        & (Q(animal__taxon=taxon) | Q(group__taxon=taxon))
        for (procedure, taxon), projects in full.items()
    ]
    return _any_of(uses, set().union(*full.values()), near)


RISKS: dict[str, Risk] = {
    "passed": Risk(_("passed a limit"), _passed),
    "near_limit": Risk(_("near the number of an approval"), _near_limit, is_told=False),
    "near_expiry": Risk(_("in the last week of an approval"), _near_expiry),
    "late": Risk(_("recorded late"), _late),
    "edited": Risk(_("taken back afterwards"), _edited),
    "no_session": Risk(_("without a session"), _no_session),
}
"""The grounds, by the name under which a draw keeps them."""

CHANCE = "chance"


def useless_sessions(first: date, last: date) -> QuerySet[Session]:
    """Give sessions that were held in these days and have no use on record."""
    return Session.objects.filter(
        ~Exists(Use.objects.filter(session=OuterRef("pk"))),
        state="held",
        planned_start__gte=begin(first),
        planned_start__lt=after(last),
    )


def counts_of(
    first: date, last: date, known_at: datetime
) -> list[tuple[str, str | Promise, int | None]]:
    """Count the uses on each ground: its name, its words and how many; a few queries each.

    None stands for what is counted only when it is drawn: it asks every approval of these days.
    """
    uses = uses_within(first, last, known_at)
    return [
        (name, risk.said, risk.among(uses, first, last).count() if risk.is_told else None)
        for name, risk in RISKS.items()
    ]
