"""A hundred files spoiled on purpose, each in one way that students' files are.

Made from one sound package by program; each says which finding it must bring, which cause must be
suspected, words of the remedy, and whether a safe correction must make it sound again.
"""

import copy
import csv
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

DESCRIPTOR: dict[str, Any] = {
    "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
    "name": "spoiled",
    "resources": [
        {
            "name": "tanks",
            "type": "table",
            "path": "tanks.csv",
            "schema": {
                "primaryKey": ["tank"],
                "fields": [
                    {"name": "tank", "type": "string", "constraints": {"pattern": "[0-9]{3}"}},
                    {"name": "volume", "type": "number", "x:unit": "L"},
                ],
            },
        },
        {
            "name": "checks",
            "type": "table",
            "path": "checks.csv",
            "schema": {
                "primaryKey": ["check"],
                "uniqueKeys": [["animal", "seen_on"]],
                "foreignKeys": [
                    {"fields": ["tank"], "reference": {"resource": "tanks", "fields": ["tank"]}}
                ],
                "fields": [
                    {"name": "check", "type": "integer"},
                    {"name": "tank", "type": "string"},
                    {
                        "name": "animal",
                        "type": "string",
                        "x:role": "animal",
                        "constraints": {"required": True, "enum": ["EG-01", "EG-02", "EG-03"]},
                    },
                    {"name": "seen_on", "type": "date", "x:role": "time"},
                    {"name": "seen_at", "type": "datetime"},
                    {"name": "posture", "type": "string", "categories": ["rest", "swim", "feed"]},
                    {
                        "name": "depth",
                        "type": "number",
                        "x:unit": "m",
                        "constraints": {"minimum": 0, "maximum": 5000},
                    },
                    {"name": "warmth", "type": "number", "x:unit": "Cel"},
                    {"name": "eggs", "type": "integer"},
                    {"name": "turned", "type": "boolean"},
                    {"name": "written_on", "type": "date", "format": "%d/%m/%Y"},
                    {"name": "note", "type": "string"},
                ],
            },
        },
    ],
}

Rows = list[list[str]]


@dataclass
class Package:
    """The rows of the two tables and how they are written; a spoiler changes any of it."""

    tanks: Rows
    checks: Rows
    descriptor: dict[str, Any] = field(default_factory=lambda: copy.deepcopy(DESCRIPTOR))
    delimiter: str = ","
    encoding: str = "utf-8"
    end: str = "\r\n"
    raw: dict[str, bytes] = field(default_factory=dict)

    def at(self, name: str) -> int:
        """Give where a column of the checks stands."""
        return self.checks[0].index(name)

    def put(self, row: int, name: str, value: str) -> None:
        """Write a cell of the checks; row 1 is the heading."""
        self.checks[row - 1][self.at(name)] = value

    def each(self, name: str, change: Callable[[str], str]) -> None:
        """Change every cell of a column of the checks."""
        at = self.at(name)
        for cells in self.checks[1:]:
            cells[at] = change(cells[at])

    def files(self) -> dict[str, bytes]:
        """Give the bytes of each file."""
        descriptor = json.dumps(self.descriptor, ensure_ascii=False).encode()
        written = {"datapackage.json": descriptor}
        for name, rows in (("tanks", self.tanks), ("checks", self.checks)):
            out = io.StringIO(newline="")
            only = self.delimiter if name == "checks" else ","
            csv.writer(out, delimiter=only, lineterminator=self.end).writerows(rows)
            how = self.encoding if name == "checks" else "utf-8"
            written[f"{name}.csv"] = out.getvalue().encode(how)
        return written | self.raw


def sound() -> Package:
    """Give the package before it is spoiled."""
    tanks = [["tank", "volume"], ["007", "1250.5"], ["012", "80"], ["113", "12500"]]
    checks = [[one["name"] for one in DESCRIPTOR["resources"][1]["schema"]["fields"]]]
    for n in range(1, 19):
        day = f"2026-{5 + n // 10:02}-{10 + n:02}" if n != 4 else "2026-05-04"
        checks.append(
            [
                str(n),
                ("007", "012", "113")[n % 3],
                f"EG-0{1 + n % 3}",
                day,
                f"{day}T09:{n:02}:00",
                ("rest", "swim", "feed")[n % 3],
                f"{n % 7}.{n % 9}5",
                f"{12 + n % 3}.{n % 10}",
                str(1000 + 250 * n),
                "true" if n % 2 else "false",
                f"{day[8:]}/{day[5:7]}/{day[:4]}",
                ("Señal débil, 4 °C", "near the outlet", "")[n % 3],
            ]
        )
    return Package(tanks, checks)


