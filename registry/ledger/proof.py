"""Whether the ledger holds: the chain, the columns beside the text, and the rows it speaks of."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import batched
from typing import Any

from django.db import models

from registry.ledger import seal
from registry.ledger.actions import digest_of_row
from registry.ledger.chain import Fault, Link, faults, reason_digest
from registry.ledger.models import Entry, model_of, subject_of

AT_ONCE = 500
"""Rows asked for at once."""


def read_facts(entry: Entry) -> dict[str, Any]:
    """Give what was hashed; nothing where it can no longer be read."""
    try:
        facts = json.loads(entry.text)
    except ValueError:
        return {}
    return facts if isinstance(facts, dict) else {}


def column_faults(entry: Entry, facts: dict[str, Any]) -> Iterator[Fault]:
    """Yield each column that differs from the text that was hashed."""
    columns = {
        "number": entry.number,
        "at": entry.at.isoformat(),
        "verb": entry.verb,
        "subject": entry.subject,
        "actor": entry.actor_id,
        "before": entry.before,
        "after": entry.after,
        "project": entry.project_number,
        "confidential": entry.is_confidential,
    }
    for name, value in columns.items():
        if facts.get(name) != value:
            yield Fault(entry.number, f"its column “{name}” differs from what was recorded")
    is_erased = entry.reason == "" and entry.salt == ""
    if not is_erased and reason_digest(entry.reason, entry.salt) != facts.get("reason"):
        yield Fault(entry.number, "its reason differs from what was recorded")


@dataclass
class Reading:
    """One pass over the ledger: what it found besides the chain, and where it ended."""

    keeps_subjects: bool
    newest: dict[str, tuple[int, str]] = field(default_factory=dict)
    states: dict[str, tuple[int, str]] = field(default_factory=dict)
    amiss: list[Fault] = field(default_factory=list)
    head: Link | None = None
    entries: int = 0
    first_actor: models.Model | None = None

    def links(self) -> Iterator[Link]:
        """Yield the chain's links in order, a few thousand in memory at a time."""
        for entry in Entry.objects.order_by("number").iterator(chunk_size=2000):
            facts = read_facts(entry)
            if self.entries == 0:
                self.first_actor = entry.actor
            self.amiss.extend(column_faults(entry, facts))
            if self.keeps_subjects:
                self._keep(entry.number, facts)
                self._follow(entry.number, facts)
            self.head, self.entries = entry.link, self.entries + 1
            yield entry.link

    def _keep(self, number: int, facts: dict[str, Any]) -> None:
        touched: dict[str, str] = facts.get("touched") or {}
        for name, digest in {**touched, str(facts.get("subject")): facts.get("digest")}.items():
            self.newest[name] = (number, str(digest))

    def _follow(self, number: int, facts: dict[str, Any]) -> None:
        """Follow each subject from state to state: a step may not begin where it was not."""
        subject, before, after = (str(facts.get(one) or "") for one in _STEP)
        if not after:
            return
        was = self.states.get(subject, (0, before))[1]
        if before and was != before:
            self.amiss.append(
                Fault(number, f"it moves {subject} from “{before}”, and that was “{was}”")
            )
        self.states[subject] = (number, after)


_STEP = ("subject", "before", "after")


def state_faults(states: dict[str, tuple[int, str]]) -> Iterator[Fault]:
    """Yield each row that is not in the state to which the newest step about it led."""
    kinds: dict[type[models.Model], dict[str, str]] = {}
    for name in states:
        found = model_of(name)
        if found is not None and hasattr(found[0], "lifecycle"):
            kinds.setdefault(found[0], {})[found[1]] = name
    for model, named in kinds.items():
        for some in batched(named, AT_ONCE):
            for pk, state in _states(model, some):
                number, after = states[named[str(pk)]]
                if state != after:
                    yield Fault(
                        number, f"it moves {named[str(pk)]} to “{after}”, and that is “{state}”"
                    )


def _states(model: type[models.Model], keys: Iterable[str]) -> Iterator[tuple[Any, str]]:
    """Give the state of each row: as it is kept, or as it is computed from what it `reads`."""
    rows = model._default_manager.filter(pk__in=keys)
    if any(one.name == "state" for one in model._meta.concrete_fields):
        yield from rows.values_list("pk", "state")
    else:
        for row in rows.select_related(*getattr(model, "state_reads", ())):
            yield row.pk, str(row.state)  # type: ignore[attr-defined]  # why: it has a lifecycle


def subject_faults(newest: dict[str, tuple[int, str]]) -> Iterator[Fault]:
    """Yield each row that is no longer as its newest entry left it, and each that vanished."""
    kinds: dict[type[models.Model], list[tuple[str, str]]] = {}
    for name in newest:
        found = model_of(name)
        if found is None:
            yield Fault(newest[name][0], f"there is no such kind of object as in {name}")
        else:
            kinds.setdefault(found[0], []).append((name, found[1]))
    for model, named in kinds.items():
        for some in batched(named, AT_ONCE):
            yield from _differing(model, some, newest)


def stray_faults(newest: dict[str, tuple[int, str]], first: models.Model) -> Iterator[Fault]:
    """Yield each row that no entry names, of the kinds that the ledger knows.

    `first` did the first deed of all, so that nobody could have added them by one.
    """
    found = (model_of(name) for name in newest)
    for model in {one[0] for one in found if one is not None}:
        for pk in model._default_manager.order_by("pk").values_list("pk", flat=True).iterator():
            name = f"{model._meta.label_lower}:{pk}"
            if name not in newest and name != subject_of(first):
                yield Fault(0, f"{name} was written by no deed")


def _differing(
    model: type[models.Model],
    named: tuple[tuple[str, str], ...],
    newest: dict[str, tuple[int, str]],
) -> Iterator[Fault]:
    left_out = getattr(model, "not_in_digest", ())
    columns = [one.attname for one in model._meta.concrete_fields if one.attname not in left_out]
    rows = model._default_manager.filter(pk__in=[pk for _, pk in named]).values(*columns)
    key = next(one.attname for one in model._meta.concrete_fields if one.primary_key)
    now = {str(row[key]): digest_of_row(row) for row in rows}
    for name, pk in named:
        number, recorded = newest[name]
        if pk not in now:
            if recorded:
                yield Fault(number, f"{name} vanished")
        elif now[pk] != recorded:
            yield Fault(number, f"{name} was re-written since, by no deed")


def check(
    *, with_subjects: bool = False, anchor: tuple[int, str] | None = None
) -> tuple[list[Fault], Reading]:
    """Read the ledger once and give each fault, with the reading itself."""
    reading = Reading(keeps_subjects=with_subjects)
    found = list(faults(reading.links(), anchor=anchor))
    found += reading.amiss
    if with_subjects:
        found += subject_faults(reading.newest)
        found += state_faults(reading.states)
        if reading.first_actor is not None:
            found += stray_faults(reading.newest, reading.first_actor)
    if not seal.is_on():
        found.append(Fault(0, "the seal is off: its triggers are not all there"))
    return sorted(found, key=lambda fault: fault.number), reading
