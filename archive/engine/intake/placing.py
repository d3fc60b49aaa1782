"""Proposes where the table stands: its headings, its end, and which rows inside are no data."""

from collections.abc import Sequence

from archive.engine.intake.decisions import Choice, Option, several
from archive.engine.intake.desk import Desk
from archive.engine.intake.extent import Extent, Foot, foot_of, words_of
from archive.engine.intake.grid import Grid, SheetGrid
from archive.engine.intake.headings import Heading, headings_of, labels_at
from archive.engine.intake.recipe import Recipe
from registry.errors import Unsound
from registry.guarded.book import Row
from registry.guarded.workbook import Merge, SheetFacts, place

NONE = "none"
_LEAVE, _KEEP = "leave out", "keep"
_BARE = Heading(1, 0, (), 0, 0.0)


def heading_in(desk: Desk, head: Sequence[Row], merges: Sequence[Merge]) -> Heading:
    """Propose where the headings stand."""
    found = headings_of(head, desk.fields, merges)
    if not found:
        raise Unsound(
            "The file was not read.",
            "There is no row that could hold headings in it.",
            "See that the right file was sent, and that it is not empty.",
        )
    best = found[0]
    last = _last_heading(desk.last, head, merges) if desk.last else None
    options = {best.value: best} | {one.value: one for one in found[:7]}
    asked = desk.answers.get("header")
    options |= {one.value: one for one in found if one.value in {last, asked}}
    is_doubtful = not best.known and best.numeric > 0
    choice = Choice(
        "Where are the headings?",
        "" if is_doubtful else best.value,
        _reason(desk, best, is_doubtful=is_doubtful),
        0.0 if is_doubtful else 0.95 if best.known > 1 else 0.7,
        (
            *(
                Option(value, _named(one), ", ".join(one.labels)[:120])
                for value, one in options.items()
            ),
            Option(NONE, "There are none", "The first row is data"),
        ),
    )
    chosen = desk.decide("header", choice, last)
    return _BARE if chosen == NONE else options.get(chosen, best)


def _named(heading: Heading) -> str:
    last = heading.first + heading.rows - 1
    return f"Row {heading.first}" if heading.rows == 1 else f"Rows {heading.first} to {last}"


def _reason(desk: Desk, best: Heading, *, is_doubtful: bool) -> str:
    if is_doubtful:
        return (
            f"No row looks like headings. In row {best.first}, which is most like some, stand"
            f" {', '.join(f'“{label[:30]}”' for label in best.labels[:4])}."
        )
    reason = "It is full of words and stands above the rows."
    if desk.fields:
        reason = f"{best.known} of its headings are in the dictionary."
    if best.first > 1:
        above = best.first - 1
        reason += f" {above} {'row stands' if above == 1 else 'rows stand'} above it."
    if best.rows > 1:
        reason += f" {best.rows} rows are joined, since headings stand in all of them."
    return reason


def _last_heading(last: Recipe, head: Sequence[Row], merges: Sequence[Merge]) -> str | None:
    """Give where the headings of last time stand now, if they do."""
    if not last.header_rows:
        return NONE
    wanted = [rule.label for rule in last.columns]
    while wanted and not wanted[-1]:
        wanted.pop()
    for number, _ in sorted(head, key=lambda row: abs(row[0] - last.header_first)):
        rows = [row for row in head if number <= row[0] < number + last.header_rows]
        if list(labels_at(rows, merges)) == wanted:
            end = number + last.header_rows - 1
            return str(number) if last.header_rows == 1 else f"{number}-{end}"
    return None


def extent_of(desk: Desk, grid: Grid, heading: Heading, head: Sequence[Row]) -> Extent:
    """Propose which rows under the headings are the table's."""
    after = heading.first + heading.rows - 1
    hidden = _hidden(desk, grid, after) if isinstance(grid, SheetGrid) else frozenset()
    rows = [words_of(cells) for number, cells in head if heading.first <= number <= after]
    extent = Extent(after, hidden=hidden, headings=tuple(rows))
    foot = foot_of(grid, extent, len(heading.labels))
    last = desk.last
    end = "all"
    if foot.count or (last is not None and last.end != "all"):
        end = _end(desk, foot, last.end if last else None)
    blanks = _blanks(desk, foot)
    repeats = _repeats(desk, foot)
    sums = _sums(desk, foot)
    return Extent(
        after,
        end,
        foot.narrow_cells,
        hidden,
        keeps_blanks=blanks == _KEEP,
        headings=tuple(rows) if repeats == _LEAVE else (),
        drops_sums=sums == _LEAVE,
    )


