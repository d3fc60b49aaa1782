"""Awkward files made by program: texts, workbooks, an OpenDocument sheet, and bombs."""

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import xlsxwriter

FIELDS: list[dict[str, Any]] = [
    {"name": "ray", "type": "string", "title": "Ray", "x:role": "animal",
     "constraints": {"required": True}},
    {"name": "seen_on", "type": "date", "title": "Seen on", "x:role": "time"},
    {"name": "posture", "type": "string", "title": "Posture", "x:role": "behaviour",
     "x:ethogram": [{"code": "REST"}, {"code": "SWIM"}]},
    {"name": "depth", "type": "number", "title": "Depth", "x:unit": "m"},
]  # fmt: skip


def table(*fields: dict[str, Any]) -> dict[str, Any]:
    """Give the dictionary's table, of scans of rays unless other fields are given."""
    return {"name": "scans", "schema": {"fields": list(fields or FIELDS)}}


PLAIN = (
    "ray,seen_on,posture,depth\n"
    "R-01,2026-11-24,REST,1.5\n"
    "R-02,2026-11-25,SWIM,2.25\n"
    "R-03,2026-11-26,REST,0.75\n"
)


def book(
    fill: Callable[[Any, Any], None], *, is_1904: bool = False, others: tuple[str, ...] = ()
) -> bytes:
    """Make a workbook with one sheet that `fill` writes, and empty others."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "date_1904": is_1904}) as workbook:
        sheet = workbook.add_worksheet("Scans")
        for name in others:
            workbook.add_worksheet(name)
        fill(workbook, sheet)
    return made.getvalue()


def cells(rows: list[list[Any]], *, top: int = 0) -> Callable[[Any, Any], None]:
    """Write these rows; a string is text whatever it looks like."""

    def fill(_: Any, sheet: Any) -> None:
        for at, row in enumerate(rows, start=top):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(at, column, value)
                elif value is not None:
                    sheet.write(at, column, value)

    return fill


_ODS_HEAD = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
    ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
    ' office:version="1.3"><office:body><office:spreadsheet>'
)
_ODS_FOOT = "</office:spreadsheet></office:body></office:document-content>"


def ods(rows: str, *, name: str = "Scans") -> bytes:
    """Make an OpenDocument spreadsheet of table rows that are given as XML."""
    return packed(
        {
            "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
            "META-INF/manifest.xml": b'<?xml version="1.0"?><manifest:manifest'
            b' xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>',
            "content.xml": (
                f'{_ODS_HEAD}<table:table table:name="{name}">{rows}</table:table>{_ODS_FOOT}'
            ).encode(),
        }
    )


def ods_row(*values: Any, more: str = "") -> str:
    """Give one row of an OpenDocument table."""
    made = []
    for value in values:
        if isinstance(value, float | int):
            made.append(
                f'<table:table-cell office:value-type="float" office:value="{value}">'
                f"<text:p>{value}</text:p></table:table-cell>"
            )
        elif value.startswith("<"):
            made.append(value)
        elif value.startswith("date:"):
            day = value.removeprefix("date:")
            made.append(
                f'<table:table-cell office:value-type="date" office:date-value="{day}">'
                f"<text:p>{day}</text:p></table:table-cell>"
            )
        else:
            made.append(
                '<table:table-cell office:value-type="string">'
                f"<text:p>{value}</text:p></table:table-cell>"
            )
    return f"<table:table-row{more}>{''.join(made)}</table:table-row>"


def packed(files: dict[str, bytes]) -> bytes:
    """Make a zip of these files."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return made.getvalue()


def with_part(content: bytes, name: str, part: bytes) -> bytes:
    """Give a workbook again with one of its parts replaced."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        files = {one: archive.read(one) for one in archive.namelist()}
    return packed({**files, name: part})


def laid(folder: Path, name: str, content: bytes) -> Path:
    """Write a file and give its path."""
    path = folder / name
    path.write_bytes(content)
    return path
