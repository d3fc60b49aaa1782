"""Deeds that write down what was seen of an animal: its sex, its stage, a measure, a scan."""

from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.days import not_before, within_stay
from registry.animals.happening import settle, write, write_sexed
from registry.animals.models import Animal, Event, Group, Restriction
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

_STAGE: dict[Any, Verb] = {Animal: Verb.ANIMAL_STAGE, Group: Verb.GROUP_STAGE}


def _in_order(subject: Animal | Group, sort: str, day: date, *, what: str) -> None:
    """Refuse a day outside its stay, or before the last thing of this sort was recorded."""
    within_stay(subject, day, what=what)
    last = subject.events.standing().filter(sort=sort).last()
    if last is not None:
        not_before(day, last.happened_on, "the same was last recorded", what=what)


@transaction.atomic
def sex_animal(
    animal: Animal, *, sex: str, happened_on: date, method: str = "", note: str = "", by: Person
) -> Animal:
    """Record of which sex an animal was found to be.

    Refused when: it has left; it is of that sex by the record; the day lies before its arrival or
    its last sexing, or in the future.
    """
    require(by, Verb.ANIMAL_SEX, animal)
    animal = locked(animal)
    before, after = move(animal, "sex")
    what = _("The sex of %(animal)s was not recorded.") % {"animal": animal}
    _in_order(animal, Event.Sort.SEXED, happened_on, what=what)
    if sex == animal.sex:
        raise Unsound(
            what,
            _("It is %(sex)s by the record already.") % {"sex": animal.get_sex_display()},
            "Nothing needs doing.",
            fields={"sex": "It is so already."},
        )
    event = write_sexed(animal, animal.sex, sex, happened_on, by, method=method, note=note)
    settle(animal)
    record(Verb.ANIMAL_SEX, animal, by=by, before=before, after=after, touched=[event])
    return animal


@transaction.atomic
def record_stage[S: (Animal, Group)](
    subject: S, *, life_stage: str, happened_on: date, note: str = "", by: Person
) -> S:
    """Record which stage of life an animal or a group has reached.

    Refused when: it has left; the day lies before its arrival or the last stage, or in the future.
    """
    verb = _STAGE[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "stage")
    what = _("The stage of %(subject)s was not recorded.") % {"subject": subject}
    _in_order(subject, Event.Sort.STAGED, happened_on, what=what)
    event = write(subject, Event.Sort.STAGED, happened_on, by, life_stage=life_stage, note=note)
    settle(subject)
    record(verb, subject, by=by, before=before, after=after, touched=[event])
    return subject


@transaction.atomic
def measure_animal(
    animal: Animal,
    *,
    measure: str,
    value: float,
    happened_on: date,
    method: str = "",
    note: str = "",
    by: Person,
) -> Animal:
    """Record a measure of an animal.

    Refused when: it has left; the value is not above nought; the day lies before its arrival or
    in the future.
    """
    require(by, Verb.ANIMAL_MEASURE, animal)
    animal = locked(animal)
    before, after = move(animal, "measure")
    what = _("The measure of %(animal)s was not recorded.") % {"animal": animal}
    within_stay(animal, happened_on, what=what)
    if not value > 0:
        raise Unsound(
            what,
            "A mass or a length is above nought.",
            "Check the value and its unit.",
            fields={"value": "It must be above nought."},
        )
    event = write(
        animal,
        Event.Sort.MEASURED,
        happened_on,
        by,
        measure=measure,
        value=value,
        method=method,
        note=note,
    )
    record(Verb.ANIMAL_MEASURE, animal, by=by, before=before, after=after, touched=[event])
    return animal


@transaction.atomic
def scan_animal(
    animal: Animal,
    *,
    is_pregnant: bool,
    number: int | None = None,
    since_on: date | None = None,
    happened_on: date,
    method: str = "",
    note: str = "",
    by: Person,
) -> Animal:
    """Record a scan for pregnancy; one that finds it begins “gravid”, where that does not stand.

    Refused when: it has left; the day lies before its arrival or the last scan, or in the future;
    the pregnancy would have begun after the scan; young are expected of one that is not pregnant.
    """
    require(by, Verb.ANIMAL_SCAN, animal)
    animal = locked(animal)
    before, after = move(animal, "scan")
    what = _("The scan of %(animal)s was not recorded.") % {"animal": animal}
    _in_order(animal, Event.Sort.SCANNED, happened_on, what=what)
    if since_on is not None and since_on > happened_on:
        raise Unsound(
            what,
            _("The pregnancy cannot have begun on %(day)s, after the scan.")
            % {"day": since_on.isoformat()},
            "Check the two days.",
            fields={"since_on": "It lies after the scan."},
        )
    if not is_pregnant and (number or since_on):
        raise Unsound(
            what,
            "Young are expected only of an animal that is pregnant.",
            "Leave the number and the day blank, or say that it is pregnant.",
            fields={"number": "It is not pregnant."},
        )
    event = write(
        animal,
        Event.Sort.SCANNED,
        happened_on,
        by,
        is_positive=is_pregnant,
        number=number,
        since_on=since_on,
        method=method,
        note=note,
    )
    touched: list[Any] = [event]
    if is_pregnant and not animal.restrictions.filter(sort="gravid", state="begun").exists():
        touched.append(_gravid(animal, event, by))
    record(Verb.ANIMAL_SCAN, animal, by=by, before=before, after=after, touched=touched)
    return animal


def _gravid(animal: Animal, scan: Event, by: Person) -> Restriction:
    """Begin “gravid” on the day of a scan; the latest published birth is its expected end."""
    longest = animal.taxon.period_most_d or animal.taxon.period_least_d
    due = scan.since_on + timedelta(days=longest) if scan.since_on and longest else None
    return Restriction.objects.create(
        animal=animal,
        sort=Restriction.Sort.GRAVID,
        strength=Restriction.usual(Restriction.Sort.GRAVID),
        note=scan.note,
        began_on=scan.happened_on,
        # One that is overdue bars on; an expected end before the beginning would say nothing.
        expected_end_on=due if due and due >= scan.happened_on else None,
        begun_by=by,
    )
