"""One table beside what it was: its columns, their order, its keys and its links.

References
----------
Data Package Standard 2.0, Table Schema, "fieldsMatch", "primaryKey", "uniqueKeys", "foreignKeys".
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from archive.engine.descriptor import file_format, pin_layout
from archive.engine.roles import FIELD_ID, fields_of, missing_values, primary_key
from archive.extending.changes import Change, Release, broken, kept, mapped
from archive.extending.fields import field_changes
from archive.extending.limits import limits_of

TAKES_EXTRA = frozenset({"subset", "partial"})
TAKES_FEWER = frozenset({"superset", "partial"})
"""Which of the standard's ways to match allow columns that are not described, and fewer."""

type Pair = tuple[dict[str, Any], dict[str, Any]]


def table_changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    """Give what differs between a table of a dictionary and what it was.

    Parameters
    ----------
    old, new : mapping
        The Data Resource before and now, each with its schema.
    """
    table = str(new["name"])
    before, now = old["schema"], new["schema"]
    pairs = paired(before, now)
    yield from _layout_changes(old, new)
    yield from _match_changes(before, now, table)
    yield from _columns_changed(before, now, pairs, table)
    compared = _compared(before) | _compared(now)
    for was, is_ in pairs:
        missing = (missing_values(before, was["name"]), missing_values(now, is_["name"]))
        is_key = bool({was["name"], is_["name"]} & compared)
        yield from field_changes(was, is_, table, missing=missing, is_key=is_key)
    yield from _key_changes(before, now, {was["name"]: is_["name"] for was, is_ in pairs}, table)


