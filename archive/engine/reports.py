"""What a check hands back: the verdict, the findings, and a summary of each column."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from archive.engine.findings import Finding, Group, Verdict


@dataclass(frozen=True, slots=True)
class ColumnSummary:
    """One column at a glance.

    Parameters
    ----------
    name, type, role, unit : str
        As the schema has them; unit is a UCUM code.
    filled : float
        Share of rows with a sound value, 0 to 1.
    distinct : int
        How many different values, counted up to `is_capped`.
    is_capped : bool
        Whether counting stopped; then `distinct` is the least there are.
    values : tuple of (str, int)
        Each value with its count, most frequent first, where there are few.
    least, greatest : str
        Smallest and largest value as text, "" where values have no order.
    bins : tuple of int
        Counts over equal steps from least to greatest: of numbers, and of days and times where
        there are more than `values` tells.
    """

    name: str
    type: str
    role: str
    unit: str
    filled: float
    distinct: int
    is_capped: bool
    values: tuple[tuple[str, int], ...] = ()
    least: str = ""
    greatest: str = ""
    bins: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class TableReport:
    """One table: its file, its size, its digest and its columns.

    `note` says why it was read the slow way, "" where it was not or is small.
    """

    name: str
    path: str
    rows: int
    bytes: int
    sha256: str
    columns: tuple[ColumnSummary, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class FileReport:
    """A file of the package that is no table."""

    name: str
    path: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Tally:
    """Findings of one code in one column; those of the register also by value, as breaches are."""

    group: Group
    code: str
    table: str
    field: str
    value: str
    count: int
    first_row: int | None
    last_row: int | None


class StoredFindings:
    """Findings kept in a file, one JSON object a line, read one by one."""

    def __init__(self, path: Path, count: int) -> None:
        self.path = path
        self._count = count

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Finding]:
        return read_findings(self.path)


def read_findings(path: Path) -> Iterator[Finding]:
    """Read a file of findings; a last line that was cut short by a killed child is left out."""
    with path.open(encoding="utf-8") as file:
        for line in file:
            if line.endswith("\n"):
                yield Finding.from_dict(json.loads(line))


@dataclass(frozen=True, slots=True)
class Told:
    """What is made of a report for its readers.

    Parameters
    ----------
    summary : dict
        What pages show, as plain values.
    to_explain : tuple of Finding
        One for each thing that the register asks to have explained, the first of each code.
    more_to_explain : mapping of code to str
        How many things of a code there are besides, in words.
    fault : str
        Why no causes were looked for; "" where they were.
    """

    summary: dict[str, Any]
    to_explain: tuple[Finding, ...]
    more_to_explain: dict[str, str]
    fault: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return {
            "summary": self.summary,
            "to_explain": [finding.as_dict() for finding in self.to_explain],
            "more_to_explain": self.more_to_explain,
            "fault": self.fault,
        }

    @classmethod
    def from_dict(cls, shape: dict[str, Any]) -> "Told":
        """Read back what `as_dict` gave."""
        to_explain = tuple(Finding.from_dict(item) for item in shape["to_explain"])
        return cls(**(shape | {"to_explain": to_explain}))


@dataclass(frozen=True, slots=True)
class Report:
    """The judgement of a package.

    Parameters
    ----------
    verdict : Verdict
    findings : tuple of Finding or StoredFindings
        In the order of the tables, by row within a chunk.
    tables, files : tuple
        What was read.
    tallies : tuple of Tally
        The findings counted by column.
    is_limited : bool
        Whether the check stopped at a number of findings; then more may follow.
    reason : str
        Why nothing was, or not all was, checked; "" otherwise.
    told : Told, optional
        What is made of it for its readers, where that was asked for.
    """

    verdict: Verdict
    findings: tuple[Finding, ...] | StoredFindings = ()
    tables: tuple[TableReport, ...] = ()
    files: tuple[FileReport, ...] = ()
    tallies: tuple[Tally, ...] = ()
    is_limited: bool = False
    reason: str = ""
    told: Told | None = None
    counts: dict[tuple[Group, str], int] = field(init=False)

    def __post_init__(self) -> None:
        counts: dict[tuple[Group, str], int] = {}
        for tally in self.tallies:
            key = (tally.group, tally.code)
            counts[key] = counts.get(key, 0) + tally.count
        object.__setattr__(self, "counts", counts)

    def count(self, group: Group) -> int:
        """How many findings there are of a group."""
        return sum(number for (of, _), number in self.counts.items() if of is group)

    def as_dict(self, *, with_findings: bool = True) -> dict[str, Any]:
        """Give the report as plain values, ready for JSON."""
        shape: dict[str, Any] = {
            "verdict": self.verdict.value,
            "reason": self.reason,
            "is_limited": self.is_limited,
            "tables": [asdict(table) for table in self.tables],
            "files": [asdict(file) for file in self.files],
            "tallies": [asdict(tally) | {"group": tally.group.value} for tally in self.tallies],
        }
        if with_findings:
            shape["findings"] = [finding.as_dict() for finding in self.findings]
        return shape

    @classmethod
    def from_dict(cls, shape: dict[str, Any], *, stored: Path | None = None) -> "Report":
        """Read back what `as_dict` gave; findings left out of it are read from `stored`."""
        tallies = tuple(Tally(**(t | {"group": Group(t["group"])})) for t in shape["tallies"])
        findings: tuple[Finding, ...] | StoredFindings
        if stored is None:
            findings = tuple(Finding.from_dict(item) for item in shape.get("findings", ()))
        else:
            findings = StoredFindings(stored, sum(tally.count for tally in tallies))
        return cls(
            verdict=Verdict(shape["verdict"]),
            findings=findings,
            tables=tuple(_table(item) for item in shape["tables"]),
            files=tuple(FileReport(**item) for item in shape["files"]),
            tallies=tallies,
            is_limited=shape["is_limited"],
            reason=shape["reason"],
        )


def _table(item: dict[str, Any]) -> TableReport:
    columns = tuple(
        ColumnSummary(
            **(
                column
                | {
                    "values": tuple((value, count) for value, count in column["values"]),
                    "bins": tuple(column["bins"]),
                }
            )
        )
        for column in item["columns"]
    )
    return TableReport(**(item | {"columns": columns}))


class Sink:
    """Takes findings one by one, counts them, and keeps them in a file or in memory.

    Parameters
    ----------
    path : Path or None
        Where to write them as they come, one JSON object a line; None keeps them in memory.
    most : int or None
        After how many findings the check is to stop; None never does.
    """

    def __init__(self, path: Path | None = None, most: int | None = None) -> None:
        self.path = path
        self.most = most
        self.count = 0
        self.is_whole = True
        self.kept: list[Finding] = []
        self._tallies: dict[tuple[Group, str, str, str, str], list[Any]] = {}
        self._file = None if path is None else path.open("w", encoding="utf-8")

    @property
    def is_full(self) -> bool:
        """Whether the number of findings at which to stop is reached."""
        return self.most is not None and self.count >= self.most

    def take(self, finding: Finding) -> None:
        """Keep a finding, unless the limit is reached."""
        if self.is_full:
            return
        self.count += 1
        if finding.code == "not-checked":
            self.is_whole = False
        self._tally(finding)
        if self._file is None:
            self.kept.append(finding)
        else:
            self._file.write(json.dumps(finding.as_dict(), ensure_ascii=False) + "\n")

    def take_all(self, findings: Iterable[Finding]) -> None:
        """Keep several findings."""
        for finding in findings:
            self.take(finding)

    def _tally(self, finding: Finding) -> None:
        by_value = finding.value if finding.group is Group.REGISTER else ""
        key = (finding.group, finding.code, finding.table, finding.field, by_value)
        tally = self._tallies.setdefault(key, [0, None, None])
        tally[0] += 1
        if finding.row is not None:
            tally[1] = finding.row if tally[1] is None else min(tally[1], finding.row)
            tally[2] = finding.row if tally[2] is None else max(tally[2], finding.row)

    def flush(self) -> None:
        """Bring what was written to the file, so that a killed check loses little."""
        if self._file is not None:
            self._file.flush()

    def report(self, tables: list[TableReport], files: list[FileReport]) -> Report:
        """Close the sink and judge: invalid, not checked, or valid, in this order."""
        if self._file is not None:
            self._file.close()
        tallies = tuple(Tally(*key, *numbers) for key, numbers in self._tallies.items())
        faults = any(t.group is Group.TABLE and t.code != "not-checked" for t in tallies)
        if faults:
            verdict, reason = Verdict.INVALID, ""
        elif self.is_full:
            verdict = Verdict.NOT_CHECKED
            reason = f"The check stopped at {self.count:,} findings, as it was told to."
        elif not self.is_whole:
            verdict, reason = Verdict.NOT_CHECKED, "A check could not finish; see its finding."
        else:
            verdict, reason = Verdict.VALID, ""
        return Report(
            verdict=verdict,
            findings=(
                tuple(self.kept) if self.path is None else StoredFindings(self.path, self.count)
            ),
            tables=tuple(tables),
            files=tuple(files),
            tallies=tallies,
            is_limited=self.is_full,
            reason=reason,
        )