def _hidden(desk: Desk, grid: SheetGrid, after: int) -> frozenset[int]:
    facts = grid.book.sheet(grid.name)
    hidden = frozenset(row for row in facts.hidden_rows if after < row <= facts.last_row)
    if not hidden:
        return hidden
    shown = ", ".join(str(row) for row in sorted(hidden)[:8])
    counted = several(len(hidden), "row is", "rows are")
    desk.tell("hidden rows", f"{counted} hidden: {shown}.", len(hidden))
    options = (
        Option(_KEEP, "Keep them: they are data like the others"),
        Option(_LEAVE, "Leave them out"),
    )
    reason = (
        f"{counted} hidden (row {shown}). A filter hides good rows, a person hides bad ones; the"
        " workbook does not say which."
    )
    choice = Choice("What of the hidden rows?", "", reason, 0.0, options)
    chosen = desk.decide("hidden_rows", choice, desk.last.hidden_rows if desk.last else None)
    return hidden if chosen == _LEAVE else frozenset()


def _end(desk: Desk, foot: Foot, last: str | None) -> str:
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
        desk.tell("notes", reason, foot.count)
    choice = Choice("Where does the table end?", chosen, reason, sure, options)
    return desk.decide("end", choice, last) or "all"


def _blanks(desk: Desk, foot: Foot) -> str:
    chosen = _LEAVE
    inside = several(foot.blanks, "row inside the table is", "rows inside the table are")
    if foot.blanks:
        options = (Option(_LEAVE, "Leave them out"), Option(_KEEP, "Keep them, for the check"))
        choice = Choice("What of blank rows?", _LEAVE, f"{inside} blank.", 0.9, options)
        chosen = desk.decide("blanks", choice, desk.last.blanks if desk.last else None)
    if foot.blanks or foot.trailing:
        under = several(foot.trailing, "row under the table is", "rows under the table are")
        told = [
            f"{words} blank"
            for words, count in ((inside, foot.blanks), (under, foot.trailing))
            if count
        ]
        desk.tell("blank rows", f"{', and '.join(told)}.", foot.blanks + foot.trailing)
    return chosen


def _repeats(desk: Desk, foot: Foot) -> str:
    seen = foot.repeats
    if not seen.count:
        return _KEEP
    counted = several(seen.count, "row is", "rows are")
    reason = f"{counted} the headings again: {seen.shown}."
    desk.tell("headings again", reason, seen.count, [f"row {row}" for row, _ in seen.first])
    options = (Option(_LEAVE, "Leave them out"), Option(_KEEP, "Keep them, for the check"))
    choice = Choice("What of headings that come again?", _LEAVE, reason, 0.9, options)
    return desk.decide("repeats", choice, desk.last.repeats if desk.last else None)


def _sums(desk: Desk, foot: Foot) -> str:
    seen = foot.sums
    if not seen.count:
        return _KEEP
    counted = several(seen.count, "row looks like totals", "rows look like totals")
    reason = f"{counted} or averages: {seen.shown}. They are reckoned, not observed."
    desk.tell("totals", reason, seen.count, [f"row {row}" for row, _ in seen.first])
    options = (Option(_LEAVE, "Leave them out"), Option(_KEEP, "Keep them: they are data"))
    chosen, sure = (_LEAVE, 0.75) if foot.are_sums_last else ("", 0.0)
    choice = Choice("What of rows with totals?", chosen, reason, sure, options)
    return desk.decide("sums", choice, desk.last.sums if desk.last else None)


def merged(desk: Desk, grid: SheetGrid, after: int) -> SheetGrid:
    """Propose what a merged cell counts for, and give the sheet as it is read then."""
    facts: SheetFacts = grid.book.sheet(grid.name)
    if facts.merges:
        counted = several(len(facts.merges), "group of cells is", "groups of cells are")
        shown = [f"{place(one[0], one[1])}:{place(one[2], one[3])}" for one in facts.merges[:5]]
        desk.tell("merged cells", f"{counted} merged.", len(facts.merges), shown)
    under = facts.merges_under(after)
    if not under:
        return grid
    shown = [f"{place(one[0], one[1])}:{place(one[2], one[3])}" for one in sorted(under)[:3]]
    counted = several(len(under), "merged cell covers", "merged cells cover")
    options = (
        Option("fill", "It counts for each row that it covers"),
        Option("first", "It counts for the first row; the others are blank"),
    )
    reason = f"{counted} more than one row of the table: {', '.join(shown)}."
    choice = Choice("What of merged cells in the table?", "fill", reason, 0.75, options)
    chosen = desk.decide("merges", choice, desk.last.merges if desk.last else None)
    return SheetGrid(grid.book, grid.name, after) if chosen == "fill" else grid


def failed(desk: Desk, grid: SheetGrid, after: int) -> None:
    """Propose what becomes of cells in which a formula failed."""
    count, places = grid.book.sheet(grid.name).errors.under(after)
    if not count:
        return
    words = f"In {several(count, 'cell')} a formula failed."
    desk.tell("failed formulas", words, count, places)
    options = (
        Option("blank", "Leave them blank, as not measured"),
        Option(_KEEP, "Keep the words, such as #N/A, for the check to find"),
    )
    reason = f"{'; '.join(places)}. What was wrong in the sheet is not a value."
    choice = Choice("What of cells in which a formula failed?", "blank", reason, 0.7, options)
    desk.decide("errors", choice, desk.last.errors if desk.last else None)
