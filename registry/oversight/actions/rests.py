"""Deeds on the house's rules of rest."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Taxon
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.oversight.models import RestRule
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move, reasoned

LONGEST_D = 365


@transaction.atomic
def set_rest_rule(
    *, most: int, days: int, why: str, from_on: date, taxon: Taxon | None = None, by: Person
) -> RestRule:
    """Set a rule of rest: so many hands-on events in so many days, of a taxon or of every one.

    Refused when: it allows less than one event, or looks at less than a day or more than a year;
    there is no reason.
    """
    require(by, Verb.REST_RULE_SET)
    what = "The rule was not set."
    if most < 1 or not 1 <= days <= LONGEST_D:
        raise Unsound(
            what,
            _("%(most)s in %(days)s days is no rule of rest.") % {"most": most, "days": days},
            _(
                "Give 1 event or more in 1 to %(longest_d)s days; to bar all work, keep off "
                "the animal."
            )
            % {"longest_d": LONGEST_D},
            fields={
                "days" if most >= 1 else "most": _("1 or more, %(longest_d)s days at most.")
                % {"longest_d": LONGEST_D}
            },
        )
    if not why.strip():
        raise Unsound(
            what,
            "No reason was given, and whoever meets the rule will ask for it.",
            "Write why, and on what it rests.",
            fields={"why": "Write why."},
        )
    rule = RestRule.objects.create(
        taxon=taxon, most=most, days=days, why=why.strip(), owner=by, from_on=from_on
    )
    record(Verb.REST_RULE_SET, rule, by=by, after=rule.state, most=most, days=days)
    return rule


@transaction.atomic
def end_rest_rule(rule: RestRule, *, reason: str, by: Person) -> RestRule:
    """End a rule of rest from today on; what passed it before stays a breach.

    Refused when: there is no reason.
    """
    require(by, Verb.REST_RULE_END, rule)
    rule = locked(rule)
    reason = reasoned(rule, "end", reason)
    before, after = move(rule, "end")
    rule.ended_on = timezone.localdate()
    rule.save(update_fields=["ended_on"])
    record(Verb.REST_RULE_END, rule, by=by, before=before, after=after, reason=reason)
    return rule
