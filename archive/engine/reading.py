"""The whole file read once before it is judged: encoding, digest, quotation marks, sizes.

Other readers sample the first lines; here each byte is looked at, and memory does not grow with
the file.

References
----------
RFC 4180, section 2, for quotation marks in CSV; RFC 3629 for UTF-8.
"""

import codecs
import csv
import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from archive.engine import way
from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.limits import Limits
from registry.guarded.sizes import size

BLOCK_BYTES = 1 << 20
_LINE_END = re.compile(rb"[\r\n]")


@dataclass(slots=True)
class Scan:
    """What one pass over a file found.

    `records` counts csv records with the header, `lines` physical lines, `labels` are the cells of
    the first record. Where `is_readable` is
    False no other reader should be sent over the file.
    """

    bytes: int = 0
    sha256: str = ""
    records: int = 0
    lines: int = 0
    labels: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    is_readable: bool = True

    def stop(self, finding: Finding) -> None:
        """Note what makes the file unreadable."""
        self.findings.append(finding)
        self.is_readable = False


def scan_file(path: Path) -> Scan:
    """Count and hash a file that is no table."""
    scan, digest = Scan(), hashlib.sha256()
    for block in _blocks(path):
        scan.bytes += len(block)
        digest.update(block)
    scan.sha256 = digest.hexdigest()
    return scan


def scan_table(path: Path, table: str, layout: Mapping[str, Any], limits: Limits) -> Scan:
    """Read a CSV file from its first byte to its last.

    Parameters
    ----------
    path : Path
    table : str
        Name for the findings.
    layout : mapping
        The pinned ``csv`` part of the dialect.
    limits : Limits

    Notes
    -----
    One pass of the kernel, where the file is large and sound. Otherwise two: bytes (digest, UTF-8,
    NUL, length of lines), then csv records under strict quoting. The second runs only where the
    first found nothing, since a line of unbounded length would fill the memory.
    """
    quick = way.kernel("survey") if way.is_worth_it(path.stat().st_size) else None
    told = quick.survey(path, reader_options(layout), limits) if quick is not None else None
    if told is not None:
        records = told.records
        return Scan(told.bytes, told.sha256, records, records, told.labels)
    scan = _scan_bytes(path, table, limits)
    if scan.is_readable and scan.bytes:
        _scan_records(path, table, layout, limits, scan)
    return scan


def begin_table(path: Path, resource: Mapping[str, Any], limits: Limits) -> Scan | None:
    """Look at the beginning of a CSV file that can be looked at further while it is judged.

    Returns
    -------
    Scan or None
        Its `records` are a guess, and its digest is not known yet; None where the file has to be
        looked at whole, before any other reader is sent over it.
    """
    size = path.stat().st_size
    quick = way.kernel("survey") if way.is_worth_it(size) else None
    options = reader_options(resource["dialect"]["csv"])
    told = quick and quick.survey(path, options, limits, is_whole=False)
    return Scan(size, "", told.records, told.records, told.labels) if told else None


def _blocks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            yield block


def _scan_bytes(path: Path, table: str, limits: Limits) -> Scan:
    scan, digest = Scan(), hashlib.sha256()
    decoder = codecs.getincrementaldecoder("utf-8")("strict")
    is_text, lines, run, longest = True, 0, 0, 0
    fault: Finding | None = None
    for block in _blocks(path):
        digest.update(block)
        if is_text:
            try:
                decoder.decode(block)
            except UnicodeDecodeError as error:
                is_text = False
                # The decoder may hold up to three bytes of the block before.
                start = max(0, error.start - (len(error.object) - len(block)))
                fault = _not_text(table, lines + block.count(b"\n", 0, start) + 1, error)
        if fault is None and (at := block.find(b"\0")) >= 0:
            line = lines + block.count(b"\n", 0, at) + 1
            message = f"Line {line:,} holds a NUL character: this is no text file."
            fault = found("nul-character", message, table=table, row=line)
        lines += block.count(b"\n")
        first, last = _LINE_END.search(block), max(block.rfind(b"\n"), block.rfind(b"\r"))
        longest = max(longest, run + (first.start() if first else len(block)))
        run = run + len(block) if last < 0 else len(block) - last - 1
        scan.bytes += len(block)
    scan.sha256 = digest.hexdigest()
    if is_text and decoder.getstate()[0]:
        message = "The file ends in the middle of a letter: it was cut short, or is not UTF-8."
        fault = found("encoding-error", message, table=table, row=lines + 1)
    if fault is None and longest > limits.cell_bytes * 64:
        message = f"One line is {size(longest)} long."
        fault = found("cell-too-large", message, table=table)
    if scan.bytes > limits.table_bytes:
        message = f"The table is {size(scan.bytes)}; the limit is {size(limits.table_bytes)}."
        fault = found("table-too-large", message, table=table)
    if fault:
        scan.stop(fault)
    return scan


