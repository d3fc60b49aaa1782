"""Pages on paper: whole, readable without eyes, the same each time, and never run as a program."""

import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import typst
from PIL import Image
from pypdf import PdfReader

from registry.printing import pdf

MADE = datetime(2026, 11, 24, 8, 40, tzinfo=UTC)
FACTS: dict[str, Any] = {
    "title": "Who lives here?",
    "over": "Tank 2",
    "site": "Skerrywick Aquarium",
    "as_known": "As known on Tue 24 Nov 2026, 08:40.",
    "ledger": "Ledger entry 12, abc.",
    "rows": [["Morwen", "1"], ["#panic() $x$ *not bold*", "22"]],
}
BODY = """
#import "house.typ": sheet, label, rows
#let facts = json("facts.json")
#show: sheet.with(facts)
#label((("Lives in", "Tank 2"),))
== Numbers
#rows(("Name", "Number"), facts.rows, numbers: (1,))
"""


def _template(folder: Path, body: str) -> Path:
    path = folder / "page.typ"
    path.write_text(body, encoding="utf-8")
    return path


def _words(made: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages)


def _picture() -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (40, 30), (120, 90, 30)).save(made, "PNG")
    return made.getvalue()


def test_a_page_says_its_facts_and_is_tagged_for_readers_who_do_not_see(tmp_path: Path) -> None:
    made = pdf(_template(tmp_path, BODY), FACTS, made_at=MADE)
    words = _words(made)
    for said in ("Who lives here?", "Tank 2", "Morwen", "Ledger entry 12, abc."):
        assert said in words
    catalogue: Any = PdfReader(io.BytesIO(made)).trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/Lang"] == "en-GB"
    # ISO 14289-1, 5: the file says by itself which part of PDF/UA it keeps to.
    assert b"pdfuaid" in catalogue["/Metadata"].get_data()


def test_text_is_set_as_text_and_never_run(tmp_path: Path) -> None:
    assert "#panic() $x$ *not bold*" in _words(pdf(_template(tmp_path, BODY), FACTS, made_at=MADE))


def test_the_same_facts_give_the_same_bytes(tmp_path: Path) -> None:
    template = _template(tmp_path, BODY)
    assert pdf(template, FACTS, made_at=MADE) == pdf(template, FACTS, made_at=MADE)


def test_a_picture_without_words_is_a_fault_of_the_template(tmp_path: Path) -> None:
    shown = {"mark.png": _picture()}
    with_words = BODY + '#image("mark.png", alt: "A nick in the right wing")'
    assert pdf(_template(tmp_path, with_words), FACTS, made_at=MADE, pictures=shown)
    without = _template(tmp_path, BODY + '#image("mark.png")')
    with pytest.raises(typst.TypstError, match="alt"):
        pdf(without, FACTS, made_at=MADE, pictures=shown)


def test_a_sign_that_no_font_has_does_not_stop_the_page(tmp_path: Path) -> None:
    made = pdf(
        _template(tmp_path, BODY), {**FACTS, "title": "Ray \U0001fabf \u2fff 7"}, made_at=MADE
    )
    assert "Morwen" in _words(made)


def test_a_template_reads_nothing_outside_its_own_folder(tmp_path: Path) -> None:
    outside = BODY + '#read("/etc/hostname")\n#read("../page.typ")'
    with pytest.raises(typst.TypstError):
        pdf(_template(tmp_path, outside), FACTS, made_at=MADE)
