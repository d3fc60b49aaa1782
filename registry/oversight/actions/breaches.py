"""Deeds on breaches: opened by what data show, explained by the lead, settled by others."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from registry.errors import Unsound
from registry.ledger.actions import record
from registry.oversight.locks import still
from registry.oversight.models import Breach
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Project
from registry.transitions import locked, move, reasoned


@dataclass(frozen=True, slots=True)
class BreachFound:
    """What a check of data found: that something happened outside a limit.

    `approval`, `animal` and `group` are numbers of rows, where they are known.
    """

    code: str
    said: str
    approval: int | None = None
    happened_on: date | None = None
    animal: int | None = None
    group: int | None = None


@transaction.atomic
def open_breaches(
    project: Project, *, found: Iterable[BreachFound], deposit_number: int, by: Person
) -> list[Breach]:
    """Open a breach for each finding of a deposit's check, and give those of all its findings.

    A finding that opened its breach before opens no second one: a check may run again.
    """
    require(by, Verb.BREACH_OPEN, None)
    project = still(project)
    wanted = list({(one.code, one.said): one for one in found}.values())
    held = {
        (one.code, one.said): one
        for one in Breach.objects.filter(project=project, deposit_number=deposit_number)
    }
    opened = Breach.objects.bulk_create(
        [
            Breach(
                project=project,
                code=one.code,
                said=one.said,
                approval_id=one.approval,
                deposit_number=deposit_number,
                happened_on=one.happened_on,
                animal_id=one.animal,
                group_id=one.group if one.animal is None else None,
            )
            for one in wanted
            if (one.code, one.said) not in held
        ]
    )
    held |= {(one.code, one.said): one for one in opened}
    if opened:
        record(
            Verb.BREACH_OPEN,
            project,
            by=by,
            touched=opened,
            deposit=deposit_number,
            breaches=[one.pk for one in opened],
        )
    return [held[one.code, one.said] for one in wanted]


@transaction.atomic
def explain_breach(breach: Breach, *, explanation: str, by: Person) -> Breach:
    """Explain a breach as lead supervisor: how it came about, and what keeps it from coming again.

    Refused when: nothing is explained.
    """
    require(by, Verb.BREACH_EXPLAIN, breach)
    breach = locked(breach)
    if not explanation.strip():
        raise Unsound(
            "The breach was not explained.",
            "No explanation was given.",
            "Say how it came about, how the animal fares, and what keeps it from coming again.",
            fields={"explanation": "Write it out."},
        )
    before, after = move(breach, "explain")
    breach.explanation, breach.explained_by = explanation.strip(), by
    breach.explained_at = timezone.now()
    breach.save(update_fields=["explanation", "explained_by", "explained_at"])
    record(
        Verb.BREACH_EXPLAIN,
        breach,
        by=by,
        before=before,
        after=after,
        reason=breach.explanation,
    )
    return breach


@transaction.atomic
def query_breach(breach: Breach, *, reason: str, by: Person) -> Breach:
    """Ask for a better explanation; the one given stays in the ledger.

    Refused when: there is no reason.
    """
    require(by, Verb.BREACH_QUERY, breach)
    breach = locked(breach)
    reason = reasoned(breach, "query", reason)
    before, after = move(breach, "query")
    record(Verb.BREACH_QUERY, breach, by=by, before=before, after=after, reason=reason)
    return breach


@transaction.atomic
def settle_breach(breach: Breach, *, by: Person) -> Breach:
    """Settle a breach whose explanation holds."""
    require(by, Verb.BREACH_SETTLE, breach)
    breach = locked(breach)
    before, after = move(breach, "settle")
    record(Verb.BREACH_SETTLE, breach, by=by, before=before, after=after)
    return breach
