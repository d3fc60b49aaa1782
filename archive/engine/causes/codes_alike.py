"""Codes that are right but for a space or a capital letter."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Column, Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import count_of, listed, shown_rows, spaced
from archive.engine.corrections.cells import ReplaceCells
from archive.engine.roles import role_of

CODES = (
    "constraint-error",
    "category-error",
    "foreign-key",
    "not-enrolled",
    "unknown-place",
    "unknown-observer",
    "unknown-session",
)
MAJORITY = 4
"""One spelling stands for the others where it is so many times as frequent as all of them."""


class CodesAlike:
    """Suspects codes that differ from known or frequent ones only by a space or a capital."""

    kind: ClassVar[str] = "codes-alike"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of codes."""
        for name, column in sheet.columns.items():
            role = role_of(column.shape)
            if column.type != "string" or (column.known is None and role is None):
                continue
            words, unclear = _against_known(column) if column.known else _among(column)
            if not words and not unclear:
                continue
            count, differ = len(words) + len(unclear), _differ([*words, *unclear], words)
            yield Suspicion(
                kind=self.kind,
                what=(
                    f"{count_of(count, 'code')} of column “{name}”"
                    f" {'differs' if count == 1 else 'differ'} only by {differ} from"
                    f" {'another' if count == 1 else 'others'}."
                ),
                why=f"{listed(f'{old}” for “{new}' for old, new in words.items())}."
                if words
                else f"{listed(unclear)} are written in several ways, each about as often.",
                remedy=(
                    f"Write each code of column “{name}” just as the list or the register has it,"
                    " with the same capitals and without a space before or after it."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows([column.first[old] for old in [*words, *unclear]]),
                count=sum(column.values[old] for old in [*words, *unclear]),
                correction=(
                    ReplaceCells(name, tuple(sorted(words.items())))
                    if words and not unclear
                    else None
                ),
                refused=(
                    "No spelling is clearly the usual one; somebody must say which is right."
                    if unclear
                    else ""
                ),
            )


def _differ(olds: Sequence[str], words: dict[str, str]) -> str:
    is_case = any("".join(old.split()) != "".join(words.get(old, "").split()) for old in olds)
    is_space = any("".join(old.split()) != old for old in olds)
    return {(True, True): "a space or a capital", (False, True): "a space"}.get(
        (is_case, is_space), "a capital"
    )


def _against_known(column: Column) -> tuple[dict[str, str], list[str]]:
    known: dict[str, list[str]] = {}
    for code in column.known or ():
        known.setdefault(spaced(code), []).append(code)
    words: dict[str, str] = {}
    for value in column.filled():
        if value in (column.known or ()) or len(words) > 500:
            continue
        meant = known.get(spaced(value), [])
        if len(meant) == 1:
            words[value] = meant[0]
    return words, []


def _among(column: Column) -> tuple[dict[str, str], list[str]]:
    """Where no list says what is right, the frequent spelling does, if there is one."""
    groups: dict[str, list[str]] = {}
    for value in column.filled():
        groups.setdefault(spaced(value), []).append(value)
    words: dict[str, str] = {}
    unclear: list[str] = []
    for group in groups.values():
        if len(group) == 1:
            continue
        group.sort(key=lambda value: (-column.values[value], value))
        usual, others = group[0], group[1:]
        trims = {value.strip() for value in group}
        if len(trims) == 1 and trims != {usual}:
            usual, others = min(trims), [value for value in group if value not in trims]
        often = column.values.get(usual, 0)
        if len(trims) == 1 or often >= MAJORITY * sum(column.values[one] for one in others):
            words |= dict.fromkeys(others, usual)
        else:
            unclear += group
    return words, unclear
