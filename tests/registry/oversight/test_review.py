"""The auditor's review: any animal, project, approval, person and period, as of any day."""

import csv
import io
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils import timezone

from registry.oversight import actions
from registry.oversight.review import Asked, breaches_of, map_of, sums_of, uses_of, with_names
from registry.permissions import Role
from tests.worlds.oversight import make_enrolled, make_handling, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def test_a_view_as_of_a_day_does_not_change_when_more_is_recorded() -> None:
    world = make_handling()
    enrolment = make_enrolled(world, 1)[0]
    today = timezone.localdate()
    use = make_use(world, enrolment)
    with time_machine.travel(timezone.now() + timedelta(days=3)):
        actions.reverse_use(use, reason="entered twice", by=world.student)
        make_use(world, enrolment)
        later = timezone.localdate()
        as_known_then = uses_of(Asked(happened_by=today, known_by=today))
        as_known_now = uses_of(Asked(happened_by=later, known_by=later))
        assert [one.pk for one in as_known_then] == [use.pk]
        assert use.pk not in {one.pk for one in as_known_now}
        assert as_known_now.count() == 1
        assert not uses_of(Asked(happened_by=today - timedelta(days=1), known_by=later))


def test_sums_split_contacts_from_observations_and_count_animals_once() -> None:
    world = make_handling()
    first, second = make_enrolled(world, 2)
    for enrolment in (first, first, second):
        make_use(world, enrolment)
    asked = Asked(timezone.localdate(), timezone.localdate())
    by_project = sums_of(uses_of(asked), "project")
    assert [(row["contacts"], row["watched"], row["animals"]) for row in by_project] == [(3, 0, 2)]
    by_animal = sums_of(uses_of(asked), "animal")
    assert sorted(row["contacts"] for row in by_animal) == [1, 2]
    by_month = with_names(sums_of(uses_of(asked), "month"), "month")
    assert {row["said"] for row in by_month} == {timezone.localdate().strftime("%B %Y")}


def test_each_bound_narrows_the_review() -> None:
    world, other = make_handling(), make_handling()
    enrolment, elsewhere = make_enrolled(world, 1)[0], make_enrolled(other, 1)[0]
    use, stray = make_use(world, enrolment), make_use(other, elsewhere)
    day = timezone.localdate()
    for bound in (
        {"animal": use.animal},
        {"project": world.project},
        {"approval": world.approval},
        {"person": use.recorded_by},
    ):
        assert [one.pk for one in uses_of(Asked(day, day, **bound))] == [use.pk], bound
    assert uses_of(Asked(day, day)).count() == 2
    assert stray.pk in set(
        uses_of(Asked(day, day, project=other.project)).values_list("pk", flat=1)
    )
    assert not uses_of(Asked(day, day, since=day + timedelta(days=1)))


def test_the_map_and_the_breaches_name_an_animal_that_was_never_enrolled() -> None:
    world = make_handling()
    make_enrolled(world, 1)
    stray = make_enrolled(make_handling(), 1)[0].animal
    assert stray is not None
    use = actions.record_use(
        world.project,
        animal=stray,
        procedure=world.procedure,
        happened_at=timezone.now(),
        place=world.place,
        by=world.student,
    )
    day = timezone.localdate()
    found = breaches_of(Asked(day, day, animal=stray))
    assert {breach.use_id for breach in found} == {use.pk}
    drawn = map_of(Asked(day, day))
    assert [row.name for row in drawn.shown if row.breaches] == [str(stray)]


def test_only_those_who_review_see_the_page_and_the_export_holds_the_same_rows(
    client: Client,
) -> None:
    world = make_handling()
    use = make_use(world, make_enrolled(world, 1)[0])
    client.force_login(world.student)
    assert client.get("/oversight/review/").status_code == 403
    assert client.get("/oversight/review/uses.csv").status_code == 403
    client.force_login(make_person(Role.AUDITOR))
    page = client.get("/oversight/review/?by=procedure")
    assert page.status_code == 200
    assert world.procedure.name.encode() in page.content
    sent = client.get(f"/oversight/review/uses.csv?project={world.project.pk}")
    rows = list(csv.DictReader(io.StringIO(b"".join(sent).decode())))
    assert [row["use"] for row in rows] == [str(use.pk)]
    assert client.get("/oversight/review/?since=never").status_code == 422


def test_the_first_page_of_the_place_opens_for_every_role(client: Client) -> None:
    world = make_handling()
    make_use(world, make_enrolled(world, 1)[0])
    for person in (
        world.student,
        world.lead,
        world.curator,
        world.chair,
        make_person(Role.AUDITOR),
    ):
        client.force_login(person)
        assert client.get("/oversight/").status_code == 200


def test_the_review_begins_a_year_back_unless_one_says_and_all_of_it_is_one_address_away(
    client: Client,
) -> None:
    with time_machine.travel(timezone.now() - timedelta(days=390)):
        world = make_handling()
        enrolment = make_enrolled(world, 1)[0]
        old = make_use(world, enrolment)
    new = make_use(world, enrolment)
    client.force_login(make_person(Role.AUDITOR))

    def shown(query: str) -> set[int]:
        answer = client.get(f"/oversight/review/{query}")
        assert answer.status_code == 200
        return {one.pk for one in answer.context["page"]}

    assert shown("") == {new.pk}
    assert shown("?since=") == {old.pk, new.pk}
    assert shown(f"?happened_by={timezone.localdate() - timedelta(days=380)}") == {old.pk}
    # The export is of what the page was asked for; asked for by itself it is everything.
    sent = client.get("/oversight/review/uses.csv")
    assert b"".join(sent).decode().count("\r\n") == 3


def test_the_map_shows_the_most_used_first_and_its_pages_hold_each_once() -> None:
    world = make_handling(max_animals=30)
    enrolments = make_enrolled(world, 30)
    for place, enrolment in enumerate(enrolments):
        for _ in range(1 + (place == 29)):
            make_use(world, enrolment)
    asked = Asked(timezone.localdate(), timezone.localdate())
    first, second = map_of(asked), map_of(asked, page=2)
    assert (first.of, first.pages, len(first.shown), len(second.shown)) == (30, 2, 25, 5)
    names = [row.name for row in (*first.shown, *second.shown)]
    assert sorted(names) == sorted(str(one.animal) for one in enrolments)
    assert str(enrolments[29].animal) in {row.name for row in first.shown}
