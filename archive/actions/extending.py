"""Deeds on mappings: rules between two dictionaries are proposed by one, reviewed by another."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from archive.dictionaries import table_of
from archive.extending.fitting import faults
from archive.extending.rules import Rule, rule_as_dict
from archive.models import Dictionary, DictionaryMapping
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, moment_said, move, reasoned

_WHAT = "The mapping was not proposed."


@transaction.atomic
def propose_mapping(
    dictionary: Dictionary,
    *,
    old: Dictionary,
    old_table: str,
    table: str,
    rules: Sequence[Rule],
    reason: str,
    by: Person,
) -> DictionaryMapping:
    """Propose the rules that carry a table of an older dictionary over to this one.

    Refused when: it is the dictionary itself; there is no such table; the rules do not fit; no
    reason was given; a mapping of the two tables is proposed or accepted already.
    """
    require(by, Verb.DICTIONARY_PROPOSE_MAPPING, dictionary)
    dictionary = locked(dictionary)
    if old.pk == dictionary.pk:
        raise _unsound("old", "It leads from the dictionary to itself.", "Choose another one.")
    there, here = _table(old, old_table, "old_table"), _table(dictionary, table, "table")
    if found := faults(there, here, rules):
        raise _unsound("rules", " ".join(found), "Change the rules, and propose them again.")
    if not reason.strip():
        raise _unsound("reason", "It does not say why the rules hold.", "Say it in a sentence.")
    if (other := _live(old, dictionary, old_table, table)) is not None:
        raise Conflict(
            _WHAT,
            f"{other.proposer} proposed mapping {other.pk} of these two tables on"
            f" {moment_said(other.proposed_at)}; it is {other.state}.",
            "Have that one reviewed, or withdraw it first.",
        )
    mapping = DictionaryMapping.objects.create(
        old=old,
        new=dictionary,
        old_table=old_table,
        table=table,
        rules=[rule_as_dict(rule) for rule in rules],
        reason=reason.strip(),
        proposer=by,
    )
    record(
        Verb.DICTIONARY_PROPOSE_MAPPING,
        dictionary,
        by=by,
        touched=[mapping],
        mapping=mapping.pk,
        old=old.pk,
    )
    return mapping


def _table(dictionary: Dictionary, name: str, field: str) -> dict[str, Any]:
    found = table_of(dictionary.descriptor, name)
    if found is None:
        why = f"Dictionary {dictionary.number} of “{dictionary.study}” has no table “{name}”."
        raise _unsound(field, why, "Choose one of its tables.")
    return found


def _live(old: Dictionary, new: Dictionary, old_table: str, table: str) -> DictionaryMapping | None:
    rows = DictionaryMapping.objects.filter(old=old, new=new, old_table=old_table, table=table)
    return rows.filter(state__in=["proposed", "accepted"]).select_related("proposer").first()


def _unsound(field: str, why: str, then: str) -> Unsound:
    return Unsound(_WHAT, why, then, fields={field: why})


@transaction.atomic
def accept_mapping(mapping: DictionaryMapping, *, by: Person) -> DictionaryMapping:
    """Accept a mapping that one has reviewed: from now on cohorts are pooled by it.

    Refused when: one proposed it oneself; it is proposed no longer.
    """
    return _reviewed(Verb.MAPPING_ACCEPT, "accept", mapping, "", by)


@transaction.atomic
def decline_mapping(mapping: DictionaryMapping, *, reason: str, by: Person) -> DictionaryMapping:
    """Decline a mapping that one has reviewed, with the reason.

    Refused when: one proposed it oneself; no reason was given; it is proposed no longer.
    """
    return _reviewed(Verb.MAPPING_DECLINE, "decline", mapping, reason, by)


def _reviewed(
    verb: Verb, step: str, mapping: DictionaryMapping, reason: str, by: Person
) -> DictionaryMapping:
    require(by, verb, mapping)
    mapping = locked(mapping)
    reason = reasoned(mapping, step, reason)
    before, after = move(mapping, step)
    mapping.reviewer, mapping.reviewed_at, mapping.review = by, timezone.now(), reason
    mapping.save(update_fields=["reviewer", "reviewed_at", "review"])
    record(verb, mapping, by=by, before=before, after=after, reason=reason)
    return mapping


@transaction.atomic
def withdraw_mapping(mapping: DictionaryMapping, *, reason: str, by: Person) -> DictionaryMapping:
    """Withdraw a mapping: nothing is pooled by it any more; what it made keeps its record.

    Refused when: no reason was given; it was declined.
    """
    require(by, Verb.MAPPING_WITHDRAW, mapping)
    mapping = locked(mapping)
    reason = reasoned(mapping, "withdraw", reason)
    before, after = move(mapping, "withdraw")
    record(Verb.MAPPING_WITHDRAW, mapping, by=by, before=before, after=after, reason=reason)
    return mapping
