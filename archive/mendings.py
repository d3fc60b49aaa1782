"""Safe corrections of a deposit: what is offered, and the drafts that are made of its files."""

import json
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

from django.utils.translation import gettext as _

from archive import actions
from archive.actions import Mended
from archive.engine.causes.suspecting import Table, tables_of
from archive.engine.corrections import Correction, correction_of, mended, try_out
from archive.engine.corrections.files import SwapFiles
from archive.engine.descriptor import NAME, find_descriptor
from archive.engine.mended_copy import undescribed
from archive.engine.unpack import is_zip
from archive.exports.zip import Entry, stream_zip
from archive.models import Deposit, DepositFile
from archive.places import check_limits
from archive.reported import suspicions_of
from archive.rounds import give_back, package_of, path_of, take_in
from archive.storage.quarantine import Kept
from registry.errors import Conflict, Refusal, Unsound
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows

LONG_AGO = datetime(1980, 1, 1, tzinfo=UTC)
"""The time that files of a corrected zip bear, so that the same files give the same zip."""


@dataclass(frozen=True, slots=True)
class Draft:
    """One file of the package as it is to be: its path there, and where its bytes lie."""

    where: str
    path: Path
    corrections: tuple[Correction, ...]
    said: tuple[str, ...]
    cells: int = 0
    rows_left_out: int = 0


def offered(deposit: Deposit) -> list[dict[str, Any]]:
    """Give the suspicions of the newest check that a correction could mend, with what it does."""
    if _checked_round(deposit) is None:
        return []
    return [one for one in suspicions_of(deposit.summary) if one["is_mendable"]]


def _checked_round(deposit: Deposit) -> int | None:
    """Give the round whose package was checked, if the deposit still holds the same files."""
    number = deposit.summary.get("checked_round")
    if number is None or not package_of(deposit, number).is_dir():
        return None
    held = set(deposit.files.filter(is_dropped=False).values_list("name", "sha256"))
    then = set(deposit.files.filter(round=number).values_list("name", "sha256"))
    return number if held and held <= then else None


def mend(deposit: Deposit, numbers: Iterable[int], *, by: Person) -> Deposit:
    """Make the chosen corrections in new drafts of the files: bytes first, then the deed.

    Raises
    ------
    Conflict
        When the files are no longer those that were checked.
    Unsound
        When nothing was chosen, or a correction would be ambiguous.
    """
    require(by, Verb.DEPOSIT_MEND, deposit)
    follows(deposit, "mend")
    wanted = set(numbers)
    chosen = [one for one in offered(deposit) if one["number"] in wanted]
    if not chosen or len(chosen) != len(wanted):
        raise Conflict(
            "Nothing was corrected.",
            "The files are no longer those that were checked, or the correction is not offered.",
            "Have the deposit checked again, and look at its new report.",
        )
    round_number = _checked_round(deposit)
    assert round_number is not None
    package = package_of(deposit, round_number)
    with tempfile.TemporaryDirectory(prefix="mending-") as room:
        drafts = list(_drafts(deposit, package, chosen, Path(room)))
        kept: list[Kept] = []
        try:
            made = list(_taken_in(deposit, package, drafts, kept))
            return actions.mend_deposit(deposit, made=made, by=by)
        except Refusal:
            give_back(kept)
            raise


def _drafts(
    deposit: Deposit, package: Path, chosen: Sequence[Mapping[str, Any]], room: Path
) -> Iterator[Draft]:
    """Write the corrected tables, and a descriptor that no longer tells of their old bytes."""
    expected = deposit.dictionary.descriptor if deposit.dictionary is not None else None
    tables = {one.name: one for one in tables_of(package, expected=expected, limits=check_limits())}
    by_table: dict[str, list[Mapping[str, Any]]] = {}
    for one in chosen:
        by_table.setdefault(one["table"], []).append(one)
    touched: list[str] = []
    for name, asked in by_table.items():
        if name not in tables:
            raise Conflict(
                "Nothing was corrected.",
                _("The table “%(name)s” is no longer in the package.") % {"name": name},
                "Have the deposit checked again.",
            )
        made = list(_of_table(tables[name], tables, asked, room))
        touched += [draft.where for draft in made]
        yield from made
    if len(set(touched)) != len(touched):
        raise Unsound(
            "Nothing was corrected.",
            "Two of the corrections would make the same file.",
            "Make the one that swaps the files first, alone, and have the deposit checked again.",
        )
    yield from _redescribed(deposit, package, set(touched), room)


