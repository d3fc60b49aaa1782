"""A part of an object that is found by itself: a field of a dictionary."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Part:
    """A place on an object's page, and the words by which it is looked for.

    A model with parts gives them in `search_parts()`; `search_elders()` gives the objects whose
    parts of the same anchor this one's take the place of.
    """

    anchor: str
    title: str
    text: str
