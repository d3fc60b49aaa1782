"""Looks at a file and proposes each decision, in this process; `propose` does it in a child."""

import itertools
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from archive.engine.descriptor import WORKBOOKS
from archive.engine.intake import text
from archive.engine.intake.building import recipe_of
from archive.engine.intake.choosing import (
    Choice,
    column_choice,
    dates_choice,
    decimal_choice,
    matches_of,
    pad_choice,
)
from archive.engine.intake.converting import differences, digest_of, written
from archive.engine.intake.decisions import (
    FIELD,
    LEAVE,
    OWN,
    Decision,
    Notice,
    Option,
    Proposal,
    several,
)
from archive.engine.intake.grid import Grid, SheetGrid, TextGrid
from archive.engine.intake.headings import MOST_ROWS, Heading, headings_of, labels_at
from archive.engine.intake.names import Namesake, fold, namesakes
from archive.engine.intake.profile import (
    COMMAS,
    DAYS,
    NUMERIC,
    Column,
    Foot,
    Profiler,
    body_of,
    foot_of,
)
from archive.engine.intake.recipe import DELIMITER_WORDS, QUOTE_WORDS, ColumnRule, Recipe
from archive.engine.intake.values import said
from archive.engine.limits import Limits
from archive.engine.unpack import is_workbook
from registry.errors import Unsound
from registry.guarded.book import Book, Row
from registry.guarded.scan import SheetFacts, place

BEFORE = 15
AFTER = 8
_SHEETS = 30
"""Sheets of a workbook that are looked into; of more only the names are offered."""


def look(
    path: Path,
    name: str,
    table: Mapping[str, Any] | None,
    last: Recipe | None,
    answers: Mapping[str, str],
    limits: Limits,
) -> Proposal:
    """Look at a file and propose each decision.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its name as it was sent.
    table : mapping or None
        The dictionary's table (a resource with its schema) that it is to become.
    last : Recipe or None
        The recipe of last time, which goes before what is proposed wherever it fits.
    answers : mapping of key to value
        What the person has chosen so far; it goes before everything else.
    limits : Limits
        For the bytes, rows, columns and cells.
    """
    return _Look(path, name, table, last, answers, limits).proposal()


