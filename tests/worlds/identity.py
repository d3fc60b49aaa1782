"""Marks, photographs and readings for the tests."""

import io
from itertools import count
from typing import Any

from django.core.files.base import ContentFile
from PIL import Image

from registry.animals import actions
from registry.animals.models import Animal, Mark, Photograph, Reading
from registry.animals.pictures.keeping import Picture, keep
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal
from tests.worlds.people import make_person

_number = count(1)


def sent(colour: int = 0) -> ContentFile[bytes]:
    """Give a small picture as someone sends it; each colour is another one."""
    made = io.BytesIO()
    Image.new("RGB", (96, 64), (colour % 256, 40, 90)).save(made, "PNG")
    return ContentFile(made.getvalue(), "mark.png")


def make_picture() -> Picture:
    """Give a picture that is kept, and is no other's."""
    return keep(sent(7 * next(_number)))


def make_mark(animal: Animal | None = None, *, said: str = "", **more: Any) -> Mark:
    """Give a natural mark that a keeper recorded."""
    given: dict[str, Any] = {
        "sort": Mark.Sort.NATURAL,
        "side": "right",
        "by": make_person(Role.KEEPER),
        **more,
    }
    said = said or f"Nick {next(_number)} in the edge"
    return actions.mark_animal(animal or make_animal(), said=said, **given)


def make_photograph(mark: Mark | None = None, **more: Any) -> Photograph:
    """Give a photograph of a mark, taken ten days ago."""
    given: dict[str, Any] = {
        "picture": make_picture(),
        "side": "right",
        "said": "A nick in the right wing",
        "taken_on": days_ago(10),
        "by": make_person(Role.KEEPER),
        **more,
    }
    return actions.photograph_mark(mark or make_mark(), **given)


def make_reading(mark: Mark, answer: Animal | None, **more: Any) -> Reading:
    """Give what a student saw in a mark."""
    given: dict[str, Any] = {"confidence": "sure", "by": make_person(Role.STUDENT), **more}
    return actions.read_mark(mark, answer=answer, **given)