@dataclass(frozen=True)
class Spoiled:
    """One spoiled package, and what must be said of it.

    `code` is the finding that must come ("" for none), `cause` the suspicion ("" for none);
    `words` must stand in its remedy, or in the finding's where nothing is suspected. `is_mended`
    says whether the offered corrections make it sound; else, if suspected, they must be refused.
    """

    name: str
    spoil: Callable[[Package], None]
    code: str
    cause: str = ""
    words: str = ""
    is_mended: bool = False

    def package(self) -> Package:
        """Give it as a person has it in a spreadsheet."""
        package = sound()
        self.spoil(package)
        return package

    def files(self) -> dict[str, bytes]:
        """Give its files."""
        return self.package().files()


def _turned(order: str, mark: str = "/") -> Callable[[str], str]:
    def turn(cell: str) -> str:
        year, month, day = cell[:10].split("-")
        parts = {"d": day, "m": month, "y": year}
        return mark.join(parts[letter] for letter in order)

    return turn


def _column(name: str, change: Callable[[str], str]) -> Callable[[Package], None]:
    return lambda package: package.each(name, change)


def _cells(name: str, value: str, *rows: int) -> Callable[[Package], None]:
    def put(package: Package) -> None:
        for row in rows or (5,):
            package.put(row, name, value)

    return put


def _dates() -> Iterator[Spoiled]:
    for order, mark in (("dmy", "/"), ("dmy", "."), ("dmy", "-"), ("mdy", "/"), ("mdy", "-")):
        yield Spoiled(
            f"dates written {order} with {mark}",
            _column("seen_on", _turned(order, mark)),
            "type-error",
            "day-month",
            "2026-05-31",
            True,
        )
    yield Spoiled(
        "year, day, month",
        _column("seen_on", _turned("ydm", "-")),
        "type-error",
        "day-month",
        "year-month-day",
        True,
    )
    yield Spoiled(
        "swapped in a column that is day first",
        _column("written_on", lambda cell: f"{cell[3:5]}/{cell[:2]}/{cell[6:]}"),
        "type-error",
        "day-month",
        "31/05/2026",
        True,
    )
    yield Spoiled(
        "times with the day first",
        _column("seen_at", lambda cell: f"{_turned('dmy')(cell)} {cell[11:]}"),
        "type-error",
        "day-month",
        "2026-05-31T14:05:00",
        True,
    )
    yield Spoiled(
        "no day above twelve",
        _column("seen_on", lambda cell: f"{1 + int(cell[8:]) % 9:02}/{cell[5:7]}/2026"),
        "type-error",
        "day-month",
        "2026-05-31",
    )
    yield Spoiled(
        "two figures for the year",
        _column("seen_on", lambda cell: f"{cell[8:]}/{cell[5:7]}/{cell[2:4]}"),
        "type-error",
        "day-month",
        "2026-05-31",
    )

    def mixed(package: Package) -> None:
        package.put(2, "seen_on", "25/05/2026")
        package.put(3, "seen_on", "05/26/2026")

    yield Spoiled("two orders in one column", mixed, "type-error", "day-month", "2026-05-31")
    yield Spoiled(
        "days without their time",
        _column("seen_at", _turned("dmy")),
        "type-error",
        "day-month",
        "2026-05-31T14:05:00",
    )
    yield Spoiled(
        "day numbers of a spreadsheet",
        _column("seen_on", _serial),
        "type-error",
        "serial-dates",
        "format of column",
        True,
    )
    yield Spoiled(
        "some day numbers",
        lambda p: p.put(5, "seen_on", _serial("2026-05-14")),
        "type-error",
        "serial-dates",
        "date",
        True,
    )
    yield Spoiled(
        "day numbers from 1904",
        lambda p: p.put(5, "seen_on", str(int(_serial("2026-05-14")) - 1462)),
        "type-error",
        "serial-dates",
        "date",
        True,
    )
    yield Spoiled(
        "day numbers of either count",
        _column("seen_on", lambda cell: str(int(_serial(cell)) - 2000)),
        "type-error",
        "serial-dates",
        "date",
    )
    yield Spoiled(
        "a day number with a time",
        _column("seen_on", lambda cell: f"{_serial(cell)}.5"),
        "type-error",
        "serial-dates",
        "date",
    )


