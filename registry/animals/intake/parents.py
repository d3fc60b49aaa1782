"""The parents that the rows of a file name: who they are, whether they can be, and no circles."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from registry.animals.intake.rows import Parent, Row
from registry.animals.kin.pedigree import Parents, own_ancestors

_WRONG_SEX = {"dam": "male", "sire": "female"}


def circled(rows: Iterable[Row]) -> set[int]:
    """Give the numbers of the rows by which an animal would be its own ancestor.

    Only rows that name each other can: what the register holds names none of them.
    """
    by_code = {row.code.casefold(): row for row in rows if not row.is_group}
    born = {
        code: Parents(**{one.role: one.code.casefold() for one in row.parents})
        for code, row in by_code.items()
    }
    return {by_code[code].number for code in own_ancestors(born)}


def faults_of(
    row: Row, held: Mapping[str, Any], listed: Mapping[str, Row | None], *, is_circled: bool
) -> Iterator[tuple[Parent, str]]:
    """Yield each parent of a row that is not known, or cannot be its parent, with what to say.

    `held` are animals of the register, `listed` those of the file, None where its row is faulty.
    """
    for parent in row.parents:
        key = parent.code.casefold()
        say = _why_not(row, parent, held.get(key), listed.get(key), is_listed=key in listed)
        if not say and is_circled:
            say = "By this list it would be its own ancestor. Look which of these parents is wrong."
        if say:
            yield parent, say


def _why_not(row: Row, parent: Parent, held: Any, listed: Row | None, *, is_listed: bool) -> str:
    if held is not None:
        sex, taxon, born_on = held.sex, held.taxon.scientific_name, held.born_on
    elif listed is not None:
        sex, taxon, born_on = listed.sex, listed.taxon, listed.born_on
    else:
        return "" if is_listed else "No animal has this code, in the register or in this list."
    if sex == _WRONG_SEX[parent.role]:
        return f"It is {sex}, and cannot be a {parent.role}."
    if taxon.casefold() != row.taxon.casefold():
        return f"It is of another taxon, {taxon}."
    young: date = row.born_on or row.arrived_on
    if born_on is not None and born_on >= young:
        return f"It was born on {born_on.isoformat()}, not before its young."
    return ""
