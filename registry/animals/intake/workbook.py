"""Have a child make plain text of a workbook, before anything of it is read here."""

from pathlib import Path

from registry.animals.intake.limits import BookRoom
from registry.errors import Refusal
from registry.guarded.asking import ask

MODULE = "registry.animals.intake.opening"
_PLAIN = "Save the sheet as CSV, in UTF-8 where you are asked, and send that file."
_ZIP, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


def is_workbook(path: Path) -> bool:
    """Whether a file begins as workbooks do, old or new."""
    with path.open("rb") as opened:
        return opened.read(4) in {_ZIP, _OLD}


def as_text(path: Path, out: Path) -> None:
    """Write the first sheet of a workbook that has rows and is not hidden, as CSV in UTF-8.

    Raises
    ------
    Refusal
        With the complaint under the field "file": it is over a limit, unfolds without end, is
        locked or broken, or holds what would be read wrong. Nothing is left of it then.
    """
    options = {"path": str(path.resolve()), "out": str(out.resolve())}
    try:
        ask(MODULE, options, BookRoom(), next=_PLAIN)
    except Refusal as refused:
        out.unlink(missing_ok=True)
        fields = {"file": f"{refused.why} {refused.next}"}
        raise type(refused)(refused.what, refused.why, refused.next, fields=fields) from None
