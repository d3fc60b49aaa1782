"""A list costs the same number of queries however many rows it shows."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.paginator import Page
from django.db import connection
from django.db.models import Model
from django.test import Client
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from registry.permissions import STANDINGS
from tests.architecture.addresses import addresses
from tests.worlds.approvals import make_collecting
from tests.worlds.people import make_person
from tests.worlds.site import DEAR, makers

pytestmark = pytest.mark.django_db
FEW, MANY, MANY_OF_DEAR = 3, 30, 8


def lists(page: Client, api: APIClient) -> Iterator[tuple[str, type[Model], Callable[[], Any]]]:
    """Give every list of the site and of the API: its address, its kind, and how to ask for it."""
    for address in addresses():
        path = f"/{address.route.replace('^', '').replace('$', '')}"
        if address.captures or "." in path:
            continue
        viewset = getattr(address.view, "cls", None)
        if address.is_api:
            queryset = getattr(viewset, "queryset", None)
            if queryset is not None:
                yield path, queryset.model, lambda path=path: api.get(path)
            continue
        answer = page.get(path)
        shown = (answer.context or {}).get("page") if answer.status_code == 200 else None
        if isinstance(shown, Page):
            kind = getattr(shown.paginator.object_list, "model", None)
            if kind is not None:
                yield path, kind, lambda path=path: page.get(path)


def queries(ask: Callable[[], Any]) -> tuple[int, str]:
    """Count the queries of one answer, and give them written out."""
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert ask().status_code == 200
    return len(captured), "\n".join(one["sql"][:160] for one in captured.captured_queries)


def fill(kinds: set[type[Model]], world: Any, few: bool) -> None:
    """Make rows of each kind until there are enough."""
    make = makers(world)
    for kind in kinds:
        wanted = FEW if few else MANY_OF_DEAR if kind in DEAR else MANY
        while kind._default_manager.count() < wanted:
            make[kind]()


def test_every_list_costs_the_same_at_three_rows_and_at_thirty() -> None:
    world = make_collecting(max_animals=200)
    person = make_person(*STANDINGS)
    assert person.roles  # read once here, not at the first answer
    page, api = Client(), APIClient()
    page.force_login(person)
    api.force_authenticate(person)
    found = list(lists(page, api))
    kinds = {kind for _, kind, _ in found}
    unknown = {kind.__name__ for kind in kinds - set(makers(world))}
    assert unknown == set(), "tests/worlds/site.py says not how a row of these is made"
    assert len(found) > 15
    fill(kinds, world, few=True)
    at_few = {path: queries(ask) for path, _, ask in found}
    fill(kinds, world, few=False)
    faults = []
    for path, kind, ask in found:
        count, written = queries(ask)
        if count != at_few[path][0]:
            faults.append(
                f"{path} ({kind.__name__}): {at_few[path][0]} queries, then {count}\n{written}"
            )
    assert faults == [], "\n" + "\n\n".join(faults)


def test_the_count_would_see_a_query_for_each_row() -> None:
    for _ in range(3):
        make_person()
    kind = type(make_person())

    class Answer:
        status_code = 200

    def one_by_one() -> Answer:
        for person in kind.objects.all():
            list(person.standings.all())
        return Answer()

    assert queries(one_by_one)[0] == 1 + kind.objects.count()
