"""The table of codes: what each finding is called, what it asks for, and its remedy in plain words.

Codes of tables and descriptors that frictionless has keep its names; the others are our own.

References
----------
The standard's own words for tables, keys and constraints: Data Package 2.0 (datapackage.org).
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from archive.engine.findings import Finding, Group, shorten


class Place(NamedTuple):
    """Where a finding stands, for the wording of its remedy; with `is_many`, of several alike."""

    table: str
    row: int | None
    field: str
    value: str
    is_many: bool = False


@dataclass(frozen=True, slots=True)
class Code:
    """One row of the table of codes."""

    name: str
    group: Group
    title: str
    remedy: Callable[[Place], str]
    is_standard: bool = False


def _cell(at: Place) -> str:
    column = f"column “{at.field}”" if at.field else "that column"
    if at.is_many and at.row:
        return f"these rows of {column}"
    return f"row {at.row}, {column}" if at.row else column


def _column(at: Place) -> str:
    return f"column “{at.field}”" if at.field else "the column"


def _row(at: Place) -> str:
    return "each of these rows" if at.is_many else f"row {at.row}"


def _say(text: str) -> Callable[[Place], str]:
    return lambda at: text


_DESCRIBE = (
    "Open datapackage.json, put the named part right, and upload again. If you did not write it"
    " yourself, take the descriptor that the study's dictionary page gives."
)
_PATH = (
    "Give the path of a file inside the package, such as “data/egg-strings.csv”, and put the file"
    " there."
)
_RENAME = (
    "Rename the file with letters a to z, digits, dot, hyphen and underscore only, and use the new"
    " name in datapackage.json."
)
_SAVE = "Save the table again as “CSV UTF-8” and upload the new file."
_KEEP = (
    "Do not delete or change the row: the data say what happened. The lead supervisor will be asked"
    " to explain it."
)


def _explain(advice: str) -> Callable[[Place], str]:
    return lambda at: (
        f"{advice} If the row is a slip of the pen, correct it from your notes and submit again."
        f" If it is true: {_KEEP[0].lower()}{_KEEP[1:]}"
    )


_STANDARD = [
    # cells
    (
        "type-error",
        "A value of the wrong kind",
        lambda at: (
            f"Correct {_cell(at)} from your notes; leave the cell empty where nothing was measured."
            " Numbers take a point for decimals and no unit; dates are written 2026-05-31."
        ),
    ),
    (
        "constraint-error",
        "A value outside what the dictionary allows",
        lambda at: (
            f"Look up {_cell(at)} in your notes and correct it. If the value is right, ask your"
            " supervisor whether the dictionary's limit is wrong."
            if at.value
            else f"Look up {_cell(at)} in your notes and fill it in: it may not be empty. If"
            " nothing was noted, ask your supervisor what is to stand there."
        ),
    ),
    (
        "unique-error",
        "A value used twice",
        lambda at: (
            f"Each value of column “{at.field}” may stand once. See which of the two rows is wrong,"
            " and correct it."
        ),
    ),
    (
        "extra-cell",
        "More cells than columns",
        lambda at: (
            f"Take the surplus cell out of {_row(at)}. A comma inside a text needs quotation"
            ' marks around the text: "pebble, large".'
        ),
    ),
    (
        "missing-cell",
        "Fewer cells than columns",
        lambda at: (
            f"Add the missing separators to {_row(at)}, so that it has as many cells as the"
            " header; an empty cell is fine where nothing was measured."
        ),
    ),
    # rows
    (
        "blank-row",
        "An empty row",
        lambda at: "Delete the empty rows." if at.is_many else f"Delete the empty row {at.row}.",
    ),
    (
        "primary-key",
        "Two rows with the same key, or a row without one",
        lambda at: (
            f"Give {_row(at)} a key of its own. If it was entered twice, take one of the two out."
        ),
    ),
    (
        "foreign-key",
        "A name that the other table does not have",
        lambda at: (
            f"Correct the name in {_row(at)}, or add the missing row to the table it points to."
        ),
    ),
    # header
    (
        "blank-label",
        "A column without a name",
        lambda at: (
            f"Write “{at.field}” into the empty cell of the header."
            if at.field
            else "Give the column its name in the header, or take the empty column out."
        ),
    ),
    (
        "blank-header",
        "No header",
        _say("Write the names of the columns into the first row of the file."),
    ),
    (
        "duplicate-label",
        "Two columns with the same name",
        _say("Give each column its own name, as the dictionary has it."),
    ),
    (
        "extra-label",
        "A column that the dictionary does not have",
        lambda at: (
            "Take these columns out, or ask your supervisor to add them to the dictionary."
            if at.is_many
            else "Take the column without a name out, or give it its name in the header."
            if not at.value
            else f"Take column “{at.value}” out, or ask your supervisor to add it to the"
            " dictionary."
        ),
    ),
    (
        "missing-label",
        "A column is missing",
        lambda at: (
            f"Add column “{at.field}” to the file, spelt just so. If nothing was measured, add it"
            " with empty cells."
        ),
    ),
    (
        "incorrect-label",
        "A column with another name than the dictionary's",
        lambda at: (
            "Rename the columns as the dictionary has them, or put them in its order."
            if at.is_many
            else f"Rename the column to “{at.field}”, or put the columns in the dictionary's order."
        ),
    ),
    (
        "unmatched-header",
        "No column that the dictionary knows",
        _say("See that this is the right file, and that its first row holds the column names."),
    ),
    # files
    (
        "hash-count",
        "The file is not the one described",
        _say("The file changed after it was described. Upload it again with its new digest."),
    ),
    (
        "byte-count",
        "The file has another size than described",
        _say("Correct “bytes” in datapackage.json, or upload the file again: it may be cut short."),
    ),
    (
        "row-count",
        "Another number of rows than described",
        _say("Correct “rows” in datapackage.json, or upload the file again: it may be cut short."),
    ),
    (
        "field-count",
        "Another number of columns than described",
        _say("Correct “fields” in datapackage.json, or add the columns that are missing."),
    ),
    (
        "source-error",
        "The table cannot be read",
        _say(f"See that the file holds a header and rows separated by commas. {_SAVE}"),
    ),
    (
        "scheme-error",
        "The file is not there",
        lambda at: f"Put the file into the package, or correct its path. {_PATH}",
    ),
    (
        "format-error",
        "A kind of file that is not read as a table",
        _say("Save the table as CSV (comma separated, UTF-8) and upload that."),
    ),
    ("encoding-error", "The file is not in UTF-8", _say(_SAVE)),
    (
        "compression-error",
        "The file is compressed",
        _say("Put the table into the package as a plain CSV file, without compressing it."),
    ),
    # descriptor
    ("package-error", "The description of the package is not sound", _say(_DESCRIBE)),
    ("resource-error", "The description of a file is not sound", _say(_DESCRIBE)),
    ("schema-error", "The description of a table is not sound", _say(_DESCRIBE)),
    ("field-error", "The description of a column is not sound", _say(_DESCRIBE)),
    ("dialect-error", "The description of the file's layout is not sound", _say(_DESCRIBE)),
    ("control-error", "The description of the file's layout is not sound", _say(_DESCRIBE)),
    ("metadata-error", "The descriptor is not sound", _say(_DESCRIBE)),
    ("error", "The descriptor is not sound", _say(_DESCRIBE)),
]

_OURS = [
    # the descriptor
    (
        "descriptor-unreadable",
        "The descriptor cannot be read",
        _say(
            "datapackage.json must be one JSON object in UTF-8. Take the descriptor that the"
            " study's dictionary page gives, and put it beside the tables."
        ),
    ),
    (
        "descriptor-too-large",
        "The descriptor is over the limit",
        _say("Keep data out of datapackage.json: it describes the tables and holds none."),
    ),
    ("duplicate-property", "A property that is written twice", _say(_DESCRIBE)),
    (
        "duplicate-name",
        "Two files with the same name",
        _say("Give each entry under “resources” in datapackage.json a name of its own."),
    ),
    (
        "duplicate-path",
        "The same file described twice",
        _say("Describe each file once in datapackage.json."),
    ),
    ("case-twin", "Two file names that differ only in capitals", _say(_RENAME)),
    ("file-name", "A file name with signs that are not allowed", _say(_RENAME)),
    ("remote-path", "An address instead of a file", _say(_PATH)),
    ("unsafe-path", "A path that leaves the package", _say(_PATH)),
    (
        "hidden-path",
        "A hidden file or folder",
        _say("Names that begin with a dot are hidden. Rename the file or folder without it."),
    ),
    (
        "not-inline",
        "A description that stands elsewhere",
        _say(
            "Write the schema and the dialect into datapackage.json itself, not as a path to"
            " another file."
        ),
    ),
    (
        "no-file",
        "An entry without a file of its own",
        _say(f"Data stand in one plain file for each table. {_PATH}"),
    ),
    (
        "no-schema",
        "A table that nobody described",
        _say(
            "Describe the table's columns under “schema” in datapackage.json. Types are never"
            " guessed."
        ),
    ),
    ("not-utf-8", "An encoding other than UTF-8", _say(f"{_SAVE} Then declare “utf-8”.")),
    ("unknown-profile", "A profile that is not known here", _say(_DESCRIBE)),
    ("schema-unsound", "A part of the table's description is not sound", _say(_DESCRIBE)),
    (
        "missing-table",
        "A table of the dictionary is missing",
        lambda at: f"Add the table “{at.table}” to the package and describe it.",
    ),
    (
        "schema-differs",
        "Not what the dictionary says",
        _say(
            "Take the schema from the study's dictionary page as it stands. Where the dictionary"
            " is wrong, ask your supervisor to publish a new one."
        ),
    ),
    # the file
    (
        "unclosed-quote",
        "A quotation mark that is never closed",
        lambda at: (
            f"Find the quotation mark in row {at.row} that opens and does not close, and close or"
            " remove it. A quotation mark inside a text is written twice."
        ),
    ),
    (
        "stray-quote",
        "A quotation mark in the wrong place",
        lambda at: (
            f"In {_row(at)}, put quotation marks around the whole cell or take them out; one"
            " inside a text is written twice."
        ),
    ),
    (
        "nul-character",
        "A character that no text has",
        _say(f"The file is damaged or not a text. {_SAVE}"),
    ),
    (
        "cell-too-large",
        "A cell over the limit",
        _say("Shorten the cell, or put its content into a file of its own."),
    ),
    (
        "table-too-large",
        "A table over the limit",
        _say("Split the table, for example by month, or ask the data steward."),
    ),
    (
        "package-too-large",
        "A package over the limit",
        _say("Leave out what is not part of the data, or split the package."),
    ),
    # rows and cells
    (
        "unique-keys",
        "Two rows that may not be alike",
        lambda at: (
            f"{_row(at).capitalize()} has the same {at.field} as an earlier row. Correct the wrong"
            " one, or take it out if it was entered twice."
        ),
    ),
    (
        "null-in-key",
        "A key with an empty part",
        lambda at: f"Fill in column “{at.field}” of {_row(at)}: it is part of the row's key.",
    ),
    (
        "category-error",
        "A code that is not on the list",
        lambda at: (
            f"Write one of the dictionary's codes into {_cell(at)}. If a code is missing from the"
            " list, ask your supervisor to add it to the dictionary."
        ),
    ),
    (
        "not-checked",
        "Not checked to the end",
        _say(
            "The check could not finish, so nothing was accepted. Put the other findings right and"
            " submit again; if it stops once more, tell the data steward."
        ),
    ),
]

_REGISTER = [
    (
        "not-enrolled",
        "An animal or group that was not enrolled that day",
        _explain("Compare the code and the day with the project's enrolments."),
    ),
    (
        "outside-approval",
        "A day without a live permission",
        _explain("Compare the day with the project's permissions."),
    ),
    (
        "under-restriction",
        "An animal that was to be left alone",
        _explain("Compare the day with the restrictions on the animal's page."),
    ),
    (
        "unknown-place",
        "A place that does not exist",
        _explain("Compare the code with the list of enclosures."),
    ),
    (
        "place-not-booked",
        "A place outside the project's booking",
        _explain("Compare the place with the project's booking."),
    ),
    (
        "unknown-observer",
        "An observer who is not a member",
        _explain("Compare the code with the project's observers."),
    ),
    (
        "unknown-session",
        "A session that is not on record",
        _explain("Compare the code with the project's sessions; record the session if it is not."),
    ),
    (
        "outside-session",
        "A day on which the session was not held",
        _explain("Compare the day with the session's page."),
    ),
]

_UNUSUAL = [
    (
        "rows-vanished",
        "A row of the last draft is gone",
        _say(
            "Nothing needs doing if the row was a mistake. The accepter and the auditor see this"
            " list, so say in the deposit's note why it went."
        ),
    ),
    (
        "planned-numbers",
        "Not as many as planned",
        _say("Read it against the plan. If the plan changed, say so in the answer."),
    ),
    (
        "no-rows",
        "A table without a row",
        _say(
            "If nothing was there to be noted, leave it so. Else save the table again with its rows"
            " and upload the new file."
        ),
    ),
    (
        "unusual-value",
        "A value far from the others",
        lambda at: f"Look up {_cell(at)} in your notes. If it is right, leave it as it is.",
    ),
    (
        "unlikely-value",
        "A value that is not likely",
        lambda at: (
            f"Look up {_cell(at)} in your notes, and its unit in the dictionary. If it is right,"
            " leave it as it is."
        ),
    ),
    (
        "personal-data",
        "Something that tells of a person",
        lambda at: (
            f"Put the person's code in its place in {_column(at)}, or leave it out: who a code"
            " stands for is kept by the register, apart from the data. If it must stay, say why in"
            " the deposit's note, and have access restricted."
        ),
    ),
    (
        "personal-column",
        "A column about persons",
        lambda at: (
            f"See whether {_column(at)} is needed. Put codes in it, as the project's members have"
            " them, or leave it out and ask your supervisor to take it out of the dictionary."
        ),
    ),
    (
        "exact-place",
        "Places told exactly",
        lambda at: (
            f"Where the animals are kept, leave {_column(at)} as it is. Where they live free and"
            " their kind is threatened, round it to 0.1 or 0.01 degree, and have the dictionary say"
            " how far under “x:generalised”."
        ),
    ),
    (
        "later-code",
        "A behaviour before it was in the ethogram",
        lambda at: (
            f"Compare the day and the code in row {at.row} with your notes. If the rows were coded"
            " anew, say so in the deposit's note."
        ),
    ),
    (
        "untested-observer",
        "An observer who had not passed the test that day",
        _say(
            "Compare the code and the day with your notes. If they are right, let the observer sit"
            " the test, and have the lead supervisor record it on the page of its analysis; then"
            " have the deposit checked again. What was coded before a test is not blessed by it:"
            " such rows are coded anew, or deposited by a dictionary that asks for no test."
        ),
    ),
    (
        "exclusive-states",
        "Two behaviours that exclude one another",
        lambda at: (
            f"Compare row {at.row} and the one that it names with your notes or the recording. If"
            " both are right, ask your supervisor to change the ethogram."
        ),
    ),
    (
        "uneven-interval",
        "Scans at other times than planned",
        _say("Compare the times with your sheet. If scans were late or left out, say so."),
    ),
    (
        "swallowed-rows",
        "A cell that holds what looks like rows",
        lambda at: (
            f"See whether a quotation mark in {_row(at)} swallowed the rows after it. If the"
            " text is meant so, leave it."
        ),
    ),
    (
        "missing-type",
        "A column whose kind is not said",
        _say("Say its type in the dictionary; without one it is read as text."),
    ),
    (
        "unlisted-file",
        "A file that is not described",
        _say("Describe the file under “resources” in datapackage.json, or leave it out."),
    ),
    (
        "extra-table",
        "A table that the dictionary does not have",
        _say("See that it belongs here. If it does, ask your supervisor to add it."),
    ),
    (
        "no-role",
        "Nothing to hold against the register",
        _say(
            "No column is marked as animal, group or session in the dictionary. Mark it, and the"
            " next check compares it with the register."
        ),
    ),
]


def _table() -> dict[str, Code]:
    rows = [Code(name, Group.TABLE, title, remedy, True) for name, title, remedy in _STANDARD]
    for group, part in (
        (Group.TABLE, _OURS),
        (Group.REGISTER, _REGISTER),
        (Group.UNUSUAL, _UNUSUAL),
    ):
        rows += [Code(name, group, title, remedy) for name, title, remedy in part]
    return {row.name: row for row in rows}


CODES = MappingProxyType(_table())


def found(
    code: str,
    message: str,
    *,
    table: str = "",
    row: int | None = None,
    field: str = "",
    value: object = "",
) -> Finding:
    """Make a finding: its group and its remedy come from the table of codes.

    Raises
    ------
    KeyError
        When the code is not in the table.

    Examples
    --------
    >>> found("blank-row", "Row 4 is empty.", table="egg_strings", row=4).remedy
    'Delete the empty row 4.'
    """
    entry = CODES[code]
    text = shorten(value)
    return Finding(
        code=code,
        table=table,
        row=row,
        field=field,
        value=text,
        message=message,
        remedy=entry.remedy(Place(table, row, field, text)),
        group=entry.group,
    )
