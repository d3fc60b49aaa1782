"""Proposes what becomes of each column, and how its cells are read."""

from collections.abc import Sequence

from archive.engine.intake.choosing import column_choice, matches_of
from archive.engine.intake.decisions import FIELD, LEAVE, OWN, STANDS, Choice, Option
from archive.engine.intake.desk import Desk
from archive.engine.intake.names import Namesake
from archive.engine.intake.profile import COMMAS, DAYS, NUMERIC, Column
from archive.engine.intake.reading import (
    clock_choice,
    decimal_choice,
    order_choice,
    pad_choice,
    serial_choice,
    swap_choice,
)
from archive.engine.intake.recipe import ColumnRule, Recipe


def columns_in(
    desk: Desk, labels: Sequence[str], columns: Sequence[Column], system: str | None
) -> None:
    """Propose for each column its field and its reading, and for each field that none is."""
    matches = matches_of(labels, columns, desk.fields)
    by_name = {one.name: one for one in desk.fields}
    made: set[str] = set()
    for at, (label, column) in enumerate(zip(labels, columns, strict=True)):
        rule = _last_rule(desk.last, label, at)
        choice = column_choice(label, at, column, desk.fields, matches.get(at))
        chosen = desk.decide(f"column:{at}", choice, _last_column(rule, desk.fields))
        field = by_name.get(chosen.removeprefix(FIELD)) if chosen.startswith(FIELD) else None
        if chosen == LEAVE:
            continue
        made.add(field.name if field else label)
        _reading(desk, label or str(at + 1), at, column, field, rule, system)
    for at, one in enumerate(desk.fields):
        if one.name not in made:
            _absent(desk, at, one)


def _last_rule(last: Recipe | None, label: str, at: int) -> ColumnRule | None:
    same = [rule for rule in (last.columns if last else ()) if rule.label == label]
    if len(same) == 1 and label:
        return same[0]
    return next((rule for rule in same if rule.position == at), None)


def _last_column(rule: ColumnRule | None, fields: Sequence[Namesake]) -> str | None:
    if rule is None:
        return None
    if not rule.name:
        return LEAVE
    is_field = any(field.name == rule.name for field in fields)
    return f"{FIELD}{rule.name}" if is_field else OWN


def _reading(
    desk: Desk,
    label: str,
    at: int,
    column: Column,
    field: Namesake | None,
    rule: ColumnRule | None,
    system: str | None,
) -> None:
    """Propose how the cells of one column are read, wherever there is something to decide."""
    kind = field.type if field else kind_by_content(column)
    choices: dict[str, Choice | None] = {
        "clock": clock_choice(label, column, kind),
        "pad": pad_choice(label, column, field.digits if field else 0),
    }
    if kind in {"date", "datetime", "any"}:
        choices["dates"] = order_choice(label, column, field.format if field else "default")
        choices["serial"] = serial_choice(label, column, kind, system=system)
        choices["swap"] = swap_choice(label, column)
    is_number = kind in {"number", "integer"} and not (field and field.is_comma_decimal)
    choices["decimal"] = decimal_choice(label, column, is_number=is_number)
    for key, choice in choices.items():
        if choice is not None:
            last = (str(getattr(rule, key) or "") or STANDS) if rule else None
            desk.decide(f"{key}:{at}", choice, last)


def _absent(desk: Desk, at: int, field: Namesake) -> None:
    options = (
        Option("write empty", "Write it as an empty column"),
        Option("leave out", "Leave it out; the check will say that it is missing"),
    )
    chosen = "leave out" if field.is_required else "write empty"
    need = "is required" if field.is_required else "may be empty"
    reason = f"No column of the file is it. By the dictionary it {need}."
    question = f"What of {field.name}, which the dictionary has and the file has not?"
    last = None
    if desk.last is not None:
        last = "write empty" if field.name in desk.last.order else "leave out"
    desk.decide(f"absent:{at}", Choice(question, chosen, reason, 0.5, options), last)


def kind_by_content(column: Column) -> str:
    """Say of which type a column without a field looks, where most of its cells agree."""
    filled = column.filled - column.kinds["missing"] - column.kinds["error"]
    if filled <= 0:
        return "any"
    if (column.count(NUMERIC) + column.count(COMMAS)) * 10 >= filled * 9:
        return "number"
    days = column.count(DAYS) + column.count(("year first", "named", "date", "moment"))
    return "any" if days * 2 >= filled else "string"
