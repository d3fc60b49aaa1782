"""Deeds on photographs of marks, and on what second readers see in them."""

from datetime import date

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from registry.animals.days import not_before, not_to_come
from registry.animals.models import Animal, Mark, Photograph, Reading
from registry.animals.pictures.keeping import Picture
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move, reasoned


@transaction.atomic
def photograph_mark(
    mark: Mark,
    *,
    picture: Picture,
    side: str,
    said: str,
    taken_on: date,
    taken_by: str = "",
    by: Person,
) -> Photograph:
    """Add a photograph of a mark; its bytes were kept before.

    Refused when: the mark is no more; what it shows is not said; the day lies before the animal
    was born, or in the future; the mark has this very photograph already.
    """
    require(by, Verb.MARK_PHOTOGRAPH, mark)
    mark = locked(mark)
    before, after = move(mark, "photograph")
    what, said = "The photograph was not added.", " ".join(said.split())
    if not said:
        raise Unsound(
            what,
            "What it shows is not said, and not everyone can see it.",
            "Say in a few words where the mark is and what it looks like.",
            fields={"said": "Say what it shows."},
        )
    not_to_come(taken_on, what=what, field="taken_on")
    if mark.animal.born_on is not None:
        born_on = mark.animal.born_on
        not_before(taken_on, born_on, "the animal was born", what=what, field="taken_on")
    try:
        with transaction.atomic():
            photograph = Photograph.objects.create(
                mark=mark,
                side=side,
                said=said,
                taken_on=taken_on,
                taken_by=taken_by or by.name,
                sha256=picture.sha256,
                small_sha256=picture.small_sha256,
                width_px=picture.width,
                height_px=picture.height,
                bytes=picture.bytes,
                recorded_by=by,
            )
    except IntegrityError as problem:
        raise Conflict(
            what, "The mark has this very photograph already.", "Choose another, or leave it."
        ) from problem
    record(
        Verb.MARK_PHOTOGRAPH,
        mark,
        by=by,
        before=before,
        after=after,
        touched=[photograph],
        sha256=picture.sha256,
    )
    return photograph


@transaction.atomic
def withdraw_photograph(photograph: Photograph, *, reason: str, by: Person) -> Photograph:
    """Withdraw a photograph that shows another animal, a person, or nothing.

    Refused when: no reason is given; it was withdrawn already.
    """
    require(by, Verb.PHOTOGRAPH_WITHDRAW, photograph)
    photograph = locked(photograph)
    reason = reasoned(photograph, "withdraw", reason)
    before, after = move(photograph, "withdraw")
    photograph.withdrawn_because = reason
    photograph.save(update_fields=["withdrawn_because"])
    record(Verb.PHOTOGRAPH_WITHDRAW, photograph, by=by, before=before, after=after, reason=reason)
    return photograph


@transaction.atomic
def read_mark(
    mark: Mark, *, answer: Animal | None, confidence: str, note: str = "", by: Person
) -> Reading:
    """Say, as second reader, which animal a mark shows; whether it agrees is told afterwards.

    Refused when: the mark is no more; one recorded the mark oneself; one has read it already; the
    answer is an animal of another taxon.
    """
    require(by, Verb.MARK_READ, mark)
    mark = locked(mark)
    before, after = move(mark, "read")
    what = "The reading was not recorded."
    if mark.recorded_by_id == by.pk:
        raise Conflict(
            what,
            "You recorded this mark yourself.",
            "Ask someone else to read it: a second reader has not seen the answer.",
        )
    if mark.readings.filter(reader=by).exists():
        raise Conflict(
            what, "You have read this mark already, and seen the answer.", "Read another one."
        )
    if answer is not None and answer.taxon_id != mark.animal.taxon_id:
        raise Unsound(
            what,
            _("%(answer)s is of another taxon.") % {"answer": answer},
            "Choose one of those listed.",
            fields={"answer": "It is of another taxon."},
        )
    reading = Reading.objects.create(
        mark=mark,
        answer=answer,
        is_agreed=answer is not None and answer.pk == mark.animal_id,
        confidence=confidence,
        note=note,
        reader=by,
    )
    record(Verb.MARK_READ, mark, by=by, before=before, after=after, touched=[reading])
    return reading
