"""Deeds on taxa, enclosures, animals, counted groups and restrictions."""

from registry.animals.actions.arrivals import (
    add_taxon,
    open_enclosure,
    receive_animal,
    receive_group,
)
from registry.animals.actions.events import (
    count_group,
    leave_animal,
    leave_group,
    mark_animal,
    move_animal,
    move_group,
    take_back_animal_event,
    take_back_group_event,
)
from registry.animals.actions.intake import import_animals
from registry.animals.actions.restrictions import begin_restriction, end_restriction

__all__ = [
    "add_taxon",
    "begin_restriction",
    "count_group",
    "end_restriction",
    "import_animals",
    "leave_animal",
    "leave_group",
    "mark_animal",
    "move_animal",
    "move_group",
    "open_enclosure",
    "receive_animal",
    "receive_group",
    "take_back_animal_event",
    "take_back_group_event",
]
