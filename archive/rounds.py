"""One round of a deposit on the disk: its files side by side, unpacked, with a descriptor."""

import json
import re
import shutil
import uuid
from collections.abc import Iterable
from pathlib import Path

from django.utils.translation import gettext as _

from archive.engine import bags, crates
from archive.engine.descriptor import (
    NAME,
    WORKBOOKS,
    find_descriptor,
    package_for,
    read_descriptor,
)
from archive.engine.limits import Limits
from archive.engine.unpack import is_workbook, is_zip, unpack
from archive.models import Deposit, DepositFile
from archive.places import check_limits, quarantine
from archive.storage.names import check_name
from archive.storage.quarantine import Kept, Readable, deposit_key
from registry.errors import Unseen, Unsound

TABLE_ENDINGS = (".csv", ".tsv")
_UPLOAD = re.compile(r"[0-9]+\.[0-9a-f]{16}")
"""The key of one upload, as `take_in` makes it; a round's own ends in r1, r2, ..."""


def take_in(deposit: Deposit, name: str, content: Iterable[bytes] | Readable) -> Kept:
    """Stream one file to quarantine, under a key of its own, so that nothing is written over.

    Raises
    ------
    TooLarge, Unsound, StoreFailed
        Where the file is over the limit, cannot be named so, or cannot be kept.
    """
    check_name(name)
    limits = check_limits()
    most = limits.table_bytes if name.lower().endswith(TABLE_ENDINGS) else limits.package_bytes
    return quarantine().keep(f"{deposit.pk}.{uuid.uuid4().hex[:16]}", name, content, most)


def take_in_pooled(name: str, content: Readable) -> Kept:
    """Stream a file that the program made to quarantine, for a deposit that is not there yet.

    Raises
    ------
    TooLarge, StoreFailed
        Where the file is over the limit, or cannot be kept.
    """
    return quarantine().keep(
        f"0.{uuid.uuid4().hex[:16]}", name, content, check_limits().table_bytes
    )


def give_back(kept: Iterable[Kept]) -> None:
    """Remove files that were taken in, and that no row speaks of."""
    for one in kept:
        quarantine().discard(place_of(one))


def unspoken(*, older_than_s: float) -> list[str]:
    """Give the keys of files that were taken in by an upload which broke off before its row."""
    spoken = set(DepositFile.objects.values_list("place", flat=True))
    return [
        key
        for key in quarantine().held_keys(older_than_s=older_than_s)
        if _UPLOAD.fullmatch(key) and key not in spoken
    ]


def place_of(kept: Kept) -> str:
    """Give the key under which a file was kept."""
    return kept.path.parents[2].name


def path_of(file: DepositFile) -> Path:
    """Give where the bytes of one received file lie.

    Raises
    ------
    Unseen
        When they were erased.
    """
    for kept in quarantine().listing(file.place):
        if kept.sha256 == file.sha256 and kept.name == file.name:
            return kept.path
    raise Unseen(
        _("The file %(file)s is no longer kept.") % {"file": file.name},
        "Its bytes were erased; its digest and its size remain.",
        "Nothing can be done about it here.",
    )


def room_of(deposit: Deposit, round_number: int | None = None) -> Path:
    """Give the folder of a round's work: its package, its report and its findings."""
    return quarantine().workspace(deposit_key(deposit.pk, round_number or deposit.round))


def package_of(deposit: Deposit, round_number: int | None = None) -> Path:
    """Give the folder in which a round's package lies once it was checked."""
    return room_of(deposit, round_number) / "package"


def previous_package(deposit: Deposit) -> Path | None:
    """Give the package before this one: of the last round, else of the newest version."""
    earlier = [package_of(deposit, number) for number in range(deposit.round - 1, 0, -1)]
    if not earlier:
        versions = deposit.dataset.versions.exclude(state="erased").select_related("deposit")
        earlier = [package_of(version.deposit) for version in versions[:1]]
    return next((package for package in earlier if package.is_dir()), None)


