"""One field beside what it was: what was a valid cell, is it one still, and of the same meaning?

Notes
-----
The readers meant are those of frictionless 5, whose verdict on a table the archive keeps to the
word; where it is not certain that a cell reads as it did, the field is not called compatible.

References
----------
Data Package Standard 2.0, Table Schema, "Field Types" and "Field Constraints".
"""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from archive.engine.roles import FIELD_ID, ROLE, UNIT
from archive.extending.changes import Change, Release, broken, kept, mapped
from archive.extending.codes import code_changes
from archive.extending.limits import SAID, limits_of, loosened, said, tightened
from archive.extending.units import are_alike

READ_BY: dict[str, Any] = {
    "bareNumber": True,
    "floatNumber": False,
    "decimalChar": ".",
    "groupChar": "",
    "delimiter": ",",
    "itemType": "string",
    "arrayItem": None,
}
"""Properties that say how a cell is read, beside type and format, each with its default."""
TRUE = ("true", "True", "TRUE", "1")
FALSE = ("false", "False", "FALSE", "0")
"""What stands for true and false where a field does not say it (Table Schema, "boolean")."""
DESCRIBED_BY = ("title", "description", "example", "examples", "rdfType")
_OF_ANY = {"required", "unique"}
_NOT_FINITE = frozenset({"nan", "snan", "inf", "infinity"})


def field_changes(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    table: str,
    *,
    missing: tuple[frozenset[str], frozenset[str]],
    is_key: bool,
) -> Iterator[Change]:
    """Give what differs between a field and what it was.

    Parameters
    ----------
    old, new : mapping
        The field of the Table Schema, before and now; their names may differ.
    table : str
    missing : tuple of two frozenset of str
        The texts that stand for an empty cell, before and now.
    is_key : bool
        Whether values of the field are compared with each other or with another table's: it is
        unique, or part of a key or of a link.
    """
    place = {
        "table": table,
        "field": str(new["name"]),
        "field_id": str(new.get(FIELD_ID) or old.get(FIELD_ID) or ""),
    }
    yield from _type_changes(old, new, is_key, place)
    yield from _missing_changes(old, new, missing, place)
    yield from _limit_changes(old, new, place)
    yield from code_changes(old, new, place)
    yield from _meaning_changes(old, new, place)


def kind_of(field: Mapping[str, Any]) -> str:
    """Give a field's type; one without is read as text."""
    return str(field.get("type") or "string")


# ------------------------------------------------------------------ how a cell is read


def _type_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], is_key: bool, place: dict[str, str]
) -> Iterator[Change]:
    before, now = kind_of(old), kind_of(new)
    if before != now:
        what = f"It holds {now} values, where it held {before} values"
        if _is_widened(old, new, is_key):
            yield kept(f"{what}; each of these is one still.", Release.MAJOR, **place)
        else:
            yield mapped(f"{what}.", "derive", **place)
        return
    form, was = new.get("format") or "default", old.get("format") or "default"
    if form != was:
        what = f"Its values are written as “{form}”, where they were as “{was}”"
        if before == "string" and form == "default":
            yield kept(f"{what}; any text is allowed now.", Release.MAJOR, **place)
        else:
            yield mapped(f"{what}.", "derive", **place)
    for key in _read_otherwise(old, new):
        what = f"“{key}” is {new.get(key, READ_BY[key])!r}, where it was"
        yield mapped(f"{what} {old.get(key, READ_BY[key])!r}.", "derive", **place)
    if before == "boolean":
        yield from _truth_changes(old, new, place)


def _read_otherwise(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    return [key for key, plain in READ_BY.items() if old.get(key, plain) != new.get(key, plain)]


def _is_widened(old: Mapping[str, Any], new: Mapping[str, Any], is_key: bool) -> bool:
    """Whether each cell of the old type is one of the new type, and stands for the same."""
    before, now = kind_of(old), kind_of(new)
    asked = set(limits_of(new))
    if {before, now} == {"string", "any"}:
        # What only texts can be asked is refused of the other type.
        is_asked = now == "string" or asked <= _OF_ANY | {"enum"}
        return is_asked and (new.get("format") or "default") == "default"
    if before == "integer" and now == "number":
        return not _read_otherwise(old, new)
    # As texts, two NaN are one value; as a link, the text 1 is not the number 1.
    is_text = now == "any" or (now == "string" and (new.get("format") or "default") == "default")
    return is_text and not is_key and asked <= _OF_ANY


def truths(field: Mapping[str, Any]) -> dict[str, bool]:
    """Give what each text of a boolean field stands for."""
    true, false = field.get("trueValues", TRUE), field.get("falseValues", FALSE)
    return dict.fromkeys(true, True) | dict.fromkeys(false, False)


def _truth_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], place: dict[str, str]
) -> Iterator[Change]:
    before, now = truths(old), truths(new)
    if before == now:
        return
    lost = [text for text, truth in before.items() if now.get(text) is not truth]
    if lost or "enum" in limits_of(new):
        words = ", ".join(f"“{text}”" for text in lost) or "its words"
        yield mapped(f"{words} no longer stand for what they did.", "recode", **place)
        return
    more = ", ".join(f"“{text}”" for text in now if text not in before)
    yield kept(f"{more} may be written for true or false too.", Release.MINOR, **place)


