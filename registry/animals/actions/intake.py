"""The deed that brings in the animals and groups of one file, all or none."""

import re
from collections.abc import Mapping
from itertools import batched

from django.db import IntegrityError, models, transaction
from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _

from registry.animals.arriving import first_event
from registry.animals.intake.dates import Order
from registry.animals.intake.reading import Sheet
from registry.animals.intake.rows import Row
from registry.animals.intake.told import faults_by_field
from registry.animals.intake.weighing import AT_ONCE, SAID, Outcome, Trial, Unknown, weigh
from registry.animals.models import Animal, Enclosure, Event, Group, Intake, Mark, Parentage, Taxon
from registry.errors import Conflict, Unsound
from registry.ledger.actions import Made, record, record_all
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.saying import number_said
from registry.search import index as search

_WHAT = "Nothing was brought in."
_RUN = re.compile(r"([0-9]{1,6})([a-z])")
_FIRST_CHANGES = 5


@transaction.atomic
def import_animals(
    sheet: Sheet,
    *,
    orders: Mapping[str, Order] | None = None,
    seen: str = "",
    make_taxa: bool = False,
    make_enclosures: bool = False,
    by: Person,
) -> Intake:
    """Bring in every animal and group of a file that is not here yet; all of them, or none.

    `seen` is what a trial of the same file gave: where the register has changed since, nothing is
    done.

    Refused when: a row is to be put right; the order of day and month is not known; a taxon or an
    enclosure is not in the register and is not to be made; every row is here already; the register
    changed since it was looked at.
    """
    require(by, Verb.ANIMAL_IMPORT)
    trial = weigh(sheet, orders)
    _unchanged(trial, seen)
    _sound(trial)
    _makeable(trial, make_taxa=make_taxa, make_enclosures=make_enclosures)
    if trial.taxa:
        require(by, Verb.TAXON_ADD)
    if trial.enclosures:
        require(by, Verb.ENCLOSURE_OPEN)
    try:
        with transaction.atomic():
            intake, made = _write(trial, by)
    except IntegrityError as problem:
        raise Conflict(
            _WHAT,
            "Someone took a code, a name or a chip of the file in the same moment.",
            "Look again at what would become of each row.",
        ) from problem
    record_all(made, by=by, intake=intake.pk)
    record(Verb.ANIMAL_IMPORT, intake, by=by)
    return intake


def _unchanged(trial: Trial, seen: str) -> None:
    """Refuse where a row would fare otherwise than when it was looked at."""
    if not seen or seen == trial.seen:
        return
    before = "".join(int(count) * letter for count, letter in _RUN.findall(seen[:400_000]))
    known = {one.value for one in Outcome}
    changed = [
        f"row {now.number} ({now.code}) was {SAID[Outcome(was)]}, and is {now.said} now"
        for was, now in zip(before, trial.rows, strict=False)
        if was in known and was != now.outcome.value
    ]
    first = "; ".join(changed[:_FIRST_CHANGES])
    more = len(changed) - _FIRST_CHANGES
    raise Conflict(
        _WHAT,
        _("The register has changed since you looked: %(first)s")
        % {"first": first or "in more than can be told"}
        + (_("; and %(more)s more rows.") % {"more": number_said(more)} if more > 0 else "."),
        "Look at the rows again below, and send it once more if it is right.",
    )


def _sound(trial: Trial) -> None:
    if trial.asked:
        raise Unsound(
            _WHAT,
            _("In %(asked)s every day could be read two ways round, such as 4 May or 5 April.")
            % {"asked": " and ".join(trial.asked)},
            "Say which number is the day.",
            fields={f"{name}_order": "Say which number is the day." for name in trial.asked},
        )
    if trial.faults:
        told = faults_by_field(trial.faults)
        first = "; ".join(f"{where}: {say}" for where, say in list(told.items())[:3])
        raise Unsound(
            _WHAT,
            _("%(number)s to put right. %(first)s")
            % {"number": number_said(len(trial.faults)), "first": first},
            "Mend these in the file, and send it again.",
            fields=told,
        )
    if not trial.new:
        raise Conflict(
            _WHAT, "Every row of the file is in the register already.", "Nothing needs doing."
        )


def _makeable(trial: Trial, *, make_taxa: bool, make_enclosures: bool) -> None:
    """Refuse where something would have to be made that nobody said should be."""
    missing = {}
    if trial.taxa and not make_taxa:
        missing["make_taxa"] = trial.taxa
    if trial.enclosures and not make_enclosures:
        missing["make_enclosures"] = trial.enclosures
    if not missing:
        return
    names = [one.name for unknown in missing.values() for one in unknown.values()]
    said = ", ".join(names[:_FIRST_CHANGES])
    raise Unsound(
        _WHAT,
        _("Not in the register: %(said)s%(said_too)s.")
        % {"said": said, "said_too": ", and more" if names[_FIRST_CHANGES:] else ""},
        "Say that they are to be made too, or mend their names in the file.",
        fields=dict.fromkeys(missing, "Not in the register; tick this to have them made."),
    )


