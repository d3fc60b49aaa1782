"""The stock list of a year, from what was recorded to the page, the file and the paper."""

import csv
import io
from datetime import date
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader
from rest_framework.test import APIClient

from registry.animals import actions
from registry.animals.models import Animal, Event, Group, Taxon
from registry.animals.stockbook import book_of, first_year, total
from registry.animals.stocklist import Column
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_enclosure, make_group, make_taxon
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
NOW = date(2026, 11, 24)


@pytest.fixture(autouse=True)
def _november():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def rays() -> Taxon:
    """T22 of the trade's worked examples, recorded as it happened: 3.4.6 become 5.5.5.

    An invented line, summed by hand: 13 + 1 + 9 - 2 - 2 - 4 = 15.
    """
    by = make_person(Role.CURATOR)
    taxon, home = make_taxon(by=by), make_enclosure(by=by)
    here = {"taxon": taxon, "enclosure": home, "by": by}
    before = date(2025, 5, 1)
    shoal = make_group(males=3, females=3, unknown=6, arrived_on=before, **here)
    old = make_animal(sex="female", arrived_on=before, **here)
    make_animal(sex="male", arrived_on=date(2026, 2, 1), **here)

    def counted(day: date, sort: str, **change: int) -> None:
        actions.count_group(shoal, happened_on=day, sort=sort, by=by, **change)

    counted(date(2026, 3, 1), Event.Sort.BORN, unknown=7)
    young = [
        make_animal(sex="unknown", arrived_on=day, born_on=day, **here)
        for day in (date(2026, 3, 1), date(2026, 3, 1))
    ]
    for one in young:
        actions.leave_animal(one, sort="died", happened_on=date(2026, 3, 31), by=by)
    actions.leave_animal(old, sort="died", happened_on=date(2026, 4, 2), by=by)
    counted(date(2026, 4, 3), Event.Sort.DIED, unknown=-1)
    counted(date(2026, 5, 1), Event.Sort.DEPARTED, males=-1, unknown=-3)
    counted(date(2026, 6, 1), Event.Sort.SEXED, males=2, females=2, unknown=-4)
    return taxon


def line_of(year: int):
    book = book_of(year, Taxon.objects.all())
    return total(one.line for one in book)


def test_the_trades_worked_line_comes_out_of_the_record(rays: Taxon) -> None:
    line = line_of(2026)
    assert str(line.held_at_start) == "3.4.6"
    shown = {column.value: str(line.shown(column)) for column in Column}
    assert shown == {
        "arrived": "1.0.0",
        "bred": "0.0.9",
        "died_early": "0.0.2",
        "died": "0.1.1",
        "departed": "1.0.3",
        "sexed": "2.2.−4",
        "recounted": "0.0.0",
    }
    assert str(line.held_at_end) == "5.5.5"
    assert line.is_sound


def test_the_list_ends_with_what_the_register_holds_and_begins_with_the_year_before(
    rays: Taxon,
) -> None:
    held = sum(one.number for one in Group.objects.filter(state="kept"))
    held += Animal.objects.filter(state="kept").count()
    assert line_of(2026).held_at_end.total == held == 15
    assert line_of(2025).held_at_end == line_of(2026).held_at_start
    assert first_year() == 2025


def test_what_was_taken_back_did_not_happen_and_a_recount_is_no_death(rays: Taxon) -> None:
    by = make_person(Role.CURATOR)
    shoal = Group.objects.get()
    before = line_of(2026)
    counted = {"males": shoal.males, "females": shoal.females, "unknown": shoal.unknown - 1}
    actions.recount_group(shoal, **counted, happened_on=NOW, by=by)
    assert str(line_of(2026).shown(Column.RECOUNTED)) == "0.0.−1"
    assert line_of(2026).shown(Column.DIED) == before.shown(Column.DIED)
    actions.take_back_group_event(shoal, reason="Counted twice.", by=by)
    assert line_of(2026) == before