def paired(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[Pair]:
    """Give each field with what it was: by its permanent id, else by its name."""
    by_id = {field[FIELD_ID]: field for field in fields_of(before) if field.get(FIELD_ID)}
    by_name = {field["name"]: field for field in fields_of(before)}
    found = []
    for field in fields_of(now):
        was = by_id.get(field.get(FIELD_ID) or "")
        if was is None:
            named = by_name.get(field["name"])
            # Of the same name and another id, it is another field.
            was = named if named and not (named.get(FIELD_ID) and field.get(FIELD_ID)) else None
        if was is not None:
            found.append((was, field))
    return found


def match_of(schema: Mapping[str, Any]) -> str:
    """Give how the columns of a table must match the fields; exactly, unless said."""
    said = schema.get("fieldsMatch") or "exact"
    # The published profile asks for a list by mistake; the standard says a text.
    return str(said[0]) if isinstance(said, list) and said else str(said)


def _compared(schema: Mapping[str, Any]) -> set[str]:
    """Name the fields whose values are compared with others."""
    names = {field["name"] for field in fields_of(schema) if "unique" in limits_of(field)}
    names.update(primary_key(schema))
    for key in schema.get("uniqueKeys") or ():
        names.update(key)
    for here, _, _ in links(schema):
        names.update(here)
    return names


def links(schema: Mapping[str, Any]) -> list[tuple[tuple[str, ...], str, tuple[str, ...]]]:
    """Give each foreign key as its fields, the table it leads to, and the fields there."""
    listed = schema.get("foreignKeys") or []
    found = []
    for link in listed if isinstance(listed, list) else [listed]:
        there = link.get("reference") or {}
        ends = [link.get("fields") or [], there.get("fields") or []]
        here, far = (tuple([end] if isinstance(end, str) else end) for end in ends)
        found.append((here, str(there.get("resource") or ""), far))
    return found


# ------------------------------------------------------------------ files and columns


def _layout_changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    table = str(new["name"])
    before, now = (
        (file_format(one), pin_layout(one.get("dialect") or {}, file_format(one)))
        for one in (old, new)
    )
    if before != now:
        what = "Its file is laid out otherwise (delimiter, quotes, header), so old files misread."
        yield broken(what, table=table)
    for key in ("title", "description"):
        if old.get(key) != new.get(key):
            yield kept(f"The {key} of the table reads otherwise.", Release.PATCH, table=table)


def _match_changes(
    before: Mapping[str, Any], now: Mapping[str, Any], table: str
) -> Iterator[Change]:
    was, is_ = match_of(before), match_of(now)
    if was == is_:
        return
    what = f"Columns are matched as “{is_}”, where they were matched as “{was}”"
    is_narrower = (
        is_ == "exact"
        or (was in TAKES_EXTRA and is_ not in TAKES_EXTRA)
        or (was in TAKES_FEWER and is_ not in TAKES_FEWER)
    )
    if is_narrower:
        yield broken(f"{what}: tables that were taken may be refused.", table=table)
    else:
        yield kept(f"{what}: all that was taken is taken still.", Release.MINOR, table=table)


def _columns_changed(
    before: Mapping[str, Any], now: Mapping[str, Any], pairs: list[Pair], table: str
) -> Iterator[Change]:
    kept_before = {was["name"] for was, _ in pairs}
    kept_now = {is_["name"] for _, is_ in pairs}
    for was, is_ in pairs:
        if was["name"] != is_["name"]:
            what = f"It was called “{was['name']}”."
            mark = str(is_.get(FIELD_ID) or "")
            yield mapped(what, "rename", table=table, field=is_["name"], field_id=mark)
    for field in fields_of(before):
        if field["name"] not in kept_before:
            mark = str(field.get(FIELD_ID) or "")
            what = "It is gone: what old tables say there is no longer described."
            yield broken(what, table=table, field=field["name"], field_id=mark)
    for field in fields_of(now):
        if field["name"] not in kept_now:
            yield _added(field, before, now, table)
    order = [was["name"] for was, _ in pairs]
    if order != [field["name"] for field in fields_of(before) if field["name"] in kept_before]:
        what = "The columns stand in another order"
        if match_of(now) == "exact":
            yield broken(f"{what}, and are matched by their place.", table=table)
        else:
            yield kept(f"{what}; they are matched by name.", Release.MAJOR, table=table)


def _added(
    field: Mapping[str, Any], before: Mapping[str, Any], now: Mapping[str, Any], table: str
) -> Change:
    name, mark = str(field["name"]), str(field.get(FIELD_ID) or "")
    place = {"table": table, "field": name, "field_id": mark}
    if name in {one["name"] for one in fields_of(before)}:
        return broken("The name stood for another field.", **place)
    if match_of(now) not in TAKES_FEWER:
        return broken("It is new, and every table must have every column.", **place)
    if "required" in limits_of(field) or name in _compared(now):
        return broken("It is new, and must be there.", **place)
    if match_of(before) in TAKES_EXTRA:
        return broken("It is new, and old tables may have a column of that name.", **place)
    return kept("It is new, and old tables do without.", Release.MAJOR, **place)


# ------------------------------------------------------------------ keys and links


def _key_changes(
    before: Mapping[str, Any], now: Mapping[str, Any], renamed: Mapping[str, str], table: str
) -> Iterator[Change]:
    was, is_ = _renamed(primary_key(before), renamed), primary_key(now)
    if set(was) != set(is_):
        if is_:
            what = f"Each row must have its own {', '.join(is_)}, which was not the key before."
            yield broken(what, table=table)
        else:
            what = f"Rows need no longer have their own {', '.join(was)}."
            yield kept(what, Release.MINOR, table=table)
    old_keys = {frozenset(_renamed(key, renamed)) for key in before.get("uniqueKeys") or ()}
    new_keys = {frozenset(key) for key in now.get("uniqueKeys") or ()}
    for key in sorted(map(sorted, new_keys - old_keys)):
        yield broken(f"No two rows may be alike in {', '.join(key)}.", table=table)
    for key in sorted(map(sorted, old_keys - new_keys)):
        what = f"Rows may be alike in {', '.join(key)} now."
        yield kept(what, Release.MINOR, table=table)
    new_links = set(links(now))
    old_links = {
        (_renamed(here, renamed), there, _renamed(far, renamed) if there in {"", table} else far)
        for here, there, far in links(before)
    }
    for here, there, _ in sorted(new_links - old_links):
        what = f"{', '.join(here)} must be found in “{there or table}”, which was not asked before."
        yield broken(what, table=table)
    for here, there, _ in sorted(old_links - new_links):
        what = f"{', '.join(here)} need no longer be found in “{there or table}”."
        yield kept(what, Release.MINOR, table=table)


def _renamed(names: Iterable[str], renamed: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(renamed.get(name, name) for name in names)
