"""A long list is counted only so far, and says so."""

import pytest
from django.db.models import Count

from registry import paging
from registry.paging import AtLeast, LongPaginator, so_many
from registry.people.models import Person
from registry.tags import count, number
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def four(monkeypatch: pytest.MonkeyPatch) -> int:
    """Make four people where three are many; give how many there are in all."""
    for _ in range(4):
        make_person()
    monkeypatch.setattr(paging, "MOST_COUNTED", 3)
    return Person.objects.count()


def test_a_list_within_the_bound_is_counted_to_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    make_person()
    pages = LongPaginator(Person.objects.order_by("pk"), 1)
    assert pages.count == Person.objects.count()
    assert not pages.is_cut


def test_beyond_the_bound_there_is_no_page_and_the_count_says_that_there_is_more(
    four: int,
) -> None:
    pages = LongPaginator(Person.objects.order_by("pk"), 2)
    assert four > 3
    assert (pages.count, pages.num_pages, pages.is_cut) == (3, 2, True)
    assert [len(pages.get_page(9)), pages.get_page(9).number] == [1, 2]
    assert count(pages.count, "person,people") == "more than 3 people"
    assert (
        number(AtLeast(10_000))
        .replace("\u202f", " ")
        .replace("\xa0", " ")
        .startswith("more than 10")
    )


def test_sums_and_unions_are_counted_by_their_own_rows(four: int) -> None:
    assert four > 3
    sums = Person.objects.values("is_system").annotate(number=Count("pk")).order_by("is_system")
    assert so_many(sums) == sums.count()
    both = (
        Person.objects.filter(is_system=True)
        .order_by()
        .union(Person.objects.filter(is_system=True).order_by())
    )
    assert so_many(both) == 1