def test_eggs_are_not_counted(rays: Taxon) -> None:
    before = line_of(2026)
    make_group(sort="clutch", life_stage="egg", taxon=rays, unknown=40, arrived_on=NOW)
    assert line_of(2026) == before
    make_group(sort="litter", life_stage="hatchling", taxon=rays, males=0, females=0, unknown=4,
               arrived_on=NOW)  # fmt: skip
    assert line_of(2026).held_at_end.total == before.held_at_end.total + 4


def test_the_list_costs_five_queries_whatever_the_kinds(rays: Taxon) -> None:
    with CaptureQueriesContext(
        connection,
    ) as few:
        book_of(2026, Taxon.objects.all())
    for number in range(4):
        make_animal(taxon=make_taxon(f"Kind {number}", taxon_class="bird"))
    with CaptureQueriesContext(connection) as more:
        book = book_of(2026, Taxon.objects.all())
    assert [one.label for one in book] == ["bird", "shark, skate or ray"]
    assert len(more) == len(few) == 5


@pytest.fixture
def keeper(client: Client) -> Client:
    client.force_login(make_person(Role.KEEPER))
    return client


def test_the_page_shows_each_kind_its_class_and_the_whole(keeper: Client, rays: Taxon) -> None:
    page = keeper.get("/animals/stocklist/?year=2026").content.decode()
    assert "13 animals when the year began, 15 at the end" in page
    assert page.count("5.5.5") == 3  # the kind, its class, all together
    assert "does not balance" not in page
    assert '<a href="?year=2025">2025</a>' in page
    assert "Today" in page
    assert "31 December" in keeper.get("/animals/stocklist/?year=2025").content.decode()


@pytest.mark.parametrize("year", ["2024", "2027", "19999"])
def test_a_year_without_a_list_is_not_found(keeper: Client, rays: Taxon, year: str) -> None:
    answer = keeper.get(f"/animals/stocklist/?year={year}")
    assert answer.status_code == 404
    assert "from 2025 to 2026" in answer.content.decode()


def test_the_file_holds_a_number_a_column(keeper: Client, rays: Taxon) -> None:
    answer: Any = keeper.get("/animals/stocklist.csv?year=2026")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer).decode())))
    assert len(rows) == 1
    row = rows[0]
    assert row["scientific_name"] == "Raja undulata"
    whole = {
        name: sum(int(row[f"{name}_{sex}"]) for sex in ("males", "females", "unknown"))
        for name in ("held_at_start", "arrived", "bred", "died_early", "died", "departed",
                     "sexed", "recounted", "held_at_end")
    }  # fmt: skip
    assert whole["held_at_end"] == 15
    gained = whole["held_at_start"] + whole["arrived"] + whole["bred"]
    lost = whole["died_early"] + whole["died"] + whole["departed"]
    assert gained - lost + whole["sexed"] + whole["recounted"] == 15


def test_the_paper_says_the_same_and_carries_the_ledgers_head(keeper: Client, rays: Taxon) -> None:
    answer = keeper.get("/animals/stocklist.pdf?year=2026")
    assert answer["Content-Type"] == "application/pdf"
    words = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "Stock list 2026" in words
    assert "5.5.5" in words
    assert "Ledger entry" in words


def test_a_program_is_told_the_same(rays: Taxon) -> None:
    caller = APIClient()
    caller.force_authenticate(make_person(Role.KEEPER))
    told = caller.get("/api/v1/taxa/stocklist/?year=2026").json()
    assert told["year"] == 2026
    (line,) = told["lines"]
    assert line["taxon"] == rays.pk
    assert (line["held_at_start"], line["sexed"]) == ([3, 4, 6], [2, 2, -4])
    assert (line["died"], line["held_at_end"], line["is_sound"]) == ([0, 1, 1], [5, 5, 5], True)
    refused = caller.get("/api/v1/taxa/stocklist/?year=2024")
    assert refused.status_code == 404
    assert "from 2025 to 2026" in refused.json()["why"]


def test_an_empty_register_says_so(keeper: Client) -> None:
    page = keeper.get("/animals/stocklist/").content.decode()
    assert "No animal was here in this year." in page