def lay_out(deposit: Deposit) -> Path:
    """Put the live files of a deposit side by side, unpacked and described; give the folder.

    Doing it again begins anew, so that a broken-off attempt leaves nothing behind.

    Raises
    ------
    Refusal
        When a zip cannot be unpacked, or a table belongs to nothing in the dictionary.
    """
    files = list(deposit.files.filter(is_dropped=False))
    package = package_of(deposit)
    shutil.rmtree(package, ignore_errors=True)
    package.mkdir(parents=True)
    limits = check_limits()
    _refuse_workbook(files)
    if len(files) == 1 and is_zip(path_of(files[0])):
        unpack(path_of(files[0]), package, limits)
        _unwrap(package, limits, has_dictionary=deposit.dictionary is not None)
    else:
        for file in files:
            _link(path_of(file), package / file.name)
        _spread(package, limits)
    if find_descriptor(package) is None and deposit.dictionary is not None:
        _describe(package, deposit.dictionary.descriptor)
    return package


def _unwrap(package: Path, limits: Limits, *, has_dictionary: bool) -> None:
    """Take a package out of the bag or the crate that it came in, once that is seen to be whole."""
    bag = bags.find_bag(package)
    if bag is not None:
        _whole("bag", bags.faults_of(bag))
        _keep_alone(package, bag / bags.PAYLOAD)
    crate = crates.find_crate(package)
    if crate is not None:
        _whole("crate", crates.faults_of(crate, limits))
        if not (crate / NAME).is_file() and not has_dictionary:
            text = json.dumps(crates.package_of(crate), ensure_ascii=False)
            (crate / NAME).write_text(text, encoding="utf-8")
        (crate / crates.METADATA).unlink()  # it stays in the file that was sent


def _whole(what: str, faults: list[str]) -> None:
    if faults:
        more = _(" And %(number)s more.") % {"number": len(faults) - 6} if len(faults) > 6 else ""
        raise Unsound(
            "The files were not checked.",
            _("The %(what)s is not whole: %(faults)s%(more)s")
            % {"what": what, "faults": " ".join(faults[:6]), "more": more},
            _("Have the %(what)s made anew where the files are whole, and send it again.")
            % {"what": what},
        )


def _keep_alone(package: Path, payload: Path) -> None:
    """Let what a folder inside the package holds take the package's place."""
    aside = package.with_name(f"{package.name}.payload")
    shutil.rmtree(aside, ignore_errors=True)
    payload.rename(aside)
    shutil.rmtree(package)
    aside.rename(package)


def _refuse_workbook(files: list[DepositFile]) -> None:
    """Refuse a workbook that came alone, before anything opens it."""
    if len(files) != 1:
        return  # beside tables it is a file like another
    name = files[0].name
    if name.rpartition(".")[2].lower() in WORKBOOKS or is_workbook(path_of(files[0])):
        raise Unsound(
            "The files were not checked.",
            _(
                "%(name)s is a workbook. It was not opened: what a cell shows and what it "
                "holds may differ, and a check must read the same as everyone after it."
            )
            % {"name": name},
            "Correct the deposit, open the intake page of the file, and confirm there what becomes"
            " of each column. Or save each sheet as CSV (UTF-8) and send those.",
        )


def _link(source: Path, target: Path) -> None:
    try:
        target.hardlink_to(source)
    except OSError:
        shutil.copyfile(source, target)


def _spread(package: Path, limits: Limits) -> None:
    """Move files that came one by one to where the descriptor looks for them."""
    if not (package / NAME).is_file():
        return
    descriptor, _table = read_descriptor(package / NAME, limits)
    listed = descriptor.get("resources") if descriptor else None
    for resource in listed if isinstance(listed, list) else []:
        path = resource.get("path") if isinstance(resource, dict) else None
        if not isinstance(path, str) or "/" not in path or ".." in path or path.startswith("/"):
            continue
        came = package / path.rpartition("/")[2]
        if came.is_file() and not (package / path).exists():
            (package / path).parent.mkdir(parents=True, exist_ok=True)
            came.rename(package / path)


def _describe(package: Path, descriptor: dict[str, object]) -> None:
    """Wrap tables that came without a descriptor with the dictionary's own."""
    names = sorted(
        path.relative_to(package).as_posix()
        for path in package.rglob("*")
        if path.suffix.lower() in TABLE_ENDINGS
    )
    if not names:
        raise Unsound(
            "The files were not checked.",
            "There is neither a datapackage.json nor a table (CSV or TSV) among them.",
            "Send the tables, named as the dictionary names them.",
        )
    try:
        wrapped = package_for(descriptor, names)
    except LookupError as fault:
        raise Unsound(
            "The files were not checked.",
            str(fault),
            "Name each file as the dictionary names its table, and send it again.",
        ) from None
    (package / NAME).write_text(json.dumps(wrapped, ensure_ascii=False), encoding="utf-8")
