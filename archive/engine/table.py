"""One table from its first row to its last: frictionless' own readers, then our own checks."""

import signal
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, nullcontext
from types import FrameType
from typing import Any

from frictionless import Checklist, FrictionlessException

from archive.engine import way
from archive.engine.checks.approval_day import ApprovalDay
from archive.engine.checks.categories import Categories, categories_of
from archive.engine.checks.chunk import CHUNK_CELLS, CHUNK_LETTERS, CHUNK_ROWS, Check, Chunk
from archive.engine.checks.days import RowDays
from archive.engine.checks.enrolled import WasEnrolled
from archive.engine.checks.ethogram import CodeInForce
from archive.engine.checks.moments import when_of
from archive.engine.checks.null_in_key import NullInKey
from archive.engine.checks.observer import KnownObserver
from archive.engine.checks.over_time import OverTime
from archive.engine.checks.passed import PassedObserver
from archive.engine.checks.place import KnownPlace
from archive.engine.checks.restriction import NotRestricted
from archive.engine.checks.session import KnownSession
from archive.engine.checks.unique_keys import UniqueKeys
from archive.engine.codes import found
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Finding
from archive.engine.limits import Limits
from archive.engine.reports import ColumnSummary, Sink
from archive.engine.roles import (
    FieldRole,
    ethogram_of,
    fields_of,
    fields_with_role,
    missing_values,
    primary_key,
)
from archive.engine.summary import TableSummary
from archive.engine.translate import translate

Schema = Mapping[str, Any]


# ------------------------------------------------------------------ which checks a table gets


def own_checks(table: str, schema: Schema) -> list[Check]:
    """Give the checks that close the gaps of frictionless, as far as the schema asks for them."""
    checks: list[Check] = []
    if keys := schema.get("uniqueKeys"):
        checks.append(UniqueKeys(table, keys))
    key = primary_key(schema)
    if len(key) > 1:
        checks.append(NullInKey(table, {name: missing_values(schema, name) for name in key}))
    coded = {
        str(field["name"]): codes
        for field in schema["fields"]
        if (codes := categories_of(field)) is not None
    }
    if coded:
        checks.append(Categories(table, coded))
    return checks


def register_checks(table: str, schema: Schema, facts: RegisterFacts) -> list[Check]:
    """Give the checks against the register, as far as the facts and the columns' roles allow."""
    days = RowDays(schema, facts)
    subjects = fields_with_role(schema, FieldRole.ANIMAL, FieldRole.GROUP)
    places = fields_with_role(schema, FieldRole.PLACE)
    observers = fields_with_role(schema, FieldRole.OBSERVER)
    sessions = fields_with_role(schema, FieldRole.SESSION)
    checks: list[Check] = []
    if subjects and facts.enrolments is not None:
        checks.append(WasEnrolled(table, subjects, days, facts.enrolments))
    if (days.time or days.session) and facts.approvals is not None:
        checks.append(ApprovalDay(table, days, facts.approvals))
    if subjects and facts.restrictions is not None:
        checks.append(NotRestricted(table, subjects, days, facts.restrictions))
    if places and (facts.places is not None or facts.enclosures is not None):
        checks.append(KnownPlace(table, places, facts.places, facts.enclosures))
    if observers and facts.observers is not None:
        checks.append(KnownObserver(table, observers, facts.observers))
    if observers and days.reads and facts.tested is not None:
        checks.append(PassedObserver(table, observers, days, facts.tested, facts.observers))
    if sessions and facts.sessions is not None:
        checks.append(KnownSession(table, sessions, days, facts.sessions))
    coded = [field for field in fields_of(schema) if ethogram_of(field)]
    if coded and days.reads and facts.versions:
        checks.append(CodeInForce(table, coded, days, facts.versions))
    if (when := when_of(schema)) is not None:
        over_time = OverTime(table, schema, when, facts)
        checks += [over_time] if over_time.is_needed else []
    return checks


# ------------------------------------------------------------------ the pass

ROW_S = 5.0
"""The most computing that one row may ask for, in seconds; a bad pattern asks for hours."""


class TooSlow(Exception):
    """A row took more computing than any row should."""