def _serial(cell: str) -> str:
    return str((date.fromisoformat(cell) - date(1899, 12, 30)).days)


def _both_commas(package: Package) -> None:
    package.put(5, "warmth", "1,234,567")
    package.put(6, "warmth", "1,5")


def _numbers() -> Iterator[Spoiled]:
    for name in ("depth", "warmth"):
        yield Spoiled(
            f"decimal comma in {name}",
            _column(name, lambda cell: cell.replace(".", ",")),
            "type-error",
            "decimal-comma",
            "with a point",
            True,
        )
        yield Spoiled(
            f"one decimal comma in {name}",
            _cells(name, "1,5"),
            "type-error",
            "decimal-comma",
            "with a point",
            True,
        )
    yield Spoiled(
        "comma with three figures",
        _cells("depth", "1,234"),
        "type-error",
        "decimal-comma",
        "with a point",
    )
    yield Spoiled(
        "decimal comma in whole numbers",
        _cells("eggs", "1,5"),
        "type-error",
        "decimal-comma",
        "with a point",
    )
    yield Spoiled(
        "points for thousands, comma for decimals",
        _column("depth", lambda cell: "1." + f"{int(float(cell)):03}" + ",5"),
        "type-error",
        "decimal-comma",
        "with a point",
        True,
    )
    for said, mark in (
        ("spaces", " "),
        ("no-break spaces", "\u00a0"),
        ("thin spaces", "\u202f"),
        ("apostrophes", "'"),
    ):
        yield Spoiled(
            f"{said} between thousands",
            _column("eggs", lambda cell, mark=mark: f"{cell[0]}{mark}{cell[1:]}"),
            "type-error",
            "thousands",
            "without a sign",
            True,
        )
        yield Spoiled(
            f"{said} between thousands of decimals",
            _cells("depth", f"1{mark}234.5"),
            "type-error",
            "thousands",
            "without a sign",
            True,
        )
    yield Spoiled(
        "commas between thousands, and points",
        _cells("depth", "1,234.5"),
        "type-error",
        "thousands",
        "without a sign",
        True,
    )
    yield Spoiled(
        "commas between millions",
        _cells("eggs", "1,234,567"),
        "type-error",
        "thousands",
        "without a sign",
        True,
    )
    yield Spoiled(
        "commas of both kinds",
        _both_commas,
        "type-error",
        "thousands",
        "without a sign",
    )
    for name, unit in (
        ("depth", " m"),
        ("depth", "m"),
        ("depth", " metres"),
        ("warmth", " °C"),
        ("warmth", "C"),
        ("warmth", " Cel"),
    ):
        yield Spoiled(
            f"{unit.strip()} in {name}{' after a space' if unit[0] == ' ' else ''}",
            _column(name, lambda cell, unit=unit: cell + unit),
            "type-error",
            "unit-in-cell",
            "unit out",
            True,
        )
    for name, cell in (("depth", "120 cm"), ("warmth", "54 °F"), ("depth", "4 ft")):
        yield Spoiled(
            f"another unit: {cell}", _cells(name, cell), "type-error", "unit-in-cell", "unit out"
        )
    yield Spoiled(
        "a unit where the dictionary has none",
        _cells("eggs", "12 eggs"),
        "type-error",
        "unit-in-cell",
        "unit out",
    )


def _words() -> Iterator[Spoiled]:
    for word in (
        "n/a",
        "NA",
        "-",
        "–",
        "none",
        "NULL",
        "?",
        ".",
        "missing",
        "not recorded",
        "#DIV/0!",
        "unknown",
    ):
        yield Spoiled(
            f"“{word}” for nothing",
            _cells("depth", word, 4, 7, 9),
            "type-error",
            "missing-words",
            "empty",
            True,
        )
    yield Spoiled(
        "“none” in a column of codes",
        _cells("posture", "none", 4, 7),
        "category-error",
        "missing-words",
        "empty",
        True,
    )
    yield Spoiled(
        "“n/a” in a date", _cells("seen_on", "n/a"), "type-error", "missing-words", "empty", True
    )
    yield Spoiled(
        "“n/a” where something must stand",
        _cells("animal", "n/a"),
        "constraint-error",
        "missing-words",
        "empty",
    )
    yield Spoiled(
        "-999 for nothing",
        _cells("depth", "-999", 4, 5),
        "constraint-error",
        "missing-words",
        "empty",
    )


