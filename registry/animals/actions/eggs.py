"""Deeds on egg cases and their embryos."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import first_event, free, write_new
from registry.animals.days import not_before, not_to_come
from registry.animals.happening import in_being, not_away, write, write_loss
from registry.animals.models import (
    Animal,
    Candidate,
    EggCase,
    Embryo,
    Enclosure,
    Event,
    Group,
    LifeStage,
    Parentage,
    Precision,
    Sex,
    Taxon,
)
from registry.animals.stock import Count
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move

_ONE = Count(unknown=1)


@transaction.atomic
def record_case(
    *,
    code: str,
    taxon: Taxon,
    enclosure: Enclosure,
    laid_on: date,
    laid_precision: str = Precision.DAY,
    embryos: int = 1,
    clutch: Group | None = None,
    dam: Animal | None = None,
    note: str = "",
    by: Person,
) -> EggCase:
    """Record an egg case that was laid here, with the embryos that it is taken to hold.

    Refused when: its code is in the register; it was laid in the future or before the enclosure
    existed; it holds no embryo; the dam is male, of another taxon, or was not born or had left by
    then; the clutch is of another taxon.
    """
    require(by, Verb.CASE_RECORD)
    what = "The egg case was not recorded."
    free(EggCase, "code", code, what)
    not_to_come(laid_on, what=what, field="laid_on")
    in_being(enclosure, laid_on, what=what)
    if embryos < 1:
        raise Unsound(
            what,
            "A case without an embryo has nothing to follow.",
            "Give one; if it proves infertile, that is recorded of it.",
            fields={"embryos": "Give one or more."},
        )
    if clutch is not None and clutch.taxon_id != taxon.pk:
        raise Unsound(
            what,
            _("%(clutch)s is of another taxon.") % {"clutch": clutch},
            "Choose a clutch of the same taxon.",
            fields={"clutch": "It is of another taxon."},
        )
    if dam is not None:
        _can_have_laid(dam, taxon, laid_on, what=what)
    case = EggCase(
        code=code,
        taxon=taxon,
        clutch=clutch,
        enclosure=enclosure,
        laid_on=laid_on,
        laid_precision=laid_precision,
    )
    write_new(case, what)
    touched: list[Any] = [
        write(
            case,
            Event.Sort.LAID,
            laid_on,
            by,
            Count(unknown=embryos),
            enclosure=enclosure,
            life_stage=LifeStage.EGG,
            note=note,
        )
    ]
    touched += [Embryo.objects.create(case=case, ordinal=n + 1) for n in range(embryos)]
    if dam is not None:
        touched.append(
            Parentage.objects.create(
                case=case,
                role=Parentage.Role.DAM,
                parent=dam,
                evidence=Parentage.Evidence.SEEN_BIRTH,
                recorded_by=by,
            )
        )
    search.write(case)
    record(Verb.CASE_RECORD, case, by=by, after=case.state, touched=touched)
    return case


def _can_have_laid(dam: Animal, taxon: Taxon, laid_on: date, *, what: str) -> None:
    why = ""
    if dam.sex == Sex.MALE:
        why = _("%(dam)s is male.") % {"dam": dam}
    elif dam.taxon_id != taxon.pk:
        why = _("%(dam)s is of another taxon.") % {"dam": dam}
    elif dam.arrived_on > laid_on or (dam.left_on is not None and dam.left_on < laid_on):
        why = _("%(dam)s was not here on that day.") % {"dam": dam}
    if why:
        raise Unsound(what, why, "Check which animal laid it.", fields={"dam": why})


def _developing(embryo: Embryo, day: date, *, what: str) -> None:
    """Refuse an embryo that is no more, or a day before the case's last event or in the future."""
    if embryo.outcome != Embryo.Outcome.DEVELOPING:
        raise Conflict(
            what,
            _("%(embryo)s is %(outcome)s by the record.")
            % {"embryo": embryo, "outcome": embryo.get_outcome_display()},
            "Choose another embryo of the case.",
        )
    _in_order(embryo.case, day, what=what)


def _in_order(case: EggCase, day: date, *, what: str) -> None:
    not_to_come(day, what=what)
    last = case.events.standing().last()
    first = last.happened_on if last is not None else case.laid_on
    not_before(day, first, "the last event of the case was recorded", what=what)


