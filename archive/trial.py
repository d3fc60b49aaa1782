"""A dictionary tried out before it is published: blank sheets are checked with it in a child."""

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from archive.dictionaries import WHAT, sheet, tables_of
from archive.engine.findings import Group
from archive.engine.watch import check_in_child
from archive.places import check_limits
from registry.errors import Unsound


def try_out(descriptor: dict[str, Any]) -> None:
    """Refuse a dictionary under which even a blank sheet would not be valid.

    Raises
    ------
    Unsound
        With what the readers of the data would stumble over.
    """
    with TemporaryDirectory(prefix="dictionary-") as room:
        for table in tables_of(descriptor):
            path = Path(room) / table["path"]
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(sheet(table), encoding="utf-8")
        report = check_in_child(Path(room), descriptor=descriptor, limits=check_limits())
        faults = [one.message for one in report.findings if one.group is Group.TABLE]
    if faults:
        raise Unsound(
            WHAT,
            " ".join(dict.fromkeys(faults[:12])),
            "Put these right in the descriptor and send it again.",
            fields={"descriptor": faults[0]},
        )