def _codes() -> Iterator[Spoiled]:
    for said, change in (
        ("a space after", lambda cell: f"{cell} "),
        ("a space before", lambda cell: f" {cell}"),
        ("a no-break space after", lambda cell: f"{cell}\u00a0"),
        ("a space inside", lambda cell: cell.replace("-", "- ")),
        ("small letters", str.lower),
        ("mixed letters", str.title),
    ):
        yield Spoiled(
            f"animals with {said}",
            _column("animal", change),
            "constraint-error",
            "codes-alike",
            "same capitals",
            True,
        )
    yield Spoiled(
        "codes of behaviour with capitals",
        _column("posture", str.upper),
        "category-error",
        "codes-alike",
        "same capitals",
        True,
    )
    yield Spoiled(
        "tanks with a space",
        _column("tank", lambda cell: f"{cell} "),
        "foreign-key",
        "codes-alike",
        "without a space",
        True,
    )
    yield Spoiled(
        "tanks without their zeros",
        _column("tank", lambda cell: str(int(cell))),
        "foreign-key",
        "lost-zeros",
        "zeros",
        True,
    )

    def lost(package: Package) -> None:
        for cells in package.tanks[1:]:
            cells[0] = str(int(cells[0]))

    yield Spoiled(
        "the key of tanks without zeros", lost, "constraint-error", "lost-zeros", "007", True
    )
    yield Spoiled(
        "days with a space after",
        _column("seen_on", lambda cell: f"{cell} "),
        "type-error",
        "spaces",
        "spaces",
        True,
    )
    yield Spoiled(
        "true and false with a no-break space",
        _column("turned", lambda cell: f"{cell}\u00a0"),
        "type-error",
        "spaces",
        "spaces",
        True,
    )


def _headings() -> Iterator[Spoiled]:
    for said, change in (
        ("capitals", str.upper),
        ("spaces", lambda label: label.replace("_", " ")),
        ("hyphens", lambda label: label.replace("_", "-")),
        ("camel capitals", lambda label: label.replace("_o", "O").replace("_a", "A")),
        ("spaces and capitals", lambda label: label.replace("_", " ").title()),
    ):

        def renamed(package: Package, change: Callable[[str], str] = change) -> None:
            package.checks[0] = [change(label) for label in package.checks[0]]

        yield Spoiled(
            f"headings with {said}",
            renamed,
            "incorrect-label",
            "headings-alike",
            "headings just as",
            True,
        )


def _more_headings() -> Iterator[Spoiled]:
    def misspelt(package: Package) -> None:
        package.checks[0][package.at("posture")] = "postures"

    yield Spoiled(
        "a heading misspelt", misspelt, "incorrect-label", "headings-alike", "headings just as"
    )

    def numbered(package: Package) -> None:
        package.checks[0].insert(0, "")
        for n, cells in enumerate(package.checks[1:]):
            cells.insert(0, str(n))

    yield Spoiled(
        "a column of running numbers", numbered, "", "shifted-heading", "first column out", True
    )

    def named_rows(package: Package) -> None:
        for n, cells in enumerate(package.checks[1:], start=1):
            cells.insert(0, str(n))

    yield Spoiled(
        "row names without a heading",
        named_rows,
        "extra-cell",
        "shifted-heading",
        "first column out",
        True,
    )

    def ended(package: Package) -> None:
        for cells in package.checks[1:]:
            cells.append("")

    yield Spoiled(
        "a separator at the end of each row",
        ended,
        "extra-cell",
        "shifted-heading",
        "separator too many",
    )


def _missing_columns() -> Iterator[Spoiled]:
    def without(package: Package) -> None:
        at = package.at("warmth")
        for cells in package.checks:
            del cells[at]

    yield Spoiled("a column is missing", without, "missing-label", "", "Add column “warmth”")

    def last(package: Package) -> None:
        for cells in package.checks:
            del cells[-1]

    yield Spoiled("the last column is missing", last, "missing-label", "", "Add column “note”")

    def more(package: Package) -> None:
        for n, cells in enumerate(package.checks):
            cells.append("mood" if n == 0 else "calm")

    yield Spoiled("a column too many", more, "extra-label", "", "mood")

    def twice(package: Package) -> None:
        package.checks[0][package.at("warmth")] = "depth"

    yield Spoiled("two columns of one name", twice, "duplicate-label", "", "own name")