def _end(embryo: Embryo, outcome: str, day: date) -> None:
    embryo.outcome, embryo.ended_on = outcome, day
    embryo.save(update_fields=["outcome", "ended_on", "is_fertile", "animal"])


@transaction.atomic
def find_embryo(case: EggCase, *, happened_on: date, note: str = "", by: Person) -> EggCase:
    """Record that one embryo more was found in a case.

    Refused when: the case has ended; the day lies before its last event or in the future.
    """
    require(by, Verb.CASE_FIND, case)
    case = locked(case)
    before, after = move(case, "find")
    _in_order(case, happened_on, what=_("No embryo was added to %(case)s.") % {"case": case})
    embryo = Embryo.objects.create(case=case, ordinal=case.embryos.count() + 1)
    event = write(case, Event.Sort.COUNTED, happened_on, by, _ONE, embryo=embryo, note=note)
    record(Verb.CASE_FIND, case, by=by, before=before, after=after, touched=[embryo, event])
    return case


@transaction.atomic
def candle_embryo(
    embryo: Embryo, *, is_fertile: bool, happened_on: date, note: str = "", by: Person
) -> EggCase:
    """Record whether an embryo was found fertile; one that is not counts no more.

    Refused when: the case has ended, or the embryo has; the day lies before the case's last event
    or in the future.
    """
    require(by, Verb.CASE_CANDLE, embryo.case)
    case = locked(embryo.case)
    embryo = locked(embryo)
    before, after = move(case, "candle")
    _developing(
        embryo, happened_on, what=_("Nothing was recorded of %(embryo)s.") % {"embryo": embryo}
    )
    facts: dict[str, Any] = {"embryo": embryo, "is_positive": is_fertile, "note": note}
    embryo.is_fertile = is_fertile
    if is_fertile:
        event = write(case, Event.Sort.FERTILE, happened_on, by, **facts)
        embryo.save(update_fields=["is_fertile"])
    else:
        event = write_loss(case, Event.Sort.FERTILE, happened_on, by, _ONE, **facts)
        _end(embryo, Embryo.Outcome.INFERTILE, happened_on)
    record(Verb.CASE_CANDLE, case, by=by, before=before, after=after, touched=[embryo, event])
    return case


@transaction.atomic
def stage_embryo(
    embryo: Embryo, *, stage: float, method: str, happened_on: date, note: str = "", by: Person
) -> EggCase:
    """Record the stage that an embryo has reached, by the table that is cited.

    Refused when: the case has ended, or the embryo has; no citation is given; the stage is below
    nought; the day lies before the case's last event or in the future.
    """
    require(by, Verb.CASE_STAGE, embryo.case)
    case = locked(embryo.case)
    embryo = locked(embryo)
    before, after = move(case, "stage")
    what = _("The stage of %(embryo)s was not recorded.") % {"embryo": embryo}
    _developing(embryo, happened_on, what=what)
    if not method.strip() or stage < 0:
        field = "stage" if stage < 0 else "method"
        raise Unsound(
            what,
            "A stage is a number of nought or more in a published table, which must be named.",
            "Give the number, and the author and year of the table.",
            fields={field: "A number of nought or more, and the table that it is from."},
        )
    event = write(
        case,
        Event.Sort.STAGED,
        happened_on,
        by,
        embryo=embryo,
        measure=Event.Measure.STAGE,
        value=stage,
        method=method,
        note=note,
    )
    record(Verb.CASE_STAGE, case, by=by, before=before, after=after, touched=[event])
    return case


@transaction.atomic
def lose_embryo(
    embryo: Embryo, *, cause: str, happened_on: date, note: str = "", by: Person
) -> EggCase:
    """Record that an embryo died.

    Refused when: the case has ended, or the embryo has; the day lies before the case's last event
    or in the future.
    """
    require(by, Verb.CASE_LOSE, embryo.case)
    case = locked(embryo.case)
    embryo = locked(embryo)
    before, after = move(case, "lose")
    _developing(
        embryo,
        happened_on,
        what=_("The death of %(embryo)s was not recorded.") % {"embryo": embryo},
    )
    event = write_loss(
        case, Event.Sort.DIED, happened_on, by, _ONE, embryo=embryo, cause=cause, note=note
    )
    _end(embryo, Embryo.Outcome.DIED, happened_on)
    record(Verb.CASE_LOSE, case, by=by, before=before, after=after, touched=[embryo, event])
    return case


