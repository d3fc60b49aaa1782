"""Bringing in a list of animals: reading it, weighing it, and the one deed that writes it."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.animals.actions import import_animals, move_animal
from registry.animals.intake.columns import COLUMNS, named, template
from registry.animals.intake.dates import Order, read_day, reading_of
from registry.animals.intake.limits import MOST_ROWS
from registry.animals.intake.reading import Sheet, read
from registry.animals.intake.weighing import NEW, Outcome, Trial, weigh
from registry.animals.models import Animal, Enclosure, Event, Group, Intake, Mark, Taxon
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.ledger.proof import check
from registry.people.models import Person
from registry.permissions import Role, Verb
from registry.search.index import find
from registry.search.models import SearchDocument
from tests.worlds.animals import days_ago, make_enclosure, make_taxon
from tests.worlds.people import make_institution, make_person

type Reads = Callable[..., Sheet]

HEAD = "code,name,taxon,sex,life_stage,enclosure,arrived_on,born_on,chip,sort,males,females,unknown"
RAY = "UR-{0},Ray {0},Raja undulata,f,adult,T1,2024-03-{1:02},,,,,,"


@pytest.fixture
def reads(tmp_path: Path) -> Reads:
    """Give a sheet from text or bytes."""

    def give(*rows: str, head: str = HEAD, raw: bytes = b"", encoding: str = "utf-8") -> Sheet:
        path = tmp_path / "list.csv"
        path.write_bytes(raw or "\n".join([head, *rows]).encode(encoding))
        return read(path, file_name="list.csv", sha256="0" * 64)

    return give


@pytest.fixture
def curator(db: None) -> Person:
    """Someone who may bring animals in, to a tank T1, of rays."""
    person = make_person(Role.CURATOR)
    make_taxon(by=person)
    make_enclosure("T1", by=person)
    return person


def rays(n: int) -> list[str]:
    return [RAY.format(i, i % 28 + 1) for i in range(1, n + 1)]


def outcomes(trial: Trial) -> str:
    return "".join(one.outcome.value for one in trial.rows)


def said(trial: Trial) -> list[tuple[int | None, str, str]]:
    return [(one.row, one.column, one.kind) for one in trial.faults]


# ---------------------------------------------------------------------------------------- reading


def test_every_column_of_the_template_is_known_and_so_are_its_other_names() -> None:
    names = template().strip().split(",")
    assert [named(name) for name in names] == [column.name for column in COLUMNS]
    assert named(" Scientific NAME ") == named("species") == "taxon"
    assert named("Arrived On") == "arrived_on"
    assert named("colour") == ""


@pytest.mark.parametrize(
    ("encoding", "told"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8 with a byte order mark"),
        ("cp1252", "windows-1252"),
    ],
)
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_letters_and_separators_are_found_out_and_told(
    reads: Reads, encoding: str, told: str, separator: str
) -> None:
    row = "UR-1,Zoë,Raja undulata,f,adult,T1,2024-03-01,,,,,,".replace(",", separator)
    sheet = reads(row, head=HEAD.replace(",", separator), encoding=encoding)
    assert sheet.lines[0].cells["name"] == "Zoë"
    assert (sheet.encoding_said, sheet.separator) == (told, separator)


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "empty"),
        ("code,taxon".encode("utf-16"), "UTF-16"),
        (b"code,taxon,enclosure,arrived_on\nA\x00,b,c,d", "NUL"),
        (b"colour,size\nred,2", "names no column"),
        (b"code,taxon\nA,b", "missing: enclosure, arrived_on"),
        (b"code,id,taxon,enclosure,arrived_on\nA,B,c,d,e", "mean the same: code"),
        (b"code,taxon,enclosure,arrived_on\n", "no row below"),
        (b'code,taxon,enclosure,arrived_on\n"A,b,c,d\nE,f,g,h', "Row 2 could not be read"),
    ],
)
def test_what_cannot_be_read_at_all_is_refused_with_what_to_do(
    raw: bytes, why: str, tmp_path: Path
) -> None:
    (tmp_path / "any.csv").write_bytes(raw)
    with pytest.raises(Unsound, match=why) as refused:
        read(tmp_path / "any.csv", file_name="any.csv", sha256="0" * 64)
    assert "file" in refused.value.fields


def test_more_rows_than_the_limit_are_refused_before_they_are_all_read(reads: Reads) -> None:
    with pytest.raises(Unsound, match="more than 20,000 rows"):
        reads(*["A,,,,,,,,,,,,"] * (MOST_ROWS + 1))


def test_rows_are_counted_as_a_spreadsheet_counts_them(reads: Reads) -> None:
    sheet = reads(rays(1)[0], "", '"UR-2","two\nlines",Raja undulata,f,adult,T1,2024-03-02,,,,,,')
    assert [line.row for line in sheet.lines] == [2, 4]


# ------------------------------------------------------------------------------------------- days


def test_a_day_over_twelve_shows_the_order_and_without_one_it_is_asked() -> None:
    assert reading_of([(2, "04/05/2026"), (3, "24/11/2026")]).order is Order.DAY_FIRST
    shown = reading_of([(2, "04/05/2026"), (3, "11/24/2026")])
    assert (shown.order, shown.shown_by) == (Order.MONTH_FIRST, (3, "11/24/2026"))
    assert reading_of([(2, "04/05/2026")]).is_asked
    assert not reading_of([(2, "04/05/2026")], Order.MONTH_FIRST).is_asked
    # What the column shows is stronger than what was said.
    assert reading_of([(2, "24/11/2026")], Order.MONTH_FIRST).order is Order.DAY_FIRST
    assert not reading_of([(2, "2026-05-04"), (3, "05/05/2026")]).is_asked


@pytest.mark.parametrize("text", ["45987", "31/02/2026", "24/11/26", "soon", "2026-13-01"])
def test_what_is_no_day_is_never_guessed(text: str) -> None:
    assert read_day(text, Order.DAY_FIRST) is None


def test_a_column_that_could_be_read_two_ways_round_is_asked(reads: Reads, curator: Person) -> None:
    sheet = reads("UR-1,,Raja undulata,f,adult,T1,04/05/2024,,,,,,")
    trial = weigh(sheet)
    assert trial.asked == ("arrived_on",)
    assert not trial.is_sound
    with pytest.raises(Unsound, match="two ways round") as refused:
        import_animals(sheet, by=curator)
    assert "arrived_on_order" in refused.value.fields
    assert not Animal.objects.exists()
    import_animals(sheet, orders={"arrived_on": Order.MONTH_FIRST}, by=curator)
    assert Animal.objects.get().arrived_on.isoformat() == "2024-04-05"


# --------------------------------------------------------------------------------------- weighing


@pytest.mark.parametrize(
    ("row", "column", "kind"),
    [
        (",Ray,Raja undulata,f,adult,T1,2024-03-01,,,,,,", "code", "blank"),
        ("UR-9,,Raja undulata,lady,adult,T1,2024-03-01,,,,,,", "sex", "word"),
        ("UR-9,,Raja undulata,f,elder,T1,2024-03-01,,,,,,", "life_stage", "word"),
        ("UR-9,,Raja undulata,f,adult,T1,31/02/2024,,,,,,", "arrived_on", "day"),
        ("UR-9,,Raja undulata,f,adult,T1,2199-01-01,,,,,,", "arrived_on", "day"),
        ("UR-9,,Raja undulata,f,adult,T1,2024-03-01,2025-01-01,,,,,", "arrived_on", "day"),
        ("UR-9,,Raja undulata,f,adult,T1,2024-03-01,,9.85112E+14,,,,", "chip", "chip"),
        ("UR-9,,Raja undulata,f,adult,T1,2024-03-01,,123,,,,", "chip", "chip"),
        ("UR-9,,Raja undulatta,f,adult,T1,2024-03-01,,,,,,", "taxon", "taxon"),
        ("UR-9,,Raja undulata,,adult,T1,2024-03-01,,,,,,x", "unknown", "number"),
        ("UR-9,,Raja undulata,,adult,T1,2024-03-01,,,shoal,,,", "unknown", "number"),
        ("UR-9,,Raja undulata,,adult,T1,2024-03-01,,,,,,30", "sort", "blank"),
        ("UR-9,,Raja undulata,f,adult,T1,2024-03-01,,,shoal,,,30", "sex", "group"),
        (f"{'U' * 41},,Raja undulata,f,adult,T1,2024-03-01,,,,,,", "code", "long"),
        ("UR-1,,Raja undulata,f,adult,T1,2024-03-01,,,,,,", "code", "twice"),
        ("UR-9,,Raja undulata,f,adult,T1,2024-03-01,,,,,,,stray", "", "beyond"),
    ],
)
def test_each_fault_is_told_with_its_row_column_and_what_to_do(
    reads: Reads, curator: Person, row: str, column: str, kind: str
) -> None:
    sheet = reads(*rays(1), row)
    trial = weigh(sheet)
    assert (3, column, kind) in said(trial)
    assert all(one.say for one in trial.faults)
    assert outcomes(trial) == "nx"
    with pytest.raises(Unsound, match="to put right"):
        import_animals(sheet, by=curator)
    assert not Animal.objects.exists()


def test_a_taxon_that_is_misspelt_or_named_commonly_is_answered_with_the_right_name(
    reads: Reads, curator: Person
) -> None:
    trial = weigh(
        reads(
            "A,,Raja undulatta,f,adult,T1,2024-03-01,,,,,,",
            "B,,undulate ray,f,adult,T1,2024-03-01,,,,,,",
        )
    )
    assert [one.say for one in trial.faults] == [
        "Did you mean Raja undulata?",
        "That is a common name. Write Raja undulata.",
    ]


def test_a_formula_in_a_cell_is_text(reads: Reads, curator: Person) -> None:
    sheet = reads('UR-1,"=HYPERLINK(""x"")",Raja undulata,f,adult,T1,2024-03-01,,,,,,')
    import_animals(sheet, by=curator)
    assert Animal.objects.get().name == '=HYPERLINK("x")'


# --------------------------------------------------------------------------------------- the deed


def test_all_rows_come_in_with_their_events_marks_entries_and_words(
    reads: Reads, curator: Person
) -> None:
    owner = make_institution("Norrholm University")
    head = f"{HEAD},owner,origin"
    sheet = reads(
        "UR-1,Ruth,raja UNDULATA,m,juvenile,t1,2024-03-01,2024-03-01,985 112001234567,,,,,,Lagoon",
        "UR-2,,Raja undulata,,,T1,2024-03-02,,ABC123456,,,,,Norrholm University,",
        "SH-1,,Raja undulata,,hatchling,T1,2024-03-03,,,clutch,1,2,30,,",
        head=head,
    )
    before = Entry.objects.count()
    intake = import_animals(sheet, by=curator)
    ruth, second, clutch = (
        Animal.objects.get(code="UR-1"),
        Animal.objects.get(code="UR-2"),
        (Group.objects.get()),
    )
    assert (ruth.sex, ruth.life_stage, ruth.origin, ruth.state) == (
        "male",
        "juvenile",
        "Lagoon",
        "kept",
    )
    assert ruth.events.get().sort == Event.Sort.BORN
    assert second.events.get().sort == Event.Sort.ARRIVED
    assert (second.owner, second.sex, second.life_stage) == (owner, "unknown", "adult")
    assert [(one.sort, one.said) for one in Mark.objects.order_by("pk")] == [
        (Mark.Sort.CHIP, "985112001234567"),
        (Mark.Sort.OTHER_CODE, "ABC123456"),
    ]
    event = clutch.events.get()
    assert (clutch.name, clutch.number, event.males, event.females, event.unknown) == (
        "SH-1",
        33,
        1,
        2,
        30,
    )
    assert (intake.animals_brought, intake.groups_brought, intake.rows_known) == (2, 1, 0)
    verbs = list(Entry.objects.order_by("number").values_list("verb", flat=True)[before:])
    assert verbs == [
        Verb.ANIMAL_RECEIVE,
        Verb.ANIMAL_RECEIVE,
        Verb.GROUP_RECEIVE,
        Verb.ANIMAL_IMPORT,
    ]
    assert [one.title for one in find("985112001234567", curator)] == ["Ruth"]
    faults, _ = check(with_subjects=True)
    assert faults == []


def test_the_same_list_twice_brings_nothing_twice_and_says_what_differs(
    reads: Reads, curator: Person
) -> None:
    sheet = reads(*rays(3))
    import_animals(sheet, by=curator)
    entries = Entry.objects.count()
    assert outcomes(weigh(sheet)) == "sss"
    with pytest.raises(Conflict, match="already"):
        import_animals(sheet, by=curator)
    assert (Animal.objects.count(), Entry.objects.count(), Intake.objects.count()) == (
        3,
        entries,
        1,
    )
    moved = Animal.objects.get(code="UR-2")
    elsewhere = make_enclosure("T2", by=curator)
    move_animal(moved, enclosure=elsewhere, happened_on=days_ago(1), by=curator)
    trial = weigh(reads(*rays(4)))
    assert outcomes(trial) == "sdsn"
    assert trial.rows[1].said == "already here, differs in enclosure; it stays as it is"
    intake = import_animals(reads(*rays(4)), by=curator)
    moved.refresh_from_db()
    assert (moved.enclosure, intake.animals_brought, intake.rows_known) == (elsewhere, 1, 3)


def test_what_changed_since_it_was_looked_at_is_told_and_nothing_is_written(
    reads: Reads, curator: Person
) -> None:
    sheet = reads(*rays(3))
    seen = weigh(sheet).seen
    assert seen == "3n"
    import_animals(reads(*rays(1)), by=curator)
    with pytest.raises(Conflict, match=r"row 2 \(UR-1\) was to be received, and is already here"):
        import_animals(sheet, seen=seen, by=curator)
    assert Animal.objects.count() == 1
    import_animals(sheet, seen=weigh(sheet).seen, by=curator)
    assert Animal.objects.count() == 3


def test_what_the_register_lacks_is_made_only_where_someone_said_so(
    reads: Reads, curator: Person
) -> None:
    head = f"{HEAD},taxon_class,common_name,enclosure_name,enclosure_on_show"
    rows = (
        "SC-1,,Scyliorhinus canicula,f,adult,T9,2024-03-01,,,,,,,,,North pool,",
        "SC-2,,Scyliorhinus canicula,f,adult,T9,2024-03-01,,,,,,,cartilaginous_fish,catshark,,Yes",
    )
    sheet = reads(*rows, head=head)
    trial = weigh(sheet)
    assert outcomes(trial) == "bb"
    assert trial.is_sound
    with pytest.raises(Unsound, match="Scyliorhinus canicula, T9") as refused:
        import_animals(sheet, by=curator)
    assert set(refused.value.fields) == {"make_taxa", "make_enclosures"}
    assert not Animal.objects.exists()
    import_animals(sheet, make_taxa=True, make_enclosures=True, by=curator)
    assert Taxon.objects.get(scientific_name="Scyliorhinus canicula").source.endswith("list.csv")
    pool = Enclosure.objects.get(code="T9")
    assert (pool.name, pool.is_on_show) == ("North pool", True)
    assert check(with_subjects=True)[0] == []


def test_a_chip_that_another_animal_bears_is_a_fault_on_its_row(
    reads: Reads, curator: Person
) -> None:
    row = "UR-{0},,Raja undulata,f,adult,T1,2024-03-01,,985112001234567,,,,"
    import_animals(reads(row.format(1)), by=curator)
    assert outcomes(weigh(reads(row.format(1)))) == "s"
    trial = weigh(reads(row.format(2)))
    assert [(one.column, one.say) for one in trial.faults] == [
        ("chip", "UR-1 bears it. Read it again.")
    ]


def test_an_enclosure_that_did_not_exist_on_the_day_is_a_fault_and_the_rest_is_previewed(
    reads: Reads, curator: Person
) -> None:
    home = Enclosure.objects.get(code="T1")
    home.opened_on = date(2024, 3, 3)
    home.save()
    trial = weigh(reads(*rays(3)))  # they arrive on 2, 3 and 4 March
    assert outcomes(trial) == "xnn"
    assert said(trial) == [(2, "enclosure", "enclosure")]
    assert "opened on 2024-03-03" in trial.faults[0].say


def test_a_keeper_may_not_bring_a_list_in(reads: Reads, curator: Person) -> None:
    sheet = reads(*rays(1))
    with pytest.raises(NotPermitted):
        import_animals(sheet, by=make_person(Role.KEEPER))
    import_animals(sheet, by=curator)
    assert Animal.objects.count() == 1


@pytest.mark.postgres
def test_two_thousand_rows_are_looked_at_and_brought_in_with_few_queries(
    reads: Reads, curator: Person
) -> None:
    rows = [
        f"UR-{i},Ray {i},Raja undulata,f,adult,T1,2024-03-01,,985{i:012d},,,," for i in range(2_000)
    ]
    sheet = reads(*rows)
    with CaptureQueriesContext(connection) as asked:
        trial = weigh(sheet)
    assert trial.count(*NEW) == 2_000
    assert trial.count(Outcome.FAULTY) == 0
    assert len(asked) < 60
    with CaptureQueriesContext(connection) as asked:
        import_animals(sheet, seen=trial.seen, by=curator)
    # SQLite's index of words is written row by row inside two calls, which are captured as many.
    words = [one for one in asked.captured_queries if "search_words" in one["sql"]]
    assert len(asked) - len(words) < 200
    assert Animal.objects.count() == 2_000
    assert SearchDocument.objects.filter(kind="animals.animal").count() == 2_000