def _layouts() -> Iterator[Spoiled]:
    for said, sign in (("semicolons", ";"), ("tabs", "\t"), ("bars", "|")):

        def parted(package: Package, sign: str = sign) -> None:
            package.delimiter = sign

        yield Spoiled(f"parted by {said}", parted, "", "wrong-delimiter", "commas", True)
    for encoding in ("cp1252", "latin-1", "mac_roman", "utf-16"):

        def encoded(package: Package, encoding: str = encoding) -> None:
            package.encoding = encoding

        yield Spoiled(
            f"saved in {encoding}", encoded, "encoding-error", "other-encoding", "CSV UTF-8", True
        )

    def mangled(package: Package) -> None:
        package.each("note", lambda cell: cell.encode().decode("cp1252"))

    yield Spoiled("letters mangled", mangled, "", "mangled-letters", "UTF-8", True)

    def swapped(package: Package) -> None:
        package.tanks, package.checks = package.checks, package.tanks

    yield Spoiled(
        "the two tables swapped", swapped, "", "swapped-tables", "each other's name", True
    )


def _rows() -> Iterator[Spoiled]:
    def foot(first: str, **cells: str) -> Callable[[Package], None]:
        def add(package: Package) -> None:
            row = [""] * len(package.checks[0])
            row[0] = first
            for name, value in cells.items():
                row[package.at(name)] = value
            package.checks.append(row)

        return add

    for word in ("Total", "Sum:", "Mean", "average"):
        yield Spoiled(
            f"a row of “{word}” at the foot",
            foot(word, eggs="62500"),
            "type-error",
            "total-row",
            "out of the table",
            True,
        )
    yield Spoiled(
        "a note at the foot",
        foot("Tank 7 was cleaned on Monday"),
        "type-error",
        "total-row",
        "deposit's note",
        True,
    )
    for rows in (1, 3):

        def blank(package: Package, rows: int = rows) -> None:
            package.checks += [[""] * len(package.checks[0])] * rows

        yield Spoiled(f"{rows} blank at the foot", blank, "blank-row", "blank-rows", "Delete", True)

    def gap(package: Package) -> None:
        package.checks.insert(6, [])

    yield Spoiled("a blank row inside", gap, "blank-row", "blank-rows", "Delete", True)

    def again(package: Package) -> None:
        package.checks.insert(9, list(package.checks[0]))

    yield Spoiled(
        "the heading again in the middle",
        again,
        "type-error",
        "repeated-heading",
        "Take these rows out",
        True,
    )

    def doubled(package: Package) -> None:
        package.put(6, "check", "2")

    yield Spoiled("a key used twice", doubled, "primary-key", "", "key of its own")

    def entered_twice(package: Package) -> None:
        package.put(6, "animal", package.checks[2][2])
        package.put(6, "seen_on", package.checks[2][3])

    yield Spoiled("a day entered twice", entered_twice, "unique-keys", "", "entered twice")
    yield Spoiled("a key left empty", _cells("check", ""), "primary-key", "", "key")
    yield Spoiled(
        "a tank that is not there", _cells("tank", "999"), "foreign-key", "", "missing row"
    )
    yield Spoiled(
        "a depth beyond the limit", _cells("depth", "5001"), "constraint-error", "", "Look up row 5"
    )
    yield Spoiled(
        "a code off the list",
        _cells("posture", "dance"),
        "category-error",
        "",
        "dictionary's codes",
    )
    yield Spoiled(
        "an animal off the list", _cells("animal", "EG-77"), "constraint-error", "", "notes"
    )
    yield Spoiled("an animal left out", _cells("animal", ""), "constraint-error", "", "Look up")
    yield Spoiled("words for a number", _cells("depth", "deep"), "type-error", "", "your notes")
    yield Spoiled(
        "a day that is none", _cells("seen_on", "2026-02-30"), "type-error", "", "2026-05-31"
    )
    yield Spoiled("half an egg", _cells("eggs", "2.5"), "type-error", "", "your notes")
    yield Spoiled("perhaps for true", _cells("turned", "perhaps"), "type-error", "", "your notes")
    yield Spoiled(
        "a cell too many", lambda p: p.checks[4].append("x"), "extra-cell", "", "surplus cell"
    )
    yield Spoiled(
        "a cell too few", lambda p: p.checks[4].pop(), "missing-cell", "", "missing separators"
    )

    def stray(package: Package) -> None:
        text = package.files()["checks.csv"].replace(b"near the outlet", b'"near the outlet', 1)
        package.raw["checks.csv"] = text

    yield Spoiled("a stray quotation mark", stray, "stray-quote", "", "quotation marks around")

    def quoted(package: Package) -> None:
        package.each("note", lambda cell: "dim" if cell else "")
        text = package.files()["checks.csv"].replace(b"dim", b'"dim', 1)
        package.raw["checks.csv"] = text

    yield Spoiled("a quotation mark left open", quoted, "unclosed-quote", "", "close or remove")


