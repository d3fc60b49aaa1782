"""Deeds on mappings, proposed by one and reviewed by another; and on tables that are pooled."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.dictionaries import table_of
from archive.exports.identifier import mint
from archive.extending.fitting import faults
from archive.extending.rules import Rule, rule_as_dict
from archive.models import (
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    DictionaryMapping,
    PooledTable,
    Version,
)
from archive.pooling import sources_of
from archive.rounds import place_of
from archive.storage.quarantine import Kept
from archive.ways import Ways
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, allowed, require
from registry.projects.models import Project, Study
from registry.search import index as search
from registry.transitions import follows, locked, moment_said, move, reasoned

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
            _(
                "%(proposer)s proposed mapping %(other)s of these two tables on "
                "%(proposed_at)s; it is %(state)s."
            )
            % {
                "proposer": other.proposer,
                "other": other.pk,
                "proposed_at": moment_said(other.proposed_at),
                "state": other.state,
            },
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
        why = _("Dictionary %(number)s of “%(study)s” has no table “%(name)s”.") % {
            "number": dictionary.number,
            "study": dictionary.study,
            "name": name,
        }
        raise _unsound(field, why, "Choose one of its tables.")
    return found


def _live(old: Dictionary, new: Dictionary, old_table: str, table: str) -> DictionaryMapping | None:
    rows = DictionaryMapping.objects.filter(old=old, new=new, old_table=old_table, table=table)
    return rows.filter(state__in=["proposed", "accepted"]).select_related("proposer").first()


def _unsound(field: str, why: str, then: str) -> Unsound:
    return Unsound(_WHAT, why, then, fields={field: why})


# ------------------------------------------------------------------------------- pooled tables


@transaction.atomic
def pool_cohorts(
    study: Study, *, table: str, sources: Sequence[Version], title: str = "", by: Person
) -> PooledTable:
    """Pool versions into one table, read by the newest of the study's dictionaries among them.

    Refused when: there is none; one is not open to whoever pools; two are of one dataset; none is
    the study's own; no mapping that holds leads from one of them; what differs has no rule.
    """
    require(by, Verb.STUDY_POOL, study)
    study = locked(study)
    what = "The versions were not pooled."
    readable = allowed(Version.objects.all(), by, Verb.VERSION_READ)
    versions = list(
        readable.filter(pk__in=[one.pk for one in sources], deposit__pool=None)
        .select_related("dictionary", "dataset__project")
        .order_by("pk")
    )
    if len(versions) < max(1, len(sources)):
        why = "None was chosen, or one of them is not open to you or is itself pooled."
        raise Unsound(what, why, "Choose among those that are offered.", fields={"sources": why})
    if len({one.dataset_id for one in versions}) < len(versions):
        why = "Two of them are of one dataset, so that its rows would stand twice."
        raise Unsound(what, why, "Choose one version of each.", fields={"sources": why})
    own = [one.dictionary for one in versions if one.dictionary and one.dictionary.study == study]
    if not own:
        why = "None of them is of this study by a dictionary of its own."
        raise Unsound(what, why, "Begin on the page of one of their studies.")
    dictionary = max(own, key=lambda one: one.number)
    found = sources_of(versions, dictionary, table, Ways.now())
    pool = PooledTable.objects.create(
        study=study,
        dictionary=dictionary,
        table=table,
        title=title.strip() or f"{study.title[:150]}, {table} pooled",
        maker=by,
    )
    pool.sources.set(versions)
    pool.mappings.set({mapping for one in found for mapping in one.way.mappings})
    record(
        Verb.STUDY_POOL,
        study,
        by=by,
        touched=[pool],
        pool=pool.pk,
        sources=[one.version.identifier for one in found],
    )
    return pool


@transaction.atomic
def deposit_pool(
    pool: PooledTable, *, project: Project, kept: Sequence[Kept], note: str = "", by: Person
) -> Deposit:
    """Open a deposit of a pooled table, whose files lie in quarantine; its sources go with it.

    Refused when: one may not deposit for that project; it is of another study, or neither collects
    nor reports; the table was withdrawn.
    """
    require(by, Verb.POOL_DEPOSIT, pool)
    require(by, Verb.PROJECT_DEPOSIT, project)
    project, pool = locked(project), locked(pool)
    follows(project, "deposit")
    follows(pool, "deposit")
    if project.study_id != pool.study_id:
        why = "The project is of another study."
        raise Unsound("It was not deposited.", why, "Choose another.", fields={"project": why})
    dataset = Dataset.objects.filter(project=project, is_pooled=True).first()
    if dataset is None:
        dataset = Dataset.objects.create(
            project=project, title=pool.title, identifier=mint(settings.NAAN), is_pooled=True
        )
        search.write(dataset)
    deposit = Deposit.objects.create(dataset=dataset, pool=pool, maker=by, note=note)
    files = [
        DepositFile.objects.create(
            deposit=deposit,
            round=deposit.round,
            name=one.name,
            bytes=one.bytes,
            sha256=one.sha256,
            place=place_of(one),
            added_by=by,
        )
        for one in kept
    ]
    record(
        Verb.POOL_DEPOSIT,
        pool,
        by=by,
        touched=[dataset, deposit, *files],
        project=project.pk,
        deposit=deposit.pk,
        sha256=[one.sha256 for one in kept],
    )
    return deposit


@transaction.atomic
def withdraw_pool(pool: PooledTable, *, reason: str, by: Person) -> PooledTable:
    """Withdraw a pooled table: it is read no more; a version that was made of it stays.

    Refused when: no reason was given; it was withdrawn already.
    """
    require(by, Verb.POOL_WITHDRAW, pool)
    pool = locked(pool)
    reason = reasoned(pool, "withdraw", reason)
    before, after = move(pool, "withdraw")
    pool.withdrawn_because = reason
    pool.save(update_fields=["withdrawn_because"])
    record(Verb.POOL_WITHDRAW, pool, by=by, before=before, after=after, reason=reason)
    return pool


# ------------------------------------------------------------------------------- reviews


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
