"""Whether rules carry one table over to another dictionary, and which rules may be meant.

Everything is told from the two dictionaries alone; no row is read.
"""

from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

from archive.engine.roles import UNIT, fields_of
from archive.extending.changes import Change, Verdict
from archive.extending.codes import labels_of
from archive.extending.limits import some
from archive.extending.rules import (
    Convert,
    Derive,
    Recode,
    Rename,
    Rule,
    Split,
    columns_of,
    leaves,
    unmet,
)
from archive.extending.tables import paired, table_changes
from archive.extending.units import are_alike, conversion
from registry.errors import Unsound

LIKE_ENOUGH = 0.75
"""How alike two names are for one to be taken for the other's: a suggestion, no more. The house's
own choice, no source."""
NOT_SAID = "?"
"""Stands in a suggested rule for a code that a person must choose."""

type Table = Mapping[str, Any]
type Field = Mapping[str, Any]


def faults(old: Table, new: Table, rules: Sequence[Rule]) -> list[str]:
    """Say why rules do not carry a table over; an empty list where they do.

    Parameters
    ----------
    old, new : mapping
        The Data Resource before and now, each with its schema.
    rules : sequence of Rule
    """
    if not rules:
        return ["There is no rule."]
    columns: dict[str, Field] = {field["name"]: field for field in fields_of(old["schema"])}
    found = [fault for rule in rules for fault in _followed(rule, columns)]
    return found or [*_ends(columns, new, rules), *still_open(old, new, rules)]


def still_open(old: Table, new: Table, rules: Sequence[Rule]) -> list[str]:
    """Say what differs between two tables, needs a mapping, and has no rule yet."""
    called = {was["name"]: is_["name"] for was, is_ in paired(old["schema"], new["schema"])}
    return unmet(in_need(old, new), rules, called)


def in_need(old: Table, new: Table) -> list[Change]:
    """Give what differs and needs a rule; a new name of one field is known by its id."""
    return [
        one
        for one in table_changes(old, new)
        if one.verdict is Verdict.MAPPING and one.mapping != "rename"
    ]


def _followed(rule: Rule, columns: dict[str, Field]) -> Iterator[str]:
    """Do to the columns what a rule does to them, and say what is in its way."""
    read = columns_of(rule.expression) if isinstance(rule, Derive) else [_reads(rule)]
    if missing := [name for name in read if name not in columns]:
        yield f"{rule.said} There is no column {some(missing)} by then, but {some(list(columns))}."
        return
    match rule:
        case Rename() if rule.old != rule.new:
            if rule.new in columns:
                yield f"{rule.said} There is a column of that name already."
            columns[rule.new] = columns.pop(rule.old)
        case Convert():
            unit = str(columns[rule.field].get(UNIT) or rule.old)
            if not are_alike(unit, rule.old):
                yield f"{rule.said} The dictionary has it in {unit}."
            columns[rule.field] = {**columns[rule.field], UNIT: rule.new}
        case Recode():
            codes = dict(rule.codes)
            listed = labels_of(columns[rule.field]) or {}
            if left := [str(code) for code in listed if str(code) not in codes]:
                yield f"“{rule.field}” has {some(left)} too; say what becomes of each code."
            columns[rule.field] = {**columns[rule.field], "categories": [*codes.values()]}
        case Split():
            field = columns.pop(rule.field)
            for name in rule.into:
                if name in columns:
                    yield f"{rule.said} There is a column “{name}” already."
                columns[name] = {"name": name, "type": field.get("type")}
        case Derive():
            columns[rule.into] = {"name": rule.into, "type": "number"}


def _reads(rule: Rule) -> str:
    return rule.old if isinstance(rule, Rename) else rule.field  # type: ignore[union-attr]  # why: a Derive is asked apart


def _ends(columns: Mapping[str, Field], new: Table, rules: Sequence[Rule]) -> Iterator[str]:
    """Say where what the rules leave is not what the new dictionary says."""
    known = {field["name"]: field for field in fields_of(new["schema"])}
    for name in dict.fromkeys(name for rule in rules for name in leaves(rule)):
        if name not in columns:
            continue
        if name not in known:
            yield f"“{name}” is no column of the newer dictionary; it has {some(list(known))}."
            continue
        told, unit = columns[name], str(known[name].get(UNIT) or "")
        came = str(told.get(UNIT) or "")
        if unit and came and not are_alike(came, unit):
            yield f"“{name}” comes out in {came}, and the newer dictionary has it in {unit}."
        listed = labels_of(known[name])
        codes = [str(one) for one in labels_of(told) or {}]
        wrong = [code for code in codes if listed is not None and code not in map(str, listed)]
        if wrong:
            yield f"“{name}” would hold {some(wrong)}; its codes are {some(list(listed or {}))}."


# ------------------------------------------------------------------ what may be meant


def suggested(old: Table, new: Table) -> tuple[Rule, ...]:
    """Give rules to begin with: names and units that can be told, codes as far as they stay.

    Notes
    -----
    A person reads them, changes them, and another reviews them; a code that has no place in the
    newer dictionary becomes `NOT_SAID`, which no list holds, so that it cannot be overlooked.
    """
    pairs = paired(old["schema"], new["schema"])
    met = {was["name"] for was, _ in pairs}, {is_["name"] for _, is_ in pairs}
    gone = [field for field in fields_of(old["schema"]) if field["name"] not in met[0]]
    come: list[Field] = [field for field in fields_of(new["schema"]) if field["name"] not in met[1]]
    rules: list[Rule] = []
    is_: Field | None
    asked = {(one.field, one.mapping) for one in in_need(old, new)}
    for was, is_ in pairs:
        if (is_["name"], "unit") in asked:
            rules += _unit_rule(was, is_)
        if (is_["name"], "recode") in asked:
            rules += _code_rule(was, is_)
    for was in gone:
        if (is_ := _likeliest(was, come)) is not None:
            come.remove(is_)
            rules += [*_unit_rule(was, is_), *_code_rule(was, is_)]
            rules.append(Rename(was["name"], is_["name"]))
    return tuple(rules)


def _likeliest(was: Field, come: Sequence[Field]) -> Field | None:
    """Give the new field whose name is most like an old one's, and whose values may be its own."""
    fit = [(_likeness(was, is_), -at) for at, is_ in enumerate(come) if _may_be(was, is_)]
    best = max(fit, default=(0.0, 0))
    return come[-best[1]] if best[0] >= LIKE_ENOUGH else None


def _likeness(was: Field, is_: Field) -> float:
    return SequenceMatcher(None, was["name"].casefold(), is_["name"].casefold()).ratio()


def _may_be(was: Field, is_: Field) -> bool:
    kinds = [str(field.get("type") or "string") for field in (was, is_)]
    if kinds[0] != kinds[1] and set(kinds) != {"integer", "number"}:
        return False
    old, new = str(was.get(UNIT) or ""), str(is_.get(UNIT) or "")
    return old == new or bool(list(_unit_rule(was, is_))) or are_alike(old, new)


def _unit_rule(was: Field, is_: Field) -> Iterator[Rule]:
    old, new = str(was.get(UNIT) or ""), str(is_.get(UNIT) or "")
    if not (old and new) or old == new:
        return
    try:
        if not conversion(old, new).is_same:
            yield Convert(was["name"], old, new)
    except Unsound:
        return


def _code_rule(was: Field, is_: Field) -> Iterator[Rule]:
    before, now = labels_of(was), labels_of(is_)
    if not before or now is None:
        return
    codes = tuple((str(code), str(code) if code in now else NOT_SAID) for code in before)
    yield Recode(was["name"], codes)