def _above() -> Iterator[Spoiled]:
    def titled(*lines: list[str]) -> Callable[[Package], None]:
        def write(package: Package) -> None:
            package.checks[:0] = [list(line) for line in lines]

        return write

    width = len(DESCRIPTOR["resources"][1]["schema"]["fields"])
    for name, *lines in (
        ("a title above", ["Checks of egg strings, autumn 2026"]),
        ("titles and a blank row above", ["Checks"], ["Written by hand"], []),
        ("a title with separators above", ["Checks", *[""] * (width - 1)]),
        ("headings in two rows", ["check", "place", "", "when", "", "watch", *[""] * (width - 6)]),
    ):
        yield Spoiled(
            name, titled(*lines), "incorrect-label", "rows-above", "above the heading", True
        )

    def units(package: Package) -> None:
        row = [""] * width
        row[package.at("depth")], row[package.at("warmth")] = "m", "(°C)"
        package.checks.insert(1, row)

    yield Spoiled("units under the heading", units, "type-error", "unit-row", "row 2 out", True)
    yield Spoiled(
        "no heading",
        lambda package: package.checks.pop(0) and None,
        "incorrect-label",
        "no-heading",
        "names the columns",
    )


def _as_sent() -> Iterator[Spoiled]:
    """Give files as they come from a spreadsheet elsewhere: spoiled in several ways at once."""

    def european(package: Package) -> None:
        package.delimiter, package.encoding = ";", "cp1252"
        package.each("depth", lambda cell: cell.replace(".", ","))
        package.each("seen_on", _turned("dmy", "."))

    yield Spoiled(
        "semicolons, decimal commas, days first, old Windows letters",
        european,
        "encoding-error",
        "other-encoding",
        "CSV UTF-8",
        True,
    )

    def tabbed(package: Package) -> None:
        package.delimiter, package.encoding = "\t", "utf-16"
        package.checks += [[""] * len(package.checks[0])] * 2

    yield Spoiled(
        "tabs in UTF-16 and blank rows",
        tabbed,
        "encoding-error",
        "other-encoding",
        "CSV UTF-8",
        True,
    )

    def noted(package: Package) -> None:
        package.checks += [[], ["* seen from above only"], ["Ask the keeper for the rest."]]

    yield Spoiled(
        "notes under a blank row", noted, "blank-row", "total-row", "deposit's note", True
    )

    def mixed(package: Package) -> None:
        for row in (6, 7, 8):
            package.put(row, "seen_on", _turned("dmy")(package.checks[row - 1][3]))

    yield Spoiled(
        "some days first among others", mixed, "type-error", "day-month", "2026-05-31", True
    )

    def marked(package: Package) -> None:
        package.encoding = "utf-8-sig"
        package.put(5, "depth", "deep")

    yield Spoiled("a byte order mark", marked, "type-error", "", "your notes")

    def old(package: Package) -> None:
        package.end = "\r"
        package.put(5, "depth", "deep")

    yield Spoiled("line ends of old Macintoshes", old, "type-error", "", "your notes")

    def failed(package: Package) -> None:
        package.put(4, "warmth", "#REF!")
        package.put(9, "warmth", "#VALUE!")

    yield Spoiled("failed formulas", failed, "type-error", "missing-words", "empty", True)

    def reordered(package: Package) -> None:
        for cells in package.checks:
            cells[6], cells[7] = cells[7], cells[6]

    yield Spoiled("columns in another order", reordered, "incorrect-label", "", "order")

    def ended(package: Package) -> None:
        for cells in package.checks:
            cells.append("")

    yield Spoiled("a separator too many everywhere", ended, "extra-label", "", "without a name")


SPOILED = [
    *_above(),
    *_as_sent(),
    *_dates(),
    *_numbers(),
    *_words(),
    *_codes(),
    *_headings(),
    *_more_headings(),
    *_missing_columns(),
    *_layouts(),
    *_rows(),
]
