"""The house's rules of rest, and the hands-on days of animals that they are held against."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.moments import after, begin
from registry.oversight.counting import Subject
from registry.oversight.facts import subject_at
from registry.oversight.limits import RestFacts
from registry.oversight.models import RestRule, Use


def rules_on(day: date) -> list[RestFacts]:
    """Give the rules of rest that hold on a day; one query."""
    return rules_within(day, day)


def rules_within(first: date, last: date) -> list[RestFacts]:
    """Give the rules that hold on any of these days; one query."""
    held = RestRule.objects.in_force_within(first, last).select_related("owner")
    return [
        RestFacts(
            number=one.pk,
            most=one.most,
            days=one.days,
            since=one.from_on,
            owner=str(one.owner),
            taxon=one.taxon_id,
            until=one.ended_on,
        )
        for one in held.order_by("pk").select_related("owner").order_by("pk")
    ]


def hands_on_days(
    subjects: Iterable[Animal | Group], first: date, last: date, rules: Sequence[RestFacts]
) -> dict[Subject, list[date]]:
    """Give the days of the hands-on uses of each subject as far around these as the rules look.

    One query; none where no rule holds.
    """
    if not rules:
        return {}
    reach = timedelta(days=max(rule.days for rule in rules) - 1)
    rows = list(subjects)
    found: dict[Subject, list[date]] = {}
    for animal, group, at in (
        Use.objects.standing()
        .filter(
            Q(animal__in=[one.pk for one in rows if isinstance(one, Animal)])
            | Q(group__in=[one.pk for one in rows if isinstance(one, Group)]),
            happened_at__gte=begin(first - reach),
            happened_at__lt=after(last + reach),
            procedure__is_contact=True,
        )
        .order_by("happened_at")
        .values_list("animal_id", "group_id", "happened_at")
    ):
        found.setdefault(subject_at(animal, group), []).append(timezone.localdate(at))
    return found
