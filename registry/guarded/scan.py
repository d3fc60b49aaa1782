"""Workbooks looked at before they are opened: the zip's members and each sheet as a stream.

A workbook of 4.8 kB may name one far cell, and whoever opens it would ask for hundreds of
gigabytes. Nothing here holds more than one piece of a stream, whatever the file says of itself.

References
----------
ECMA-376 part 1, 18.2 and 18.3 (workbooks and worksheets); OpenDocument 1.3 part 3, 9 (tables).
"""

import re
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.parsers import expat

from registry.errors import TooLarge, Unsound
from registry.guarded.content_xml import Content
from registry.guarded.limits import BookLimits
from registry.guarded.sheet_xml import Head, Links, Remarks, Sheet, Texts
from registry.guarded.sizes import size
from registry.guarded.workbook import ENTRIES, PLAIN, WHAT, BookFacts, SheetFacts

BLOCK_BYTES = 1 << 16
RATIO_FREE_BYTES = 1_000_000
_DEEP = 64
_WAITING_BYTES = 1_000_000
_REMARKS = re.compile(r"xl/comments[^/]*\.xml|xl/comments/[^/]*\.xml")


def scan(path: Path, limits: BookLimits) -> BookFacts:
    """Look through a workbook as a stream.

    Parameters
    ----------
    path : Path
        The file; an older .xls, which is no zip, is let through with its size alone.
    limits : BookLimits
        For the bytes, the rows, the columns, a cell, and how far the zip may unfold.

    Raises
    ------
    TooLarge
        When anything of it is over a limit.
    Unsound
        When it is locked, broken, declares a document type, or is of a kind that is not read.
    """
    weight = path.stat().st_size
    if weight > limits.workbook_bytes:
        most = size(limits.workbook_bytes)
        raise TooLarge(WHAT, f"It is {size(weight)}; {most} are read at most.", PLAIN)
    with path.open("rb") as file:
        if file.read(4) == b"\xd0\xcf\x11\xe0":
            return BookFacts("xls", ())
    try:
        with zipfile.ZipFile(path) as book:
            return _Book(book, weight, limits).facts()
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as fault:
        if isinstance(fault, zlib.error) and _NO_MEMORY in str(fault):
            raise MemoryError(str(fault)) from fault
        raise Unsound(WHAT, f"It is not a sound workbook: {fault}.", PLAIN) from None


_NO_MEMORY = "Error -4 "
"""How zlib says that it was given none: the book may be sound."""


class _Book:
    """One workbook while it is looked through; what comes out of it is counted over all members."""

    def __init__(self, book: zipfile.ZipFile, weight: int, limits: BookLimits) -> None:
        self.book, self.weight, self.limits = book, weight, limits
        self.unfolded = 0
        self.names = self._members()

    def _members(self) -> set[str]:
        entries = self.book.infolist()
        if len(entries) > ENTRIES:
            raise TooLarge(WHAT, f"It holds {len(entries):,} parts; {ENTRIES:,} at most.", PLAIN)
        names: set[str] = set()
        for entry in entries:
            name = entry.filename
            if entry.flag_bits & 0x41:
                raise Unsound(WHAT, "It is locked with a password.", "Save it without one.")
            if name.startswith("/") or ".." in name.split("/") or "\\" in name:
                raise Unsound(WHAT, f"A part of it is named “{name[:80]}”.", PLAIN)
            if name.casefold() in names:
                raise Unsound(WHAT, f"Two parts of it are named “{name[:80]}”.", PLAIN)
            names.add(name.casefold())
        self._hold(sum(entry.file_size for entry in entries))
        return {entry.filename for entry in entries}

    def _hold(self, count: int) -> None:
        if count > RATIO_FREE_BYTES and count > self.limits.zip_ratio * self.weight:
            why = f"It unfolds to more than {self.limits.zip_ratio} times its size."
            raise TooLarge(WHAT, why, PLAIN)

    def facts(self) -> BookFacts:
        if "content.xml" in self.names:
            return self._open_document()
        if "xl/workbook.bin" in self.names:
            raise Unsound(
                WHAT,
                "It is a binary workbook (.xlsb), which cannot be looked through safely.",
                "Save it as .xlsx, or the sheet as CSV (UTF-8).",
            )
        if "xl/workbook.xml" not in self.names:
            raise Unsound(WHAT, "There is no workbook in it.", PLAIN)
        head = Head()
        self._parse("xl/workbook.xml", head.start, None, None)
        links = Links()
        rels = "xl/_rels/workbook.xml.rels"
        if rels in self.names:
            self._parse(rels, links.start, None, None)
        remarks = Remarks()
        for name in sorted(self.names):
            if name.endswith("sharedStrings.xml"):
                text = Texts(self.limits)
                self._parse(name, text.start, text.end, text.text)
            if _REMARKS.fullmatch(name):
                self._parse(name, remarks.start, None, None)
        sheets = []
        for name, link, is_hidden in head.sheets:
            facts = SheetFacts(name, is_hidden=is_hidden)
            target = links.targets.get(link, "")
            if target in self.names and "chartsheets" not in target:
                one = Sheet(facts, self.limits)
                self._parse(target, one.start, one.end, one.text)
            sheets.append(facts)
        return BookFacts("xlsx", tuple(sheets), head.is_1904, remarks.count)

    def _open_document(self) -> BookFacts:
        content = Content(self.limits)
        self._parse("content.xml", content.start, content.end, content.text, spaced=True)
        return BookFacts("ods", tuple(content.sheets), remarks=content.remarks)

    def _parse(
        self,
        name: str,
        start: Callable[[str, dict[str, str]], None],
        end: Callable[[str], None] | None,
        text: Callable[[str], None] | None,
        *,
        spaced: bool = False,
    ) -> None:
        """Send one part through an XML parser that knows no document types, block after block."""
        parser = expat.ParserCreate(namespace_separator=" ") if spaced else expat.ParserCreate()
        parser.buffer_text = True
        depth = 0

        def refuse(*_: Any) -> None:
            raise Unsound(
                WHAT,
                "A part of it declares a document type or entities, which no spreadsheet writes and"
                " which can unfold without end.",
                PLAIN,
            )

        def begin(tag: str, given: dict[str, str]) -> None:
            nonlocal depth
            depth += 1
            if depth > _DEEP:
                raise Unsound(WHAT, f"A part of it is nested over {_DEEP} deep.", PLAIN)
            start(tag, given)

        def close(tag: str) -> None:
            nonlocal depth
            depth -= 1
            if end is not None:
                end(tag)

        parser.StartDoctypeDeclHandler = refuse
        parser.EntityDeclHandler = refuse
        parser.StartElementHandler = begin
        parser.EndElementHandler = close
        if text is not None:
            parser.CharacterDataHandler = text
        try:
            with self.book.open(name) as part:
                sent = 0
                while block := part.read(BLOCK_BYTES):
                    sent += len(block)
                    self.unfolded += len(block)
                    self._hold(self.unfolded)
                    parser.Parse(block, False)
                    if sent - max(parser.CurrentByteIndex, 0) > _WAITING_BYTES:
                        raise TooLarge(WHAT, "A mark in it never ends.", PLAIN)
                parser.Parse(b"", True)
        except expat.ExpatError as fault:
            raise Unsound(WHAT, f"Its part {name[:80]} is broken: {fault}.", PLAIN) from None
