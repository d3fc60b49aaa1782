"""Accepting a deposit whole: bytes first, the row second; and what follows an erasure."""

from collections.abc import Iterable
from contextlib import suppress
from datetime import date

from archive import actions
from archive.columnar import drop_columns, enqueue_columns
from archive.copies.rounds import stores
from archive.copies.tasks import enqueue_copy
from archive.gate import pass_gate
from archive.models import Deposit, Version
from archive.places import one_at_a_time, quarantine
from archive.sealing import seal
from archive.storage.quarantine import deposit_key
from archive.terms import Terms, check_terms, creators, makers_of, next_number
from registry.errors import Unseen
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows


def accept(
    deposit: Deposit,
    *,
    licence: str,
    access: str,
    embargoed_until: date | None = None,
    restricted_because: str = "",
    step: str = "patch",
    makers: Iterable[Person] = (),
    by: Person,
) -> Version:
    """Publish the bytes of a deposit, then accept it; refused before any byte moves.

    `makers` are those named as creators; without them, the students and the supervisors.
    """
    with one_at_a_time(f"dataset-{deposit.dataset_id}"):
        require(by, Verb.DEPOSIT_ACCEPT, deposit)
        deposit = Deposit.objects.select_related("dataset__project__study", "dictionary").get(
            pk=deposit.pk
        )
        follows(deposit, "accept")
        pass_gate(deposit)
        check_terms(deposit, Terms(licence, access, embargoed_until, restricted_because))
        project = deposit.dataset.project
        sealed = seal(
            deposit,
            number=next_number(deposit, step),
            licence=licence,
            creators=creators(project, list(makers) or makers_of(project)),
            by=by,
        )
        version = actions.accept_deposit(
            deposit,
            sealed=sealed,
            licence=licence,
            access=access,
            embargoed_until=embargoed_until,
            restricted_because=restricted_because,
            by=by,
        )
        enqueue_columns(version)
        enqueue_copy(version)
        return version


def erase(version: Version, *, reason: str, by: Person) -> Version:
    """Assent to an erasure; after the second assent the bytes go, received ones included."""
    version = actions.erase_version(version, reason=reason, by=by)
    if version.state == "erased":
        erase_bytes(version)
    return version


def erase_bytes(version: Version) -> None:
    """Remove every byte of an erased version, in each store; doing it again is harmless."""
    with one_at_a_time(f"dataset-{version.dataset_id}"):
        for held in stores().values():
            # An earlier attempt may have got so far.
            with suppress(Unseen):
                held.erase(version.identifier)
    drop_columns(version)
    deposit = version.deposit
    for place in sorted(set(deposit.files.values_list("place", flat=True))):
        quarantine().discard(place)
    for number in range(1, deposit.round + 1):
        quarantine().discard(deposit_key(deposit.pk, number))
