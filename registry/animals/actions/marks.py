"""Deeds that say how one tells an animal apart, and that a mark is no more."""

from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.chips import decode, read_code
from registry.animals.days import not_before, not_to_come
from registry.animals.models import Animal, Confidence, Mark
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move, reasoned

_BITS = 16


@transaction.atomic
def mark_animal(
    animal: Animal,
    *,
    sort: str,
    said: str,
    side: str = "",
    confidence: str = Confidence.SURE,
    seen_on: date | None = None,
    by: Person,
) -> Mark:
    """Record how an animal is told apart; a chip's code is read by its standard and kept bare.

    Refused when: it has left; a chip's code is unsound; another animal bears that chip; the mark
    was recorded already; the day lies before its birth, or in the future.
    """
    require(by, Verb.ANIMAL_MARK, animal)
    animal = locked(animal)
    before, after = move(animal, "mark")
    day = seen_on or timezone.localdate()
    mark = _write(animal, sort, said, by, seen_on=day, side=side, confidence=confidence)
    search.write(animal)
    record(Verb.ANIMAL_MARK, animal, by=by, before=before, after=after, touched=[mark])
    return mark


@transaction.atomic
def replace_mark(
    mark: Mark,
    *,
    said: str,
    side: str = "",
    confidence: str = Confidence.SURE,
    seen_on: date,
    reason: str,
    by: Person,
) -> Mark:
    """Record what took the place of a mark: the spots of a grown animal, a tag that was renewed.

    Refused when: it is no more; no reason is given; the newer one is unsound, or stands already;
    the day lies before the older one was seen, or in the future.
    """
    require(by, Verb.MARK_REPLACE, mark)
    animal, mark = locked(mark.animal), locked(mark)
    reason = reasoned(mark, "replace", reason)
    before, after = move(mark, "replace")
    said_of_it = "the one that it replaces was seen"
    not_before(seen_on, mark.seen_on, said_of_it, what=_WHAT, field="seen_on")
    mark.ended_on, mark.end_reason = seen_on, reason
    mark.save(update_fields=["ended_on", "end_reason"])
    told: dict[str, Any] = {"side": side, "confidence": confidence, "replaces": mark}
    newer = _write(animal, mark.sort, said, by, seen_on=seen_on, **told)
    search.write(animal)
    record(
        Verb.MARK_REPLACE, mark, by=by, before=before, after=after, reason=reason, touched=[newer]
    )
    return newer


@transaction.atomic
def end_mark(mark: Mark, *, ended_on: date, reason: str, by: Person) -> Mark:
    """Record that a mark is no more: lost, healed, taken out, or wrongly entered.

    Refused when: it ended already; no reason is given; the day lies before it was seen, or in the
    future.
    """
    require(by, Verb.MARK_END, mark)
    animal, mark = locked(mark.animal), locked(mark)
    reason = reasoned(mark, "end", reason)
    before, after = move(mark, "end")
    what = "The mark was not ended."
    not_to_come(ended_on, what=what, field="ended_on")
    not_before(ended_on, mark.seen_on, "it was seen", what=what, field="ended_on")
    mark.ended_on, mark.end_reason = ended_on, reason
    mark.save(update_fields=["ended_on", "end_reason"])
    search.write(animal)
    record(Verb.MARK_END, mark, by=by, before=before, after=after, reason=reason)
    return mark


_WHAT = "The mark was not recorded."


def _write(
    animal: Animal, sort: str, said: str, by: Person, *, seen_on: date, **facts: Any
) -> Mark:
    """Write a mark of a locked animal, where it is sound and stands nowhere yet."""
    not_to_come(seen_on, what=_WHAT, field="seen_on")
    if animal.born_on is not None:
        not_before(seen_on, animal.born_on, "the animal was born", what=_WHAT, field="seen_on")
    said = " ".join(said.split())
    if sort == Mark.Sort.CHIP:
        said = _chip(said)
        bearer = Mark.objects.borne().filter(sort=sort, said=said).first()
        if bearer is not None:
            raise Conflict(
                "The chip was not recorded.",
                _("%(animal)s bears it.") % {"animal": bearer.animal},
                "Read the chip again; if it is right, look which of the two animals you hold.",
                fields={"said": _("%(animal)s bears it.") % {"animal": bearer.animal}},
            )
    elif animal.marks.borne().filter(sort=sort, said__iexact=said, side=facts["side"]).exists():
        raise Conflict(
            "The mark was not recorded twice.",
            _("%(animal)s has it already.") % {"animal": animal},
            "Nothing needs doing.",
        )
    try:
        with transaction.atomic():
            return Mark.objects.create(
                animal=animal, sort=sort, said=said, seen_on=seen_on, recorded_by=by, **facts
            )
    except IntegrityError as problem:
        raise Conflict(
            "The chip was not recorded.",
            "Someone gave it to another animal in the same moment.",
            "Read the chip again, and look which of the two animals you hold.",
        ) from problem


def _chip(text: str) -> str:
    """Give the fifteen digits, or the refusal under the form's own field.

    A reader that shows the sixteen hexadecimal digits of the 64 bits is read too.
    """
    bare = text.replace(" ", "")
    try:
        return decode(bare).code if len(bare) == _BITS else read_code(text).code
    except Unsound as refused:
        raise Unsound(
            refused.what,
            refused.why,
            "Read the chip again. A chip from before the standard is recorded as an other code.",
            fields={"said": refused.why},
        ) from refused