def _of_table(
    table: Table,
    tables: Mapping[str, Table],
    asked: Sequence[Mapping[str, Any]],
    room: Path,
) -> Iterator[Draft]:
    corrections = tuple(correction_of(one["correction"]) for one in asked)
    said = tuple(one["what"] for one in asked)
    swap = next((one for one in corrections if isinstance(one, SwapFiles)), None)
    if swap is not None:
        if len(corrections) > 1 or swap.other not in tables:
            raise Unsound(
                "Nothing was corrected.",
                "Two files are to be swapped and corrected at once.",
                "Swap them first, alone, and have the deposit checked again.",
            )
        other = tables[swap.other]
        yield Draft(table.where, other.path, corrections, said)
        yield Draft(other.where, table.path, corrections, said)
        return
    trial = try_out(table.path, table.layout, corrections)
    target = room / f"{len(list(room.iterdir()))}.csv"
    with target.open("wb") as out:
        out.writelines(mended(table.path, table.layout, corrections))
    yield Draft(table.where, target, corrections, said, trial.cells, trial.rows_left_out)


def _redescribed(deposit: Deposit, package: Path, paths: set[str], room: Path) -> Iterator[Draft]:
    """Take out of a descriptor that came along what it says of the bytes of these files."""
    place = find_descriptor(package)
    if place is None or not _is_own(deposit, package):
        return
    descriptor = json.loads(place.read_text(encoding="utf-8-sig"))
    if not undescribed(descriptor, paths):
        return
    target = room / NAME
    text = json.dumps(descriptor, ensure_ascii=False, indent=2) + "\n"
    target.write_text(text, encoding="utf-8")
    said = "What the descriptor said of the old bytes was taken out."
    yield Draft(place.relative_to(package).as_posix(), target, (), (said,))


def _is_own(deposit: Deposit, package: Path) -> bool:
    """Whether the descriptor came with the files, and was not laid beside them."""
    live = list(deposit.files.filter(is_dropped=False))
    whole = _zip_of(live)
    if whole is None:
        return any(file.name == NAME for file in live)
    with ZipFile(path_of(whole)) as opened:
        return any(name.rpartition("/")[2] == NAME for name in opened.namelist())


def _zip_of(files: Sequence[DepositFile]) -> DepositFile | None:
    return files[0] if len(files) == 1 and is_zip(path_of(files[0])) else None


def _taken_in(
    deposit: Deposit, package: Path, drafts: Sequence[Draft], kept: list[Kept]
) -> Iterator[Mended]:
    """Stream the drafts to quarantine: each as a file of its own, or all in a new zip."""
    live = list(deposit.files.filter(is_dropped=False))
    whole = _zip_of(live)
    if whole is not None:
        left_out = None if _is_own(deposit, package) else find_descriptor(package)
        kept.append(take_in(deposit, whole.name, _zipped(package, drafts, left_out)))
        rules = [rule.as_dict() for draft in drafts for rule in draft.corrections]
        yield Mended(
            source=whole,
            kept=kept[-1],
            corrections=[one for at, one in enumerate(rules) if one not in rules[:at]],
            said=list(dict.fromkeys(said for draft in drafts for said in draft.said)),
            cells=sum(draft.cells for draft in drafts),
            rows_left_out=sum(draft.rows_left_out for draft in drafts),
        )
        return
    by_name = {file.name: file for file in live}
    for draft in drafts:
        name = draft.where.rpartition("/")[2]
        if name not in by_name:
            raise Conflict(
                "Nothing was corrected.",
                _("The deposit holds no file %(name)s.") % {"name": name},
                "Look at the list of files, and have the deposit checked again.",
            )
        with draft.path.open("rb") as stream:
            kept.append(take_in(deposit, name, stream))
        yield Mended(
            source=by_name[name],
            kept=kept[-1],
            corrections=[rule.as_dict() for rule in draft.corrections],
            said=list(draft.said),
            cells=draft.cells,
            rows_left_out=draft.rows_left_out,
        )


def _zipped(package: Path, drafts: Sequence[Draft], left_out: Path | None) -> Iterator[bytes]:
    """Give the zip again with the drafts in the place of their files; one may be left out."""
    descriptor = find_descriptor(package)
    root = package if descriptor is None else descriptor.parent
    made = {(root / draft.where): draft.path for draft in drafts}
    made |= {(package / draft.where): draft.path for draft in drafts if draft.path.name == NAME}
    entries = []
    for path in sorted(one for one in package.rglob("*") if one.is_file() and one != left_out):
        source = made.get(path, path)
        entries.append(
            Entry(
                path.relative_to(package).as_posix(),
                source.stat().st_size,
                lambda source=source: source.open("rb"),  # type: ignore[misc]  # why: bound as it is now
            )
        )
    return stream_zip(entries, modified=LONG_AGO)