class _Look:
    """One look at one file: decisions and notices are gathered in the order in which they fall."""

    def __init__(
        self,
        path: Path,
        name: str,
        table: Mapping[str, Any] | None,
        last: Recipe | None,
        answers: Mapping[str, str],
        limits: Limits,
    ) -> None:
        self.path, self.name, self.table, self.limits = path, name, table, limits
        self.last, self.answers = last, answers
        self.fields: list[Namesake] = namesakes(table)
        self.decisions: list[Decision] = []
        self.notices: list[Notice] = []
        self.changes: list[str] = []
        self.facts = SheetFacts("")
        self.system: str | None = None

    # ------------------------------------------------------------------------ deciding

    def decide(self, key: str, choice: Choice, last: str | None = None) -> str:
        """Hear the answer, then last time's choice, then the proposal; give what goes on."""
        values = [option.value for option in choice.options]
        chosen, reason, sure = choice.chosen, choice.reason, choice.confidence
        if last is not None and last in values and last != chosen and not choice.rejects_last:
            chosen, reason, sure = last, f"As last time. {choice.reason}", max(sure, 0.8)
        elif last is not None and last == chosen:
            reason = f"As last time. {choice.reason}"
        if self.answers.get(key) in values:
            chosen = self.answers[key]
        made = Decision(key, choice.question, chosen, reason, round(sure, 2), choice.options)
        self.decisions.append(made)
        return chosen

    def tell(self, code: str, words: str, count: int = 1, places: Sequence[str] = ()) -> None:
        """Tell what was seen."""
        self.notices.append(Notice(code, words, count, tuple(places)))

    # ------------------------------------------------------------------------ the way through

    def proposal(self) -> Proposal:
        is_book = is_workbook(self.path) or self._is_named_workbook()
        kind = "workbook" if is_book else "text"
        if self.last is not None and self.last.kind != kind:
            self.changes.append(f"Last time it was a {self.last.kind}; this is a {kind}.")
            self.last = None
        grid = self._sheet() if is_book else self._text()
        head = list(itertools.islice(grid.rows(), 100))
        heading = self._heading(head)
        after = heading.first + heading.rows - 1
        hidden = self._hidden(after) if is_book else set()
        end, narrow, keeps = self._foot(grid, after, len(heading.labels), hidden)
        profiler = Profiler()
        body = body_of(grid, after=after, end=end, narrow=narrow, hidden=hidden, keeps_blanks=keeps)
        kept: list[Row] = []
        profiler.read(_watched(body, kept), len(heading.labels))
        labels = [*heading.labels, *[""] * (len(profiler.columns) - len(heading.labels))]
        if self.last is not None:
            self.changes += differences([one.label for one in self.last.columns], labels)
        self._columns(labels, profiler.columns)
        self._errors(after, is_book=is_book)
        self._remarks(labels, profiler, is_book=is_book)
        if not profiler.rows:
            self.tell("no rows", "There is no row of data under the headings.")
        frame = {
            "positions": list(range(len(labels))),
            "narrow_cells": narrow,
            "fields": [
                {"name": one.name, "type": one.type, "format": one.format, "words": one.words}
                for one in self.fields
            ],
            "rows": profiler.rows,
        }
        return self._made(kind, labels, frame, head, kept, heading)

    def _made(
        self,
        kind: str,
        labels: list[str],
        frame: dict[str, Any],
        head: list[Row],
        kept: list[Row],
        heading: Heading,
    ) -> Proposal:
        made = Proposal(
            name=self.name,
            sha256=digest_of(self.path),
            kind=kind,
            table=str((self.table or {}).get("name") or self.name.rpartition(".")[0] or self.name),
            decisions=tuple(self.decisions),
            notices=tuple(self.notices),
            changes=tuple(self.changes),
            labels=tuple(labels),
            frame=frame,
            before=tuple(
                (str(number), *[said(cell)[:200] for cell in cells])
                for number, cells in head[:BEFORE]
            ),
            after=(),
            is_canonical=False,
        )
        recipe = recipe_of(made, {}, is_preview=True)
        rows = tuple(tuple(cell[:200] for cell in row) for row in written(kept[:AFTER], recipe))
        shape = {
            **{name: getattr(made, name) for name in made.__slots__},
            "after": (("", *recipe.order), *rows),
            "is_canonical": self._is_canonical(made, recipe, heading),
        }
        return Proposal(**shape)

    def _is_canonical(self, made: Proposal, recipe: Recipe, heading: Heading) -> bool:
        names = tuple(one.name for one in self.fields) or heading.labels
        return (
            made.kind == "text"
            and (recipe.encoding, recipe.delimiter, recipe.quote) == ("utf-8", ",", '"')
            and (recipe.header_first, recipe.header_rows, recipe.end) == (1, 1, "all")
            and recipe.order == made.labels == names
            and not any(one.dates or one.decimal or one.pad for one in recipe.columns)
            and not made.asked
            and not any(one.code == "blank rows" for one in made.notices)
        )

    def _is_named_workbook(self) -> bool:
        ending = self.name.rpartition(".")[2].lower()
        with self.path.open("rb") as file:
            return ending in WORKBOOKS and file.read(2) == b"PK"

    # ------------------------------------------------------------------------ texts

    def _text(self) -> TextGrid:
        last = self.last
        coding = text.coding_of(self.path)
        options = tuple(
            Option(name, text.ENCODINGS[name], note) for name, note in coding.notes.items()
        )
        encoding = self.decide(
            "encoding",
            Choice(
                "In which encoding is the file?",
                coding.chosen,
                coding.reason,
                coding.confidence,
                options,
            ),
            last.encoding if last else None,
        )
        head = text.head_of(self.path, encoding)
        quote, why = text.quote_of(head)
        if fault := self._unpaired(encoding, quote):
            quote, why = "none", f"Quotes do not pair, so they are signs like others. {fault}"
        quotes = tuple(Option(sign, words.capitalize()) for sign, words in QUOTE_WORDS.items())
        quote_choice = Choice("How are cells quoted?", quote, why, 0.9, quotes)
        heard = self.answers.get("quote") or quote
        delimiter = self._delimiter(head, heard)
        quote = self.decide("quote", quote_choice, last.quote if last else None)
        return TextGrid(self.path, encoding, delimiter, quote, self.limits)

    def _unpaired(self, encoding: str, quote: str) -> str:
        """Say where the quotes of the whole file do not pair; what cuts the cells matters not."""
        try:
            for _ in text.rows_of(
                self.path, encoding, self._best(encoding, quote), quote,
                cell_bytes=self.limits.cell_bytes,
            ):  # fmt: skip
                pass
        except Unsound as fault:
            if "quotes" in fault.why:
                return fault.why
            raise
        return ""

    def _best(self, encoding: str, quote: str) -> str:
        return text.cuts_of(text.head_of(self.path, encoding), quote, self._names())[0].delimiter

    def _names(self) -> set[str]:
        return {one.casefold() for field in self.fields for one in (field.name, field.title) if one}

    def _delimiter(self, head: str, quote: str) -> str:
        cuts = text.cuts_of(head, quote, self._names())
        best, second = cuts[0], cuts[1]
        options = tuple(
            Option(
                cut.delimiter,
                DELIMITER_WORDS[cut.delimiter].capitalize(),
                f"{cut.width} columns in {cut.share:.0%} of the first rows"
                if cut.width > 1
                else "It does not part the rows",
            )
            for cut in cuts
        )
        if best.width == 1:
            reason, sure = "There is one column only, so that nothing has to part cells.", 0.6
            best = next(cut for cut in cuts if cut.delimiter == ",")
        else:
            reason = (
                f"It parts {best.share:.0%} of the first rows into {best.width} columns each;"
                f" the next best, the {DELIMITER_WORDS[second.delimiter]}, parts"
                f" {second.share if second.width > 1 else 0:.0%}."
            )
            sure = 0.95 if best.score - second.score > 0.3 else 0.6
        choice = Choice("What stands between the cells?", best.delimiter, reason, sure, options)
        return self.decide("delimiter", choice, self.last.delimiter if self.last else None)

    # ------------------------------------------------------------------------ workbooks

    def _sheet(self) -> SheetGrid:
        book = Book(self.path, self.limits)
        if not book.names:
            raise Unsound("The workbook was not read.", "It has no sheet.", "Send another file.")
        self.system = "serial-1904" if book.facts.is_1904 else "serial-1900"
        rated = []
        notes: dict[str, str] = {}
        for at, name in enumerate(book.names[:_SHEETS]):
            facts = book.sheet(name)
            head = list(itertools.islice(book.rows(name), MOST_ROWS))
            found = headings_of(head, self.fields, facts.merges)
            known = found[0].known if found else 0
            notes[name] = _sheet_note(facts, found[0] if found else None)
            score = (found[0].score if found else -9.0) - (2.0 if facts.is_hidden else 0.0)
            rated.append((score - 0.01 * at, known, name))
        rated.sort(key=lambda one: -one[0])
        _, known, best = rated[0]
        is_alone = len(book.names) == 1
        reason = "It is the only sheet." if is_alone else f"Of {len(book.names)} sheets its "
        if not is_alone:
            reason += (
                f"headings are most like the dictionary’s: {known} are known."
                if known
                else "first rows look most like a table."
            )
        options = tuple(Option(name, name, notes.get(name, "")) for name in book.names)
        last = self.last.sheet if self.last else None
        if last is not None and last not in book.names:
            self.changes.append(f"Last time the sheet was “{last}”; there is none of that name.")
        sure = 1.0 if is_alone else 0.9 if known else 0.6
        sheet = self.decide("sheet", Choice("Which sheet?", best, reason, sure, options), last)
        self.facts = book.sheet(sheet)
        self._tell_sheet(book)
        return SheetGrid(book, sheet)

    def _tell_sheet(self, book: Book) -> None:
        facts = self.facts
        if book.facts.kind == "xls":
            self.tell(
                "old workbook",
                "An older .xls does not tell which rows are hidden, which cells are formulas and"
                " which failed. Save it as .xlsx to have that told.",
            )
        if book.facts.is_1904:
            self.tell("1904", "The workbook counts its days from 1904; they were read so.")
        if facts.is_hidden:
            self.tell("hidden sheet", f"The sheet “{facts.name}” is hidden.")
        if facts.formulas:
            self.tell(
                "formulas",
                f"{several(facts.formulas, 'cell is a formula', 'cells are formulas')}"
                "; the value that was kept with each is"
                " taken, and the formula stays in the original.",
                facts.formulas,
                facts.formula_places,
            )
        if facts.unkept:
            self.tell(
                "formula without value",
                f"{several(facts.unkept, 'formula has', 'formulas have')}"
                " no kept value and reads as blank."
                " Open the workbook where it was made, save it, and send it again.",
                facts.unkept,
                facts.unkept_places,
            )
        if facts.hidden_columns:
            first = [place(1, column)[:-1] for column in sorted(facts.hidden_columns)[:5]]
            self.tell(
                "hidden columns",
                f"{several(len(facts.hidden_columns), 'column is', 'columns are')}"
                " hidden and read like the others;"
                " each can be left out below.",
                len(facts.hidden_columns),
                first,
            )
        if facts.merges:
            self.tell(
                "merged cells",
                f"{several(len(facts.merges), 'group of cells is', 'groups of cells are')}"
                " merged; below the headings only the"
                " first cell of a group holds its value.",
                len(facts.merges),
                [f"{place(one[0], one[1])}:{place(one[2], one[3])}" for one in facts.merges[:5]],
            )

    def _hidden(self, after: int) -> set[int]:
        hidden = {row for row in self.facts.hidden_rows if row > after}
        hidden = {row for row in hidden if row <= self.facts.last_row}
        if not hidden:
            return set()
        shown = ", ".join(str(row) for row in sorted(hidden)[:8])
        self.tell(
            "hidden rows",
            f"{several(len(hidden), 'row is', 'rows are')} hidden: {shown}.",
            len(hidden),
        )
        options = (
            Option("keep", "Keep them: they are data like the others"),
            Option("leave out", "Leave them out"),
        )
        reason = (
            f"{several(len(hidden), 'row is', 'rows are')}"
            f" hidden (row {shown}). A filter hides good rows, a person"
            " hides bad ones; the workbook does not say which."
        )
        choice = Choice("What of the hidden rows?", "", reason, 0.0, options)
        chosen = self.decide("hidden_rows", choice, self.last.hidden_rows if self.last else None)
        return hidden if chosen == "leave out" else set()

    def _errors(self, after: int, *, is_book: bool) -> None:
        failed = {where: words for where, words in self.facts.errors.items() if where[0] > after}
        if not is_book or not failed:
            return
        places = [f"{place(*where)}: {words}" for where, words in sorted(failed.items())[:5]]
        self.tell(
            "failed formulas",
            f"In {several(len(failed), 'cell')} a formula failed.",
            len(failed),
            places,
        )
        options = (
            Option("blank", "Leave them blank, as not measured"),
            Option("keep", "Keep the words, such as #N/A, for the check to find"),
        )
        reason = f"{'; '.join(places)}. What was wrong in the sheet is not a value."
        choice = Choice("What of cells in which a formula failed?", "blank", reason, 0.7, options)
        self.decide("errors", choice, self.last.errors if self.last else None)

    # ------------------------------------------------------------------------ the table

    def _heading(self, head: list[Row]) -> Heading:
        found = headings_of(head, self.fields, self.facts.merges)
        if not found:
            raise Unsound(
                "The file was not read.",
                "There is no row that could hold headings in it.",
                "See that the right file was sent, and that it is not empty.",
            )
        best = found[0]
        last = _last_heading(self.last, head, self.facts.merges) if self.last else None
        options = {best.value: best} | {one.value: one for one in found[:7]}
        asked = self.answers.get("header")
        for one in found:
            if last is not None and one.value == last:
                options[last] = one
            if asked == one.value:
                options[asked] = one
        above = best.first - 1
        reason = (
            f"{best.known} of its headings are in the dictionary."
            if self.fields
            else ("It is full of words and stands above the rows.")
        )
        if above:
            reason += f" {above} {'row stands' if above == 1 else 'rows stand'} above it."
        if best.rows > 1:
            reason += f" {best.rows} rows are joined, since headings stand in all of them."
        choice = Choice(
            "Where are the headings?",
            best.value,
            reason,
            0.95 if best.known > 1 else 0.7,
            tuple(
                Option(value, f"Row {value}", ", ".join(one.labels)[:120])
                for value, one in options.items()
            ),
        )
        return options[self.decide("header", choice, last)]

    def _foot(self, grid: Grid, after: int, width: int, hidden: set[int]) -> tuple[str, int, bool]:
        foot = foot_of(grid, after, width, hidden)
        last, narrow = self.last, foot.narrow_cells
        end = "all"
        if foot.count or (last is not None and last.end != "all"):
            end = self._end(foot, last.end if last else None)
        blanks = "leave out"
        if foot.blanks:
            options = (
                Option("leave out", "Leave them out"),
                Option("keep", "Keep them, for the check to find"),
            )
            reason = (
                f"{several(foot.blanks, 'row inside the table is', 'rows inside the table are')}"
                " blank."
            )
            choice = Choice("What of blank rows?", "leave out", reason, 0.9, options)
            blanks = self.decide("blanks", choice, last.blanks if last else None)
        if foot.blanks or foot.trailing:
            count = foot.blanks + foot.trailing
            words = (
                f"{several(foot.blanks, 'blank row')} inside the table, {foot.trailing:,} under it."
            )
            self.tell("blank rows", words, count)
        return end, narrow, blanks == "keep"

    def _end(self, foot: Foot, last: str | None) -> str:
        shown = "; ".join(f"row {row}: {words[:60]}" for row, words in foot.notes)
        options = (
            Option("blank", "Before the first blank row"),
            Option("narrow", "Before the notes at the foot of the file"),
            Option("all", "At the last row: there are no notes"),
        )
        chosen, sure = foot.end, 0.9 if foot.is_parted else 0.6
        words = foot.notes[0][1] if foot.notes else ""
        if foot.count and not foot.is_parted and " " not in words.strip():
            # One short value alone may as well be a row that was hardly filled in.
            chosen, sure = "", 0.0
        reason = "Nothing stands under the table this time."
        if foot.count:
            counted = several(foot.count, "row that looks like a note", "rows that look like notes")
            reason = f"Under it: {counted}, {shown}"
            self.tell("notes", reason, foot.count, [f"row {row}" for row, _ in foot.notes])
        choice = Choice("Where does the table end?", chosen, reason, sure, options)
        return self.decide("end", choice, last) or "all"

    # ------------------------------------------------------------------------ the columns

    def _columns(self, labels: list[str], columns: list[Column]) -> None:
        matches = matches_of(labels, columns, self.fields)
        by_name = {one.name: one for one in self.fields}
        made: set[str] = set()
        for at, (label, column) in enumerate(zip(labels, columns, strict=True)):
            rule = self._last_rule(label, at)
            choice = column_choice(label, at, column, self.fields, matches.get(at))
            chosen = self.decide(f"column:{at}", choice, _last_column(rule, self.fields))
            field = by_name.get(chosen.removeprefix(FIELD)) if chosen.startswith(FIELD) else None
            if chosen == LEAVE:
                continue
            made.add(field.name if field else label)
            self._reading(label, at, column, field, rule)
        for at, one in enumerate(self.fields):
            if one.name not in made:
                self._absent(at, one)

    def _last_rule(self, label: str, at: int) -> ColumnRule | None:
        rules = self.last.columns if self.last else ()
        same = [rule for rule in rules if rule.label == label]
        if len(same) == 1 and label:
            return same[0]
        return next((rule for rule in same if rule.position == at), None)

    def _reading(
        self, label: str, at: int, column: Column, field: Namesake | None, rule: ColumnRule | None
    ) -> None:
        kind = field.type if field else _kind_by_content(column)
        form = field.format if field else "default"
        if kind in {"date", "datetime", "any"}:
            choice = dates_choice(label, column, kind, form, system=self.system)
            if choice is not None:
                self.decide(f"dates:{at}", choice, (rule.dates or "as it stands") if rule else None)
        is_number = kind in {"number", "integer"} and not (field and field.is_comma_decimal)
        decimal = decimal_choice(label, column, is_number=is_number)
        if decimal is not None:
            last = (rule.decimal or "as it stands") if rule else None
            self.decide(f"decimal:{at}", decimal, last)
        pad = pad_choice(label, column, field.digits if field else 0)
        if pad is not None:
            last = str(rule.pad or "as it stands") if rule else None
            self.decide(f"pad:{at}", pad, last)

    def _absent(self, at: int, field: Namesake) -> None:
        options = (
            Option("write empty", "Write it as an empty column"),
            Option("leave out", "Leave it out; the check will say that it is missing"),
        )
        chosen = "leave out" if field.is_required else "write empty"
        need = "is required" if field.is_required else "may be empty"
        reason = f"No column of the file is it. By the dictionary it {need}."
        question = f"What of {field.name}, which the dictionary has and the file has not?"
        last = None
        if self.last is not None:
            last = "write empty" if field.name in self.last.order else "leave out"
        self.decide(f"absent:{at}", Choice(question, chosen, reason, 0.5, options), last)

    # ------------------------------------------------------------------------ what is told

    def _remarks(self, labels: list[str], profiler: Profiler, *, is_book: bool) -> None:
        by_name = {one.name: one for one in self.fields}
        if profiler.short and not is_book:
            words = (
                f"{several(profiler.short, 'row has', 'rows have')}"
                " fewer cells than there are headings."
            )
            self.tell("short rows", words, profiler.short)
        twins = {fold(label) for label in labels if label and labels.count(label) > 1}
        if twins:
            words = f"Headings that come more than once: {', '.join(sorted(twins))}."
            self.tell("twin headings", words, len(twins))
        for at, (label, column) in enumerate(zip(labels, profiler.columns, strict=True)):
            chosen = next((one.chosen for one in self.decisions if one.key == f"column:{at}"), OWN)
            field = by_name.get(chosen.removeprefix(FIELD))
            self._remarks_on(label, column, field, is_book=is_book)

    def _remarks_on(
        self, label: str, column: Column, field: Namesake | None, *, is_book: bool
    ) -> None:
        kind = field.type if field else _kind_by_content(column)
        forms = [
            said_so
            for kinds, said_so in (
                (DAYS, "numbers parted by signs"),
                (("iso", "iso time"), "year-month-day"),
                (("date", "moment"), "a workbook’s own dates"),
                (("whole", "integer"), "plain numbers"),
            )
            if column.count(kinds)
        ]
        if kind in {"date", "datetime"} and len(forms) > 1:
            self.tell(
                "mixed dates",
                f"“{label}” has dates written in {len(forms)} ways: {'; '.join(forms)}.",
                column.count(DAYS),
                column.places("day first", "month first", "either", "whole"),
            )
        if kind in {"date", "datetime"} and column.kinds["text"]:
            words = (
                f"“{label}” has {several(column.kinds['text'], 'cell that is', 'cells that are')}"
                " no date."
            )
            self.tell("no date", words, column.kinds["text"], column.places("text"))
        if is_book and kind in {"number", "integer"} and column.text_numbers:
            self.tell(
                "numbers as text",
                f"“{label}” has {several(column.text_numbers, 'number')}"
                " kept as text by the workbook;"
                " read as numbers here.",
                column.text_numbers,
                column.places(*NUMERIC, *COMMAS),
            )
        if is_book and field and kind == "string" and column.count(("whole", "number")):
            count = column.count(("whole", "number"))
            self.tell(
                "text as numbers",
                f"“{label}” has {several(count, 'number')}"
                " where the dictionary has text. Zeros at the"
                " front, if there were any, are lost.",
                count,
                column.places("whole", "number"),
            )
        if is_book and column.kinds["date"]:
            early = [text for _, text in column.examples.get("date", ()) if text < "1900-03-01"]
            if early and self.system == "serial-1900":
                self.tell(
                    "early dates",
                    f"“{label}” has dates before March 1900, such as {early[0]}. Workbooks count a"
                    " 29 February 1900 that never was, so that they may be a day off.",
                    len(early),
                )


