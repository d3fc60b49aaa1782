"""Who is it? The animals of one enclosure by the marks that tell them apart, best match first."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Enclosure, Mark, Photograph, Side, Word
from registry.animals.models.marks import MarkQuerySet
from registry.permissions import Verb, allowed

SEEN_SORTS = (Mark.Sort.NATURAL, Mark.Sort.TAG)
"""Marks that one sees from outside the tank; a chip is read with the animal in hand."""


@dataclass(frozen=True)
class Sign:
    """Something that one may see, and whether it was said to be seen; several animals may have it.

    `key` is what an address says of it.
    """

    key: str
    said: str
    is_seen: bool


@dataclass
class Candidate:
    """An animal that it may be, with what of it was seen."""

    animal: Animal
    marks: list[Mark]
    photograph: Photograph | None
    matched: int = 0
    word: Word = Word.AT_REST

    @property
    def said(self) -> str:
        """Its marks in one line."""
        return "; ".join(one.said for one in self.marks if one.sort in SEEN_SORTS)

    @property
    def codes(self) -> str:
        """Its chips and older codes in one line."""
        coded = (Mark.Sort.CHIP, Mark.Sort.OTHER_CODE)
        return ", ".join(one.said for one in self.marks if one.sort in coded)


@dataclass
class Sheet:
    """What stands on the identification sheet of an enclosure."""

    candidates: list[Candidate] = field(default_factory=list)
    signs: list[tuple[str, list[Sign]]] = field(default_factory=list)
    n_seen: int = 0

    @property
    def best(self) -> list[Candidate]:
        """Those that show anything that was seen; all of them where nothing was."""
        return [one for one in self.candidates if one.matched or not self.n_seen]

    @property
    def others(self) -> list[Candidate]:
        """Those that show nothing of what was seen."""
        return [one for one in self.candidates if self.n_seen and not one.matched]


def key_of(mark: Mark) -> str:
    """Give by what a mark is looked for: its side and its words, whatever their case."""
    return f"{mark.side}:{' '.join(mark.said.casefold().split())}"


def marks_shown(marks: MarkQuerySet) -> MarkQuerySet:
    """Give marks each with its `photographs_kept`, newest first; one query more."""
    kept = Photograph.objects.filter(state="kept")
    return marks.prefetch_related(Prefetch("photographs", kept, to_attr="photographs_kept"))


def sheet_of(enclosure: Enclosure, person: Any, seen: Collection[str] = ()) -> Sheet:
    """Give the sheet of an enclosure; three queries, whatever the number of animals.

    Parameters
    ----------
    enclosure : Enclosure
        Whose animals may be it.
    person : Person
        Who looks.
    seen : collection of str
        The keys of the signs that were seen; unknown ones are passed over.
    """
    borne = Prefetch("marks", marks_shown(Mark.objects.borne()), to_attr="marks_borne")
    here = Animal.objects.with_word(timezone.localdate()).filter(enclosure=enclosure, state="kept")
    rows = allowed(here, person, Verb.ANIMAL_SEE).select_related("taxon").prefetch_related(borne)
    found = [_candidate(animal) for animal in rows.order_by("name", "code")]
    signs = _signs(found, set(seen))
    wanted = {sign.key for _side, some in signs for sign in some if sign.is_seen}
    for one in found:
        one.matched = len({key_of(mark) for mark in one.marks} & wanted)
    ordered = sorted(found, key=lambda one: -one.matched)
    return Sheet(ordered, signs, len(wanted))


def _candidate(animal: Any) -> Candidate:
    marks: list[Any] = animal.marks_borne
    shown = [one for mark in marks for one in mark.photographs_kept]
    newest = max(shown, key=lambda one: (one.taken_on, one.pk), default=None)
    return Candidate(animal, marks, newest, word=Word(animal.word))


def _signs(candidates: Iterable[Candidate], seen: set[str]) -> list[tuple[str, list[Sign]]]:
    """Give what may be seen, by side; what several animals have stands once."""
    sides: dict[str, dict[str, Sign]] = {}
    for one in candidates:
        for mark in one.marks:
            if mark.sort in SEEN_SORTS:
                key = key_of(mark)
                sides.setdefault(mark.side, {}).setdefault(key, Sign(key, mark.said, key in seen))
    order: Sequence[str] = [*Side.values, ""]
    return [
        (
            str(Side(side).label).capitalize() if side else _("Anywhere"),
            sorted(sides[side].values(), key=lambda sign: sign.said.casefold()),
        )
        for side in order
        if side in sides
    ]