def _not_text(table: str, line: int, error: UnicodeDecodeError) -> Finding:
    bad = error.object[error.start : error.start + 1]
    guess = bad.decode("cp1252", "replace")
    message = (
        f"Line {line:,} holds the byte {bad.hex().upper()}, which is not UTF-8. In the old"
        f" Windows encoding it would be “{guess}”."
    )
    return found("encoding-error", message, table=table, row=line, value=guess)


def _scan_records(
    path: Path, table: str, layout: Mapping[str, Any], limits: Limits, scan: Scan
) -> None:
    """Count the records under strict quoting, and find where a quotation mark goes astray."""
    before = csv.field_size_limit(limits.cell_bytes)
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            try:
                reader = csv.reader(file, strict=True, **reader_options(layout))
            except (TypeError, ValueError) as fault:
                message = f"The layout of “{table}” cannot be used: {fault}."
                scan.stop(found("dialect-error", message, table=table))
                return
            _count(reader, table, limits, scan)
            stray = [finding for finding in scan.findings if finding.code == "stray-quote"]
            if stray:
                # Strict reading ended there; the other readers go on, so the count does too.
                file.seek(0)
                scan.records, scan.findings = 0, stray
                _count(csv.reader(file, **reader_options(layout)), table, limits, scan)
    finally:
        csv.field_size_limit(before)


def _count(reader: Any, table: str, limits: Limits, scan: Scan) -> None:
    width, line = 0, 0
    try:
        for cells in reader:
            scan.records += 1
            if scan.records == 1:
                width, scan.labels = len(cells), [cell.strip() for cell in cells]
            # A record over several lines holds line breaks inside a cell.
            if reader.line_num - line > 1:
                _look_for_rows(cells, width, table, scan)
            line = reader.line_num
            if len(cells) > limits.columns or scan.records - 1 > limits.table_rows:
                scan.stop(_over(cells, table, limits, scan))
                return
    except csv.Error as error:
        _misquoted(str(error), table, line, reader.line_num, limits, scan)
    scan.lines = max(scan.lines, reader.line_num)


def _misquoted(reason: str, table: str, before: int, line: int, limits: Limits, scan: Scan) -> None:
    row = scan.records + 1
    if "unexpected end of data" in reason:
        message = (
            f"A quotation mark in row {row:,} (line {before + 1:,}) is never closed: everything"
            f" after it, {line - before:,} lines, would be read as one cell."
        )
        scan.stop(found("unclosed-quote", message, table=table, row=row))
    elif "field larger than field limit" in reason:
        message = f"Row {row:,} (line {line:,}) holds a cell of more than"
        message = f"{message} {limits.cell_bytes // 1024:,} kB."
        scan.stop(found("cell-too-large", message, table=table, row=row))
    else:
        lines = f"line {line:,}" if line == before + 1 else f"lines {before + 1:,} to {line:,}"
        message = f"Row {row:,} ({lines}) has text right after a closing quotation mark."
        scan.findings.append(found("stray-quote", message, table=table, row=row))


def _over(cells: list[str], table: str, limits: Limits, scan: Scan) -> Finding:
    if len(cells) > limits.columns:
        message = f"Row {scan.records:,} has {len(cells):,} cells; the limit is {limits.columns:,}."
    else:
        message = f"The table has more than {limits.table_rows:,} rows."
    return found("table-too-large", message, table=table)


def _look_for_rows(cells: list[str], width: int, table: str, scan: Scan) -> None:
    for cell in cells:
        inner = cell.splitlines()[1:-1]
        if width > 1 and any(line.count(",") >= width - 1 for line in inner):
            message = (
                f"One cell of row {scan.records:,} holds {len(inner) + 2:,} lines, some of which"
                " look like rows of the table."
            )
            scan.findings.append(
                found("swallowed-rows", message, table=table, row=scan.records, value=cell)
            )


def reader_options(layout: Mapping[str, Any]) -> dict[str, Any]:
    """The options of ``csv.reader`` for a pinned layout, as frictionless takes them."""
    escape = layout.get("escapeChar") or None
    quote = layout.get("quoteChar", '"')
    return {
        "delimiter": layout.get("delimiter", ","),
        "quotechar": quote or None,
        "escapechar": escape,
        "doublequote": layout.get("doubleQuote", True) if escape else True,
        "skipinitialspace": layout.get("skipInitialSpace", False),
        "quoting": csv.QUOTE_MINIMAL if quote else csv.QUOTE_NONE,
    }
