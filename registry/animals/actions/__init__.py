"""Deeds on taxa, enclosures, animals, counted groups, egg cases and restrictions."""

from registry.animals.actions.arrivals import (
    add_taxon,
    name_keepers,
    open_enclosure,
    receive_animal,
    receive_group,
)
from registry.animals.actions.back import (
    take_back_animal_event,
    take_back_case_event,
    take_back_group_event,
)
from registry.animals.actions.between import (
    draw_animal,
    join_group,
    merge_group,
    split_group,
)
from registry.animals.actions.births import (
    bear_young,
)
from registry.animals.actions.clutches import (
    candle_clutch,
    hatch_clutch,
)
from registry.animals.actions.counts import (
    count_group,
    recount_group,
)
from registry.animals.actions.eggs import (
    candle_embryo,
    end_case,
    find_embryo,
    hatch_embryo,
    lose_embryo,
    move_case,
    record_case,
    stage_embryo,
)
from registry.animals.actions.intake import (
    import_animals,
)
from registry.animals.actions.leaving import (
    leave_animal,
    leave_group,
)
from registry.animals.actions.loans import change_owner, end_loan, lend
from registry.animals.actions.looks import (
    measure_animal,
    record_stage,
    scan_animal,
    sex_animal,
)
from registry.animals.actions.marks import end_mark, mark_animal, replace_mark
from registry.animals.actions.moves import (
    move_animal,
    move_group,
)
from registry.animals.actions.parentage import (
    name_parent,
)
from registry.animals.actions.photographs import (
    photograph_mark,
    read_mark,
    withdraw_photograph,
)
from registry.animals.actions.restrictions import (
    begin_restriction,
    end_restriction,
)
from registry.animals.actions.routines import add_routine, end_routine
from registry.animals.actions.undoing import undo_animal, undo_group, undo_intake

__all__ = [
    "add_routine",
    "add_taxon",
    "bear_young",
    "begin_restriction",
    "candle_clutch",
    "candle_embryo",
    "change_owner",
    "count_group",
    "draw_animal",
    "end_case",
    "end_loan",
    "end_mark",
    "end_restriction",
    "end_routine",
    "find_embryo",
    "hatch_clutch",
    "hatch_embryo",
    "import_animals",
    "join_group",
    "leave_animal",
    "leave_group",
    "lend",
    "lose_embryo",
    "mark_animal",
    "measure_animal",
    "merge_group",
    "move_animal",
    "move_case",
    "move_group",
    "name_keepers",
    "name_parent",
    "open_enclosure",
    "photograph_mark",
    "read_mark",
    "receive_animal",
    "receive_group",
    "record_case",
    "record_stage",
    "recount_group",
    "replace_mark",
    "scan_animal",
    "sex_animal",
    "split_group",
    "stage_embryo",
    "take_back_animal_event",
    "take_back_case_event",
    "take_back_group_event",
    "undo_animal",
    "undo_group",
    "undo_intake",
    "withdraw_photograph",
]