@contextmanager
def in_time(seconds: float) -> Iterator[None]:
    """Stop what runs inside when it has computed for so long.

    Only a signal reaches into a regular expression at work, and only the main thread gets one; in
    another thread there is no limit but the child's own.

    Raises
    ------
    TooSlow
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(number: int, frame: FrameType | None) -> None:
        raise TooSlow(f"one row took more than {seconds:g} seconds; look at the columns’ patterns")

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def guarded(reader: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Stop a cell's reader when it has computed for too long."""

    def in_seconds(cell: Any) -> Any:
        with in_time(ROW_S):
            return reader(cell)

    return in_seconds


class TablePass:
    """Reads one table and hands its rows, in chunks, to our own checks.

    Parameters
    ----------
    resource : frictionless.Resource
        The table, with encoding and layout pinned.
    table : str
    schema : mapping
        The descriptor's schema, with roles and units.
    checks : callable
        Makes the checks of our own, anew for each way that is tried: some of them keep what they
        saw.
    sink : Sink
    progress : callable, optional
        Told the number of rows after each chunk.
    sha256 : str
        The file's digest, where it is known; it is not made again then.

    Notes
    -----
    Large tables are read the fast way (`archive.engine.fast`), the others and those that it does
    not know by the loop of frictionless' own ``Resource.validate``, without its limit of 1,000
    errors and without keeping them. The findings are the same; `slow_because` says why the slow way
    was taken.
    """

    def __init__(
        self,
        resource: Any,
        table: str,
        schema: Schema,
        checks: Callable[[], Sequence[Check]],
        sink: Sink,
        progress: Callable[[int], None] | None = None,
        sha256: str = "",
    ) -> None:
        self.resource = resource
        self.bytes, self.sha256 = 0, sha256
        self.table = table
        self.key = primary_key(schema)
        self.has_patterns = any(
            isinstance(limits := field.get("constraints"), dict) and "pattern" in limits
            for field in fields_of(schema)
        )
        self.make_checks = checks
        self.sink = sink
        self.progress = progress
        self.schema = schema
        self.summary: TableSummary | None = None
        self.slow_because = ""
        self.rows = 0
        self.at_row = 1
        self.has_crashed = False
        self.is_telling = False

    def run(self, limits: Limits | None = None) -> tuple[ColumnSummary, ...] | None:
        """Read every row; a crash becomes a finding, and the table counts as not checked.

        With `limits` nobody looked at the file before, and the one pass that judges it looks at its
        bytes too: None, and nothing told, where somebody has to look at it first.
        """
        glance: tuple[tuple[ColumnSummary, ...], list[Finding]] | None = None
        try:
            self.resource.to_descriptor(validate=True)
            glance = self._read_fast(limits)
            if glance is None and limits is None:
                self._read()
        except MemoryError:
            raise
        except Exception as fault:  # noqa: BLE001 - a reader's crash is a finding, never a verdict
            raise_if_starved(fault)
            if limits is None or self.is_telling:
                self._take_fault(fault)
                limits = None
        finally:
            self.resource.close()
        if glance is None and limits is not None:
            return None
        if glance is None:
            glance = (self.summary or TableSummary(self.table, self.schema["fields"])).close()
        columns, far = glance
        self.sink.take_all(far)
        return columns

    def _take_fault(self, fault: Exception) -> None:
        if isinstance(fault, FrictionlessException):
            self._take(fault.to_errors())
            return
        self.has_crashed = True
        self.sink.take(crashed(self.table, self.at_row, fault))

    def _read_fast(
        self, limits: Limits | None
    ) -> tuple[tuple[ColumnSummary, ...], list[Finding]] | None:
        """Read the table the fast way; None where the slow way must be taken."""
        kernel = way.kernel() if way.is_worth_it(way.size_of(self.resource)) else None
        if kernel is None or self.slow_because:
            return None
        try:
            judging = kernel.open_judging(
                self.resource,
                self.table,
                self.key,
                self.schema,
                self.make_checks(),
                guard=guarded if self.has_patterns else None,
            )
            with closing(judging):
                self.rows = judging.read(self.progress, self.sha256, limits)
                self.bytes, self.sha256 = judging.fixity.bytes, self.sha256 or judging.fixity.sha256
                self.is_telling = True
                self._tell(judging)
                return judging.columns()  # type: ignore[no-any-return]
        except kernel.Slow as reason:
            # What is odd may be read the fast way once somebody has looked at it whole.
            is_odd = limits is not None and isinstance(reason, kernel.Odd)
            self.slow_because = "" if is_odd else str(reason)
            self.rows = 0
            self.resource.close()
            return None

    def _tell(self, judging: Any) -> None:
        """Hand on what the fast way found; from here on there is no way back to the slow one."""
        baseline = Checklist().connect(self.resource)
        for check in baseline:
            self._take(check.validate_start())
        for findings in judging.findings():
            self.sink.take_all(findings)
            self.sink.flush()
            if self.sink.is_full:
                return
        for check in baseline:
            self._take(check.validate_end())
        self.sink.take_all(judging.told_at_the_end())

    def _read(self) -> None:
        checks, summary = self.make_checks(), TableSummary(self.table, self.schema["fields"])
        self.summary = summary
        baseline = Checklist().connect(self.resource)
        self.resource.open()
        for check in baseline:
            self._take(check.validate_start())
        names = [field.name for field in self.resource.header.get_expected_fields()]
        for rows in self._chunks():
            self._judge(rows, names, baseline, checks, summary)
            if self.sink.is_full:
                return
        for check in baseline:
            self._take(check.validate_end())
        for own in checks:
            self.sink.take_all(own.close())

    def _chunks(self) -> Iterator[list[Any]]:
        rows: list[Any] = []
        letters = 0
        stream = self.resource.row_stream
        most = max(1, min(CHUNK_ROWS, CHUNK_CELLS // max(1, len(self.resource.labels))))
        while True:
            try:
                self.at_row += 1
                with in_time(ROW_S) if self.has_patterns else nullcontext():
                    row = next(stream)
                    self.at_row = row.row_number
                    # Cells are read on first sight; here, so that a crash is told at its row.
                    _ = row.errors
            except FrictionlessException as fault:
                raise_if_starved(fault)
                self._take([fault.error])
                continue
            except StopIteration:
                break
            except Exception:
                # The rows before the crash are judged all the same.
                yield rows
                raise
            rows.append(row)
            letters += sum(map(len, row.cells))
            if len(rows) >= most or letters > CHUNK_LETTERS:
                yield rows
                rows, letters = [], 0
        if rows:
            yield rows

    def _judge(
        self,
        rows: list[Any],
        names: list[str],
        baseline: list[Any],
        checks: Sequence[Check],
        summary: TableSummary,
    ) -> None:
        findings = [
            translate(error, self.table, self.key, names)
            for row in rows
            for check in baseline
            for error in check.validate_row(row)
        ]
        chunk = Chunk(
            rows=[row.row_number for row in rows],
            columns={name: [dict.get(row, name) for row in rows] for name in names},
            written=[row.cells for row in rows],
            places={name: at for at, name in enumerate(names)},
        )
        for own in checks:
            findings += own.look(chunk)
        summary.take(chunk)
        self.rows += len(rows)
        findings.sort(key=lambda finding: finding.row or 0)
        self.sink.take_all(findings)
        self.sink.flush()
        if self.progress:
            self.progress(self.rows)

    def _take(self, errors: Any) -> None:
        self.sink.take_all(translate(error, self.table, self.key) for error in errors)


def raise_if_starved(fault: Exception) -> None:
    """Bring back a lack of memory that frictionless' reader turned into a fault of the file.

    Raises
    ------
    MemoryError
    """
    if isinstance(fault.__cause__, MemoryError):
        raise MemoryError from fault  # noqa: TRY004 - it is no fault of a type


def crashed(table: str, row: int | None, fault: Exception) -> Finding:
    """Say that a check could not finish, and at which row."""
    reason = f"{type(fault).__name__}: {fault}".strip().rstrip(".")
    if isinstance(fault, TooSlow):
        reason = str(fault)
    if isinstance(fault, TypeError) and "offset-naive and offset-aware" in str(fault):
        reason = "a time with a zone cannot be compared with one without"
    where = f" at row {row:,}" if row else ""
    message = f"The check of “{table}” stopped{where}: {reason}."
    return found("not-checked", message, table=table, row=row)
