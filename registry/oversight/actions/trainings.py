"""Deeds on the trainings that the house asks for before a procedure."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.models import TrainingRule
from registry.people.models import Person, Training
from registry.permissions import Verb, require
from registry.projects.models import Procedure
from registry.transitions import locked, move, reasoned

_NOT = "The training was not asked for."


@transaction.atomic
def set_training_rule(
    *, procedure: Procedure, training: Training, why: str, from_on: date, by: Person
) -> TrainingRule:
    """Ask that whoever does a procedure from a day on holds a training on the day of the work.

    Refused when: there is no reason; the procedure asks for that training already.
    """
    require(by, Verb.TRAINING_RULE_SET)
    procedure = locked(procedure)
    if not why.strip():
        raise Unsound(
            _NOT,
            "No reason was given, and whoever meets the rule will ask for it.",
            "Write why, and on what it rests.",
            fields={"why": "Write why."},
        )
    held = TrainingRule.objects.filter(procedure=procedure, training=training, ended_on=None)
    if held.exists():
        raise Conflict(
            _NOT,
            _("“%(procedure)s” asks for “%(training)s” already.")
            % {"procedure": procedure, "training": training},
            "Choose another training, or end that rule first.",
        )
    rule = TrainingRule.objects.create(
        procedure=procedure, training=training, why=why.strip(), owner=by, from_on=from_on
    )
    record(
        Verb.TRAINING_RULE_SET,
        rule,
        by=by,
        after=rule.state,
        procedure=procedure.code,
        training=training.code,
    )
    return rule


@transaction.atomic
def end_training_rule(rule: TrainingRule, *, reason: str, by: Person) -> TrainingRule:
    """Ask for a training no longer, from today on; what lacked it before stays a breach.

    Refused when: there is no reason.
    """
    require(by, Verb.TRAINING_RULE_END, rule)
    rule = locked(rule)
    reason = reasoned(rule, "end", reason)
    before, after = move(rule, "end")
    rule.ended_on = timezone.localdate()
    rule.save(update_fields=["ended_on"])
    record(Verb.TRAINING_RULE_END, rule, by=by, before=before, after=after, reason=reason)
    return rule
