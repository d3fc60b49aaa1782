"""The input of each deed on people, institutions and bodies."""

from registry.people.forms.bodies import BODY_DEEDS, OPEN
from registry.people.forms.persons import (
    ADD,
    DEEDS,
    INSTITUTION_DEEDS,
    OPEN_INSTITUTION,
    MakeToken,
)

__all__ = [
    "ADD",
    "BODY_DEEDS",
    "DEEDS",
    "INSTITUTION_DEEDS",
    "OPEN",
    "OPEN_INSTITUTION",
    "MakeToken",
]
