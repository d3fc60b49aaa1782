"""Who descends from whom, by the parents that are named."""

from typing import Any

from registry.animals.models import Parentage


def forebears_of(animal: int) -> set[int]:
    """Give the keys of every named forebear of an animal, assumed ones too; a query a generation.

    Assumed and candidate parents count here: a circle through one is as impossible.
    """
    found: set[int] = set()
    waiting = {animal}
    while waiting:
        above: set[Any] = set(
            Parentage.objects.standing()
            .filter(animal__in=waiting, parent__isnull=False)
            .values_list("parent", flat=True)
        )
        above |= set(
            Parentage.objects.standing()
            .filter(animal__in=waiting, candidates__isnull=False)
            .values_list("candidates__animal", flat=True)
        )
        waiting = above - found
        found |= waiting
    return found
