"""Deeds that send a request to its body, and that draft an amendment of what was granted."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Enclosure
from registry.approvals.models import TEXTS, Approval, Limit, chosen
from registry.approvals.screens import screenings_of, unscreened
from registry.approvals.terms import sound_reuse, sound_terms
from registry.approvals.weighing import live_limits
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import follows, locked, move


def _screened_as_it_is(approval: Approval) -> None:
    """Refuse a request for what nobody screened, or what went by facts that changed since."""
    lines = live_limits(approval)
    asked = {one.procedure_id for one in lines}
    projects = list(approval.projects.select_related("plan").prefetch_related("plan__procedures"))
    found = screenings_of(projects)
    if lacking := unscreened(found, projects, lines):
        raise Unsound(
            "The request was not submitted.",
            _("Nobody has screened whether it is regulated: %(lacking)s.")
            % {"lacking": "; ".join(lacking)},
            "Ask the vet, or the chair of the body, to screen it on the project's page; then "
            "submit.",
        )
    stale = [
        f"{one.screening} ({', '.join(one.changed)})"
        for one in found.stale
        if one.screening.procedure_id in asked
    ]
    if stale:
        raise Unsound(
            "The request was not submitted.",
            _("What these screenings went by has changed since: %(stale)s.")
            % {"stale": "; ".join(stale)},
            "Ask the vet, or the chair of a body, to screen them again on the project's page.",
        )


@transaction.atomic
def submit_approval(approval: Approval, *, by: Person) -> Approval:
    """Submit the request for decision.

    Refused when: it has no limits; it has no places; its last day has passed; a point that the body
    wants changed has no answer; nobody screened hands-on work that it asks for; a screening of what
    it asks for is no longer of the facts.
    """
    require(by, Verb.APPROVAL_SUBMIT, approval)
    approval = locked(approval)
    follows(approval, "submit")
    lacking = []
    if not approval.limits.filter(is_dropped=False).exists():
        lacking.append("it has no limits: which animals, by which procedure, how many")
    if not approval.places.exists():
        lacking.append("it has no places")
    if approval.ends_on < timezone.localdate():
        lacking.append("its last day has passed")
    if unanswered := approval.changes.filter(answered_at=None).count():
        lacking.append(f"{unanswered} of the points that it wants changed have no answer yet")
    if lacking:
        raise Unsound(
            "The request was not submitted.",
            _("A body decides on limits, and %(lacking)s.") % {"lacking": "; ".join(lacking)},
            "Add what is missing, or ask anew with other days or places.",
        )
    _screened_as_it_is(approval)
    before, after = move(approval, "submit")
    approval.submitted_at = timezone.now()
    approval.save(update_fields=["submitted_at"])
    record(Verb.APPROVAL_SUBMIT, approval, by=by, before=before, after=after, **chosen(approval))
    return approval


@transaction.atomic
def amend_approval(
    approval: Approval,
    *,
    places: Iterable[Enclosure] | None = None,
    people: Iterable[Person] | None = None,
    reuse_animals: Iterable[Animal] | None = None,
    by: Person,
    **changed: Any,
) -> Approval:
    """Draft an amendment: a copy of the approval with what is to change; limits change next.

    Refused when: another amendment is under way or in force; something is not part of an approval;
    it ends before it starts; no day of the week is chosen; animals are to be used again by name,
    and none is named.
    """
    require(by, Verb.APPROVAL_AMEND, approval)
    approval = locked(approval)
    follows(approval, "amend")
    what = "The amendment was not drafted."
    under_way = approval.amendments.filter(state__in=["drafted", "submitted"]).first()
    if under_way or approval.superseded_on is not None:
        raise Conflict(
            what,
            _("“%(under_way)s” is under way.") % {"under_way": under_way}
            if under_way
            else "An amendment has replaced it.",
            "Go on with that one.",
        )
    strange = sorted(set(changed) - set(TEXTS))
    if strange:
        raise Unsound(
            what,
            _("An approval has no %(strange)s.") % {"strange": ", ".join(strange)},
            "Look at the approval's page for what it holds.",
            fields=dict.fromkeys(strange, "Not part of an approval."),
        )
    terms = {name: changed.get(name, getattr(approval, name)) for name in TEXTS}
    if "starts_on" not in changed:
        terms["starts_on"] = max(approval.starts_on, timezone.localdate())
    terms["weekdays"] = sound_terms(what, terms["starts_on"], terms["ends_on"], terms["weekdays"])
    named = sound_reuse(
        what,
        terms["reuse_consent"],
        approval.reuse_animals.all() if reuse_animals is None else reuse_animals,
    )
    amendment = Approval.objects.create(
        permission=approval.permission,
        body=approval.body,
        amends=approval,
        asked_by=by,
        **terms,
    )
    amendment.projects.set(approval.projects.all())
    amendment.places.set(approval.places.all() if places is None else places)
    amendment.people.set(approval.people.all() if people is None else people)
    amendment.reuse_animals.set(named)
    limits = [
        Limit.objects.create(
            approval=amendment,
            taxon=one.taxon,
            life_stage=one.life_stage,
            procedure=one.procedure,
            max_animals=one.max_animals,
            max_contacts_each=one.max_contacts_each,
            max_severity=one.max_severity,
        )
        for one in approval.limits.filter(is_dropped=False)
    ]
    search.write(amendment)
    record(
        Verb.APPROVAL_AMEND,
        amendment,
        by=by,
        after=amendment.state,
        touched=limits,
        amends=approval.pk,
        **chosen(amendment),
    )
    return amendment
