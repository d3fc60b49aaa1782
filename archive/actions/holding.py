"""Deeds of the archive: dictionaries, deposits and their files, versions and their end."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.dictionaries import prepared
from archive.engine.intake import Converted, Recipe
from archive.exports.identifier import mint
from archive.exports.registered import registered
from archive.gate import gate_in, pass_gate
from archive.models import (
    Analysis,
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    IntakeRecipe,
    Mending,
    Version,
)
from archive.places import check_limits
from archive.rounds import place_of
from archive.sealing import Sealed
from archive.storage.quarantine import Kept
from archive.terms import Terms, check_terms
from registry.errors import Conflict, TooLarge, Unsound
from registry.guarded.sizes import size
from registry.ledger.actions import record
from registry.oversight.models import Hold
from registry.people.models import Person
from registry.permissions import Role, Verb, require
from registry.projects.models import Project, Study
from registry.search import index as search
from registry.transitions import follows, locked, moment_said, move, reasoned

# ------------------------------------------------------------------------------------ dictionaries


@transaction.atomic
def publish_dictionary(
    study: Study, *, descriptor: Mapping[str, Any], notes: str = "", by: Person
) -> Dictionary:
    """Publish the next version of a study's dictionary; each field gets its permanent id.

    Refused when: the descriptor is unsound; a field's id was changed or used again for another
    meaning; nothing was changed.
    """
    require(by, Verb.STUDY_WRITE_DICTIONARY, study)
    study = locked(study)
    earlier = list(study.dictionaries.order_by("number"))
    number = earlier[-1].number + 1 if earlier else 1
    sound = prepared(descriptor, [one.descriptor for one in earlier], number)
    if earlier and earlier[-1].descriptor == sound:
        raise Conflict(
            "No new version was published.",
            _("It is the same as version %(number)s.") % {"number": earlier[-1].number},
            "Change the descriptor first, or use the version that there is.",
        )
    gate_in(sound)
    dictionary = Dictionary.objects.create(
        study=study, number=number, descriptor=sound, notes=notes, published_by=by
    )
    search.write(dictionary)
    record(Verb.STUDY_WRITE_DICTIONARY, study, by=by, touched=[dictionary], number=number)
    return dictionary


# ---------------------------------------------------------------------------------------- deposits


@transaction.atomic
def open_deposit(
    project: Project, *, dictionary: Dictionary | None = None, note: str = "", by: Person
) -> Deposit:
    """Open a deposit for a project's dataset; the first one gives the dataset its identifier.

    Refused when: the project does not collect or report; the dictionary is another study's.
    """
    require(by, Verb.PROJECT_DEPOSIT, project)
    project = locked(project)
    follows(project, "deposit")
    if dictionary is not None and dictionary.study_id != project.study_id:
        raise Unsound(
            "The deposit was not opened.",
            "That dictionary belongs to another study.",
            "Choose a dictionary of this study.",
            fields={"dictionary": "It is another study's."},
        )
    dataset = Dataset.objects.filter(project=project, is_pooled=False).first()
    if dataset is None:
        dataset = Dataset.objects.create(
            project=project,
            title=f"{project.study.title[:150]}, {project.cohort}",
            identifier=mint(settings.NAAN),
        )
        search.write(dataset)
    deposit = Deposit.objects.create(dataset=dataset, dictionary=dictionary, maker=by, note=note)
    record(
        Verb.PROJECT_DEPOSIT,
        project,
        by=by,
        touched=[dataset, deposit],
        dataset=dataset.pk,
        deposit=deposit.pk,
    )
    return deposit


@transaction.atomic
def add_files(deposit: Deposit, *, kept: Sequence[Kept], by: Person) -> list[DepositFile]:
    """Add files that lie in quarantine, all or none; a newer one replaces one of the same name.

    Refused when: the package would hold too many files or bytes; two names differ only in capitals;
    two of the files have the same name; it was pooled.
    """
    require(by, Verb.DEPOSIT_ADD_FILE, deposit)
    deposit = locked(deposit)
    _as_pooled(deposit, "The file was not added.")
    before, after = move(deposit, "add_file")
    live = list(deposit.files.filter(is_dropped=False))
    names = {one.name for one in kept}
    old = [file for file in live if file.name in names]
    others: list[DepositFile | Kept] = [file for file in live if file.name not in names]
    for one in kept:
        _fits(one, others)
        others.append(one)
    for file in old:
        file.is_dropped = True
        file.save(update_fields=["is_dropped"])
    added = [
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
        Verb.DEPOSIT_ADD_FILE,
        deposit,
        by=by,
        before=before,
        after=after,
        touched=[*added, *old],
        sha256=[one.sha256 for one in kept],
    )
    return added


def _as_pooled(deposit: Deposit, what: str) -> None:
    """Keep the table of a pooled deposit as it was read out of its sources."""
    if deposit.pool_id is not None:
        raise Conflict(
            what,
            "Its table was read out of the archive; another would not be what its sources hold.",
            "Discard it, correct the version that is wrong, and deposit the pooled table anew.",
        )


def _fits(kept: Kept, others: Sequence[DepositFile | Kept]) -> None:
    what = _("The file %(kept)s was not added.") % {"kept": kept.name}
    limits = check_limits()
    for file in others:
        if file.name == kept.name:
            raise Unsound(
                what,
                "Two of the files that you sent have this name, so that nobody can say which"
                " counts.",
                "Send the right one, or rename one of them.",
                fields={"files": _("Two are named %(kept)s.") % {"kept": kept.name}},
            )
        if file.name.lower() == kept.name.lower():
            raise Unsound(
                what,
                _("It differs from %(file)s only in capitals; some disks take them for one.")
                % {"file": file.name},
                "Rename one of them and send it again.",
                fields={"files": _("It clashes with %(file)s.") % {"file": file.name}},
            )
    if len(others) + 1 > limits.package_files:
        raise TooLarge(
            what,
            _("A package holds %(package_files)s files at most.")
            % {"package_files": limits.package_files},
            "Leave out what is no data, or split the package.",
        )
    if sum(file.bytes for file in others) + kept.bytes > limits.package_bytes:
        raise TooLarge(
            what,
            _("The package would be larger than %(size)s.") % {"size": size(limits.package_bytes)},
            "Leave out what is no data, or split the package.",
        )


@transaction.atomic
def drop_file(deposit: Deposit, *, file: DepositFile, by: Person) -> Deposit:
    """Drop a file from a deposit; its bytes stay where they are.

    Refused when: the deposit does not hold it; it was pooled.
    """
    require(by, Verb.DEPOSIT_DROP_FILE, deposit)
    deposit = locked(deposit)
    _as_pooled(deposit, "The file was not dropped.")
    before, after = move(deposit, "drop_file")
    if file.deposit_id != deposit.pk or file.is_dropped:
        raise Conflict(
            "No file was dropped.", "This deposit does not hold it.", "Look at the list again."
        )
    file.is_dropped = True
    file.save(update_fields=["is_dropped"])
    record(Verb.DEPOSIT_DROP_FILE, deposit, by=by, before=before, after=after, touched=[file])
    return deposit


@transaction.atomic
def convert_file(
    deposit: Deposit,
    *,
    file: DepositFile,
    kept: Kept,
    recipe: Recipe,
    converted: Converted,
    by: Person,
) -> DepositFile:
    """Put the plain table that was made of a file in its place; the original is kept beside it.

    Refused when: the deposit does not hold the file; the table was made of other bytes; the
    package would hold too many files or bytes; it was pooled.
    """
    require(by, Verb.DEPOSIT_CONVERT, deposit)
    deposit = locked(deposit)
    _as_pooled(deposit, "The file was not converted.")
    before, after = move(deposit, "convert")
    _is_of(deposit, file, kept, converted)
    live = list(deposit.files.filter(is_dropped=False))
    _fits(kept, [one for one in live if one.pk != file.pk and one.name != kept.name])
    old = [one for one in live if one.pk == file.pk or one.name == kept.name]
    for one in old:
        one.is_dropped = True
        one.save(update_fields=["is_dropped"])
    result = DepositFile.objects.create(
        deposit=deposit,
        round=deposit.round,
        name=kept.name,
        bytes=kept.bytes,
        sha256=kept.sha256,
        place=place_of(kept),
        added_by=by,
    )
    made = IntakeRecipe.objects.create(
        source=file,
        result=result,
        table=recipe.table,
        recipe=json.loads(recipe.as_json()),
        source_sha256=file.sha256,
        result_sha256=kept.sha256,
        row_map=converted.row_map,
        left=converted.as_dict()["left"],
        made_by=by,
    )
    record(
        Verb.DEPOSIT_CONVERT,
        deposit,
        by=by,
        before=before,
        after=after,
        touched=[result, made, *old],
        source=file.sha256,
        sha256=kept.sha256,
    )
    return result


def _is_of(deposit: Deposit, file: DepositFile, kept: Kept, converted: Converted) -> None:
    """See that the file is here, or was converted here before, and that the table is made of it."""
    what, next_step = "The file was not converted.", "Open its intake page again."
    is_here = file.deposit_id == deposit.pk and (not file.is_dropped or file.recipes.exists())
    if not is_here:
        raise Conflict(what, "This deposit does not hold it.", "Look at the list of files again.")
    if (converted.source_sha256, converted.sha256) != (file.sha256, kept.sha256):
        raise Conflict(what, "The table was made of other bytes than are kept.", next_step)


@transaction.atomic
def submit_deposit(deposit: Deposit, *, by: Person) -> Deposit:
    """Submit a deposit to be checked.

    Refused when: it holds no file; a zip stands beside other files; no descriptor and no
    dictionary says what the tables are.
    """
    require(by, Verb.DEPOSIT_SUBMIT, deposit)
    deposit = locked(deposit)
    names = [file.name.lower() for file in deposit.files.filter(is_dropped=False)]
    zips = [name for name in names if name.endswith(".zip")]
    what = "The deposit was not submitted."
    if not names:
        raise Unsound(what, "It holds no file.", "Add the files first.")
    if zips and len(names) > 1:
        raise Unsound(
            what,
            _("%(zips)s stands beside other files, so that nobody can say what counts.")
            % {"zips": zips[0]},
            "Drop the zip, or drop the other files.",
        )
    if not zips and "datapackage.json" not in names and deposit.dictionary_id is None:
        raise Unsound(
            what,
            "There is no datapackage.json, and no dictionary was chosen that says what the "
            "columns are.",
            "Add a datapackage.json, or open a deposit with the study's dictionary.",
        )
    before, after = move(deposit, "submit")
    deposit.submitted_at, deposit.progress, deposit.heartbeat_at = timezone.now(), 0, None
    deposit.verdict, deposit.summary = "", {}
    deposit.save(update_fields=["submitted_at", "progress", "heartbeat_at", "verdict", "summary"])
    record(Verb.DEPOSIT_SUBMIT, deposit, by=by, before=before, after=after, round=deposit.round)
    return deposit


@transaction.atomic
def record_check(
    deposit: Deposit, *, round_number: int, verdict: str, summary: dict[str, Any], by: Person
) -> Deposit:
    """Record what the check of a round found.

    Refused when: another round was begun meanwhile.
    """
    require(by, Verb.DEPOSIT_CHECK, deposit)
    deposit = locked(deposit)
    if deposit.round != round_number:
        raise Conflict(
            "The check was not recorded.", "Another round was begun meanwhile.", "Nothing to do."
        )
    before, after = move(deposit, "check")
    deposit.checked_at, deposit.progress = timezone.now(), 1
    deposit.verdict, deposit.summary = verdict, summary
    deposit.save(update_fields=["checked_at", "progress", "verdict", "summary"])
    record(
        Verb.DEPOSIT_CHECK,
        deposit,
        by=by,
        before=before,
        after=after,
        round=round_number,
        verdict=verdict,
    )
    return deposit


@transaction.atomic
def correct_deposit(deposit: Deposit, *, by: Person) -> Deposit:
    """Open a deposit again, in a new round that begins with all its files; a check is called off.

    Refused when: it was not submitted.
    """
    require(by, Verb.DEPOSIT_CORRECT, deposit)
    deposit = locked(deposit)
    before, after = move(deposit, "correct")
    touched = _begin_round(deposit)
    record(
        Verb.DEPOSIT_CORRECT,
        deposit,
        by=by,
        before=before,
        after=after,
        touched=touched,
        round=deposit.round,
    )
    return deposit


def _begin_round(deposit: Deposit, without: Collection[int] = ()) -> list[DepositFile]:
    """Begin a new round with copies of the live files, some left out; give the rows written."""
    live = list(deposit.files.filter(is_dropped=False))
    deposit.files.filter(is_dropped=False).update(is_dropped=True)
    deposit.round += 1
    deposit.save(update_fields=["round"])
    copies = [
        DepositFile.objects.create(
            deposit=deposit,
            round=deposit.round,
            name=file.name,
            bytes=file.bytes,
            sha256=file.sha256,
            place=file.place,
            added_by=file.added_by,
            added_at=file.added_at,
        )
        for file in live
        if file.pk not in without
    ]
    return [*deposit.files.filter(pk__in=[file.pk for file in live]), *copies]


@dataclass(frozen=True, slots=True)
class Mended:
    """A corrected draft that lies in quarantine: what it was made of, and how."""

    source: DepositFile
    kept: Kept
    corrections: list[dict[str, Any]]
    said: list[str]
    cells: int
    rows_left_out: int


@transaction.atomic
def mend_deposit(deposit: Deposit, *, made: Sequence[Mended], by: Person) -> Deposit:
    """Put corrected drafts in the place of files, which are kept; a checked deposit opens again.

    Refused when: there is no draft; the deposit no longer holds a file that one was made of; the
    package would hold too many bytes; it was pooled.
    """
    require(by, Verb.DEPOSIT_MEND, deposit)
    deposit = locked(deposit)
    _as_pooled(deposit, "Nothing was corrected.")
    live = {file.pk: file for file in deposit.files.filter(is_dropped=False)}
    sources = {one.source.pk for one in made}
    if not made or not sources <= live.keys():
        raise Conflict(
            "Nothing was corrected.",
            "The deposit no longer holds the file that was to be corrected.",
            "Look at the list of files, and have the deposit checked again.",
        )
    others: list[DepositFile | Kept] = [one for pk, one in live.items() if pk not in sources]
    for one in made:
        _fits(one.kept, others)
        others.append(one.kept)
    before, after = move(deposit, "mend")
    touched: list[Any] = []
    if before == "checked":
        touched += _begin_round(deposit, without=sources)
    else:
        for file in (live[pk] for pk in sorted(sources)):
            file.is_dropped = True
            file.save(update_fields=["is_dropped"])
            touched.append(file)
    for one in made:
        touched += _put_mended(deposit, one, by)
    record(
        Verb.DEPOSIT_MEND,
        deposit,
        by=by,
        before=before,
        after=after,
        touched=touched,
        round=deposit.round,
        source=[one.source.sha256 for one in made],
        sha256=[one.kept.sha256 for one in made],
        # Their kinds alone: a rule may hold values out of the data, and the ledger keeps for ever.
        corrections=sorted({rule["kind"] for one in made for rule in one.corrections}),
    )
    return deposit


def _put_mended(deposit: Deposit, one: Mended, by: Person) -> tuple[DepositFile, Mending]:
    result = DepositFile.objects.create(
        deposit=deposit,
        round=deposit.round,
        name=one.kept.name,
        bytes=one.kept.bytes,
        sha256=one.kept.sha256,
        place=place_of(one.kept),
        added_by=by,
    )
    mending = Mending.objects.create(
        source=one.source,
        result=result,
        corrections=one.corrections,
        said=one.said,
        cells=one.cells,
        rows_left_out=one.rows_left_out,
        made_by=by,
    )
    return result, mending


@transaction.atomic
def discard_deposit(deposit: Deposit, *, reason: str, by: Person) -> Deposit:
    """Discard a deposit, with the reason; its files stay in quarantine.

    Refused when: it was accepted; no reason was given.
    """
    require(by, Verb.DEPOSIT_DISCARD, deposit)
    deposit = locked(deposit)
    reason = reasoned(deposit, "discard", reason)
    before, after = move(deposit, "discard")
    record(Verb.DEPOSIT_DISCARD, deposit, by=by, before=before, after=after, reason=reason)
    return deposit


# ---------------------------------------------------------------------------------------- versions


@transaction.atomic
def accept_deposit(
    deposit: Deposit,
    *,
    sealed: Sealed,
    licence: str,
    access: str,
    embargoed_until: date | None = None,
    restricted_because: str = "",
    by: Person,
) -> Version:
    """Accept a deposit whose bytes are in the store already; it becomes an immutable version.

    Refused when: the verdict is not valid; one made it oneself; an observer did not pass the gate
    of its dictionary; the terms do not hold together, or the data agreement does not allow them;
    another version took its number.
    """
    require(by, Verb.DEPOSIT_ACCEPT, deposit)
    dataset = locked(Dataset.objects.get(pk=deposit.dataset_id))
    deposit = locked(deposit)
    follows(deposit, "accept")
    pass_gate(deposit)
    check_terms(deposit, Terms(licence, access, embargoed_until, restricted_because))
    other = dataset.versions.filter(number=sealed.number).select_related("accepted_by").first()
    if other is not None:
        raise Conflict(
            "The deposit was not accepted.",
            _("%(accepted_by)s made another deposit version %(number)s on %(accepted_at)s.")
            % {
                "accepted_by": other.accepted_by,
                "number": sealed.number,
                "accepted_at": moment_said(other.accepted_at),
            },
            "Look at that version, and accept this one again if it is still wanted.",
        )
    before, after = move(deposit, "accept")
    version = Version.objects.create(
        dataset=dataset,
        deposit=deposit,
        dictionary=deposit.dictionary,
        number=sealed.number,
        identifier=sealed.identifier,
        slug=sealed.slug,
        descriptor=sealed.descriptor,
        manifest=sealed.manifest,
        seal=sealed.seal,
        creators=sealed.creators,
        licence=licence,
        access=access,
        embargoed_until=embargoed_until,
        restricted_because=restricted_because.strip(),
        rows=sealed.rows,
        bytes=sealed.bytes,
        accepted_by=by,
        is_published=True,
    )
    search.write(version)
    newest = dataset.project.study.dictionaries.order_by("-number").first()
    if newest is not None:
        search.write(newest)  # its fields are found by the procedures of what was published
    record(
        Verb.DEPOSIT_ACCEPT,
        deposit,
        by=by,
        before=before,
        after=after,
        touched=[version],
        version=version.number,
        identifier=version.identifier,
    )
    return version


@transaction.atomic
def withdraw_version(
    version: Version, *, ground: str, reason: str, replaced_by: Version | None = None, by: Person
) -> Version:
    """Withdraw a version: its files are no longer served, and a tombstone stands in its place.

    Refused when: no reason was given; it would be replaced by itself, by another dataset's
    version, or by one that is withdrawn.
    """
    require(by, Verb.VERSION_WITHDRAW, version)
    version = locked(version)
    reason = reasoned(version, "withdraw", reason)
    if replaced_by is not None and (
        replaced_by.pk == version.pk
        or replaced_by.dataset_id != version.dataset_id
        or replaced_by.state != "held"
    ):
        raise Unsound(
            "The version was not withdrawn.",
            "Only another held version of the same dataset can stand in its place.",
            "Choose another, or none.",
            fields={"replaced_by": "Choose a held version of this dataset."},
        )
    before, after = move(version, "withdraw")
    version.ground, version.replaced_by = ground, replaced_by
    version.withdrawn_at = timezone.now()
    version.save(update_fields=["ground", "replaced_by", "withdrawn_at"])
    record(
        Verb.VERSION_WITHDRAW,
        version,
        by=by,
        before=before,
        after=after,
        reason=reason,
        ground=ground,
    )
    return version


@transaction.atomic
def register_version(version: Version, *, identifier: str, by: Person) -> Version:
    """Note the DOI or the Handle that an agency registered for a version; it is never changed.

    Refused when: it is neither; the version has one; it is another version's.
    """
    require(by, Verb.VERSION_REGISTER, version)
    version = locked(version)
    follows(version, "register")
    what, found = "The identifier was not added.", registered(identifier)
    if version.registered:
        why = _("The version has %(registered)s, and an identifier is never changed.") % {
            "registered": version.registered
        }
        raise Conflict(what, why, "Have the agency lead the other one to the same page.")
    if other := Version.objects.filter(registered=found).first():
        why = _("It is that of %(other)s, and is never used again.") % {"other": other}
        raise Unsound(what, why, "Give this version’s own.", fields={"identifier": why})
    version.registered = found
    version.save(update_fields=["registered"])
    record(Verb.VERSION_REGISTER, version, by=by, identifier=found)
    return version


@transaction.atomic
def erase_version(version: Version, *, reason: str, by: Person) -> Version:
    """Assent to erasing a withdrawn version; steward and administrator, the second one erases it.

    Refused when: it is not withdrawn; no reason was given; one person would give both assents; the
    records of its project are held; a pooled version that was made of it is not erased.
    """
    require(by, Verb.VERSION_ERASE, version)
    project = locked(version.dataset.project)
    version = locked(version)
    reason = reasoned(version, "erase", reason)
    follows(version, "erase")
    _not_held(project)
    _not_made_of(version)
    part = _assent(version, by)
    before = after = version.state
    touched: list[Any] = []
    if version.erase_steward_id and version.erase_administrator_id:
        before, after = move(version, "erase")
        version.erased_at = timezone.now()
        # The summary of the check holds values out of the data.
        deposit = locked(Deposit.objects.get(pk=version.deposit_id))
        deposit.summary = {}
        deposit.save(update_fields=["summary"])
        touched.append(deposit)
        for analysis in Analysis.objects.filter(sources=version):
            analysis.result, analysis.facts = {}, {}
            analysis.save(update_fields=["result", "facts"])
            touched.append(analysis)
        for mending in Mending.objects.filter(result__deposit=deposit):
            mending.corrections, mending.said = [], []
            mending.save(update_fields=["corrections", "said"])
            touched.append(mending)
    version.save(update_fields=["erase_steward", "erase_administrator", "erased_at"])
    record(
        Verb.VERSION_ERASE,
        version,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
        assent=part,
    )
    return version


def _not_held(project: Project) -> None:
    hold = Hold.objects.standing().filter(project=project).select_related("set_by").first()
    if hold is not None:
        raise Conflict(
            "The version was not erased.",
            _("%(set_by)s holds all records of its project since %(set_at)s.")
            % {"set_by": hold.set_by, "set_at": moment_said(hold.set_at)},
            "Wait until the auditor lifts the hold.",
        )


def _not_made_of(version: Version) -> None:
    """Refuse to erase what lies in a pooled version still."""
    made = Version.objects.filter(deposit__pool__sources=version).exclude(state="erased").first()
    if made is not None:
        raise Conflict(
            "The version was not erased.",
            _("Its rows lie in %(made)s too, which was pooled out of it.") % {"made": made},
            "Withdraw and erase that one first.",
        )


def _assent(version: Version, by: Person) -> str:
    """Note whose assent this is."""
    given = {version.erase_steward_id, version.erase_administrator_id}
    if by.pk not in given:
        if Role.STEWARD in by.roles and version.erase_steward_id is None:
            version.erase_steward = by
            return "steward"
        if Role.ADMINISTRATOR in by.roles and version.erase_administrator_id is None:
            version.erase_administrator = by
            return "administrator"
    raise Conflict(
        "Nothing was erased.",
        "A data steward and an administrator must agree, two persons, and this assent is given.",
        "Ask the other one.",
    )