@transaction.atomic
def hatch_embryo(
    embryo: Embryo,
    *,
    code: str,
    name: str = "",
    sex: str = Sex.UNKNOWN,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Animal:
    """Record that an embryo hatched, and give the animal; its parents are those of the embryo.

    Refused when: the case has ended or is away, or the embryo has ended; the code is in the
    register; the day lies before the case's last event or in the future.
    """
    require(by, Verb.CASE_HATCH, embryo.case)
    case = locked(embryo.case)
    embryo = locked(embryo)
    before, after = move(case, "hatch")
    what = _("The hatching of %(embryo)s was not recorded.") % {"embryo": embryo}
    not_away(case, what=what)
    _developing(embryo, happened_on, what=what)
    free(Animal, "code", code, what)
    animal = Animal(
        code=code,
        name=name,
        taxon=case.taxon,
        sex=sex,
        life_stage=LifeStage.HATCHLING,
        born_on=happened_on,
        arrived_on=happened_on,
        origin=f"hatched here from {case}"[:200],
        enclosure=case.enclosure,
    )
    write_new(animal, what)
    lost = write_loss(case, Event.Sort.HATCHED, happened_on, by, _ONE, embryo=embryo, note=note)
    born = first_event(animal, by=by)
    born.partner = lost
    born.save(force_insert=True)
    embryo.animal, embryo.is_fertile = animal, True
    _end(embryo, Embryo.Outcome.HATCHED, happened_on)
    touched: list[Any] = [embryo, animal, lost, born, *_parents(embryo, animal, by)]
    search.write(animal)
    record(Verb.CASE_HATCH, case, by=by, before=before, after=after, touched=touched)
    return animal


def _parents(embryo: Embryo, animal: Animal, by: Person) -> list[Any]:
    """Give a hatchling the parents of its embryo, and those of its case where it has none."""
    held = {one.role: one for one in embryo.case.parentage.standing()}
    held |= {one.role: one for one in embryo.parentage.standing()}
    written: list[Any] = []
    for one in held.values():
        told = Parentage.objects.create(
            animal=animal,
            role=one.role,
            parent=one.parent,
            evidence=one.evidence,
            note=one.note,
            recorded_by=by,
        )
        written.append(told)
        written += [
            Candidate.objects.create(parentage=told, animal=other.animal)
            for other in one.candidates.select_related("animal")
        ]
    return written


@transaction.atomic
def move_case(
    case: EggCase, *, enclosure: Enclosure, happened_on: date, note: str = "", by: Person
) -> EggCase:
    """Record that an egg case was moved to another enclosure.

    Refused when: it has ended or is away; it lies there already; the day lies before its last
    event or in the future; the enclosure did not exist on that day.
    """
    require(by, Verb.CASE_MOVE, case)
    case = locked(case)
    before, after = move(case, "move")
    what = _("%(case)s was not moved.") % {"case": case}
    not_away(case, what=what)
    _in_order(case, happened_on, what=what)
    in_being(enclosure, happened_on, what=what)
    if case.enclosure_id == enclosure.pk:
        raise Unsound(
            what,
            _("It lies in %(enclosure)s already.") % {"enclosure": enclosure},
            "Choose another enclosure.",
            fields={"enclosure": "It lies there already."},
        )
    case.enclosure = enclosure
    case.save(update_fields=["enclosure"])
    event = write(case, Event.Sort.MOVED, happened_on, by, enclosure=enclosure, note=note)
    record(Verb.CASE_MOVE, case, by=by, before=before, after=after, touched=[event])
    return case


@transaction.atomic
def end_case(case: EggCase, *, ended_on: date, by: Person) -> EggCase:
    """Close the record of a case of which nothing more will come.

    Refused when: it has ended; an embryo in it is developing; the day lies before its last event
    or in the future.
    """
    require(by, Verb.CASE_END, case)
    case = locked(case)
    before, after = move(case, "end")
    what = _("The record of %(case)s was not closed.") % {"case": case}
    _in_order(case, ended_on, what=what)
    if case.embryos.filter(outcome=Embryo.Outcome.DEVELOPING).exists():
        raise Conflict(
            what,
            "An embryo in it is developing by the record.",
            "Record first whether it hatched or died.",
        )
    case.ended_on, case.enclosure = ended_on, None
    case.save(update_fields=["ended_on", "enclosure"])
    record(Verb.CASE_END, case, by=by, before=before, after=after)
    return case
