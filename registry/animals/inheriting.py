"""Restrictions that pass from one record to another, where their animals cannot be told apart."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.utils import timezone

from registry.animals.models import Animal, Group, Restriction
from registry.transitions import locked, move


def told_apart_no_more(animal: Animal) -> Group | None:
    """Give the group with which an animal lives, and from which nobody can tell it apart.

    That is the group from which it was drawn, while both live in one enclosure and the animal
    bears no mark.
    """
    group = animal.drawn_from
    if group is None or group.state != "kept" or group.enclosure_id != animal.enclosure_id:
        return None
    return None if animal.marks.filter(ended_on=None).exists() else group


def pass_on(
    restrictions: Iterable[Restriction], to: Animal | Group, day: date, by: Any
) -> list[Restriction]:
    """Begin on a locked record what stands on another, but what stands on it already."""
    held = set(to.restrictions.filter(state="begun").values_list("sort", flat=True))
    written = []
    for one in restrictions:
        if one.sort in held:
            continue
        held.add(one.sort)
        heir = Restriction(
            sort=one.sort,
            strength=one.strength,
            note=one.note,
            began_on=max(one.began_on, day),
            expected_end_on=one.expected_end_on,
            earliest_end_on=one.earliest_end_on,
            begun_by=by,
            inherited_from=one,
        )
        setattr(heir, str(to.kind), to)
        heir.save(force_insert=True)
        written.append(heir)
    return written


def standing_on(subject: Animal | Group) -> list[Restriction]:
    """Give what stands on a record itself."""
    return list(subject.restrictions.filter(state="begun").order_by("pk"))


def write_end(restriction: Restriction, ended_on: date, by: Any) -> None:
    """Write who ended a restriction that was moved to its end, and when."""
    restriction.ended_on, restriction.ended_by = ended_on, by
    restriction.end_recorded_at = timezone.now()
    restriction.save(update_fields=["ended_on", "ended_by", "end_recorded_at"])


def end_heirs(restriction: Restriction, ended_on: date, by: Any) -> list[Restriction]:
    """End what other records have by a restriction, and what others have by those in turn."""
    written: list[Restriction] = []
    waiting = [restriction]
    while waiting:
        for one in waiting.pop().heirs.filter(state="begun").order_by("pk"):
            heir = locked(one)
            move(heir, "end")
            write_end(heir, max(ended_on, heir.began_on), by)
            written.append(heir)
            waiting.append(heir)
    return written