def _watched(rows: Any, kept: list[Row]) -> Any:
    """Hand rows on, keeping the first of them."""
    for row in rows:
        if len(kept) < AFTER:
            kept.append(row)
        yield row


def _sheet_note(facts: SheetFacts, heading: Heading | None) -> str:
    parts = []
    if facts.is_hidden:
        parts.append("hidden")
    if heading is None:
        parts.append("empty")
    else:
        parts.append(", ".join(label for label in heading.labels if label)[:100])
    return "; ".join(parts)


def _last_heading(last: Recipe, head: list[Row], merges: Any) -> str | None:
    """Give where the headings of last time stand now, if they do."""
    wanted = [rule.label for rule in last.columns]
    while wanted and not wanted[-1]:
        wanted.pop()
    for number, _ in sorted(head, key=lambda row: abs(row[0] - last.header_first)):
        rows = [row for row in head if number <= row[0] < number + last.header_rows]
        if list(labels_at(rows, merges)) == wanted:
            end = number + last.header_rows - 1
            return str(number) if last.header_rows == 1 else f"{number}-{end}"
    return None


def _last_column(rule: ColumnRule | None, fields: Sequence[Namesake]) -> str | None:
    if rule is None:
        return None
    if not rule.name:
        return LEAVE
    is_field = any(field.name == rule.name for field in fields)
    return f"{FIELD}{rule.name}" if is_field else OWN


def _kind_by_content(column: Column) -> str:
    """Say of which type a column without a field looks, where most of its cells agree."""
    filled = column.filled - column.kinds["missing"] - column.kinds["error"]
    if filled <= 0:
        return "any"
    if (column.count(NUMERIC) + column.count(COMMAS)) * 10 >= filled * 9:
        return "number"
    return "any" if column.count(DAYS) * 2 >= filled else "string"