def _write(trial: Trial, by: Person) -> tuple[Intake, list[Made]]:
    """Write the rows of a sound trial, and give them as the ledger is to have them."""
    known = trial.known
    source = f"brought in with {trial.sheet.file_name}"[:200]
    taxa = {key: _taxon(one, source) for key, one in trial.taxa.items()}
    enclosures = {
        key: Enclosure(code=one.name, name=one.label, is_on_show=one.is_on_show)
        for key, one in trial.enclosures.items()
    }
    for one in (*taxa.values(), *enclosures.values()):
        one.save(force_insert=True)
        search.write(one)
    rows = trial.new
    intake = Intake.objects.create(
        file_name=trial.sheet.file_name,
        sha256=trial.sheet.sha256,
        animals_brought=sum(not row.is_group for row in rows),
        groups_brought=sum(row.is_group for row in rows),
        rows_known=len(trial.rows) - len(rows),
        brought_by=by,
    )
    homes = {**known.enclosures, **enclosures}
    kinds = {**known.taxa, **taxa}
    made = [Made(Verb.TAXON_ADD, one) for one in taxa.values()]
    made += [Made(Verb.ENCLOSURE_OPEN, one) for one in enclosures.values()]
    subjects: list[Animal | Group] = []
    for row in rows:
        shared = {
            "taxon": kinds[row.taxon.casefold()],
            "enclosure": homes[row.enclosure.casefold()],
            "owner": known.owners.get(row.owner.casefold()),
            "intake": intake,
        }
        subjects.append(_subject(row, shared))
    return intake, made + _write_subjects(subjects, rows, known.animals, by)


def _taxon(unknown: Unknown, source: str) -> Taxon:
    return Taxon(
        scientific_name=unknown.name,
        common_name=unknown.label,
        taxon_class=unknown.sort,
        source=source,
    )


def _subject(row: Row, shared: Mapping[str, models.Model | None]) -> Animal | Group:
    written = {
        **shared,
        "code": row.code,
        "name": row.name,
        "life_stage": row.life_stage,
        "arrived_on": row.arrived_on,
    }
    if row.is_group:
        males, females, unknown = row.counts
        return Group(sort=row.sort, males=males, females=females, unknown=unknown, **written)
    return Animal(sex=row.sex, born_on=row.born_on, origin=row.origin, **written)


def _parentage(
    subjects: list[Animal | Group], rows: list[Row], held: Mapping[str, Animal], by: Person
) -> dict[int, list[Parentage]]:
    """Write the parents of the rows, and give them by the place of their young."""
    here = {one.code.casefold(): one for one in subjects if isinstance(one, Animal)}
    told = {
        place: [
            Parentage(
                **{str(one.kind): one},
                role=parent.role,
                parent=held.get(parent.code.casefold()) or here[parent.code.casefold()],
                evidence=parent.evidence,
                recorded_by=by,
            )
            for parent in row.parents
        ]
        for place, (one, row) in enumerate(zip(subjects, rows, strict=True))
        if row.parents
    }
    Parentage.objects.bulk_create((one for some in told.values() for one in some), AT_ONCE)
    return told


def _write_subjects(
    subjects: list[Animal | Group], rows: list[Row], held: Mapping[str, Animal], by: Person
) -> list[Made]:
    animals = [one for one in subjects if isinstance(one, Animal)]
    groups = [one for one in subjects if isinstance(one, Group)]
    Animal.objects.bulk_create(animals, batch_size=AT_ONCE)
    Group.objects.bulk_create(groups, batch_size=AT_ONCE)
    events = [first_event(one, by=by) for one in subjects]
    Event.objects.bulk_create(events, batch_size=AT_ONCE)
    marks = {
        place: Mark(animal=one, sort=row.chip_sort, said=row.chip, recorded_by=by)
        for place, (one, row) in enumerate(zip(subjects, rows, strict=True))
        if isinstance(one, Animal) and row.chip
    }
    Mark.objects.bulk_create(marks.values(), batch_size=AT_ONCE)
    parents = _parentage(subjects, rows, held, by)
    for some in batched(animals, AT_ONCE):
        prefetch_related_objects(some, "marks")
    search.write_new(subjects)
    return [
        Made(
            Verb.GROUP_RECEIVE if isinstance(one, Group) else Verb.ANIMAL_RECEIVE,
            one,
            (events[place], *([marks[place]] if place in marks else ()), *parents.get(place, ())),
            str(one.state),
        )
        for place, one in enumerate(subjects)
    ]