# ------------------------------------------------------------------ what is an empty cell


def _missing_changes(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    missing: tuple[frozenset[str], frozenset[str]],
    place: dict[str, str],
) -> Iterator[Change]:
    before, now = missing
    was_filled = "required" in limits_of(old)
    for text in sorted(before - now):
        what = f"“{text}” no longer stands for an empty cell"
        if was_filled:
            yield kept(f"{what}; none was allowed here.", Release.MINOR, **place)
        else:
            yield mapped(f"{what}; it would be read as a value.", "recode", **place)
    for text in sorted(now - before):
        what = f"“{text}” stands for an empty cell now"
        if is_never_a_value(old, text):
            yield kept(f"{what}; it could be no value before.", Release.MINOR, **place)
        else:
            yield mapped(f"{what}, and may have been a value.", "recode", **place)


def is_never_a_value(field: Mapping[str, Any], text: str) -> bool:
    """Whether it is certain that no reader takes the text for a value of the field's type.

    >>> is_never_a_value({"type": "integer"}, "NA"), is_never_a_value({"type": "string"}, "NA")
    (True, False)
    """
    kind = kind_of(field)
    if kind == "boolean":
        return text not in truths(field)
    listed = limits_of(field).get("enum") or field.get("categories")
    if kind in {"string", "any"} and isinstance(listed, list):
        codes = [item.get("value") if isinstance(item, Mapping) else item for item in listed]
        return text not in codes
    has_digit = any(sign.isdigit() for sign in text)
    if kind in {"integer", "number"}:
        signs = f"{field.get('groupChar', '')}{field.get('decimalChar', '')}"
        if any(sign.isalpha() for sign in signs):
            return False
        bare = re.sub(r"[^a-z]", "", text.casefold())
        return not has_digit and not any(word in bare for word in _NOT_FINITE)
    is_plain = (field.get("format") or "default") == "default"
    return kind in {"date", "datetime", "time", "year", "yearmonth"} and is_plain and not has_digit


# ------------------------------------------------------------------ what a cell must be


def _limit_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], place: dict[str, str]
) -> Iterator[Change]:
    before, now = limits_of(old), limits_of(new)
    tighter = list(tightened(old, new))
    for name in tighter:
        yield broken(f"It {said(name, now[name])}, which was not asked before.", **place)
    for name in loosened(old, new):
        if name in tighter:
            continue
        if name in now:
            what = f"It {said(name, now[name])}; before, it {said(name, before[name])}."
        elif name in SAID:
            what = f"No longer asked: it {said(name, before[name])}."
        else:
            what = f"“{name}” is no longer asked."
        yield kept(what, Release.MINOR, **place)


# ------------------------------------------------------------------ what a value means


def _meaning_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], place: dict[str, str]
) -> Iterator[Change]:
    unit, was = str(new.get(UNIT) or ""), str(old.get(UNIT) or "")
    if unit and was and unit != was and are_alike(was, unit):
        yield kept(f"Its unit is written {unit}, where it was {was}.", Release.PATCH, **place)
    elif unit and was and unit != was:
        yield mapped(f"It is in {unit}, where it was in {was}.", "unit", **place)
    elif was and not unit:
        yield broken(f"Its unit, {was}, is no longer said.", **place)
    elif unit and not was:
        what = f"Its unit, {unit}, is said for the first time: see that the old values are in it."
        yield kept(what, Release.MINOR, **place)
    role, was = str(new.get(ROLE) or ""), str(old.get(ROLE) or "")
    if role and was and role != was:
        yield broken(f"It says the {role}, where it said the {was}.", **place)
    elif role != was:
        what = f"It is marked as the {role}." if role else f"It is no longer marked as the {was}."
        yield kept(what, Release.MINOR, **place)
    for key in DESCRIBED_BY:
        if old.get(key) != new.get(key):
            what = f"Its {key} reads otherwise: a person sees whether it still means the same."
            yield kept(what, Release.PATCH, **place)
