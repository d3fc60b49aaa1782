"""The codes of a field beside what they were: which there are, and what each stands for."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from archive.engine.roles import ETHOGRAM, ethogram_of
from archive.extending.changes import Change, Release, broken, kept, mapped
from archive.extending.limits import some


def code_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], place: dict[str, str]
) -> Iterator[Change]:
    """Give what became of the codes of a field, its place given as `Change` takes it."""
    before, now = labels_of(old), labels_of(new)
    if before is None and now is None:
        return
    if now is None:
        yield kept("Its values are no longer held to a list of codes.", Release.MINOR, **place)
        return
    if before is None:
        yield broken("Its values are held to a list of codes, which there was not.", **place)
        return
    if gone := [code for code in before if code not in now]:
        yield mapped(f"The list no longer has {some(gone)}.", "recode", **place)
    if more := [code for code in now if code not in before]:
        yield kept(f"The list has {some(more)} too.", Release.MINOR, **place)
    yield from _meanings_of_codes(before, now, place, "stands for")
    yield from _ethogram_changes(old, new, place)
    is_ordered = bool(new.get("categoriesOrdered"))
    common = [code for code in now if code in before]
    if is_ordered and old.get("categoriesOrdered") and common != [c for c in before if c in now]:
        yield mapped("Its codes are ordered, and stand in another order.", "recode", **place)


def labels_of(field: Mapping[str, Any]) -> dict[Any, str] | None:
    """Give each category with its label; None where the field has no list."""
    listed = field.get("categories")
    if not isinstance(listed, list):
        return None
    return {
        item.get("value") if isinstance(item, Mapping) else item: str(item.get("label") or "")
        if isinstance(item, Mapping)
        else ""
        for item in listed
    }


def _ethogram_changes(
    old: Mapping[str, Any], new: Mapping[str, Any], place: dict[str, str]
) -> Iterator[Change]:
    """Give what became of the behaviours: their definitions are what the codes mean."""
    if not (ETHOGRAM in old and ETHOGRAM in new):
        if ETHOGRAM in old:
            yield broken("Its codes are no longer defined by an ethogram.", **place)
        return
    told = {"name": "is called", "definition": "is defined as", "kind": "is a"}
    for key, words in told.items():
        yield from _meanings_of_codes(_entries(old, key), _entries(new, key), place, words)
    before, now = _entries(old, "exclusive"), _entries(new, "exclusive")
    for code in now:
        if code in before and now[code] and now[code] != before[code]:
            what = f"“{code}” excludes the others of the set “{now[code]}”, as it did not before."
            yield broken(what, **place)
        elif code in before and now[code] != before[code]:
            what = f"“{code}” no longer excludes the others of the set “{before[code]}”."
            yield kept(what, Release.MINOR, **place)


def _entries(field: Mapping[str, Any], key: str) -> dict[str, str]:
    return {entry["code"]: str(entry.get(key) or "") for entry in ethogram_of(field)}


def plain(text: str) -> str:
    """Write a definition without what does not change it: capitals, spaces, stops.

    >>> plain("At rest;  eyes open.") == plain("at rest, eyes open")
    True
    """
    return " ".join(re.findall(r"\w+", text.casefold()))


def _meanings_of_codes(
    before: Mapping[Any, str],
    now: Mapping[Any, str],
    place: dict[str, str],
    words: str,
) -> Iterator[Change]:
    for code, meaning in now.items():
        was = before.get(code, "")
        if not was or was == meaning:
            continue
        what = f"“{code}” {words} “{meaning}”, where it was “{was}”."
        if not meaning:
            yield broken(f"“{code}” is no longer explained; it was “{was}”.", **place)
        elif plain(was) == plain(meaning):
            yield kept(what, Release.PATCH, **place)
        else:
            yield mapped(what, "recode", **place)
