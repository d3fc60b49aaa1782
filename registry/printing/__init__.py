"""Pages on paper: a template and plain facts become a PDF. Nothing is looked up here."""

import json
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import typst

HOUSE = Path(__file__).with_name("house.typ")
_MAIN = "main.typ"
_FACTS = "facts.json"


def pdf(
    template: Path,
    facts: Mapping[str, Any],
    *,
    made_at: datetime,
    pictures: Mapping[str, bytes] | None = None,
) -> bytes:
    """Set a page and give it as a tagged PDF that screen readers can read (PDF/UA-1).

    Parameters
    ----------
    template : Path
        A file in Typst's language. It reads the facts with ``json("facts.json")`` and the house's
        parts with ``#import "house.typ": sheet, label, rows``. Text among the facts is only ever
        set as text: a template never evaluates it.
    facts : mapping
        What JSON can hold.
    made_at : datetime
        The moment that stands in the file. The same facts made at the same moment give the same
        bytes.
    pictures : mapping of str to bytes, optional
        JPEG or PNG by the plain file names under which the template shows them.

    Raises
    ------
    typst.TypstError
        When the template is at fault; a picture without words for those who do not see it is such
        a fault.

    Notes
    -----
    No font is fetched: the set faces come with the library, and the machine's own stand in for
    signs that those lack. A sign that no font here has shows as an empty box, and that file is
    then tagged but not PDF/UA, which allows no such box.

    References
    ----------
    ISO 14289-1 (PDF/UA-1).
    """
    with tempfile.TemporaryDirectory(prefix="printing-") as place:
        folder = Path(place)
        folder.joinpath(_MAIN).write_bytes(template.read_bytes())
        folder.joinpath(HOUSE.name).write_bytes(HOUSE.read_bytes())
        folder.joinpath(_FACTS).write_text(json.dumps(facts, ensure_ascii=False), encoding="utf-8")
        for name, picture in (pictures or {}).items():
            folder.joinpath(name).write_bytes(picture)
        try:
            return _set(folder, made_at, ["ua-1"])
        except typst.TypstError as fault:
            if "could not be displayed" not in fault.message:
                raise
            return _set(folder, made_at, [])


def _set(folder: Path, made_at: datetime, standards: Any) -> bytes:
    made = typst.compile(
        folder / _MAIN,
        root=folder,
        pdf_standards=standards,
        timestamp=int(made_at.timestamp()),
    )
    assert isinstance(made, bytes)
    return made
