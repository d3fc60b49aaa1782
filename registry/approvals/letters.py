"""The letter of an approval, in words: what was decided, its limits, its conditions, its ends."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from registry.approvals.models import Approval, Condition, Limit
from registry.saying import day_said

_STATES = {
    "approved": later("It is approved, within the limits below and nowhere else."),
    "refused": later("It is refused. Nothing is covered."),
    "suspended": later("It is suspended. No contact is covered; care of the animals goes on."),
    "withdrawn": later("It was withdrawn. Nothing is covered any more."),
    "closed": later("It is closed. Nothing is covered any more."),
}


def letter_of(approval: Approval) -> dict[str, Any]:
    """Give the facts of the letter; six queries. Before a decision it says that there is none."""
    return {
        "title": approval.title,
        "over": _("%(body)s, approval %(number)s")
        % {"body": approval.body, "number": _number(approval)},
        "state": _state(approval),
        "facts": _facts(approval),
        "decision": approval.decision,
        "heads": {
            "decision": _("The decision"),
            "limits": _("The limits"),
            "conditions": _("Conditions"),
        },
        "limits": {
            "heads": [
                _("Taxon"),
                _("Stage"),
                _("Procedure"),
                _("Animals at most"),
                _("Times each at most"),
                _("Severity at most"),
            ],
            "rows": [
                _limit(one)
                for one in approval.limits.filter(is_dropped=False).select_related(
                    "taxon", "procedure"
                )
            ],
        },
        "conditions": [_condition(one) for one in approval.conditions.all()],
        "caution": _(
            "The limits are counted by the program and answered for by people. Local codes and "
            "licensed practice come first; anyone may stop work that harms an animal."
        ),
    }


def _number(approval: Approval) -> str:
    return f"{approval.pk} ({approval.reference})" if approval.reference else str(approval.pk)


def _state(approval: Approval) -> str:
    if approval.superseded_on is not None:
        return _("An amendment replaces it from %(day)s.") % {
            "day": day_said(approval.superseded_on)
        }
    if approval.is_expired:
        return _("It ran out on %(day)s.") % {"day": day_said(approval.ends_on)}
    undecided = _("This is no approval: the request is %(state)s.") % {
        "state": approval.get_state_display()
    }
    return str(_STATES.get(approval.state, undecided))


def _facts(approval: Approval) -> list[tuple[str, str]]:
    facts = [
        (_("Permission"), approval.permission.name),
        (_("Projects"), "; ".join(str(one) for one in approval.projects.select_related("study"))),
        (_("Days"), f"{day_said(approval.starts_on)} – {day_said(approval.ends_on)}"),
        (_("Severity at most"), approval.get_max_severity_display()),
        (_("Places"), ", ".join(str(one) for one in approval.places.all())),
        (
            _("People"),
            ", ".join(str(one) for one in approval.people.all()) or _("the project’s members"),
        ),
    ]
    if approval.reuse_consent != Approval.Consent.NONE:
        named = ", ".join(str(one) for one in approval.reuse_animals.all())
        said = approval.get_reuse_consent_display()
        facts.append((_("Animals used again"), f"{said}: {named}" if named else said))
    if approval.decided_at is not None:
        others = approval.deciders.exclude(pk=approval.decided_by_id)
        names = [str(approval.decided_by), *(str(one) for one in others)]
        facts.append((_("Decided"), f"{day_said(approval.decided_at)}, {', '.join(names)}"))
    return facts


def _limit(one: Limit) -> list[str]:
    times = one.max_contacts_each
    return [
        str(one.taxon),
        one.get_life_stage_display() or _("any"),
        str(one.procedure),
        str(one.max_animals),
        str(times) if times is not None else _("no limit"),
        one.severity_at_most.label,
    ]


def _condition(one: Condition) -> str:
    if one.due_on is None:
        return one.text
    return _("%(text)s Evidence is due on %(day)s.") % {
        "text": one.text,
        "day": day_said(one.due_on),
    }
