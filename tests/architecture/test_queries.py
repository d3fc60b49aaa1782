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
from tests.worlds.copies import copy_everything, copy_inside
from tests.worlds.people import make_person
from tests.worlds.site import make_example

pytestmark = pytest.mark.django_db
MANY, MORE = 300, 9


def lists(page: Client, api: APIClient) -> Iterator[tuple[str, type[Model], Callable[[], Any]]]:
    """Give every list of the site and of the API: its address, its kind, and how to ask for it."""
    for address in addresses():
        path = f"/{address.route.replace('^', '').replace('$', '')}"
        if address.captures or "." in path:
            continue
        viewset = getattr(address.view, "cls", None)
        if address.is_api:
            queryset = getattr(viewset, "queryset", None)
            if queryset is not None and "get" in address.view.actions:  # type: ignore[attr-defined]
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


def asking() -> tuple[Client, APIClient]:
    """Give a browser and a program of someone of every standing."""
    person = make_person(*STANDINGS)
    assert person.roles  # read once here, not at the first answer
    page, api = Client(), APIClient()
    page.force_login(person)
    api.force_authenticate(person)
    return page, api


def faults(before: dict[str, tuple[int, str]], asks: dict[str, Callable[[], Any]]) -> list[str]:
    """Say which pages cost another number of queries than before."""
    found = []
    for path, ask in asks.items():
        count, written = queries(ask)
        if count > before[path][0]:  # fewer there are where a long choice becomes a text
            found.append(f"{path}: {before[path][0]} queries, then {count}\n{written}")
    return found


def test_every_list_costs_the_same_at_three_rows_and_at_three_hundred() -> None:
    make_example()
    page, api = asking()
    spans = copy_everything(2)
    found = list(lists(page, api))
    assert len(found) > 15
    asks = {path: ask for path, _, ask in found}
    at_few = {path: queries(ask) for path, ask in asks.items()}
    copy_everything(297, first=3, spans=spans)
    few = {kind.__name__ for _, kind, _ in found if kind._base_manager.count() < MANY}
    assert few == set(), "there is no example of these in tests/worlds/site.py"
    differing = faults(at_few, asks)
    assert differing == [], "\n" + "\n\n".join(differing)


def test_every_list_and_page_costs_the_same_whatever_hangs_on_its_rows() -> None:
    examples = make_example()
    page, api = asking()
    spans = copy_everything(MORE)
    asks = {path: ask for path, _, ask in lists(page, api)}
    for one in examples.values():
        path = getattr(one, "get_absolute_url", lambda: "")()
        if path:
            asks[path] = lambda path=path: page.get(path)
    at_one = {path: queries(ask) for path, ask in asks.items()}
    assert copy_inside(MORE, spans) > 60
    differing = faults(at_one, asks)
    assert differing == [], "\n" + "\n\n".join(differing)


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
